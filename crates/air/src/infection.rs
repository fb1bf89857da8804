//! Relative infection risk by shared air: an estimate to compare two ways of airing a room, never a safety statement.
//!
//! All forms assume well-mixed air and one number of quanta for a sick person's breath, which published work spreads
//! over two powers of ten. Only ratios between cases should be shown.

use numeric::exp;

/// Sick people, breath and room for [`steady`] and [`from_clean_air`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Infectious people present.
    pub infectors: f64,
    /// Quanta one of them gives off, 1/h.
    pub quanta_per_h: f64,
    /// Breathing rate of a susceptible person, m³/h.
    pub breathing_m3_h: f64,
    /// Time together, h.
    pub time_h: f64,
    /// Outdoor air (or its equal), m³/h.
    pub flow_m3_h: f64,
    /// Air volume, m³.
    pub volume_m3: f64,
}

/// Returns the infection probability with the quanta at their steady level from the start: `1 − exp(−I q p t / Q)`.
///
/// Source: Riley 1978, from memory.
pub fn steady(e: Exposure) -> f64 {
    1.0 - exp(-e.infectors * e.quanta_per_h * e.breathing_m3_h * e.time_h / e.flow_m3_h)
}

/// Returns the infection probability when the room starts clean.
///
/// Exponent `I q p / Q · (t − (1 − exp(−λ t))/λ)` with λ = Q/V. Source: same balance, from memory.
pub fn from_clean_air(e: Exposure) -> f64 {
    let rate = e.flow_m3_h / e.volume_m3;
    let effective_h = e.time_h - (1.0 - exp(-rate * e.time_h)) / rate;
    1.0 - exp(-e.infectors * e.quanta_per_h * e.breathing_m3_h / e.flow_m3_h * effective_h)
}

/// Returns the infection probability from the share of rebreathed air, `f = (C − C_out)/C_exhaled`.
///
/// `1 − exp(−f I q t / n)`, n people present. Source: Rudnick and Milton 2003, from memory.
pub fn rebreathed(share: f64, infectors: f64, quanta_per_h: f64, time_h: f64, people: f64) -> f64 {
    1.0 - exp(-share * infectors * quanta_per_h * time_h / people)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clean_start_is_never_worse() {
        for flow in [10.0, 100.0, 1000.0] {
            let e = Exposure {
                infectors: 1.0,
                quanta_per_h: 20.0,
                breathing_m3_h: 0.3,
                time_h: 2.0,
                flow_m3_h: flow,
                volume_m3: 180.0,
            };
            assert!(from_clean_air(e) < steady(e));
        }
    }
}
