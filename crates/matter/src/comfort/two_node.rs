//! Standard effective temperature: a person as two nodes, core and skin, for one hour.
//!
//! The temperature of a still, uniform room at 50 % relative humidity in which a person, dressed for what they do,
//! would lose as much heat at the same skin temperature and wetness.

use numeric::{exp, pow};

use super::{CLO_M2K_W, ComfortError, Exposure, within};

/// One metabolic unit as the model counts it, W/m².
const MET: f64 = 58.2;
/// Skin temperature at which blood flow rests, °C.
const SKIN_NEUTRAL_C: f64 = 33.7;
/// Core temperature at which blood flow rests, °C.
const CORE_NEUTRAL_C: f64 = 36.8;
/// Skin's share of the body's mass in neutral conditions.
const SKIN_SHARE: f64 = 0.1;
/// Skin blood flow at rest, kg/(h·m²).
const BLOOD_NEUTRAL: f64 = 6.3;
/// Body mass, kg.
const MASS_KG: f64 = 69.9;
/// Body surface, m².
const SURFACE_M2: f64 = 1.8258;
/// Specific heat of the body, W·h/(kg·K).
const BODY_HEAT: f64 = 0.97;
/// Lewis ratio, K/Torr.
const LEWIS: f64 = 2.2;
/// Vapour permeability of clothing as a share of air's.
const CLOTHING_PERMEABILITY: f64 = 0.45;
/// Stefan–Boltzmann constant times emissivity 0.95, four, and the radiating share of a standing body, W/(m²·K⁴).
const RADIATION: f64 = 4.0 * 0.95 * 5.669_7e-8 * 0.73;
/// Pascals a Torr.
const PA_PER_TORR: f64 = 133.322;

/// Saturation pressure, Torr, in the model's own form (that of ISO 7730).
fn saturation_torr(temperature_c: f64) -> f64 {
    exp(18.6686 - 4030.183 / (temperature_c + 235.0))
}

/// The person after each minute.
struct Person<'a> {
    e: &'a Exposure,
    vapour_torr: f64,
    air_speed: f64,
    skin_c: f64,
    core_c: f64,
    blood: f64,
    skin_share: f64,
    metabolic: f64,
    evaporation: f64,
    sensible: f64,
    wetness: f64,
    radiative: f64,
}

/// Returns the standard effective temperature, °C.
///
/// # Valid for
/// A standing person at sea level without external work, after an hour; air −20 to 50 °C, radiant −20 to 60 °C, air
/// speed to 4 m/s, 0.6 to 5 met, 0 to 5 clo. Air slower than 0.1 m/s counts as 0.1.
/// # Errors
/// [`ComfortError::OutOfRange`] outside these ranges.
/// # Source
/// Two-node model of Gagge, Fobelets and Berglund, ASHRAE Transactions 92 (1986), with the constants of ASHRAE
/// 55-2017, appendix D; recalled.
pub fn standard_effective_temperature(e: &Exposure) -> Result<f64, ComfortError> {
    within("air temperature (°C)", e.air_c, -20.0, 50.0)?;
    within("radiant temperature (°C)", e.radiant_c, -20.0, 60.0)?;
    within("air speed (m/s)", e.air_speed_m_s, 0.0, 4.0)?;
    within("vapour pressure (Pa)", e.vapour_pressure_pa, 0.0, 8_000.0)?;
    within("metabolic rate (met)", e.metabolic_met, 0.6, 5.0)?;
    within("clothing (clo)", e.clothing_clo, 0.0, 5.0)?;
    let mut person = Person {
        e,
        vapour_torr: e.vapour_pressure_pa / PA_PER_TORR,
        air_speed: e.air_speed_m_s.max(0.1),
        skin_c: SKIN_NEUTRAL_C,
        core_c: CORE_NEUTRAL_C,
        blood: BLOOD_NEUTRAL,
        skin_share: SKIN_SHARE,
        metabolic: e.metabolic_met * MET,
        evaporation: 0.1 * e.metabolic_met,
        sensible: 0.0,
        wetness: 0.06,
        radiative: 4.7,
    };
    for _ in 0..60 {
        person.live_a_minute();
    }
    Ok(person.equivalent_room_c())
}

