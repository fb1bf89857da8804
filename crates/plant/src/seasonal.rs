//! Seasonal figures of a heat pump by temperature bins: EN 14825 and US practice.

use crate::PlantError;
use crate::heat_pump::HeatPump;

/// A temperature and the hours it holds (or a share of the season).
pub type Bin = (f64, f64);

/// Season of EN 14825.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    /// Outdoor temperature the building is designed for, °C.
    pub design_c: f64,
    /// Bins: °C and hours.
    pub bins: Vec<Bin>,
}

/// Above this outdoor temperature the season of EN 14825 needs no heat, °C.
pub const NO_HEAT_C: f64 = 16.0;

impl Season {
    /// Returns the load at a bin over that at design: `(T − 16)/(T_design − 16)`.
    pub fn part_load(&self, outdoor_c: f64) -> f64 {
        ((outdoor_c - NO_HEAT_C) / (self.design_c - NO_HEAT_C)).max(0.0)
    }

    /// Returns the hours of all bins.
    pub fn hours(&self) -> f64 {
        self.bins.iter().map(|b| b.1).sum()
    }

    /// Returns the hours at full load that give the same heat.
    pub fn full_load_hours(&self) -> f64 {
        self.bins.iter().map(|(t, h)| h * self.part_load(*t)).sum()
    }
}

/// What a season adds up to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Seasonal {
    /// Heat or cold wanted, J or in the unit of the bins' weight times W.
    pub wanted: f64,
    /// Electricity, backup included.
    pub electricity: f64,
    /// Of it, backup.
    pub backup: f64,
}

impl Seasonal {
    /// Returns wanted over electricity.
    pub fn ratio(&self) -> f64 {
        if self.electricity > 0.0 { self.wanted / self.electricity } else { 0.0 }
    }
}

/// Returns the heating season: what the machine cannot give, resistance gives.
///
/// `machine` tells heat and power for (outdoor °C, load W). Result in the unit of W times the bins' hours (Wh).
pub fn heating_season(season: &Season, design_w: f64, machine: impl Fn(f64, f64) -> (f64, f64)) -> Seasonal {
    let mut out = Seasonal::default();
    for (outdoor_c, hours) in &season.bins {
        let load = design_w * season.part_load(*outdoor_c);
        let (heat, power) = machine(*outdoor_c, load);
        let heat = heat.min(load);
        out.wanted += hours * load;
        out.electricity += hours * (power + load - heat);
        out.backup += hours * (load - heat);
    }
    out
}

/// Shares of the cooling season at 67, 72, … 102 °F (10 CFR 430 Subpart B Appendix M, from memory; they add up to 1).
pub const US_COOLING_BINS: [(f64, f64); 8] = [
    (67.0, 0.214),
    (72.0, 0.231),
    (77.0, 0.216),
    (82.0, 0.161),
    (87.0, 0.104),
    (92.0, 0.052),
    (97.0, 0.018),
    (102.0, 0.004),
];
/// Shares of the heating season of region IV at 62, 57, … −8 °F (same source, from memory; they add up to 1).
pub const US_HEATING_BINS: [(f64, f64); 15] = [
    (62.0, 0.132),
    (57.0, 0.111),
    (52.0, 0.103),
    (47.0, 0.093),
    (42.0, 0.100),
    (37.0, 0.109),
    (32.0, 0.126),
    (27.0, 0.087),
    (22.0, 0.055),
    (17.0, 0.036),
    (12.0, 0.026),
    (7.0, 0.013),
    (2.0, 0.006),
    (-3.0, 0.002),
    (-8.0, 0.001),
];

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

/// Returns the US cooling season, `W` weighted by shares: load from 65 °F, capacity at 95 °F over 1.1 at 95 °F.
/// Multiply the ratio by 3.412 for Btu/Wh.
pub fn us_cooling_season(machine: &HeatPump, indoor_c: f64, sensible_share: f64) -> Seasonal {
    let size = machine.capacity_w(celsius(95.0), indoor_c, sensible_share) / 1.1;
    let mut out = Seasonal::default();
    for (f, share) in US_COOLING_BINS {
        let load = size * (f - 65.0) / 30.0;
        let run = machine.meet(load, celsius(f), indoor_c, sensible_share);
        out.wanted += share * run.heat_w;
        out.electricity += share * run.power_w;
    }
    out
}

/// Returns the US heating season of region IV: load `0.77 · Q₄₇ · (65 − T)/60` °F with the capacity at 47 °F as design
/// heat (least requirement, simplified, from memory).
pub fn us_heating_season(machine: &HeatPump, indoor_c: f64) -> Seasonal {
    let size = machine.capacity_w(celsius(47.0), indoor_c, 1.0);
    let mut out = Seasonal::default();
    for (f, share) in US_HEATING_BINS {
        let load = 0.77 * size * (65.0 - f) / 60.0;
        let run = machine.meet(load, celsius(f), indoor_c, 1.0);
        out.wanted += share * load;
        out.electricity += share * (run.power_w + load - run.heat_w);
        out.backup += share * (load - run.heat_w);
    }
    out
}

/// Returns SCOP_on of a machine in a season of EN 14825.
///
/// # Errors
/// [`PlantError::TooFew`] for a season without bins.
pub fn scop_on(machine: &HeatPump, season: &Season, design_w: f64, indoor_c: f64) -> Result<f64, PlantError> {
    if season.bins.is_empty() {
        return Err(PlantError::TooFew { what: "a season", least: 1, found: 0 });
    }
    let of = |outdoor: f64, load: f64| {
        let run = machine.meet(load, outdoor, indoor_c, 1.0);
        (run.heat_w, run.power_w)
    };
    Ok(heating_season(season, design_w, of).ratio())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_a_season_add_up_to_one() {
        for sum in
            [US_COOLING_BINS.iter().map(|b| b.1).sum::<f64>(), US_HEATING_BINS.iter().map(|b| b.1).sum()]
        {
            assert!((sum - 1.0).abs() < 1e-12, "{sum}");
        }
    }

    #[test]
    fn an_oversized_machine_has_a_worse_season() {
        use crate::heat_pump::{Figures, Limits, Mode, RatedPoint, SecondLaw};
        let of =
            |scale: f64| {
                let points = [(7.0, 3200.0, 740.0), (-8.0, 2500.0, 960.0)].map(|(outdoor_c, c, p)| {
                    RatedPoint { outdoor_c, indoor_c: 20.0, capacity_w: c * scale, power_w: p * scale }
                });
                let law = SecondLaw::fit(Mode::Heating, &points).unwrap();
                let machine =
                    HeatPump { mode: Mode::Heating, figures: Figures::Law(law), limits: Limits::default() };
                let season =
                    Season { design_c: -10.0, bins: (-10..16).map(|t| (f64::from(t), 100.0)).collect() };
                scop_on(&machine, &season, 2500.0, 20.0).unwrap()
            };
        assert!(of(5.0) < of(1.2));
    }
}
