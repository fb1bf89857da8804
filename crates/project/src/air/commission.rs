//! Commissioning: flows of the log against the book's, imbalance at every speed, and the damper to move next.

use super::Air;
use super::logged::accuracy;
use crate::check::Project;
use crate::standing::records_until_today;
use ::air::commissioning::{
    Day, DuctTree, Effects, Hold, Meter, Terminal, duct_leak_share, effects, imbalance, judge,
};
use ::air::leakage::PowerLaw;
use building::Building;
use building::model::Ventilation;
use building::records::{Body, Record};
use serde::Serialize;

/// Name and version of the JSON form.
pub const SCHEMA: &str = "windtight/commission/1";
/// Tolerance of one terminal (EN 12599, from memory: 15 % a room), as a share of its design.
pub const TERMINAL_TOLERANCE: f64 = 0.15;
/// Imbalance that is usually allowed, as a share of the larger flow (common practice).
pub const IMBALANCE_LIMIT: f64 = 0.10;
/// Meter where no certificate is on record (common practice, no source): 5 %, at least 3 m³/h.
const METER: Meter = Meter { share: 0.05, least_m3_h: 3.0 };
/// Day on which effects are told.
const DAY: Day = Day { inside_c: 20.0, outside_c: 0.0, air_j_m3k: 1210.0 };

/// Everything about the flows of a job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CommissionReport {
    /// Always [`SCHEMA`].
    pub schema: &'static str,
    /// Units with design flows or readings.
    pub units: Vec<UnitReport>,
    /// What was assumed.
    pub notes: Vec<String>,
}

/// One unit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UnitReport {
    /// Name.
    pub unit: String,
    /// Each speed.
    pub modes: Vec<ModeReport>,
}

/// One speed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModeReport {
    /// Name.
    pub mode: String,
    /// Design of supply and extract, m³/h.
    pub design_m3_h: [f64; 2],
    /// Outdoor and exhaust air as read, m³/h.
    pub read_m3_h: [Option<f64>; 2],
    /// |outdoor − exhaust| over the larger.
    pub imbalance: Option<f64>,
    /// Its standard uncertainty, by the meter.
    pub imbalance_uncertainty: Option<f64>,
    /// Pressure inside over outside that the imbalance makes, Pa, wind and stack left out.
    pub pressure_pa: Option<f64>,
    /// Air through leaks because of it, m³/h.
    pub through_leaks_m3_h: Option<f64>,
    /// Heat that is not recovered because of it at 20 °C inside and 0 °C outside, W.
    pub lost_w: Option<f64>,
    /// Fan energy for the outdoor air, Wh/m³.
    pub fan_wh_m3: Option<f64>,
    /// Share lost between the unit and the supply terminals.
    pub duct_leak: Option<f64>,
    /// Terminals.
    pub terminals: Vec<TerminalReport>,
    /// The damper to move next, for supply and extract.
    pub advice: Vec<AdviceLine>,
}

/// One terminal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TerminalReport {
    /// Room by its name.
    pub room: String,
    /// What it is called.
    pub label: String,
    /// `supply` or `extract`.
    pub way: &'static str,
    /// Design, m³/h.
    pub design_m3_h: f64,
    /// Read, m³/h.
    pub read_m3_h: Option<f64>,
    /// 95 % half-width by the meter, m³/h.
    pub half_width_m3_h: Option<f64>,
    /// (read − design)/design.
    pub deviation: Option<f64>,
    /// Inside the tolerance.
    pub inside: Option<bool>,
    /// Chance that the true flow is inside.
    pub chance_inside: Option<f64>,
}

/// The next move.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdviceLine {
    /// `supply` or `extract`.
    pub way: &'static str,
    /// Room whose damper to move; absent where all are balanced.
    pub room: Option<String>,
    /// Free opening afterwards over the present one.
    pub opening_ratio: Option<f64>,
    /// Flow it should show right after, m³/h.
    pub lands_at_m3_h: Option<f64>,
}

