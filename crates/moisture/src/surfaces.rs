//! From weather and rooms to what acts on the two faces.
//!
//! Films: convection outside 4 + 4 v W/(m²·K) (ISO 6946 annex C, recalled), inside 2.5 for upright faces; radiation
//! against its own temperature; vapour by the analogy of Lewis, 7·10⁻⁹ kg/(m²·s·Pa) a W/(m²·K) of convection (EN 15026,
//! recalled). Rain on a wall comes from the driving-rain laws of crate `climate`.

use crate::drive::SideState;
use crate::error::MoistureError;
use crate::wall::inconsistent;
use matter::moist_air::{ABSOLUTE_ZERO_C, saturation_pressure};

/// Vapour film for each W/(m²·K) of convective film, kg/(m²·s·Pa) / (W/(m²·K)).
pub const VAPOUR_PER_HEAT_FILM: f64 = 7.0e-9;
/// Stefan–Boltzmann constant, W/(m²·K⁴).
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Weather on one face, one number an hour; every list of the same length.
#[derive(Clone, Copy, Debug)]
pub struct Weather<'a> {
    /// Air temperature, °C.
    pub temperature_c: &'a [f64],
    /// Vapour pressure, Pa.
    pub vapour_pressure_pa: &'a [f64],
    /// Wind speed near the wall, m/s.
    pub wind_m_s: &'a [f64],
    /// Solar irradiance on the face, W/m².
    pub solar_w_m2: &'a [f64],
    /// Long-wave radiation coming onto the face from sky and ground, W/m²; empty: taken as from air temperature.
    pub long_wave_w_m2: &'a [f64],
    /// Driving rain on the face, kg/(m²·h); empty: none, and exposed masonry must not be judged on the run.
    pub rain_kg_m2h: &'a [f64],
}

/// What the outside face does with radiation and wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutsideFace {
    /// Share of sunshine absorbed.
    pub solar_absorptance: f64,
    /// Long-wave emissivity.
    pub emissivity: f64,
    /// Equivalent air layer of a coat on the face, m; 0 for none.
    pub coat_air_layer_m: f64,
    /// Share of the driving rain that splashes off, 0 to 1: 0.3 upright, 0 level (common practice, no source).
    pub splash: f64,
}

impl Default for OutsideFace {
    fn default() -> Self {
        Self { solar_absorptance: 0.6, emissivity: 0.9, coat_air_layer_m: 0.0, splash: 0.3 }
    }
}

/// Returns the states outside, hour by hour.
///
/// # Errors
/// Lists of unlike length.
pub fn outside(weather: &Weather<'_>, face: &OutsideFace) -> Result<Vec<SideState>, MoistureError> {
    let n = weather.temperature_c.len();
    let lists = [
        ("vapour pressure", weather.vapour_pressure_pa, false),
        ("wind", weather.wind_m_s, false),
        ("sun", weather.solar_w_m2, false),
        ("long-wave radiation", weather.long_wave_w_m2, true),
        ("rain", weather.rain_kg_m2h, true),
    ];
    for (name, list, optional) in lists {
        if list.len() != n && !(optional && list.is_empty()) {
            return Err(inconsistent("weather", format!("{name} has {} hours, temperature {n}", list.len())));
        }
    }
    Ok((0..n)
        .map(|h| {
            let t = weather.temperature_c[h];
            let convective = 4.0 + 4.0 * weather.wind_m_s[h];
            let radiant_c = match weather.long_wave_w_m2.get(h) {
                Some(&l) => black_temperature_c(l),
                None => t,
            };
            SideState {
                air_temperature_c: t,
                vapour_pressure_pa: weather.vapour_pressure_pa[h],
                heat_film_w_m2k: convective,
                radiant_film_w_m2k: radiant_film(face.emissivity, 0.5 * (t + radiant_c)),
                radiant_temperature_c: radiant_c,
                absorbed_w_m2: face.solar_absorptance * weather.solar_w_m2[h],
                vapour_film_kg_m2spa: vapour_film(convective, face.coat_air_layer_m),
                rain_kg_m2s: weather.rain_kg_m2h.get(h).map_or(0.0, |r| r * (1.0 - face.splash) / 3600.0),
            }
        })
        .collect())
}

/// Returns the states inside from air temperature (°C) and relative humidity (fraction), hour by hour.
///
/// `convective_w_m2k` is 2.5 for upright faces, 5.0 under a warm ceiling, 0.7 over a cold floor (ISO 6946, recalled);
/// `coat_air_layer_m` the equivalent air layer of paint or wallpaper.
///
/// # Errors
/// Lists of unlike length.
pub fn inside(
    temperature_c: &[f64],
    humidity: &[f64],
    convective_w_m2k: f64,
    coat_air_layer_m: f64,
) -> Result<Vec<SideState>, MoistureError> {
    if temperature_c.len() != humidity.len() {
        let detail = format!("{} hours of temperature, {} of humidity", temperature_c.len(), humidity.len());
        return Err(inconsistent("room", detail));
    }
    Ok(temperature_c
        .iter()
        .zip(humidity)
        .map(|(&t, &h)| {
            let pv = h * saturation_pressure(t);
            let vapour = vapour_film(convective_w_m2k, coat_air_layer_m);
            let mut state = SideState::air(t, pv, convective_w_m2k, vapour);
            state.radiant_film_w_m2k = radiant_film(0.9, t);
            state
        })
        .collect())
}

