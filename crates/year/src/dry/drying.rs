//! The drying test of a case: days to inside, outside and both, months compared, what another membrane changes.

use building::Resolved;
use building::control::ControlKind;
use building::model::LayerKind;
use moisture::drive::Drive;
use moisture::drying::{self, Dry, Drying, Test, Way};
use moisture::material::Sheet;
use moisture::transport::{Cells, Options, Resolution, Start, Trace};
use moisture::wall::{Contact, Wall};
use rayon::prelude::*;

use super::report::{DryingCase, DryingChange, DryingTest, Point};
use super::walls::{self, Built};
use super::{Done, Scene, run};
use crate::error::YearError;

/// What to wet, by name, and with how much.
#[derive(Clone, Debug, PartialEq)]
pub struct Wetting {
    /// Layer, as the book names it.
    pub layer: String,
    /// Water added, kg/m².
    pub added_kg_m2: f64,
}

/// Water of the usual test, kg/m² (judgement: a leak or a wet delivery that nobody noticed).
const USUAL_KG_M2: f64 = 0.2;
/// A layer counts as dry when this share of the added water is left.
const LEFT: f64 = 0.1;
/// Days allowed.
const MOST_DAYS: u32 = 180;
/// Months the wall is closed in.
const MONTHS: [usize; 4] = [0, 3, 6, 9];
/// Hours a period of the test's weather: means of these; no rain falls in it, so nothing is lost but the day's swing.
const PERIOD_H: usize = 6;
/// How much tighter or opener the tightest layer is tried.
const FACTOR: f64 = 4.0;
/// Equivalent air layer of a sheet of 0.4 US perm, m.
const TIGHT_TAPE_M: f64 = 8.74;

/// The usual test: the layer that governs, or the wood nearest to the cold.
pub(super) fn usual(scene: &Scene<'_>, done: &Done) -> Result<DryingTest, YearError> {
    let governing = done.report.design.governing().or_else(|| done.report.mean.governing());
    let of_point = |p: &Point| done.built.model_layer.iter().position(|m| *m == p.layer);
    let layer = governing
        .and_then(of_point)
        .or_else(|| done.built.timber.last().copied())
        .unwrap_or_else(|| done.built.cold_side.saturating_sub(1));
    test(scene, done, layer, USUAL_KG_M2)
}

/// The test of a layer of the book.
pub(super) fn named(scene: &Scene<'_>, done: &Done, wetting: &Wetting) -> Result<DryingTest, YearError> {
    let layers = &done.built.wall.layers;
    let wanted = wetting.layer.trim().to_lowercase();
    let matches = |name: &str| name.to_lowercase() == wanted;
    let found = layers.iter().position(|l| matches(&l.name)).or_else(|| {
        // A part of a name will do when only one layer has it.
        let mut part = layers.iter().enumerate().filter(|(_, l)| l.name.to_lowercase().contains(&wanted));
        let first = part.next().map(|(k, _)| k);
        first.filter(|_| part.next().is_none())
    });
    match found {
        Some(layer) => test(scene, done, layer, wetting.added_kg_m2),
        None => {
            let names: Vec<&str> = layers.iter().rev().map(|l| l.name.as_str()).collect();
            Err(YearError::Missing {
                item: format!("assembly.{}", done.report.assembly),
                why: format!(
                    "it has no single layer \"{}\" that holds water; there are: {}",
                    wetting.layer,
                    names.join(", ")
                ),
            })
        }
    }
}

fn test(scene: &Scene<'_>, done: &Done, layer: usize, added_kg_m2: f64) -> Result<DryingTest, YearError> {
    let wall = &done.built.wall;
    let refused = |errors: Vec<moisture::MoistureError>| YearError::Missing {
        item: format!("drying test of {}", done.report.id),
        why: errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
    };
    let law = done.report.rain_law.unwrap_or(super::RainLaw::Ashrae160);
    let drive = |built: &Built| -> Result<Drive, YearError> {
        let hourly = scene.faces().drive(&done.case, built, law, false).map_err(|e| refused(vec![e]))?;
        let mut means = run::averaged(&hourly, PERIOD_H);
        means.outside.iter_mut().for_each(|s| s.rain_kg_m2s = 0.0);
        Ok(means)
    };
    let asked = Test { layer, added_kg_m2, dry: Dry::ShareLeft(LEFT), most_days: MOST_DAYS };
    let ways = [Way::Both, Way::Inside, Way::Outside];
    let all = runs(wall, &drive(&done.built)?, &done.ran.mean, &asked, &ways).map_err(refused)?;
    let mut changes = Vec::new();
    for (change, built) in variants(scene, done) {
        let found = runs(&built.wall, &drive(&built)?, &done.ran.mean, &asked, &[Way::Both]);
        let found = found.map_err(refused)?;
        changes.push(DryingChange { change, days: found.iter().map(|d| d.days).collect() });
    }
    let cases: Vec<DryingCase> = all.iter().map(told).collect();
    let name = wall.layers[layer].name.clone();
    let sentence = sentence(&name, added_kg_m2, &cases, &changes);
    Ok(DryingTest {
        wetted: name,
        layer: done.built.model_layer[layer],
        added_kg_m2,
        most_days: MOST_DAYS,
        cases,
        changes,
        sentence,
    })
}

