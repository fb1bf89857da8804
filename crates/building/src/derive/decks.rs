//! Roofs and floors: what closes a storey above and below, by room.

use super::Derivation;
use super::elements::{Blank, Stack, overlap};
use super::shape::{Shape, turned};
use super::walls;
use crate::geometry::intersection;
use crate::model::{
    Assembly, AssemblyId, Beyond, Element, ElementKind, Neighbour, RoofShape, SpaceId, StoreyId,
};
use crate::plan::FloorPlan;

impl Derivation<'_> {
    pub(super) fn roofs(
        &mut self,
        assemblies: &[Assembly],
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
        out: &mut Vec<Element>,
    ) {
        let s = &shape.storeys[storey.0];
        let region = shape.region(storey, stack.has_rest[storey.0]);
        let total: f64 = region.iter().map(|r| r.area()).sum();
        let above: Vec<StoreyId> = stack.above[storey.0].iter().map(|(s, _)| *s).collect();
        let covered: f64 = above.iter().map(|&up| overlap(shape, &stack.has_rest, storey, up)).sum();
        let open = total - covered;
        if open < 0.01 {
            return;
        }
        let Some(roof) = &s.roof else {
            let has_plan = self.plan.storeys[shape.storey_plans[storey.0]].roof.is_some();
            if !has_plan {
                let message = format!("{open:.1} m² of \"{}\" have nothing over them", s.name);
                let help = "write roof = { form = \"flat\", assembly = \"...\" }";
                self.error("roof", format!("storey.{}.roof", s.name), message, help);
            }
            return;
        };
        let free = |id: SpaceId| {
            let room = &shape.spaces[id.0];
            let under = room.outline.as_ref().map_or(0.0, |o| {
                above
                    .iter()
                    .flat_map(|&up| shape.region(up, stack.has_rest[up.0]))
                    .map(|r| intersection(o, r))
                    .sum()
            });
            (room.area_m2 - under).max(0.0)
        };
        let shares = scaled(&s.spaces, open, free);
        let secant = roof.form.secant();
        let thickness = assemblies[roof.assembly.0].thickness_m;
        let faces = faces(&roof.form, shape, storey);
        for (space, area) in shares {
            // Two slopes face two ways: each takes what lies under it.
            let beyond_ridge =
                shape.spaces[space.0].outline.as_ref().map_or(0.5, |o| roof.form.share_past_ridge(o));
            for &(azimuth, tilt, past_ridge) in &faces {
                let share = match past_ridge {
                    None => 1.0,
                    Some(true) => beyond_ridge,
                    Some(false) => 1.0 - beyond_ridge,
                };
                if share < 1e-9 {
                    continue;
                }
                let room = &shape.spaces[space.0].name;
                let face =
                    if faces.len() > 1 { format!("{} {azimuth:.0}°", s.name) } else { s.name.clone() };
                let blank = Blank {
                    name: format!("{face}.roof.{room}"),
                    kind: ElementKind::Roof,
                    assembly: roof.assembly,
                    space,
                    beyond: roof.beyond,
                    storey,
                };
                let gross = area * secant * share;
                let outside = gross * s.outside.area() / s.inside.area();
                let mut element = blank.element(gross, outside, azimuth, tilt);
                if let Some(outline) = &shape.spaces[space.0].outline {
                    let lift = |p: &[f64; 2]| {
                        let z = s.floor_level_m + s.height_m + roof.form.rise_m(&s.inside, *p);
                        [p[0], p[1], z]
                    };
                    element.outline_m = outline.corners().iter().map(lift).collect();
                }
                element.mid_height_m = s.floor_level_m + 0.5 * (s.height_m + roof.top_m) + thickness;
                out.push(element);
            }
        }
    }

    pub(super) fn floors(
        &mut self,
        assemblies: &[Assembly],
        neighbours: &[Neighbour],
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
        out: &mut Vec<Element>,
    ) {
        let s = &shape.storeys[storey.0];
        let region = shape.region(storey, stack.has_rest[storey.0]);
        let total: f64 = region.iter().map(|r| r.area()).sum();
        let below: Vec<StoreyId> = (0..storey.0)
            .map(StoreyId)
            .filter(|l| stack.above[l.0].iter().any(|(s, _)| *s == storey))
            .collect();
        let covered: f64 = below.iter().map(|&low| overlap(shape, &stack.has_rest, low, storey)).sum();
        let plan = self.plan.storeys[shape.storey_plans[storey.0]].floor.clone();
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        let item = format!("storey.{}.floor", s.name);
        let assembly = match &plan {
            Some(plan) => {
                self.find("assembly", &plan.assembly, &all, &format!("{item}.assembly")).map(AssemblyId)
            }
            None => None,
        };
        let open = total - covered;
        if open > 0.01 && plan.is_none() {
            let message = format!("{open:.1} m² of \"{}\" stand on nothing", s.name);
            let help = "write floor = { assembly = \"...\", on = \"ground\" } or over = \"a neighbour\"";
            self.error("floor", item.clone(), message, help);
        }
        let (Some(plan), Some(assembly)) = (plan, assembly) else { return };
        let beyond = self.beyond(&plan.beyond, neighbours, &format!("{item}.over"));
        let free = |id: SpaceId| {
            let room = &shape.spaces[id.0];
            let over = room.outline.as_ref().map_or(0.0, |o| {
                below
                    .iter()
                    .flat_map(|&low| shape.region(low, stack.has_rest[low.0]))
                    .map(|r| intersection(o, r))
                    .sum()
            });
            (room.area_m2 - over).max(0.0)
        };
        if open > 0.01 {
            let area = plan.area.map_or(open, |key| self.number(key));
            let exposed = self.exposed(shape, stack, storey, &plan);
            for (space, area) in scaled(&s.spaces, area, free) {
                let kind =
                    if beyond == Beyond::Ground { ElementKind::GroundFloor } else { ElementKind::Floor };
                let room = &shape.spaces[space.0].name;
                let blank =
                    Blank { name: format!("{}.floor.{room}", s.name), kind, assembly, space, beyond, storey };
                let outside = area * s.outside.area() / s.inside.area();
                let mut floor = blank.element(area, outside, 0.0, 180.0);
                if let Some(outline) = &shape.spaces[space.0].outline {
                    floor.outline_m =
                        outline.corners().iter().map(|p| [p[0], p[1], s.floor_level_m]).collect();
                }
                if kind == ElementKind::GroundFloor {
                    floor.exposed_perimeter_m =
                        exposed.iter().find(|(id, _)| *id == space).map_or(0.0, |(_, l)| *l);
                    let outside = self.plan.site.ground_level.map_or(0.0, |key| self.number(key));
                    let by_level = (outside - s.floor_level_m).max(0.0);
                    floor.depth_below_ground_m = plan.depth.map_or(by_level, |key| self.number(key));
                }
                out.push(floor);
            }
        }
        for low in below {
            inner_floors(shape, stack, storey, low, assembly, out);
        }
    }

    /// Exposed perimeter of a ground floor by room, m.
    fn exposed(
        &self,
        shape: &Shape,
        stack: &Stack,
        storey: StoreyId,
        plan: &FloorPlan,
    ) -> Vec<(SpaceId, f64)> {
        let s = &shape.storeys[storey.0];
        let mut lengths: Vec<(SpaceId, f64)> = s.spaces.iter().map(|&id| (id, 0.0)).collect();
        for piece in walls::pieces(shape, storey, stack.has_rest[storey.0]) {
            let outdoors = matches!(s.sides[piece.side].beyond, Beyond::Outside | Beyond::Ground);
            if let Some(entry) = lengths.iter_mut().find(|(id, _)| *id == piece.space && outdoors) {
                entry.1 += piece.to - piece.from;
            }
        }
        let sum: f64 = lengths.iter().map(|(_, l)| l).sum();
        if let Some(stated) = plan.exposed_perimeter.map(|key| self.number(key))
            && sum > 0.0
        {
            for entry in &mut lengths {
                entry.1 *= stated / sum;
            }
        }
        lengths
    }
}

