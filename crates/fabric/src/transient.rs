//! Conduction in time through one layered plane element, as a handful of modes.
//!
//! The element is seen from its two faces, whose temperatures are prescribed: `Ti` inside, `To` outside. The
//! flux *into* the element at each face follows from a steady part, a few modes and a quasi-static remainder:
//!
//! ```text
//! q_i =  K (Ti − To) + Σ m_ik z_k + r_i dTi/dt + r_x dTo/dt
//! q_o = −K (Ti − To) + Σ m_ok z_k + r_o dTo/dt + r_x dTi/dt
//! dz_k/dt = −λ_k z_k + m_ik dTi/dt + m_ok dTo/dt
//! ```
//!
//! Start at [`reduce`], which makes a [`ModalElement`] from layers. It is exact in steady state and in the heat
//! it stores, whatever the number of modes, and passive: all λ_k are positive and the matrix of the residuals
//! `[[r_i, r_x], [r_x, r_o]]` has no negative eigenvalue, so that no step length makes it unstable.
//!
//! Not here: surface films, sun, long-wave exchange (they belong to the balance that sets the face temperatures),
//! periodic transfer matrices (`periodic`), the ground (`ground`).

mod reduce;

pub use reduce::{Face, Meeting, Plan, Tolerance, plan, reduce, reduce_by};

use crate::Complex;

/// One plane layer, as conduction sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ConductionLayer {
    /// A layer that resists and stores.
    Solid {
        /// Thickness, m; above zero.
        thickness_m: f64,
        /// Conductivity, W/(m·K); above zero.
        conductivity_w_mk: f64,
        /// Density, kg/m³; above zero.
        density_kg_m3: f64,
        /// Specific heat capacity, J/(kg·K); above zero.
        specific_heat_j_kgk: f64,
    },
    /// A layer that only resists: an air space, a membrane, a film.
    Resistance {
        /// Thermal resistance, m²·K/W; zero or more.
        resistance_m2k_w: f64,
    },
}

impl ConductionLayer {
    /// Returns a layer that resists and stores.
    pub const fn solid(
        thickness_m: f64,
        conductivity_w_mk: f64,
        density_kg_m3: f64,
        specific_heat_j_kgk: f64,
    ) -> Self {
        Self::Solid { thickness_m, conductivity_w_mk, density_kg_m3, specific_heat_j_kgk }
    }

    /// Returns a layer that only resists.
    pub const fn resistance(resistance_m2k_w: f64) -> Self {
        Self::Resistance { resistance_m2k_w }
    }

    /// Returns the thermal resistance, m²·K/W.
    pub fn resistance_m2k_w(&self) -> f64 {
        match *self {
            Self::Solid { thickness_m, conductivity_w_mk, .. } => thickness_m / conductivity_w_mk,
            Self::Resistance { resistance_m2k_w } => resistance_m2k_w,
        }
    }

    /// Returns the heat capacity per area, J/(m²·K).
    pub fn capacity_j_m2k(&self) -> f64 {
        match *self {
            Self::Solid { thickness_m, density_kg_m3, specific_heat_j_kgk, .. } => {
                thickness_m * density_kg_m3 * specific_heat_j_kgk
            }
            Self::Resistance { .. } => 0.0,
        }
    }
}

/// One mode of an element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Decay rate λ, 1/s; above zero.
    pub rate_per_s: f64,
    /// Coupling to the inside face, √(W/(m²·K)).
    pub inside: f64,
    /// Coupling to the outside face, √(W/(m²·K)).
    pub outside: f64,
}

/// An element's response to its two face temperatures; see the [module](self) for the equations.
#[derive(Clone, Debug, PartialEq)]
pub struct ModalElement {
    /// Steady conductance between the faces K, W/(m²·K).
    pub conductance_w_m2k: f64,
    /// The modes kept, slowest first.
    pub modes: Vec<Mode>,
    /// r_i, J/(m²·K); never negative.
    pub inside_residual: f64,
    /// r_o, J/(m²·K); never negative.
    pub outside_residual: f64,
    /// r_x, J/(m²·K); either sign, `r_x² ≤ r_i r_o`.
    pub cross_residual: f64,
}

