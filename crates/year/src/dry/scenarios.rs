//! A case under other suppositions: ventilation off, damp rooms in winter, cooled rooms in summer, rain past the face, air
//! leaks at joints by class of work.

use air::components::{Work, find};
use building::Resolved;
use climate::Climate;
use moisture::MoistureError;
use moisture::drive::Drive;
use moisture::transport::{Simulation, Trace};
use moisture::wall::{AirExchange, Place, RainEntry, Side};

use super::report::{Scenario, Status};
use super::rooms::{self, RoomAir};
use super::run::{Faces, REPEATS, YEAR_S, options};
use super::walls::{Built, PENETRATION};
use super::{Done, RainLaw, Scene, tell};
use crate::error::YearError;

/// Share of the ventilation left when it is off: what doors and forgotten windows give (judgement).
const LEFT_RUNNING: f64 = 0.05;
/// Relative humidity of damp rooms in winter.
const DAMP: f64 = 0.5;
/// Temperature of a cooled room, °C.
const COOLED_C: f64 = 22.0;
/// Mean pressure that drives room air into a joint while indoors is warmer, Pa (judgement: stack of two storeys).
const PRESSURE_PA: f64 = 2.0;
/// Exponent of such a joint.
const EXPONENT: f64 = 0.65;
/// Width of the strip beside a joint that its leak wets, m (judgement).
const STRIP_M: f64 = 0.5;
/// Row of the component table that stands for a joint of the lining.
const JOINT: &str = "joint, sole plate / floor-wall, caulked";
/// Years run to see where it goes.
const YEARS: usize = 4;

/// Runs them all.
pub(super) fn all(scene: &Scene<'_>, climate: &Climate, done: &Done) -> Result<Vec<Scenario>, YearError> {
    let mut out = Vec::new();
    let mut keep = |name: String, found: Result<(Built, Trace), Vec<MoistureError>>| {
        if let Ok((built, trace)) = found {
            let verdict = tell::verdict(&built, &trace, None, done.rain, scene.pocketed(&done.case));
            let sentence = said(&verdict);
            out.push(Scenario { name, verdict, sentence });
        }
    };
    let law = done.report.rain_law.unwrap_or(RainLaw::Ashrae160);
    let with_rooms = |rooms: &[RoomAir]| {
        let faces = Faces { rooms, ..scene.faces() };
        faces.drive(&done.case, &done.built, law, false).map_err(|e| vec![e])
    };
    let as_built = |drive: Result<Drive, Vec<MoistureError>>| {
        drive.and_then(|d| Ok((done.built.clone(), carried_on(done, &done.built, &d)?)))
    };
    if done.report.rain.is_some() && !done.built.masonry.is_empty() {
        let other = if law == RainLaw::Ashrae160 { RainLaw::Iso15927 } else { RainLaw::Ashrae160 };
        let drive = scene.faces().drive(&done.case, &done.built, other, false).map_err(|e| vec![e]);
        keep(format!("rain by {} instead", other.word()), as_built(drive));
    }
    let off = rooms::air(scene.building, climate, &without_ventilation(scene))?.0;
    keep("ventilation off".to_owned(), as_built(with_rooms(&off)));
    let outdoor = scene.outdoors.air().0;
    let changed = |f: &dyn Fn(f64, f64, f64) -> (f64, f64)| -> Vec<RoomAir> {
        scene
            .rooms
            .iter()
            .map(|air| {
                let humidity = air.humidity();
                let (mut t, mut pv) = (Vec::new(), Vec::new());
                for h in 0..humidity.len() {
                    let (to, rh) = f(air.temperature_c[h], humidity[h], outdoor[h]);
                    t.push(to);
                    pv.push(rh * matter::moist_air::saturation_pressure(to));
                }
                RoomAir { temperature_c: t, vapour_pressure_pa: pv }
            })
            .collect()
    };
    let damp = changed(&|t, rh, out| (t, if out < 15.0 { rh.max(DAMP) } else { rh }));
    keep(format!("rooms at {:.0} % or more in winter", 100.0 * DAMP), as_built(with_rooms(&damp)));
    let cooled = changed(&|t, rh, out| if out > 18.0 { (t.min(COOLED_C), rh.min(0.55)) } else { (t, rh) });
    keep(format!("rooms cooled to {COOLED_C} °C in summer"), as_built(with_rooms(&cooled)));
    if let (Some(behind), Some(_)) = (done.built.behind_masonry, done.report.rain) {
        let mut built = done.built.clone();
        for entry in &mut built.wall.rain {
            entry.share -= PENETRATION;
        }
        built.wall.rain.push(RainEntry { interface: behind, share: PENETRATION });
        let found = with_rooms(&scene.rooms).and_then(|d| {
            let trace = carried_on(done, &built, &d)?;
            Ok((built.clone(), trace))
        });
        keep(format!("{:.0} % of the rain gets behind the masonry", 100.0 * PENETRATION), found);
    }
    for (word, class) in
        [("careful", Work::Careful), ("ordinary", Work::Ordinary), ("unknown", Work::Unknown)]
    {
        let mut built = done.built.clone();
        built
            .wall
            .exchanges
            .push(AirExchange { place: Place::Interface(built.cold_side), from: Side::Inside });
        let found = with_rooms(&scene.rooms).and_then(|mut d| {
            d.exchange_kg_m2s.push(leak(class, &d));
            let trace = carried_on(done, &built, &d)?;
            Ok((built.clone(), trace))
        });
        keep(format!("room air leaks into it beside a joint of {word} work"), found);
    }
    Ok(out)
}

