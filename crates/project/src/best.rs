//! The building as the site has found it: stated values with what records say of them.
//!
//! Start at [`best_estimate`]. The book's values are never edited: a copy of the building gets the estimate that weighs
//! the stated value and each record by the inverse of their variances (values stated by a factor in logarithms). A record
//! enters once. What is held back on site has not come into the building and does not enter.

use crate::check::Project;
use crate::standing::{records_to_date, tightness};
use building::records::{Body, Delivery, Figure, Record};
use building::stated::{Basis, Source, Stated};
use building::{Building, ValueKey};
use numeric::distribution::Distribution;
use numeric::{exp, ln};
use std::collections::BTreeMap;

/// Standard error of a delivered figure without one of its own, as a share: half of 5 %. Judgement: declared values of a
/// batch keep within a few per cent.
const DELIVERED_SD: f64 = 0.025;

/// One thing a record says of a stated value.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Which value.
    pub key: ValueKey,
    /// Figure, in the value's unit.
    pub value: f64,
    /// Its standard error, same unit.
    pub sd: f64,
    /// The record.
    pub record: String,
    /// In words: what was read, and when.
    pub words: String,
    basis: Basis,
}

/// A stated value and what the site makes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Which value.
    pub key: ValueKey,
    /// What the book states.
    pub stated: f64,
    /// Best estimate.
    pub value: f64,
    /// Its standard error.
    pub sd: f64,
    /// What was seen.
    pub seen: Vec<Seen>,
}

/// Returns what the site log says of each stated value it speaks of, in the order of the values.
pub fn estimates(project: &Project) -> Vec<Estimate> {
    let mut by_value: BTreeMap<ValueKey, Vec<Seen>> = BTreeMap::new();
    for seen in leak(project).into_iter().chain(deliveries(project)) {
        by_value.entry(seen.key).or_default().push(seen);
    }
    by_value
        .into_iter()
        .filter_map(|(key, seen)| estimate(key, project.building.values.get(key), seen))
        .collect()
}

/// Returns the building with the site's best estimates in place of the stated values; the book's own stays as it is.
pub fn best_estimate(project: &Project) -> Building {
    let mut building = project.building.clone();
    for estimate in estimates(project) {
        building.values = building.values.with(estimate.key, |stated| put(stated, &estimate));
    }
    building
}

fn put(stated: &mut Stated, estimate: &Estimate) {
    stated.value = estimate.value;
    let known_by_factor = matches!(stated.distribution, Distribution::LogNormal { .. });
    stated.distribution = if known_by_factor && estimate.value > 0.0 {
        let factor95 = exp(1.959_964 * estimate.sd / estimate.value);
        Distribution::LogNormal { median: estimate.value, factor95 }
    } else {
        Distribution::Normal { mean: estimate.value, sd: estimate.sd }
    };
    if let Some(last) = estimate.seen.last() {
        stated.basis = last.basis;
        stated.source = Source::Record(last.record.clone());
        stated.default_spread = None;
    }
}

/// Weighs a stated value and what was seen of it; `None` where the value is fixed by agreement.
fn estimate(key: ValueKey, stated: &Stated, seen: Vec<Seen>) -> Option<Estimate> {
    let prior_sd = stated.distribution.sd();
    if !(prior_sd > 0.0) {
        return None;
    }
    let logarithmic = match stated.distribution {
        Distribution::LogNormal { factor95, .. } => Some(ln(factor95) / 1.959_964),
        _ => None,
    };
    let positive = stated.value > 0.0 && seen.iter().all(|s| s.value > 0.0);
    let (value, sd) = match logarithmic.filter(|_| positive) {
        Some(prior) => {
            let rows = seen.iter().map(|s| (ln(s.value), s.sd / s.value));
            let (mean, sd) = weighed(std::iter::once((ln(stated.value), prior)).chain(rows));
            (exp(mean), exp(mean) * sd)
        }
        None => {
            let rows = seen.iter().map(|s| (s.value, s.sd));
            weighed(std::iter::once((stated.value, prior_sd)).chain(rows))
        }
    };
    Some(Estimate { key, stated: stated.value, value, sd, seen })
}

/// Mean and standard error of figures weighed by the inverse of their variances.
fn weighed(rows: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (value, sd) in rows {
        let weight = 1.0 / (sd * sd);
        sum += weight * value;
        weights += weight;
    }
    (sum / weights, (1.0 / weights).sqrt())
}

/// The latest pressure test as the leak to outdoors.
///
/// An unguarded reading holds the leak to neighbours too: its stated value is taken off, with its own uncertainty.
fn leak(project: &Project) -> Option<Seen> {
    let building = &project.building;
    let air = &building.airtightness;
    let reading = tightness(project)?;
    let values = &building.values;
    let law = air::leakage::PowerLaw::through(reading.flow_m3_h, 50.0, reading.exponent);
    let reference_pa = values.nominal_of(air.reference_pressure);
    let mut flow_m3_h = law.flow_m3_h(reference_pa);
    let mut sd = reading.half_width_m3_h / 1.959_964 * flow_m3_h / reading.flow_m3_h;
    if let Some(party) = air.party.filter(|_| !reading.guarded) {
        let party = values.get(party);
        flow_m3_h -= 3600.0 * party.value;
        let own = 3600.0 * party.distribution.sd();
        sd = (sd * sd + own * own).sqrt();
    }
    let volume_m3 = building::counting::count(building, building::counting::certification_style()).volume_m3;
    let guarded = if reading.guarded { "guarded" } else { "not guarded" };
    (flow_m3_h > 0.0 && volume_m3 > 0.0).then(|| Seen {
        key: air.expected,
        value: flow_m3_h / volume_m3,
        sd: sd / volume_m3,
        record: reading.record.clone(),
        words: format!("pressure test of {}, {guarded}", reading.day),
        basis: Basis::Measured,
    })
}

/// Figures on the labels of what came and was not held back; each record once.
fn deliveries(project: &Project) -> Vec<Seen> {
    let mut told: Vec<&str> = Vec::new();
    let mut seen = Vec::new();
    for record in records_to_date(project) {
        let Body::Delivery(delivery) = &record.body else { continue };
        if delivery.held || told.contains(&record.head.id.as_str()) {
            continue;
        }
        told.push(&record.head.id);
        seen.extend(
            delivery
                .properties
                .iter()
                .filter_map(|(id, figure)| labelled(project, record, delivery, id, figure)),
        );
    }
    seen
}

fn labelled(
    project: &Project,
    record: &Record,
    delivery: &Delivery,
    id: &str,
    figure: &Figure,
) -> Option<Seen> {
    let (key, _) = project.building.values.iter().find(|(_, stated)| stated.id == id)?;
    let sd = figure.half_width.map_or(DELIVERED_SD * figure.value.abs(), |half| half / 1.959_964);
    (figure.value.is_finite() && sd > 0.0).then(|| Seen {
        key,
        value: figure.value,
        sd,
        record: record.head.id.clone(),
        words: format!("delivered {}: {}", record.head.client_time.get(..10).unwrap_or(""), delivery.product),
        basis: Basis::Delivered,
    })
}
