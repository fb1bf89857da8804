//! Opaque elements: walls by side and room, bands at floor edges, partitions, listed ones. Roofs and floors: `decks`.

use super::Derivation;
use super::shape::{Shape, turned};
use super::walls::{self, Piece};
use crate::geometry::{Polygon, intersection};
use crate::model::{
    Assembly, AssemblyId, Beyond, Element, ElementKind, Neighbour, RoofShape, Site, SpaceId, StoreyId,
};

/// Storeys and what lies over and under them.
pub(super) struct Stack {
    /// For each storey the gaps to the ones right above, m.
    pub above: Vec<Vec<(StoreyId, f64)>>,
    pub has_rest: Vec<bool>,
}

impl Stack {
    /// Returns the storey over a point of a storey, with the gap between ceiling and floor, m.
    fn over(&self, shape: &Shape, storey: StoreyId, p: [f64; 2]) -> Option<(StoreyId, f64)> {
        let covers = |s: StoreyId| shape.region(s, self.has_rest[s.0]).iter().any(|r| r.holds(p, 1e-6));
        self.above[storey.0].iter().copied().find(|&(s, _)| covers(s))
    }
}

/// What a new element starts from.
pub(super) struct Blank {
    pub name: String,
    pub kind: ElementKind,
    pub assembly: AssemblyId,
    pub space: SpaceId,
    pub beyond: Beyond,
    pub storey: StoreyId,
}

impl Blank {
    pub fn element(self, gross_m2: f64, outside_m2: f64, azimuth_deg: f64, tilt_deg: f64) -> Element {
        Element {
            in_enclosure: !matches!(self.beyond, Beyond::Space(_)),
            name: self.name,
            kind: self.kind,
            assembly: self.assembly,
            space: self.space,
            beyond: self.beyond,
            storey: Some(self.storey),
            side: None,
            gross_m2,
            net_m2: gross_m2,
            net_outside_m2: outside_m2,
            azimuth_deg,
            tilt_deg,
            openings: Vec::new(),
            exposed_perimeter_m: 0.0,
            depth_below_ground_m: 0.0,
            mid_height_m: 0.0,
            outline_m: Vec::new(),
        }
    }
}

