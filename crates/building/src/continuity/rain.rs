//! Rain water has direction: upper laps over lower, and whatever gets in finds its way out.

use std::collections::BTreeMap;

use super::{edge_word, faces_outside, lines, list, needed, pair};
use crate::control::{ControlKind, Gap, GapKind};
use crate::model::{AssemblyId, Building, Junction, JunctionKind, LayerKind, RoofShape};
use crate::plan::{AirSpace, Lap, SillPlan, Way};

pub(super) fn gaps(building: &Building) -> Vec<Gap> {
    let mut out = laps(building);
    out.extend(bottoms(building, JunctionKind::Sill, &building.drainage.sills));
    out.extend(bottoms(building, JunctionKind::Threshold, &building.drainage.thresholds));
    out.extend(drained_gaps(building));
    out.extend(roofs(building));
    out
}

/// Edges that water runs across on its way down; along the others it runs beside.
fn runs_across(kind: JunctionKind) -> bool {
    matches!(
        kind,
        JunctionKind::RoofEdge
            | JunctionKind::Eaves
            | JunctionKind::HighEaves
            | JunctionKind::Ridge
            | JunctionKind::RoofStep
            | JunctionKind::FloorEdge
            | JunctionKind::PartyFloorEdge
            | JunctionKind::Plinth
            | JunctionKind::Head
            | JunctionKind::Sill
            | JunctionKind::Threshold
    )
}

