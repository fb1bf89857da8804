//! Well-mixed balances of a passive gas (CO2) in one space or several.
//!
//! Concentrations are ppm by volume, flows m³/h, volumes m³, generation L/s at room conditions, time h: the units the
//! trade writes. Within a [`Segment`] of constant people and flow the solution is exact, so steps may be long.
//! For several connected spaces see [`Network`], which steps the exact matrix exponential by scaling and squaring.

use numeric::exp;

/// ppm·m³/h that one L/s of gas adds: 1 L/s = 3.6 m³/h, and a share of one is 10⁶ ppm.
const PPM_M3_PER_H_PER_L_PER_S: f64 = 3.6e6;

/// A span of time with constant generation and flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// Length of the span, h; at least zero.
    pub duration_h: f64,
    /// Gas given off inside, L/s.
    pub generation_l_s: f64,
    /// Outdoor air, m³/h; at least zero.
    pub flow_m3_h: f64,
}

/// One well-mixed space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Space {
    /// Air volume, m³; above zero.
    pub volume_m3: f64,
    /// Concentration of the outdoor air, ppm.
    pub outdoor_ppm: f64,
}

impl Space {
    /// Returns the concentration a segment tends to, ppm; infinite when gas is given off and no air moves.
    ///
    /// ```text
    /// C∞ = C_out + G / Q
    /// ```
    pub fn steady_ppm(&self, generation_l_s: f64, flow_m3_h: f64) -> f64 {
        if generation_l_s == 0.0 {
            return self.outdoor_ppm;
        }
        self.outdoor_ppm + generation_l_s * PPM_M3_PER_H_PER_L_PER_S / flow_m3_h
    }

    /// Returns the concentration after a segment that began at `start_ppm`, ppm. Exact.
    ///
    /// ```text
    /// C(t) = C∞ + (C0 − C∞)·exp(−Q t / V);   with Q = 0:  C0 + G t / V
    /// ```
    ///
    /// # Example
    /// ```
    /// use air::contaminant::{Segment, Space};
    /// // Ninety people at 16.2 L/h each, 900 m³/h, a hall of 377 m³, starting at 600 ppm: 1 967 ppm after 75 minutes.
    /// let hall = Space { volume_m3: 377.0, outdoor_ppm: 420.0 };
    /// let concert = Segment { duration_h: 1.25, generation_l_s: 90.0 * 16.2 / 3600.0, flow_m3_h: 900.0 };
    /// assert!((hall.after(600.0, concert) - 1967.0).abs() < 1.0);
    /// ```
    pub fn after(&self, start_ppm: f64, segment: Segment) -> f64 {
        let Segment { duration_h, generation_l_s, flow_m3_h } = segment;
        let rise_ppm_h = generation_l_s * PPM_M3_PER_H_PER_L_PER_S / self.volume_m3;
        let rate_per_h = flow_m3_h / self.volume_m3;
        let x = rate_per_h * duration_h;
        // (1 − exp(−x))/x is computed so that it tends smoothly to one as the flow stops.
        let mean_decay = decay_mean(x);
        let outdoor_pull = (self.outdoor_ppm - start_ppm) * rate_per_h;
        start_ppm + (rise_ppm_h + outdoor_pull) * duration_h * mean_decay
    }

    /// Returns the concentration's mean over a segment, ppm. Exact.
    pub fn mean_over(&self, start_ppm: f64, segment: Segment) -> f64 {
        let Segment { duration_h, generation_l_s, flow_m3_h } = segment;
        let x = flow_m3_h / self.volume_m3 * duration_h;
        if x < 1e-6 {
            // Series of the exact mean to second order; the neglected term is x²/24 of the rise.
            let rise = self.after(start_ppm, segment) - start_ppm;
            return start_ppm + rise * (0.5 + x / 12.0);
        }
        let steady = self.steady_ppm(generation_l_s, flow_m3_h);
        steady + (start_ppm - steady) * decay_mean(x)
    }

    /// Runs segments one after another; returns the concentration at the end of each, ppm.
    pub fn run(&self, start_ppm: f64, segments: &[Segment]) -> Vec<f64> {
        let mut now = start_ppm;
        segments
            .iter()
            .map(|&segment| {
                now = self.after(now, segment);
                now
            })
            .collect()
    }

    /// Returns the outdoor air that keeps a long gathering at `limit_ppm`, m³/h; `None` if the limit is not above
    /// the outdoor air.
    pub fn flow_for_steady(&self, generation_l_s: f64, limit_ppm: f64) -> Option<f64> {
        let excess = limit_ppm - self.outdoor_ppm;
        (excess > 0.0).then(|| generation_l_s * PPM_M3_PER_H_PER_L_PER_S / excess)
    }

