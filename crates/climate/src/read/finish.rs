//! From readings to a weather year: ranges, gaps, the clock, and what is derived.

use matter::moist_air;

use super::raw::{QUANTITIES, Quantity, RawYear};
use super::{ReadOptions, gaps};
use crate::calendar::HOURS;
use crate::problem::{Problems, WeatherProblemKind as Kind};
use crate::sky;
use crate::sun::{self, Direction};
use crate::year::{Climate, CloudOrigin, Hour, LongwaveOrigin};

/// Reflectance of ordinary ground without snow, where the file has none (common practice, no source).
const USUAL_ALBEDO: f64 = 0.2;
/// Most that two humidity readings of one row may contradict each other before it is said, K of dew point.
const DEW_ABOVE_AIR_K: f64 = 1.0;

pub(super) fn finish(mut raw: RawYear, options: &ReadOptions, problems: &mut Problems) -> Option<Climate> {
    check_ranges(&mut raw, problems);
    settle_albedo(&mut raw);
    check_columns(&raw, problems)?;
    let mut needed: Vec<Quantity> = Quantity::ALL.into_iter().filter(|&q| raw.has(q)).collect();
    if raw.has(Quantity::DewPoint) {
        // Only one of the two is used; the other may have holes.
        needed.retain(|&q| q != Quantity::RelativeHumidity);
    }
    gaps::settle(&mut raw, &needed, options.fill_gaps, problems);
    if !problems.is_empty() {
        return None;
    }
    let columns = on_the_clock(&raw);
    let suns: Vec<Direction> = (0..HOURS).map(|h| sun::direction(&raw.place, h as f64 + 0.5)).collect();
    Some(compose(raw, columns, &suns))
}

/// Turns impossible readings into problems. Tiny negative irradiance is a sensor's zero.
fn check_ranges(raw: &mut RawYear, problems: &mut Problems) {
    let mut zeroed = 0;
    for quantity in Quantity::ALL {
        let (q, (low, high)) = (quantity as usize, quantity.range());
        let Some(heading) = raw.headings[q].clone() else { continue };
        for hour in 0..HOURS {
            let value = raw.values[hour][q];
            if value.is_nan() || (low..=high).contains(&value) {
                continue;
            }
            if quantity.is_hour_mean() && (-10.0..0.0).contains(&value) {
                raw.values[hour][q] = 0.0;
                zeroed += 1;
                continue;
            }
            let what =
                format!("{} of {value} is outside {low} to {high} {}", quantity.name(), quantity.unit());
            problems.push(
                Kind::Value,
                Some(raw.rows[hour]),
                Some(&heading),
                what,
                "check the reading and the unit",
            );
        }
    }
    if zeroed > 0 {
        raw.notes.push(format!("{zeroed} irradiance readings a little below zero were taken as zero."));
    }
    let (t, d) = (Quantity::DryBulb as usize, Quantity::DewPoint as usize);
    if let Some(heading) = raw.headings[d].clone() {
        for hour in 0..HOURS {
            let (air, dew) = (raw.values[hour][t], raw.values[hour][d]);
            if dew > air + DEW_ABOVE_AIR_K {
                let what = format!("dew point {dew} °C is above the dry bulb {air} °C");
                problems.push(Kind::Value, Some(raw.rows[hour]), Some(&heading), what, "check both readings");
            }
        }
    }
}

/// An albedo of zero all year is a column nobody filled.
fn settle_albedo(raw: &mut RawYear) {
    let q = Quantity::Albedo as usize;
    if raw.headings[q].is_none() {
        return;
    }
    let present: Vec<f64> = raw.values.iter().map(|v| v[q]).filter(|v| !v.is_nan()).collect();
    if present.iter().all(|&v| v == 0.0) {
        raw.headings[q] = None;
        let what = if present.is_empty() { "has no albedo" } else { "has an albedo of zero all year" };
        raw.notes.push(format!("The file {what}: {USUAL_ALBEDO} is used, ground without snow."));
    } else if present.len() < HOURS {
        for values in &mut raw.values {
            if values[q].is_nan() {
                values[q] = USUAL_ALBEDO;
            }
        }
        raw.notes.push(format!("{} hours without albedo were given {USUAL_ALBEDO}.", HOURS - present.len()));
    }
}

fn check_columns(raw: &RawYear, problems: &mut Problems) -> Option<()> {
    let mut whole = true;
    let mut want = |there: bool, what: &str, help: &str| {
        if !there {
            problems.push(Kind::Header, None, None, format!("there is no {what}"), help);
            whole = false;
        }
    };
    use Quantity::{Beam, DewPoint, Diffuse, DryBulb, Global, RelativeHumidity, WindDirection, WindSpeed};
    want(raw.has(DryBulb), "dry bulb", "add a column such as \"dry bulb (°C)\"");
    want(
        raw.has(DewPoint) || raw.has(RelativeHumidity),
        "dew point and no relative humidity",
        "add a column such as \"dew point (°C)\" or \"relative humidity (%)\"",
    );
    want(raw.has(WindSpeed), "wind speed", "add a column such as \"wind speed (m/s)\"");
    want(raw.has(WindDirection), "wind direction", "add a column such as \"wind direction (°)\"");
    let sun = [Global, Beam, Diffuse].into_iter().filter(|&q| raw.has(q)).count();
    want(
        sun >= 2,
        "complete sun",
        "give two of \"global horizontal (W/m²)\", \"beam normal (W/m²)\" and \"diffuse horizontal (W/m²)\"",
    );
    whole.then_some(())
}

