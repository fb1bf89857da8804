//! A case through its years: to a state that repeats on a coarse grid, then placed cells, a mean year and a design year.

use building::model::{Beyond, SpaceId};
use fabric::layers::film::Direction;
use moisture::MoistureError;
use moisture::drive::{Drive, SideState};
use moisture::surfaces::{cavity_flow_kg_m2s, inside};
use moisture::transport::{Cells, Options, Resolution, Simulation, Start, Trace};
use moisture::wall::Wall;

use super::cases::{Case, Facing};
use super::outdoors::{Outdoors, RainLaw};
use super::rooms::RoomAir;
use super::walls::Built;

/// Seconds of a year.
pub(crate) const YEAR_S: f64 = 8_760.0 * 3600.0;
/// Largest yearly change of a layer's water that counts as repeating, a share.
pub(crate) const REPEATS: f64 = 0.02;
/// Years tried on the coarse grid, and then on the fine one.
const MOST_YEARS: [usize; 2] = [12, 3];
/// Placed cells a layer; an eight-layer wall gets 64 (66 were measured within 1 % of a converged run; the method note has
/// the figures).
const CELLS_A_LAYER: usize = 8;
/// Fewest and most cells.
const CELLS: [usize; 2] = [40, 72];
/// Hours over which the weather is averaged while a wall runs to its repeating state; 8 760 divides by it.
const SPIN_UP_H: usize = 3;
/// Height a cavity's air rises through, m (a storey; judgement).
const CAVITY_HEIGHT_M: f64 = 2.6;
/// Loss of a cavity's openings and way, velocity heads (middle of the usual range; common practice, no source).
const CAVITY_LOSSES: f64 = 200.0;
/// Share of the dynamic pressure between a cavity's openings (judgement).
const CAVITY_WIND_SHARE: f64 = 0.05;

/// Where a case has come to.
pub(crate) struct Ran {
    /// A mean year that repeats itself.
    pub mean: Trace,
    /// A design year after many mean ones.
    pub design: Trace,
    /// Water of the wall at the ends of successive years, kg/m².
    pub ends_kg_m2: Vec<f64>,
    /// Whether it came to repeat.
    pub repeats: bool,
    /// The run as it stands after the mean year.
    pub after_mean: Simulation,
    /// Cells.
    pub cells: Cells,
    /// Years run in all.
    pub years: usize,
}

/// Options of every run of a case.
pub(crate) fn options() -> Options {
    Options::default()
}

/// Runs a case.
pub(crate) fn run(wall: &Wall, mean: &Drive, design: &Drive) -> Result<Ran, Vec<MoistureError>> {
    let (coarse, mut ends, _) = spin_up(wall, mean)?;
    let count = (CELLS_A_LAYER * wall.layers.len()).clamp(CELLS[0], CELLS[1]);
    let cells = Cells::graded(wall, Resolution::default()).placed_after(
        &coarse,
        options(),
        mean,
        YEAR_S / 12.0,
        count,
    )?;
    let mut fine = Simulation::new(wall, &cells, options())?;
    fine.continue_from(&coarse).map_err(|e| vec![e])?;
    let layers = wall.layers.len();
    let water = |s: &Simulation| -> Vec<f64> { (0..layers).map(|k| s.layer_water_kg_m2(k)).collect() };
    let mut repeats = false;
    let mut trace = Trace::default();
    for _ in 0..MOST_YEARS[1] {
        let before = water(&fine);
        trace = fine.record_on(mean, YEAR_S)?;
        ends.push(fine.water_kg_m2());
        repeats = before.iter().zip(water(&fine)).all(|(was, now)| (now - was).abs() <= REPEATS * now.abs());
        if repeats {
            break;
        }
    }
    let years = ends.len() + 1;
    let mut bad = Simulation::new(wall, &cells, options())?;
    bad.continue_from(&fine).map_err(|e| vec![e])?;
    let design = bad.record_on(design, YEAR_S)?;
    Ok(Ran { mean: trace, design, ends_kg_m2: ends, repeats, after_mean: fine, cells, years })
}

/// A run on few cells: cheap, and near enough to begin from.
pub(crate) fn coarse(wall: &Wall) -> Result<Simulation, Vec<MoistureError>> {
    let few =
        Resolution { first_rain_m: 0.003, first_m: 0.006, first_dry_m: 0.012, growth: 2.5, widest_m: 0.03 };
    let options =
        Options { water_tolerance_kg_m2: 0.05, longest_step_s: SPIN_UP_H as f64 * 3600.0, ..options() };
    Simulation::new(wall, &Cells::graded(wall, few), options)
}