    /// Returns the hours until an empty space has decayed from `start_ppm` to `target_ppm` at a flow; `None` when it
    /// never does.
    pub fn hours_to_decay(&self, start_ppm: f64, target_ppm: f64, flow_m3_h: f64) -> Option<f64> {
        if start_ppm <= target_ppm {
            return Some(0.0);
        }
        let left = (target_ppm - self.outdoor_ppm) / (start_ppm - self.outdoor_ppm);
        (left > 0.0 && flow_m3_h > 0.0).then(|| -numeric::ln(left) * self.volume_m3 / flow_m3_h)
    }
}

/// Returns (1 − exp(−x))/x, for x ≥ 0, without loss of digits near zero.
fn decay_mean(x: f64) -> f64 {
    if x < 1e-5 { 1.0 - x / 2.0 + x * x / 6.0 } else { (1.0 - exp(-x)) / x }
}

/// Air that follows the concentration: a ramp between two set points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    /// At or below this the flow is `least_m3_h`, ppm.
    pub from_ppm: f64,
    /// At or above this the flow is `most_m3_h`, ppm; above `from_ppm`.
    pub to_ppm: f64,
    /// Lowest flow, m³/h.
    pub least_m3_h: f64,
    /// Highest flow, m³/h.
    pub most_m3_h: f64,
}

impl Ramp {
    /// Returns the flow at a concentration, m³/h.
    pub fn flow_m3_h(&self, ppm: f64) -> f64 {
        let share = ((ppm - self.from_ppm) / (self.to_ppm - self.from_ppm)).clamp(0.0, 1.0);
        self.least_m3_h + share * (self.most_m3_h - self.least_m3_h)
    }
}

impl Space {
    /// Returns the concentration after `duration_h` with flow on a [`Ramp`], ppm, by classical fourth-order steps of
    /// at most `step_h`. Error falls with the fourth power of the step where the ramp does not switch.
    pub fn after_on_ramp(
        &self,
        start_ppm: f64,
        generation_l_s: f64,
        ramp: Ramp,
        duration_h: f64,
        step_h: f64,
    ) -> f64 {
        let rise = generation_l_s * PPM_M3_PER_H_PER_L_PER_S / self.volume_m3;
        let slope = |c: f64| rise - ramp.flow_m3_h(c) / self.volume_m3 * (c - self.outdoor_ppm);
        let steps = (duration_h / step_h).ceil().max(1.0);
        let h = duration_h / steps;
        let mut c = start_ppm;
        for _ in 0..steps as usize {
            let k1 = slope(c);
            let k2 = slope(c + h / 2.0 * k1);
            let k3 = slope(c + h / 2.0 * k2);
            let k4 = slope(c + h * k3);
            c += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        }
        c
    }
}

/// Several well-mixed spaces that exchange air.
///
/// `flows_m3_h[i][j]` is air from space `i` to space `j`; `outdoor_m3_h[i]` outdoor air into space `i`. Air leaves as
/// it must: a space's loss is all that enters it.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    /// Air volumes, m³.
    pub volumes_m3: Vec<f64>,
    /// Air from row's space to column's space, m³/h; the diagonal is ignored.
    pub flows_m3_h: Vec<Vec<f64>>,
    /// Outdoor air into each space, m³/h.
    pub outdoor_m3_h: Vec<f64>,
    /// Concentration of the outdoor air, ppm.
    pub outdoor_ppm: f64,
}

impl Network {
    /// Returns concentrations after `duration_h` from `start_ppm` with the given generation in each space, ppm.
    ///
    /// The linear system is stepped by its matrix exponential (scaling and squaring of a ninth-order Taylor series
    /// with the scaled norm below 1/32, truncation below 1e-16), so the result does not depend on a step.
    pub fn after(&self, start_ppm: &[f64], generation_l_s: &[f64], duration_h: f64) -> Vec<f64> {
        let n = self.volumes_m3.len();
        // Augmented state (c, 1): c' = A c + b.
        let mut a = vec![vec![0.0; n + 1]; n + 1];
        for i in 0..n {
            let mut entering = self.outdoor_m3_h[i];
            for j in 0..n {
                if i != j {
                    a[i][j] = self.flows_m3_h[j][i] / self.volumes_m3[i];
                    entering += self.flows_m3_h[j][i];
                }
            }
            a[i][i] = -entering / self.volumes_m3[i];
            a[i][n] = (self.outdoor_m3_h[i] * self.outdoor_ppm
                + generation_l_s[i] * PPM_M3_PER_H_PER_L_PER_S)
                / self.volumes_m3[i];
        }
        let propagator = exponential(&a, duration_h);
        (0..n)
            .map(|i| (0..n).map(|j| propagator[i][j] * start_ppm[j]).sum::<f64>() + propagator[i][n])
            .collect()
    }
}