/// Moves every column to the crate's clock: states to the ends of hours, means to whole hours.
fn on_the_clock(raw: &RawYear) -> Vec<[f64; QUANTITIES]> {
    (0..HOURS)
        .map(|hour| {
            let state = label_at(hour as f64 + 1.0 - raw.clock.states_at_h);
            let mean = label_at(hour as f64 - raw.clock.means_from_h);
            std::array::from_fn(|q| {
                let quantity = Quantity::ALL[q];
                let (label, share) = if quantity.is_hour_mean() { mean } else { state };
                let (a, b) = (raw.values[label][q], raw.values[(label + 1) % HOURS][q]);
                match quantity {
                    _ if share == 0.0 => a,
                    Quantity::WindDirection => {
                        if share < 0.5 {
                            a
                        } else {
                            b
                        }
                    }
                    _ => a * (1.0 - share) + b * share,
                }
            })
        })
        .collect()
}

/// Returns the label at or before a time, and the share of the hour that has passed since.
fn label_at(time_h: f64) -> (usize, f64) {
    let wrapped = time_h.rem_euclid(HOURS as f64);
    let label = (wrapped.floor() as usize).min(HOURS - 1);
    // Offsets such as 0.1761 h leave rounding of 1e-12; a share that small is none.
    let share = wrapped - label as f64;
    if share > 1.0 - 1e-9 {
        ((label + 1) % HOURS, 0.0)
    } else if share < 1e-9 {
        (label, 0.0)
    } else {
        (label, share)
    }
}

fn compose(raw: RawYear, columns: Vec<[f64; QUANTITIES]>, suns: &[Direction]) -> Climate {
    use Quantity::{Albedo, Beam, Diffuse, Global, Longwave, OpaqueCloud, Pressure, Rain, TotalCloud};
    let has = |q: Quantity| raw.has(q);
    let mut notes = raw.notes.clone();
    let altitude_pressure = moist_air::altitude_pressure(raw.place.elevation_m);
    if !has(Pressure) {
        notes.push(format!(
            "The file has no pressure: {altitude_pressure:.0} Pa, that of its altitude, is used all year."
        ));
    }
    if !has(Albedo) && !notes.iter().any(|n| n.contains("albedo")) {
        notes.push(format!("The file has no albedo: {USUAL_ALBEDO} is used, ground without snow."));
    }
    let mut hours: Vec<Hour> = columns
        .iter()
        .zip(suns)
        .map(|(c, sun)| {
            let of = |q: Quantity| c[q as usize];
            let (global, beam, diffuse) = complete_sun(of(Global), of(Beam), of(Diffuse), sun);
            let pressure_pa = if has(Pressure) { of(Pressure) } else { altitude_pressure };
            let moist = Moist::of(
                of(Quantity::DryBulb),
                of(Quantity::DewPoint),
                of(Quantity::RelativeHumidity),
                pressure_pa,
            );
            Hour {
                dry_bulb_c: of(Quantity::DryBulb),
                dew_point_c: moist.dew_point_c,
                relative_humidity: moist.relative_humidity,
                humidity_ratio: moist.humidity_ratio,
                pressure_pa,
                wind_speed_m_s: of(Quantity::WindSpeed),
                wind_direction_deg: of(Quantity::WindDirection),
                global_w_m2: global,
                beam_normal_w_m2: beam,
                diffuse_w_m2: diffuse,
                total_cloud: if has(TotalCloud) { of(TotalCloud) } else { of(OpaqueCloud) },
                opaque_cloud: if has(OpaqueCloud) { of(OpaqueCloud) } else { of(TotalCloud) },
                longwave_down_w_m2: of(Longwave),
                albedo: if has(Albedo) { of(Albedo) } else { USUAL_ALBEDO },
                rain_mm: has(Rain).then(|| of(Rain)),
            }
        })
        .collect();
    if [Global, Beam, Diffuse].into_iter().any(|q| !has(q)) {
        notes.push(
            "Of global, beam and diffuse irradiance the one missing was worked out with the sun at mid-hour."
                .to_owned(),
        );
    }
    let cloud =
        settle_cloud(&mut hours, has(TotalCloud) || has(OpaqueCloud), has(Longwave), suns, &mut notes);
    let longwave = if has(Longwave) {
        LongwaveOrigin::Measured
    } else {
        for h in &mut hours {
            h.longwave_down_w_m2 = sky::longwave_down(h.dry_bulb_c, h.dew_point_c, h.opaque_cloud);
        }
        notes.push(
            "Long-wave irradiance from the sky is modelled from dew point and opaque cloud (Berdahl and Martin); \
             models differ by about 10 W/m²."
                .to_owned(),
        );
        LongwaveOrigin::Modelled
    };
    Climate {
        place: raw.place,
        hours,
        wind_height_m: raw.wind_height_m,
        longwave,
        cloud,
        source: raw.source,
        notes,
    }
}

