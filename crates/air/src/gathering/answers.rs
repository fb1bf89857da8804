//! What a builder asks of a gathering: what fails first, how much air, how many people, how long to recover.

use super::{Control, Gathering, GatheringError, Minute, Span};
use crate::infection;
use crate::outdoor_air::people_served;
use numeric::root;

/// What the room should stay under.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// CO2, ppm.
    pub co2_ppm: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Relative humidity, 0..1.
    pub relative_humidity: f64,
}

/// What can fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failing {
    /// CO2 above its limit.
    Co2,
    /// Temperature above its limit.
    Heat,
    /// Humidity above its limit.
    Humidity,
}

/// Returns each limit passed with the minute it is first passed, the earliest first; minutes count from 1.
pub fn failures(course: &[Minute], limits: Limits) -> Vec<(Failing, usize)> {
    let first = |bad: &dyn Fn(&Minute) -> bool| course.iter().position(bad).map(|i| i + 1);
    let all = [
        (Failing::Co2, first(&|m| m.co2_ppm > limits.co2_ppm)),
        (Failing::Heat, first(&|m| m.temperature_c > limits.temperature_c)),
        (Failing::Humidity, first(&|m| m.relative_humidity > limits.relative_humidity)),
    ];
    let mut failures: Vec<(Failing, usize)> = all.into_iter().filter_map(|(f, m)| Some((f, m?))).collect();
    failures.sort_by_key(|f| f.1);
    failures
}

/// Returns the highest CO2 of a course, ppm.
pub fn peak_ppm(course: &[Minute]) -> f64 {
    course.iter().map(|m| m.co2_ppm).fold(f64::NEG_INFINITY, f64::max)
}

/// Returns the highest temperature of a course, °C.
pub fn peak_c(course: &[Minute]) -> f64 {
    course.iter().map(|m| m.temperature_c).fold(f64::NEG_INFINITY, f64::max)
}

/// Most air anyone would ask for, m³/h: the end of the search.
const MOST_FLOW_M3_H: f64 = 1e6;

/// Returns the fixed flow that keeps the peak at a limit, m³/h; `None` where even a million m³/h would not, or where the
/// room starts above it.
///
/// # Errors
/// As [`Gathering::run`].
pub fn flow_needed_m3_h(gathering: &Gathering, limit_ppm: f64) -> Result<Option<f64>, GatheringError> {
    let peak = |flow: f64| -> Result<f64, GatheringError> {
        let fixed = Gathering { control: Control::Fixed(flow), ..gathering.clone() };
        Ok(peak_ppm(&fixed.run()?))
    };
    if peak(0.0)? <= limit_ppm {
        return Ok(Some(0.0));
    }
    if peak(MOST_FLOW_M3_H)? > limit_ppm {
        return Ok(None);
    }
    // Checked above: every flow between runs as these did.
    let excess = |flow: f64| peak(flow).unwrap_or(f64::NAN) - limit_ppm;
    Ok(root::brent(excess, 0.0, MOST_FLOW_M3_H, 1e-3).ok())
}

/// Longest recovery looked at, min.
const LONGEST_RECOVERY_MIN: usize = 24 * 60;

/// Returns the minutes after the end until the empty room is back at a CO2, `None` if not within a day.
///
/// Doors and windows are shut; the flow follows the control.
///
/// # Errors
/// As [`Gathering::run`].
pub fn minutes_to_recover(gathering: &Gathering, target_ppm: f64) -> Result<Option<usize>, GatheringError> {
    let end: usize = gathering.spans.iter().map(|s| s.minutes).sum();
    let mut longer = gathering.clone();
    longer.spans.push(Span {
        minutes: LONGEST_RECOVERY_MIN,
        people: 0.0,
        other_w: 0.0,
        set_flow_m3_h: None,
        airing_m3_h: 0.0,
        doors_m3_h: 0.0,
    });
    let course = longer.run()?;
    if course[end.max(1) - 1].co2_ppm <= target_ppm {
        return Ok(Some(0));
    }
    Ok(course[end..].iter().position(|m| m.co2_ppm <= target_ppm).map(|i| i + 1))
}

/// Returns the fall of the CO2 peak, ppm, by running `minutes` at a flow with nobody in the room before the start.
///
/// # Errors
/// As [`Gathering::run`].
pub fn worth_of_pre_purge_ppm(
    gathering: &Gathering,
    minutes: usize,
    flow_m3_h: f64,
) -> Result<f64, GatheringError> {
    let mut purged = gathering.clone();
    let purge = Span {
        minutes,
        people: 0.0,
        other_w: 0.0,
        set_flow_m3_h: Some(flow_m3_h),
        airing_m3_h: 0.0,
        doors_m3_h: 0.0,
    };
    purged.spans.insert(0, purge);
    // The purge itself starts high: only what follows counts.
    let after = peak_ppm(&purged.run()?[minutes..]);
    Ok(peak_ppm(&gathering.run()?) - after)
}

