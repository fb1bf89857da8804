//! Windows and doors: their place, their glass, their reveals, and what cannot be.

use super::Derivation;
use super::shape::{Shape, is_side};
use crate::control::ControlKind;
use crate::model::{
    Assembly, Element, ElementId, ElementKind, LayerKind, Opening, OpeningId, Shading, Site, Storey, Unit,
    UnitId,
};
use crate::plan::{OpeningKind, OpeningPlan, ProjectionPlan, SetIn};

impl Derivation<'_> {
    pub(super) fn openings(
        &mut self,
        site: &Site,
        assemblies: &[Assembly],
        units: &[Unit],
        shape: &Shape,
        elements: &mut [Element],
    ) -> Vec<Opening> {
        let unit_names: Vec<&str> = units.iter().map(|u| u.name.as_str()).collect();
        let mut out: Vec<Opening> = Vec::new();
        for plan in &self.plan.openings {
            let item = format!("opening.{}", plan.pattern);
            let Some(unit) = self.find("unit", &plan.unit, &unit_names, &format!("{item}.unit")) else {
                continue;
            };
            let (w, h) = (self.number(plan.width), self.number(plan.height));
            if !(w > 0.0 && h > 0.0) {
                let message = format!("an opening of {w:.3} m by {h:.3} m");
                self.error("range", format!("{item}.size"), message, "both must be above zero");
                continue;
            }
            if plan.kind == OpeningKind::Rooflight {
                self.rooflights(plan, UnitId(unit), units, shape, elements, &mut out);
                continue;
            }
            let Some((storey, side)) = self.side_of(plan, shape, &item) else { continue };
            let places = self.places(plan, &shape.storeys[storey], side, w, &item);
            for (name, at_m) in plan.names.iter().zip(places) {
                if out.iter().any(|o| o.name == *name) {
                    let message = format!("two openings are called \"{name}\"");
                    self.error("name", format!("{item}.name"), message, "rename one");
                    continue;
                }
                let at = At { storey, side, at_m };
                self.opening(
                    plan,
                    name,
                    at,
                    UnitId(unit),
                    site,
                    assemblies,
                    units,
                    shape,
                    elements,
                    &mut out,
                );
            }
        }
        self.check_openings(&out, elements);
        out
    }

    fn side_of(&mut self, plan: &OpeningPlan, shape: &Shape, item: &str) -> Option<(usize, usize)> {
        let storeys: Vec<&str> = shape.storeys.iter().map(|s| s.name.as_str()).collect();
        let candidates: Vec<usize> = match &plan.storey {
            Some(name) => vec![self.find("storey", name, &storeys, &format!("{item}.storey"))?],
            None => (0..storeys.len()).collect(),
        };
        let found: Vec<(usize, usize)> = candidates
            .iter()
            .flat_map(|&storey| {
                let sides = shape.storeys[storey].sides.iter().enumerate();
                sides.filter(|(_, s)| is_side(&s.name, &plan.side)).map(move |(side, _)| (storey, side))
            })
            .collect();
        match found.as_slice() {
            [one] => Some(*one),
            [] => {
                let names =
                    candidates.iter().flat_map(|&s| shape.storeys[s].sides.iter().map(|s| s.name.as_str()));
                let help = super::names::help(&plan.side, names);
                self.error("name", format!("{item}.side"), format!("no side called \"{}\"", plan.side), help);
                None
            }
            several => {
                let all: Vec<String> = several
                    .iter()
                    .map(|&(st, si)| {
                        format!("{} of {}", shape.storeys[st].sides[si].name, shape.storeys[st].name)
                    })
                    .collect();
                let message = format!("\"{}\" may be {}", plan.side, all.join(" or "));
                self.error("name", format!("{item}.side"), message, "name storey and side");
                None
            }
        }
    }

    /// Middle of each opening along the outside face, m.
    fn places(&mut self, plan: &OpeningPlan, storey: &Storey, side: usize, w: f64, item: &str) -> Vec<f64> {
        let length = storey.outside.edge_length(side);
        if plan.at.is_empty() {
            let n = plan.names.len() as f64;
            return (0..plan.names.len()).map(|i| length * (i as f64 + 0.5) / n).collect();
        }
        if plan.at.len() != plan.names.len() {
            let message = format!("{} places for {} openings", plan.at.len(), plan.names.len());
            self.error(
                "opening",
                format!("{item}.at"),
                message,
                "give each its place, or none for even spacing",
            );
        }
        let places: Vec<f64> = plan.at.iter().map(|&key| self.number(key)).collect();
        for at in &places {
            if at - 0.5 * w < -1e-9 || at + 0.5 * w > length + 1e-9 {
                let message =
                    format!("an opening {w:.2} m wide at {at:.2} m does not fit a side of {length:.2} m");
                let help = "places run from the side's left end, seen from outside, to the opening's middle";
                self.error("opening", format!("{item}.at"), message, help);
            }
        }
        places
    }

    fn opening(
        &mut self,
        plan: &OpeningPlan,
        name: &str,
        at: At,
        unit: UnitId,
        site: &Site,
        assemblies: &[Assembly],
        units: &[Unit],
        shape: &Shape,
        elements: &mut [Element],
        out: &mut Vec<Opening>,
    ) {
        let item = format!("opening.{}", plan.pattern);
        let storey = &shape.storeys[at.storey];
        let on_face = storey.outside.point_at(at.side, at.at_m);
        let inner = storey.inside.coordinate(at.side, on_face);
        let wall = elements.iter().position(|e| holds(e, at, storey, inner));
        let (w, h) = (self.number(plan.width), self.number(plan.height));
        let sill_m = self.number(plan.sill);
        let Some(wall) = wall else {
            let message =
                format!("{name} lies {:.2} m along side {}, where no room of ours is", at.at_m, plan.side);
            self.error("opening", format!("{item}.at"), message, "check its place and storey");
            return;
        };
        let length = storey.inside.edge_length(at.side);
        let top = wall_top(&elements[wall], storey, inner - 0.5 * w).min(wall_top(
            &elements[wall],
            storey,
            inner + 0.5 * w,
        ));
        if w > length || h > top {
            let message =
                format!("{w:.2} m by {h:.2} m is larger than its wall, {length:.2} m by {top:.2} m");
            self.error("opening", format!("{item}.size"), message, "check its size");
        } else if sill_m < -1e-9 || sill_m + h > top + 1e-9 {
            let message = format!(
                "{name} reaches from {sill_m:.2} m to {:.2} m over the floor, the wall to {top:.2} m",
                sill_m + h
            );
            self.error("opening", format!("{item}.sill"), message, "check sill and height");
        }
        let assembly = &assemblies[elements[wall].assembly.0];
        let depth = self.number(units[unit.0].frame_depth);
        let reveal_outside_m = self.set_in(plan, assembly, depth, &item);
        let reveal_inside_m = assembly.thickness_m - reveal_outside_m - depth;
        if reveal_inside_m < -0.05 {
            let message = format!(
                "the frame stands {:.0} mm into the room: the wall is {:.0} mm thick",
                -1000.0 * reveal_inside_m,
                1000.0 * assembly.thickness_m
            );
            self.warning("opening", format!("{item}.set-in"), message, "check where in the wall it sits");
        }
        let face = self.number(units[unit.0].frame_face);
        let (gw, gh) = (w - 2.0 * face, h - 2.0 * face);
        if gw <= 0.0 || gh <= 0.0 {
            let message =
                format!("a frame of {:.0} mm leaves no glass in {w:.2} m by {h:.2} m", 1000.0 * face);
            self.error("opening", format!("{item}.unit"), message, "check frame face and size");
            return;
        }
        let [nx, ny] = storey.outside.outward(at.side);
        let z = storey.floor_level_m + sill_m + 0.5 * h;
        let element = &mut elements[wall];
        element.net_m2 -= w * h;
        element.net_outside_m2 -= w * h;
        element.openings.push(OpeningId(out.len()));
        out.push(Opening {
            name: name.to_owned(),
            kind: plan.kind,
            element: ElementId(wall),
            space: element.space,
            unit,
            width_m: w,
            height_m: h,
            sill_m,
            at_m: at.at_m,
            azimuth_deg: element.azimuth_deg,
            tilt_deg: element.tilt_deg,
            area_m2: w * h,
            glass_m2: gw * gh,
            glass_edge_m: 2.0 * (gw + gh),
            reveal_outside_m: reveal_outside_m.max(0.0),
            reveal_inside_m: reveal_inside_m.max(0.0),
            shading: self.shading(plan, reveal_outside_m.max(0.0), face),
            blind: plan.blind.clone(),
            opens: plan.opens,
            mid_height_m: z - site.ground_level_m,
            centre_m: [on_face[0] - reveal_outside_m * nx, on_face[1] - reveal_outside_m * ny, z],
        });
    }

    /// Outside face of the frame behind the outside face of the wall, m.
    fn set_in(&mut self, plan: &OpeningPlan, assembly: &Assembly, frame_m: f64, item: &str) -> f64 {
        let thickness: Vec<f64> = assembly.layers.iter().map(|layer| self.number(layer.thickness)).collect();
        let middle =
            |layer: usize| thickness[..layer].iter().sum::<f64>() + 0.5 * thickness[layer] - 0.5 * frame_m;
        match &plan.set_in {
            SetIn::Depth(key) => self.number(*key),
            SetIn::MiddleOf(name) => {
                let names: Vec<&str> = assembly.layers.iter().map(|l| l.name.as_str()).collect();
                // Two layers of one material: the thicker is meant.
                let best = (0..names.len())
                    .filter(|&i| names[i] == name)
                    .max_by(|&a, &b| thickness[a].total_cmp(&thickness[b]));
                match best {
                    Some(layer) => middle(layer),
                    None => {
                        let _ = self.find("layer", name, &names, &format!("{item}.set-in"));
                        0.5 * (assembly.thickness_m - frame_m)
                    }
                }
            }
            SetIn::Unstated => {
                let heat = assembly
                    .control_layers(ControlKind::Heat)
                    .max_by(|&a, &b| thickness[a].total_cmp(&thickness[b]));
                heat.or_else(|| self.most_resistant(assembly, &thickness))
                    .map_or(0.5 * (assembly.thickness_m - frame_m), middle)
                    .max(0.0)
            }
        }
    }

    fn most_resistant(&self, assembly: &Assembly, thickness: &[f64]) -> Option<usize> {
        let resistance = |i: usize| match assembly.layers[i].kind {
            LayerKind::Solid(m) => thickness[i] / self.number(self.materials[m.0].conductivity),
            LayerKind::Air { .. } => 0.0,
        };
        (0..thickness.len()).max_by(|&a, &b| resistance(a).total_cmp(&resistance(b)))
    }

    /// The reveal shades like a plate at the frame's edge; an overhang or fin stands further out.
    fn shading(&self, plan: &OpeningPlan, reveal_m: f64, face_m: f64) -> Shading {
        let plate = |p: &Option<ProjectionPlan>| match p {
            None => (reveal_m, face_m),
            Some(p) => {
                let gap = p.gap.map_or(0.0, |key| self.number(key));
                (reveal_m + self.number(p.depth), face_m + gap)
            }
        };
        let ((od, og), (ld, lg), (rd, rg)) =
            (plate(&plan.overhang), plate(&plan.fin_left), plate(&plan.fin_right));
        Shading {
            overhang_depth_m: od,
            overhang_gap_m: og,
            left_depth_m: ld,
            left_gap_m: lg,
            right_depth_m: rd,
            right_gap_m: rg,
        }
    }

    /// A rooflight sits in the roof over the room that its `side` names.
    fn rooflights(
        &mut self,
        plan: &OpeningPlan,
        unit: UnitId,
        units: &[Unit],
        shape: &Shape,
        elements: &mut [Element],
        out: &mut Vec<Opening>,
    ) {
        let item = format!("opening.{}", plan.pattern);
        let Some(space) = self.find("room", &plan.side, &shape.space_names(), &format!("{item}.side")) else {
            return;
        };
        let roof = elements.iter().position(|e| e.kind == ElementKind::Roof && e.space.0 == space);
        let Some(roof) = roof else {
            let message = format!("there is no roof over \"{}\"", plan.side);
            self.error("opening", format!("{item}.side"), message, "name a room under a roof");
            return;
        };
        let face = self.number(units[unit.0].frame_face);
        let (w, h) = (self.number(plan.width), self.number(plan.height));
        let (gw, gh) = ((w - 2.0 * face).max(0.0), (h - 2.0 * face).max(0.0));
        for name in &plan.names {
            let element = &mut elements[roof];
            element.net_m2 -= w * h;
            element.net_outside_m2 -= w * h;
            element.openings.push(OpeningId(out.len()));
            let n = element.outline_m.len().max(1) as f64;
            let mean = |k: usize| element.outline_m.iter().map(|p| p[k]).sum::<f64>() / n;
            out.push(Opening {
                name: name.clone(),
                kind: plan.kind,
                element: ElementId(roof),
                space: element.space,
                unit,
                width_m: w,
                height_m: h,
                sill_m: 0.0,
                at_m: 0.0,
                azimuth_deg: element.azimuth_deg,
                tilt_deg: element.tilt_deg,
                area_m2: w * h,
                glass_m2: gw * gh,
                glass_edge_m: 2.0 * (gw + gh),
                reveal_outside_m: 0.0,
                reveal_inside_m: 0.0,
                shading: Shading::default(),
                blind: plan.blind.clone(),
                opens: plan.opens,
                mid_height_m: element.mid_height_m,
                centre_m: [mean(0), mean(1), mean(2)],
            });
        }
    }

    fn check_openings(&mut self, openings: &[Opening], elements: &[Element]) {
        for (n, a) in openings.iter().enumerate() {
            for b in &openings[n + 1..] {
                let (ea, eb) = (&elements[a.element.0], &elements[b.element.0]);
                if ea.storey != eb.storey || ea.side != eb.side || ea.side.is_none() {
                    continue;
                }
                let apart = (a.at_m - b.at_m).abs() - 0.5 * (a.width_m + b.width_m);
                let above = a.sill_m >= b.sill_m + b.height_m || b.sill_m >= a.sill_m + a.height_m;
                if apart < -1e-6 && !above {
                    let message = format!("{} and {} overlap by {:.2} m", a.name, b.name, -apart);
                    let pattern = self.plan.openings.iter().find(|p| p.names.contains(&b.name));
                    let item = pattern.map_or(&b.name, |p| &p.pattern);
                    self.error("overlap", format!("opening.{item}.at"), message, "move one of them");
                }
            }
        }
    }
}

/// Where an opening sits.
#[derive(Clone, Copy)]
struct At {
    storey: usize,
    side: usize,
    at_m: f64,
}

/// Says whether a wall element holds a coordinate of its side's inside edge.
fn holds(element: &Element, at: At, storey: &Storey, inner: f64) -> bool {
    if element.kind != ElementKind::Wall
        || element.side != Some(at.side)
        || element.storey.map(|s| s.0) != Some(at.storey)
    {
        return false;
    }
    let ends = |p: [f64; 3]| storey.inside.coordinate(at.side, [p[0], p[1]]);
    match element.outline_m.as_slice() {
        [from, to, ..] => ends(*from) <= inner && inner <= ends(*to),
        _ => false,
    }
}

/// Height of the wall over its floor at a coordinate of the inside edge, m.
fn wall_top(element: &Element, storey: &Storey, inner: f64) -> f64 {
    let side = element.side.unwrap_or(0);
    let p = storey.inside.point_at(side, inner);
    let rise = storey.roof.as_ref().map_or(0.0, |roof| roof.form.rise_m(&storey.inside, p));
    storey.height_m + rise
}