impl Derivation<'_> {
    pub(super) fn elements(
        &mut self,
        site: &Site,
        assemblies: &[Assembly],
        neighbours: &[Neighbour],
        shape: &Shape,
    ) -> Vec<Element> {
        let stack = self.stack(shape);
        let mut out = Vec::new();
        for i in 0..shape.storeys.len() {
            let storey = StoreyId(i);
            self.side_walls(site, assemblies, shape, &stack, storey, &mut out);
            self.rest_walls(site, assemblies, neighbours, shape, &stack, storey, &mut out);
            self.roofs(assemblies, shape, &stack, storey, &mut out);
            self.floors(assemblies, neighbours, shape, &stack, storey, &mut out);
            self.partitions(assemblies, shape, storey, &mut out);
        }
        self.listed(site, assemblies, neighbours, shape, &mut out);
        for element in &mut out {
            if element.mid_height_m == 0.0 && !element.outline_m.is_empty() {
                let n = element.outline_m.len() as f64;
                element.mid_height_m =
                    element.outline_m.iter().map(|p| p[2]).sum::<f64>() / n - site.ground_level_m;
            }
        }
        out
    }

    pub(super) fn has_rest(&self, shape: &Shape, storey: StoreyId) -> bool {
        self.plan.storeys[shape.storey_plans[storey.0]].rest.is_some()
    }

    /// Finds which storey stands on which, and reports storeys that run into one another.
    fn stack(&mut self, shape: &Shape) -> Stack {
        let n = shape.storeys.len();
        let has_rest: Vec<bool> = (0..n).map(|i| self.has_rest(shape, StoreyId(i))).collect();
        let mut above: Vec<Vec<(StoreyId, f64)>> = vec![Vec::new(); n];
        for low in 0..n {
            for high in low + 1..n {
                let shared: f64 = overlap(shape, &has_rest, StoreyId(low), StoreyId(high));
                if shared < 0.01 {
                    continue;
                }
                let (a, b) = (&shape.storeys[low], &shape.storeys[high]);
                let gap = b.floor_level_m - a.floor_level_m - a.height_m;
                // A storey two floors up is not right above where one in between covers the same ground.
                let between = (low + 1..high).any(|mid| {
                    above[low].iter().any(|(s, _)| s.0 == mid)
                        && overlap(shape, &has_rest, StoreyId(mid), StoreyId(high)) > 0.99 * shared
                });
                if gap < -1e-6 {
                    let message = format!(
                        "\"{}\" starts {:.2} m under the ceiling of \"{}\", which lies below it",
                        b.name, -gap, a.name
                    );
                    self.error(
                        "geometry",
                        format!("storey.{}.floor-level", b.name),
                        message,
                        "check levels and heights",
                    );
                } else if !between {
                    above[low].push((StoreyId(high), gap));
                }
            }
        }
        Stack { above, has_rest }
    }

    fn side_walls(
        &mut self,
        site: &Site,
        assemblies: &[Assembly],
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
        out: &mut Vec<Element>,
    ) {
        let s = &shape.storeys[storey.0];
        for piece in walls::pieces(shape, storey, stack.has_rest[storey.0]) {
            let side = &s.sides[piece.side];
            let (from, to) =
                (s.inside.point_at(piece.side, piece.from), s.inside.point_at(piece.side, piece.to));
            let middle = s.inside.point_at(piece.side, 0.5 * (piece.from + piece.to));
            let [nx, ny] = s.inside.outward(piece.side);
            let over = stack.over(shape, storey, [middle[0] - 0.05 * nx, middle[1] - 0.05 * ny]);
            let roof = s.roof.as_ref().filter(|_| over.is_none());
            let form = roof.map_or(RoofShape::Flat, |r| r.form);
            let (height, _) = form.along_edge(&s.inside, from, to, s.height_m);
            let length = piece.to - piece.from;
            let outside_length = outside_length(shape, storey, &piece);
            let above = roof.map_or(0.0, |r| assemblies[r.assembly.0].thickness_m);
            let below = self.floor_thickness(assemblies, shape, stack, storey);
            let room = &shape.spaces[piece.space.0].name;
            let blank = Blank {
                name: format!("{}.{}.{room}", s.name, side.name),
                kind: ElementKind::Wall,
                assembly: side.assembly,
                space: piece.space,
                beyond: side.beyond,
                storey,
            };
            let outside = outside_length * (height + above + below);
            let mut wall = blank.element(length * height, outside, side.azimuth_deg, 90.0);
            wall.side = Some(piece.side);
            wall.outline_m = standing(s.floor_level_m, s.height_m, &form, &s.inside, from, to);
            let under = site.ground_level_m - s.floor_level_m;
            if side.beyond == Beyond::Outside && under > 0.5 * height {
                let message = format!(
                    "side {} stands {under:.1} m under the ground outside but is said to face the open",
                    side.name
                );
                let help =
                    format!("write walls.{} = {{ beyond = \"ground\" }}, or mend the levels", side.name);
                self.warning("ground", format!("storey.{}.walls.{}", s.name, side.name), message, help);
            }
            if side.beyond == Beyond::Ground {
                wall.depth_below_ground_m = under.clamp(0.0, height);
            }
            out.push(wall);
            if let Some((_, gap)) = over.filter(|(_, gap)| *gap > 1e-6) {
                let blank = Blank {
                    name: format!("{}.{} band.{room}", s.name, side.name),
                    kind: ElementKind::FloorBand,
                    assembly: side.assembly,
                    space: piece.space,
                    beyond: side.beyond,
                    storey,
                };
                let mut band = blank.element(length * gap, outside_length * gap, side.azimuth_deg, 90.0);
                band.side = Some(piece.side);
                band.outline_m =
                    standing(s.floor_level_m + s.height_m, gap, &RoofShape::Flat, &s.inside, from, to);
                out.push(band);
            }
        }
    }

    /// Thickness that a wall's outside face gains below its floor, m.
    fn floor_thickness(
        &self,
        assemblies: &[Assembly],
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
    ) -> f64 {
        let stands_on_ours = stack.above.iter().any(|above| above.iter().any(|(s, _)| *s == storey))
            && !stack.has_rest.iter().enumerate().any(|(low, rest)| *rest && low < storey.0);
        let floor = self.plan.storeys[shape.storey_plans[storey.0]].floor.as_ref();
        match floor {
            Some(plan) if !stands_on_ours => {
                assemblies.iter().find(|a| a.name == plan.assembly).map_or(0.0, |a| a.thickness_m)
            }
            _ => 0.0,
        }
    }

    /// Walls between our rooms and the neighbour that fills the rest of the storey.
    fn rest_walls(
        &mut self,
        site: &Site,
        assemblies: &[Assembly],
        neighbours: &[Neighbour],
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
        out: &mut Vec<Element>,
    ) {
        let plan = &self.plan.storeys[shape.storey_plans[storey.0]];
        let Some(rest) = &plan.rest else { return };
        let item = format!("storey.{}", plan.name);
        let all: Vec<&str> = neighbours.iter().map(|n| n.name.as_str()).collect();
        let Some(rest) = self.find("neighbour", rest, &all, &format!("{item}.rest")) else { return };
        let beyond = Beyond::Neighbour(crate::model::NeighbourId(rest));
        let pieces = walls::rest_pieces(shape, storey);
        let Some(wanted) = &plan.inner_walls else {
            if !pieces.is_empty() {
                let message = "the wall between our rooms and the rest of the storey is not named".to_owned();
                self.error(
                    "assembly",
                    format!("{item}.inner-walls"),
                    message,
                    "write inner-walls = \"an assembly\"",
                );
            }
            return;
        };
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        let Some(assembly) = self.find("assembly", wanted, &all, &format!("{item}.inner-walls")) else {
            return;
        };
        let s = &shape.storeys[storey.0];
        for piece in pieces {
            let room = &shape.spaces[piece.space.0];
            let Some(outline) = &room.outline else { continue };
            let (from, to) =
                (outline.point_at(piece.edge, piece.from), outline.point_at(piece.edge, piece.to));
            let azimuth = turned(outline.outward_azimuth_deg(piece.edge), site.north_deg);
            let length = piece.to - piece.from;
            let middle = outline.point_at(piece.edge, 0.5 * (piece.from + piece.to));
            let [nx, ny] = outline.outward(piece.edge);
            let over = stack.over(shape, storey, [middle[0] - 0.05 * nx, middle[1] - 0.05 * ny]);
            let mut push = |name: &str, kind, bottom: f64, height: f64| {
                let blank = Blank {
                    name: format!("{}.{name} {}.{}", s.name, compass(outline, piece.edge), room.name),
                    kind,
                    assembly: AssemblyId(assembly),
                    space: piece.space,
                    beyond,
                    storey,
                };
                let mut wall = blank.element(length * height, length * height, azimuth, 90.0);
                wall.outline_m = standing(bottom, height, &RoofShape::Flat, outline, from, to);
                out.push(wall);
            };
            push("party", ElementKind::Wall, s.floor_level_m, s.height_m);
            if let Some((_, gap)) = over.filter(|(_, gap)| *gap > 1e-6) {
                push("party band", ElementKind::FloorBand, s.floor_level_m + s.height_m, gap);
            }
        }
    }

    fn partitions(
        &mut self,
        assemblies: &[Assembly],
        shape: &Shape,
        storey: StoreyId,
        out: &mut Vec<Element>,
    ) {
        let plan = &self.plan.storeys[shape.storey_plans[storey.0]];
        let Some(wanted) = &plan.partitions else { return };
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        let item = format!("storey.{}.partitions", plan.name);
        let Some(assembly) = self.find("assembly", wanted, &all, &item) else { return };
        let s = &shape.storeys[storey.0];
        for wall in walls::partitions(shape, storey) {
            let (a, b) = (&shape.spaces[wall.first.0], &shape.spaces[wall.second.0]);
            let Some(outline) = &a.outline else { continue };
            let blank = Blank {
                name: format!("{}.partition.{}.{}", s.name, a.name, b.name),
                kind: ElementKind::Partition,
                assembly: AssemblyId(assembly),
                space: wall.first,
                beyond: Beyond::Space(wall.second),
                storey,
            };
            let (from, to) = (outline.point_at(wall.edge, wall.from), outline.point_at(wall.edge, wall.to));
            let area = (wall.to - wall.from) * 0.5 * (a.clear_m + b.clear_m);
            let mut element = blank.element(area, area, 0.0, 90.0);
            element.outline_m = standing(s.floor_level_m, s.height_m, &RoofShape::Flat, outline, from, to);
            out.push(element);
        }
    }

    fn listed(
        &mut self,
        site: &Site,
        assemblies: &[Assembly],
        neighbours: &[Neighbour],
        shape: &Shape,
        out: &mut Vec<Element>,
    ) {
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        for plan in &self.plan.listed_elements {
            let item = format!("element.{}", plan.name);
            let Some(assembly) = self.find("assembly", &plan.assembly, &all, &format!("{item}.assembly"))
            else {
                continue;
            };
            let space = match &plan.space {
                Some(name) => self.find("room", name, &shape.space_names(), &format!("{item}.space")),
                None if shape.spaces.len() == 1 => Some(0),
                None => {
                    let help = "write space = \"...\"";
                    self.error(
                        "element",
                        item.clone(),
                        "which room the element closes is not said".to_owned(),
                        help,
                    );
                    None
                }
            };
            let Some(space) = space else { continue };
            let area = self.number(plan.area);
            if area <= 0.0 {
                self.error(
                    "range",
                    format!("{item}.area"),
                    format!("an area of {area} m²"),
                    "it must be above zero",
                );
                continue;
            }
            let beyond = self.beyond(&plan.beyond, neighbours, &format!("{item}.beyond"));
            let place = assemblies[assembly].place;
            let tilt = plan.tilt.map_or_else(|| usual_tilt(place), |key| self.number(key));
            let kind = match place {
                crate::plan::AssemblyPlace::Roof => ElementKind::Roof,
                crate::plan::AssemblyPlace::Floor => ElementKind::Floor,
                crate::plan::AssemblyPlace::GroundFloor => ElementKind::GroundFloor,
                crate::plan::AssemblyPlace::Partition => ElementKind::Partition,
                crate::plan::AssemblyPlace::Wall => ElementKind::Wall,
            };
            if plan.azimuth.is_none() && beyond == Beyond::Outside && (1.0..179.0).contains(&tilt) {
                let message = "which way the element faces is not said".to_owned();
                self.error(
                    "element",
                    format!("{item}.azimuth"),
                    message,
                    "write azimuth = \"180 deg\" (plan azimuth)",
                );
            }
            let azimuth = turned(plan.azimuth.map_or(0.0, |key| self.number(key)), site.north_deg);
            let storey = shape.spaces[space].storey;
            let blank = Blank {
                name: plan.name.clone(),
                kind,
                assembly: AssemblyId(assembly),
                space: SpaceId(space),
                beyond,
                storey,
            };
            let mut element = blank.element(area, area, azimuth, tilt);
            let s = &shape.storeys[storey.0];
            element.mid_height_m = s.floor_level_m + 0.5 * s.height_m - site.ground_level_m;
            out.push(element);
        }
    }

    /// Elements whose openings are larger than themselves, rooms without any.
    pub(super) fn check_elements(&mut self, elements: &[Element], shape: &Shape) {
        for element in elements.iter().filter(|e| e.net_m2 < -1e-9) {
            let message = format!(
                "its openings take {:.2} m² of {:.2} m²",
                element.gross_m2 - element.net_m2,
                element.gross_m2
            );
            self.error(
                "opening",
                format!("element.{}", element.name),
                message,
                "check the sizes of its openings",
            );
        }
        for (i, space) in shape.spaces.iter().enumerate() {
            if !elements.iter().any(|e| e.space == SpaceId(i) || e.beyond == Beyond::Space(SpaceId(i))) {
                let message = "the room has neither wall, roof nor floor".to_owned();
                self.warning("geometry", format!("space.{}", space.name), message, "check its place");
            }
        }
    }
}