/// Goes on from where the mean year ended.
fn carried_on(done: &Done, built: &Built, drive: &Drive) -> Result<Trace, Vec<MoistureError>> {
    let mut s = Simulation::new(&built.wall, &done.ran.cells, options())?;
    s.continue_from(&done.ran.after_mean).map_err(|e| vec![e])?;
    let mut before = s.water_kg_m2();
    let mut trace = s.record_on(drive, YEAR_S)?;
    for _ in 1..YEARS {
        let now = s.water_kg_m2();
        if (now - before).abs() <= REPEATS * now.abs() {
            break;
        }
        before = now;
        trace = s.record_on(drive, YEAR_S)?;
    }
    Ok(trace)
}

/// Room air into the cold side of a strip beside a joint, kg/(m²·s), while indoors is warmer than outdoors.
fn leak(class: Work, drive: &Drive) -> Vec<f64> {
    let metre_m3_h = find(JOINT).map_or(0.0, |row| row.flow_m3_h(class, PRESSURE_PA, EXPONENT).median());
    let full = 1.2 * metre_m3_h / 3600.0 / STRIP_M;
    drive
        .inside
        .iter()
        .zip(&drive.outside)
        .map(|(i, o)| {
            let warmer = (i.air_temperature_c - o.air_temperature_c).max(0.0);
            // Stack pressure goes with the temperature difference; 20 K give the pressure above.
            full * numeric::pow((warmer / 20.0).min(2.0), EXPONENT)
        })
        .collect()
}

fn without_ventilation(scene: &Scene<'_>) -> Resolved {
    let mut r = scene.r.clone();
    for unit in &scene.building.ventilation {
        for mode in &unit.modes {
            for key in [mode.supply, mode.extract] {
                r.0[key.0 as usize] = LEFT_RUNNING * scene.r[key];
            }
        }
    }
    r
}

fn said(verdict: &super::report::YearVerdict) -> String {
    if verdict.status == Status::NotJudged
        && let Some(open) = verdict.open()
    {
        return open.sentence.clone();
    }
    verdict.governing().map_or_else(|| "Nothing in it was judged.".to_owned(), |p| p.sentence.clone())
}
