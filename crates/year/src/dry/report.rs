//! What is told of moisture: plain, serialisable, SI. The JSON form is `docs/schema/dry.schema.json`.

use serde::{Deserialize, Serialize};

use super::outdoors::{RainLaw, RainSums};

/// Name and version of the JSON form.
pub const SCHEMA: &str = "windtight/dry/1";

/// How a point came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Status {
    /// Not judged, and why is said.
    #[serde(rename = "not judged")]
    NotJudged,
    /// Beyond its limit.
    #[serde(rename = "not met")]
    NotMet,
    /// Within it.
    #[serde(rename = "met")]
    Met,
}

/// One judged point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Where, in words.
    pub place: String,
    /// Layer of the assembly's list (outside to inside, from 0) it belongs to or lies inside of.
    pub layer: usize,
    /// Key of the limit.
    pub limit: String,
    /// What the limit means.
    pub meaning: String,
    /// The limit.
    pub threshold: f64,
    /// Unit of limit and value.
    pub unit: String,
    /// Value; absent where not judged.
    pub value: Option<f64>,
    /// Share of the limit left; absent where not judged.
    pub margin: Option<f64>,
    /// How it came out.
    pub status: Status,
    /// The answer.
    pub sentence: String,
    /// Day it was worst, such as `14 January`.
    pub when: Option<String>,
    /// Where the limit comes from.
    pub source: String,
}

/// A year judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct YearVerdict {
    /// The whole: not judged where the governing question is open.
    pub status: Status,
    /// Points, nearest to failing first, open ones before.
    pub points: Vec<Point>,
}

impl YearVerdict {
    /// Returns the point that governs: the judged one nearest to failing.
    pub fn governing(&self) -> Option<&Point> {
        self.points.iter().find(|p| p.margin.is_some())
    }

    /// Returns a point that could not be judged.
    pub fn open(&self) -> Option<&Point> {
        self.points.iter().find(|p| p.status == Status::NotJudged)
    }
}

/// One layer over the mean year.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LayerYear {
    /// Name.
    pub name: String,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Place in the assembly's list, outside to inside, from 0.
    pub layer: usize,
    /// Relative humidity at its damper face, mean of each of 52 weeks, a share.
    pub weekly_humidity: Vec<f64>,
    /// Water in it, mean of each week, kg/m².
    pub weekly_water_kg_m2: Vec<f64>,
}

/// State of an interface over the mean year.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LevelYear {
    /// Interface in the assembly's list: k lies outside of layer k, the last is the inside face.
    pub interface: usize,
    /// Where, in words.
    pub place: String,
    /// Lowest temperature, °C.
    pub coldest_c: f64,
    /// Day of it.
    pub coldest_when: String,
    /// Mean temperature, °C.
    pub usual_c: f64,
    /// Mean relative humidity, a share.
    pub usual_humidity: f64,
    /// Highest daily mean of relative humidity, a share.
    pub wettest_humidity: f64,
    /// Day of it.
    pub wettest_when: String,
}

/// How the water goes from year to year.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Water {
    /// `settled`, `drying`, `gathering` or `unknown`.
    pub course: String,
    /// Contents of the wall at the ends of successive years, kg/m².
    pub ends_kg_m2: Vec<f64>,
    /// The answer.
    pub sentence: String,
}

/// A property that was not known and has been estimated.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Material.
    pub material: String,
    /// Property with its unit.
    pub property: String,
    /// Value used.
    pub value: f64,
    /// Where it comes from.
    pub basis: String,
}

/// The monthly method beside the run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Monthly {
    /// Most water held, kg/m².
    pub peak_kg_m2: f64,
    /// Left after a year, kg/m².
    pub left_kg_m2: f64,
    /// Its own verdict.
    pub sentence: String,
    /// Whether it agrees with the run in time, and if not, why.
    pub beside: String,
}

/// Vapour resistance of one plane.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaneYear {
    /// Name, inside to outside.
    pub name: String,
    /// Equivalent air layer by dry and wet cup, m.
    pub air_layer_m: [f64; 2],
    /// Permeance by dry and wet cup, US perms.
    pub perms: [f64; 2],
}

/// How open to vapour the construction is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Openness {
    /// Planes, inside to outside.
    pub planes: Vec<PlaneYear>,
    /// Name of the tightest.
    pub tightest: String,
    /// Smallest drying reserve, kg/m².
    pub reserve_kg_m2: f64,
    /// Reserve wanted, kg/m².
    pub wanted_kg_m2: f64,
    /// Where it is smallest.
    pub place: String,
    /// The answer.
    pub sentence: String,
}

/// One drying test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DryingCase {
    /// `inside`, `outside` or `both`.
    pub way: String,
    /// Month it begins in, 0 January.
    pub month: usize,
    /// Days until nine tenths of the added water are gone; absent when not within the days allowed.
    pub days: Option<u32>,
    /// What of the added water is left in the layer, day by day, kg/m²: over the same wall not wetted.
    pub above_kg_m2: Vec<f64>,
}

