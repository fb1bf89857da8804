//! The enclosure of a model from above: each storey a piece, our faces numbered, the neighbours' in thin lines.

use building::Building;
use building::geometry::Polygon;
use building::model::{AssemblyId, Beyond, Element, ElementKind, RoofShape, Storey};

use super::assemblies::{anchor, neighbour_words};
use crate::draw::axonometric::{Axonometric, Face, FaceKind, Piece};
use crate::sheet::fabric::FaceLine;
use crate::sheet::where_we_stand::capital;

/// How far a storey is lifted off the one below, m.
const LIFT_M: f64 = 4.2;

/// Makes the axonometric and the list of its numbered faces; `None` when no storey is drawn.
pub fn axonometric(building: &Building) -> Option<(Axonometric, Vec<FaceLine>)> {
    if building.storeys.is_empty() {
        return None;
    }
    let mut draft = Draft { building, lines: Vec::new() };
    let mut pieces = Vec::new();
    for index in 0..building.storeys.len() {
        pieces.push(draft.piece(index));
    }
    let (sin, cos) = (
        numeric::scalar::sin(building.site.north_deg.to_radians()),
        numeric::scalar::cos(building.site.north_deg.to_radians()),
    );
    // Plan-up points to `north_deg` clockwise from true north, so true north lies that far counter-clockwise of it.
    let north = [-sin, cos];
    let faces: Vec<&str> = draft.lines.iter().map(|l| l.words.as_str()).collect();
    let drawing = Axonometric {
        id: "axonometric".into(),
        title: format!("The enclosure of {} from above", building.project.name),
        description: format!(
            "{} storeys, each lifted off the one below. Numbered faces: {}.",
            building.storeys.len(),
            faces.join("; ")
        ),
        pieces,
        north,
    };
    Some((drawing, draft.lines))
}

struct Draft<'a> {
    building: &'a Building,
    lines: Vec<FaceLine>,
}

impl<'a> Draft<'a> {
    fn piece(&mut self, index: usize) -> Piece {
        let storey = &self.building.storeys[index];
        let outline = &storey.outside;
        let lift = LIFT_M * index as f64;
        let (low, high) = (self.low(index), self.high(index));
        let ours = self.elements_of(index);
        let mut faces = Vec::new();
        for edge in 0..outline.len() {
            faces.push(self.wall(index, edge, low, high, &ours));
        }
        match &storey.roof {
            Some(roof) => {
                for corners in roof_planes(storey, high) {
                    let kind = kind_of(roof.beyond);
                    faces.push(self.face(
                        corners,
                        kind,
                        roof.assembly,
                        roof.beyond,
                        format!("{} roof", storey.name),
                    ));
                }
            }
            None => faces.push(self.top(index, high)),
        }
        let feet = outline.corners().iter().map(|c| [c[0], c[1], low]).collect();
        Piece { faces, lift, feet: if index == 0 { Vec::new() } else { feet } }
    }

    fn low(&self, index: usize) -> f64 {
        let storey = &self.building.storeys[index];
        match index {
            0 => storey.floor_level_m.min(self.building.site.ground_level_m),
            _ => self.high(index - 1),
        }
    }

    /// Top of a storey's walls at the eaves, roof build-up included.
    fn high(&self, index: usize) -> f64 {
        let storey = &self.building.storeys[index];
        let top = storey.floor_level_m + storey.height_m;
        let roof = storey.roof.as_ref().map_or(0.0, |r| {
            self.building.assemblies.get(r.assembly.0).map_or(0.0, |a| a.thickness_m) + r.parapet_m
        });
        top + roof
    }

