//! The long section of a model: where to cut, and what the cut meets.
//!
//! The plane runs along the longer side of the building through the row of rooms that shows most: rooms on several
//! storeys, rooms where crowds gather. Layers thinner than [`THIN_M`] are drawn with their neighbour.

use building::Building;
use building::control::ControlKind;
use building::geometry::Polygon;
use building::model::{AssemblyId, Beyond, Element, ElementKind, RoofShape, SpaceId, Storey};
use quantity::{Dimension, System};

use super::assemblies::{air_layer, anchor, layer_hatch, neighbour_words};
use super::rings::{Box2, outline};
use crate::draw::hatch::{Hatch, Run};
use crate::draw::long_section::{Beyond as BeyondSpace, Gap, LevelMark, LongSection, Opening, Room, Solid};
use crate::reader::Reader;
use crate::sheet::where_we_stand::capital;

/// Layers below this thickness, m, are no wider than a pen at the scale of a building.
const THIN_M: f64 = 0.06;
/// Rooms at most this far apart, m, are parted by a wall between them.
const WALL_M: f64 = 0.7;
/// Width of the strip drawn of a neighbour beside us, m.
const STRIP_M: f64 = 2.2;
/// At most so many gaps are marked; the list beside the picture has them all.
const MOST_GAPS: usize = 12;

/// The plane of the cut.
#[derive(Clone, Copy)]
struct Cut {
    /// Along x or along y of the plan.
    along_x: bool,
    /// Place across.
    at: f64,
}

impl Cut {
    /// (along, across) of a point of the plan; the viewer looks towards growing `across`.
    fn turn(self, [x, y]: [f64; 2]) -> [f64; 2] {
        if self.along_x { [x, y] } else { [-y, x] }
    }

    fn back(self, along: f64) -> [f64; 2] {
        if self.along_x { [along, self.at] } else { [self.at, -along] }
    }

