//! Assemblies of the model as layers and modes.

use building::model::{Assembly, AssemblyId, Beyond, Layer as ModelLayer, LayerKind, MaterialId};
use building::plan;
use building::{Building, Resolved};
use fabric::FabricError;
use fabric::ground::{FloorPlan, GroundTransfer, Slab, Soil, hourly, monthly};
use fabric::layers::air::AirSpace;
use fabric::layers::film::{Direction, RSE_M2K_W, rsi_m2k_w};
use fabric::layers::{self as steady, Body, Bridge, Filling, Layer, Substance};
use fabric::transient::{ConductionLayer, ModalElement, Plan, Tolerance, plan as find_plan, reduce_by};

use crate::error::YearError;

/// Openings of a slightly ventilated air space, mm² a metre: the middle of ISO 6946's range.
const SLIGHT_OPENINGS_MM2: f64 = 1000.0;
/// Openings of a well-ventilated one.
const WELL_OPENINGS_MM2: f64 = 1500.0;
/// Emissivity of ordinary faces of an air space.
const ORDINARY_EMISSIVITY: f64 = 0.9;
/// Capacity given to an assembly known by its U alone: none.
const GROUND_SOIL_DENSITY: f64 = 2000.0;
/// Thickness of soil behind a wall against ground, m, before the temperature of undisturbed soil is taken.
const WALL_SOIL_M: f64 = 1.0;

/// What lies behind an assembly, as far as its layers care.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Back {
    /// Outdoors or a neighbour.
    Open,
    /// A room on both sides.
    Room,
    /// The ground under a floor of this area, exposed perimeter and wall thickness.
    Floor(FloorPlan),
    /// The ground behind a wall.
    Soil,
}

/// An assembly as some elements use it.
#[derive(Clone, Debug)]
pub(crate) struct AssemblyUse {
    pub assembly: AssemblyId,
    pub direction: Direction,
    pub back: Back,
    plan: Plan,
}

impl AssemblyUse {
    /// Finds how the assembly is reduced, on nominal numbers.
    pub fn new(
        building: &Building,
        nominal: &Resolved,
        assembly: AssemblyId,
        direction: Direction,
        back: Back,
    ) -> Result<Self, YearError> {
        let mut it = Self { assembly, direction, back, plan: Plan::default() };
        let layers = it.layers(building, nominal)?;
        let (plan, _) =
            find_plan(&layers, &Tolerance::inside()).map_err(|cause| it.error(building, cause))?;
        it.plan = plan;
        Ok(it)
    }

    /// Same assembly, direction and back.
    pub fn is(&self, assembly: AssemblyId, direction: Direction, back: &Back) -> bool {
        self.assembly == assembly && self.direction == direction && self.back == *back
    }

    /// Reduces the assembly with one sample's numbers.
    pub fn element(&self, building: &Building, r: &Resolved) -> Result<ModalElement, YearError> {
        let layers = self.layers(building, r)?;
        reduce_by(&layers, &self.plan).map_err(|cause| self.error(building, cause))
    }

    fn error(&self, building: &Building, cause: FabricError) -> YearError {
        refused(building, self.assembly, cause)
    }

    fn layers(&self, building: &Building, r: &Resolved) -> Result<Vec<ConductionLayer>, YearError> {
        let a = &building.assemblies[self.assembly.0];
        let own = own_layers(building, a, self.direction, self.back == Back::Room, r)
            .map_err(|cause| self.error(building, cause))?;
        match self.back {
            Back::Open | Back::Room => Ok(own),
            Back::Floor(plan) => {
                let transfer =
                    ground_transfer(building, &own, plan, r).map_err(|c| self.error(building, c))?;
                let year = monthly::YearlyTemperature::constant(20.0);
                hourly::floor_element(&transfer, &own, &soil(building, r), &year, &year)
                    .map(|ground| ground.layers)
                    .map_err(|cause| self.error(building, cause))
            }
            Back::Soil => {
                let soil = soil(building, r);
                let mut layers = own;
                layers.push(ConductionLayer::solid(
                    WALL_SOIL_M,
                    soil.conductivity_w_mk,
                    GROUND_SOIL_DENSITY,
                    soil.heat_capacity_j_m3k / GROUND_SOIL_DENSITY,
                ));
                Ok(layers)
            }
        }
    }
}

/// The building's soil.
pub(crate) fn soil(building: &Building, r: &Resolved) -> Soil {
    Soil {
        conductivity_w_mk: r[building.ground.conductivity],
        heat_capacity_j_m3k: r[building.ground.volumetric_heat],
    }
}

/// Transfer through the ground under a floor.
pub(crate) fn ground_transfer(
    building: &Building,
    own: &[ConductionLayer],
    plan: FloorPlan,
    r: &Resolved,
) -> Result<GroundTransfer, FabricError> {
    let floor_m2k_w = own.iter().map(ConductionLayer::resistance_m2k_w).sum();
    Slab { plan, soil: soil(building, r), floor_m2k_w, edge: None }.transfer()
}

