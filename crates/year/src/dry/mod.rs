//! Will it stay dry: every exterior assembly of a building, by side and rooms, through years of heat and moisture.
//!
//! [`judge`] runs them all: the air of the rooms from a simulated year, outside sun, long-wave, wind and driving rain; to a
//! state that repeats, a mean year and a moisture design year, judged by crate `moisture`. [`closely`] takes one assembly
//! further: the drying test, other suppositions. [`report`] is what is told.
//!
//! Left out: two dimensions (studs, reveals; [`pocket`] bounds timber ends), the ground, salts and rising damp, shade.
//! What lacks a property is not run and says so; what is estimated is listed.

mod cases;
mod chances;
mod drying;
mod outdoors;
mod pocket;
pub mod report;
mod rooms;
mod run;
mod scenarios;
mod tell;
mod walls;

pub use chances::{CHANCE_CASES, chances};
pub use drying::Wetting;
pub use outdoors::{DESIGN_COLDER_K, DESIGN_MORE_RAIN, RainLaw, RainSums};
pub use report::{CaseReport, DryReport, Status};

use building::model::{Beyond, ElementKind};
use building::{Building, Resolved};
use climate::Climate;
use moisture::judge::Rain;
use moisture::monthly::Month;
use rayon::prelude::*;
use std::sync::Arc;

use crate::error::YearError;
use cases::{Case, winter_mean};
use outdoors::Outdoors;
use report::NotRun;
use rooms::RoomAir;
use run::{Faces, Ran};
use walls::Built;

/// Everything the cases of a building share.
pub(crate) struct Scene<'a> {
    building: &'a Building,
    r: &'a Resolved,
    outdoors: Arc<Outdoors>,
    rooms: Arc<Vec<RoomAir>>,
    neighbours: Arc<Vec<Vec<f64>>>,
    cases: Vec<Case>,
}

/// A case made ready and run.
pub(crate) struct Done {
    pub case: Case,
    pub built: Built,
    pub ran: Ran,
    pub rain: Rain,
    pub report: CaseReport,
}

impl<'a> Scene<'a> {
    fn new(building: &'a Building, climate: &Climate, r: &'a Resolved) -> Result<Self, YearError> {
        let (rooms, _) = rooms::air(building, climate, r)?;
        let outdoors = Outdoors::new(building, climate, r);
        let neighbours = crate::assemble::neighbour_temperatures(building, climate, r);
        let cases = cases::cases(building, &rooms, outdoors.air().1);
        Ok(Self {
            building,
            r,
            outdoors: Arc::new(outdoors),
            rooms: Arc::new(rooms),
            neighbours: Arc::new(neighbours),
            cases,
        })
    }

    /// The same scene without its cases, for a sample's own numbers.
    fn shallow(&self) -> Self {
        Self {
            building: self.building,
            r: self.r,
            outdoors: self.outdoors.clone(),
            rooms: self.rooms.clone(),
            neighbours: self.neighbours.clone(),
            cases: Vec::new(),
        }
    }

