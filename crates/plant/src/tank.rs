//! A stratified hot-water tank: nodes one above the other, stable at any step.
//!
//! ```text
//! C_k dT_k/dt = ṁc (T_below − T_k) + (λA/Δz)(neighbours) + U_k (θ_around − T_k) + P_k
//! ```
//! Cold water enters at the bottom, hot leaves at the top. A draw is first moved exactly, as plugs that then mix within
//! each node; losses, conduction and heating follow by one implicit step of a tridiagonal system, so no step is too
//! long. A layer left warmer than the one above it mixes with it until the column is stable. What a step puts in, loses,
//! draws and stores closes to rounding ([`Step::residual_j`]).
//!
//! Limits: one loss coefficient an area, no jets; mixing by the inlet is only that of the nodes' size. More nodes, less
//! mixing: 10 nodes keep about nine tenths of an ideal plug draw.

use numeric::tridiagonal;

use crate::PlantError;
use crate::error::within;

/// Heat of a cubic metre of water near 50 °C, J/(m³·K): 988 kg/m³ · 4183 J/(kg·K).
pub const WATER_J_M3K: f64 = 988.0 * 4183.0;
/// Conductivity along the tank, water and wall, W/(m·K): about twice still water's. Judgement.
const CONDUCTIVITY_W_MK: f64 = 1.2;

/// A tank and the state of its water.
#[derive(Clone, Debug, PartialEq)]
pub struct Tank {
    volume_m3: f64,
    loss_w_k: Vec<f64>,
    between_w_k: f64,
    heat_j_m3k: f64,
    /// Temperatures, bottom first, °C.
    pub nodes_c: Vec<f64>,
}

/// What one step is given.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Given {
    /// Length, s.
    pub step_s: f64,
    /// Water drawn in the step, m³.
    pub draw_m3: f64,
    /// Cold water, °C.
    pub cold_c: f64,
    /// Around the tank, °C.
    pub around_c: f64,
    /// Heat by the main heater, W, spread over nodes `main_to` and below.
    pub main_w: f64,
    /// Topmost node that the main heater reaches, from 0 at the bottom.
    pub main_to: usize,
    /// Heat by the upper element, W, in `upper_at`.
    pub upper_w: f64,
    /// Node of the upper element.
    pub upper_at: usize,
    /// Heat taken from the top node by a circulation loop, W.
    pub loop_w: f64,
}

/// What one step did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Step {
    /// Heat in the water drawn above that of the cold water, J.
    pub drawn_j: f64,
    /// Mean temperature of the water drawn; NaN without any, °C.
    pub drawn_c: f64,
    /// Heat lost, J.
    pub lost_j: f64,
    /// Heat given by both heaters, J.
    pub given_j: f64,
    /// Growth of the heat stored, J.
    pub stored_j: f64,
    /// What does not close, J.
    pub residual_j: f64,
}

impl Tank {
    /// Makes a tank of even temperature. `loss_w_k` is the whole loss, shared evenly; `height_m` sets conduction.
    ///
    /// # Errors
    /// [`PlantError::Range`] for a size, loss or number of nodes that is none.
    pub fn new(
        volume_m3: f64,
        height_m: f64,
        loss_w_k: f64,
        nodes: usize,
        start_c: f64,
    ) -> Result<Self, PlantError> {
        within("tank volume", volume_m3, 1e-6, 1e3, "is more than zero, m³")?;
        within("tank height", height_m, 1e-3, 20.0, "is more than zero, m")?;
        within("tank loss", loss_w_k, 0.0, 1e4, "is zero or more, W/K")?;
        within("number of nodes", nodes as f64, 1.0, 200.0, "lies from 1 to 200")?;
        let spacing = height_m / nodes as f64;
        Ok(Self {
            volume_m3,
            loss_w_k: vec![loss_w_k / nodes as f64; nodes],
            between_w_k: CONDUCTIVITY_W_MK * volume_m3 / height_m / spacing,
            heat_j_m3k: WATER_J_M3K,
            nodes_c: vec![start_c; nodes],
        })
    }

    /// The same without conduction between nodes, for closed forms.
    pub fn without_conduction(mut self) -> Self {
        self.between_w_k = 0.0;
        self
    }

    fn node_j_k(&self) -> f64 {
        self.volume_m3 * self.heat_j_m3k / self.nodes_c.len() as f64
    }

    /// Returns the heat stored above 0 °C, J.
    pub fn heat_j(&self) -> f64 {
        self.node_j_k() * self.nodes_c.iter().sum::<f64>()
    }

    /// Returns the mean temperature, °C.
    pub fn mean_c(&self) -> f64 {
        self.nodes_c.iter().sum::<f64>() / self.nodes_c.len() as f64
    }

    /// Returns the temperature at a height from 0 (bottom) to 1 (top), of the node there, °C.
    pub fn at_height_c(&self, share: f64) -> f64 {
        let n = self.nodes_c.len();
        self.nodes_c[((share.clamp(0.0, 1.0) * n as f64) as usize).min(n - 1)]
    }

