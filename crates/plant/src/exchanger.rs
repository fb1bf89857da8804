//! Heat (or moisture) exchanger of a ventilation unit, fitted to the few points of a test report.
//!
//! A report gives two or three ratios at stated flows. What stays of them when flow, imbalance and temperature change
//! is the exchanger's conductance, so the fit is to that:
//! ```text
//! ε(N, C) counterflow,   N = UA/C_min,   UA = a · (q/q₁)^m · e^(b (θ − θ₁))
//! ```
//! | symbol | meaning | unit |
//! |---|---|---|
//! | q | geometric mean of both flows | m³/s |
//! | θ | mean of outdoor and extract temperature | °C |
//! | m | growth with flow; free with two points of different flow, else [`ONE_POINT_EXPONENT`] | – |
//! | b | growth with temperature; free with three points of different temperature, else 0 | 1/K |
//!
//! Ratings are kept apart by [`Rated`]: each is first brought to the exchange itself, and only like is held against
//! like. Limits: one shape (counterflow) stands for all; condensation's extra heat is in the points, not in the law.

use air::recovery::counterflow;
use numeric::{dense, exp, ln, pow};

use crate::PlantError;
use crate::error::within;

/// Growth of UA with flow when a single point says nothing about it: between laminar (0.3) and turbulent (0.8) plates.
/// Judgement.
pub const ONE_POINT_EXPONENT: f64 = 0.4;

/// What a published ratio is a ratio of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rated {
    /// (supply − outdoor)/(extract − outdoor) of the exchanger alone: EN 308, and AHRI 1060 where its net flows are used.
    SupplyBare,
    /// The same measured at the unit's spigots, warmed by the supply fan and by extract air carried over: EN 13141-7,
    /// ISO 16494 (gross).
    SupplyAtSpigots,
    /// (extract − exhaust)/(extract − outdoor) of the exchanger alone.
    ExtractBare,
    /// (extract − exhaust + P/(ṁc))/(extract − outdoor), P the power of both fans: common practice of certification.
    ExtractWithFans,
}

/// One row of a test report.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestPoint {
    /// Supply flow, m³/s.
    pub supply_m3_s: f64,
    /// Extract flow, m³/s.
    pub extract_m3_s: f64,
    /// Outdoor air, °C.
    pub outdoor_c: f64,
    /// Extract air, °C.
    pub extract_c: f64,
    /// The ratio as printed.
    pub ratio: f64,
    /// What it is a ratio of.
    pub rated: Rated,
    /// Power of both fans in the test, W.
    pub fans_w: f64,
    /// Share of the supply that is extract air carried over.
    pub carry_over: f64,
}

/// Heat capacity of a volume of air at which flows are turned into capacity rates, J/(m³·K).
pub const AIR_J_M3K: f64 = 1210.0;

impl TestPoint {
    /// Returns the effectiveness of the exchange on the smaller stream behind the printed ratio.
    ///
    /// Both fans are taken as alike; the supply fan warms the supply, the extract fan blows behind the exchanger.
    ///
    /// # Errors
    /// [`PlantError::Range`] for flows, temperatures or ratios that leave no effectiveness between 0 and 1.
    pub fn effectiveness(&self) -> Result<f64, PlantError> {
        within("supply flow of a test point", self.supply_m3_s, 1e-6, 1e3, "is more than zero, m³/s")?;
        within("extract flow of a test point", self.extract_m3_s, 1e-6, 1e3, "is more than zero, m³/s")?;
        within("carry-over", self.carry_over, 0.0, 0.9, "lies from 0 to 0.9")?;
        let difference = self.extract_c - self.outdoor_c;
        within("temperature difference of a test", difference.abs(), 1.0, 100.0, "is at least 1 K")?;
        let (supply, extract) = (self.supply_m3_s * AIR_J_M3K, self.extract_m3_s * AIR_J_M3K);
        let one_fan = 0.5 * self.fans_w;
        let heat_over_difference = match self.rated {
            Rated::SupplyBare => supply * self.ratio,
            Rated::SupplyAtSpigots => {
                let mixed = self.ratio - one_fan / (supply * difference);
                supply * (mixed - self.carry_over) / (1.0 - self.carry_over)
            }
            Rated::ExtractBare => extract * self.ratio,
            // The extract fan's own heat leaves with the exhaust and cancels one half of P.
            Rated::ExtractWithFans => extract * (self.ratio - one_fan / (extract * difference)),
        };
        let effectiveness = heat_over_difference / supply.min(extract);
        within("effectiveness behind a test point", effectiveness, 1e-6, 1.0 - 1e-6, "lies between 0 and 1")
    }