    fn faces(&self) -> Faces<'_> {
        Faces { outdoors: &self.outdoors, rooms: &self.rooms, neighbours: &self.neighbours }
    }

    fn built(&self, case: &Case) -> Result<Built, Vec<String>> {
        let assembly = &self.building.assemblies[case.assembly.0];
        let rained_on = case.beyond == Beyond::Outside && !case.facing.is_below();
        walls::build(self.building, assembly, run::direction(case.facing), rained_on, self.r)
    }

    /// Whether timber ends in the masonry of an assembly.
    fn pocketed(&self, case: &Case) -> bool {
        self.building.penetrations.iter().any(|p| p.through == case.assembly && p.plan.embedded_timber)
    }

    /// What is known of the rain on a case.
    fn rain(&self, case: &Case) -> (Rain, Option<RainSums>) {
        if case.beyond != Beyond::Outside || case.facing.is_below() {
            return (self.outdoors.rain, None);
        }
        let sums = self.outdoors.sums(case.facing);
        let rain = match self.outdoors.rain {
            Rain::Synthetic { .. } => Rain::Synthetic { spread: sums.spread },
            other => other,
        };
        (rain, (rain != Rain::Unknown).then_some(sums))
    }

    fn done(&self, case: &Case) -> Result<Done, NotRun> {
        let assembly = &self.building.assemblies[case.assembly.0];
        let refused = |why: Vec<String>| NotRun { assembly: assembly.name.clone(), why };
        let built = self.built(case).map_err(refused)?;
        let (rain, sums) = self.rain(case);
        let law = sums.map_or(RainLaw::Ashrae160, |s| s.wetter());
        let words =
            |errors: Vec<moisture::MoistureError>| refused(errors.iter().map(ToString::to_string).collect());
        let faces = self.faces();
        let drive = |design| faces.drive(case, &built, law, design).map_err(|e| words(vec![e]));
        let ran = run::run(&built.wall, &drive(false)?, &drive(true)?).map_err(words)?;
        let report = self.tell(case, &built, &ran, rain, sums);
        Ok(Done { case: case.clone(), built, ran, rain, report })
    }

    fn tell(&self, case: &Case, built: &Built, ran: &Ran, rain: Rain, sums: Option<RainSums>) -> CaseReport {
        let assembly = &self.building.assemblies[case.assembly.0];
        let mean = tell::verdict(built, &ran.mean, None, rain, self.pocketed(case));
        let design = tell::verdict(built, &ran.design, Some(&ran.mean), rain, self.pocketed(case));
        let name = |space: &building::model::SpaceId| self.building.spaces[space.0].name.clone();
        let side = self.side_words(case);
        let air = &self.rooms[case.air_of.0];
        let roof = !case.facing.is_wall() && !case.facing.is_below();
        CaseReport {
            id: self.id(case),
            assembly: assembly.name.clone(),
            azimuth_deg: case.facing.azimuth_deg(),
            tilt_deg: case.facing.tilt_deg(),
            beyond: match case.beyond {
                Beyond::Neighbour(id) => self.building.neighbours[id.0].name.clone(),
                _ => "outdoors".to_owned(),
            },
            side,
            spaces: case.spaces.iter().map(name).collect(),
            air_of: name(&case.air_of),
            winter_air: [winter_mean(&air.temperature_c), winter_mean(&air.humidity())],
            area_m2: case.area_m2,
            rain_law: sums.map(|s| s.wetter()),
            rain: sums,
            water: tell::water(&ran.ends_kg_m2, ran.repeats),
            sentence: tell::sentence(&mean, &design),
            layers: tell::layers(built, &ran.mean),
            levels: tell::levels(built, assembly, &ran.mean),
            estimates: tell::estimates(built),
            monthly: tell::monthly_beside(
                built,
                &self.months(case),
                if design.status == Status::NotMet { &design } else { &mean },
                sums.is_some() && !built.masonry.is_empty(),
            ),
            openness: tell::openness(built, roof),
            drying: None,
            scenarios: Vec::new(),
            chance: None,
            cells: ran.cells.count(),
            years: ran.years,
            mean,
            design,
        }
    }

    /// Stable id of a case.
    fn id(&self, case: &Case) -> String {
        let side = self.side_words(case);
        let short = side.split(' ').next().unwrap_or("");
        let assembly = &self.building.assemblies[case.assembly.0].name;
        format!("{assembly}.{short}.{}", self.building.spaces[case.air_of.0].name)
    }

    /// Where a case lies, in words.
    fn side_words(&self, case: &Case) -> String {
        if case.facing.is_below() {
            return "floor".to_owned();
        }
        if !case.facing.is_wall() {
            return "roof".to_owned();
        }
        match &case.side {
            Some(side) => format!("{side} side"),
            None if case.beyond == Beyond::Outside => format!("{:.0}° side", case.facing.azimuth_deg()),
            None => "wall".to_owned(),
        }
    }

    /// Monthly means on both sides of a case, for the monthly method.
    fn months(&self, case: &Case) -> Vec<Month> {
        let air = &self.rooms[case.air_of.0];
        let (outdoor_c, outdoor_pa) = self.outdoors.air();
        let beyond_c = match case.beyond {
            Beyond::Neighbour(id) => &self.neighbours[id.0],
            _ => outdoor_c,
        };
        (0..12)
            .map(|month| {
                let hours = climate::calendar::hours_of_month(month);
                let mean = |list: &[f64]| numeric::sum::mean(&list[hours.clone()]);
                Month {
                    days: hours.len() as f64 / 24.0,
                    outdoor_c: mean(beyond_c),
                    outdoor_pa: mean(outdoor_pa),
                    indoor_c: mean(&air.temperature_c),
                    indoor_pa: mean(&air.vapour_pressure_pa),
                }
            })
            .collect()
    }

    fn cautions(&self) -> Vec<String> {
        let mut all = vec![
            "Mould, decay and structure: figures of a model, no proof. Load-bearing timber is inspected and judged by a \
             licensed designer."
                .to_owned(),
            "Salts and rising damp are not modelled; repair gutters, plinths and joints before insulating.".to_owned(),
            "Not checked: studs, reveals and corners (more than one dimension), hazardous materials behind old linings, \
             insects."
                .to_owned(),
        ];
        if self.building.elements.iter().any(|e| e.kind == ElementKind::GroundFloor) {
            all.push("Floors and walls against the ground were not run.".to_owned());
        }
        all
    }

    fn empty(&self) -> DryReport {
        let mut suppositions = self.outdoors.suppositions();
        suppositions.push(
            "Air of the rooms is that of the year as the building will be used; a neighbour's air carries the outdoor \
             vapour."
                .to_owned(),
        );
        suppositions.push("Layers touch perfectly; pore water does not freeze in these runs.".to_owned());
        DryReport {
            schema: report::SCHEMA.to_owned(),
            suppositions,
            rain: match self.outdoors.rain {
                Rain::Recorded => "recorded",
                Rain::Synthetic { .. } => "made up",
                Rain::Unknown => "none",
            }
            .to_owned(),
            yearly_rain_mm: self.outdoors.yearly_mm,
            cases: Vec::new(),
            not_run: Vec::new(),
            pockets: Vec::new(),
            cautions: self.cautions(),
        }
    }
}

