//! Which rooms make a zone.

use building::Building;
use building::model::SpaceId;

use crate::error::YearError;
use crate::kernel::MOST_ZONES;
use crate::result::Grain;

/// Heat capacity of air, light furnishing and books, J/(m²·K) of floor: EN ISO 52016-1:2017 Table B.17, from memory.
const FURNISHING_J_M2K: f64 = 10_000.0;

/// Rooms sorted into zones.
#[derive(Clone, Debug, PartialEq)]
pub struct Zones {
    /// Names.
    pub names: Vec<String>,
    /// Zone of each room.
    pub of_space: Vec<usize>,
    /// Floor area, m².
    pub area_m2: Vec<f64>,
    /// Air volume, m³.
    pub volume_m3: Vec<f64>,
}

impl Zones {
    pub(super) fn of(building: &Building, grain: Grain) -> Result<Self, YearError> {
        if building.spaces.is_empty() {
            return Err(YearError::Missing {
                item: "space".into(),
                why: "the building has no rooms; a balance needs at least one".into(),
            });
        }
        let zones = match grain {
            Grain::Limits => Self::named(building),
            Grain::Rooms => Self::rooms(building),
        };
        if zones.count() > MOST_ZONES {
            return Err(YearError::TooMany { what: "zones", found: zones.count(), most: MOST_ZONES });
        }
        Ok(zones)
    }

    fn named(building: &Building) -> Self {
        let mut zones = Self {
            names: building.zones.iter().map(|z| z.name.clone()).collect(),
            of_space: building.spaces.iter().map(|s| s.zone.0).collect(),
            area_m2: vec![0.0; building.zones.len()],
            volume_m3: vec![0.0; building.zones.len()],
        };
        for space in &building.spaces {
            zones.area_m2[space.zone.0] += space.area_m2;
            zones.volume_m3[space.zone.0] += space.volume_m3;
        }
        zones
    }

    fn rooms(building: &Building) -> Self {
        Self {
            names: building.spaces.iter().map(|s| s.name.clone()).collect(),
            of_space: (0..building.spaces.len()).collect(),
            area_m2: building.spaces.iter().map(|s| s.area_m2).collect(),
            volume_m3: building.spaces.iter().map(|s| s.volume_m3).collect(),
        }
    }

    /// Returns how many zones there are.
    pub fn count(&self) -> usize {
        self.names.len()
    }

    /// Returns the zone of a room.
    pub fn zone_of(&self, space: SpaceId) -> usize {
        self.of_space[space.0]
    }

    /// Heat capacity on the air node: the larger of the standard's figure and the air alone.
    pub(super) fn heat_capacity_j_k(&self, zone: usize, air_heat_j_m3k: f64) -> f64 {
        (FURNISHING_J_M2K * self.area_m2[zone]).max(air_heat_j_m3k * self.volume_m3[zone])
    }
}
