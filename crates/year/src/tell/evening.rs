//! Gatherings of a told year: CO2, warmth, and what room and crowd should show.

use air::contaminant::{Segment, Space};
use air::outdoor_air;
use building::calendar::{QUARTERS, QUARTERS_A_DAY};
use building::model::Gathering;
use building::plan::SpaceKind;

use super::STEPS_A_DAY;
use super::report::Report;
use crate::kernel;
use crate::result::{GatheringResult, Trace, Use};

/// CO2 a room has when a gathering begins, in the account of the room shut off, ppm.
const START_PPM: f64 = 600.0;
/// Quarter-hours shown before and after a gathering.
const MARGIN_QUARTERS: usize = 8;

/// Outdoor air that a room needs by ASHRAE 62.1 for its people and floor, m³/s, and the kind of space it counts as.
pub fn required_outdoor_air(
    kind: SpaceKind,
    gathers: bool,
    people: f64,
    area_m2: f64,
) -> (f64, &'static str) {
    let name = match kind {
        _ if gathers => "music, theatre and dance",
        SpaceKind::Main => "classroom",
        SpaceKind::Circulation | SpaceKind::Stair => "corridor",
        SpaceKind::Wet => "kitchenette",
        SpaceKind::Store | SpaceKind::Plant => "storage",
    };
    let (person, area) =
        outdoor_air::rate_for(name).map_or((5.0, 0.3), |rate| (rate.person_l_s, rate.area_l_s_m2));
    (outdoor_air::breathing_zone_l_s(person, people, area, area_m2) / 1000.0, name)
}

impl Report<'_, '_> {
    pub fn gatherings(&self) -> Vec<GatheringResult> {
        if self.frame.use_case == Use::Standard {
            return Vec::new();
        }
        let building = self.frame.building;
        building.gatherings.iter().enumerate().map(|(number, g)| self.gathering(number, g)).collect()
    }

    fn gathering(&self, number: usize, g: &Gathering) -> GatheringResult {
        let f = self.frame;
        let zone = f.zones.zone_of(g.space);
        let of_it = f.watched.iter().zip(&self.year.watched).filter(|((id, _), _)| id.0 == number);
        let (days, watched): (Vec<usize>, Vec<_>) = of_it.map(|((_, day), w)| (*day, *w)).unzip();
        let worst = |of: fn(&kernel::result::Watched) -> f64| {
            let mut best = 0;
            for (k, w) in watched.iter().enumerate() {
                if of(w) > of(&watched[best]) {
                    best = k;
                }
            }
            best
        };
        let (co2, warm, damp) = (worst(|w| w.co2_ppm), worst(|w| w.operative_c), worst(|w| w.kg_kg));
        let at = |k: usize| watched.get(k).copied().unwrap_or_default();
        let day = |k: usize| days.get(k).copied().unwrap_or(0);
        let heads = self.r[g.people];
        let (shut_peak_ppm, shut_steady_ppm, supply) = self.shut_room(g, heads, day(co2), None);
        let count = watched.len().max(1) as f64;
        let room = &f.building.spaces[g.space.0];
        let (required, rate) = required_outdoor_air(room.kind, true, heads, room.area_m2);
        let as_required = self.shut_room(g, heads, day(co2), Some(required));
        GatheringResult {
            name: g.name.clone(),
            label: g.label.clone(),
            space: f.building.spaces[g.space.0].name.clone(),
            zone: f.zones.names[zone].clone(),
            occurrences: g.days.len(),
            people: heads,
            co2_m3_s: heads * self.r[g.person.co2],
            supply_m3_s: supply,
            required_m3_s: required,
            required_rate: rate.to_owned(),
            required_peak_ppm: as_required.0,
            co2_peak_ppm: at(co2).co2_ppm,
            co2_peak_day: day(co2),
            // Peaks are states at the ends of steps.
            co2_peak_minute: ((at(co2).co2_step % STEPS_A_DAY + 1) * 15) as u32,
            co2_mean_peak_ppm: watched.iter().map(|w| w.co2_ppm).sum::<f64>() / count,
            shut_peak_ppm,
            shut_steady_ppm,
            warmest_c: at(warm).operative_c,
            warmest_day: day(warm),
            dampest_kg_kg: at(damp).kg_kg,
            worst: self.evening(g, zone, day(co2)),
        }
    }

    /// Highest and steady CO2 of the room shut off, ppm, and its mean supply, m³/s; with a stated supply instead of its own.
    fn shut_room(&self, g: &Gathering, heads: f64, day: usize, instead: Option<f64>) -> (f64, f64, f64) {
        let b = self.frame.building;
        let room =
            Space { volume_m3: b.spaces[g.space.0].volume_m3, outdoor_ppm: self.drivers.outdoor_co2_ppm };
        let quarters = g.quarters_of_day(day);
        let generation_l_s = 1000.0 * heads * self.r[g.person.co2];
        let (mut peak, mut now, mut mean) = (START_PPM, START_PPM, 0.0);
        let count = quarters.len().max(1) as f64;
        for quarter in quarters {
            let supply = instead.unwrap_or_else(|| self.frame.supply_of(g.space, quarter, self.r));
            let pause = g.interval.is_some_and(|span| span.holds_quarter(quarter % QUARTERS_A_DAY));
            let segment = Segment {
                duration_h: 0.25,
                generation_l_s: if pause { 0.0 } else { generation_l_s },
                flow_m3_h: 3600.0 * supply,
            };
            now = room.after(now, segment);
            peak = f64::max(peak, now);
            mean += supply / count;
        }
        (peak, room.steady_ppm(generation_l_s, 3600.0 * mean), mean)
    }

    fn evening(&self, g: &Gathering, zone: usize, day: usize) -> Trace {
        let Some(trace) = &self.year.trace else { return Trace::default() };
        let quarters = g.quarters_of_day(day);
        let from = quarters.start.saturating_sub(MARGIN_QUARTERS);
        let to = (quarters.end + MARGIN_QUARTERS).min(QUARTERS);
        let pick =
            |column: &[f64]| -> Vec<f64> { (from..to).map(|q| column[q * self.year.zones + zone]).collect() };
        let people = |q: usize| {
            let pause = g.interval.is_some_and(|span| span.holds_quarter(q % QUARTERS_A_DAY));
            if quarters.contains(&q) && !pause { self.r[g.people] } else { 0.0 }
        };
        Trace {
            day,
            first_minute: (from as i32 + 1 - (day * QUARTERS_A_DAY) as i32) * 15,
            step_minutes: 15.0,
            co2_ppm: pick(&trace.co2_ppm),
            operative_c: pick(&trace.operative_c),
            kg_kg: pick(&trace.kg_kg),
            supply_m3_s: (from..to).map(|q| self.frame.supply_of(g.space, q, self.r)).collect(),
            people: (from..to).map(people).collect(),
        }
    }
}