    /// Returns the temperature at the top, °C.
    pub fn top_c(&self) -> f64 {
        self.nodes_c.last().copied().unwrap_or(f64::NAN)
    }

    /// Goes one step.
    ///
    /// # Errors
    /// [`PlantError::Range`] for a step or draw below zero.
    pub fn step(&mut self, g: &Given) -> Result<Step, PlantError> {
        within("tank step", g.step_s, 1e-9, 1e9, "is more than zero, s")?;
        within("draw", g.draw_m3, 0.0, 1e6, "is zero or more, m³")?;
        let before = self.heat_j();
        let mut out = Step { drawn_c: f64::NAN, ..Step::default() };
        if g.draw_m3 > 0.0 {
            out.drawn_c = self.draw(g.draw_m3, g.cold_c);
            out.drawn_j = g.draw_m3 * self.heat_j_m3k * (out.drawn_c - g.cold_c);
        }
        self.warm(g, &mut out)?;
        self.overturn();
        out.stored_j = self.heat_j() - before;
        out.residual_j = out.given_j - g.loop_w * g.step_s - out.lost_j - out.drawn_j - out.stored_j;
        Ok(out)
    }

    /// Moves the column up by a draw; returns the mean temperature of what left. Exact for plugs; each node mixes.
    fn draw(&mut self, draw_m3: f64, cold_c: f64) -> f64 {
        let n = self.nodes_c.len();
        let node = self.volume_m3 / n as f64;
        let (mut left, mut sum) = (draw_m3, 0.0);
        while left > 0.0 {
            // No plug longer than a node, so that what leaves a node was in it.
            let plug = left.min(node);
            let share = plug / node;
            sum += plug * self.nodes_c[n - 1];
            for k in (0..n).rev() {
                let below = if k == 0 { cold_c } else { self.nodes_c[k - 1] };
                self.nodes_c[k] += share * (below - self.nodes_c[k]);
            }
            left -= plug;
            if left < 1e-15 * draw_m3 {
                break;
            }
        }
        sum / draw_m3
    }

    /// Losses, conduction and heating, implicit.
    fn warm(&mut self, g: &Given, out: &mut Step) -> Result<(), PlantError> {
        let n = self.nodes_c.len();
        let capacity = self.node_j_k() / g.step_s;
        let (mut lower, mut diagonal, mut upper) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let mut right = vec![0.0; n];
        let main_to = g.main_to.min(n - 1);
        for k in 0..n {
            let (below, above) = (k > 0, k + 1 < n);
            diagonal[k] = capacity + self.loss_w_k[k];
            if below {
                lower[k] = -self.between_w_k;
                diagonal[k] += self.between_w_k;
            }
            if above {
                upper[k] = -self.between_w_k;
                diagonal[k] += self.between_w_k;
            }
            let main = if k <= main_to { g.main_w / (main_to + 1) as f64 } else { 0.0 };
            let element = if k == g.upper_at.min(n - 1) { g.upper_w } else { 0.0 };
            let taken = if above { 0.0 } else { g.loop_w };
            right[k] = capacity * self.nodes_c[k] + self.loss_w_k[k] * g.around_c + main + element - taken;
        }
        let mut scratch = vec![0.0; n];
        tridiagonal::solve(&lower, &diagonal, &upper, &mut right, &mut scratch).map_err(|_| {
            PlantError::Range { what: "tank step", value: g.step_s, allowed: "gives no solution" }
        })?;
        self.nodes_c = right;
        out.lost_j = g.step_s
            * self.nodes_c.iter().zip(&self.loss_w_k).map(|(t, u)| u * (t - g.around_c)).sum::<f64>();
        out.given_j = g.step_s * (g.main_w + g.upper_w);
        Ok(())
    }

    /// Mixes layers that are warmer than what lies above them: pools of equal size grow until the column is stable.
    fn overturn(&mut self) {
        let mut pools: Vec<(f64, usize)> = Vec::with_capacity(self.nodes_c.len());
        for t in &self.nodes_c {
            let mut pool = (*t, 1);
            while let Some(&(below, size)) = pools.last() {
                if below <= pool.0 {
                    break;
                }
                pools.pop();
                let all = size + pool.1;
                pool = ((below * size as f64 + pool.0 * pool.1 as f64) / all as f64, all);
            }
            pools.push(pool);
        }
        let mut k = 0;
        for (t, size) in pools {
            self.nodes_c[k..k + size].fill(t);
            k += size;
        }
    }
}

/// Returns the loss of a tank from its standing loss of a day, W/K: `E/(86 400 s · ΔT)`.
pub fn loss_from_standing(standing_j_per_day: f64, difference_k: f64) -> f64 {
    standing_j_per_day / 86_400.0 / difference_k
}

