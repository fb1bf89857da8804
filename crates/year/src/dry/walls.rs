//! Assemblies of the model as walls of the moisture law: layers, sheets, cavities, what rain reaches.
//!
//! The field of an assembly is taken, not its bridges: studs make no second dimension, but what grows on them does count
//! (the interfaces beside a bridged layer are judged as if they were the timber). Layers touch one another perfectly;
//! thin sheets pass vapour by their equivalent air layer and stop liquid.

use building::model::{Assembly, Layer as ModelLayer, LayerKind, MaterialId};
use building::plan::AirSpace as Ventilated;
use building::{Building, Resolved};
use fabric::layers::air::AirSpace;
use fabric::layers::film::Direction;
use matter::{Family, Hygric};
use moisture::judge::{Masonry, Surface};
use moisture::material::{self, Filled, LibraryOptions, Sheet};
use moisture::mould::Sensitivity;
use moisture::wall::{AirExchange, Contact, Layer, Place, RainEntry, Side, Wall};
use std::sync::Arc;

/// Membranes, plastics and metals thinner than this are sheets, m.
const SHEET_M: f64 = 0.004;
/// The equivalent air layer of what is called vapour-tight, m (ISO 10456 says 1500 m and more; recalled).
const TIGHT_M: f64 = 1500.0;
/// Still air in a cavity carries vapour about as 10 mm of it would by diffusion (ISO 10456, recalled).
const CAVITY_AIR_LAYER_M: f64 = 0.01;
/// Share of the rain that gets past a cladding onto what stands behind it: ASHRAE 160, recalled.
pub const PENETRATION: f64 = 0.01;

/// A wall with what the judgement needs to know of it.
#[derive(Clone, Debug)]
pub(crate) struct Built {
    /// The wall, inside to outside.
    pub wall: Wall,
    /// Place of each of its layers in the model's list.
    pub model_layer: Vec<usize>,
    /// Equivalent air layers of coats on the inside and outside face, m.
    pub coats_m: [f64; 2],
    /// What was estimated.
    pub filled: Vec<Filled>,
    /// Surfaces that may grow mould.
    pub surfaces: Vec<Surface>,
    /// Layers of wood.
    pub timber: Vec<usize>,
    /// Masonry and what else rain soaks from its face.
    pub masonry: Vec<Masonry>,
    /// Depth of a cavity that outside air passes, m, and the height it rises through.
    pub cavity_m: Option<f64>,
    /// The outer side of the insulation: where leaking room air meets the cold, by interface.
    pub cold_side: usize,
    /// Innermost interface of the soaked outer leaf.
    pub behind_masonry: Option<usize>,
    /// Equivalent air layer, dry and wet cup, of each layer and sheet, inside to outside, with name and m²·K/W.
    pub planes: Vec<(String, f64, f64, f64)>,
}

/// Turns an assembly into a wall; what is missing comes back in sentences, all at once.
pub(crate) fn build(
    building: &Building,
    assembly: &Assembly,
    direction: Direction,
    rained_on: bool,
    r: &Resolved,
) -> Result<Built, Vec<String>> {
    let mut work = Work::default();
    // The model runs outside to inside.
    for (place, layer) in assembly.layers.iter().enumerate().rev() {
        work.add(building, place, layer, direction, r);
    }
    if work.layers.is_empty() && work.missing.is_empty() {
        work.missing.push("it is known by its U alone; moisture needs its layers".to_owned());
    }
    if !work.missing.is_empty() {
        return Err(work.missing);
    }
    Ok(work.finish(building, assembly, rained_on))
}

#[derive(Default)]
struct Work {
    layers: Vec<Layer>,
    model_layer: Vec<usize>,
    rows: Vec<Option<matter::Material>>,
    /// Sheets before layer k (k = number of layers: outside of the last one).
    sheets: Vec<(usize, Sheet)>,
    planes: Vec<(String, f64, f64, f64)>,
    filled: Vec<Filled>,
    missing: Vec<String>,
    /// Layer of the wall that is a cavity outside air passes.
    cavity: Option<usize>,
}

impl Work {
    fn add(
        &mut self,
        building: &Building,
        place: usize,
        layer: &ModelLayer,
        direction: Direction,
        r: &Resolved,
    ) {
        let thickness_m = r[layer.thickness];
        match layer.kind {
            LayerKind::Air { ventilation, low_emissivity } => {
                let emissivity = low_emissivity.map_or(0.9, |key| r[key]);
                let space = AirSpace { emissivities: (emissivity, 0.9), ..AirSpace::still(thickness_m) };
                match space.resistance_m2k_w(direction) {
                    Ok(resistance) => {
                        let d = material::Material::cavity(thickness_m, resistance, CAVITY_AIR_LAYER_M);
                        self.push(place, layer, thickness_m, d, None, resistance);
                    }
                    Err(why) => self.missing.push(format!("{}: {why}", layer.name)),
                }
                if ventilation == Ventilated::Well {
                    self.cavity = Some(self.layers.len().saturating_sub(1));
                }
            }
            LayerKind::Solid(id) => match row(building, id, r) {
                Ok(row) if is_sheet(&row, thickness_m) => self.sheet(layer, &row, thickness_m),
                Ok(row) => self.solid(place, layer, row, thickness_m),
                Err(why) => self.missing.push(why),
            },
        }
    }