/// The drying test of a case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DryingTest {
    /// Layer wetted, by name.
    pub wetted: String,
    /// Its place in the assembly's list.
    pub layer: usize,
    /// Water added, kg/m².
    pub added_kg_m2: f64,
    /// Days allowed.
    pub most_days: u32,
    /// Every way and month.
    pub cases: Vec<DryingCase>,
    /// The same with another membrane or tape, both ways open: what was changed, and the days by month.
    pub changes: Vec<DryingChange>,
    /// The answer.
    pub sentence: String,
}

/// Drying with something changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DryingChange {
    /// What was changed.
    pub change: String,
    /// Days by the test's months; absent when not dry within the days allowed.
    pub days: Vec<Option<u32>>,
}

/// A case under other suppositions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scenario {
    /// What is supposed.
    pub name: String,
    /// How it came out.
    pub verdict: YearVerdict,
    /// The answer.
    pub sentence: String,
}

/// Chance that the mould index stays below its limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Chance {
    /// Samples run.
    pub samples: usize,
    /// Of these, below the limit everywhere.
    pub met: usize,
    /// Share.
    pub p: f64,
    /// Its 90 % interval.
    pub interval: [f64; 2],
    /// The answer.
    pub sentence: String,
}

/// One wall: assembly, side, rooms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CaseReport {
    /// Stable id: `upper-wall.S.studio-a`.
    pub id: String,
    /// Assembly.
    pub assembly: String,
    /// Side in words: `S side`, `roof`.
    pub side: String,
    /// Direction it faces, degrees from north.
    pub azimuth_deg: f64,
    /// Tilt, degrees.
    pub tilt_deg: f64,
    /// What lies beyond: `outdoors` or a neighbour.
    pub beyond: String,
    /// Rooms it stands for.
    pub spaces: Vec<String>,
    /// The room whose air was used: the dampest.
    pub air_of: String,
    /// Mean indoor temperature (°C) and relative humidity (share), December to February.
    pub winter_air: [f64; 2],
    /// Area, m².
    pub area_m2: f64,
    /// Rain on it in a mean year, by both laws; absent where there is none.
    pub rain: Option<RainSums>,
    /// The law it was run with.
    pub rain_law: Option<RainLaw>,
    /// A mean year that repeats itself.
    pub mean: YearVerdict,
    /// A moisture design year after many mean ones.
    pub design: YearVerdict,
    /// From year to year.
    pub water: Water,
    /// The answer: both years, the governing layer, days or index, margin.
    pub sentence: String,
    /// Layers, outside to inside.
    pub layers: Vec<LayerYear>,
    /// Interfaces, outside to inside.
    pub levels: Vec<LevelYear>,
    /// What was estimated.
    pub estimates: Vec<Estimate>,
    /// ISO 13788 beside it.
    pub monthly: Monthly,
    /// Vapour resistance.
    pub openness: Openness,
    /// Drying test, when it was run.
    pub drying: Option<DryingTest>,
    /// Other suppositions, when they were run.
    pub scenarios: Vec<Scenario>,
    /// Chances, when they were run.
    pub chance: Option<Chance>,
    /// Cells.
    pub cells: usize,
    /// Years run.
    pub years: usize,
}

impl CaseReport {
    /// Returns the worse of the two years' verdicts.
    pub fn status(&self) -> Status {
        match (self.mean.status, self.design.status) {
            (Status::NotMet, _) | (_, Status::NotMet) => Status::NotMet,
            (Status::NotJudged, _) | (_, Status::NotJudged) => Status::NotJudged,
            _ => Status::Met,
        }
    }

    /// Returns the smallest margin of both years; absent when nothing was judged.
    pub fn margin(&self) -> Option<f64> {
        let of = |v: &YearVerdict| v.governing().and_then(|p| p.margin);
        match (of(&self.mean), of(&self.design)) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }
}

/// A timber end in a masonry pocket, bounded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PocketReport {
    /// Penetration it belongs to.
    pub name: String,
    /// Assembly and side.
    pub case: String,
    /// How the pocket is: `sealed`, `open to the room`.
    pub pocket: String,
    /// Monthly means of wood moisture at the end, by mass, January first.
    pub monthly_moisture: [f64; 12],
    /// Highest, by mass.
    pub highest: f64,
    /// Hours above 20 % in a year.
    pub watch_h: f64,
    /// Hours above 26 % while warmer than 5 °C.
    pub decay_h: f64,
    /// The answer, with its cautions.
    pub sentence: String,
}

/// An assembly that was not run, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotRun {
    /// Assembly.
    pub assembly: String,
    /// Why.
    pub why: Vec<String>,
}

/// Everything told of a building's moisture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DryReport {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Suppositions the whole rests on, in sentences.
    pub suppositions: Vec<String>,
    /// `recorded`, `made up` or `none`.
    pub rain: String,
    /// Rain of the year, mm; absent without any.
    pub yearly_rain_mm: Option<f64>,
    /// Walls, worst first.
    pub cases: Vec<CaseReport>,
    /// What was not run.
    pub not_run: Vec<NotRun>,
    /// Timber ends pocketed in masonry.
    pub pockets: Vec<PocketReport>,
    /// What was not checked.
    pub cautions: Vec<String>,
}

impl DryReport {
    /// Returns the worst case of an assembly.
    pub fn worst_of(&self, assembly: &str) -> Option<&CaseReport> {
        self.cases.iter().find(|c| c.assembly == assembly)
    }
}
