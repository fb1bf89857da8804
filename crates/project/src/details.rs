//! The model's joints worked out as details, kept between runs, and their Ψ and χ stated in the model.
//!
//! A detail is known by its numbers alone: what a changed book leaves as it was is not solved again. A value that the book
//! states stays, the worked-out one stands beside it. Start at [`work_out`]; [`Details`] is what sheets and findings read.

use crate::cache::{self, Found, Inputs, Key};
use crate::source::Folder;
use building::Building;
use building::model::JunctionKind;
use building::stated::{Basis, Enters, Source, Statement, ValueKey};
use fabric::detail::template::Template;
use quantity::{Dimension, Spread};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use year::details::{Planned, PlannedKind};

/// What solving a detail gave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Worked {
    /// Ψ by inside dimensions, W/(m·K), or χ, W/K.
    pub inside: f64,
    /// The same by outside dimensions.
    pub outside: f64,
    /// f_Rsi of the coldest inside spot.
    pub factor: f64,
    /// Where it is in the detail, m.
    pub coldest_m: [f64; 3],
    /// Estimated error of Ψ or χ.
    pub error: f64,
    /// Cells of the finest grid.
    pub cells: usize,
    /// Residual of the balance.
    pub residual: f64,
    /// Whether the last halving changed less than asked.
    pub settled: bool,
}

/// One detail of the model with what came of it.
#[derive(Clone, Debug)]
pub struct WorkedJoint {
    /// What it is and which joints it stands for.
    pub planned: Planned,
    /// What came of it, or why nothing did.
    pub worked: Result<Worked, String>,
    /// Length, m, of the joints, or how many points.
    pub extent: f64,
    /// What the year counts, W/(m·K) or W/K each: worked out, or as the book states it.
    pub counted: Option<f64>,
    /// Whether the book's own value stands.
    pub stated: bool,
}

impl WorkedJoint {
    /// Says whether it is of points, not of a line.
    pub fn is_point(&self) -> bool {
        self.planned.kind == PlannedKind::Point
    }

    /// Loss that the year counts, W/K.
    pub fn loss_w_k(&self) -> Option<f64> {
        self.counted.map(|each| each * self.extent)
    }
}

/// All details of a project.
#[derive(Clone, Debug, Default)]
pub struct Details {
    /// In the order of the model.
    pub joints: Vec<WorkedJoint>,
    /// Degree hours of a heating season, kelvin hours: below 20 °C on days under 12 °C (common practice, no source).
    pub degree_hours_kh: f64,
    /// What to tell beside them.
    pub notices: Vec<String>,
}

impl Details {
    /// Returns the joint with the coldest inside spot.
    pub fn coldest(&self) -> Option<&WorkedJoint> {
        let factor = |j: &&WorkedJoint| j.worked.as_ref().map_or(f64::INFINITY, |w| w.factor);
        let coldest = self.joints.iter().min_by(|a, b| factor(a).total_cmp(&factor(b)));
        coldest.filter(|j| j.worked.is_ok())
    }
}