    fn elements_of(&self, index: usize) -> Vec<&'a Element> {
        let building: &'a Building = self.building;
        let storey = &building.storeys[index];
        building.elements.iter().filter(|e| storey.spaces.contains(&e.space)).collect()
    }

    fn wall(&mut self, index: usize, edge: usize, low: f64, high: f64, ours: &[&Element]) -> Face {
        let storey = &self.building.storeys[index];
        let (a, b) = storey.outside.edge(edge);
        let corners = wall_corners(storey, a, b, low, high);
        let mine: Vec<&&Element> =
            ours.iter().filter(|e| e.kind == ElementKind::Wall && e.side == Some(edge)).collect();
        let openings = self.openings(storey, edge, &mine);
        let side = &storey.sides[edge];
        if mine.is_empty() {
            return Face {
                corners,
                kind: FaceKind::Neighbour,
                parts: Vec::new(),
                openings,
                number: None,
                label: format!("{} {}, not ours", storey.name, side.name),
                href: None,
            };
        }
        let words = format!("{} wall {}", storey.name, side.name);
        // A side where only part of the wall is ours keeps thin lines; its share is said in the list.
        let length: f64 = mine.iter().map(|e| e.gross_m2).sum::<f64>() / storey.height_m.max(0.1);
        let part = length < storey.outside.edge_length(edge) * 0.6;
        let words = if part { format!("{words}, the part that is ours") } else { words };
        let mut face = self.face(corners, kind_of(side.beyond), side.assembly, side.beyond, words);
        if part && face.kind == FaceKind::Ours {
            face.kind = FaceKind::Neighbour;
            face.parts = mine.iter().filter_map(|e| part_of_side(storey, edge, e)).collect();
        }
        face.openings = openings;
        face
    }

    fn openings(&self, storey: &Storey, edge: usize, mine: &[&&Element]) -> Vec<Vec<[f64; 3]>> {
        let along = storey.outside.along(edge);
        let outward = storey.outside.outward(edge);
        let mut frames = Vec::new();
        for opening in mine.iter().flat_map(|e| &e.openings).filter_map(|id| self.building.openings.get(id.0))
        {
            let out = storey.outside.distance_out(edge, [opening.centre_m[0], opening.centre_m[1]]);
            // The frame is drawn on the wall's outside face.
            let centre = [opening.centre_m[0] - outward[0] * out, opening.centre_m[1] - outward[1] * out];
            let (half, tall) = (opening.width_m / 2.0, opening.height_m / 2.0);
            let corner = |s: f64, t: f64| {
                [
                    centre[0] + along[0] * half * s,
                    centre[1] + along[1] * half * s,
                    opening.centre_m[2] + tall * t,
                ]
            };
            frames.push(vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]);
        }
        frames
    }

    /// The level top of a storey without a roof: the floor of the one above, party or ours.
    fn top(&mut self, index: usize, high: f64) -> Face {
        let storey = &self.building.storeys[index];
        let corners: Vec<[f64; 3]> = storey.outside.corners().iter().map(|c| [c[0], c[1], high]).collect();
        let above = self.elements_of((index + 1).min(self.building.storeys.len() - 1));
        let party = above
            .iter()
            .filter(|e| e.kind == ElementKind::Floor && matches!(e.beyond, Beyond::Neighbour(_)))
            .max_by(|a, b| a.net_m2.total_cmp(&b.net_m2));
        match party {
            Some(floor) => {
                let name = self.building.storeys.get(index + 1).map_or("", |s| s.name.as_str());
                self.face(corners, FaceKind::Party, floor.assembly, floor.beyond, format!("{name} floor"))
            }
            None => Face {
                corners,
                kind: FaceKind::Neighbour,
                parts: Vec::new(),
                openings: Vec::new(),
                number: None,
                label: format!("top of {}", storey.name),
                href: None,
            },
        }
    }

    /// A numbered face with its line in the list. Faces that look away are numbered too: the list is whole.
    fn face(
        &mut self,
        corners: Vec<[f64; 3]>,
        kind: FaceKind,
        assembly: AssemblyId,
        beyond: Beyond,
        words: String,
    ) -> Face {
        let href = format!("#{}", anchor(self.building, assembly));
        let beyond = match beyond {
            Beyond::Outside => String::new(),
            Beyond::Ground => ", to ground".to_owned(),
            Beyond::Neighbour(n) => format!(", party to {}", neighbour_words(self.building, n)),
            Beyond::Space(_) => ", to a room of ours".to_owned(),
        };
        let name =
            self.building.assemblies.get(assembly.0).map_or("", |a| a.name.as_str()).replace(['-', '_'], " ");
        let words = format!("{}{beyond}: {name}", capital(&words));
        let number = self.lines.len() + 1;
        self.lines.push(FaceLine { number, words: words.clone(), href: href.clone() });
        Face {
            corners,
            kind,
            parts: Vec::new(),
            openings: Vec::new(),
            number: Some(number),
            label: words,
            href: Some(href),
        }
    }
}