    fn conductance(&self) -> Result<f64, PlantError> {
        let (supply, extract) = (self.supply_m3_s * AIR_J_M3K, self.extract_m3_s * AIR_J_M3K);
        let (small, large) = (supply.min(extract), supply.max(extract));
        Ok(transfer_units(self.effectiveness()?, small / large) * small)
    }

    fn flow(&self) -> f64 {
        (self.supply_m3_s * self.extract_m3_s).sqrt()
    }

    fn mean_c(&self) -> f64 {
        0.5 * (self.outdoor_c + self.extract_c)
    }
}

/// Returns the transfer units of a counterflow exchanger: the inverse of [`counterflow`].
///
/// `N = ln((1 − ε C)/(1 − ε))/(1 − C)`, and `ε/(1 − ε)` for C = 1.
pub fn transfer_units(effectiveness: f64, capacity_ratio: f64) -> f64 {
    let rest = 1.0 - capacity_ratio;
    if rest.abs() < 1e-9 {
        return effectiveness / (1.0 - effectiveness);
    }
    ln((1.0 - effectiveness * capacity_ratio) / (1.0 - effectiveness)) / rest
}

/// A fitted exchanger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchanger {
    conductance_w_k: f64,
    flow_m3_s: f64,
    mean_c: f64,
    exponent: f64,
    per_kelvin: f64,
    /// Largest miss of the fit on its own points, as effectiveness.
    pub worst_miss: f64,
}

impl Exchanger {
    /// Fits one, two or three (or more) test points.
    ///
    /// # Errors
    /// [`PlantError`] of a point, or when there is none.
    pub fn fit(points: &[TestPoint]) -> Result<Self, PlantError> {
        let Some(first) = points.first() else {
            return Err(PlantError::TooFew { what: "an exchanger", least: 1, found: 0 });
        };
        let rows: Vec<[f64; 3]> = points
            .iter()
            .map(|p| Ok([ln(p.flow() / first.flow()), p.mean_c() - first.mean_c(), ln(p.conductance()?)]))
            .collect::<Result<_, PlantError>>()?;
        let spread = |k: usize| {
            let of = rows.iter().map(|r| r[k]);
            of.clone().fold(f64::NEG_INFINITY, f64::max) - of.fold(f64::INFINITY, f64::min)
        };
        let by_flow = points.len() > 1 && spread(0) > 0.05;
        let by_temperature = points.len() > 2 && spread(1) > 3.0;
        let [a, m, b] = least_squares(&rows, by_flow, by_temperature).unwrap_or_else(|| {
            let mean = rows.iter().map(|r| r[2] - ONE_POINT_EXPONENT * r[0]).sum::<f64>() / rows.len() as f64;
            [mean, ONE_POINT_EXPONENT, 0.0]
        });
        let mut it = Self {
            conductance_w_k: exp(a),
            flow_m3_s: first.flow(),
            mean_c: first.mean_c(),
            // More air never lowers the conductance, nor raises it faster than itself.
            exponent: m.clamp(0.0, 1.0),
            per_kelvin: b,
            worst_miss: 0.0,
        };
        for p in points {
            let found = it.effectiveness(p.supply_m3_s, p.extract_m3_s, p.mean_c());
            it.worst_miss = it.worst_miss.max((found - p.effectiveness()?).abs());
        }
        Ok(it)
    }

    /// Returns the conductance at a flow and mean temperature, W/K.
    pub fn conductance_w_k(&self, flow_m3_s: f64, mean_c: f64) -> f64 {
        self.conductance_w_k
            * pow(flow_m3_s / self.flow_m3_s, self.exponent)
            * exp(self.per_kelvin * (mean_c - self.mean_c).clamp(-40.0, 40.0))
    }

    /// Returns the effectiveness on the smaller of two streams; 0 when either stands still.
    pub fn effectiveness(&self, supply_m3_s: f64, extract_m3_s: f64, mean_c: f64) -> f64 {
        let (small, large) = (supply_m3_s.min(extract_m3_s), supply_m3_s.max(extract_m3_s));
        if !(small > 0.0) {
            return 0.0;
        }
        let ua = self.conductance_w_k((supply_m3_s * extract_m3_s).sqrt(), mean_c);
        counterflow(ua / (small * AIR_J_M3K), small / large)
    }

