//! Counting rules: floor area, volume and enclosure, room by room, and what makes two rules differ.
//!
//! The rules are data (`data/counting_rules.toml`). [`count`] applies one to a building and shows its working;
//! [`differences`] lists the items that two counts disagree about, largest first.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use crate::geometry::low_headroom_m2;
use crate::model::{Beyond, Building, ElementKind, Space, SpaceId};

/// One counting rule.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Rule {
    /// Stable id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// What it counts, one sentence.
    pub about: String,
    /// Space above dropped ceilings is volume.
    pub ceiling_voids: bool,
    /// Holes in floors count as floor.
    pub floor_holes_in_area: bool,
    /// Holes through floors count as volume.
    pub floor_holes_in_volume: bool,
    /// Inside reveals deeper than this add their volume, m.
    pub reveals_deeper_than_m: Option<f64>,
    /// Beams, posts and shafts of a larger section are taken off, m².
    pub deduct_sections_over_m2: Option<f64>,
    /// Floor with little headroom counts less; rising heights.
    #[serde(default)]
    pub headroom: Vec<Headroom>,
    /// Weight of a kind of room as floor, by its word; kinds not named count whole.
    #[serde(default)]
    pub floor_weight: BTreeMap<String, f64>,
    /// Where the rule comes from and how it was seen.
    pub source: String,
}

/// Weight of floor with little headroom.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Headroom {
    /// Clear height under which it holds, m.
    pub under_m: f64,
    /// Weight, 0 to 1.
    pub weight: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    rule: Vec<Rule>,
}

/// Returns the built-in rules.
///
/// # Panics
/// Never in a tested build: the table is part of the program and a unit test reads it.
pub fn rules() -> &'static [Rule] {
    static RULES: OnceLock<Vec<Rule>> = OnceLock::new();
    RULES.get_or_init(|| {
        let file: File = toml::from_str(include_str!("../data/counting_rules.toml")).expect("read by a test");
        file.rule
    })
}

/// Returns a built-in rule by id.
pub fn rule(id: &str) -> Option<&'static Rule> {
    rules().iter().find(|rule| rule.id == id)
}

/// Returns the rule by which very-low-energy limits are usually counted.
pub fn certification_style() -> &'static Rule {
    rule("certification-style").unwrap_or(&rules()[0])
}

/// Returns the pressure-test standard's own rule.
pub fn test_standard() -> &'static Rule {
    rule("test-standard").unwrap_or(&rules()[0])
}

/// A line of the working.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What is counted: a room's label, a hole, a reveal, a beam.
    pub item: String,
    /// The room, for rows of rooms.
    pub space: Option<SpaceId>,
    /// Counted floor, m²; negative when taken off.
    pub area_m2: f64,
    /// Height by which it is multiplied, m; 0 where volume is not area times height.
    pub height_m: f64,
    /// Counted volume, m³; negative when taken off.
    pub volume_m3: f64,
    /// Why it counts as it does.
    pub why: String,
}

/// A building counted by one rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Count {
    /// Rule's id.
    pub rule: String,
    /// Working, rooms first.
    pub rows: Vec<Row>,
    /// Reference floor area, m².
    pub floor_area_m2: f64,
    /// Volume, m³.
    pub volume_m3: f64,
    /// Enclosure by inside faces, party surfaces and ground included, m².
    pub enclosure_m2: f64,
    /// Part of the enclosure shared with neighbours, m².
    pub party_m2: f64,
    /// Enclosure by surface, m², in a fixed order.
    pub surfaces: Vec<(String, f64)>,
}

