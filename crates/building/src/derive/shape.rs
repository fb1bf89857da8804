//! Site, storeys, rooms, zones, floor openings.

use quantity::Dimension;

use super::{Derivation, names};
use crate::geometry::{Polygon, PolygonError, TOUCH_M, intersection, roof_geometry};
use crate::model::{
    Assembly, AssemblyId, Beyond, FloorOpening, Neighbour, NeighbourId, Obstruction, Roof, RoofShape, Side,
    Site, Space, SpaceId, Storey, StoreyId, Zone, ZoneId,
};
use crate::plan::{BeyondPlan, Outline, Placement, RoofForm, StoreyPlan};
use crate::stated::ValueKey;

/// What later steps need of the shape.
pub(super) struct Shape {
    pub storeys: Vec<Storey>,
    /// Place of each storey in the plan.
    pub storey_plans: Vec<usize>,
    pub spaces: Vec<Space>,
    pub zones: Vec<Zone>,
    pub floor_openings: Vec<FloorOpening>,
    pub obstructions: Vec<Obstruction>,
}

impl Shape {
    /// Outlines that are ours on a storey: its rooms where a neighbour fills the rest, else all inside its walls.
    pub fn region(&self, storey: StoreyId, has_rest: bool) -> Vec<&Polygon> {
        let s = &self.storeys[storey.0];
        if has_rest {
            s.spaces.iter().filter_map(|id| self.spaces[id.0].outline.as_ref()).collect()
        } else {
            vec![&s.inside]
        }
    }

    pub fn space_names(&self) -> Vec<&str> {
        self.spaces.iter().map(|s| s.name.as_str()).collect()
    }
}