    fn sheet(&mut self, layer: &ModelLayer, row: &matter::Material, thickness_m: f64) {
        let of =
            |sd: Option<f64>, mu: Option<f64>| sd.or(mu.map(|mu| mu * thickness_m)).map(|m| m.min(TIGHT_M));
        let Some(dry) = of(row.sd_dry_m, row.mu_dry) else {
            self.missing.push(format!("{}: give its vapour factor or equivalent air layer", layer.name));
            return;
        };
        let wet = of(row.sd_wet_m, row.mu_wet).unwrap_or(dry).min(dry);
        self.planes.push((layer.name.clone(), 0.0, dry, wet));
        self.sheets.push((self.layers.len(), Sheet::dry_wet(&layer.name, dry, wet)));
    }

    fn solid(&mut self, place: usize, layer: &ModelLayer, row: matter::Material, thickness_m: f64) {
        match material::from_library(&row, LibraryOptions::default()) {
            Ok((description, filled)) => {
                let resistance = thickness_m / description.conductivity_w_mk;
                for f in filled {
                    if !self.filled.contains(&f) {
                        self.filled.push(f);
                    }
                }
                self.push(place, layer, thickness_m, description, Some(row), resistance);
            }
            Err(errors) => self.missing.extend(errors.iter().map(ToString::to_string)),
        }
    }

    fn push(
        &mut self,
        place: usize,
        layer: &ModelLayer,
        thickness_m: f64,
        mut description: material::Description,
        row: Option<matter::Material>,
        resistance: f64,
    ) {
        description.name.clone_from(&layer.name);
        match description.prepare() {
            Ok(prepared) => {
                let air_layer = |humidity| (prepared.resistance_factor(humidity) * thickness_m).min(TIGHT_M);
                let (dry, wet) = (air_layer(0.25), air_layer(0.75));
                self.planes.push((layer.name.clone(), resistance, dry, wet.min(dry)));
                self.layers.push(Layer {
                    name: layer.name.clone(),
                    thickness_m,
                    material: Arc::new(prepared),
                });
                self.model_layer.push(place);
                self.rows.push(row);
            }
            Err(errors) => self.missing.extend(errors.iter().map(ToString::to_string)),
        }
    }

    fn finish(self, building: &Building, assembly: &Assembly, rained_on: bool) -> Built {
        let n = self.layers.len();
        let mut wall = Wall::new(self.layers.clone());
        let mut coats_m = [0.0, 0.0];
        for (before, sheet) in self.sheets.iter().cloned() {
            if before == 0 {
                coats_m[0] += sheet.at(0.5);
            } else if before >= n {
                coats_m[1] += sheet.at(0.5);
            } else {
                wall.contacts[before - 1] = joined(&wall.contacts[before - 1], sheet);
            }
        }
        // Behind a cavity that outside air passes stands the wall proper; its cladding keeps the rain but for a little.
        let proper = self.cavity.unwrap_or(n);
        let soaked = rained_on && self.cavity.is_none() && coats_m[1] == 0.0;
        let outer: Vec<usize> = if soaked {
            (0..n).rev().take_while(|&k| self.rows[k].as_ref().is_some_and(soaks)).collect()
        } else {
            Vec::new()
        };
        let timber_face = soaked && self.rows[n - 1].as_ref().is_some_and(is_wood);
        wall.rain = if !outer.is_empty() || timber_face {
            vec![RainEntry { interface: n, share: 1.0 }]
        } else if rained_on && self.cavity.is_some() {
            vec![RainEntry { interface: proper, share: PENETRATION }]
        } else {
            Vec::new()
        };
        let cavity_m = self.cavity.map(|k| wall.layers[k].thickness_m);
        if let Some(k) = self.cavity {
            wall.exchanges.push(AirExchange { place: Place::Layer(k), from: Side::Outside });
            wall.drained.push(k);
        }
        let surfaces = (0..proper)
            .map(|interface| Surface {
                interface,
                sensitivity: self.sensitivity(building, assembly, &self.model_layer, interface, proper),
                visible: interface == 0,
            })
            .collect();
        let timber = (0..proper).filter(|&k| self.rows[k].as_ref().is_some_and(is_wood)).collect();
        let insulation = |k: usize| wall.layers[k].thickness_m / wall.layers[k].material.conductivity_w_mk;
        let thickest = (0..proper).max_by(|a, b| insulation(*a).total_cmp(&insulation(*b))).unwrap_or(0);
        // Layers of the same stuff that follow outward belong to it.
        let mut cold_side = thickest + 1;
        while cold_side < proper
            && wall.layers[cold_side].material.conductivity_w_mk
                <= 1.5 * wall.layers[thickest].material.conductivity_w_mk
        {
            cold_side += 1;
        }
        Built {
            model_layer: self.model_layer,
            coats_m,
            filled: self.filled,
            surfaces,
            timber,
            behind_masonry: outer.last().copied().filter(|k| *k > 0),
            masonry: outer
                .iter()
                .rev()
                .map(|&layer| Masonry { layer, tested_critical_saturation: None })
                .collect(),
            cavity_m,
            cold_side,
            planes: self.planes,
            wall,
        }
    }

