//! Site, storeys, rooms, zones, floor openings.

use quantity::Dimension;

use super::{Derivation, names};
use crate::geometry::{Polygon, PolygonError, roof_geometry};
use crate::model::{
    Assembly, AssemblyId, Beyond, FloorOpening, Neighbour, NeighbourId, Obstruction, Roof, RoofShape, Side,
    Site, Space, Storey, StoreyId, Zone,
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
            rain: plan.rain,
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