/// Spreads an area over rooms in proportion to what each has of it: walls between rooms go to both.
fn scaled(spaces: &[SpaceId], total: f64, free: impl Fn(SpaceId) -> f64) -> Vec<(SpaceId, f64)> {
    let own: Vec<f64> = spaces.iter().map(|&id| free(id)).collect();
    let sum: f64 = own.iter().sum();
    let factor = if sum > 0.0 { total / sum } else { 0.0 };
    spaces.iter().zip(own).map(|(&id, area)| (id, area * factor)).filter(|(_, area)| *area > 1e-6).collect()
}

/// Floors between a storey and the one below, less the holes through them.
fn inner_floors(
    shape: &Shape,
    stack: &Stack,
    upper: StoreyId,
    lower: StoreyId,
    assembly: AssemblyId,
    out: &mut Vec<Element>,
) {
    let total = overlap(shape, &stack.has_rest, lower, upper);
    let mut pairs = Vec::new();
    for &u in &shape.storeys[upper.0].spaces {
        for &l in &shape.storeys[lower.0].spaces {
            if let (Some(a), Some(b)) = (&shape.spaces[u.0].outline, &shape.spaces[l.0].outline) {
                pairs.push((u, l, intersection(a, b)));
            }
        }
    }
    let sum: f64 = pairs.iter().map(|(_, _, area)| area).sum();
    if sum < 1e-6 {
        return;
    }
    for (u, l, area) in pairs {
        let holes: f64 =
            shape.floor_openings.iter().filter(|h| h.upper == u && h.lower == l).map(|h| h.area_m2).sum();
        let area = area * total / sum - holes;
        if area < 1e-3 {
            continue;
        }
        let (a, b) = (&shape.spaces[u.0].name, &shape.spaces[l.0].name);
        let blank = Blank {
            name: format!("{}.inner floor.{a}.{b}", shape.storeys[upper.0].name),
            kind: ElementKind::InnerFloor,
            assembly,
            space: u,
            beyond: Beyond::Space(l),
            storey: upper,
        };
        out.push(blank.element(area, area, 0.0, 180.0));
    }
}

/// Azimuth and tilt of each face of a roof, and for a gable on which side of the ridge it lies.
fn faces(form: &RoofShape, shape: &Shape, storey: StoreyId) -> Vec<(f64, f64, Option<bool>)> {
    use numeric::scalar::{atan, atan2};
    let s = &shape.storeys[storey.0];
    // The turn of the plan: what the first side's true azimuth adds to its plan azimuth.
    let turn = s.sides[0].azimuth_deg - s.outside.outward_azimuth_deg(0);
    let down = |v: [f64; 2]| turned(atan2(v[0], v[1]).to_degrees(), turn);
    match *form {
        RoofShape::Flat => vec![(0.0, 0.0, None)],
        RoofShape::Shed { slope, uphill } => {
            vec![(down([-uphill[0], -uphill[1]]), atan(slope).to_degrees(), None)]
        }
        RoofShape::Gable { slope, across, .. } => {
            let tilt = atan(slope).to_degrees();
            vec![(down(across), tilt, Some(true)), (down([-across[0], -across[1]]), tilt, Some(false))]
        }
    }
}
