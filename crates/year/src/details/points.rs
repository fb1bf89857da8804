//! What passes through a wall in three dimensions: ends of beams pocketed in masonry.

use super::{BEARING_M, Planned, PlannedKind, layers, refused};
use building::Resolved;
use building::model::{Building, Penetration};
use fabric::detail::template::Template;
use fabric::detail::template::beam::{Member, through};

/// Section of a beam end when the book says none, m.
const SECTION_M: [f64; 2] = [0.15, 0.25];
/// Softwood across its grain, W/(m·K) (ISO 10456 Table 3, from memory), and along it (2.2 times; common practice, no source).
const ACROSS_W_MK: f64 = 0.13;
const ALONG: f64 = 2.2;

/// Plans the beam ends whose χ nobody stated.
pub(super) fn planned(building: &Building, r: &Resolved) -> Vec<Planned> {
    let mut all: Vec<Planned> = Vec::new();
    for (n, p) in building.penetrations.iter().enumerate() {
        if !p.plan.embedded_timber {
            continue;
        }
        let template = drawn(building, p, r);
        match all.iter_mut().find(|known| known.template == template) {
            Some(known) => known.penetrations.push(n),
            None => all.push(Planned {
                title: format!("{} in {}", p.plan.name, building.assemblies[p.through.0].name),
                kind: PlannedKind::Point,
                junctions: Vec::new(),
                penetrations: vec![n],
                template,
                beyond: None,
                notes: vec!["a softwood beam that bears 100 mm into the old wall, far from other joints"],
            }),
        }
    }
    all
}

fn drawn(building: &Building, p: &Penetration, r: &Resolved) -> Result<Template, String> {
    let wall = layers::wall(building, p.through, r)?;
    let shell = wall.shell_m();
    if shell <= 0.0 {
        return Err("no old layer of the wall lies outside for a beam to bear on".into());
    }
    let member = Member {
        name: "timber beam".into(),
        section_m: p.plan.section_m.unwrap_or(SECTION_M),
        conductivity_w_mk: [ALONG * ACROSS_W_MK, ACROSS_W_MK],
        end_m: shell - BEARING_M.min(0.5 * shell),
        inner_end_m: None,
    };
    through(&wall.stack, &member).map_err(refused)
}
