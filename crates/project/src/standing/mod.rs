//! Where a project stands: limits judged, gaps found, the next thing worth doing.
//!
//! [`Standing`] is the single structure that the terminal, the sheets and scripts read. It is a wire type of its
//! own (see [`SCHEMA`]); its figures are in the SI units named beside them, and views convert for display through the
//! `dimension`. Odds stay `None` until chances are computed: nothing is invented to fill a picture.
//!
//! Start at [`standing`]; [`Years`] are the simulated years behind it. One file a kind of finding: `limits`, `site`
//! (gaps, proof, cautions, stages), `machines` (loads, rooms left cold or hot, hot water), `conditions` (joints made too cold or unprimed), `evidence` (what the log says about tightness and flows), `headline`.

mod air;
mod conditions;
mod evidence;
mod headline;
mod limits;
mod machines;
mod site;
mod types;
mod words;
mod years;

pub use evidence::{Commissioned, ReadingDay, Tightness};
pub(crate) use evidence::{commissioned, day, readings_of_tightness, records};
pub use machines::Machines;
pub(crate) use site::{has_proof, is_repaired, leaks};
pub use types::{
    Cause, ChancesLine, Comparison, CountedBeside, Figure, Finding, FindingKind, GroupChance, Headline,
    NextStep, Odds, Outcome, Place, ProjectLine, SCHEMA, Stage, StageState, Standing,
};
pub(crate) use words::{capital, plain};
pub use years::Years;

use crate::check::Project;
use building::counting::Count;
use limits::Known;
use quantity::{Dimension, System};
use std::collections::BTreeMap;
use year::result::YearResult;

/// Returns the records up to the day the book speaks of; all of them when it names none.
pub(crate) fn records_until_today(project: &Project) -> impl Iterator<Item = &building::records::Record> {
    records(project)
}

/// Said while no chances have been put in.
pub(crate) const NOT_COMPUTED: &str = "Figures are at the stated values; chances are not computed.";

/// Returns the latest reading of tightness in the site log.
pub fn tightness(project: &Project) -> Option<Tightness> {
    evidence::tightness(project)
}

/// Returns the records up to the day the book speaks of.
pub(crate) fn records_to_date(project: &Project) -> impl Iterator<Item = &building::records::Record> {
    records(project)
}

/// Judges every limit of a project by its years, with what the site log has read; `None` when no year could be run.
pub fn judgement(project: &Project, years: &Years) -> Option<year::judge::Judgement> {
    limits::judgement(project, years, evidence::tightness(project).as_ref())
}

/// Works out where a project stands, from its book, its log and its simulated years.
pub fn standing(project: &Project, years: &Years) -> Standing {
    let known = Known::new(project, years);
    let mut findings = known.findings();
    findings.extend(in_order(site::gaps(project)));
    findings.extend(in_order(machines::findings(project, years)));
    findings.extend(in_order(site::proof(project)));
    let story = crate::air::Story::of(project);
    let (of_air, air_cautions): (Vec<Finding>, Vec<Finding>) =
        air::findings(project, &story).into_iter().partition(|f| f.kind != FindingKind::Caution);
    findings.extend(of_air);
    let mut cautions = site::cautions(project);
    cautions.extend(air_cautions);
    let not_checked = cautions.iter().flat_map(|f| f.cautions.clone()).collect();
    findings.extend(cautions);
    findings.extend(site::works(project));
    let mut standing = Standing {
        schema: SCHEMA.to_owned(),
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        project: project_line(project),
        headline: Headline { decision: String::new(), because: String::new(), finding: None },
        stages: site::stages(project, &findings),
        findings,
        results: results(&known, years),
        next: Vec::new(),
        chances: None,
        not_checked,
        notices: notices(project, years),
    };
    standing.headline = headline::headline(project, &standing, known.tightness.as_ref());
    standing.next = headline::next(project, &standing, known.tightness.as_ref());
    // Isolating comes after what is known to leak.
    let at = standing.next.len().min(1);
    if let Some(step) = air::next(&story) {
        standing.next.insert(at, step);
    }
    standing
}

/// Open findings before settled ones; otherwise as found.
fn in_order(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.sort_by_key(|f| !f.is_open());
    findings
}

fn project_line(project: &Project) -> ProjectLine {
    let facts = &project.building.project;
    ProjectLine {
        name: facts.name.clone(),
        invented: facts.invented,
        stage: facts.stage.clone(),
        units: if facts.units == System::Si { "si" } else { "us" }.to_owned(),
        words: if facts.words == building::plan::Words::Uk { "uk" } else { "us" }.to_owned(),
        climate: project.weather.climate.place.name.clone(),
        limits: facts.limits.clone(),
    }
}