/// Returns exp(A t) by scaling and squaring; the last column of `a` holds constant sources.
fn exponential(a: &[Vec<f64>], t: f64) -> Vec<Vec<f64>> {
    let n = a.len();
    // The last column (sources) enters linearly and does not slow the series: only the exchange rates set the scale.
    let rates = |row: &Vec<f64>| row[..n - 1].iter().map(|x| (x * t).abs()).sum::<f64>();
    let norm = a.iter().map(rates).fold(0.0, f64::max);
    let mut squarings = 0;
    let mut scale = t;
    let mut left = norm;
    while left > 1.0 / 32.0 {
        left /= 2.0;
        scale /= 2.0;
        squarings += 1;
    }
    let mut result = identity(n);
    let mut term = identity(n);
    for k in 1..=9 {
        let factor = scale / f64::from(k);
        term = product(&term, a);
        for row in &mut term {
            for x in row {
                *x *= factor;
            }
        }
        for (into, from) in result.iter_mut().zip(&term) {
            for (x, y) in into.iter_mut().zip(from) {
                *x += y;
            }
        }
    }
    for _ in 0..squarings {
        result = product(&result, &result);
    }
    result
}

fn identity(n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect()
}

fn product(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = a.len();
    (0..n).map(|i| (0..n).map(|j| (0..n).map(|k| a[i][k] * b[k][j]).sum()).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HALL: Space = Space { volume_m3: 377.0, outdoor_ppm: 420.0 };

    #[test]
    fn without_air_the_rise_is_linear() {
        let space = Space { volume_m3: 200.0, outdoor_ppm: 420.0 };
        let segment = Segment { duration_h: 2.0, generation_l_s: 0.048, flow_m3_h: 0.0 };
        assert!((space.after(420.0, segment) - 2148.0).abs() < 1e-9);
        assert!((space.mean_over(420.0, segment) - 1284.0).abs() < 1e-9);
    }

    #[test]
    fn one_space_network_is_the_space() {
        let network = Network {
            volumes_m3: vec![377.0],
            flows_m3_h: vec![vec![0.0]],
            outdoor_m3_h: vec![900.0],
            outdoor_ppm: 420.0,
        };
        let segment = Segment { duration_h: 1.25, generation_l_s: 0.405, flow_m3_h: 900.0 };
        let exact = HALL.after(600.0, segment);
        assert!((network.after(&[600.0], &[0.405], 1.25)[0] - exact).abs() < 1e-9);
    }

    proptest! {
        #[test]
        fn two_halves_make_the_whole(start in 300.0..5000.0f64, g in 0.0..1.0f64, q in 0.0..5000.0f64, t in 0.0..10.0f64) {
            let whole = Segment { duration_h: t, generation_l_s: g, flow_m3_h: q };
            let half = Segment { duration_h: t / 2.0, ..whole };
            let stepped = HALL.after(HALL.after(start, half), half);
            prop_assert!((stepped - HALL.after(start, whole)).abs() < 1e-7 * (1.0 + stepped.abs()));
        }

        #[test]
        fn more_air_never_means_more_gas(g in 0.0..1.0f64, q in 0.0..5000.0f64, t in 0.01..10.0f64) {
            let at = |flow| HALL.after(800.0, Segment { duration_h: t, generation_l_s: g, flow_m3_h: flow });
            prop_assert!(at(q + 10.0) <= at(q) + 1e-9);
        }

        #[test]
        fn mass_closes(start in 300.0..5000.0f64, g in 0.0..1.0f64, q in 0.1..5000.0f64, t in 0.01..10.0f64) {
            let s = Segment { duration_h: t, generation_l_s: g, flow_m3_h: q };
            let stored = HALL.volume_m3 * (HALL.after(start, s) - start);
            let given = g * PPM_M3_PER_H_PER_L_PER_S * t;
            let left = q * t * (HALL.mean_over(start, s) - HALL.outdoor_ppm);
            let gross = given.abs() + left.abs() + stored.abs();
            prop_assert!((stored - given + left).abs() <= 1e-6 * gross + 1e-6);
        }
    }
}
