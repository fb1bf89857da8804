//! Rooms: their outlines, volumes, zones, holes through floors, beams.

use super::Derivation;
use super::shape::Shape;
use crate::geometry::{Polygon, TOUCH_M, intersection, roof_geometry};
use crate::model::{FloorOpening, Obstruction, RoofShape, Space, SpaceId, StoreyId, Zone, ZoneId};
use crate::plan::RoofForm;

impl Derivation<'_> {
    pub(super) fn spaces(&mut self, shape: &mut Shape) {
        let storeys: Vec<String> = shape.storeys.iter().map(|s| s.name.clone()).collect();
        let names: Vec<&str> = storeys.iter().map(String::as_str).collect();
        for plan in &self.plan.spaces {
            let item = format!("space.{}", plan.name);
            if shape.spaces.iter().any(|s| s.name == plan.name) {
                self.error("name", item, format!("two rooms are called \"{}\"", plan.name), "rename one");
                continue;
            }
            let Some(storey) = self.find("storey", &plan.storey, &names, &format!("{item}.storey")) else {
                continue;
            };
            let holder = shape.storeys[storey].inside.clone();
            let outline = match &plan.plan {
                Some(outline) => match self.outline(outline, Some(&holder), &format!("{item}.plan")) {
                    Some(outline) => Some(outline),
                    None => continue,
                },
                None => None,
            };
            let area = plan.area.map(|key| self.number(key)).or_else(|| outline.as_ref().map(Polygon::area));
            let Some(area_m2) = area.filter(|a| *a > 0.0) else {
                let help = "write plan = \"rectangle 3.60 m × 4.10 m at 0 m, 0 m\", or its area";
                self.error("geometry", item, "the room has no size".to_owned(), help);
                continue;
            };
            let height = shape.storeys[storey].height_m;
            let ceiling = plan.ceiling.map(|key| self.number(key));
            if let Some(c) = ceiling
                && !(0.0..=height + TOUCH_M).contains(&c)
                && self.plan.storeys[shape.storey_plans[storey]]
                    .roof
                    .as_ref()
                    .is_none_or(|r| r.form == RoofForm::Flat)
            {
                let message = format!("the ceiling at {c:.2} m is higher than the storey, {height:.2} m");
                self.error(
                    "geometry",
                    format!("{item}.ceiling"),
                    message,
                    "a dropped ceiling lies under the storey's",
                );
            }
            self.check_inside(&holder, outline.as_ref(), &item);
            let id = SpaceId(shape.spaces.len());
            shape.storeys[storey].spaces.push(id);
            shape.spaces.push(Space {
                name: plan.name.clone(),
                label: if plan.label.is_empty() { plan.name.clone() } else { plan.label.clone() },
                storey: StoreyId(storey),
                zone: ZoneId(0),
                kind: plan.kind,
                outline,
                area_m2,
                ceiling_m: ceiling.unwrap_or(height),
                clear_m: height,
                volume_m3: 0.0,
                void_m3: 0.0,
            });
        }
        for i in 0..shape.storeys.len() {
            if shape.storeys[i].spaces.is_empty() {
                self.whole_storey_as_room(shape, i);
            } else {
                self.check_overlaps(shape, i);
                let storey = &shape.storeys[i];
                let rooms: Vec<&Polygon> =
                    storey.spaces.iter().filter_map(|id| shape.spaces[id.0].outline.as_ref()).collect();
                let (inside, _) = storey.inside.snapped_to(&rooms);
                shape.storeys[i].inside = inside;
            }
        }
    }

    fn whole_storey_as_room(&mut self, shape: &mut Shape, storey: usize) {
        let id = SpaceId(shape.spaces.len());
        let s = &mut shape.storeys[storey];
        s.spaces.push(id);
        shape.spaces.push(Space {
            name: s.name.clone(),
            label: s.name.clone(),
            storey: StoreyId(storey),
            zone: ZoneId(0),
            kind: crate::plan::SpaceKind::Main,
            outline: Some(s.inside.clone()),
            area_m2: s.inside.area(),
            ceiling_m: s.height_m,
            clear_m: s.height_m,
            volume_m3: 0.0,
            void_m3: 0.0,
        });
    }

    fn check_inside(&mut self, holder: &Polygon, outline: Option<&Polygon>, item: &str) {
        let Some(outline) = outline else { return };
        let far = outline.corners().iter().filter(|&&p| !holder.holds(p, TOUCH_M));
        let reach =
            far.map(|&p| (0..holder.len()).map(|i| holder.distance_out(i, p)).fold(f64::MIN, f64::max));
        if let Some(worst) = reach.reduce(f64::max) {
            let message =
                format!("the room reaches {:.2} m into or past the wall of its storey", worst.abs());
            let help = "check size and place; places are measured from the inside south-west corner";
            self.error("geometry", format!("{item}.plan"), message, help);
        }
    }

    fn check_overlaps(&mut self, shape: &Shape, storey: usize) {
        let rooms = &shape.storeys[storey].spaces;
        for (n, a) in rooms.iter().enumerate() {
            for b in &rooms[n + 1..] {
                let (a, b) = (&shape.spaces[a.0], &shape.spaces[b.0]);
                if let (Some(pa), Some(pb)) = (&a.outline, &b.outline) {
                    let shared = intersection(pa, pb);
                    if shared > 0.01 {
                        let message =
                            format!("the rooms \"{}\" and \"{}\" share {shared:.2} m²", a.name, b.name);
                        let help = "move or shrink one of them";
                        self.error("overlap", format!("space.{}.plan", b.name), message, help);
                    }
                }
            }
        }
    }

    /// Volumes under flat and sloped roofs, and the voids over dropped ceilings.
    pub(super) fn measure_spaces(&mut self, shape: &mut Shape) {
        for id in 0..shape.spaces.len() {
            let storey = shape.storeys[shape.spaces[id].storey.0].clone();
            let dropped = self.plan.spaces.iter().find(|s| s.name == shape.spaces[id].name);
            let dropped = dropped.and_then(|s| s.ceiling).is_some();
            let space = &mut shape.spaces[id];
            let sloped = storey.roof.as_ref().filter(|roof| roof.form != RoofShape::Flat);
            if let (Some(roof), Some(outline)) = (sloped, &space.outline) {
                let under = roof_geometry(&roof.form, &storey.inside, outline, storey.height_m);
                // The net area may be stated beside the outline; heights are the outline's.
                space.clear_m = under.volume_m3 / outline.area();
                if !dropped {
                    space.ceiling_m = space.clear_m;
                }
            }
            space.ceiling_m = space.ceiling_m.min(space.clear_m);
            space.volume_m3 = space.area_m2 * space.clear_m;
            space.void_m3 = space.area_m2 * (space.clear_m - space.ceiling_m);
        }
    }

    pub(super) fn zones(&mut self, shape: &mut Shape) {
        let mut names: Vec<String> = self.plan.zones.iter().map(|z| z.name.clone()).collect();
        let mut zone_of = vec![None::<String>; shape.spaces.len()];
        for (i, space) in shape.spaces.iter().enumerate() {
            let own = self.plan.spaces.iter().find(|s| s.name == space.name).and_then(|s| s.zone.clone());
            let listed =
                self.plan.zones.iter().find(|z| z.spaces.contains(&space.name)).map(|z| z.name.clone());
            zone_of[i] = own.or(listed);
            if let Some(name) = &zone_of[i]
                && !names.contains(name)
            {
                names.push(name.clone());
            }
        }
        if zone_of.iter().any(Option::is_none) {
            let rest = if names.is_empty() { "whole" } else { "rest" };
            if !names.iter().any(|n| n == rest) {
                names.push(rest.to_owned());
            }
            for zone in zone_of.iter_mut().filter(|z| z.is_none()) {
                *zone = Some(rest.to_owned());
            }
        }
        if names.len() > 4 {
            let message = format!("{} zones: {}", names.len(), names.join(", "));
            self.error(
                "zone",
                "zone",
                message,
                "the limits run takes at most four: let rooms that feel alike share one",
            );
        }
        for name in names {
            let spaces: Vec<SpaceId> = (0..shape.spaces.len())
                .filter(|&i| zone_of[i].as_deref() == Some(&name))
                .map(SpaceId)
                .collect();
            if spaces.is_empty() {
                self.warning(
                    "zone",
                    format!("zone.{name}"),
                    "the zone has no room".to_owned(),
                    "give a room this zone",
                );
                continue;
            }
            let zone = ZoneId(shape.zones.len());
            for id in &spaces {
                shape.spaces[id.0].zone = zone;
            }
            let sum = |f: fn(&Space) -> f64| spaces.iter().map(|id| f(&shape.spaces[id.0])).sum();
            let (area_m2, volume_m3) = (sum(|s| s.area_m2), sum(|s| s.volume_m3));
            shape.zones.push(Zone { name, spaces, area_m2, volume_m3 });
        }
    }

    pub(super) fn floor_openings(&mut self, shape: &mut Shape) {
        for plan in &self.plan.floor_openings {
            let item = format!("space.{}.open-to", plan.upper);
            let names = shape.space_names();
            let upper = names.iter().position(|n| *n == plan.upper);
            let lower = self.find("room", &plan.lower, &names, &format!("{item}.space"));
            let (Some(upper), Some(lower)) = (upper, lower) else { continue };
            let (u, l) = (&shape.spaces[upper], &shape.spaces[lower]);
            let (us, ls) = (&shape.storeys[u.storey.0], &shape.storeys[l.storey.0]);
            let by_level = us.floor_level_m - ls.floor_level_m - ls.height_m;
            let thickness_m = plan.thickness.map_or(by_level, |key| self.number(key));
            let area_m2 = self.number(plan.width) * self.number(plan.depth);
            if by_level <= 0.0 {
                let message = format!("\"{}\" does not lie over \"{}\"", u.name, l.name);
                self.error("geometry", item.clone(), message, "an opening joins a room with one below");
            } else if (thickness_m - by_level).abs() > 0.05 {
                let message = format!(
                    "the floor is said to be {thickness_m:.2} m thick, the levels leave {by_level:.2} m"
                );
                self.warning(
                    "geometry",
                    format!("{item}.thickness"),
                    message,
                    "check floor levels and heights",
                );
            }
            if area_m2 > u.area_m2.min(l.area_m2) + 0.01 {
                let message = format!("an opening of {area_m2:.2} m² is larger than the room");
                self.error("geometry", format!("{item}.opening"), message, "check its size");
            }
            let hole = FloorOpening {
                name: plan.name.clone(),
                upper: SpaceId(upper),
                lower: SpaceId(lower),
                area_m2,
                thickness_m,
            };
            // The air of the hole belongs to the room above.
            let volume = hole.volume_m3();
            let zone = shape.spaces[upper].zone;
            shape.spaces[upper].volume_m3 += volume;
            shape.zones[zone.0].volume_m3 += volume;
            shape.floor_openings.push(hole);
        }
    }

    pub(super) fn obstructions(&mut self, shape: &mut Shape) {
        for (i, &index) in shape.storey_plans.iter().enumerate() {
            for plan in &self.plan.storeys[index].obstructions {
                let space =
                    plan.space.as_ref().and_then(|name| shape.spaces.iter().position(|s| s.name == *name));
                shape.obstructions.push(Obstruction {
                    name: plan.name.clone(),
                    space: space.map(SpaceId),
                    storey: StoreyId(i),
                    section_m2: self.values.nominal_of(plan.section),
                    volume_m3: self.values.nominal_of(plan.volume),
                    floor_area_m2: plan.floor_area.map_or(0.0, |key| self.values.nominal_of(key)),
                });
            }
        }
    }
}
