//! The register of penetrations, and the permission to make each.

use crate::check::Project;
use crate::standing::{day, records};
use crate::works::proves;
use building::records::{Body, Record};
use serde::Serialize;

/// One line of the register.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Hole {
    /// Name in the book.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Assembly it passes through.
    pub through: String,
    /// Trade; empty when nobody is named.
    pub trade: String,
    /// How it is sealed, by the book; empty when nobody said.
    pub seal: String,
    /// Whether it may be made: who said so and when, `was there`, or `not yet`.
    pub permission: String,
    /// True when somebody allowed it, or it was there before.
    pub permitted: bool,
    /// How many were looked at and found good.
    pub checked: u32,
    /// What the model still asks of it.
    pub open: Vec<String>,
}

/// Returns the register, in the book's order. A hole may be made once a decision or sign-off names it, or once an
/// inspection has found it good; timber ends were there before.
pub fn penetrations(project: &Project) -> Vec<Hole> {
    let building = &project.building;
    let hole = |p: &building::model::Penetration| {
        let item = format!("penetration.{}", p.plan.name);
        let allows = |r: &&Record| match &r.body {
            Body::Decision(d) => d.touches.contains(&item),
            Body::SignOff(s) => s.of == item || s.of == p.plan.name,
            _ => false,
        };
        let allowed = records(project).filter(allows).last();
        let checked = records(project)
            .filter(|r| proves(r, &item))
            .map(|r| match &r.body {
                Body::JointInspection(j) if j.passed == Some(true) => j.count.unwrap_or(1),
                _ => 0,
            })
            .sum::<u32>()
            .min(p.plan.count);
        let permission = match (p.plan.embedded_timber, allowed) {
            (true, _) => "was there".to_owned(),
            (false, Some(r)) => {
                let by = match &r.body {
                    Body::Decision(d) if !d.by.is_empty() => d.by.clone(),
                    Body::SignOff(s) if !s.role.is_empty() => s.role.clone(),
                    _ => r.head.name.clone(),
                };
                format!("{by}, {}", day(r))
            }
            (false, None) => "not yet".to_owned(),
        };
        let gaps = building.gaps.iter().filter(|g| g.item == item);
        let settled = building::continuity::settle(&building.gaps, records(project));
        let closed = |id: &str| settled.iter().any(|s| s.gap.id == id && s.closed_by.is_some());
        Hole {
            name: p.plan.name.clone(),
            count: p.plan.count,
            through: building.assemblies[p.through.0].name.clone(),
            trade: p.plan.trade.clone().unwrap_or_default(),
            seal: p.plan.seal.clone().unwrap_or_default(),
            permitted: p.plan.embedded_timber || allowed.is_some(),
            permission,
            checked,
            open: gaps.filter(|g| !closed(&g.id)).map(|g| g.sentence.clone()).collect(),
        }
    };
    building.penetrations.iter().map(hole).collect()
}