/// Means of a drive over longer periods: rain keeps its sum, a day keeps its swing as far as the periods show it.
pub(crate) fn averaged(drive: &Drive, hours: usize) -> Drive {
    let mean_of = |list: &[SideState]| -> Vec<SideState> {
        list.chunks(hours)
            .map(|c| {
                let n = c.len() as f64;
                let mean = |of: fn(&SideState) -> f64| c.iter().map(of).sum::<f64>() / n;
                SideState {
                    air_temperature_c: mean(|s| s.air_temperature_c),
                    vapour_pressure_pa: mean(|s| s.vapour_pressure_pa),
                    heat_film_w_m2k: mean(|s| s.heat_film_w_m2k),
                    radiant_film_w_m2k: mean(|s| s.radiant_film_w_m2k),
                    radiant_temperature_c: mean(|s| s.radiant_temperature_c),
                    absorbed_w_m2: mean(|s| s.absorbed_w_m2),
                    vapour_film_kg_m2spa: mean(|s| s.vapour_film_kg_m2spa),
                    rain_kg_m2s: mean(|s| s.rain_kg_m2s),
                }
            })
            .collect()
    };
    let flow = |f: &[f64]| f.chunks(hours).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect();
    Drive {
        period_s: drive.period_s * hours as f64,
        inside: mean_of(&drive.inside),
        outside: mean_of(&drive.outside),
        exchange_kg_m2s: drive.exchange_kg_m2s.iter().map(|f| flow(f)).collect(),
        through_kg_m2s: flow(&drive.through_kg_m2s),
    }
}

/// Runs to a repeating state on few cells, through means of a few hours.
pub(crate) fn spin_up(
    wall: &Wall,
    drive: &Drive,
) -> Result<(Simulation, Vec<f64>, bool), Vec<MoistureError>> {
    let mut s = coarse(wall)?;
    s.start(12.0, &vec![Start::Humidity(0.7); wall.layers.len()])?;
    let (ends, repeats) = s.run_to_repeat(&averaged(drive, SPIN_UP_H), REPEATS, MOST_YEARS[0])?;
    Ok((s, ends, repeats))
}

/// What acts on both faces of a case.
pub(crate) struct Faces<'a> {
    pub outdoors: &'a Outdoors,
    pub rooms: &'a [RoomAir],
    pub neighbours: &'a [Vec<f64>],
}

/// How heat flows through a face, for films and cavities.
pub(crate) fn direction(facing: Facing) -> Direction {
    if facing.is_wall() {
        Direction::Horizontal
    } else if facing.is_below() {
        Direction::Downwards
    } else {
        Direction::Upwards
    }
}

/// Convective film inside, W/(m²·K) (ISO 6946, recalled).
fn convection(facing: Facing) -> f64 {
    match direction(facing) {
        Direction::Horizontal => 2.5,
        Direction::Upwards => 5.0,
        Direction::Downwards => 0.7,
    }
}

impl Faces<'_> {
    /// The room's side of a case.
    pub fn inside(&self, case: &Case, built: &Built) -> Result<Vec<SideState>, MoistureError> {
        self.of_room(case, built, case.air_of)
    }

    fn of_room(&self, case: &Case, built: &Built, room: SpaceId) -> Result<Vec<SideState>, MoistureError> {
        let air = &self.rooms[room.0];
        inside(&air.temperature_c, &air.humidity(), convection(case.facing), built.coats_m[0])
    }

    /// Drive of a mean or a design year.
    pub fn drive(
        &self,
        case: &Case,
        built: &Built,
        law: RainLaw,
        design: bool,
    ) -> Result<Drive, MoistureError> {
        let inner = self.inside(case, built)?;
        let Beyond::Neighbour(id) = case.beyond else {
            let sun = self.outdoors.sun(case.facing);
            let outer = self.outdoors.states(case.facing, &sun, built.coats_m[1], law, design)?;
            let mut drive = Drive::new(3600.0, inner, outer);
            if let Some(depth_m) = built.cavity_m {
                drive.exchange_kg_m2s.push(self.cavity(depth_m, &drive.outside));
            }
            return Ok(drive);
        };
        // A neighbour's air carries the outdoor vapour: nothing is stated about its moisture.
        let temperature = &self.neighbours[id.0];
        let (_, vapour) = self.outdoors.air();
        let humidity: Vec<f64> = vapour
            .iter()
            .zip(temperature)
            .map(|(pv, t)| (pv / matter::moist_air::saturation_pressure(*t)).clamp(0.0, 1.0))
            .collect();
        let outer = inside(temperature, &humidity, convection(case.facing), built.coats_m[1])?;
        let mut drive = Drive::new(3600.0, inner, outer);
        if built.cavity_m.is_some() {
            drive.exchange_kg_m2s.push(vec![0.0; drive.inside.len()]);
        }
        Ok(drive)
    }

    /// Air through a cavity, driven by wind and by the sun that warms its cladding: half of what the outer film would
    /// warm a thin sheet by.
    fn cavity(&self, depth_m: f64, outside: &[SideState]) -> Vec<f64> {
        outside
            .iter()
            .zip(self.outdoors.wind())
            .map(|(s, wind)| {
                let warmer = 0.5 * s.absorbed_w_m2 / (s.heat_film_w_m2k + s.radiant_film_w_m2k);
                let pressure = CAVITY_WIND_SHARE * 0.5 * 1.2 * wind * wind;
                let t = s.air_temperature_c;
                cavity_flow_kg_m2s(CAVITY_HEIGHT_M, depth_m, warmer, pressure, CAVITY_LOSSES, t)
            })
            .collect()
    }
}
