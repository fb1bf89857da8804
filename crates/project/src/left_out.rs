//! What the book left out: values filled by defaults or by the material library, spreads nobody stated, limits in use.
//!
//! A number nobody stated still decides a result; this list is where its reader meets it.

use crate::check::Project;
use building::limits::Comparison;
use building::spreads::{self, Form};
use building::stated::{Basis, Source, Stated};
use quantity::{Dimension, System, show};
use std::collections::BTreeMap;

/// Everything the book left to the tool.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Values that are defaults, in the order of the model.
    pub values: Vec<Filled>,
    /// Materials whose properties come from the library, with how many values of each.
    pub materials: Vec<(String, usize)>,
    /// Spreads that are defaults, the most used first.
    pub spreads: Vec<Spread>,
    /// Limits in force, one line each.
    pub limits: Vec<Row>,
}

/// A value that is a default.
#[derive(Clone, Debug, PartialEq)]
pub struct Filled {
    /// Id of the stated value.
    pub id: String,
    /// As shown.
    pub value: String,
    /// Id of the default and where it comes from.
    pub source: String,
}

/// A default spread and how many values lean on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// Kind of quantity.
    pub kind: String,
    /// Basis of the values.
    pub basis: Basis,
    /// As one would write it, `± 7 %`.
    pub spread: String,
    /// How many values.
    pub count: usize,
    /// Document, or judgement.
    pub source: String,
}

/// A limit in force.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its id.
    pub id: String,
    /// `at most 15 kWh/m²`.
    pub text: String,
    /// Where the number comes from.
    pub source: String,
}

/// Lists what the book of a project left out.
pub fn left_out(project: &Project, system: System) -> LeftOut {
    let values = || project.building.values.iter().map(|(_, stated)| stated);
    let mut materials: BTreeMap<&str, usize> = BTreeMap::new();
    for stated in values() {
        if let Source::Library(name) = &stated.source {
            *materials.entry(name).or_default() += 1;
        }
    }
    LeftOut {
        values: values().filter_map(|stated| filled(stated, system)).collect(),
        materials: materials.into_iter().map(|(name, count)| (name.to_owned(), count)).collect(),
        spreads: default_spreads(values()),
        limits: project.limits.iter().flat_map(|set| &set.rows).map(limit).collect(),
    }
}

fn filled(stated: &Stated, system: System) -> Option<Filled> {
    let Source::Default(id) = &stated.source else { return None };
    let row = building::defaults::row(id);
    let value = match row {
        // An exponent or an emissivity reads as the table writes it, not in percent.
        Some(row) if stated.dimension == Dimension::Ratio => row.value.clone(),
        _ => show(stated.value, stated.dimension, system),
    };
    let source = row.map_or_else(|| id.clone(), |row| format!("{id}: {}", row.source));
    Some(Filled { id: stated.id.clone(), value, source })
}

fn default_spreads<'a>(values: impl Iterator<Item = &'a Stated>) -> Vec<Spread> {
    let mut counts: BTreeMap<&str, (usize, Dimension)> = BTreeMap::new();
    for stated in values {
        if let Some(id) = &stated.default_spread {
            counts.entry(id).or_insert((0, stated.dimension)).0 += 1;
        }
    }
    let mut list: Vec<Spread> = spreads::table()
        .rows
        .iter()
        .flat_map(|row| Basis::ALL.map(|basis| spreads::Default { row, basis }))
        .filter(|default| default.row.form != Form::None)
        .filter_map(|default| {
            let (count, dimension) = *counts.get(default.id().as_str())?;
            Some(Spread {
                kind: default.row.kind.clone(),
                basis: default.basis,
                spread: written(default, dimension),
                count,
                source: default.row.source.clone(),
            })
        })
        .collect();
    list.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.kind.cmp(&b.kind)));
    list
}

fn written(default: spreads::Default<'_>, dimension: Dimension) -> String {
    // A spread of a temperature is a difference.
    let unit = match dimension {
        Dimension::Temperature => "K",
        Dimension::Ratio | Dimension::Count => "",
        other => other.canonical_unit(),
    };
    let spread = default.spread();
    match default.row.form {
        Form::Share => format!("± {} %", rounded(100.0 * spread)),
        Form::Absolute => format!("± {} {unit}", rounded(spread)).trim_end().to_owned(),
        Form::Factor => format!("×/÷ {}", rounded(spread)),
        Form::None => String::new(),
    }
}

/// Four significant digits at most, without the tail a share times a hundred can carry.
fn rounded(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn limit(limit: &building::limits::Limit) -> Row {
    let value = quantity::show_in(limit.value, limit.dimension, &limit.unit)
        .unwrap_or_else(|| format!("{} {}", limit.value, limit.dimension.canonical_unit()));
    // A ratio's unit is nothing.
    let value = value.strip_suffix(" 1").map_or(value.clone(), str::to_owned);
    let comparison = match limit.comparison {
        Comparison::AtMost => "at most",
        Comparison::AtLeast => "at least",
    };
    Row { id: limit.id.clone(), text: format!("{comparison} {value}"), source: limit.source.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_written_without_a_tail() {
        assert_eq!(rounded(100.0 * 0.07), "7");
        assert_eq!(rounded(1.4), "1.4");
        assert_eq!(rounded(0.5), "0.5");
    }
}