    /// Returns (supply − outdoor)/(extract − outdoor) of the exchange alone.
    pub fn supply_ratio(&self, supply_m3_s: f64, extract_m3_s: f64, mean_c: f64) -> f64 {
        if !(supply_m3_s > 0.0) {
            return 0.0;
        }
        self.effectiveness(supply_m3_s, extract_m3_s, mean_c) * supply_m3_s.min(extract_m3_s) / supply_m3_s
    }
}

/// Fits `y = a + m x₀ + b x₁` by least squares; terms left out are zero. `None` when the points do not fix it.
fn least_squares(rows: &[[f64; 3]], by_flow: bool, by_temperature: bool) -> Option<[f64; 3]> {
    if !by_flow && !by_temperature {
        return None;
    }
    let columns: Vec<usize> =
        [(0, by_flow), (1, by_temperature)].iter().filter(|c| c.1).map(|c| c.0).collect();
    let n = columns.len() + 1;
    let value = |row: &[f64; 3], k: usize| if k == 0 { 1.0 } else { row[columns[k - 1]] };
    let (mut matrix, mut right) = (vec![0.0; n * n], vec![0.0; n]);
    for row in rows {
        for i in 0..n {
            right[i] += value(row, i) * row[2];
            for j in 0..n {
                matrix[i * n + j] += value(row, i) * value(row, j);
            }
        }
    }
    let found = dense::solve(n, &matrix, &right).ok()?;
    let mut out = [found[0], if by_flow { 0.0 } else { ONE_POINT_EXPONENT }, 0.0];
    for (k, column) in columns.iter().enumerate() {
        out[column + 1] = found[k + 1];
    }
    out.iter().all(|x| x.is_finite()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn point(flow_m3_h: f64, ratio: f64) -> TestPoint {
        let q = flow_m3_h / 3600.0;
        TestPoint {
            supply_m3_s: q,
            extract_m3_s: q,
            outdoor_c: 7.0,
            extract_c: 20.0,
            ratio,
            rated: Rated::SupplyBare,
            fans_w: 0.0,
            carry_over: 0.0,
        }
    }

    #[test]
    fn two_points_are_met_and_a_third_between_lies_between() {
        let x = Exchanger::fit(&[point(150.0, 0.84), point(900.0, 0.77)]).unwrap();
        assert!(x.worst_miss < 1e-9);
        let middle = x.effectiveness(560.0 / 3600.0, 560.0 / 3600.0, 13.5);
        assert!(middle > 0.77 && middle < 0.84, "{middle}");
    }

    #[test]
    fn unlike_ratings_of_one_exchanger_give_one_conductance() {
        let bare = point(560.0, 0.80);
        let (q, difference) = (bare.supply_m3_s, 13.0);
        let fan_ratio = 0.5 * 224.0 / (q * AIR_J_M3K * difference);
        let spigots = TestPoint {
            ratio: 0.02 + 0.98 * 0.80 + fan_ratio,
            rated: Rated::SupplyAtSpigots,
            fans_w: 224.0,
            carry_over: 0.02,
            ..bare
        };
        let certified =
            TestPoint { ratio: 0.80 + fan_ratio, rated: Rated::ExtractWithFans, fans_w: 224.0, ..bare };
        for other in [spigots, certified] {
            assert!((other.effectiveness().unwrap() - 0.80).abs() < 1e-12);
        }
    }

    #[test]
    fn a_ratio_over_one_is_refused() {
        assert!(Exchanger::fit(&[point(100.0, 1.02)]).is_err());
        assert!(Exchanger::fit(&[]).is_err());
    }

    proptest! {
        #[test]
        fn effectiveness_stays_below_one_and_falls_with_flow(a in 0.5..0.85f64, q in 20.0..2000.0f64, s in 0.3..1.0f64) {
            let x = Exchanger::fit(&[point(400.0, a)]).unwrap();
            let of = |q: f64| x.effectiveness(q / 3600.0, q * s / 3600.0, 13.5);
            prop_assert!(of(q) <= 1.0 && of(q) > 0.0 && of(q * 1.1) <= of(q));
        }

        #[test]
        fn transfer_units_undo_counterflow(n in 0.05..12.0f64, c in 0.05..1.0f64) {
            prop_assert!((transfer_units(counterflow(n, c), c) / n - 1.0).abs() < 1e-6);
        }
    }
}
