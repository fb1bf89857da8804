//! Material functions tabulated over the moisture potential, so that every law costs the same few operations.

/// Pressure that scales the moisture potential, Pa; see [`suction_pa`].
pub(crate) const POTENTIAL_SCALE_PA: f64 = 1.0e4;
/// Driest potential tabulated: a suction of 2.7e9 Pa, 2e-9 relative humidity at 20 °C.
pub(crate) const DRIEST: f64 = -12.5;
const KNOTS_PER_UNIT: usize = 64;
const INTERVALS: usize = 800;
const STEP: f64 = 1.0 / KNOTS_PER_UNIT as f64;

/// Returns the suction, Pa, of a moisture potential u, and its slope.
///
/// ```text
/// p_suc = p₀ (e^(−u) − 1) for u < 0;  −p₀ u (water under pressure) for u ≥ 0;  p₀ = 10 kPa
/// ```
/// Far from saturation u is the logarithm of suction, in which retention curves are smooth; near saturation it is
/// linear in pressure, so that nothing becomes singular where pores fill up.
#[inline(always)]
pub(crate) fn suction_pa(u: f64) -> (f64, f64) {
    if u < 0.0 {
        let e = POTENTIAL_SCALE_PA * numeric::exp(-u);
        (e - POTENTIAL_SCALE_PA, -e)
    } else {
        (-POTENTIAL_SCALE_PA * u, -POTENTIAL_SCALE_PA)
    }
}

/// Returns the moisture potential of a suction, Pa (0 or above).
pub(crate) fn potential(suction_pa: f64) -> f64 {
    -numeric::ln(1.0 + suction_pa / POTENTIAL_SCALE_PA)
}

/// Functions of one material at one potential, each with its slope against the potential.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Point {
    /// Water content, kg/m³.
    pub water: f64,
    pub water_slope: f64,
    /// Flux potential of liquid, ∫K dp, kg/(m·s): its gradient is the liquid flux.
    pub liquid: f64,
    pub liquid_slope: f64,
    /// Vapour permeability over that of air at rest.
    pub openness: f64,
    pub openness_slope: f64,
}

/// Water content, liquid flux potential and vapour openness over the whole range of potential.
///
/// Cubic Hermite pieces on even knots up to saturation, straight beyond it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Curves {
    /// [water, liquid, openness] and their slopes times the knot distance, interleaved.
    knots: Vec<[f64; 6]>,
    /// Values at saturation, and the slopes of water and liquid beyond.
    saturated: [f64; 3],
    beyond: [f64; 2],
}

impl Curves {
    /// Tabulates `functions(u) = [water, dΦ/du, openness]` and what lies beyond saturation; `of_water` adds a liquid
    /// flux potential that is a function of the water content alone.
    pub fn tabulate(
        functions: impl Fn(f64) -> [f64; 3],
        of_water: impl Fn(f64) -> f64,
        beyond: [f64; 2],
    ) -> Self {
        let u_of = |k: usize| DRIEST + k as f64 * STEP;
        // Slopes of water and openness by central differences: error of order 1e-9 of the curve's third derivative.
        let slope = |u: f64, part: usize| {
            let (a, b) = ((u - 3e-5).max(DRIEST), (u + 3e-5).min(0.0));
            (functions(b)[part] - functions(a)[part]) / (b - a)
        };
        let rule = numeric::quadrature::gauss_legendre(5);
        let mut knots = Vec::with_capacity(INTERVALS + 1);
        let mut liquid = 0.0;
        for k in 0..=INTERVALS {
            let u = u_of(k);
            if k > 0 {
                liquid += numeric::quadrature::integrate(&rule, |v| functions(v)[1], u - STEP, u, 1);
            }
            let [water, rate, openness] = functions(u);
            let (water_slope, openness_slope) = (slope(u, 0), slope(u, 2));
            let by_water = of_water(water);
            let by_water_slope = {
                let h = 1e-5 * (1.0 + water);
                let low = (water - h).max(0.0);
                (of_water(water + h) - of_water(low)) / (water + h - low) * water_slope
            };
            knots.push([
                water,
                STEP * water_slope,
                liquid + by_water,
                STEP * (rate + by_water_slope),
                openness,
                STEP * openness_slope,
            ]);
        }
        let last = knots[INTERVALS];
        Self { saturated: [last[0], last[2], last[4]], knots, beyond }
    }

    /// Returns the functions at a potential.
    #[inline(always)]
    pub fn at(&self, u: f64) -> Point {
        if u >= 0.0 {
            return Point {
                water: self.saturated[0] + self.beyond[0] * u,
                water_slope: self.beyond[0],
                liquid: self.saturated[1] + self.beyond[1] * u,
                liquid_slope: self.beyond[1],
                openness: self.saturated[2],
                openness_slope: 0.0,
            };
        }
        let x = ((u - DRIEST) * KNOTS_PER_UNIT as f64).max(0.0);
        let k = (x as usize).min(INTERVALS - 1);
        let t = x - k as f64;
        let (a, b) = (&self.knots[k], &self.knots[k + 1]);
        let t2 = t * t;
        let s = t - 1.0;
        let (h01, h10, h11) = (t2 * (3.0 - 2.0 * t), t * s * s, t2 * s);
        let (d01, d10, d11) = (6.0 * t * (1.0 - t), s * (3.0 * t - 1.0), t * (3.0 * t - 2.0));
        let value = |p: usize| a[p] + h01 * (b[p] - a[p]) + h10 * a[p + 1] + h11 * b[p + 1];
        let slope =
            |p: usize| (d01 * (b[p] - a[p]) + d10 * a[p + 1] + d11 * b[p + 1]) * KNOTS_PER_UNIT as f64;
        Point {
            water: value(0),
            water_slope: slope(0),
            liquid: value(2),
            liquid_slope: slope(2),
            openness: value(4),
            openness_slope: slope(4),
        }
    }

