//! What the building is made of: materials, assemblies, units, surfaces, ground.

use super::MaterialId;
use crate::control::ControlKind;
use crate::plan;
use crate::stated::{Rating, ValueKey};

/// A material in use, every property stated.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name as the book uses it.
    pub name: String,
    /// Library row it comes from or starts from.
    pub library: Option<String>,
    /// Family, for hatches.
    pub family: Option<matter::Family>,
    /// W/(m·K).
    pub conductivity: ValueKey,
    /// kg/m³.
    pub density: ValueKey,
    /// J/(kg·K).
    pub specific_heat: ValueKey,
    /// Vapour resistance factor, dry cup; `None`: vapour-tight, or without meaning.
    pub vapour_factor_dry: Option<ValueKey>,
    /// Vapour resistance factor, wet cup; `None` likewise.
    pub vapour_factor_wet: Option<ValueKey>,
    /// Water absorption coefficient, kg/(m²·s^0.5).
    pub absorption: Option<ValueKey>,
    /// Panel air permeability, m³/(h·m²) at the reference pressure.
    pub air_permeability: Option<ValueKey>,
}

/// An assembly in use.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// Name.
    pub name: String,
    /// What it is for.
    pub place: plan::AssemblyPlace,
    /// Layers, outside to inside.
    pub layers: Vec<Layer>,
    /// Sum of the layers, m, at nominal size.
    pub thickness_m: f64,
    /// Separates fires.
    pub fire_rated: bool,
    /// Separates sound.
    pub sound_rated: bool,
    /// U as given, W/(m²·K), when no layers are known.
    pub transmittance: Option<ValueKey>,
    /// Correction, W/(m²·K).
    pub correction: Option<ValueKey>,
}

impl Assembly {
    /// Returns the places of the layers that keep something out.
    pub fn control_layers(&self, kind: ControlKind) -> impl Iterator<Item = usize> {
        self.layers
            .iter()
            .enumerate()
            .filter(move |(_, layer)| layer.controls.contains(&kind))
            .map(|(i, _)| i)
    }
}

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name inside the assembly.
    pub name: String,
    /// What it is.
    pub kind: LayerKind,
    /// m.
    pub thickness: ValueKey,
    /// Timber, steel or mortar through it.
    pub bridge: Option<Bridge>,
    /// What it keeps out.
    pub controls: Vec<ControlKind>,
    /// Was there before.
    pub existing: bool,
    /// Pipes and wires may run here.
    pub service_cavity: bool,
}

/// Solid or air.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerKind {
    /// A material.
    Solid(MaterialId),
    /// An air space.
    Air {
        /// How the outside air gets in.
        ventilation: plan::AirSpace,
        /// Emissivity of the reflective face.
        low_emissivity: Option<ValueKey>,
    },
}

/// Something through a layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Material.
    pub material: MaterialId,
    /// Share of area.
    pub share: ValueKey,
    /// Grid: layers of an assembly with the same number are bridged by the same path, others independently.
    pub grid: usize,
}

/// A window or door unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// Name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// How its heat loss is known.
    pub thermal: UnitThermal,
    /// Solar gain at normal incidence.
    pub solar: UnitSolar,
    /// Panes.
    pub panes: u8,
    /// Width of the frame's face, m.
    pub frame_face: ValueKey,
    /// Depth of the frame across the wall, m.
    pub frame_depth: ValueKey,
    /// Opaque share of the area inside the frame (doors).
    pub opaque_share: Option<ValueKey>,
    /// Procedure behind the figures.
    pub rating: Option<Rating>,
    /// m³/(h·m²) at the reference pressure.
    pub air_leakage: Option<ValueKey>,
}

/// How a unit's heat loss is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnitThermal {
    /// Glazing, frame and edge apart: U follows for each size (ISO 10077-1).
    Parts {
        /// W/(m²·K).
        glazing: ValueKey,
        /// W/(m²·K).
        frame: ValueKey,
        /// W/(m·K).
        edge: ValueKey,
    },
    /// The whole as rated, at the rating's size.
    Whole(ValueKey),
}

/// How a unit's solar gain is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnitSolar {
    /// Of the glass alone.
    Glazing(ValueKey),
    /// Of the whole, frame included.
    Whole(ValueKey),
    /// None: an opaque door.
    None,
}

/// Ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// W/(m·K).
    pub conductivity: ValueKey,
    /// J/(m³·K).
    pub volumetric_heat: ValueKey,
}

/// Airtightness of the whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Airtightness {
    /// 1/h at the reference pressure, on the certification-style volume.
    pub expected: ValueKey,
    /// Exponent.
    pub exponent: ValueKey,
    /// m³/s to neighbours at the reference pressure; `None` when it has no party boundary or nobody said.
    pub party: Option<ValueKey>,
    /// Pa.
    pub reference_pressure: ValueKey,
    /// Chance of ending under the limit that stage targets are asked for; `None`: nine in ten.
    pub wanted_chance: Option<ValueKey>,
}

/// Outside surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surfaces {
    /// Solar absorptance of walls.
    pub wall_absorptance: ValueKey,
    /// Solar absorptance of roofs.
    pub roof_absorptance: ValueKey,
    /// Long-wave emissivity of walls.
    pub wall_emissivity: ValueKey,
    /// Long-wave emissivity of roofs.
    pub roof_emissivity: ValueKey,
    /// Albedo of the ground in front.
    pub ground_reflectance: ValueKey,
}