/// Runs and judges every exterior assembly, worst first; the worst case of each assembly gets its drying test.
///
/// # Errors
/// [`YearError`] when the building's own year cannot be run. Assemblies that cannot be run are in
/// [`DryReport::not_run`].
pub fn judge(building: &Building, climate: &Climate, r: &Resolved) -> Result<DryReport, YearError> {
    let scene = Scene::new(building, climate, r)?;
    let mut report = scene.empty();
    let outcomes: Vec<Result<Done, NotRun>> = scene.cases.par_iter().map(|case| scene.done(case)).collect();
    let mut done = Vec::new();
    for outcome in outcomes {
        match outcome {
            Ok(case) => done.push(case),
            Err(not) if report.not_run.contains(&not) => {}
            Err(not) => report.not_run.push(not),
        }
    }
    report.pockets = pocket::pockets(&scene, &done);
    done.sort_by(|a, b| order(&a.report).total_cmp(&order(&b.report)));
    let mut seen: Vec<String> = Vec::new();
    let worst: Vec<usize> = done
        .iter()
        .enumerate()
        .filter(|(_, d)| {
            let new = !seen.contains(&d.report.assembly);
            seen.push(d.report.assembly.clone());
            new
        })
        .map(|(k, _)| k)
        .collect();
    let tests: Vec<_> = worst.par_iter().map(|&k| drying::usual(&scene, &done[k])).collect();
    for (k, test) in worst.into_iter().zip(tests) {
        done[k].report.drying = test.ok();
    }
    report.cases = done.into_iter().map(|d| d.report).collect();
    Ok(report)
}

/// Takes the worst case of one assembly further: a drying test of a named layer, other suppositions, what another
/// membrane changes. Everything else of the report is of that assembly alone.
///
/// # Errors
/// [`YearError`] when the building's year cannot be run, or the assembly or layer does not exist.
pub fn closely(
    building: &Building,
    climate: &Climate,
    r: &Resolved,
    assembly: &str,
    wetting: Option<&Wetting>,
) -> Result<DryReport, YearError> {
    let mut scene = Scene::new(building, climate, r)?;
    let known = building.assemblies.iter().position(|a| a.name == assembly);
    let Some(place) = known else {
        let names: Vec<&str> = building.assemblies.iter().map(|a| a.name.as_str()).collect();
        return Err(YearError::Missing {
            item: format!("assembly.{assembly}"),
            why: format!("there is none of that name; there are: {}", names.join(", ")),
        });
    };
    scene.cases.retain(|c| c.assembly.0 == place);
    if scene.cases.is_empty() {
        return Err(YearError::Missing {
            item: format!("assembly.{assembly}"),
            why: "it faces neither outdoors nor a neighbour; there is nothing to run".to_owned(),
        });
    }
    let mut report = scene.empty();
    let outcomes: Vec<Result<Done, NotRun>> = scene.cases.par_iter().map(|case| scene.done(case)).collect();
    let mut done = Vec::new();
    for outcome in outcomes {
        match outcome {
            Ok(case) => done.push(case),
            Err(not) if report.not_run.contains(&not) => {}
            Err(not) => report.not_run.push(not),
        }
    }
    report.pockets = pocket::pockets(&scene, &done);
    done.sort_by(|a, b| order(&a.report).total_cmp(&order(&b.report)));
    if let Some(worst) = done.first() {
        let test = match wetting {
            Some(wetting) => drying::named(&scene, worst, wetting)?,
            None => drying::usual(&scene, worst)?,
        };
        let scenarios = scenarios::all(&scene, climate, worst)?;
        done[0].report.drying = Some(test);
        done[0].report.scenarios = scenarios;
    }
    report.cases = done.into_iter().map(|d| d.report).collect();
    Ok(report)
}

/// Failing cases first, then open ones, then by what is left of the limit.
fn order(c: &CaseReport) -> f64 {
    let margin = c.margin().unwrap_or(0.0).clamp(-1e6, 1.0);
    match c.status() {
        Status::NotMet => margin - 2e6,
        Status::NotJudged => margin - 1e3,
        Status::Met => margin,
    }
}