/// The homogeneous layers of an assembly, inside → outside.
pub(crate) fn own_layers(
    building: &Building,
    a: &Assembly,
    direction: Direction,
    between_rooms: bool,
    r: &Resolved,
) -> Result<Vec<ConductionLayer>, FabricError> {
    if a.layers.is_empty() {
        // Known by its U alone: all resistance, no mass.
        let rs = rsi_m2k_w(direction);
        let u = a.transmittance.map_or(f64::NAN, |key| r[key]);
        let rest = 1.0 / u - rs - if between_rooms { rs } else { RSE_M2K_W };
        return if rest > 0.0 {
            Ok(vec![ConductionLayer::resistance(rest)])
        } else {
            Err(FabricError::NoResistance { what: format!("assembly \"{}\" with U {u}", a.name) })
        };
    }
    Ok(steady_assembly(building, a, direction, between_rooms, r).transient_stack()?.layers)
}

/// The assembly as the steady method takes it.
pub(crate) fn steady_assembly(
    building: &Building,
    a: &Assembly,
    direction: Direction,
    between_rooms: bool,
    r: &Resolved,
) -> steady::Assembly {
    // The model runs outside → inside.
    let layers: Vec<Layer> = a.layers.iter().rev().map(|layer| steady_layer(building, layer, r)).collect();
    if between_rooms {
        steady::Assembly::between_rooms(layers, direction)
    } else {
        steady::Assembly::new(layers, direction)
    }
}

fn substance(building: &Building, id: MaterialId, r: &Resolved) -> Substance {
    let m = &building.materials[id.0];
    Substance {
        conductivity_w_mk: r[m.conductivity],
        density_kg_m3: r[m.density],
        specific_heat_j_kgk: r[m.specific_heat],
    }
}

fn steady_layer(building: &Building, layer: &ModelLayer, r: &Resolved) -> Layer {
    let thickness_m = r[layer.thickness];
    let main = match &layer.kind {
        LayerKind::Solid(id) => Filling::Solid(substance(building, *id, r)),
        LayerKind::Air { ventilation, low_emissivity } => Filling::Air(AirSpace {
            thickness_m,
            width_m: None,
            emissivities: (ORDINARY_EMISSIVITY, low_emissivity.map_or(ORDINARY_EMISSIVITY, |key| r[key])),
            openings_mm2: match ventilation {
                plan::AirSpace::Unventilated => 0.0,
                plan::AirSpace::Slightly => SLIGHT_OPENINGS_MM2,
                plan::AirSpace::Well => WELL_OPENINGS_MM2,
            },
        }),
    };
    let bridge = layer.bridge.as_ref().map(|b| Bridge {
        filling: Filling::Solid(substance(building, b.material, r)),
        fraction: r[b.share],
        line: u8::try_from(b.grid).ok(),
    });
    Layer { name: layer.name.clone(), body: Body::Filled { thickness_m, main, bridge } }
}

/// An assembly's refusal with its place in the book.
pub(crate) fn refused(building: &Building, assembly: AssemblyId, why: FabricError) -> YearError {
    YearError::Fabric { item: format!("assembly.{}", building.assemblies[assembly.0].name), why }
}

/// Returns the steady transmittance of an assembly with its working, heat flowing the way its place asks for.
///
/// # Errors
/// [`YearError::Fabric`] when its layers make no sense, [`YearError::Missing`] when it has none.
pub fn transmittance(
    building: &Building,
    assembly: AssemblyId,
    resolved: &Resolved,
) -> Result<steady::Transmittance, YearError> {
    let a = &building.assemblies[assembly.0];
    if a.layers.is_empty() {
        return Err(YearError::Missing {
            item: format!("assembly.{}", a.name),
            why: "known by its U alone; without layers there is no working to show".into(),
        });
    }
    let direction = match a.place {
        plan::AssemblyPlace::Wall | plan::AssemblyPlace::Partition => Direction::Horizontal,
        plan::AssemblyPlace::Roof => Direction::Upwards,
        plan::AssemblyPlace::Floor | plan::AssemblyPlace::GroundFloor => Direction::Downwards,
    };
    steady_assembly(building, a, direction, is_between_rooms(building, assembly), resolved)
        .transmittance()
        .map_err(|why| refused(building, assembly, why))
}

/// Says whether an assembly has a room, ours or a neighbour's, on both sides wherever it stands.
fn is_between_rooms(building: &Building, assembly: AssemblyId) -> bool {
    let mut beyond =
        building.elements.iter().filter(|e| e.assembly == assembly).map(|e| &e.beyond).peekable();
    match beyond.peek() {
        Some(_) => beyond.all(|b| matches!(b, Beyond::Neighbour(_) | Beyond::Space(_))),
        None => building.assemblies[assembly.0].place == plan::AssemblyPlace::Partition,
    }
}