struct ReadFlow<'a> {
    mode: &'a str,
    unit: &'a str,
    at: String,
    m3_h: f64,
    power_w: Option<f64>,
    meter: Meter,
}

fn readings(project: &Project) -> Vec<ReadFlow<'_>> {
    records_until_today(project)
        .filter_map(|record| match &record.body {
            Body::FlowReading(f) => Some(ReadFlow {
                mode: &f.mode,
                unit: &f.unit,
                at: f.at.to_lowercase(),
                m3_h: 3600.0 * f.flow.value,
                power_w: f.power.as_ref().map(|p| p.value),
                meter: meter(record),
            }),
            _ => None,
        })
        .collect()
}

fn meter(record: &Record) -> Meter {
    let stated = record.head.instrument.as_ref().and_then(|i| i.uncertainty.as_deref()).and_then(accuracy);
    stated.map_or(METER, |share| Meter { share, ..METER })
}

/// Reports the flows of every unit of the book.
pub fn commission(project: &Project, air: &Air) -> CommissionReport {
    let building = &project.building;
    let all = readings(project);
    let units = building.ventilation.iter().map(|unit| UnitReport {
        unit: unit.name.clone(),
        modes: (0..unit.modes.len()).map(|m| mode(project, air, unit, m, &all)).collect(),
    });
    let mut notes = vec![
        format!(
            "A terminal may be {:.0} % off its design (EN 12599, from memory); a meter without a certificate is taken as ± 5 %, at \
             least ± 3 m³/h (common practice, no source).",
            100.0 * TERMINAL_TOLERANCE
        ),
        "The next damper is found on a duct without runs: every terminal hangs on the plenum, the fan holds its flow, and an opening \
         is told against the present one. Read again after each move."
            .to_owned(),
    ];
    if all.is_empty() {
        notes.insert(0, "No flow reading is on record yet: designs only.".to_owned());
    }
    CommissionReport { schema: SCHEMA, units: units.collect(), notes }
}

/// The latest reading of a unit and mode whose place fits.
fn latest<'a, 'b>(
    all: &'a [ReadFlow<'b>],
    unit: &Ventilation,
    mode: &str,
    fits: impl Fn(&str) -> bool,
) -> Option<&'a ReadFlow<'b>> {
    all.iter()
        .rev()
        .find(|r| r.mode == mode && (r.unit.is_empty() || r.unit.starts_with(&unit.name)) && fits(&r.at))
}