/// Counts a building by a rule.
pub fn count(building: &Building, rule: &Rule) -> Count {
    let mut rows: Vec<Row> = building
        .spaces
        .iter()
        .enumerate()
        .flat_map(|(i, space)| space_rows(building, SpaceId(i), space, rule))
        .collect();
    rows.extend(hole_rows(building, rule));
    rows.extend(reveal_rows(building, rule));
    rows.extend(obstruction_rows(building, rule));
    let surfaces = surfaces(building);
    let party = |e: &&crate::model::Element| e.in_enclosure && matches!(e.beyond, Beyond::Neighbour(_));
    Count {
        rule: rule.id.clone(),
        floor_area_m2: rows.iter().map(|row| row.area_m2).sum(),
        volume_m3: rows.iter().map(|row| row.volume_m3).sum(),
        enclosure_m2: surfaces.iter().map(|(_, area)| area).sum(),
        party_m2: building.elements.iter().filter(party).map(|e| e.gross_m2).sum(),
        surfaces,
        rows,
    }
}

fn space_rows(building: &Building, id: SpaceId, space: &Space, rule: &Rule) -> Vec<Row> {
    let weight = rule.floor_weight.get(space.kind.word()).copied().unwrap_or(1.0);
    let storey = &building.storeys[space.storey.0];
    let low = low_headroom_m2(storey, space);
    // Each band of headroom counts what the band below it has not counted yet.
    let (mut lost, mut below) = (0.0, 0.0);
    for band in &rule.headroom {
        let under = low(band.under_m);
        lost += (under - below).max(0.0) * (1.0 - band.weight);
        below = under;
    }
    let hole: f64 =
        building.floor_openings.iter().filter(|hole| hole.upper == id).map(|hole| hole.area_m2).sum();
    let without_hole = if rule.floor_holes_in_area { 0.0 } else { hole.min(space.area_m2) };
    let height = if rule.ceiling_voids { space.clear_m } else { space.ceiling_m };
    let mut why = Vec::new();
    if weight != 1.0 {
        why.push(format!("{} counts {:.0} %", space.kind.word(), 100.0 * weight));
    }
    if without_hole > 0.0 {
        why.push("without the hole of the stair".to_owned());
    }
    if lost > 0.0 {
        why.push(format!("{lost:.1} m² lost to low headroom"));
    }
    if space.void_m3 > 0.0 {
        why.push(format!("void over the ceiling {}", if rule.ceiling_voids { "in" } else { "out" }));
    }
    vec![Row {
        item: space.label.clone(),
        space: Some(id),
        area_m2: weight * (space.area_m2 - without_hole - lost),
        height_m: height,
        volume_m3: space.area_m2 * height,
        why: why.join("; "),
    }]
}

fn hole_rows(building: &Building, rule: &Rule) -> Vec<Row> {
    let row = |hole: &crate::model::FloorOpening| Row {
        item: format!("Opening through the floor, {}", hole.name),
        space: None,
        area_m2: 0.0,
        height_m: hole.thickness_m,
        volume_m3: if rule.floor_holes_in_volume { hole.volume_m3() } else { 0.0 },
        why: format!("{:.2} m² through {:.2} m of floor", hole.area_m2, hole.thickness_m),
    };
    building.floor_openings.iter().map(row).collect()
}

fn reveal_rows(building: &Building, rule: &Rule) -> Vec<Row> {
    let Some(limit) = rule.reveals_deeper_than_m else { return Vec::new() };
    let deep = building.openings.iter().filter(|o| o.reveal_inside_m > limit);
    let row = |o: &crate::model::Opening| Row {
        item: format!("Reveal of {}", o.name),
        space: None,
        area_m2: 0.0,
        height_m: o.reveal_inside_m,
        volume_m3: o.area_m2 * o.reveal_inside_m,
        why: format!("{:.0} mm deep, over {:.0} mm", 1000.0 * o.reveal_inside_m, 1000.0 * limit),
    };
    deep.map(row).collect()
}

fn obstruction_rows(building: &Building, rule: &Rule) -> Vec<Row> {
    let Some(limit) = rule.deduct_sections_over_m2 else { return Vec::new() };
    let row = |o: &crate::model::Obstruction| {
        let taken = o.section_m2 > limit;
        let side = if taken { "over" } else { "under" };
        Row {
            item: o.name.clone(),
            space: o.space,
            area_m2: if taken { -o.floor_area_m2 } else { 0.0 },
            height_m: 0.0,
            volume_m3: if taken { -o.volume_m3 } else { 0.0 },
            why: format!("section {:.3} m², {side} {limit} m²; {:.1} m³ in all", o.section_m2, o.volume_m3),
        }
    };
    building.obstructions.iter().map(row).collect()
}

