//! Results of limits for samples: the same numbers as the judgement's, without its words.

use building::limits::{Limit, LimitResult, Method, Normalisation};
use building::{Building, Resolved, counting};
use climate::HOURS;

use super::find::over_modes;
use crate::sampled::Sampled;

/// Sizes by every counting rule, taken once for all samples: shape is taken at its nominal size.
#[derive(Clone, Debug)]
pub struct Sizes<'a> {
    building: &'a Building,
    counts: Vec<counting::Count>,
}

impl<'a> Sizes<'a> {
    /// Counts a building.
    pub fn of(building: &'a Building) -> Self {
        let counts = counting::rules().iter().map(|rule| counting::count(building, rule)).collect();
        Self { building, counts }
    }

    /// Returns the count of a rule; the certification-style count for a rule that is none.
    pub fn count(&self, rule: &str) -> Option<&counting::Count> {
        let of = |id: &str| self.counts.iter().find(|c| c.rule == id);
        of(rule).or_else(|| of(&counting::certification_style().id)).or(self.counts.first())
    }

    /// Returns the result of a limit in one sample, canonical unit of the row; `None` for what a sample's year does not
    /// hold.
    ///
    /// `leak_m3_h` is the leak, or the reading of it, at the reference pressure.
    pub fn result(&self, limit: &Limit, r: &Resolved, year: &Sampled, leak_m3_h: f64) -> Option<f64> {
        let count = self.count(&limit.rule)?;
        let monthly = limit.method == Method::Monthly;
        let per_area = |total: f64| Some(total / count.floor_area_m2);
        match limit.result {
            LimitResult::HeatingDemand => {
                per_area(if monthly { year.monthly_heating_j } else { year.figures.demand.heating_j })
            }
            LimitResult::CoolingDemand => {
                let demand = &year.figures.demand;
                let sensible = if monthly { year.monthly_cooling_j } else { demand.cooling_sensible_j };
                per_area(sensible + demand.drying_j)
            }
            LimitResult::HeatingLoad => per_area(year.figures.heating_load_w),
            LimitResult::PrimaryEnergy => per_area(year.primary_j),
            LimitResult::RenewablePrimaryEnergy => per_area(year.renewable_supply_j),
            LimitResult::AirChange50 => Some(leak_m3_h / count.volume_m3),
            LimitResult::AirPermeability50 => Some(leak_m3_h / count.enclosure_m2),
            LimitResult::WarmHours if limit.normalisation != Normalisation::OccupiedHours => {
                Some(year.figures.warm_hours / HOURS as f64)
            }
            LimitResult::HumidHours => Some(year.figures.humid_hours / HOURS as f64),
            LimitResult::RecoveryRatio => self.by_air(|m| r[m.temperature_recovery], r),
            LimitResult::FanPower => self.by_air(|m| r[m.power], r),
            _ => None,
        }
    }

    /// Mean over the air of a year.
    fn by_air(&self, of: impl Fn(&building::model::Mode) -> f64, r: &Resolved) -> Option<f64> {
        let air = over_modes(self.building, |_, m| r[m.supply]);
        (air > 0.0).then(|| over_modes(self.building, |_, m| r[m.supply] * of(m)) / air)
    }
}
