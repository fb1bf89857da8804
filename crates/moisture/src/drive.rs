//! What acts on the two faces, period by period: plain numbers in even periods, usually hours.

use crate::error::{MoistureError, within};
use crate::wall::{Wall, inconsistent};

/// The state beyond one face during one period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideState {
    /// Air temperature, °C.
    pub air_temperature_c: f64,
    /// Vapour pressure of the air, Pa.
    pub vapour_pressure_pa: f64,
    /// Convective (or whole) heat film, W/(m²·K), against the air.
    pub heat_film_w_m2k: f64,
    /// Radiant film, W/(m²·K), against `radiant_temperature_c`; 0 when the film above is the whole.
    pub radiant_film_w_m2k: f64,
    /// Temperature that the face exchanges long-wave radiation with, °C.
    pub radiant_temperature_c: f64,
    /// Radiation absorbed at the face, W/m².
    pub absorbed_w_m2: f64,
    /// Vapour film, kg/(m²·s·Pa).
    pub vapour_film_kg_m2spa: f64,
    /// Driving rain on the face, kg/(m²·s).
    pub rain_kg_m2s: f64,
}

impl SideState {
    /// Returns air with one film for heat and one for vapour; no radiation, no rain.
    pub fn air(temperature_c: f64, vapour_pressure_pa: f64, heat_film: f64, vapour_film: f64) -> Self {
        Self {
            air_temperature_c: temperature_c,
            vapour_pressure_pa,
            heat_film_w_m2k: heat_film,
            radiant_film_w_m2k: 0.0,
            radiant_temperature_c: temperature_c,
            absorbed_w_m2: 0.0,
            vapour_film_kg_m2spa: vapour_film,
            rain_kg_m2s: 0.0,
        }
    }

    /// Returns a face held at a state: films so large that nothing stands between air and face (100 W/m² shift it by
    /// 1 mK, 1e-6 kg/(m²·s) by 1 mPa). Larger ones would only drown the balances in rounding.
    pub fn held(temperature_c: f64, vapour_pressure_pa: f64) -> Self {
        Self::air(temperature_c, vapour_pressure_pa, 1e5, 1e-3)
    }

    /// Returns a face that nothing crosses.
    pub fn sealed() -> Self {
        Self::air(0.0, 0.0, 0.0, 0.0)
    }

    fn problems(&self, what: &str, found: &mut Vec<MoistureError>) {
        let mut check =
            |quantity, value, low, high| found.extend(within(what, quantity, value, low, high).err());
        check("air temperature in °C", self.air_temperature_c, -70.0, 100.0);
        check("radiant temperature in °C", self.radiant_temperature_c, -120.0, 150.0);
        check("vapour pressure in Pa", self.vapour_pressure_pa, 0.0, 1e5);
        check("heat film in W/(m²·K)", self.heat_film_w_m2k, 0.0, 1e9);
        check("radiant film in W/(m²·K)", self.radiant_film_w_m2k, 0.0, 1e3);
        check("absorbed radiation in W/m²", self.absorbed_w_m2, -500.0, 2_000.0);
        check("vapour film in kg/(m²·s·Pa)", self.vapour_film_kg_m2spa, 0.0, 10.0);
        check("driving rain in kg/(m²·s)", self.rain_kg_m2s, 0.0, 0.1);
    }
}

/// Everything that acts on a wall, period by period; a run longer than the series begins it again.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// Length of a period, s.
    pub period_s: f64,
    /// Inside, one state a period.
    pub inside: Vec<SideState>,
    /// Outside, one state a period.
    pub outside: Vec<SideState>,
    /// Flow of each of the wall's air exchanges, kg of dry air/(m²·s), one list an exchange.
    pub exchange_kg_m2s: Vec<Vec<f64>>,
    /// Air through the whole wall, kg/(m²·s), outward positive; empty for none.
    pub through_kg_m2s: Vec<f64>,
}

impl Drive {
    /// Returns a drive of two series without air flows.
    pub fn new(period_s: f64, inside: Vec<SideState>, outside: Vec<SideState>) -> Self {
        Self { period_s, inside, outside, exchange_kg_m2s: Vec::new(), through_kg_m2s: Vec::new() }
    }

    /// Returns a drive that never changes.
    pub fn steady(inside: SideState, outside: SideState) -> Self {
        Self::new(1e12, vec![inside], vec![outside])
    }

    /// Returns a number that changes when the wall's conditions may jump: the index of the period at a time.
    pub(crate) fn period_at(&self, index: u64) -> usize {
        (index % self.inside.len() as u64) as usize
    }

    /// Checks the series against a wall.
    ///
    /// # Errors
    /// Everything wrong, at once; at most twenty periods are told of.
    pub fn check(&self, wall: &Wall) -> Result<(), Vec<MoistureError>> {
        let mut found = Vec::new();
        let n = self.inside.len();
        found.extend(within("drive", "length of a period in s", self.period_s, 1.0, 1e13).err());
        if n == 0 || self.outside.len() != n {
            let detail = format!(
                "inside has {n} periods, outside {}; both need the same, at least one",
                self.outside.len()
            );
            found.push(inconsistent("drive", detail));
        }
        if self.exchange_kg_m2s.len() != wall.exchanges.len() {
            let detail = format!(
                "the wall has {} air exchanges, the drive {} flows",
                wall.exchanges.len(),
                self.exchange_kg_m2s.len()
            );
            found.push(inconsistent("drive", detail));
        }
        let through = [self.through_kg_m2s.as_slice()];
        let through = if self.through_kg_m2s.is_empty() { &[][..] } else { &through[..] };
        for flow in self.exchange_kg_m2s.iter().map(Vec::as_slice).chain(through.iter().copied()) {
            if flow.len() != n {
                found.push(inconsistent(
                    "air flow",
                    format!("{} periods, but the sides have {n}", flow.len()),
                ));
            }
            if let Some(bad) = flow.iter().find(|f| !(f.abs() <= 1.0)) {
                found.extend(within("air flow", "flow in kg/(m²·s)", *bad, -1.0, 1.0).err());
            }
        }
        if self.exchange_kg_m2s.iter().flatten().any(|&f| f < 0.0) {
            found.push(inconsistent("air exchange", "its flow must not be negative".into()));
        }
        for (name, side) in [("inside", &self.inside), ("outside", &self.outside)] {
            for (k, state) in side.iter().enumerate() {
                if found.len() >= 20 {
                    return Err(found);
                }
                let before = found.len();
                state.problems(name, &mut found);
                for e in &mut found[before..] {
                    if let MoistureError::OutOfRange { what, .. } = e {
                        *what = format!("{name}, period {k}");
                    }
                }
            }
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }
}