/// Returns the air that rises or is blown through a cavity behind cladding, kg/(m²·s) of wall.
///
/// ```text
/// Δp = |Δp_wind + ρ g H ΔT/(2 T)|,  v = √(2 Δp/(ρ ζ)),  flow = ρ v d/H
/// ```
/// H height between the openings (m), d depth of the cavity (m), ΔT how much warmer its air is than outdoors (K), ζ the
/// loss of both openings and the way between them, in velocity heads of the cavity (often 50 to 500: insect screens
/// and narrow slots dominate), Δp_wind the difference of wind pressure between the openings (Pa; about a twentieth of the
/// dynamic pressure, judgement). A dead calm leaves no flow: add none by hand, dry walls need none.
///
/// # Source
/// Bernoulli's equation; losses common practice, no source.
pub fn cavity_flow_kg_m2s(
    height_m: f64,
    depth_m: f64,
    warmer_k: f64,
    wind_pressure_pa: f64,
    losses: f64,
    temperature_c: f64,
) -> f64 {
    const GRAVITY_M_S2: f64 = 9.806_65;
    let density = matter::moist_air::density(temperature_c, 0.0, matter::moist_air::STANDARD_PRESSURE_PA);
    let kelvin = temperature_c - ABSOLUTE_ZERO_C;
    let stack = density * GRAVITY_M_S2 * height_m * warmer_k / (2.0 * kelvin);
    let speed = (2.0 * (wind_pressure_pa + stack).abs() / (density * losses)).sqrt();
    density * speed * depth_m / height_m
}

/// Returns the radiant film, W/(m²·K): 4 ε σ T³.
fn radiant_film(emissivity: f64, temperature_c: f64) -> f64 {
    let t = temperature_c - ABSOLUTE_ZERO_C;
    4.0 * emissivity * STEFAN_BOLTZMANN * t * t * t
}

/// Returns the temperature of a black body that sends this radiation, °C.
fn black_temperature_c(long_wave_w_m2: f64) -> f64 {
    (long_wave_w_m2 / STEFAN_BOLTZMANN).max(0.0).sqrt().sqrt() + ABSOLUTE_ZERO_C
}

fn vapour_film(convective_w_m2k: f64, coat_air_layer_m: f64) -> f64 {
    let film = VAPOUR_PER_HEAT_FILM * convective_w_m2k;
    if coat_air_layer_m > 0.0 {
        1.0 / (1.0 / film + coat_air_layer_m / crate::material::AIR_PERMEABILITY_KG_MSPA)
    } else {
        film
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn films_are_the_usual_ones() {
        let w = Weather {
            temperature_c: &[0.0],
            vapour_pressure_pa: &[500.0],
            wind_m_s: &[4.0],
            solar_w_m2: &[100.0],
            long_wave_w_m2: &[],
            rain_kg_m2h: &[0.36],
        };
        let s = outside(&w, &OutsideFace::default()).expect("whole")[0];
        let film = s.heat_film_w_m2k + s.radiant_film_w_m2k;
        assert!((1.0 / film - 0.04).abs() < 0.003, "{film}");
        assert!((s.rain_kg_m2s - 7e-5).abs() < 1e-12 && s.absorbed_w_m2 == 60.0);
        let s = inside(&[20.0], &[0.5], 2.5, 0.0).expect("whole")[0];
        assert!((1.0 / (s.heat_film_w_m2k + s.radiant_film_w_m2k) - 0.13).abs() < 0.003);
        assert!(outside(&Weather { wind_m_s: &[], ..w }, &OutsideFace::default()).is_err());
    }

    #[test]
    fn a_warm_cavity_breathes() {
        // 2.5 m high, 25 mm deep, 10 K warmer, 100 velocity heads: a few tens of air changes an hour.
        let flow = cavity_flow_kg_m2s(2.5, 0.025, 10.0, 0.0, 100.0, 10.0);
        let changes = flow * 3600.0 / (1.247 * 0.025);
        assert!((50.0..200.0).contains(&changes), "{changes}");
        assert_eq!(cavity_flow_kg_m2s(2.5, 0.025, 0.0, 0.0, 100.0, 10.0), 0.0);
    }

    #[test]
    fn a_coat_slows_vapour() {
        assert!(vapour_film(2.5, 1.0) < 0.02 * vapour_film(2.5, 0.0));
    }
}