/// Plans the details, takes what is kept, solves the rest side by side, and states Ψ and χ in the model.
pub fn work_out(folder: &Folder, building: &mut Building) -> Details {
    let planned = year::details::planned(building, &building.values.nominal());
    let keys: Vec<Option<Key>> = planned.iter().map(|p| p.template.as_ref().ok().map(key)).collect();
    let (mut kept, mut notices) = recall(folder);
    let missing: Vec<(&Key, &Template)> = planned
        .iter()
        .zip(&keys)
        .filter_map(|(p, key)| Some((key.as_ref()?, p.template.as_ref().ok()?)))
        .filter(|(key, _)| !kept.contains_key(key.text()))
        .collect();
    let fresh: Vec<(String, Result<Worked, String>)> =
        missing.par_iter().map(|(key, template)| (key.text().to_owned(), solve(template))).collect();
    let changed = !fresh.is_empty();
    kept.extend(fresh);
    let worked = |(key, p): (&Option<Key>, &Planned)| match (key, &p.template) {
        (Some(key), Ok(_)) => kept.get(key.text()).cloned().unwrap_or_else(|| Err("not solved".to_owned())),
        (_, Err(why)) => Err(why.clone()),
        (None, Ok(_)) => Err("not solved".to_owned()),
    };
    let results: Vec<Result<Worked, String>> = keys.iter().zip(&planned).map(worked).collect();
    let used: BTreeMap<&str, &Result<Worked, String>> =
        keys.iter().flatten().filter_map(|k| Some((k.text(), kept.get(k.text())?))).collect();
    if changed {
        notices.extend(keep(folder, &used));
    }
    let mut details = Details { joints: Vec::new(), degree_hours_kh: 0.0, notices };
    for (n, p) in planned.iter().enumerate() {
        let less = p.beyond.and_then(|b| results[b].as_ref().ok()).map_or(0.0, |w| w.inside);
        details.joints.push(state(building, p.clone(), results[n].clone(), less));
    }
    details
}

/// Sums the degree hours of a heating season.
pub fn degree_hours_kh(climate: &climate::Climate) -> f64 {
    let day = |hours: &[climate::Hour]| {
        let mean = hours.iter().map(|h| h.dry_bulb_c).sum::<f64>() / hours.len() as f64;
        if mean < 12.0 { hours.iter().map(|h| (20.0 - h.dry_bulb_c).max(0.0)).sum::<f64>() } else { 0.0 }
    };
    climate.hours.chunks(24).map(day).sum()
}

fn solve(template: &Template) -> Result<Worked, String> {
    let joint = year::details::work_out(template).map_err(|e| e.to_string())?;
    Ok(Worked {
        inside: joint.inside,
        outside: joint.outside,
        factor: joint.factor,
        coldest_m: joint.coldest_m,
        error: joint.error,
        cells: joint.cells,
        residual: joint.residual,
        settled: joint.settled,
    })
}

/// States Ψ or χ for what a detail stands for, where the book does not.
fn state(
    building: &mut Building,
    planned: Planned,
    worked: Result<Worked, String>,
    less: f64,
) -> WorkedJoint {
    let from_default = |building: &Building, key: Option<ValueKey>| {
        key.is_none_or(|k| matches!(building.values.get(k).source, Source::Default(_)))
    };
    let point = planned.kind == PlannedKind::Point;
    let own: Vec<Option<ValueKey>> = if point {
        planned.penetrations.iter().map(|n| building.penetrations[*n].plan.chi).collect()
    } else {
        planned.junctions.iter().map(|n| building.junctions[*n].psi).collect()
    };
    let open = own.iter().any(|key| from_default(building, *key));
    let key = match &worked {
        Ok(w) if open => insert(building, &planned, w, w.inside - less),
        _ => None,
    };
    if let Some(key) = key {
        for n in &planned.junctions {
            if from_default(building, building.junctions[*n].psi) {
                building.junctions[*n].psi = Some(key);
            }
        }
        for n in &planned.penetrations {
            if from_default(building, building.penetrations[*n].plan.chi) {
                building.penetrations[*n].plan.chi = Some(key);
            }
        }
    }
    let extent = if point {
        planned.penetrations.iter().map(|n| f64::from(building.penetrations[*n].plan.count)).sum()
    } else {
        planned.junctions.iter().map(|n| building.junctions[*n].length_m).sum()
    };
    // Of several, what most of the length counts: the first.
    let first = if point {
        planned.penetrations.first().and_then(|n| building.penetrations[*n].plan.chi)
    } else {
        planned.junctions.first().and_then(|n| building.junctions[*n].psi)
    };
    let counted = first.map(|key| building.values.nominal_of(key));
    WorkedJoint { planned, worked, extent, counted, stated: !open }
}