/// The piece of a side that an element covers, on the outside face; `None` for an element that is not drawn.
fn part_of_side(storey: &Storey, edge: usize, element: &Element) -> Option<Vec<[f64; 3]>> {
    let places = element.outline_m.iter().map(|c| storey.outside.coordinate(edge, [c[0], c[1]]));
    let heights = element.outline_m.iter().map(|c| c[2]);
    let reach = |values: &mut dyn Iterator<Item = f64>| {
        values.fold(None, |r: Option<[f64; 2]>, v| Some(r.map_or([v, v], |[l, h]| [l.min(v), h.max(v)])))
    };
    let ([from, to], [low, high]) = (reach(&mut places.into_iter())?, reach(&mut heights.into_iter())?);
    let (a, b) = (storey.outside.point_at(edge, from), storey.outside.point_at(edge, to));
    Some(vec![[a[0], a[1], low], [b[0], b[1], low], [b[0], b[1], high], [a[0], a[1], high]])
}

fn kind_of(beyond: Beyond) -> FaceKind {
    match beyond {
        Beyond::Neighbour(_) => FaceKind::Party,
        _ => FaceKind::Ours,
    }
}

/// Corners of a wall, counter-clockwise from outside, its head following the roof.
fn wall_corners(storey: &Storey, a: [f64; 2], b: [f64; 2], low: f64, high: f64) -> Vec<[f64; 3]> {
    let rise = |p: [f64; 2]| rise_at(storey, p);
    let mut head = vec![(1.0, b), (0.0, a)];
    if let Some(roof) = &storey.roof
        && let RoofShape::Gable { across, ridge_at_m, .. } = roof.form
    {
        let at = |p: [f64; 2]| p[0] * across[0] + p[1] * across[1] - ridge_at_m;
        let (u, v) = (at(a), at(b));
        if u * v < 0.0 {
            let share = u / (u - v);
            head.insert(1, (share, [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]));
        }
    }
    let mut corners = vec![[a[0], a[1], low], [b[0], b[1], low]];
    corners.extend(head.into_iter().map(|(_, p)| [p[0], p[1], high + rise(p)]));
    corners
}

fn rise_at(storey: &Storey, p: [f64; 2]) -> f64 {
    // The outside face lies beyond the inside outline on which the form rests; below the eaves nothing is drawn.
    storey.roof.as_ref().map_or(0.0, |r| r.form.rise_m(&storey.inside, p).max(0.0))
}

/// Plane pieces of a roof over the outside outline.
fn roof_planes(storey: &Storey, eaves: f64) -> Vec<Vec<[f64; 3]>> {
    let lift =
        |points: &[[f64; 2]]| points.iter().map(|p| [p[0], p[1], eaves + rise_at(storey, *p)]).collect();
    let whole = storey.outside.corners();
    match storey.roof.as_ref().map(|r| r.form) {
        Some(RoofShape::Gable { across, ridge_at_m, .. }) => {
            let back = [-across[0], -across[1]];
            [half(&storey.outside, across, ridge_at_m), half(&storey.outside, back, -ridge_at_m)]
                .iter()
                .filter(|p| p.len() > 2)
                .map(|p| lift(p))
                .collect()
        }
        _ => vec![lift(whole)],
    }
}

/// Part of a polygon where `across · p` is at most `limit`.
fn half(polygon: &Polygon, across: [f64; 2], limit: f64) -> Vec<[f64; 2]> {
    let at = |p: [f64; 2]| p[0] * across[0] + p[1] * across[1] - limit;
    let mut kept = Vec::new();
    for (a, b) in polygon.edges() {
        let (u, v) = (at(a), at(b));
        if u <= 0.0 {
            kept.push(a);
        }
        if u * v < 0.0 {
            let share = u / (u - v);
            kept.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
        }
    }
    kept
}