/// Enclosure by kind of surface and what lies beyond, m², inside faces, openings included.
fn surfaces(building: &Building) -> Vec<(String, f64)> {
    let mut sums: BTreeMap<(usize, ElementKind, Beyond), f64> = BTreeMap::new();
    for element in building.elements.iter().filter(|e| e.in_enclosure) {
        let storey = element.storey.map_or(usize::MAX, |s| s.0);
        *sums.entry((storey, element.kind, element.beyond)).or_default() += element.gross_m2;
    }
    let name = |(storey, kind, beyond): (usize, ElementKind, Beyond)| {
        let storey = building.storeys.get(storey).map_or("listed", |s| s.name.as_str());
        let kind = match kind {
            ElementKind::Wall => "walls",
            ElementKind::FloorBand => "edge of the floor above",
            ElementKind::Roof => "roof",
            ElementKind::Floor => "floor",
            ElementKind::GroundFloor => "ground floor",
            ElementKind::Partition => "partitions",
            ElementKind::InnerFloor => "inner floor",
        };
        let to = match beyond {
            Beyond::Outside => "the open".to_owned(),
            Beyond::Ground => "ground".to_owned(),
            Beyond::Neighbour(n) => building.neighbours[n.0].name.clone(),
            Beyond::Space(s) => building.spaces[s.0].name.clone(),
        };
        format!("{storey}: {kind} to {to}")
    };
    sums.into_iter().map(|(key, area)| (name(key), area)).collect()
}

/// An item that two counts see differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// What.
    pub item: String,
    /// Second less first, m².
    pub area_m2: f64,
    /// Second less first, m³.
    pub volume_m3: f64,
    /// The working of both.
    pub why: String,
}

/// Returns the items by which the second count differs from the first, largest volume first.
pub fn differences(first: &Count, second: &Count) -> Vec<Difference> {
    let mut items: Vec<&str> = Vec::new();
    for row in first.rows.iter().chain(&second.rows) {
        if !items.contains(&row.item.as_str()) {
            items.push(&row.item);
        }
    }
    let sum = |count: &Count, item: &str| {
        let rows = count.rows.iter().filter(|row| row.item == item);
        rows.fold((0.0, 0.0, String::new()), |(a, v, _), row| {
            (a + row.area_m2, v + row.volume_m3, row.why.clone())
        })
    };
    let mut out: Vec<Difference> = items
        .into_iter()
        .map(|item| {
            let ((a1, v1, w1), (a2, v2, w2)) = (sum(first, item), sum(second, item));
            let why = if w1 == w2 { w1 } else { [w1, w2].join(" / ") };
            Difference { item: item.to_owned(), area_m2: a2 - a1, volume_m3: v2 - v1, why }
        })
        .filter(|d| d.area_m2.abs() > 1e-9 || d.volume_m3.abs() > 1e-9)
        .collect();
    let size = |d: &Difference| (d.volume_m3.abs(), d.area_m2.abs());
    out.sort_by(|x, y| size(y).0.total_cmp(&size(x).0).then(size(y).1.total_cmp(&size(x).1)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_rules_are_readable_and_named() {
        let ids: Vec<&str> = rules().iter().map(|rule| rule.id.as_str()).collect();
        assert_eq!(ids, ["test-standard", "certification-style", "certification-style-secondary"]);
        let words: Vec<&str> = crate::plan::SpaceKind::ALL.iter().map(|(_, word)| *word).collect();
        for rule in rules() {
            assert!(!rule.source.is_empty());
            assert!(rule.floor_weight.keys().all(|kind| words.contains(&kind.as_str())));
            assert!(rule.headroom.windows(2).all(|pair| pair[0].under_m < pair[1].under_m));
        }
    }
}
