//! Materials, assemblies, window units, surfaces, ground.

use crate::control::ControlKind;
use crate::stated::{Rating, ValueKey};

/// A material of the builder's own, or a library row with something known better.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MaterialPlan {
    /// Name the assemblies use.
    pub name: String,
    /// Library row it starts from.
    pub like: Option<String>,
    /// W/(m·K).
    pub conductivity: Option<ValueKey>,
    /// kg/m³.
    pub density: Option<ValueKey>,
    /// J/(kg·K).
    pub specific_heat: Option<ValueKey>,
    /// Vapour resistance factor, dry cup.
    pub vapour_factor_dry: Option<ValueKey>,
    /// Vapour resistance factor, wet cup.
    pub vapour_factor_wet: Option<ValueKey>,
    /// Water absorption coefficient, kg/(m²·s^0.5).
    pub absorption: Option<ValueKey>,
    /// Long-wave emissivity of its surface, share of one.
    pub emissivity: Option<ValueKey>,
    /// Air permeability of a panel or sheet at the reference pressure, m³/(h·m²).
    pub air_permeability: Option<ValueKey>,
}

/// Where an assembly may stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum AssemblyPlace {
    /// Outside or party wall.
    #[default]
    Wall,
    /// Roof, or ceiling under a loft.
    Roof,
    /// Floor over a room, a crawl space or the open.
    Floor,
    /// Floor on the ground.
    GroundFloor,
    /// Inside wall.
    Partition,
}

/// An assembly: layers from outside to inside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AssemblyPlan {
    /// Name the storeys use.
    pub name: String,
    /// What it is for.
    pub place: AssemblyPlace,
    /// Layers, outside to inside.
    pub layers: Vec<LayerPlan>,
    /// Separates fires: its joints stay open until a record names the tested system.
    pub fire_rated: bool,
    /// Separates sound, likewise.
    pub sound_rated: bool,
    /// U-value of the whole as given, W/(m²·K), when no layers are known.
    pub transmittance: Option<ValueKey>,
    /// Correction for mechanical fasteners, air gaps, inverted roofs, W/(m²·K) (ISO 6946 annex F).
    pub correction: Option<ValueKey>,
}

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct LayerPlan {
    /// Name inside the assembly; the material's name when the book gives none.
    pub name: String,
    /// What it is made of.
    pub material: LayerMaterial,
    /// m.
    pub thickness: ValueKey,
    /// Timber, steel or mortar through it.
    pub bridged: Option<BridgePlan>,
    /// What it keeps out.
    pub controls: Vec<ControlKind>,
    /// Was there before the works.
    pub existing: bool,
    /// Pipes and wires may run here without touching the air barrier.
    pub service_cavity: bool,
    /// Record that its basis rests on.
    pub record: Option<String>,
}

/// A layer of something, or an air space.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerMaterial {
    /// A material by name: of the book first, else of the library.
    Named(String),
    /// An air space.
    Air {
        /// How the outside air gets in.
        ventilation: AirSpace,
        /// Emissivity of the reflective face, if one is foiled.
        low_emissivity: Option<ValueKey>,
    },
}

/// How much an air space is ventilated (ISO 6946:2017, 6.9).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AirSpace {
    /// Openings at most 500 mm² a metre.
    #[default]
    Unventilated,
    /// 500 to 1500 mm² a metre.
    Slightly,
    /// More: what lies outside of it no longer counts.
    Well,
}

/// Something through a layer at regular distance.
#[derive(Clone, Debug, PartialEq)]
pub struct BridgePlan {
    /// Material of the bridge.
    pub material: String,
    /// Share of the layer's area.
    pub share: ValueKey,
    /// Bridges that stand on one another name the same one: the path runs through both. `None`: a grid of its own.
    pub with: Option<String>,
}

/// A window or door unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UnitPlan {
    /// Name the openings use.
    pub name: String,
    /// What it is.
    pub about: String,
    /// U of the glazing's centre, W/(m²·K).
    pub glazing_u: Option<ValueKey>,
    /// Solar gain of the glazing at normal incidence, share.
    pub glazing_g: Option<ValueKey>,
    /// Light transmittance, share.
    pub light: Option<ValueKey>,
    /// Panes.
    pub panes: Option<u8>,
    /// U of the frame, W/(m²·K).
    pub frame_u: Option<ValueKey>,
    /// Width of the frame's face, m.
    pub frame_face: Option<ValueKey>,
    /// Depth of the frame across the wall, m.
    pub frame_depth: Option<ValueKey>,
    /// Linear transmittance of the glass edge, W/(m·K).
    pub edge_psi: Option<ValueKey>,
    /// U of the whole as rated, W/(m²·K), when glazing and frame are not known apart.
    pub whole_u: Option<ValueKey>,
    /// Solar gain of the whole as rated (frame included).
    pub whole_g: Option<ValueKey>,
    /// Opaque share, for doors: 0 all glass, 1 none.
    pub opaque_share: Option<ValueKey>,
    /// Procedure behind the figures.
    pub rating: Option<Rating>,
    /// Air leakage of the closed unit at the reference pressure, m³/(h·m²).
    pub air_leakage: Option<ValueKey>,
}

/// Linear transmittance of the joint between unit and wall, W/(m·K).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct InstallPlan {
    /// Sides.
    pub jamb: Option<ValueKey>,
    /// Top.
    pub head: Option<ValueKey>,
    /// Bottom of a window.
    pub sill: Option<ValueKey>,
    /// Bottom of a door.
    pub threshold: Option<ValueKey>,
}

/// Outside colours and emissivities, shares of one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SurfacePlan {
    /// Solar absorptance of walls.
    pub wall_absorptance: Option<ValueKey>,
    /// Solar absorptance of roofs.
    pub roof_absorptance: Option<ValueKey>,
    /// Long-wave emissivity of walls.
    pub wall_emissivity: Option<ValueKey>,
    /// Long-wave emissivity of roofs.
    pub roof_emissivity: Option<ValueKey>,
    /// Albedo of the ground in front.
    pub ground_reflectance: Option<ValueKey>,
}

/// The ground.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GroundPlan {
    /// W/(m·K).
    pub conductivity: Option<ValueKey>,
    /// J/(m³·K).
    pub volumetric_heat: Option<ValueKey>,
}

/// How tight the whole is expected to be, until readings say better.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AirtightnessPlan {
    /// Air change at the reference pressure, 1/h, on the volume of the limit's counting rule.
    pub expected: Option<ValueKey>,
    /// Exponent of the leak.
    pub exponent: Option<ValueKey>,
    /// Leak to neighbours at the reference pressure, m³/s.
    pub party: Option<ValueKey>,
    /// Reference pressure, Pa; 50 when left out.
    pub reference_pressure: Option<ValueKey>,
    /// Chance of ending under the limit that stage targets are asked for.
    pub wanted_chance: Option<ValueKey>,
}