/// Which piece lies over which, wherever a stated rain layer is crossed by running water.
fn laps(building: &Building) -> Vec<Gap> {
    let mut found: BTreeMap<(&'static str, String, bool), Vec<&Junction>> = BTreeMap::new();
    for junction in building.junctions.iter().filter(|j| runs_across(j.kind)) {
        if !needed(building, junction, ControlKind::Rain) {
            continue;
        }
        let joint = junction.joint.map(|n| &building.joints[n]);
        let Some(carrier) = joint.and_then(|j| j.carrier(ControlKind::Rain)) else { continue };
        let reversed = match carrier.lap {
            Some(Lap::Over | Lap::Through) => continue,
            Some(Lap::Under) => true,
            None => false,
        };
        let key = (edge_word(junction.kind), pair(building, junction), reversed);
        found.entry(key).or_default().push(junction);
    }
    let gap = |((edge, pair, reversed), junctions): ((&'static str, String, bool), Vec<&Junction>)| {
        let (kind, sentence) = if reversed {
            let words = format!(
                "At {pair}, {edge}, the upper piece ends behind the lower one: rain water is led in, not shed."
            );
            (GapKind::ReversedLap, words)
        } else {
            let words = format!("At {pair}, {edge}, nobody has said which piece laps over which.");
            (GapKind::DrainageUnknown, words)
        };
        let word = if reversed { "reversed lap" } else { "lap" };
        let close = if reversed {
            "turn the lap round on site, then write lap = \"over\"".to_owned()
        } else {
            format!(
                "[joint.\"{pair}\"] rain = {{ how = \"…\", lap = \"over\" }}; a piece without a lap: \"through\""
            )
        };
        Gap {
            id: format!("rain.{word}.{edge}.{pair}"),
            item: format!("joint.\"{pair}\""),
            close,
            ..rain(kind, sentence, &junctions)
        }
    };
    found.into_iter().map(gap).collect()
}

/// A gap of the rain layer along junctions; id, item and what closes it follow.
fn rain(kind: GapKind, sentence: String, junctions: &[&Junction]) -> Gap {
    Gap {
        id: String::new(),
        control: ControlKind::Rain,
        also: Vec::new(),
        kind,
        item: String::new(),
        sentence,
        close: String::new(),
        places: junctions.iter().map(|j| j.name.clone()).collect(),
        count: 1,
        length_m: junctions.iter().map(|j| j.length_m).sum(),
        lines_m: junctions.iter().flat_map(|j| lines(j)).collect(),
        outlines_m: Vec::new(),
    }
}

/// Sills and thresholds: pan, end dams, slope and a way out. Those without a word about rain are told of as open
/// joints first; there is nothing to drain yet.
fn bottoms(building: &Building, kind: JunctionKind, plans: &[SillPlan]) -> Vec<Gap> {
    let usual = plans.iter().find(|p| p.at.is_none());
    let mut found: BTreeMap<(String, String), (Judged, Vec<&Junction>)> = BTreeMap::new();
    for junction in building.junctions.iter().filter(|j| j.kind == kind) {
        if !needed(building, junction, ControlKind::Rain) {
            continue;
        }
        let opening = junction.opening.map_or("", |id| building.openings[id.0].name.as_str());
        let own = plans.iter().find(|p| p.at.as_deref() == Some(opening));
        let carried = junction.joint.is_some_and(|n| building.joints[n].carrier(ControlKind::Rain).is_some());
        let plan = own.or(usual);
        if plan.is_none() && !carried {
            continue;
        }
        let judged = judge(building, plan.unwrap_or(&SillPlan::default()));
        let place = own.map_or_else(String::new, |_| opening.to_owned());
        found
            .entry((pair(building, junction), place))
            .or_insert_with(|| (judged, Vec::new()))
            .1
            .push(junction);
    }
    let mut out = Vec::new();
    for ((pair, place), (judged, junctions)) in &found {
        out.extend(bottom(kind.word(), pair, place, judged, junctions));
    }
    out
}

/// What is wrong with a sill, and what nobody has said about it.
#[derive(Default)]
struct Judged {
    wrong: Vec<&'static str>,
    unknown: Vec<&'static str>,
}

fn judge(building: &Building, plan: &SillPlan) -> Judged {
    let mut judged = Judged::default();
    let mut way = |way: &Option<Way>, wrong, unknown| match way {
        Some(Way::Is(_)) => {}
        Some(Way::Missing) => judged.wrong.push(wrong),
        None => judged.unknown.push(unknown),
    };
    way(&plan.pan, "there is no pan under the frame", "what its pan is");
    way(&plan.out, "the water has no way out", "where the water leaves");
    match plan.end_dams {
        Some(true) => {}
        Some(false) => judged.wrong.push("the pan's ends are not turned up"),
        None => judged.unknown.push("whether its ends are turned up"),
    }
    match plan.slope.map(|key| building.values.nominal_of(key)) {
        Some(slope) if slope > 0.0 => {}
        Some(_) => judged.wrong.push("it does not fall to the outside"),
        None => judged.unknown.push("how it falls"),
    }
    judged
}

fn bottom(
    word: &'static str,
    pair: &str,
    place: &str,
    judged: &Judged,
    junctions: &[&Junction],
) -> impl Iterator<Item = Gap> {
    let at = if place.is_empty() { String::new() } else { format!(" of {place}") };
    let suffix = if place.is_empty() { String::new() } else { format!(", {place}") };
    let table = if place.is_empty() {
        format!("[drainage.{word}]")
    } else {
        format!("[drainage.{word}.except.{place}]")
    };
    let close = format!("{table} pan = \"…\", end-dams = true, slope = \"6 deg\", out = \"…\"");
    let dead = (!judged.wrong.is_empty()).then(|| Gap {
        id: format!("rain.dead-end.{word}.{pair}{suffix}"),
        item: format!("drainage.{word}"),
        close: close.clone(),
        ..rain(
            GapKind::DeadEnd,
            format!("At the {word}{at} ({pair}) {}: rain water ends in the wall.", list(&judged.wrong)),
            junctions,
        )
    });
    let open = (!judged.unknown.is_empty()).then(|| Gap {
        id: format!("rain.drainage.{word}.{pair}{suffix}"),
        item: format!("drainage.{word}"),
        close,
        ..rain(
            GapKind::DrainageUnknown,
            format!("At the {word}{at} ({pair}) nobody has said {}.", list(&judged.unknown)),
            junctions,
        )
    });
    dead.into_iter().chain(open)
}

/// Air spaces open to the outside air, outside of the insulation: water behind the cladding runs down in them.
fn drained_gaps(building: &Building) -> Vec<Gap> {
    let mut out = Vec::new();
    for (n, assembly) in building.assemblies.iter().enumerate() {
        let id = AssemblyId(n);
        let inner = assembly
            .control_layers(ControlKind::Heat)
            .chain(assembly.control_layers(ControlKind::Air))
            .min()
            .unwrap_or(assembly.layers.len());
        let drained = assembly.layers[..inner].iter().any(|layer| {
            matches!(layer.kind, LayerKind::Air { ventilation: AirSpace::Slightly | AirSpace::Well, .. })
        });
        if !drained || !faces_outside(building, id) {
            continue;
        }
        let plan = building.drainage.gaps.iter().find(|g| g.assembly == assembly.name);
        let ends =
            [("bottom", plan.and_then(|p| p.bottom.as_ref())), ("top", plan.and_then(|p| p.top.as_ref()))];
        let missing: Vec<&str> =
            ends.iter().filter(|(_, way)| *way == Some(&Way::Missing)).map(|(end, _)| *end).collect();
        let unknown: Vec<&str> = ends.iter().filter(|(_, way)| way.is_none()).map(|(end, _)| *end).collect();
        let name = &assembly.name;
        let mut push = |kind: GapKind, word: &str, sentence: String| {
            out.push(Gap {
                id: format!("rain.{word}.gap.{name}"),
                item: format!("assembly.{name}.layers"),
                close: format!("[drainage.gap.{name}] bottom = \"…\", top = \"…\""),
                places: vec![name.clone()],
                outlines_m: of(building, id),
                ..rain(kind, sentence, &[])
            });
        };
        if !missing.is_empty() {
            let sentence = format!(
                "The drained gap of {name} has no {}: water and air come to a dead end in it.",
                missing.join(" and no ")
            );
            push(GapKind::DeadEnd, "dead-end", sentence);
        }
        if !unknown.is_empty() {
            let sentence = format!(
                "The drained gap of {name}: nobody has said where its {} {}.",
                unknown.join(" and its "),
                if unknown.len() == 1 { "is" } else { "are" }
            );
            push(GapKind::DrainageUnknown, "drainage", sentence);
        }
    }
    out
}

/// A flat roof behind a parapet is a basin: somebody must say where it empties.
fn roofs(building: &Building) -> Vec<Gap> {
    let mut seen: Vec<AssemblyId> = Vec::new();
    let mut out = Vec::new();
    for roof in building.storeys.iter().filter_map(|s| s.roof.as_ref()) {
        let basin = matches!(roof.form, RoofShape::Flat) && roof.parapet_m > 0.0;
        if !basin || seen.contains(&roof.assembly) || !faces_outside(building, roof.assembly) {
            continue;
        }
        seen.push(roof.assembly);
        let name = &building.assemblies[roof.assembly.0].name;
        let way = building.drainage.roofs.iter().find(|(assembly, _)| assembly == name).map(|(_, way)| way);
        let (kind, word, sentence) = match way {
            Some(Way::Is(_)) => continue,
            Some(Way::Missing) => (
                GapKind::DeadEnd,
                "dead-end",
                format!("The roof {name} lies behind a parapet and its water has no way out."),
            ),
            None => (
                GapKind::DrainageUnknown,
                "drainage",
                format!("The roof {name} lies behind a parapet: nobody has said where its water leaves."),
            ),
        };
        out.push(Gap {
            id: format!("rain.{word}.roof.{name}"),
            item: format!("assembly.{name}"),
            close: format!("[drainage.roof.{name}] out = \"…\""),
            places: vec![name.clone()],
            outlines_m: of(building, roof.assembly),
            ..rain(kind, sentence, &[])
        });
    }
    out
}

/// Outlines of an assembly's faces to the open.
fn of(building: &Building, id: AssemblyId) -> Vec<Vec<[f64; 3]>> {
    let found: Vec<_> = building
        .elements
        .iter()
        .filter(|e| e.assembly == id && e.beyond == crate::model::Beyond::Outside)
        .collect();
    super::layers::outlines(&found)
}
