//! What air carries on its way: ducts that lose heat, doors that stand open, and how much supply air can bring.

use matter::moist_air;
use numeric::exp;

/// Returns the temperature of air at the end of a duct, °C.
///
/// ```text
/// θ_end = θ_around + (θ_in − θ_around) e^(−U' L/(ρ c q))
/// ```
/// `loss_w_mk` is the duct's loss a metre, W/(m·K); `air_w_k` the stream's capacity rate ρ c q, W/K. The heat goes to
/// where the duct lies: inside the envelope it is not lost.
pub fn duct_end_c(inlet_c: f64, around_c: f64, length_m: f64, loss_w_mk: f64, air_w_k: f64) -> f64 {
    if !(air_w_k > 0.0) {
        return around_c;
    }
    around_c + (inlet_c - around_c) * exp(-loss_w_mk * length_m / air_w_k)
}

/// Returns the loss of a round insulated duct a metre, W/(m·K), with a film of 8 W/(m²·K) round it.
pub fn duct_loss_w_mk(diameter_m: f64, insulation_m: f64, conductivity_w_mk: f64) -> f64 {
    const FILM_W_M2K: f64 = 8.0;
    let outer = diameter_m + 2.0 * insulation_m;
    let shell = if insulation_m > 0.0 {
        numeric::ln(outer / diameter_m) / (2.0 * std::f64::consts::PI * conductivity_w_mk)
    } else {
        0.0
    };
    1.0 / (shell + 1.0 / (std::f64::consts::PI * outer * FILM_W_M2K))
}

/// Returns the air that an open door exchanges each way between rooms of different temperature, m³/s.
///
/// ```text
/// q = C/3 · W · √(g H³ ΔT/T)
/// ```
/// C = 0.6, T = 293 K. Buoyancy only; people and fans mix more. Source: two-way flow through a large opening, EN 16798-7
/// in substance, from memory.
pub fn open_door_m3_s(width_m: f64, height_m: f64, difference_k: f64) -> f64 {
    0.6 / 3.0 * width_m * (9.81 * height_m * height_m * height_m * difference_k.abs() / 293.0).sqrt()
}

/// What supply air may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupplyLimits {
    /// Warmest, °C: dust chars and air stays under the ceiling above this.
    pub warmest_c: f64,
    /// Coolest, °C: draughts and wet grilles below this.
    pub coolest_c: f64,
    /// Driest, kg/kg: what a coil leaves in the air.
    pub driest_kg_kg: f64,
}

impl SupplyLimits {
    /// 52 °C (dust on a heater coil), 14 °C, and 8.5 g/kg (a coil near 12 °C). Common practice, no source.
    pub const USUAL: Self = Self { warmest_c: 52.0, coolest_c: 14.0, driest_kg_kg: 0.0085 };
}

/// The most that a flow of supply air can bring or take.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SupplyReach {
    /// Heat, W.
    pub heat_w: f64,
    /// Sensible cold, W.
    pub cold_w: f64,
    /// Water, kg/s.
    pub water_kg_s: f64,
}

/// Returns the reach of a supply flow to a room.
pub fn supply_reach(
    flow_m3_s: f64,
    room_heated_c: f64,
    room_cooled_c: f64,
    room_kg_kg: f64,
    pressure_pa: f64,
    limits: &SupplyLimits,
) -> SupplyReach {
    let density = moist_air::density(20.0, 0.008, pressure_pa);
    let heat = density * moist_air::specific_heat(0.008) * flow_m3_s.max(0.0);
    SupplyReach {
        heat_w: heat * (limits.warmest_c - room_heated_c).max(0.0),
        cold_w: heat * (room_cooled_c - limits.coolest_c).max(0.0),
        water_kg_s: density * flow_m3_s.max(0.0) * (room_kg_kg - limits.driest_kg_kg).max(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_door_one_kelvin_apart_moves_a_few_hundred_cubic_metres_an_hour() {
        let q = 3600.0 * open_door_m3_s(0.9, 2.1, 1.0);
        assert!((300.0..450.0).contains(&q), "{q}");
    }

    proptest! {
        #[test]
        fn a_duct_ends_between_its_inlet_and_what_is_round_it(i in -20.0..60.0f64, a in -20.0..40.0f64, l in 0.0..60.0f64) {
            let end = duct_end_c(i, a, l, duct_loss_w_mk(0.16, 0.05, 0.04), 60.0);
            prop_assert!(end <= i.max(a) + 1e-9 && end >= i.min(a) - 1e-9);
        }
    }
}