fn mode(project: &Project, air: &Air, unit: &Ventilation, m: usize, all: &[ReadFlow<'_>]) -> ModeReport {
    let building = &project.building;
    let values = &building.values;
    let mode = &unit.modes[m];
    let design = [mode.supply, mode.extract].map(|key| 3600.0 * values.nominal_of(key));
    let outdoor = latest(all, unit, &mode.name, |at| at.contains("outdoor"));
    let exhaust = latest(all, unit, &mode.name, |at| at.contains("exhaust"));
    let terminals: Vec<TerminalReport> = [(true, design[0]), (false, design[1])]
        .into_iter()
        .flat_map(|(supply, whole)| terminals(building, unit, m, supply, whole, all))
        .collect();
    let both = outdoor.zip(exhaust);
    let judged = both.and_then(|(o, e)| {
        imbalance(o.m3_h, e.m3_h, if o.meter.share > e.meter.share { o.meter } else { e.meter })
    });
    let effect = both.and_then(|(o, e)| effect(project, air, mode, design[0], o.m3_h, e.m3_h));
    let supplied: Option<f64> = terminals
        .iter()
        .filter(|t| t.way == "supply")
        .map(|t| t.read_m3_h)
        .sum::<Option<f64>>()
        .filter(|sum| *sum > 0.0);
    ModeReport {
        mode: mode.name.clone(),
        design_m3_h: design,
        read_m3_h: [outdoor.map(|r| r.m3_h), exhaust.map(|r| r.m3_h)],
        imbalance: judged.map(|j| j.share_of_larger),
        imbalance_uncertainty: judged.map(|j| j.uncertainty),
        pressure_pa: effect.map(|e| e.pressure_pa),
        through_leaks_m3_h: effect.map(|e| e.through_leaks_m3_h),
        lost_w: effect.map(|e| e.recovered_if_balanced_w - e.recovered_w),
        fan_wh_m3: outdoor
            .and_then(|o| Some(::air::duct::specific_fan_power_wh_m3(o.power_w?, o.m3_h)))
            .filter(|v| v.is_finite()),
        duct_leak: outdoor.zip(supplied).map(|(o, sum)| duct_leak_share(o.m3_h, sum)),
        advice: ["supply", "extract"].into_iter().filter_map(|way| advice(&terminals, way)).collect(),
        terminals,
    }
}

fn effect(
    project: &Project,
    air: &Air,
    mode: &building::model::Mode,
    rated_m3_h: f64,
    outdoor: f64,
    exhaust: f64,
) -> Option<Effects> {
    let values = &project.building.values;
    let (_, told) = air.latest()?;
    let exponent = values.nominal_of(project.building.airtightness.exponent);
    let leak = PowerLaw::through(told.flow.value, told.reference_pressure_pa, exponent);
    effects(outdoor, exhaust, values.nominal_of(mode.temperature_recovery), rated_m3_h, leak, DAY)
}

fn terminals(
    building: &Building,
    unit: &Ventilation,
    m: usize,
    supply: bool,
    whole_m3_h: f64,
    all: &[ReadFlow<'_>],
) -> Vec<TerminalReport> {
    let mode = &unit.modes[m];
    let shares = if supply { &mode.supply_shares } else { &mode.extract_shares };
    let way = if supply { "supply" } else { "extract" };
    let mut out = Vec::new();
    for (space, share) in shares {
        let room = &building.spaces[space.0];
        let design_m3_h = whole_m3_h * share;
        let names =
            [room.name.to_lowercase(), room.name.replace('-', " ").to_lowercase(), room.label.to_lowercase()];
        let read = latest(all, unit, &mode.name, |at| {
            let extract = at.contains("extract") || at.contains("return");
            extract != supply
                && !at.contains("outdoor")
                && !at.contains("exhaust")
                && names
                    .iter()
                    .any(|name| at.split([',', ':']).any(|part| part.trim().ends_with(name.as_str())))
        });
        let judged = read.and_then(|r| judge(design_m3_h, r.m3_h, TERMINAL_TOLERANCE, r.meter));
        out.push(TerminalReport {
            room: room.name.clone(),
            label: room.label.clone(),
            way,
            design_m3_h,
            read_m3_h: read.map(|r| r.m3_h),
            half_width_m3_h: read.map(|r| 2.0 * r.meter.standard_uncertainty_m3_h(r.m3_h)),
            deviation: judged.map(|j| j.deviation_share),
            inside: judged.map(|j| j.inside),
            chance_inside: judged.map(|j| j.chance_inside),
        });
    }
    out
}

/// Asks the duct which damper to move, once every terminal of a way was read.
fn advice(terminals: &[TerminalReport], way: &'static str) -> Option<AdviceLine> {
    let of: Vec<&TerminalReport> = terminals.iter().filter(|t| t.way == way).collect();
    let read: Option<Vec<Terminal>> = of
        .iter()
        .map(|t| {
            Some(Terminal {
                id: t.room.clone(),
                place: 0,
                design_m3_h: t.design_m3_h,
                measured_m3_h: t.read_m3_h?,
                opening: 1.0,
            })
        })
        .collect();
    let terminals = read.filter(|t| t.len() > 1)?;
    // Without runs the plenum's pressure cancels out of every answer.
    let tree = DuctTree { runs: Vec::new(), terminals, plenum_pa: 50.0, hold: Hold::Flow };
    let advice = tree.advise().ok()?;
    Some(AdviceLine {
        way,
        room: advice.terminal.map(|i| tree.terminals[i].id.clone()),
        opening_ratio: advice.terminal.map(|_| advice.opening),
        lands_at_m3_h: advice.terminal.map(|_| advice.lands_at_m3_h),
    })
}