    /// The more sensitive of the stuffs that meet at an interface, bridges included.
    fn sensitivity(
        &self,
        building: &Building,
        assembly: &Assembly,
        model_layer: &[usize],
        interface: usize,
        proper: usize,
    ) -> Sensitivity {
        let of_layer = |k: usize| -> Sensitivity {
            let own =
                self.rows[k].as_ref().map_or(Sensitivity::Medium, |row| Sensitivity::of_family(row.family));
            let bridge = assembly.layers[model_layer[k]].bridge.as_ref();
            let family = bridge.and_then(|b| building.materials[b.material.0].family);
            family.map_or(own, |f| own.min(Sensitivity::of_family(f)))
        };
        let before = interface.checked_sub(1).map(of_layer);
        let after = (interface < proper).then(|| of_layer(interface));
        before.into_iter().chain(after).min().unwrap_or(Sensitivity::Medium)
    }
}

/// Two sheets at one interface count as one.
fn joined(there: &Contact, sheet: Sheet) -> Contact {
    match there {
        Contact::Sheet(first) => {
            let at = |h: f64| first.at(h) + sheet.at(h);
            Contact::Sheet(Sheet::dry_wet(&format!("{} and {}", first.name, sheet.name), at(0.25), at(0.75)))
        }
        _ => Contact::Sheet(sheet),
    }
}

fn is_sheet(row: &matter::Material, thickness_m: f64) -> bool {
    let thin =
        matches!(row.family, Family::Membrane | Family::Plastic | Family::Metal) && thickness_m <= SHEET_M;
    thin || row.sd_dry_m.is_some()
}

/// Takes rain in through its face.
fn soaks(row: &matter::Material) -> bool {
    matches!(row.family, Family::Masonry | Family::Stone | Family::Plaster | Family::Concrete)
}

fn is_wood(row: &matter::Material) -> bool {
    row.family == Family::Timber || row.family == Family::Board && row.specific_heat_j_kgk >= 1_350.0
}

/// The library row behind a material of the book, with everything the book knows better.
fn row(building: &Building, id: MaterialId, r: &Resolved) -> Result<matter::Material, String> {
    let m = &building.materials[id.0];
    let base = m.library.as_deref().and_then(matter::find).or_else(|| matter::find(&m.name));
    let Some(base) = base else {
        return Err(format!(
            "{}: nothing is known of how it holds and passes water; start it from a library row with `like`",
            m.name
        ));
    };
    let mut row = base.clone();
    row.conductivity_w_mk = r[m.conductivity];
    row.density_kg_m3 = r[m.density];
    row.specific_heat_j_kgk = r[m.specific_heat];
    if let Some(key) = m.vapour_factor_dry {
        row.mu_dry = Some(r[key]);
        row.sd_dry_m = row.sd_dry_m.and(base.thickness_m.map(|t| r[key] * t));
    }
    if let Some(key) = m.vapour_factor_wet {
        row.mu_wet = Some(r[key]);
        row.sd_wet_m = row.sd_wet_m.and(base.thickness_m.map(|t| r[key] * t));
    }
    // A wet cup is never tighter than a dry one; two stated spreads may cross in a sample.
    if let (Some(dry), Some(wet)) = (row.mu_dry, row.mu_wet) {
        row.mu_wet = Some(wet.min(dry));
    }
    if let Some(key) = m.absorption {
        let hygric = row.hygric.get_or_insert_with(|| Hygric {
            w80_kg_m3: None,
            free_saturation_kg_m3: None,
            absorption_kg_m2s05: None,
            porosity: None,
            sorption: Vec::new(),
            source: "the book".to_owned(),
            seen: true,
        });
        hygric.absorption_kg_m2s05 = Some(r[key]);
    }
    Ok(row)
}
