//! Heat taken back from waste water.
//!
//! Three ways to connect: the preheated water goes to the tap's mixer, to the heater, or to both (equal flow). Only with
//! equal flow is the rated effectiveness the whole truth.

use air::recovery::counterflow;

use crate::exchanger::transfer_units;

/// Where the preheated water goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Connected {
    /// To the heater and the mixer: equal flows.
    Both,
    /// To the mixer only.
    Mixer,
    /// To the heater only.
    Heater,
}

/// A shower with drain-water recovery at steady flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shower {
    /// Temperature at the head, °C.
    pub use_c: f64,
    /// Hot water, °C.
    pub hot_c: f64,
    /// Cold water, °C.
    pub cold_c: f64,
    /// What the water cools by before the drain, K.
    pub lost_k: f64,
    /// Effectiveness at equal flows, as rated.
    pub effectiveness: f64,
    /// Where the water goes.
    pub connected: Connected,
}

/// Returns the heat saved over the heat of the same shower without recovery, 0..1.
///
/// The rated effectiveness fixes the transfer units at equal flow; they are held to be those of the smaller flow at
/// unequal flow. Solved by repeating: the preheated temperature changes the share of hot water. No start-up losses;
/// baths and basins that drain later save nothing.
pub fn saved_share(s: &Shower) -> f64 {
    let drain_c = s.use_c - s.lost_k;
    if s.hot_c <= s.use_c || drain_c <= s.cold_c || !(s.effectiveness > 0.0 && s.effectiveness < 1.0) {
        return 0.0;
    }
    let units = transfer_units(s.effectiveness, 1.0);
    let mut preheated = s.cold_c;
    for _ in 0..200 {
        let mixer_c = if s.connected == Connected::Heater { s.cold_c } else { preheated };
        let hot_share = ((s.use_c - mixer_c) / (s.hot_c - mixer_c)).clamp(0.0, 1.0);
        let through = match s.connected {
            Connected::Both => 1.0,
            Connected::Mixer => 1.0 - hot_share,
            Connected::Heater => hot_share,
        };
        let next = if through > 0.0 {
            s.cold_c + counterflow(units / through, through) * (drain_c - s.cold_c)
        } else {
            s.cold_c
        };
        if (next - preheated).abs() < 1e-12 {
            break;
        }
        preheated = 0.5 * (preheated + next);
    }
    let mixer_c = if s.connected == Connected::Heater { s.cold_c } else { preheated };
    let heater_c = if s.connected == Connected::Mixer { s.cold_c } else { preheated };
    let hot_share = ((s.use_c - mixer_c) / (s.hot_c - mixer_c)).clamp(0.0, 1.0);
    let with = hot_share * (s.hot_c - heater_c);
    1.0 - with / (s.use_c - s.cold_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_flow_saves_most_and_the_rated_share() {
        let of = |connected| {
            saved_share(&Shower {
                use_c: 40.0,
                hot_c: 55.0,
                cold_c: 10.0,
                lost_k: 3.0,
                effectiveness: 0.4,
                connected,
            })
        };
        let (both, mixer, heater) = (of(Connected::Both), of(Connected::Mixer), of(Connected::Heater));
        // 0.4 of the 27 K left in the drain, of the 30 K wanted.
        assert!((both - 0.4 * 27.0 / 30.0).abs() < 1e-9, "{both}");
        assert!(mixer < both && heater < both && mixer > 0.1 && heater > 0.1, "{mixer} {heater}");
    }
}
