//! Materials, assemblies, units, surfaces, ground, penetrations, neighbours.

use quantity::Dimension;

use super::{Derivation, names};
use crate::calendar::{Calendar, Profile};
use crate::model::{
    Airtightness, Assembly, AssemblyId, Bridge, Ground, Layer, LayerKind, Material, MaterialId, Neighbour,
    NeighbourTemperature, Penetration, Shade, Surfaces, Unit, UnitSolar, UnitThermal,
};
use crate::plan::{self, LayerMaterial, MaterialPlan, UnitPlan};
use crate::stated::{Basis, Enters, Rating, Source, Statement, ValueKey, unlike};

impl Derivation<'_> {
    pub(super) fn assemblies(&mut self) -> Vec<Assembly> {
        let mut out: Vec<Assembly> = Vec::new();
        for plan in &self.plan.assemblies {
            let item = format!("assembly.{}", plan.name);
            if out.iter().any(|a| a.name == plan.name) {
                self.error(
                    "name",
                    item,
                    format!("two assemblies are called \"{}\"", plan.name),
                    "rename one",
                );
                continue;
            }
            if plan.layers.is_empty() && plan.transmittance.is_none() {
                let help = "give its layers from outside to inside, or its U-value".to_owned();
                self.error("assembly", item.clone(), "the assembly has no layers".to_owned(), help);
            }
            let layers: Vec<Layer> =
                (0..plan.layers.len()).filter_map(|i| self.layer(plan, i, &item)).collect();
            out.push(Assembly {
                name: plan.name.clone(),
                place: plan.place,
                // Of the plan's layers: one that could not be made still takes its room.
                thickness_m: plan.layers.iter().map(|layer| self.number(layer.thickness)).sum(),
                layers,
                fire_rated: plan.fire_rated,
                sound_rated: plan.sound_rated,
                transmittance: plan.transmittance,
                correction: plan.correction,
            });
        }
        out
    }

    fn layer(&mut self, plan: &plan::AssemblyPlan, index: usize, item: &str) -> Option<Layer> {
        let layer = &plan.layers[index];
        let item = format!("{item}.layers[{index}]");
        let thickness = self.number(layer.thickness);
        if thickness <= 0.0 {
            let message = format!("a layer is {:.1} mm thick", 1000.0 * thickness);
            self.error("range", format!("{item}.thickness"), message, "a thickness is above zero");
        }
        let kind = match &layer.material {
            LayerMaterial::Air { ventilation, low_emissivity } => {
                LayerKind::Air { ventilation: *ventilation, low_emissivity: *low_emissivity }
            }
            LayerMaterial::Named(name) => LayerKind::Solid(self.material(name, &format!("{item}.material"))?),
        };
        let bridge = match &layer.bridged {
            None => None,
            Some(bridge) => {
                let share = self.number(bridge.share);
                if !(0.0..1.0).contains(&share) {
                    let message = format!("a share of {:.0} % of the layer", 100.0 * share);
                    self.error(
                        "range",
                        format!("{item}.bridged.share"),
                        message,
                        "a share lies from 0 % to under 100 %",
                    );
                }
                let material = self.material(&bridge.material, &format!("{item}.bridged.material"))?;
                let grid = self.grid(plan, index, bridge.with.as_deref(), &item);
                Some(Bridge { material, share: bridge.share, grid })
            }
        };
        Some(Layer {
            name: layer.name.clone(),
            kind,
            thickness: layer.thickness,
            bridge,
            controls: layer.controls.clone(),
            existing: layer.existing,
            service_cavity: layer.service_cavity,
        })
    }

    /// A bridge's grid is the place of the layer it stands on, or its own.
    fn grid(&mut self, plan: &plan::AssemblyPlan, index: usize, with: Option<&str>, item: &str) -> usize {
        let Some(with) = with else { return index };
        let other = plan.layers.iter().position(|l| l.name == with);
        match other {
            Some(other) if other != index && plan.layers[other].bridged.is_some() => other,
            Some(_) => {
                let message = format!("\"{with}\" has no bridges of its own to stand on");
                self.error("assembly", format!("{item}.bridged.with"), message, "name another bridged layer");
                index
            }
            None => {
                let names = plan.layers.iter().map(|l| l.name.as_str());
                let help = names::help(with, names);
                self.error(
                    "name",
                    format!("{item}.bridged.with"),
                    format!("no layer called \"{with}\""),
                    help,
                );
                index
            }
        }
    }

    pub(super) fn material(&mut self, name: &str, item: &str) -> Option<MaterialId> {
        if let Some(known) = self.materials.iter().position(|m| m.name == name) {
            return Some(MaterialId(known));
        }
        let own = self.plan.materials.iter().find(|m| m.name == name);
        let base = match own {
            Some(own) => own.like.as_deref().map(|like| (like, format!("material.{name}.like"))),
            None => Some((name, item.to_owned())),
        };
        let row = match &base {
            None => None,
            Some((wanted, place)) => {
                let found = matter::find(wanted);
                if found.is_none() {
                    self.no_such_material(wanted, place);
                    return None;
                }
                found
            }
        };
        let nothing = MaterialPlan { name: name.to_owned(), ..MaterialPlan::default() };
        let made = self.merged(own.unwrap_or(&nothing), row)?;
        self.materials.push(made);
        Some(MaterialId(self.materials.len() - 1))
    }

    fn no_such_material(&mut self, wanted: &str, item: &str) {
        let own: Vec<&str> = self.plan.materials.iter().map(|m| m.name.as_str()).collect();
        let help = match names::nearest(wanted, own) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => {
                let near: Vec<String> =
                    matter::nearest(wanted).iter().map(|m| format!("\"{}\"", m.name)).collect();
                match near.as_slice() {
                    [] => "name a material of the book or of the library".to_owned(),
                    near => format!("did you mean {}?", near.join(" or ")),
                }
            }
        };
        self.error("name", item, format!("no material called \"{wanted}\""), help);
    }

    /// A material of the book laid over a library row.
    fn merged(&mut self, own: &MaterialPlan, row: Option<&'static matter::Material>) -> Option<Material> {
        let name = own.name.clone();
        let missing = |key: &str| (format!("material.{name}.{key}"), format!("the material has no {key}"));
        let need = |d: &mut Self, own: Option<ValueKey>, key: &'static str, from: Option<f64>, dim, kind| {
            if let Some(key) = own {
                return Some(key);
            }
            let Some((value, row)) = from.zip(row) else {
                let (item, message) = missing(key);
                d.error("material", item, message, "state it, or start from a library row with `like`");
                return None;
            };
            Some(d.library_value(&name, key, value, dim, kind, row))
        };
        let conductivity = need(
            self,
            own.conductivity,
            "conductivity",
            row.map(|r| r.conductivity_w_mk),
            Dimension::Conductivity,
            "conductivity",
        );
        let density =
            need(self, own.density, "density", row.map(|r| r.density_kg_m3), Dimension::Density, "density");
        let specific_heat = need(
            self,
            own.specific_heat,
            "specific-heat",
            row.map(|r| r.specific_heat_j_kgk),
            Dimension::SpecificHeat,
            "specific heat",
        );
        let factor = |d: &mut Self, own: Option<ValueKey>, key: &'static str, from: Option<f64>| {
            own.or_else(|| {
                let (value, row) = from.filter(|mu| mu.is_finite()).zip(row)?;
                Some(d.library_value(&name, key, value, Dimension::VapourFactor, "vapour factor", row))
            })
        };
        let dry = factor(self, own.vapour_factor_dry, "vapour-factor-dry", row.and_then(|r| r.mu_dry));
        let wet = factor(self, own.vapour_factor_wet, "vapour-factor-wet", row.and_then(|r| r.mu_wet));
        let from = row.and_then(|r| r.hygric.as_ref()).and_then(|h| h.absorption_kg_m2s05);
        let absorption = own.absorption.or_else(|| {
            let (value, row) = from.zip(row)?;
            let dimension = Dimension::AbsorptionCoefficient;
            Some(self.library_value(&name, "absorption", value, dimension, "absorption", row))
        });
        for (key, what) in
            [(conductivity, "conductivity"), (density, "density"), (specific_heat, "specific-heat")]
        {
            if let Some(key) = key
                && self.number(key) <= 0.0
            {
                let message = format!("a {what} of {}", self.number(key));
                self.error("range", format!("material.{name}.{what}"), message, "it must be above zero");
            }
        }
        if let Some(key) = own.emissivity
            && !(0.0..=1.0).contains(&self.number(key))
        {
            let message = format!("an emissivity of {}", self.number(key));
            self.error(
                "range",
                format!("material.{name}.emissivity"),
                message,
                "an emissivity lies from 0 to 1",
            );
        }
        Some(Material {
            name: own.name.clone(),
            library: row.map(|r| r.name.clone()),
            family: row.map(|r| r.family),
            conductivity: conductivity?,
            density: density?,
            specific_heat: specific_heat?,
            vapour_factor_dry: dry,
            vapour_factor_wet: wet,
            absorption,
            air_permeability: own.air_permeability,
        })
    }

    fn library_value(
        &mut self,
        material: &str,
        key: &str,
        value: f64,
        dimension: Dimension,
        kind: &'static str,
        row: &matter::Material,
    ) -> ValueKey {
        let rating = match dimension {
            Dimension::Conductivity => row.rating.mean_temperature_c.map(Rating::MeanTemperatureC),
            Dimension::VapourFactor if key.ends_with("dry") => Some(Rating::DryCup),
            Dimension::VapourFactor => Some(Rating::WetCup),
            _ => None,
        };
        self.state(Statement {
            id: format!("material.{material}.{key}"),
            value,
            spread: None,
            kind,
            dimension,
            basis: Basis::Assumed,
            rating,
            source: Source::Library(row.name.clone()),
            group: None,
            enters: Enters::IN_USE,
        })
    }

    pub(super) fn units(&mut self) -> Vec<Unit> {
        let mut out: Vec<Unit> = Vec::new();
        for plan in &self.plan.units {
            let item = format!("unit.{}", plan.name);
            if out.iter().any(|u| u.name == plan.name) {
                self.error("name", item, format!("two units are called \"{}\"", plan.name), "rename one");
                continue;
            }
            if let Some(unit) = self.unit(plan, &item) {
                out.push(unit);
            }
        }
        out
    }

    fn unit(&mut self, plan: &UnitPlan, item: &str) -> Option<Unit> {
        for (key, name) in [(plan.glazing_g, "glazing.g"), (plan.whole_g, "g"), (plan.light, "light")] {
            if let Some(key) = key
                && !(0.0..=1.0).contains(&self.number(key))
            {
                let message = format!("{} lets in more than all, or less than nothing", self.number(key));
                self.error("range", format!("{item}.{name}"), message, "a share of the sun lies from 0 to 1");
            }
        }
        // Whole-unit ratings stand alone; parts are combined, so theirs must be of one kind.
        if plan.whole_u.is_none() {
            self.check_ratings(&[plan.glazing_u, plan.frame_u, plan.edge_psi], plan.rating.as_ref(), item);
        }
        self.check_ratings(&[plan.glazing_g], plan.rating.as_ref(), item);
        let parts = plan.glazing_u.zip(plan.frame_u).zip(plan.edge_psi);
        let thermal = match (parts, plan.whole_u) {
            (_, Some(whole)) => UnitThermal::Whole(whole),
            (Some(((glazing, frame), edge)), None) => UnitThermal::Parts { glazing, frame, edge },
            (None, None) => {
                let help = "give glazing u, frame u and edge, or the rated u of the whole".to_owned();
                self.error("unit", item, "how much heat the unit loses is not said".to_owned(), help);
                return None;
            }
        };
        let solar = match (plan.glazing_g, plan.whole_g) {
            (Some(g), _) => UnitSolar::Glazing(g),
            (None, Some(g)) => UnitSolar::Whole(g),
            (None, None) => UnitSolar::None,
        };
        let face = self.or_default(
            plan.frame_face,
            &format!("{item}.frame.face"),
            "unit.frame-face",
            Dimension::Length,
        );
        let depth = self.or_default(
            plan.frame_depth,
            &format!("{item}.frame.depth"),
            "unit.frame-depth",
            Dimension::Length,
        );
        Some(Unit {
            name: plan.name.clone(),
            about: plan.about.clone(),
            thermal,
            solar,
            panes: plan.panes.unwrap_or(2),
            frame_face: face,
            frame_depth: depth,
            opaque_share: plan.opaque_share,
            rating: plan.rating.clone(),
            air_leakage: plan.air_leakage,
        })
    }

    /// Figures that are put together must have been found by one procedure.
    pub(super) fn check_ratings(&mut self, keys: &[Option<ValueKey>], also: Option<&Rating>, item: &str) {
        let stated = keys.iter().flatten().map(|&key| self.values.get(key).rating.as_ref());
        if let Some((a, b)) = unlike(stated.chain([also])) {
            let message = format!("figures rated by \"{a}\" and by \"{b}\" are put together");
            let help = "use figures of one rating, or give the whole unit as rated";
            self.error("rating", item, message, help);
        }
    }

    pub(super) fn neighbours(&mut self) -> Vec<Neighbour> {
        let calendar = Calendar::new(&self.plan.calendar);
        let mut out: Vec<Neighbour> = Vec::new();
        for plan in &self.plan.neighbours {
            let item = format!("neighbour.{}", plan.name);
            if out.iter().any(|n| n.name == plan.name) {
                self.error(
                    "name",
                    item,
                    format!("two neighbours are called \"{}\"", plan.name),
                    "rename one",
                );
                continue;
            }
            let temperature = match &plan.temperature {
                plan::NeighbourTemperature::Floating { factor } => {
                    NeighbourTemperature::Floating { factor: *factor }
                }
                plan::NeighbourTemperature::Stated { temperature, floats_up_with_outdoors, decay } => {
                    NeighbourTemperature::Stated {
                        profile: self.scheduled(&calendar, temperature, plan, &format!("{item}.temperature")),
                        usual: temperature.usual,
                        floats_up_with_outdoors: *floats_up_with_outdoors,
                        decay: *decay,
                    }
                }
            };
            let pressure = plan.pressure.as_ref();
            let pressure = pressure.map(|p| self.scheduled(&calendar, p, plan, &format!("{item}.pressure")));
            out.push(Neighbour { name: plan.name.clone(), about: plan.about.clone(), temperature, pressure });
        }
        out
    }

    /// Neighbours keep their own hours: our closed days are not theirs.
    fn scheduled(
        &mut self,
        calendar: &Calendar,
        scheduled: &plan::Scheduled,
        neighbour: &plan::NeighbourPlan,
        item: &str,
    ) -> Profile<ValueKey> {
        let mut profile = Profile::always(scheduled.usual);
        for (state, value) in &scheduled.states {
            let mut said = false;
            for when in neighbour.when.iter().filter(|when| when.state == *state) {
                said = true;
                let days = calendar.all_days(&when.rule);
                for span in when.rule.hours() {
                    profile.set(&days, *span, *value);
                }
            }
            if !said {
                let help = format!("add when.{state} = \"Tue, Thu 16:00–23:00\" to the neighbour");
                self.error("calendar", item, format!("when the neighbour is \"{state}\" is not said"), help);
            }
        }
        profile
    }

    pub(super) fn penetrations(&mut self, assemblies: &[Assembly]) -> Vec<Penetration> {
        let names: Vec<&str> = assemblies.iter().map(|a| a.name.as_str()).collect();
        let mut out = Vec::new();
        for plan in &self.plan.penetrations {
            let item = format!("penetration.{}.through", plan.name);
            if let Some(through) = self.find("assembly", &plan.through, &names, &item) {
                out.push(Penetration { plan: plan.clone(), through: AssemblyId(through) });
            }
        }
        out
    }

    pub(super) fn shades(&mut self) -> Vec<Shade> {
        let mut out = Vec::new();
        for plan in &self.plan.shades {
            let item = format!("shade.{}", plan.name);
            if let Some(outline) = self.outline(&plan.outline, None, &format!("{item}.outline")) {
                let top_m = self.number(plan.top);
                out.push(Shade { name: plan.name.clone(), outline, top_m, transmits: plan.transmits });
            }
        }
        out
    }

    pub(super) fn ground(&mut self) -> Ground {
        let plan = &self.plan.ground;
        Ground {
            conductivity: self.or_default(
                plan.conductivity,
                "ground.conductivity",
                "ground.conductivity",
                Dimension::Conductivity,
            ),
            volumetric_heat: self.or_default(
                plan.volumetric_heat,
                "ground.heat-capacity",
                "ground.volumetric-heat",
                Dimension::VolumetricHeatCapacity,
            ),
        }
    }

    pub(super) fn airtightness(&mut self) -> Airtightness {
        let plan = &self.plan.airtightness;
        Airtightness {
            expected: self.or_default(
                plan.expected,
                "airtightness.expected",
                "airtightness.expected",
                Dimension::AirChange,
            ),
            exponent: self.or_default(
                plan.exponent,
                "airtightness.exponent",
                "airtightness.exponent",
                Dimension::Ratio,
            ),
            party: plan.party,
            wanted_chance: plan.wanted_chance,
            reference_pressure: self.or_default(
                plan.reference_pressure,
                "airtightness.reference-pressure",
                "airtightness.reference-pressure",
                Dimension::Pressure,
            ),
        }
    }

    pub(super) fn surfaces(&mut self) -> Surfaces {
        let plan = &self.plan.surfaces;
        let mut get = |key: Option<ValueKey>, id: &str, row: &str| {
            let id = format!("surface.{id}");
            let key = self.or_default(key, &id, row, Dimension::Ratio);
            if !(0.0..=1.0).contains(&self.number(key)) {
                let message = format!("a share of {}", self.number(key));
                self.error("range", id, message, "absorptance, emissivity and reflectance lie from 0 to 1");
            }
            key
        };
        Surfaces {
            wall_absorptance: get(plan.wall_absorptance, "wall-absorptance", "surface.wall-absorptance"),
            roof_absorptance: get(plan.roof_absorptance, "roof-absorptance", "surface.roof-absorptance"),
            wall_emissivity: get(plan.wall_emissivity, "wall-emissivity", "surface.emissivity"),
            roof_emissivity: get(plan.roof_emissivity, "roof-emissivity", "surface.emissivity"),
            ground_reflectance: get(
                plan.ground_reflectance,
                "ground-reflectance",
                "surface.ground-reflectance",
            ),
        }
    }
}