struct Moist {
    dew_point_c: f64,
    relative_humidity: f64,
    humidity_ratio: f64,
}

impl Moist {
    /// Takes the dew point where there is one, the relative humidity otherwise; both over liquid water.
    fn of(dry_bulb_c: f64, dew_point_c: f64, relative_humidity: f64, pressure_pa: f64) -> Self {
        let saturated = moist_air::saturation_pressure_over_water(dry_bulb_c);
        let vapour = if dew_point_c.is_nan() {
            // Completely dry air has no dew point; a hundredth of a per cent is below any hygrometer's reach.
            relative_humidity.clamp(1e-4, 1.0) * saturated
        } else {
            moist_air::saturation_pressure_over_water(dew_point_c.min(dry_bulb_c))
        };
        Self {
            dew_point_c: if dew_point_c.is_nan() {
                dew_point_over_water(vapour)
            } else {
                dew_point_c.min(dry_bulb_c)
            },
            relative_humidity: vapour / saturated,
            humidity_ratio: moist_air::humidity_ratio(vapour, pressure_pa),
        }
    }
}

/// Inverts the saturation curve over water, by bisection: −100 to 60 °C holds every reading that passed its range.
fn dew_point_over_water(vapour_pressure_pa: f64) -> f64 {
    if vapour_pressure_pa >= moist_air::saturation_pressure(moist_air::TRIPLE_POINT_C)
        && let Some(dew) = moist_air::dew_point(vapour_pressure_pa)
    {
        return dew;
    }
    let (mut low, mut high) = (-110.0, 1.0);
    while high - low > 1e-9 {
        let middle = 0.5 * (low + high);
        if moist_air::saturation_pressure_over_water(middle) > vapour_pressure_pa {
            high = middle;
        } else {
            low = middle;
        }
    }
    0.5 * (low + high)
}

/// Works out whichever of the three is NaN from the other two.
fn complete_sun(global: f64, beam: f64, diffuse: f64, sun: &Direction) -> (f64, f64, f64) {
    let up = sun.up.max(0.0);
    if global.is_nan() {
        (beam * up + diffuse, beam, diffuse)
    } else if beam.is_nan() {
        // Near the horizon the quotient runs away; there the beam is held to what reaches the air from space.
        let most = 1_000.0;
        let beam = if up > 0.02 { ((global - diffuse) / up).clamp(0.0, most) } else { 0.0 };
        (global, beam, diffuse)
    } else if diffuse.is_nan() {
        (global, beam, (global - beam * up).max(0.0))
    } else {
        (global, beam, diffuse)
    }
}

/// Gives hours without cloud readings a cover that explains their long-wave or their day's sun.
fn settle_cloud(
    hours: &mut [Hour],
    observed: bool,
    longwave: bool,
    suns: &[Direction],
    notes: &mut Vec<String>,
) -> CloudOrigin {
    if observed {
        return CloudOrigin::Observed;
    }
    if longwave {
        for h in hours.iter_mut() {
            h.opaque_cloud = sky::cloud_of_longwave(h.dry_bulb_c, h.dew_point_c, h.longwave_down_w_m2);
            h.total_cloud = h.opaque_cloud;
        }
        notes.push(
            "The file has no cloud cover: the cover that explains its long-wave irradiance is used."
                .to_owned(),
        );
        return CloudOrigin::FromLongwave;
    }
    for (day, suns) in hours.chunks_mut(24).zip(suns.chunks(24)) {
        // Kasten and Czeplak, Solar Energy 24 (1980): clear sky 910·sin h − 30 W/m², cloud takes 0.75·N^3.4; recalled.
        let clear: f64 = suns.iter().map(|s| (910.0 * s.up - 30.0).max(0.0)).sum();
        let global: f64 = day.iter().map(|h| h.global_w_m2).sum();
        let lost = if clear > 0.0 { (1.0 - global / clear).clamp(0.0, 0.75) } else { 0.375 };
        let cover = if lost > 0.0 { numeric::pow(lost / 0.75, 1.0 / 3.4) } else { 0.0 };
        for h in day {
            h.opaque_cloud = cover;
            h.total_cloud = cover;
        }
    }
    notes.push(
        "The file has no cloud cover: each day is given the cover that explains its global irradiance \
         (half in days without sun)."
            .to_owned(),
    );
    CloudOrigin::FromSun
}