impl Derivation<'_> {
    pub(super) fn site(&mut self) -> Site {
        let plan = &self.plan.site;
        for (key, name, example) in
            [(plan.latitude, "latitude", "36.0 deg"), (plan.longitude, "longitude", "-79.4 deg")]
        {
            if key.is_none() {
                let help = format!("write {name} = \"{example}\"");
                self.error("site", format!("site.{name}"), format!("the site has no {name}"), help);
            }
        }
        let latitude = self.or_default(plan.latitude, "site.latitude", "site.latitude", Dimension::Angle);
        let longitude = self.or_default(plan.longitude, "site.longitude", "site.longitude", Dimension::Angle);
        for (key, name, most) in [(latitude, "latitude", 90.0), (longitude, "longitude", 180.0)] {
            if self.number(key).abs() > most {
                let message = format!("a {name} of {} degrees", self.number(key));
                self.error(
                    "range",
                    format!("site.{name}"),
                    message,
                    format!("it lies from -{most} to {most}"),
                );
            }
        }
        Site {
            latitude,
            longitude,
            elevation: self.or_default(plan.elevation, "site.elevation", "site.elevation", Dimension::Length),
            climate: plan.climate.clone(),
            terrain: plan.terrain,
            north_deg: plan.north.map_or(0.0, |key| self.number(key)),
            climate_class: plan.climate_class.clone(),
            ground_level_m: plan.ground_level.map_or(0.0, |key| self.number(key)),
        }
    }

    pub(super) fn shape(&mut self, site: &Site, neighbours: &[Neighbour], assemblies: &[Assembly]) -> Shape {
        let mut order: Vec<usize> = (0..self.plan.storeys.len()).collect();
        let level = |d: &Self, i: usize| d.number(d.plan.storeys[i].floor_level);
        order.sort_by(|&a, &b| level(self, a).total_cmp(&level(self, b)).then(a.cmp(&b)));
        let mut shape = Shape {
            storeys: Vec::new(),
            storey_plans: Vec::new(),
            spaces: Vec::new(),
            zones: Vec::new(),
            floor_openings: Vec::new(),
            obstructions: Vec::new(),
        };
        let base = order.iter().find_map(|&i| {
            let outline = self.plan.storeys[i].footprint.clone()?;
            self.outline(&outline, None, &format!("storey.{}.footprint", self.plan.storeys[i].name))
        });
        for index in order {
            let plan = &self.plan.storeys[index];
            if shape.storeys.iter().any(|s| s.name == plan.name) {
                let item = format!("storey.{}", plan.name);
                self.error("name", item, format!("two storeys are called \"{}\"", plan.name), "rename one");
                continue;
            }
            if let Some(storey) = self.storey(plan, base.as_ref(), site, neighbours, assemblies) {
                shape.storeys.push(storey);
                shape.storey_plans.push(index);
            }
        }
        self.spaces(&mut shape);
        self.fit_roofs(&mut shape, neighbours, assemblies);
        self.measure_spaces(&mut shape);
        self.zones(&mut shape);
        self.floor_openings(&mut shape);
        shape
    }

    /// Turns an outline into a polygon. `holder` is what a placement refers to; points are measured from its lower
    /// left corner.
    pub(super) fn outline(
        &mut self,
        outline: &Outline,
        holder: Option<&Polygon>,
        item: &str,
    ) -> Option<Polygon> {
        let (low, high) = holder.map_or(([0.0; 2], [0.0; 2]), Polygon::bounds);
        let made = match outline {
            Outline::Rectangle { width, depth, at } => {
                let (w, d) = (self.number(*width), self.number(*depth));
                if !(w > 0.0 && d > 0.0) {
                    let message = format!("a rectangle of {w} m by {d} m");
                    self.error("geometry", item, message, "both sides must be above zero");
                    return None;
                }
                let [x, y] = match at {
                    Placement::Origin => low,
                    Placement::Point([x, y]) => [low[0] + self.number(*x), low[1] + self.number(*y)],
                    Placement::Side(side) => place_on_side(side.name(), low, high, w, d),
                };
                Polygon::rectangle(x, y, w, d)
            }
            Outline::Corners(points) => {
                let at = |p: &[ValueKey; 2]| [low[0] + self.number(p[0]), low[1] + self.number(p[1])];
                Polygon::new(points.iter().map(at).collect())
            }
        };
        made.map_err(|why| {
            let help = match why {
                PolygonError::Crossing(..) => "list the corners in order, once around the building",
                _ => "list at least three corners in order, each once",
            };
            self.error("geometry", item, why.to_string(), help);
        })
        .ok()
    }

    fn storey(
        &mut self,
        plan: &StoreyPlan,
        base: Option<&Polygon>,
        site: &Site,
        neighbours: &[Neighbour],
        assemblies: &[Assembly],
    ) -> Option<Storey> {
        let item = format!("storey.{}", plan.name);
        let height_m = self.number(plan.height);
        if height_m <= 0.0 {
            self.error(
                "range",
                format!("{item}.height"),
                format!("a height of {height_m} m"),
                "it must be above zero",
            );
        }
        let drawn = match (&plan.footprint, &plan.inside) {
            (Some(outline), _) => {
                self.outline(outline, holder_of(outline, base), &format!("{item}.footprint"))?
            }
            (None, Some(outline)) => {
                self.outline(outline, holder_of(outline, base), &format!("{item}.inside"))?
            }
            (None, None) => {
                let help = "write footprint = \"rectangle 24.4 m × 13.4 m\" or a list of corners";
                self.error(
                    "geometry",
                    format!("{item}.footprint"),
                    "the storey has no footprint".to_owned(),
                    help,
                );
                return None;
            }
        };
        let sides = self.sides(plan, &drawn, site, neighbours, assemblies, &item)?;
        let thickness: Vec<f64> = sides.iter().map(|side| assemblies[side.assembly.0].thickness_m).collect();
        let outward: Vec<f64> = thickness.iter().map(|t| -t).collect();
        let faces = if plan.footprint.is_some() {
            drawn.offset_inward(&thickness).map(|inside| (drawn, inside))
        } else {
            drawn.offset_inward(&outward).map(|outside| (outside, drawn))
        };
        let (outside, mut inside) = match faces {
            Ok(faces) => faces,
            Err(_) => {
                let message = "the walls are thicker than the footprint leaves room for".to_owned();
                self.error(
                    "geometry",
                    format!("{item}.footprint"),
                    message,
                    "check footprint and wall thickness",
                );
                return None;
            }
        };
        if let (Some(_), Some(surveyed)) = (&plan.footprint, &plan.inside) {
            let holder = (!matches!(surveyed, Outline::Corners(_))).then_some(&inside);
            let surveyed = self.outline(surveyed, holder, &format!("{item}.inside"))?;
            if surveyed.len() != outside.len() {
                let message = "inside and outside faces have different numbers of corners".to_owned();
                self.error("geometry", format!("{item}.inside"), message, "draw both corner by corner");
                return None;
            }
            inside = surveyed;
        }
        Some(Storey {
            name: plan.name.clone(),
            floor_level_m: self.number(plan.floor_level),
            height_m,
            outside,
            inside,
            sides,
            roof: None,
            spaces: Vec::new(),
        })
    }

    fn sides(
        &mut self,
        plan: &StoreyPlan,
        drawn: &Polygon,
        site: &Site,
        neighbours: &[Neighbour],
        assemblies: &[Assembly],
        item: &str,
    ) -> Option<Vec<Side>> {
        let names = self.side_names(plan, drawn, item);
        for side in &plan.walls.sides {
            if !names.iter().any(|name| is_side(name, &side.side)) {
                let help = names::help(&side.side, names.iter().map(String::as_str));
                let message = format!("the storey has no side \"{}\"", side.side);
                self.error("name", format!("{item}.walls.{}", side.side), message, help);
            }
        }
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        let mut out = Vec::with_capacity(names.len());
        for (i, name) in names.iter().enumerate() {
            let own = plan.walls.sides.iter().find(|s| is_side(name, &s.side));
            let wanted = own.and_then(|s| s.assembly.as_ref()).or(plan.walls.assembly.as_ref());
            let Some(wanted) = wanted else {
                let message = format!("side {name} has no wall");
                self.error("assembly", format!("{item}.walls"), message, "write walls = \"an assembly\"");
                return None;
            };
            let assembly = self.find("assembly", wanted, &all, &format!("{item}.walls"))?;
            let beyond = own.map_or(BeyondPlan::Outside, |s| s.beyond.clone());
            let beyond = self.beyond(&beyond, neighbours, &format!("{item}.walls.{name}"));
            let azimuth_deg = turned(drawn.outward_azimuth_deg(i), site.north_deg);
            out.push(Side { name: name.clone(), azimuth_deg, assembly: AssemblyId(assembly), beyond });
        }
        Some(out)
    }

    fn side_names(&mut self, plan: &StoreyPlan, drawn: &Polygon, item: &str) -> Vec<String> {
        if !plan.side_names.is_empty() {
            if plan.side_names.len() == drawn.len() {
                return plan.side_names.clone();
            }
            let message = format!("{} names for {} sides", plan.side_names.len(), drawn.len());
            self.error(
                "geometry",
                format!("{item}.sides"),
                message,
                "name every side, in the order of the corners",
            );
        }
        let compass = |i: usize| {
            // Cardinal names unless the side stands well askew.
            let eighth = (drawn.outward_azimuth_deg(i) / 45.0).round() as usize % 8;
            ["N", "NE", "E", "SE", "S", "SW", "W", "NW"][eighth]
        };
        let plain: Vec<&str> = (0..drawn.len()).map(compass).collect();
        let numbered = |(i, name): (usize, &&str)| {
            if plain.iter().filter(|n| n == &name).count() == 1 {
                return (*name).to_owned();
            }
            format!("{name}-{}", plain[..=i].iter().filter(|n| n == &name).count())
        };
        plain.iter().enumerate().map(numbered).collect()
    }

    pub(super) fn beyond(&mut self, plan: &BeyondPlan, neighbours: &[Neighbour], item: &str) -> Beyond {
        match plan {
            BeyondPlan::Outside => Beyond::Outside,
            BeyondPlan::Ground => Beyond::Ground,
            BeyondPlan::Neighbour(name) => {
                let names: Vec<&str> = neighbours.iter().map(|n| n.name.as_str()).collect();
                self.find("neighbour", name, &names, item)
                    .map_or(Beyond::Outside, |n| Beyond::Neighbour(NeighbourId(n)))
            }
        }
    }

    fn spaces(&mut self, shape: &mut Shape) {
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

    fn fit_roofs(&mut self, shape: &mut Shape, neighbours: &[Neighbour], assemblies: &[Assembly]) {
        let all: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        for (i, &index) in shape.storey_plans.clone().iter().enumerate() {
            let Some(plan) = &self.plan.storeys[index].roof else { continue };
            let item = format!("storey.{}.roof", shape.storeys[i].name);
            let Some(assembly) = self.find("assembly", &plan.assembly, &all, &format!("{item}.assembly"))
            else {
                continue;
            };
            let beyond = self.beyond(&plan.beyond, neighbours, &format!("{item}.over"));
            let slope = plan.slope.map(|key| self.number(key));
            let storey = &shape.storeys[i];
            let sloped = plan.form != RoofForm::Flat;
            if sloped && !slope.is_some_and(|s| (1.0..80.0).contains(&s)) {
                let message =
                    format!("a sloped roof of {} degrees", slope.map_or("no".to_owned(), |s| s.to_string()));
                self.error("roof", format!("{item}.slope"), message, "write slope = \"40 deg\" or \"6:12\"");
                continue;
            }
            let slope = slope.unwrap_or(0.0);
            let form = match &plan.form {
                RoofForm::Flat => RoofShape::Flat,
                RoofForm::Gable { ridge_along_x } => RoofShape::gable(&storey.inside, *ridge_along_x, slope),
                RoofForm::Shed { low_side } => {
                    let sides: Vec<&str> = storey.sides.iter().map(|s| s.name.as_str()).collect();
                    match self.find("side", low_side, &sides, &format!("{item}.low-side")) {
                        Some(side) => RoofShape::shed(&storey.inside, side, slope),
                        None => continue,
                    }
                }
            };
            let top_m = roof_geometry(&form, &storey.inside, &storey.inside, storey.height_m).top_m;
            let parapet_m = plan.parapet.map_or(0.0, |key| self.number(key));
            shape.storeys[i].roof =
                Some(Roof { form, assembly: AssemblyId(assembly), beyond, parapet_m, top_m });
        }
    }

    /// Volumes under flat and sloped roofs, and the voids over dropped ceilings.
    fn measure_spaces(&mut self, shape: &mut Shape) {
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

    fn zones(&mut self, shape: &mut Shape) {
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

    fn floor_openings(&mut self, shape: &mut Shape) {
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

/// `S` names the side `S`, and also `S-1`, `S-2` when several sides face south.
pub(super) fn is_side(name: &str, wanted: &str) -> bool {
    name == wanted || name.strip_prefix(wanted).is_some_and(|rest| rest.starts_with('-'))
}

/// Plan azimuth to true azimuth, 0 to 360.
pub(super) fn turned(plan_azimuth_deg: f64, north_deg: f64) -> f64 {
    let azimuth = (plan_azimuth_deg + north_deg).rem_euclid(360.0);
    if azimuth > 360.0 - 1e-9 { 0.0 } else { azimuth }
}

/// Storeys lie on the plan's own axes, unless they are placed against a side of the first one.
fn holder_of<'a>(outline: &Outline, base: Option<&'a Polygon>) -> Option<&'a Polygon> {
    match outline {
        Outline::Rectangle { at: Placement::Side(_), .. } => base,
        _ => None,
    }
}

fn place_on_side(side: &str, low: [f64; 2], high: [f64; 2], w: f64, d: f64) -> [f64; 2] {
    let x = match side {
        s if s.contains('E') => high[0] - w,
        s if s.contains('W') => low[0],
        _ => 0.5 * (low[0] + high[0] - w),
    };
    let y = match side {
        s if s.contains('N') => high[1] - d,
        s if s.contains('S') => low[1],
        _ => 0.5 * (low[1] + high[1] - d),
    };
    [x, y]
}