fn usual_tilt(place: crate::plan::AssemblyPlace) -> f64 {
    match place {
        crate::plan::AssemblyPlace::Roof => 0.0,
        crate::plan::AssemblyPlace::Floor | crate::plan::AssemblyPlace::GroundFloor => 180.0,
        _ => 90.0,
    }
}

/// Area that two storeys share on the plan, m².
pub(super) fn overlap(shape: &Shape, has_rest: &[bool], a: StoreyId, b: StoreyId) -> f64 {
    let (ra, rb) = (shape.region(a, has_rest[a.0]), shape.region(b, has_rest[b.0]));
    ra.iter().map(|x| rb.iter().map(|y| intersection(x, y)).sum::<f64>()).sum()
}

/// Length of a piece along the outside face, m: pieces at the ends reach round the corners.
fn outside_length(shape: &Shape, storey: StoreyId, piece: &Piece) -> f64 {
    let s = &shape.storeys[storey.0];
    let (a, b) = s.outside.edge(piece.side);
    let start = s.inside.coordinate(piece.side, a);
    let end = s.inside.coordinate(piece.side, b);
    let from = if piece.from <= 1e-9 { start } else { piece.from };
    let to = if piece.to >= s.inside.edge_length(piece.side) - 1e-9 { end } else { piece.to };
    to - from
}

/// Corners of a wall standing on the line between two points, m.
fn standing(
    bottom: f64,
    height: f64,
    form: &RoofShape,
    outline: &Polygon,
    from: [f64; 2],
    to: [f64; 2],
) -> Vec<[f64; 3]> {
    let top = |p: [f64; 2]| bottom + height + form.rise_m(outline, p);
    let mut corners = vec![[from[0], from[1], bottom], [to[0], to[1], bottom], [to[0], to[1], top(to)]];
    if let RoofShape::Gable { across, ridge_at_m, .. } = *form {
        let at = |p: [f64; 2]| p[0] * across[0] + p[1] * across[1] - ridge_at_m;
        let (a, b) = (at(from), at(to));
        if a * b < 0.0 {
            let t = a / (a - b);
            let ridge = [from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])];
            corners.push([ridge[0], ridge[1], top(ridge)]);
        }
    }
    corners.push([from[0], from[1], top(from)]);
    corners
}

/// Compass name of a room's edge on the plan.
fn compass(outline: &Polygon, edge: usize) -> &'static str {
    let eighth = (outline.outward_azimuth_deg(edge) / 45.0).round() as usize % 8;
    ["N", "NE", "E", "SE", "S", "SW", "W", "NW"][eighth]
}
