//! From the book's plant to the laws' machines.

use building::model::SpaceId;
use building::plan::{PlantKind, PlantPlan};
use building::{Building, Resolved, ValueKey};
use plant::heat_pump::{Figures, HeatPump, Limits, Mode, RatedPoint, SecondLaw};

use crate::error::YearError;

/// Room air at which rated points without an indoor temperature were taken, °C: EN 14511.
const RATED_INDOOR_C: [f64; 2] = [20.0, 27.0];
/// Sensible share of cooling where the book states none. Common for small heads, no source.
const SENSIBLE_SHARE: f64 = 0.75;

/// A head and the rooms it serves.
#[derive(Clone, Debug)]
pub struct Head {
    /// Name.
    pub name: String,
    /// Rooms; empty serves the whole.
    pub rooms: Vec<SpaceId>,
    /// Heating.
    pub heating: Option<HeatPump>,
    /// Cooling.
    pub cooling: Option<HeatPump>,
    /// Sensible share of its cooling.
    pub sensible_share: f64,
    /// It burns fuel.
    pub fuel: bool,
    /// Where its figures come from.
    pub figures: String,
}

/// Returns the rooms that a place (room or zone by name) stands for.
pub fn rooms_of(building: &Building, place: Option<&str>) -> Vec<SpaceId> {
    let Some(place) = place else { return Vec::new() };
    if let Some(room) = building.spaces.iter().position(|s| s.name == place) {
        return vec![SpaceId(room)];
    }
    building.zones.iter().find(|z| z.name == place).map(|z| z.spaces.clone()).unwrap_or_default()
}

/// Returns the heads of a list of plant, in its order; water heaters are left out.
///
/// # Errors
/// [`YearError::Missing`] names the plant whose rated points make no machine.
pub fn heads(building: &Building, plants: &[PlantPlan], r: &Resolved) -> Result<Vec<Head>, YearError> {
    plants
        .iter()
        .filter(|p| !matches!(p.kind, PlantKind::HeatPumpWaterHeater | PlantKind::WaterHeater))
        .map(|p| head(building, p, r))
        .collect()
}

fn head(building: &Building, p: &PlantPlan, r: &Resolved) -> Result<Head, YearError> {
    let heating = machine(p, r, Mode::Heating, p.heating, p.seasonal_heating)?;
    let cooling = machine(p, r, Mode::Cooling, p.cooling, p.seasonal_cooling)?;
    let laws = [&heating, &cooling];
    let fitted = laws.iter().any(|m| m.as_ref().is_some_and(|m| matches!(m.figures, Figures::Law(_))));
    let figures = if fitted {
        "rated points, fitted"
    } else if p.seasonal_heating.or(p.seasonal_cooling).is_some() {
        "seasonal factors, the same at any weather"
    } else {
        "no factor stated"
    };
    Ok(Head {
        name: p.name.clone(),
        rooms: rooms_of(building, p.place.as_deref()),
        heating,
        cooling,
        sensible_share: p.sensible_share.map_or(SENSIBLE_SHARE, |key| r[key].clamp(0.3, 1.0)),
        fuel: p.kind == PlantKind::Boiler,
        figures: figures.to_owned(),
    })
}

fn machine(
    p: &PlantPlan,
    r: &Resolved,
    mode: Mode,
    capacity: Option<ValueKey>,
    seasonal: Option<ValueKey>,
) -> Result<Option<HeatPump>, YearError> {
    let points: Vec<RatedPoint> = p
        .points
        .iter()
        .filter(|point| point.heating == (mode == Mode::Heating))
        .map(|point| RatedPoint {
            outdoor_c: r[point.outdoor],
            indoor_c: point.indoor.map_or(RATED_INDOOR_C[usize::from(mode == Mode::Cooling)], |key| r[key]),
            capacity_w: r[point.capacity],
            power_w: r[point.power],
        })
        .collect();
    if capacity.is_none() && points.is_empty() {
        return Ok(None);
    }
    let figures = if points.is_empty() {
        let ratio = seasonal.map_or(1.0, |key| r[key]);
        Figures::Even { ratio, capacity_w: capacity.map_or(0.0, |key| r[key]) }
    } else {
        let law = SecondLaw::fit(mode, &points)
            .map_err(|why| YearError::Missing { item: format!("plant.{}", p.name), why: why.to_string() })?;
        Figures::Law(law)
    };
    let usual = Limits::default();
    let pump = p.kind == PlantKind::HeatPumpHead;
    let limits = Limits {
        least_share: p.least_share.map_or(usual.least_share, |key| r[key]),
        cut_out_c: p.cut_out.map_or(if pump { usual.cut_out_c } else { f64::NEG_INFINITY }, |key| r[key]),
        backup_w: p.backup.map_or(0.0, |key| r[key]),
        standby_w: if pump && !points.is_empty() { usual.standby_w } else { 0.0 },
        ..usual
    };
    Ok(Some(HeatPump { mode, figures, limits }))
}

/// Returns each zone's heads by share: those placed in it by capacity, else all by capacity.
pub(crate) fn shares(
    heads: &[Head],
    of_space: &[usize],
    zones: usize,
    capacity: impl Fn(&Head) -> f64,
) -> Vec<Vec<(usize, f64)>> {
    let serves = |head: &Head, zone: usize| {
        head.rooms.is_empty() || head.rooms.iter().any(|room| of_space[room.0] == zone)
    };
    (0..zones)
        .map(|zone| {
            let able = |i: &usize| capacity(&heads[*i]) > 0.0;
            let mut who: Vec<usize> =
                (0..heads.len()).filter(|i| serves(&heads[*i], zone)).filter(able).collect();
            if who.is_empty() {
                who = (0..heads.len()).filter(able).collect();
            }
            let sum: f64 = who.iter().map(|i| capacity(&heads[*i])).sum();
            who.into_iter().map(|i| (i, capacity(&heads[i]) / sum)).collect()
        })
        .collect()
}