/// Returns the fall of the CO2 peak, ppm, by doors that stand open all the time.
///
/// # Errors
/// As [`Gathering::run`]; [`GatheringError::NoAdjoining`] without a space beyond them.
pub fn worth_of_open_doors_ppm(gathering: &Gathering, doors_m3_h: f64) -> Result<f64, GatheringError> {
    let with = |doors: f64| {
        let mut g = gathering.clone();
        for span in &mut g.spans {
            span.doors_m3_h = doors;
        }
        g.run().map(|c| peak_ppm(&c))
    };
    Ok(with(0.0)? - with(doors_m3_h)?)
}

/// Returns the peaks of CO2, ppm, when the sensor reads low and high by its 95 % half-width: (best, worst) for the room.
/// Without demand control both are the same.
///
/// # Errors
/// As [`Gathering::run`].
pub fn sensor_band_ppm(gathering: &Gathering, half_width95_ppm: f64) -> Result<(f64, f64), GatheringError> {
    let peak = |shift: f64| {
        let mut g = gathering.clone();
        if let Control::Demand { sensor, .. } = &mut g.control {
            sensor.error_ppm += shift;
        }
        g.run().map(|c| peak_ppm(&c))
    };
    let (reads_low, reads_high) = (peak(-half_width95_ppm)?, peak(half_width95_ppm)?);
    // A sensor that reads high asks for more air.
    Ok((reads_low.min(reads_high), reads_low.max(reads_high)))
}

/// CO2 in exhaled air, ppm (about 3.8 %; from memory of Rudnick and Milton 2003).
const EXHALED_PPM: f64 = 38_000.0;

/// Returns how the relative infection risk of one gathering compares to another's, with one sick person in each: an
/// estimate for comparing ways of airing, never a statement about safety. 0.7 means three tenths less.
///
/// `quanta_per_h` is known only to a factor of a hundred; the ratio depends on it little while risks are small. `None`
/// where nobody is in a room.
pub fn infection_ratio(
    course: &[Minute],
    other: &[Minute],
    outdoor_ppm: f64,
    quanta_per_h: f64,
) -> Option<f64> {
    let risk = |course: &[Minute]| {
        let occupied: Vec<&Minute> = course.iter().filter(|m| m.people > 0.0).collect();
        let n = occupied.len() as f64;
        let share = occupied.iter().map(|m| (m.co2_ppm - outdoor_ppm) / EXHALED_PPM).sum::<f64>() / n;
        let people = occupied.iter().map(|m| m.people).sum::<f64>() / n;
        (n > 0.0).then(|| infection::rebreathed(share.max(0.0), 1.0, quanta_per_h, n / 60.0, people))
    };
    let (a, b) = (risk(course)?, risk(other)?);
    (b > 0.0).then_some(a / b)
}

/// The outdoor-air rate a code asks of this room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CodeRate {
    /// Per person, L/s.
    pub person_l_s: f64,
    /// Per floor area, L/(s·m²).
    pub area_l_s_m2: f64,
    /// Floor area, m².
    pub floor_m2: f64,
    /// Outdoor air delivered to the breathing zone at full speed, L/s.
    pub delivered_l_s: f64,
}

/// How many people the air serves. No count here is above the posted occupant load, where that is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeadCount {
    /// By CO2.
    pub co2: u32,
    /// By heat.
    pub heat: u32,
    /// By the code's outdoor-air rate.
    pub code: u32,
    /// The least of them: people "for air only".
    pub air_only: u32,
    /// The posted occupant load.
    pub posted: Option<u32>,
}

impl HeadCount {
    /// Returns the sentence to print beside any head count.
    pub fn sentence(&self) -> String {
        match self.posted {
            Some(posted) => format!("for air only {} people; posted occupant load {posted}", self.air_only),
            None => format!(
                "for air only {} people; occupant load not given: ask the code official",
                self.air_only
            ),
        }
    }
}

/// Most people looked for: no room of one air volume holds more.
const MOST_PEOPLE: u32 = 100_000;

/// Returns the head counts of this evening if every occupied span held the same number of people.
///
/// # Errors
/// As [`Gathering::run`].
pub fn head_count(
    gathering: &Gathering,
    limits: Limits,
    code: CodeRate,
    posted: Option<u32>,
) -> Result<HeadCount, GatheringError> {
    let with = |people: u32| {
        let mut g = gathering.clone();
        for span in g.spans.iter_mut().filter(|s| s.people > 0.0) {
            span.people = f64::from(people);
        }
        g.run()
    };
    let cap = posted.unwrap_or(MOST_PEOPLE);
    let co2 = largest(cap, |n| Ok(peak_ppm(&with(n)?) <= limits.co2_ppm))?;
    let heat = largest(cap, |n| Ok(peak_c(&with(n)?) <= limits.temperature_c))?;
    let served = people_served(code.delivered_l_s, code.person_l_s, code.area_l_s_m2, code.floor_m2);
    let code = (served.clamp(0.0, f64::from(cap)) + 1e-9).floor() as u32;
    Ok(HeadCount { co2, heat, code, air_only: co2.min(heat).min(code), posted })
}

/// Largest number up to a cap for which a falling condition holds; zero if none.
fn largest(cap: u32, holds: impl Fn(u32) -> Result<bool, GatheringError>) -> Result<u32, GatheringError> {
    if holds(cap)? {
        return Ok(cap);
    }
    let (mut good, mut bad) = (0, cap);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if holds(middle)? { good = middle } else { bad = middle }
    }
    Ok(good)
}