/// Named results of the counts and the years.
fn results(known: &Known<'_>, years: &Years) -> BTreeMap<String, Figure> {
    let mut all = BTreeMap::new();
    for count in known.counts() {
        sizes(&mut all, count);
    }
    let certified = known.counts().iter().find(|c| c.rule == building::counting::certification_style().id);
    for year in [&years.standard, &years.real].into_iter().flatten() {
        if let Some(count) = certified {
            of_year(&mut all, year, count.floor_area_m2);
        }
    }
    all
}

fn put(
    all: &mut BTreeMap<String, Figure>,
    name: String,
    value: f64,
    unit: &str,
    dimension: Dimension,
    words: &str,
) {
    let figure = Figure {
        value,
        unit: unit.to_owned(),
        dimension: dimension.name().to_owned(),
        words: words.to_owned(),
    };
    all.insert(name, figure);
}

fn sizes(all: &mut BTreeMap<String, Figure>, count: &Count) {
    let rule = &count.rule;
    put(
        all,
        format!("floor-area.{rule}"),
        count.floor_area_m2,
        "m²",
        Dimension::Area,
        "reference floor area",
    );
    put(all, format!("volume.{rule}"), count.volume_m3, "m³", Dimension::Volume, "volume");
    put(
        all,
        format!("enclosure.{rule}"),
        count.enclosure_m2,
        "m²",
        Dimension::Area,
        "enclosure, inside faces",
    );
    put(
        all,
        format!("party.{rule}"),
        count.party_m2,
        "m²",
        Dimension::Area,
        "enclosure shared with neighbours",
    );
}

fn of_year(all: &mut BTreeMap<String, Figure>, year: &YearResult, area_m2: f64) {
    let r#use = year.use_case.word();
    let kwh = |j: f64| j / 3.6e6 / area_m2;
    let energy = Dimension::EnergyPerArea;
    let unit = "kWh/(m²·a)";
    let mut energy_of = |name: &str, j: f64, words: &str| {
        put(all, format!("{name}.{use}", use = r#use), kwh(j), unit, energy, words);
    };
    energy_of("heating-demand", year.demand.heating_j, "useful heat of a year");
    energy_of("cooling-demand", year.demand.cooling_j(), "useful cold of a year, drying included");
    energy_of(
        "cooling-demand-sensible",
        year.demand.cooling_sensible_j,
        "useful cold of a year without drying",
    );
    energy_of("drying-demand", year.demand.drying_j, "heat of evaporation of the water taken from the air");
    energy_of("primary-energy", year.energy.primary_j, "primary energy of a year");
    energy_of("electricity", year.energy.electricity_j, "electricity of a year");
    let weighting = &year.machines.weighting;
    energy_of(
        "renewable-primary-energy",
        weighting.renewable_supply_j,
        "electricity of a year weighted for a wholly renewable supply",
    );
    energy_of("solar-electricity", year.machines.year().solar_j, "solar electricity made in a year");
    let per_area = Dimension::PowerPerArea;
    let mut load = |name: &str, w: f64, words: &str| {
        put(all, format!("{name}.{use}", use = r#use), w / area_m2, "W/m²", per_area, words);
    };
    load("heating-load", year.design_heating_load_w, "larger mean heating of the two design days");
    load("cooling-load", year.peaks.cooling_day.power_w, "largest daily mean of sensible cooling");
    load("heating-peak", year.peaks.heating.power_w, "largest hour of heating");
    load("cooling-peak", year.peaks.cooling.power_w, "largest hour of sensible cooling");
    let share = |h: f64| 100.0 * h / 8760.0;
    let mut hours = |name: &str, h: f64, words: &str| {
        put(all, format!("{name}.{use}", use = r#use), share(h), "%", Dimension::Ratio, words);
    };
    hours("warm-hours", year.comfort.warm_hours, "hours over the warm threshold");
    hours("humid-hours", year.comfort.humid_hours, "hours over the humid threshold");
    for gathering in &year.gatherings {
        let name = format!("co2-peak.{}", gathering.name);
        put(
            all,
            name,
            gathering.co2_peak_ppm,
            "ppm",
            Dimension::Concentration,
            "highest CO2 of the gathering",
        );
    }
}

fn notices(project: &Project, years: &Years) -> Vec<String> {
    let climate = &project.weather.climate;
    let mut all = vec![format!("Weather: {}, {}.", climate.place.name, climate.source)];
    all.extend(climate.notes.iter().cloned());
    let of_years = [&years.standard, &years.real].into_iter().flatten().flat_map(|y| y.notes.iter());
    for note in of_years.chain(&years.notices) {
        if !all.contains(note) {
            all.push(note.clone());
        }
    }
    all.push(NOT_COMPUTED.to_owned());
    let class = project.building.site.climate_class.as_deref();
    if let Some(set) = &project.limits {
        let rows = set.for_climate(class).len();
        all.push(format!(
            "Limits: {} rows of {}; {}.",
            rows,
            project.building.project.limits.join(", "),
            set.caveat
        ));
    }
    all
}