    /// Returns the liquid flux potential and its slope at a potential.
    #[inline(always)]
    pub fn liquid(&self, u: f64) -> (f64, f64) {
        let p = self.at(u);
        (p.liquid, p.liquid_slope)
    }

    /// Returns the potential at which the material holds this much water, kg/m³.
    pub fn potential_of_water(&self, water_kg_m3: f64) -> f64 {
        if water_kg_m3 >= self.saturated[0] {
            let over = water_kg_m3 - self.saturated[0];
            return if self.beyond[0] > 0.0 { over / self.beyond[0] } else { 0.0 };
        }
        let (mut low, mut high) = (DRIEST, 0.0);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if self.at(middle).water > water_kg_m3 {
                high = middle;
            } else {
                low = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// A monotone piecewise cubic through points with rising abscissa.
#[derive(Clone, Debug)]
pub(crate) struct Monotone {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Monotone {
    /// Builds the cubic by the rule of Fritsch and Carlson (1980, harmonic form): no overshoot between points.
    pub fn through(points: &[[f64; 2]]) -> Self {
        let n = points.len();
        let x: Vec<f64> = points.iter().map(|p| p[0]).collect();
        let y: Vec<f64> = points.iter().map(|p| p[1]).collect();
        let secant: Vec<f64> = (1..n).map(|i| (y[i] - y[i - 1]) / (x[i] - x[i - 1])).collect();
        let mut slope = vec![0.0; n];
        for i in 0..n {
            slope[i] = match (i.checked_sub(1).map(|k| secant[k]), secant.get(i).copied()) {
                (Some(a), Some(b)) if a * b > 0.0 => {
                    let (ha, hb) = (x[i] - x[i - 1], x[i + 1] - x[i]);
                    let (wa, wb) = (2.0 * hb + ha, hb + 2.0 * ha);
                    (wa + wb) / (wa / a + wb / b)
                }
                (Some(_), Some(_)) => 0.0,
                (Some(a), None) => a,
                (None, Some(b)) => b,
                (None, None) => 0.0,
            };
        }
        Self { x, y, slope }
    }

    /// Returns the value at `x`, held constant beyond the ends.
    pub fn at(&self, x: f64) -> f64 {
        let n = self.x.len();
        if x <= self.x[0] {
            return self.y[0];
        }
        if x >= self.x[n - 1] {
            return self.y[n - 1];
        }
        let k = self.x.partition_point(|&v| v <= x) - 1;
        let h = self.x[k + 1] - self.x[k];
        let t = (x - self.x[k]) / h;
        let s = t - 1.0;
        self.y[k]
            + t * t * (3.0 - 2.0 * t) * (self.y[k + 1] - self.y[k])
            + h * t * s * (s * self.slope[k] + t * self.slope[k + 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn potential_and_suction_invert_and_join_smoothly() {
        for p in [1.0, 1e3, 1e6, 1e9] {
            assert!((suction_pa(potential(p)).0 / p - 1.0).abs() < 1e-9);
        }
        let (below, above) = (suction_pa(-1e-9), suction_pa(1e-9));
        assert!((below.1 - above.1).abs() < 1e-3 && (below.0 - above.0 - 2e-5).abs() < 1e-9);
    }

    #[test]
    fn a_monotone_cubic_stays_between_its_points() {
        let c = Monotone::through(&[[0.0, 0.0], [1.0, 0.1], [2.0, 5.0], [3.0, 5.1]]);
        let mut before = -1.0;
        for i in 0..=300 {
            let y = c.at(i as f64 * 0.01);
            assert!(y >= before && y <= 5.1);
            before = y;
        }
        assert_eq!(c.at(2.0), 5.0);
    }

    #[test]
    fn tables_follow_their_functions() {
        let f = |u: f64| [100.0 / (1.0 + numeric::exp(-2.0 * (u + 4.0))), numeric::exp(u), 0.1 - 0.001 * u];
        let c = Curves::tabulate(f, |w| 2.0 * w, [1.0, 3.0]);
        for i in 0..1_000 {
            let u = DRIEST + 0.012_345 * i as f64;
            if u >= 0.0 {
                break;
            }
            let p = c.at(u);
            let exact = f(u);
            assert!((p.water - exact[0]).abs() < 2e-6, "{u}");
            let liquid = numeric::exp(u) - numeric::exp(DRIEST) + 2.0 * exact[0];
            assert!((p.liquid - liquid).abs() < 4e-6, "{u}: {} {liquid}", p.liquid);
            let h = 1e-6;
            let slope = (c.at(u + h).liquid - c.at(u - h).liquid) / (2.0 * h);
            assert!((p.liquid_slope - slope).abs() < 1e-3 * (1.0 + slope.abs()), "{u}");
        }
        assert!((c.at(0.5).liquid - (c.at(-1e-12).liquid + 1.5)).abs() < 1e-6);
        let u = c.potential_of_water(37.0);
        assert!((c.at(u).water - 37.0).abs() < 1e-9);
    }
}
