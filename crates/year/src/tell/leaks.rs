//! Air through leaks: means, and how much of a neighbour's air is in ours.

use numeric::exp;

use building::Resolved;

use super::report::Report;
use crate::assemble::Frame;
use crate::error::YearError;
use crate::kernel::input::{LeakFrom, LeakLaw};
use crate::kernel::{self, Options};
use crate::result::{LeakAir, NeighbourAir};

/// Inside temperature at which leak flows are told, °C.
pub(super) const LEAK_INDOOR_C: f64 = 21.0;

/// Heat of a year to warm what leaks let in from outdoors, two ways, J.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakCheck {
    /// By the flows tabulated hour by hour, as the balance takes them.
    pub tabulated_j: f64,
    /// By the network solved each hour with the zones' own temperatures.
    pub network_j: f64,
}

impl Frame<'_> {
    /// Solves the whole network for each hour of a year with the temperatures the balance found, and compares.
    ///
    /// `r` are the numbers of the balance; the network is always that of the frame's nominal numbers unless `other` gives
    /// a frame made with the sample's, whose network is then solved instead.
    ///
    /// # Errors
    /// [`YearError`] of the balance or the network.
    pub fn leak_check(&self, r: &Resolved, other: Option<&Frame<'_>>) -> Result<LeakCheck, YearError> {
        let model = self.model(r)?;
        let options = Options { trace: true, ..self.options };
        let year = kernel::run(&self.drivers, &model, &options)?;
        let solved = other.unwrap_or(self);
        let nominal = solved.building.values.nominal();
        let setting = solved.airflow.setting(
            solved.building,
            solved.climate,
            &solved.zones,
            &solved.drivers,
            solved.grain,
            &nominal,
        );
        let mut air = setting.air()?;
        let (d, zones) = (&self.drivers, self.zones.count());
        let trace = year.trace.map_or(Vec::new(), |t| t.air_c);
        let only = kernel::Model {
            leaks: model.leaks.iter().filter(|l| l.from == LeakFrom::Outdoors).cloned().collect(),
            ..model.clone()
        };
        let flows = kernel::leak_rows_m3_s(d, &only);
        let mut sum = LeakCheck { tabulated_j: 0.0, network_j: 0.0 };
        for hour in 0..d.hours {
            let step = hour * d.steps_per_hour;
            let zones_c = &trace[step * zones..(step + 1) * zones];
            let mode = d.uses[usize::from(d.use_of_step[step])].air_mode;
            let tabulated = flows(hour, mode, zones_c);
            let network = setting.outdoors_at(&mut air, hour, mode, zones_c)?;
            for z in 0..zones {
                let warmed = 3600.0 * model.air_heat_j_m3k * (zones_c[z] - d.outdoor_c[step]).max(0.0);
                sum.tabulated_j += warmed * tabulated[z];
                sum.network_j += warmed * network[z];
            }
        }
        Ok(sum)
    }
}

impl Report<'_, '_> {
    /// Means and tracers, zones at 21 °C.
    pub fn leak_air(&self) -> LeakAir {
        let f = self.frame;
        let hours = self.drivers.hours;
        let mut out = LeakAir {
            rule_of_thumb_m3_s: f.airflow.rule_of_thumb_m3_s(f.building, self.drivers, self.r, LEAK_INDOOR_C),
            ..LeakAir::default()
        };
        let all = self.inflows(None);
        let outdoors = self.inflows(Some(LeakFrom::Outdoors));
        out.outdoors_m3_s = outdoors.iter().sum::<f64>() / hours as f64;
        for (n, neighbour) in f.building.neighbours.iter().enumerate() {
            let inflow = self.inflows(Some(LeakFrom::Given(n)));
            out.neighbours.push(NeighbourAir {
                name: neighbour.name.clone(),
                stated: neighbour.pressure.is_some(),
                ..self.neighbour(n, &inflow, &all)
            });
        }
        out
    }

    fn air_mode(&self, hour: usize) -> usize {
        let d = self.drivers;
        d.uses[usize::from(d.use_of_step[hour * d.steps_per_hour])].air_mode
    }

    /// Inflow of each hour from one source, or from all, m³/s.
    fn inflows(&self, from: Option<LeakFrom>) -> Vec<f64> {
        let winds = kernel::wind_levels(self.drivers);
        let flow = kernel::leakages_m3_s(self.drivers, self.model, from, &winds, LEAK_INDOOR_C);
        (0..self.drivers.hours).map(|hour| flow(hour, self.air_mode(hour))).collect()
    }

    fn neighbour(&self, n: usize, inflow: &[f64], all: &[f64]) -> NeighbourAir {
        let (f, d) = (self.frame, self.drivers);
        let pressure = f.building.neighbours[n].pressure.as_ref();
        let driven = |hour: usize| -> bool {
            (hour * 4..hour * 4 + 4)
                .any(|q| pressure.and_then(|p| p.at(q)).is_some_and(|key| self.r[key] != 0.0))
        };
        let taken = f.airflow.taken_m3_s().get(n);
        let factor = self.party_factor(n);
        let volume: f64 = f.zones.volume_m3.iter().sum();
        let mut out = NeighbourAir::default();
        let mut tracer = Vec::with_capacity(d.hours);
        let mut now = 0.0;
        for hour in 0..d.hours {
            let mode = self.air_mode(hour);
            let slot = d.hourly_flows.slot(hour, mode);
            let lost = factor * taken.zip(slot).and_then(|(t, slot)| t.get(slot)).copied().unwrap_or(0.0);
            let supply: f64 = self.model.air_modes[mode].supply_m3_s.iter().sum();
            let fresh = all[hour] + supply;
            if fresh > 0.0 {
                let settled = inflow[hour] / fresh;
                now = settled + (now - settled) * exp(-3600.0 * fresh / volume);
            }
            tracer.push(now);
            out.into_us_m3_s += inflow[hour];
            out.from_us_m3_s += lost;
            if driven(hour) {
                out.driven_h += 1.0;
                out.driven_into_us_m3_s += inflow[hour];
                out.driven_from_us_m3_s += lost;
            }
        }
        let over = |sum: f64, count: f64| if count > 0.0 { sum / count } else { 0.0 };
        out.into_us_m3_s = over(out.into_us_m3_s, d.hours as f64);
        out.from_us_m3_s = over(out.from_us_m3_s, d.hours as f64);
        out.driven_into_us_m3_s = over(out.driven_into_us_m3_s, out.driven_h);
        out.driven_from_us_m3_s = over(out.driven_from_us_m3_s, out.driven_h);
        out.tracer_mean = over(tracer.iter().sum(), tracer.len() as f64);
        let driven_days: Vec<f64> = tracer
            .chunks(24)
            .enumerate()
            .filter(|(day, _)| (day * 24..day * 24 + 24).any(driven))
            .flat_map(|(_, hours)| hours.iter().copied())
            .collect();
        out.tracer_driven_days = over(driven_days.iter().sum(), driven_days.len() as f64);
        for (hour, share) in tracer.iter().enumerate() {
            if *share > out.tracer_highest {
                (out.tracer_highest, out.tracer_highest_hour) = (*share, hour);
            }
        }
        out
    }

    /// This sample's party leak over the nominal one.
    fn party_factor(&self, n: usize) -> f64 {
        let found = self.model.leaks.iter().find_map(|leak| match (leak.from, &leak.law) {
            (LeakFrom::Given(g), LeakLaw::Hourly { factor, party, .. }) if g == n => Some(factor * party),
            _ => None,
        });
        found.unwrap_or(1.0)
    }
}