/// Spread of a worked-out value: 5 % for the calculation (EN ISO 14683, from memory), and 0.005 W/(m·K) or W/K for
/// what is built a little otherwise than drawn (judgement).
fn insert(building: &mut Building, planned: &Planned, worked: &Worked, value: f64) -> Option<ValueKey> {
    let (dimension, kind, symbol) = match planned.kind {
        PlannedKind::Point => (Dimension::PointTransmittance, "point transmittance", "chi"),
        PlannedKind::Line(_) => (Dimension::LinearTransmittance, "linear transmittance", "psi"),
    };
    let mut id = format!("detail.{}.{symbol}", planned.title);
    let mut n = 2;
    while building.values.key(&id).is_some() {
        id = format!("detail.{} ({n}).{symbol}", planned.title);
        n += 1;
    }
    let statement = Statement {
        id,
        value,
        spread: Some(Spread::HalfWidth95(0.05 * value.abs() + worked.error.abs() + 0.005)),
        kind,
        dimension,
        basis: Basis::Drawn,
        rating: None,
        source: Source::Detail(planned.title.clone()),
        group: None,
        enters: Enters::IN_USE,
    };
    // The id is free and the value finite, so stating cannot fail.
    building.values.state(statement).ok()
}

/// A detail's key: every number that decides its result, names left out.
fn key(template: &Template) -> Key {
    let mut inputs = Inputs::new();
    let d = &template.detail;
    inputs.add_numbers("detail", &[f64::from(u8::from(d.plane)), template.times]);
    for region in &d.regions {
        inputs.add_numbers("low", &region.low_m);
        inputs.add_numbers("high", &region.high_m);
        match region.body {
            fabric::detail::Body::Solid(k) => inputs.add_numbers("solid", &k),
            fabric::detail::Body::Environment(e) => inputs.add_numbers("air", &[e as f64]),
            fabric::detail::Body::Cut => inputs.add("cut", &[]),
        }
        let outline: Vec<f64> = region.outline.iter().flatten().flatten().copied().collect();
        inputs.add_numbers("outline", &outline);
        let films: Vec<f64> = region.films.iter().flat_map(|(e, r)| [*e as f64, *r]).collect();
        inputs.add_numbers("films", &films);
        inputs.add("glazed", &[u8::from(region.glazed)]);
    }
    for e in &d.environments {
        inputs.add_numbers("environment", &[e.temperature_c, e.surface_m2k_w]);
    }
    for plane in template.internal.iter().chain(&template.external) {
        inputs.add_numbers("plane", &[plane.u_w_m2k, plane.extent]);
    }
    inputs.key()
}

/// Name of the one entry that holds all details of a folder.
fn entry() -> Key {
    let mut inputs = Inputs::new();
    inputs.add("details", b"all");
    inputs.key()
}

type Kept = BTreeMap<String, Result<Worked, String>>;

fn recall(folder: &Folder) -> (Kept, Vec<String>) {
    match cache::get(folder, &entry()) {
        Found::Kept(text) => match serde_json::from_str(&text) {
            Ok(kept) => (kept, Vec::new()),
            Err(_) => {
                (Kept::new(), vec!["kept details were of another kind; they were worked out again".into()])
            }
        },
        Found::Spoiled(why) => (Kept::new(), vec![why]),
        Found::Nothing => (Kept::new(), Vec::new()),
    }
}

fn keep(folder: &Folder, used: &BTreeMap<&str, &Result<Worked, String>>) -> Option<String> {
    match serde_json::to_string(used) {
        Ok(text) => cache::put(folder, &entry(), &text),
        Err(e) => Some(format!("details could not be kept for next time ({e})")),
    }
}

/// In the words of a sentence.
pub fn words(joint: &WorkedJoint) -> String {
    let place = match joint.planned.kind {
        PlannedKind::Line(JunctionKind::Jamb | JunctionKind::Head | JunctionKind::Sill) => {
            joint.planned.title.replace("head, jamb and sill", "frame")
        }
        _ => joint.planned.title.clone(),
    };
    place.replace('_', " ")
}