impl Person<'_> {
    fn live_a_minute(&mut self) {
        let e = self.e;
        let clothing = CLO_M2K_W * e.clothing_clo;
        let area = 1.0 + 0.15 * e.clothing_clo;
        let convective = self.convective();
        let (film, operative) = self.outside_the_clothing(clothing, area, convective);
        let base = e.metabolic_met * MET;
        // Loss by breathing follows activity, not shivering.
        let breath = 0.0023 * base * (44.0 - self.vapour_torr) + 0.0014 * base * (34.0 - e.air_c);
        self.sensible = (self.skin_c - operative) / (film + clothing);
        let to_skin = (self.core_c - self.skin_c) * (5.28 + 1.163 * self.blood);
        let skin_gain = to_skin - self.sensible - self.evaporation;
        let core_gain = self.metabolic - to_skin - breath;
        let per_minute = |share: f64| SURFACE_M2 / (BODY_HEAT * share * MASS_KG * 60.0);
        self.skin_c += skin_gain * per_minute(self.skin_share);
        self.core_c += core_gain * per_minute(1.0 - self.skin_share);
        self.regulate(clothing, area, convective);
    }

    fn convective(&self) -> f64 {
        let moving = 8.600_001 * pow(self.air_speed, 0.53);
        moving.max(walking_film(self.e.metabolic_met)).max(3.0)
    }

    /// Film resistance and operative temperature, with the radiative coefficient at the clothing's own temperature.
    fn outside_the_clothing(&mut self, clothing: f64, area: f64, convective: f64) -> (f64, f64) {
        let e = self.e;
        let weighed = |radiative: f64| {
            let film = 1.0 / (area * (radiative + convective));
            let operative = (radiative * e.radiant_c + convective * e.air_c) / (radiative + convective);
            (film, operative)
        };
        let (mut film, mut operative) = weighed(self.radiative);
        let mut surface = (film * self.skin_c + clothing * operative) / (film + clothing);
        // The map contracts strongly (its slope is below 0.1); fifty rounds are far more than 1e-9 K needs.
        for _ in 0..50 {
            let mean_k = 0.5 * (surface + e.radiant_c) + 273.15;
            self.radiative = RADIATION * mean_k * mean_k * mean_k;
            (film, operative) = weighed(self.radiative);
            let next = (film * self.skin_c + clothing * operative) / (film + clothing);
            let step = (next - surface).abs();
            surface = next;
            if step < 1e-9 {
                break;
            }
        }
        (film, operative)
    }

    /// Blood flow, sweat and shivering for the next minute.
    fn regulate(&mut self, clothing: f64, area: f64, convective: f64) {
        let warm = |t: f64, neutral: f64| (t - neutral).max(0.0);
        let (warm_skin, cold_skin) = (warm(self.skin_c, SKIN_NEUTRAL_C), warm(SKIN_NEUTRAL_C, self.skin_c));
        let (warm_core, cold_core) = (warm(self.core_c, CORE_NEUTRAL_C), warm(CORE_NEUTRAL_C, self.core_c));
        let body = self.skin_share * self.skin_c + (1.0 - self.skin_share) * self.core_c;
        let neutral = SKIN_SHARE * SKIN_NEUTRAL_C + (1.0 - SKIN_SHARE) * CORE_NEUTRAL_C;
        self.blood = ((BLOOD_NEUTRAL + 120.0 * warm_core) / (1.0 + 0.5 * cold_skin)).clamp(0.5, 90.0);
        let sweat = (170.0 * warm(body, neutral) * exp(warm_skin / 10.7)).min(500.0);
        self.evaporate(0.68 * sweat, clothing, area, convective);
        self.metabolic = self.e.metabolic_met * MET + 19.4 * cold_skin * cold_core;
        self.skin_share = 0.041_773_7 + 0.745_183_3 / (self.blood + 0.585_417);
    }

    fn evaporate(&mut self, wanted: f64, clothing: f64, area: f64, convective: f64) {
        let bare = self.e.clothing_clo <= 0.0;
        let (limit, permeability) = if bare {
            (0.38 * pow(self.air_speed, -0.29), 1.0)
        } else {
            (0.59 * pow(self.air_speed, -0.08), CLOTHING_PERMEABILITY)
        };
        let resistance = 1.0 / (LEWIS * area * convective) + clothing / (LEWIS * permeability);
        let most = (saturation_torr(self.skin_c) - self.vapour_torr) / resistance;
        if most < 0.0 {
            self.evaporation = 0.0;
            self.wetness = limit;
            return;
        }
        let by_sweat = wanted / most;
        self.wetness = 0.06 + 0.94 * by_sweat;
        self.evaporation = self.wetness * most;
        if self.wetness > limit {
            // Sweat that drips does not cool.
            self.wetness = limit;
            let by_sweat = limit / 0.94;
            self.evaporation = by_sweat * most + 0.06 * (1.0 - by_sweat) * most;
        }
    }

    /// Solves for the room that takes the same heat; both losses fall as it warms, so bisection cannot fail.
    fn equivalent_room_c(&self) -> f64 {
        let met = self.e.metabolic_met;
        let convective = walking_film(met).max(3.0);
        let film = convective + self.radiative;
        let clo = 1.52 / (met + 0.6944) - 0.1835;
        let clothing = CLO_M2K_W * clo;
        let area = 1.0 + 0.25 * clo;
        let efficiency = 1.0 / (1.0 + area * film * clothing);
        let ratio = convective / film;
        let permeability =
            CLOTHING_PERMEABILITY * ratio * (1.0 - efficiency) / (ratio - efficiency * CLOTHING_PERMEABILITY);
        let dry = 1.0 / (1.0 / (area * film) + clothing);
        let wet = 1.0 / (1.0 / (LEWIS * area * convective) + clothing / (LEWIS * permeability));
        let loss = self.sensible + self.evaporation;
        let spare = |room: f64| {
            loss - dry * (self.skin_c - room)
                - self.wetness * wet * (saturation_torr(self.skin_c) - 0.5 * saturation_torr(room))
        };
        let (mut low, mut high) = (-60.0, 100.0);
        while high - low > 1e-9 {
            let middle = 0.5 * (low + high);
            if spare(middle) > 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// Convective coefficient that moving about brings with it, W/(m²·K).
fn walking_film(met: f64) -> f64 {
    if met > 0.85 { 5.66 * pow(met - 0.85, 0.39) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ordinary_room_feels_as_it_reads() {
        // 25 °C, still, 50 %, seated, summer clothes: the model's own standard person, near enough.
        let room = Exposure {
            air_c: 25.0,
            radiant_c: 25.0,
            air_speed_m_s: 0.15,
            vapour_pressure_pa: super::super::iso7730_vapour_pressure(25.0, 0.5),
            metabolic_met: 1.0,
            clothing_clo: 0.5,
        };
        let set = standard_effective_temperature(&room).expect("in range");
        assert!((set - 23.8).abs() < 0.05, "{set}");
        assert!(standard_effective_temperature(&Exposure { clothing_clo: f64::NAN, ..room }).is_err());
    }
}