/// Returns the loss of a mixed tank from a cool-down without draw, W/K: `V ρc/t · ln((T₀ − θ)/(T₁ − θ))`.
pub fn loss_from_cooldown(volume_m3: f64, from_c: f64, to_c: f64, around_c: f64, time_s: f64) -> f64 {
    volume_m3 * WATER_J_M3K / time_s * numeric::ln((from_c - around_c) / (to_c - around_c))
}

/// Returns water mixed to 40 °C from a tank by ideal plug flow, m³: `V (T_hot − T_cold)/(40 − T_cold)`.
pub fn mixed_at_40(volume_m3: f64, hot_c: f64, cold_c: f64) -> f64 {
    volume_m3 * (hot_c - cold_c) / (40.0 - cold_c)
}

/// Returns the time a mixed tank takes from one temperature to another under a constant power, s; `None` when it
/// never gets there.
///
/// `t = −τ ln((T_∞ − T₁)/(T_∞ − T₀))`, `τ = Vρc/U`, `T_∞ = θ + P/U`.
pub fn time_between_s(
    volume_m3: f64,
    loss_w_k: f64,
    around_c: f64,
    power_w: f64,
    from_c: f64,
    to_c: f64,
) -> Option<f64> {
    let end = around_c + power_w / loss_w_k;
    let ratio = (end - to_c) / (end - from_c);
    (ratio > 0.0 && ratio <= 1.0).then(|| -volume_m3 * WATER_J_M3K / loss_w_k * numeric::ln(ratio))
}

/// Standing-loss classes of (EU) 812/2013, best first: name, constant and factor of `S < a + b V^0.4`, W and litres.
/// From memory.
pub const STANDING_LOSS_CLASSES: [(&str, f64, f64); 7] = [
    ("A+", 5.5, 3.16),
    ("A", 8.5, 4.25),
    ("B", 12.0, 5.93),
    ("C", 16.66, 8.33),
    ("D", 21.0, 10.33),
    ("E", 26.0, 13.66),
    ("F", 31.0, 16.66),
];

/// Returns the bound of a standing-loss class, W; `None` for a name that is no class.
pub fn standing_loss_bound_w(class: &str, volume_l: f64) -> Option<f64> {
    let row = STANDING_LOSS_CLASSES.iter().find(|row| row.0 == class)?;
    Some(row.1 + row.2 * numeric::pow(volume_l, 0.4))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_draw_of_a_whole_node_moves_the_column_by_one() {
        let mut t = Tank::new(0.2, 1.2, 0.0, 4, 60.0).unwrap().without_conduction();
        let s = t.step(&Given { step_s: 60.0, draw_m3: 0.05, cold_c: 10.0, ..Given::default() }).unwrap();
        assert_eq!(t.nodes_c, [10.0, 60.0, 60.0, 60.0]);
        assert!((s.drawn_c - 60.0).abs() < 1e-12);
    }

    #[test]
    fn heating_below_mixes_upwards() {
        let mut t = Tank::new(0.2, 1.2, 1.5, 8, 40.0).unwrap();
        for _ in 0..20 {
            t.step(&Given { step_s: 600.0, main_w: 2000.0, main_to: 0, around_c: 20.0, ..Given::default() })
                .unwrap();
        }
        assert!(t.nodes_c.windows(2).all(|w| w[0] <= w[1] + 1e-9), "{:?}", t.nodes_c);
        assert!(t.top_c() - t.nodes_c[0] < 0.2);
    }

    proptest! {
        #[test]
        fn every_step_closes_and_stays_in_bounds(
            step in 1.0..1e6f64, draw in 0.0..0.5f64, power in 0.0..5000.0f64, upper in 0.0..3000.0f64,
            nodes in 1usize..20, start in 12.0..70.0f64,
        ) {
            let mut t = Tank::new(0.2, 1.3, 1.5, nodes, start).unwrap();
            for _ in 0..5 {
                let g = Given { step_s: step, draw_m3: draw, cold_c: 10.0, around_c: 18.0, main_w: power, main_to: nodes / 2, upper_w: upper, upper_at: nodes, loop_w: 20.0 };
                let s = t.step(&g).unwrap();
                prop_assert!(s.residual_j.abs() < 1e-9 * (t.heat_j().abs() + s.given_j + s.lost_j.abs() + s.drawn_j.abs()), "{s:?}");
                prop_assert!(t.nodes_c.windows(2).all(|w| w[0] <= w[1] + 1e-9));
            }
            let mut idle = Tank::new(0.2, 1.3, 1.5, nodes, start).unwrap();
            idle.step(&Given { step_s: step, draw_m3: draw, cold_c: 10.0, around_c: 18.0, ..Given::default() }).unwrap();
            let (low, high) = (start.min(10.0), start.max(18.0));
            prop_assert!(idle.nodes_c.iter().all(|t| *t >= low - 1e-9 && *t <= high + 1e-9));
        }
    }
}