fn runs(
    wall: &Wall,
    drive: &Drive,
    mean: &Trace,
    test: &Test,
    ways: &[Way],
) -> Result<Vec<Drying>, Vec<moisture::MoistureError>> {
    let starts = drying::month_starts(drive.inside.len());
    // No rain and no front: few cells will do.
    let few =
        Resolution { first_rain_m: 0.004, first_m: 0.004, first_dry_m: 0.008, growth: 2.2, widest_m: 0.02 };
    let cells = Cells::graded(wall, few);
    let options = Options { longest_step_s: drive.period_s, ..run::options() };
    let cases: Vec<(Way, usize)> = ways.iter().flat_map(|w| MONTHS.map(|m| (*w, m))).collect();
    cases
        .into_par_iter()
        .map(|(way, month)| {
            let hour = starts[month] * PERIOD_H;
            let start: Vec<Start> = wall
                .layers
                .iter()
                .zip(&mean.layer_water_kg_m2)
                .map(|(l, water)| Start::Water(water[hour.min(water.len() - 1)] / l.thickness_m))
                .collect();
            drying::run(wall, &cells, options, drive, (12.0, &start), test, way, starts[month])
        })
        .collect::<Vec<_>>()
        .into_iter()
        .collect()
}

fn told(d: &Drying) -> DryingCase {
    let way = match d.way {
        Way::Inside => "inside",
        Way::Outside => "outside",
        Way::Both => "both",
    };
    let periods = 8_760 / PERIOD_H;
    let month = drying::month_starts(periods).iter().position(|s| *s == d.begins).unwrap_or(0);
    DryingCase { way: way.to_owned(), month, days: d.days, above_kg_m2: d.left_kg_m2.clone() }
}

/// The wall with its vapour layer (the one so named, else the air barrier, else the tightest) tighter and opener, and with a
/// tight sheet on it.
fn variants(scene: &Scene<'_>, done: &Done) -> Vec<(String, Built)> {
    let assembly = &scene.building.assemblies[done.case.assembly.0];
    let named = |kind| assembly.control_layers(kind).last();
    let of_name = || assembly.layers.iter().position(|l| l.name == done.report.openness.tightest);
    let Some(place) = named(ControlKind::Vapour).or_else(|| named(ControlKind::Air)).or_else(of_name) else {
        return Vec::new();
    };
    let tightest = &assembly.layers[place].name;
    let mut out = Vec::new();
    if let LayerKind::Solid(id) = assembly.layers[place].kind {
        let m = &scene.building.materials[id.0];
        for (word, factor) in [("opener", 1.0 / FACTOR), ("tighter", FACTOR)] {
            let mut other: Resolved = scene.r.clone();
            let keys = [m.vapour_factor_dry, m.vapour_factor_wet];
            let stated = keys.iter().flatten().count() > 0;
            for key in keys.into_iter().flatten() {
                // No solid passes vapour more easily than still air.
                other.0[key.0 as usize] = (other.0[key.0 as usize] * factor).max(1.0);
            }
            let rained_on = !done.built.wall.rain.is_empty() || !done.built.masonry.is_empty();
            let built =
                walls::build(scene.building, assembly, run::direction(done.case.facing), rained_on, &other);
            if let (true, Ok(built)) = (stated, built) {
                out.push((format!("{tightest} {FACTOR:.0} times {word} to vapour"), built));
            }
        }
    }
    let at = done.built.model_layer.iter().position(|m| *m == place);
    if let Some(k) = at.filter(|k| k + 1 < done.built.wall.layers.len()) {
        let mut built = done.built.clone();
        let sheet = Sheet::constant("a sheet of 0.4 perm", TIGHT_TAPE_M);
        if built.wall.contacts[k] == Contact::Perfect {
            built.wall.contacts[k] = Contact::Sheet(sheet);
            out.push((format!("a tape or sheet of 0.4 perm on the outer face of {tightest}"), built));
        }
    }
    out
}

fn days(days: Option<u32>) -> String {
    match days {
        Some(1) => "1 day".to_owned(),
        Some(n) => format!("{n} days"),
        None => format!("more than {MOST_DAYS} days"),
    }
}

fn sentence(name: &str, added_kg_m2: f64, cases: &[DryingCase], changes: &[DryingChange]) -> String {
    let of = |way: &str, month: usize| {
        cases.iter().find(|c| c.way == way && c.month == month).and_then(|c| c.days)
    };
    let worst_month =
        MONTHS.into_iter().max_by_key(|m| of("both", *m).unwrap_or(u32::MAX)).unwrap_or(MONTHS[0]);
    let best_month =
        MONTHS.into_iter().min_by_key(|m| of("both", *m).unwrap_or(u32::MAX)).unwrap_or(MONTHS[0]);
    let month = |m: usize| climate::calendar::MONTHS[m];
    let mut text = format!(
        "{:.0} g/m² in {name}, closed in {}: {} to both sides, {} to the inside alone, {} to the outside alone",
        1000.0 * added_kg_m2,
        month(worst_month),
        days(of("both", worst_month)),
        days(of("inside", worst_month)),
        days(of("outside", worst_month)),
    );
    if best_month != worst_month && of("both", best_month) != of("both", worst_month) {
        text.push_str(&format!(
            "; closed in {}: {} to both",
            month(best_month),
            days(of("both", best_month))
        ));
    }
    text.push('.');
    let at = MONTHS.iter().position(|m| *m == worst_month).unwrap_or(0);
    let other: Vec<String> = changes
        .iter()
        .map(|c| format!("with {}: {}", c.change, days(c.days.get(at).copied().flatten())))
        .collect();
    if !other.is_empty() {
        text.push_str(&format!(" To both sides {}.", other.join("; ")));
    }
    text
}