/// Face admittances of an element at one complex rate: flux into the element per kelvin at a face, W/(m²·K).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Admittance {
    /// Flux in at the inside face for the inside face's temperature.
    pub inside: Complex,
    /// Flux in at the outside face for the outside face's temperature.
    pub outside: Complex,
    /// Flux in at either face for the other face's temperature.
    pub cross: Complex,
}

/// How one mode moves over one time step: `z ← decay · z + gain · (m_i ΔTi + m_o ΔTo)`.
///
/// The gains are the same for every face and element; only λ and the step length enter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModeStep {
    /// Share of the state that is left.
    pub decay: f64,
    /// State gained per driving change.
    pub gain: f64,
}

impl Mode {
    /// Returns the backward Euler step: stable at any length, smooth after a jump, and its end fluxes times the
    /// step are exactly the heat taken up, so that a balance that uses them closes.
    pub fn implicit_step(&self, step_s: f64) -> ModeStep {
        let share = 1.0 / (1.0 + self.rate_per_s * step_s);
        ModeStep { decay: share, gain: share }
    }

    /// Returns the exact step for face temperatures that vary linearly over the step.
    ///
    /// More accurate than [`implicit_step`](Self::implicit_step) for smooth driving. The heat taken up is then the
    /// step's mean flux, `K (Ti − To) + Σ m (z₀ − z₁ + m·ΔT) / (λ Δt) + r dT/dt` with means of the temperatures.
    pub fn ramp_step(&self, step_s: f64) -> ModeStep {
        let x = self.rate_per_s * step_s;
        let decay = numeric::exp(-x);
        // The quotient loses digits for a slow mode; there the series is exact to rounding.
        let gain = if x < 1e-3 { 1.0 - x * (0.5 - x * (1.0 / 6.0 - x / 24.0)) } else { (1.0 - decay) / x };
        ModeStep { decay, gain }
    }
}

impl ModalElement {
    /// Returns an element that stores nothing.
    pub fn massless(conductance_w_m2k: f64) -> Self {
        Self {
            conductance_w_m2k,
            modes: Vec::new(),
            inside_residual: 0.0,
            outside_residual: 0.0,
            cross_residual: 0.0,
        }
    }

    /// Returns the face admittances for temperatures that vary as `exp(s t)`.
    ///
    /// `s = iω` gives the periodic response with angular frequency ω, 1/s.
    pub fn admittance(&self, s: Complex) -> Admittance {
        let k = Complex::real(self.conductance_w_m2k);
        let mut y = Admittance {
            inside: k + s.scale(self.inside_residual),
            outside: k + s.scale(self.outside_residual),
            cross: -k + s.scale(self.cross_residual),
        };
        for mode in &self.modes {
            let term = s / (s + Complex::real(mode.rate_per_s));
            y.inside = y.inside + term.scale(mode.inside * mode.inside);
            y.outside = y.outside + term.scale(mode.outside * mode.outside);
            y.cross = y.cross + term.scale(mode.inside * mode.outside);
        }
        y
    }

    /// Returns the heat an element takes up per kelvin of each face, inside and outside, J/(m²·K), once steady.
    ///
    /// Their sum is the element's whole heat capacity; the split says which face fills it.
    pub fn face_capacities_j_m2k(&self) -> (f64, f64) {
        let mut inside = self.inside_residual + self.cross_residual;
        let mut outside = self.outside_residual + self.cross_residual;
        for mode in &self.modes {
            let both = (mode.inside + mode.outside) / mode.rate_per_s;
            inside += both * mode.inside;
            outside += both * mode.outside;
        }
        (inside, outside)
    }

    /// Returns the heat stored at the face temperatures and mode states given, J/m², zero at 0 °C throughout.
    ///
    /// Its change over any time is the heat that entered at both faces: the integral of `q_i + q_o`.
    ///
    /// # Panics
    /// When `states` is shorter than [`modes`](Self::modes).
    pub fn stored_j_m2(&self, inside_c: f64, outside_c: f64, states: &[f64]) -> f64 {
        let (ci, co) = self.face_capacities_j_m2k();
        let mut stored = ci * inside_c + co * outside_c;
        for (k, mode) in self.modes.iter().enumerate() {
            stored -= (mode.inside + mode.outside) * states[k] / mode.rate_per_s;
        }
        stored
    }
}

#[cfg(test)]
mod tests;