    /// Stretches of the plane inside a polygon, rising.
    fn stretches(self, polygon: &Polygon) -> Vec<[f64; 2]> {
        let mut hits: Vec<f64> = Vec::new();
        for (a, b) in polygon.edges() {
            let (a, b) = (self.turn(a), self.turn(b));
            if (a[1] > self.at) != (b[1] > self.at) {
                hits.push(a[0] + (self.at - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
        hits.sort_by(f64::total_cmp);
        hits.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect()
    }

    /// Edge of a polygon that the plane meets nearest to a place along it.
    fn edge_at(self, polygon: &Polygon, along: f64) -> Option<usize> {
        let mut best: Option<(usize, f64)> = None;
        for (index, (a, b)) in polygon.edges().enumerate() {
            let (a, b) = (self.turn(a), self.turn(b));
            if (a[1] > self.at) != (b[1] > self.at) {
                let hit = a[0] + (self.at - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                let far = (hit - along).abs();
                if best.is_none_or(|(_, least)| far < least) {
                    best = Some((index, far));
                }
            }
        }
        best.map(|(index, _)| index)
    }
}

/// A room met by the cut.
struct Met {
    space: SpaceId,
    x: [f64; 2],
    z: [f64; 2],
}

/// Makes the long section; `None` when no storey or no room is drawn.
///
/// `gap_number` gives the number under which the page lists a gap of that id, and `None` for those it does not.
pub fn long_section(
    building: &Building,
    reader: Reader,
    gap_number: impl Fn(&str) -> Option<usize>,
) -> Option<LongSection> {
    let cut = choose_cut(building)?;
    let met = rooms_met(building, cut);
    if met.is_empty() {
        return None;
    }
    let mut draft = Draft { building, reader, cut, met, section: empty(building, cut)? };
    draft.walls();
    draft.floors();
    draft.roofs();
    draft.rooms();
    draft.neighbours();
    draft.openings();
    draft.barrier();
    draft.gaps(&gap_number);
    draft.levels();
    draft.words();
    Some(draft.section)
}

fn empty(building: &Building, cut: Cut) -> Option<LongSection> {
    let stretches: Vec<[f64; 2]> = building.storeys.iter().flat_map(|s| cut.stretches(&s.outside)).collect();
    let ends = stretches.iter().fold(None, |ends: Option<[f64; 2]>, s| {
        Some(ends.map_or(*s, |e| [e[0].min(s[0]), e[1].max(s[1])]))
    })?;
    Some(LongSection {
        id: "long".into(),
        title: String::new(),
        description: String::new(),
        ends,
        ground: building.site.ground_level_m,
        solids: Vec::new(),
        rooms: Vec::new(),
        neighbours: Vec::new(),
        partitions: Vec::new(),
        ceilings: Vec::new(),
        openings: Vec::new(),
        barrier: Vec::new(),
        gaps: Vec::new(),
        levels: Vec::new(),
        length: String::new(),
        bar: (5.0, String::new()),
    })
}

fn choose_cut(building: &Building) -> Option<Cut> {
    let corners = building.storeys.iter().flat_map(|s| s.outside.corners().iter().copied());
    let [w, s, e, n] = corners.fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, c| {
        [b[0].min(c[0]), b[1].min(c[1]), b[2].max(c[0]), b[3].max(c[1])]
    });
    if w > e {
        return None;
    }
    let along_x = e - w >= n - s;
    let mut best: Option<(Cut, usize)> = None;
    for outline in building.spaces.iter().filter_map(|space| space.outline.as_ref()) {
        let (low, high) = outline.bounds();
        let cut = Cut { along_x, at: 0.0 };
        let (a, b) = (cut.turn(low)[1], cut.turn(high)[1]);
        // A little off the middle, so that the plane does not run along a wall of another room.
        let cut = Cut { along_x, at: (a + b) / 2.0 + 0.013 };
        let score = score(building, cut);
        let lower = best.is_some_and(|(c, s)| s == score && cut.at < c.at);
        if best.is_none_or(|(_, s)| score > s) || lower {
            best = Some((cut, score));
        }
    }
    best.map(|(cut, _)| cut)
}

/// How much a cut shows: rooms, storeys with rooms, rooms of gatherings.
fn score(building: &Building, cut: Cut) -> usize {
    let met = rooms_met(building, cut);
    let storeys = building.storeys.iter().filter(|s| met.iter().any(|m| s.spaces.contains(&m.space))).count();
    let crowds = building.gatherings.iter().filter(|g| met.iter().any(|m| m.space == g.space)).count();
    met.len() + 2 * storeys + 3 * crowds.min(1)
}

fn rooms_met(building: &Building, cut: Cut) -> Vec<Met> {
    let mut met = Vec::new();
    for (index, space) in building.spaces.iter().enumerate() {
        let (Some(outline), Some(storey)) = (&space.outline, building.storeys.get(space.storey.0)) else {
            continue;
        };
        let floor = storey.floor_level_m;
        for x in cut.stretches(outline) {
            met.push(Met { space: SpaceId(index), x, z: [floor, floor + storey.height_m] });
        }
    }
    met.sort_by(|a, b| a.z[0].total_cmp(&b.z[0]).then(a.x[0].total_cmp(&b.x[0])));
    met
}

/// Everything needed while the section is put together.
struct Draft<'a> {
    building: &'a Building,
    reader: Reader,
    cut: Cut,
    met: Vec<Met>,
    section: LongSection,
}

impl Draft<'_> {
    fn thickness(&self, id: AssemblyId) -> f64 {
        self.building.assemblies.get(id.0).map_or(0.0, |a| a.thickness_m)
    }

    /// Layers from outside to inside as `(thickness, hatch)`, thin ones joined to a thick neighbour.
    fn coarse(&self, id: AssemblyId, existing_only: bool) -> Vec<(f64, Hatch)> {
        let Some(assembly) = self.building.assemblies.get(id.0) else { return Vec::new() };
        let has_existing = assembly.layers.iter().any(|l| l.existing);
        let mut groups: Vec<(f64, Hatch, f64)> = Vec::new();
        for layer in &assembly.layers {
            if existing_only && has_existing && !layer.existing {
                continue;
            }
            let t = self.building.values.nominal_of(layer.thickness);
            let hatch = layer_hatch(self.building, layer);
            match groups.last_mut() {
                Some((sum, of, thickest)) if t < THIN_M || *thickest < THIN_M || *of == hatch => {
                    *sum += t;
                    if t > *thickest {
                        (*of, *thickest) = (hatch, t);
                    }
                }
                _ => groups.push((t, hatch, t)),
            }
        }
        if groups.is_empty() && assembly.thickness_m > 0.0 {
            return vec![(assembly.thickness_m, Hatch::Other)];
        }
        groups.into_iter().map(|(t, hatch, _)| (t, hatch)).collect()
    }

    /// Distance from the inside face to the air barrier, m.
    fn barrier_depth(&self, id: AssemblyId) -> f64 {
        let Some(assembly) = self.building.assemblies.get(id.0) else { return 0.0 };
        match air_layer(assembly) {
            Some(place) => assembly.layers[place + 1..]
                .iter()
                .map(|l| self.building.values.nominal_of(l.thickness))
                .sum(),
            None => 0.0,
        }
    }

    fn rise(&self, storey: &Storey, along: f64) -> f64 {
        storey.roof.as_ref().map_or(0.0, |r| r.form.rise_m(&storey.inside, self.cut.back(along)))
    }

    /// Places where the roof's underside bends between two places along the cut.
    fn bends(&self, storey: &Storey, from: f64, to: f64) -> Vec<f64> {
        let mut stops = vec![from, to];
        if let Some(roof) = &storey.roof
            && let RoofShape::Gable { across, ridge_at_m, .. } = roof.form
        {
            let at = |s: f64| {
                let p = self.cut.back(s);
                p[0] * across[0] + p[1] * across[1] - ridge_at_m
            };
            let (a, b) = (at(from), at(to));
            if a * b < 0.0 {
                stops.insert(1, from + a / (a - b) * (to - from));
            }
        }
        stops
    }

    fn met_on(&self, storey: &Storey) -> Vec<&Met> {
        self.met.iter().filter(|m| storey.spaces.contains(&m.space)).collect()
    }

    /// Lowest level a storey's walls stand on: the ground for the lowest, its floor's underside for others.
    fn foot(&self, index: usize) -> f64 {
        let storey = &self.building.storeys[index];
        if index == 0 {
            storey.floor_level_m.min(self.section.ground)
        } else {
            let below = &self.building.storeys[index - 1];
            (below.floor_level_m + below.height_m).min(storey.floor_level_m)
        }
    }

    fn head(&self, index: usize, along: f64) -> f64 {
        let storey = &self.building.storeys[index];
        let top = storey.floor_level_m + storey.height_m + self.rise(storey, along);
        match &storey.roof {
            Some(roof) => top + self.thickness(roof.assembly) + roof.parapet_m,
            None => self.building.storeys.get(index + 1).map_or(top, |above| {
                let head = above.floor_level_m.max(top);
                // The wall above begins where this one ends.
                head.min(self.foot(index + 1).max(top))
            }),
        }
    }

    fn walls(&mut self) {
        for index in 0..self.building.storeys.len() {
            let storey = &self.building.storeys[index];
            for stretch in self.cut.stretches(&storey.outside) {
                for (end, inward) in [(stretch[0], 1.0), (stretch[1], -1.0)] {
                    let Some(edge) = self.cut.edge_at(&storey.outside, end) else { continue };
                    let Some(side) = storey.sides.get(edge) else { continue };
                    let ours = self.met_on(storey).iter().any(|m| {
                        (m.x[0] - end).abs().min((m.x[1] - end).abs())
                            < self.thickness(side.assembly) + WALL_M
                    });
                    let (low, high) = (self.foot(index), self.head(index, end));
                    let mut at = end;
                    for (t, hatch) in self.coarse(side.assembly, !ours) {
                        let next = at + inward * t;
                        let x = [at.min(next), at.max(next)];
                        self.section.solids.push(upright(x, [low, high], hatch));
                        at = next;
                    }
                }
            }
        }
        self.inner_walls();
    }

    /// Walls between rooms of ours and a neighbour on the same storey.
    fn inner_walls(&mut self) {
        let mut walls = Vec::new();
        for m in &self.met {
            let storey_index = self.building.spaces[m.space.0].storey.0;
            let stretch = self.cut.stretches(&self.building.storeys[storey_index].inside);
            for (end, outward) in [(m.x[0], -1.0), (m.x[1], 1.0)] {
                let at_edge = stretch.iter().any(|s| (s[0] - end).abs() < 0.1 || (s[1] - end).abs() < 0.1);
                let next_room = self.met.iter().any(|o| {
                    o.z[0] == m.z[0]
                        && o.space != m.space
                        && (if outward < 0.0 { end - o.x[1] } else { o.x[0] - end }).abs() < WALL_M
                });
                if at_edge || next_room {
                    continue;
                }
                let Some(wall) = self.element(m.space, |e| {
                    e.kind == ElementKind::Wall
                        && e.side.is_none()
                        && matches!(e.beyond, Beyond::Neighbour(_))
                }) else {
                    continue;
                };
                let mut layers = self.coarse(wall.assembly, false);
                layers.reverse();
                let mut at = end;
                for (t, hatch) in layers {
                    let next = at + outward * t;
                    walls.push(upright([at.min(next), at.max(next)], [m.z[0], m.z[1]], hatch));
                    at = next;
                }
            }
        }
        self.section.solids.extend(walls);
    }

    fn element(&self, space: SpaceId, wanted: impl Fn(&Element) -> bool) -> Option<&Element> {
        self.building.elements.iter().find(|e| e.space == space && wanted(e))
    }

    /// Rooms of one storey widened to the walls between and beside them.
    fn widened(&self, m: &Met) -> [f64; 2] {
        let storey = &self.building.storeys[self.building.spaces[m.space.0].storey.0];
        let beside = |end: f64, sign: f64| {
            let next = self.met.iter().filter(|o| o.z[0] == m.z[0] && o.space != m.space).find_map(|o| {
                let gap = if sign < 0.0 { end - o.x[1] } else { o.x[0] - end };
                (-0.05..WALL_M).contains(&gap).then_some(end + sign * gap / 2.0)
            });
            let face =
                self.cut.stretches(&storey.inside).into_iter().flatten().find(|s| (s - end).abs() < 0.1);
            next.or(face).unwrap_or(end)
        };
        [beside(m.x[0], -1.0), beside(m.x[1], 1.0)]
    }

    fn floors(&mut self) {
        let mut solids = Vec::new();
        for m in &self.met {
            let x = self.widened(m);
            let Some(floor) =
                self.element(m.space, |e| matches!(e.kind, ElementKind::Floor | ElementKind::GroundFloor))
            else {
                continue;
            };
            let mut top = m.z[0];
            for (t, hatch) in self.coarse(floor.assembly, false).into_iter().rev() {
                solids.push(Solid { run: Run::Lying, ..upright(x, [top - t, top], hatch) });
                top -= t;
            }
        }
        solids.extend(self.inner_floors());
        self.section.solids.extend(solids);
    }

    /// Floors between two rooms of ours, but for rooms that a hole in the floor joins.
    fn inner_floors(&self) -> Vec<Solid> {
        let mut solids = Vec::new();
        for upper in &self.met {
            for lower in self.met.iter().filter(|l| l.z[1] <= upper.z[0] + 0.01) {
                let (a, b) = (self.widened(upper), self.widened(lower));
                let x = [a[0].max(b[0]), a[1].min(b[1])];
                let joined = self
                    .building
                    .floor_openings
                    .iter()
                    .any(|o| o.upper == upper.space && o.lower == lower.space);
                let between = upper.z[0] - lower.z[1];
                if joined || x[1] - x[0] < 0.1 || !(0.02..1.5).contains(&between) {
                    continue;
                }
                let inner = self.element(upper.space, |e| e.kind == ElementKind::InnerFloor);
                let layers = inner.map(|e| self.coarse(e.assembly, false)).unwrap_or_default();
                let thickest = layers.into_iter().max_by(|p, q| p.0.total_cmp(&q.0));
                let hatch = thickest.map_or(Hatch::Other, |(_, hatch)| hatch);
                solids.push(Solid { run: Run::Lying, ..upright(x, [lower.z[1], upper.z[0]], hatch) });
            }
        }
        solids
    }

    fn roofs(&mut self) {
        let mut solids = Vec::new();
        for storey in &self.building.storeys {
            let Some(roof) = &storey.roof else { continue };
            for [from, to] in self.cut.stretches(&storey.outside) {
                let bends = self.bends(storey, from, to);
                let under = |lift: f64| -> Vec<[f64; 2]> {
                    let eaves = storey.floor_level_m + storey.height_m + lift;
                    bends.iter().map(|s| [*s, eaves + self.rise(storey, *s)]).collect()
                };
                let mut lift = 0.0;
                for (t, hatch) in self.coarse(roof.assembly, false).into_iter().rev() {
                    let mut corners = under(lift);
                    corners.extend(under(lift + t).into_iter().rev());
                    solids.push(Solid { corners, hatch, run: Run::Lying });
                    lift += t;
                }
            }
        }
        self.section.solids.extend(solids);
    }

    fn rooms(&mut self) {
        let mut rooms = Vec::new();
        for m in &self.met {
            let space = &self.building.spaces[m.space.0];
            let storey = &self.building.storeys[space.storey.0];
            let crowd = self
                .building
                .gatherings
                .iter()
                .filter(|g| g.space == m.space)
                .map(|g| self.building.values.nominal_of(g.people))
                .fold(0.0, f64::max);
            let people = if crowd.is_finite() { crowd.round().max(0.0) as u32 } else { 0 };
            let href = self
                .element(m.space, |e| !matches!(e.beyond, Beyond::Space(_)))
                .map(|e| format!("fabric.html#{}", anchor(self.building, e.assembly)));
            let name = if space.label.is_empty() { &space.name } else { &space.label };
            rooms.push(Room {
                label: capital(&name.replace(['-', '_'], " ")),
                note: if people > 0 { format!("{people} people") } else { String::new() },
                x: self.widened(m),
                z: m.z,
                people,
                href,
            });
            if space.ceiling_m < storey.height_m - 0.02 {
                self.section.ceilings.push([m.x[0], m.x[1], m.z[0] + space.ceiling_m]);
            }
        }
        for pair in self.met.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            if a.z[0] == b.z[0] && (b.x[0] - a.x[1]).abs() < WALL_M {
                self.section.partitions.push([(a.x[1] + b.x[0]) / 2.0, a.z[0], a.z[1]]);
            }
        }
        self.section.rooms = rooms;
    }

    fn neighbours(&mut self) {
        let mut spaces = Vec::new();
        for storey in &self.building.storeys {
            let z = [storey.floor_level_m, storey.floor_level_m + storey.height_m];
            let label = self.neighbour_of(storey);
            for [from, to] in self.cut.stretches(&storey.inside) {
                let mut at = from;
                let mut ours: Vec<[f64; 2]> = self.met_on(storey).iter().map(|m| m.x).collect();
                ours.sort_by(|a, b| a[0].total_cmp(&b[0]));
                for x in ours.into_iter().chain([[to, to]]) {
                    if x[0] - at > WALL_M {
                        spaces.push(BeyondSpace { label: label.clone(), x: [at, x[0]], z });
                    }
                    at = at.max(x[1]);
                }
            }
        }
        spaces.extend(self.strips());
        spaces.extend(self.below());
        for space in &spaces {
            self.section.ends[0] = self.section.ends[0].min(space.x[0]);
            self.section.ends[1] = self.section.ends[1].max(space.x[1]);
        }
        self.section.neighbours = spaces;
    }

    /// Who fills the rest of a storey: the neighbour our rooms meet there or right above it.
    fn neighbour_of(&self, storey: &Storey) -> String {
        let meets = |e: &&Element| {
            let on = self.building.spaces[e.space.0].storey;
            let here = self.building.storeys.get(on.0).is_some_and(|s| s.name == storey.name);
            let above = e.kind == ElementKind::Floor
                && self.building.storeys.get(on.0).is_some_and(|s| s.floor_level_m > storey.floor_level_m);
            here && e.side.is_none() && e.kind == ElementKind::Wall || above
        };
        let id = self.building.elements.iter().filter(meets).find_map(|e| match e.beyond {
            Beyond::Neighbour(n) => Some(n),
            _ => None,
        });
        id.map_or_else(|| "not ours".to_owned(), |n| self.outside_the_boundary(n))
    }

    fn outside_the_boundary(&self, id: building::model::NeighbourId) -> String {
        format!("{}: outside the boundary", capital(&neighbour_words(self.building, id)))
    }

    /// Strips of neighbours behind party walls at the ends.
    fn strips(&self) -> Vec<BeyondSpace> {
        let mut strips = Vec::new();
        for storey in &self.building.storeys {
            for stretch in self.cut.stretches(&storey.outside) {
                for (end, outward) in [(stretch[0], -1.0), (stretch[1], 1.0)] {
                    let side = self.cut.edge_at(&storey.outside, end).and_then(|e| storey.sides.get(e));
                    if let Some(Beyond::Neighbour(n)) = side.map(|s| s.beyond) {
                        let far = end + outward * STRIP_M;
                        let z = [storey.floor_level_m, storey.floor_level_m + storey.height_m];
                        strips.push(BeyondSpace {
                            label: self.outside_the_boundary(n),
                            x: [end.min(far), end.max(far)],
                            z,
                        });
                    }
                }
            }
        }
        strips
    }

    /// Neighbours under our lowest rooms where the book draws no storey.
    fn below(&self) -> Vec<BeyondSpace> {
        let mut below: Vec<BeyondSpace> = Vec::new();
        for m in &self.met {
            let lower = self.building.storeys.iter().any(|s| s.floor_level_m + 0.5 < m.z[0]);
            let floor = self.element(m.space, |e| e.kind == ElementKind::Floor);
            if lower {
                continue;
            }
            if let Some((Beyond::Neighbour(n), assembly)) = floor.map(|e| (e.beyond, e.assembly)) {
                let top = m.z[0] - self.thickness(assembly);
                let z = [self.section.ground.min(top - 2.4), top];
                below.push(BeyondSpace { label: self.outside_the_boundary(n), x: self.widened(m), z });
            }
        }
        below
    }

    fn openings(&mut self) {
        let mut seen = Vec::new();
        for opening in &self.building.openings {
            let [along, across] = self.cut.turn([opening.centre_m[0], opening.centre_m[1]]);
            let z =
                [opening.centre_m[2] - opening.height_m / 2.0, opening.centre_m[2] + opening.height_m / 2.0];
            let half = opening.width_m / 2.0;
            let Some(m) = self.met.iter().find(|m| m.space == opening.space) else { continue };
            let door = !matches!(opening.kind, building::plan::OpeningKind::Window);
            if along > m.x[0] && along < m.x[1] && across > self.cut.at {
                let x = [along - half, along + half];
                seen.push(Opening { name: opening.name.clone(), x, z, door, cut: false });
            } else if (across - self.cut.at).abs() < half {
                let wall =
                    self.building.elements.get(opening.element.0).map_or(0.3, |e| self.thickness(e.assembly));
                let x = if along < (m.x[0] + m.x[1]) / 2.0 {
                    [m.x[0] - wall, m.x[0]]
                } else {
                    [m.x[1], m.x[1] + wall]
                };
                seen.push(Opening { name: opening.name.clone(), x, z, door, cut: true });
            }
        }
        self.section.openings = seen;
    }

    /// Boxes of our rooms, widened to where the air barrier lies, joined into rings.
    fn barrier(&mut self) {
        let mut boxes: Vec<Box2> = Vec::new();
        for m in &self.met {
            boxes.push(self.barrier_box(m));
        }
        let mut rings = outline(&boxes);
        for ring in &mut rings {
            *ring = self.under_the_slopes(ring);
        }
        self.section.barrier = rings;
    }

    fn barrier_box(&self, m: &Met) -> Box2 {
        let x = self.widened(m);
        let storey = &self.building.storeys[self.building.spaces[m.space.0].storey.0];
        let depth_to = |end: f64, near: f64| -> f64 {
            let shared = (end - near).abs() > 0.12
                || self.met.iter().any(|o| {
                    o.space != m.space
                        && o.z[0] == m.z[0]
                        && ((o.x[1] - near).abs() < WALL_M || (o.x[0] - near).abs() < WALL_M)
                });
            if shared {
                return 0.0;
            }
            let on_side =
                self.cut.stretches(&storey.inside).into_iter().flatten().any(|s| (s - near).abs() < 0.12);
            let assembly = if on_side {
                self.cut.edge_at(&storey.inside, near).and_then(|e| storey.sides.get(e)).map(|s| s.assembly)
            } else {
                self.element(m.space, |e| {
                    e.side.is_none()
                        && matches!(e.beyond, Beyond::Neighbour(_))
                        && e.kind == ElementKind::Wall
                })
                .map(|e| e.assembly)
            };
            assembly.map_or(0.0, |a| self.barrier_depth(a))
        };
        let (left, right) = (depth_to(x[0], m.x[0]), depth_to(x[1], m.x[1]));
        let floor = self
            .element(m.space, |e| matches!(e.kind, ElementKind::Floor | ElementKind::GroundFloor))
            .map(|e| self.barrier_depth(e.assembly));
        // A room over one of ours reaches down to it.
        let under = self.met.iter().filter(|o| o.z[1] <= m.z[0] + 0.01 && o.x[0] < m.x[1] && o.x[1] > m.x[0]);
        let meets = under.map(|o| o.z[1]).fold(None, |top: Option<f64>, z| Some(top.map_or(z, |t| t.max(z))));
        let bottom = match (floor, meets) {
            (Some(depth), _) => m.z[0] - depth,
            (None, Some(top)) => top,
            (None, None) => m.z[0],
        };
        let top = m.z[1] + storey.roof.as_ref().map_or(0.0, |r| self.barrier_depth(r.assembly));
        let reach = self.reach_up(m).unwrap_or(top);
        [x[0] - left, x[1] + right, bottom, top.max(reach)]
    }

    /// How far a room's box must reach up to meet a room of ours above it.
    fn reach_up(&self, m: &Met) -> Option<f64> {
        self.met
            .iter()
            .filter(|o| o.z[0] >= m.z[1] - 0.01 && o.x[0] < m.x[1] - 0.05 && o.x[1] > m.x[0] + 0.05)
            .map(|o| o.z[0])
            .min_by(f64::total_cmp)
    }

    /// Lifts the level top edges of a ring to the underside of a sloping roof.
    fn under_the_slopes(&self, ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let mut lifted = Vec::new();
        for (index, a) in ring.iter().enumerate() {
            let b = ring[(index + 1) % ring.len()];
            lifted.push(*a);
            let level = (a[1] - b[1]).abs() < 1e-9;
            let storey = self.building.storeys.iter().find(|s| {
                let Some(roof) = &s.roof else { return false };
                let top = s.floor_level_m + s.height_m + self.barrier_depth(roof.assembly);
                !matches!(roof.form, RoofShape::Flat) && (top - a[1]).abs() < 0.01
            });
            if let (true, Some(storey)) = (level, storey) {
                let stops = self.bends(storey, a[0].min(b[0]), a[0].max(b[0]));
                let mut points: Vec<[f64; 2]> =
                    stops.iter().map(|s| [*s, a[1] + self.rise(storey, *s)]).collect();
                if a[0] > b[0] {
                    points.reverse();
                }
                lifted.extend(points);
            }
        }
        lifted
    }

    /// Marks gaps of the air barrier where they project onto the line; the longest ones when there are many.
    fn gaps(&mut self, number: impl Fn(&str) -> Option<usize>) {
        let mut marks: Vec<(f64, Gap)> = Vec::new();
        let air = self.building.gaps.iter().filter(|g| g.control == ControlKind::Air && g.kind.breaks_line());
        for gap in air {
            let Some(number) = number(&gap.id) else { continue };
            let middles = gap.lines_m.iter().filter_map(|line| {
                let (first, last) = (line.first()?, line.last()?);
                let middle = [0, 1, 2].map(|k| (first[k] + last[k]) / 2.0);
                let [along, across] = self.cut.turn([middle[0], middle[1]]);
                Some(((across - self.cut.at).abs(), [along, middle[2]]))
            });
            let Some((_, at)) = middles.min_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
            if let Some(at) = nearest_on(&self.section.barrier, at) {
                marks.push((gap.length_m, Gap { at, number }));
            }
        }
        marks.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.number.cmp(&b.1.number)));
        marks.truncate(MOST_GAPS);
        self.section.gaps = marks.into_iter().map(|(_, gap)| gap).collect();
        self.section.gaps.sort_by_key(|g| g.number);
    }

    fn levels(&mut self) {
        let show = |z: f64| self.reader.show(z, Dimension::Length);
        let mut levels: Vec<LevelMark> = Vec::new();
        for storey in &self.building.storeys {
            levels.push(LevelMark {
                z: storey.floor_level_m,
                name: format!("{} floor", storey.name),
                words: show(storey.floor_level_m),
            });
            if let Some(roof) = &storey.roof {
                let z = storey.floor_level_m + storey.height_m;
                let name = if matches!(roof.form, RoofShape::Flat) { "under the roof" } else { "eaves" };
                levels.push(LevelMark { z, name: name.to_owned(), words: show(z) });
            }
        }
        self.section.levels = levels;
    }

    fn words(&mut self) {
        let ours: Vec<[f64; 2]> =
            self.building.storeys.iter().flat_map(|s| self.cut.stretches(&s.outside)).collect();
        let (from, to) = ours.iter().fold((f64::MAX, f64::MIN), |(l, h), s| (l.min(s[0]), h.max(s[1])));
        self.section.length = self.reader.show(to - from, Dimension::Length);
        let (bar, words) = match self.reader.system {
            System::Us => (6.096, "20 ft"),
            System::Si => (5.0, "5 m"),
        };
        self.section.bar = (bar, words.to_owned());
        let looking = if self.cut.along_x { "plan north" } else { "plan east" };
        self.section.title = format!("Long section of {}, looking {looking}", self.building.project.name);
        let rooms: Vec<&str> = self.section.rooms.iter().map(|r| r.label.as_str()).collect();
        let mut neighbours: Vec<&str> = self.section.neighbours.iter().map(|n| n.label.as_str()).collect();
        neighbours.dedup();
        let gaps = match self.section.gaps.len() {
            0 => "The air barrier is drawn as one closed line.".to_owned(),
            1 => "The air barrier is drawn as one line with one gap marked.".to_owned(),
            n => format!("The air barrier is drawn as one line with {n} gaps marked."),
        };
        let beyond = if neighbours.is_empty() {
            String::new()
        } else {
            format!(" Beside or below: {}.", neighbours.join("; "))
        };
        self.section.description = format!("From left to right: {}.{beyond} {gaps}", rooms.join(", "));
    }
}

fn upright(x: [f64; 2], z: [f64; 2], hatch: Hatch) -> Solid {
    Solid { corners: vec![[x[0], z[0]], [x[1], z[0]], [x[1], z[1]], [x[0], z[1]]], hatch, run: Run::Standing }
}

/// Nearest point on closed rings.
fn nearest_on(rings: &[Vec<[f64; 2]>], [x, z]: [f64; 2]) -> Option<[f64; 2]> {
    let mut best: Option<([f64; 2], f64)> = None;
    for ring in rings {
        for (index, p) in ring.iter().enumerate() {
            let q = ring[(index + 1) % ring.len()];
            let (dx, dz) = (q[0] - p[0], q[1] - p[1]);
            let length2 = (dx * dx + dz * dz).max(1e-12);
            let share = (((x - p[0]) * dx + (z - p[1]) * dz) / length2).clamp(0.0, 1.0);
            let at = [p[0] + share * dx, p[1] + share * dz];
            let far = (at[0] - x) * (at[0] - x) + (at[1] - z) * (at[1] - z);
            if best.is_none_or(|(_, least)| far < least) {
                best = Some((at, far));
            }
        }
    }
    best.map(|(at, _)| at)
}
