//! A simulated year as the sheets show it: causes by month, days of each zone, peaks, gatherings.

use building::Building;
use quantity::Dimension;
use year::YearResult;
use year::result::{Balance, Cause as YearCause, GatheringResult, PeakLoad, Trace, Use, ZoneResult};

use crate::draw::decimate::Reach;
use crate::reader::Reader;
use crate::sheet::gatherings::{Course, Evening, Expected};
use crate::sheet::warm_cool::{Cause, Month, Peak, STORED, WarmCool, ZoneYear};

/// Makes the Warm & cool sheet's input of a year.
pub fn warm_cool(building: &Building, result: &YearResult) -> WarmCool {
    let set = |key| building.values.nominal_of(key);
    WarmCool {
        months: result
            .months
            .iter()
            .map(|m| Month {
                causes: causes(&m.balance, 1.0),
                heating_j: m.demand.heating_j,
                cooling_j: m.demand.cooling_j(),
            })
            .collect(),
        zones: result.zones.iter().map(zone).collect(),
        outdoor_days_c: result.outdoor_days_c.clone(),
        heating_set_c: set(building.set_points.heating),
        cooling_set_c: set(building.set_points.cooling),
        warm_above_c: result.comfort.warm_above_c,
        peaks: [("heating", &result.peaks.heating), ("cooling", &result.peaks.cooling)]
            .into_iter()
            .filter(|(_, load)| load.power_w > 0.0)
            .map(|(what, load)| peak(what, load))
            .collect(),
        basis: basis(result),
    }
}

/// Name of a cause as it stands in a sentence; `None` for what is not a cause of the plant's work.
fn cause_words(cause: YearCause) -> Option<&'static str> {
    Some(match cause {
        YearCause::Walls => "the walls",
        YearCause::Roof => "the roof",
        YearCause::Ground => "the ground",
        YearCause::Neighbours => "the neighbours",
        YearCause::Windows => "the windows",
        YearCause::Joints => "the joints",
        YearCause::Sun => "the sun",
        YearCause::People => "the people",
        YearCause::Equipment => "lights and equipment",
        YearCause::Infiltration => "the leaks",
        YearCause::Ventilation => "fresh air",
        YearCause::Airing => "opened windows",
        YearCause::Storage => STORED,
        YearCause::OtherZones | YearCause::Heating | YearCause::Cooling => return None,
    })
}

/// Causes of a balance, each divided by `over`; zeros stay, so that months have the same columns.
fn causes(balance: &Balance, over: f64) -> Vec<Cause> {
    balance
        .causes()
        .filter_map(|(cause, heat_j)| {
            let name = cause_words(cause)?;
            Some(Cause { name: name.to_owned(), amount: heat_j / over })
        })
        .collect()
}

fn zone(zone: &ZoneResult) -> ZoneYear {
    ZoneYear {
        name: zone.name.clone(),
        days_c: zone
            .days
            .iter()
            .map(|d| Reach { low: d.lowest_c, high: d.highest_c, mean: d.mean_c })
            .collect(),
        warm_hours: zone.comfort.warm_hours,
        warmest: (zone.comfort.warmest_c, zone.comfort.warmest_hour),
        coldest: (zone.comfort.coolest_c, zone.comfort.coolest_hour),
    }
}

fn peak(what: &str, load: &PeakLoad) -> Peak {
    let seconds = 3600.0 * load.over_h.max(1) as f64;
    Peak {
        what: what.to_owned(),
        power_w: load.power_w,
        hour: load.hour,
        causes: causes(&load.balance, seconds),
        outdoors_c: load.outdoor.temperature_c,
    }
}

fn basis(result: &YearResult) -> String {
    let whose = match result.use_case {
        Use::Standard => "the limits' standard use",
        Use::Real => "the building as it will be used",
    };
    let mut sentences = vec![format!("Hourly run of {whose}, weather {}.", result.climate)];
    sentences.extend(result.notes.iter().cloned());
    sentences.join(" ")
}

/// Makes the Gatherings sheet's input: every gathering of the book, with its worst evening where a year was run.
pub fn evenings(building: &Building, result: Option<&YearResult>, reader: Reader) -> Vec<Evening> {
    building
        .gatherings
        .iter()
        .map(|gathering| {
            let hour = |minute: u16| f64::from(minute) / 60.0;
            let space = building.spaces.get(gathering.space.0);
            let room = space.map_or_else(String::new, |s| {
                if s.label.is_empty() { s.name.clone() } else { s.label.clone() }
            });
            let found = result.and_then(|r| r.gatherings.iter().find(|g| g.name == gathering.name));
            let name = if gathering.label.is_empty() { &gathering.name } else { &gathering.label };
            Evening {
                name: name.replace(['-', '_'], " "),
                room: room.to_lowercase(),
                people: building.values.nominal_of(gathering.people),
                times_a_year: gathering.days.len(),
                day: found.map_or(0, |g| g.worst.day),
                hours: [hour(gathering.span.from_minute), hour(gathering.span.to_minute)],
                interval: gathering.interval.map(|i| [hour(i.from_minute), hour(i.to_minute)]),
                courses: found.map(courses).unwrap_or_default(),
                expected: found.and_then(|g| expected(g, reader)),
                warmest_c: found.map(|g| g.warmest_c).filter(|t| t.is_finite()),
                outdoor_air_m3_s: found.map(|g| g.supply_m3_s),
                posted_load: gathering.posted_load,
            }
        })
        .collect()
}

fn courses(result: &GatheringResult) -> Vec<Course> {
    let points = points(&result.worst);
    if points.is_empty() {
        return Vec::new();
    }
    vec![Course { name: format!("{}, as run in the year", result.zone.replace(['-', '_'], " ")), points }]
}

fn points(trace: &Trace) -> Vec<[f64; 2]> {
    let hour = |k: usize| (f64::from(trace.first_minute) + k as f64 * trace.step_minutes) / 60.0;
    trace.co2_ppm.iter().enumerate().map(|(k, ppm)| [hour(k), *ppm]).collect()
}

fn expected(result: &GatheringResult, reader: Reader) -> Option<Expected> {
    let flow = reader.show(result.supply_m3_s, Dimension::VolumeFlow);
    let known = result.shut_peak_ppm.is_finite() && result.shut_peak_ppm > 0.0;
    known.then(|| Expected {
        peak_ppm: result.shut_peak_ppm,
        steady_ppm: result.shut_steady_ppm,
        condition: format!("shut off from other rooms, with {flow} of outdoor air and 600 ppm to begin with"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cause_but_the_plant_has_words() {
        let silent: Vec<YearCause> =
            YearCause::ALL.into_iter().filter(|c| cause_words(*c).is_none()).collect();
        assert_eq!(silent, [YearCause::OtherZones, YearCause::Heating, YearCause::Cooling]);
    }

    #[test]
    fn a_peak_is_told_in_watts() {
        let mut balance = Balance::default();
        balance.add_to(YearCause::Ventilation, -3.6e6);
        let load = PeakLoad { power_w: 1000.0, hour: 7, over_h: 1, balance, ..PeakLoad::default() };
        let told = peak("heating", &load);
        let fresh_air = told.causes.iter().find(|c| c.name == "fresh air").map(|c| c.amount);
        assert_eq!(fresh_air, Some(-1000.0));
    }

    #[test]
    fn a_trace_may_begin_the_evening_before() {
        let trace =
            Trace { first_minute: -30, step_minutes: 15.0, co2_ppm: vec![500.0, 510.0], ..Trace::default() };
        assert_eq!(points(&trace), [[-0.5, 500.0], [-0.25, 510.0]]);
    }
}
