//! Heat pumps: bins and seasonal figures, published regressions, part load, cooling-equipment cases.

use plant::heat_pump::{Figures, HeatPump, Limits, Mode, SecondLaw, cycling_factor, reversible_heating};
use plant::regression::{Regression, ratio};
use plant::seasonal::{Season, heating_season};

use crate::reference::{Data, Row, rows};
use crate::{Check, Kind, Tolerance};

const BINS: &str = include_str!("../../../../reference/plant/en14825_bins.csv");
const HEAT_PUMP: &str = include_str!("../../../../reference/plant/heat_pump.toml");
const CASES: &str = include_str!("../../../../reference/plant/dx_cooling_E100_E200.csv");
const FIT: &str = include_str!("../../../../reference/plant/dx_fit.toml");
const PART_LOAD: &str = include_str!("../../../../reference/plant/dx_part_load.csv");
const TOLERANCES: &str = include_str!("../../../../reference/plant/tolerances.toml");

const BINS_SOURCE: &str = "EN 14825 bins, from memory";
const CASES_SOURCE: &str = "cooling-equipment cases E100-E200, NREL/TP-550-30152 (2002), from memory";

pub(crate) fn checks() -> Vec<Check> {
    let mut all = seasons();
    all.extend(scop());
    all.extend(regressions());
    all.extend(part_load());
    all.extend(cooling_cases());
    all
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    kind: Kind,
    source: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        topic: match id.split('.').next() {
            Some("cooling-case") => "Cooling equipment",
            Some("regression") => "Heat pumps by lift",
            Some("part-load" | "running" | "reversible") => "Heat pumps in part load",
            _ => "Heat pump seasons",
        },
        id: format!("heat-pumps.{id}"),
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(Data::read(TOLERANCES).number("closed_form")),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}

fn season(climate: &str) -> Season {
    let design_c = Data::read(HEAT_PUMP).number(&format!("en14825.climate.{climate}.T_design_C"));
    let of = |r: &Row| (r.number("T_bin_C"), r.number("hours"));
    let bins = rows(BINS).iter().filter(|r| r.text("climate") == climate).map(of).collect();
    Season { design_c, bins }
}

fn seasons() -> Vec<Check> {
    let data = Data::read(HEAT_PUMP);
    let mut all = Vec::new();
    for climate in ["average", "warmer", "colder"] {
        let table = data.at(&format!("en14825.climate.{climate}"));
        all.push(check(
            format!("bins.{climate}"),
            format!("hours of the {climate} heating season"),
            "h",
            table.number("total_hours"),
            Kind::PublishedMemory,
            BINS_SOURCE,
            move |nudge| Ok(season(climate).hours() * nudge),
        ));
        all.push(check(
            format!("full-load.{climate}"),
            format!("hours at full load of the {climate} season"),
            "h",
            table.number("equivalent_full_load_hours_from_bins"),
            Kind::ClosedForm,
            BINS_SOURCE,
            move |nudge| {
                let mut s = season(climate);
                s.design_c *= nudge;
                Ok(s.full_load_hours())
            },
        ));
        let published = check(
            format!("full-load-published.{climate}"),
            format!("hours at full load of the {climate} season, as printed"),
            "h",
            data.number(&format!("en14825.hhe_published_h.{climate}")),
            Kind::PublishedMemory,
            "EN 14825 equivalent hours, from memory",
            move |nudge| {
                let mut s = season(climate);
                s.design_c *= nudge;
                Ok(s.full_load_hours())
            },
        );
        // Printed without decimals.
        all.push(Check { tolerance: Tolerance::Absolute(0.5), ..published });
    }
    all
}

fn scop() -> Vec<Check> {
    let mut all = Vec::new();
    for (i, case) in Data::read(HEAT_PUMP).list("scop_case.case").into_iter().enumerate() {
        let climate = case.text("climate");
        for (key, unit, what) in [
            ("SCOP_on", "–", "seasonal ratio"),
            ("E_kWh", "kWh", "electricity"),
            ("E_backup_kWh", "kWh", "backup"),
        ] {
            let reference = case.number(key);
            if reference == 0.0 {
                continue;
            }
            let (case, climate) = (case.clone(), climate.clone());
            all.push(check(
                format!("season.{}.{key}", i + 1),
                format!("{what} of heating season {} ({climate})", i + 1),
                unit,
                reference,
                Kind::ClosedForm,
                "bin sum with a linear capacity and a fixed share of the reversible machine, derived",
                move |nudge| {
                    let season = season(&climate);
                    let design = case.number("P_design_kW") * nudge;
                    let sum = heating_season(&season, design, |outdoor, load| {
                        machine(&case, &season, outdoor, load)
                    });
                    Ok(match key {
                        "SCOP_on" => sum.ratio(),
                        "E_kWh" => sum.electricity,
                        _ => sum.backup,
                    })
                },
            ));
        }
    }
    all
}

/// Heat and power of the cases' simple machine, kW.
fn machine(case: &Data, season: &Season, outdoor_c: f64, load: f64) -> (f64, f64) {
    if outdoor_c < case.number("T_operation_limit_C") {
        return (0.0, 0.0);
    }
    let capacity = case.number("cap_at_7C_kW") + case.number("cap_slope_kW_K") * (outdoor_c - 7.0);
    let (warm, cold) = (case.number("T_flow_at_16C_C"), case.number("T_flow_at_design_C"));
    let flow_c = warm + (cold - warm) * season.part_load(outdoor_c);
    let ratio = case.number("carnot_fraction") * reversible_heating(outdoor_c, flow_c);
    let heat = load.min(capacity);
    (heat, heat / ratio)
}

fn regressions() -> Vec<Check> {
    let columns = [
        ("staffell_ashp", Regression::StaffellAir),
        ("staffell_gshp", Regression::StaffellGround),
        ("ruhnau_ashp", Regression::RuhnauAir),
        ("ruhnau_gshp", Regression::RuhnauGround),
        ("ruhnau_wshp", Regression::RuhnauWater),
    ];
    let mut all = Vec::new();
    for case in Data::read(HEAT_PUMP).list("cop_regressions.case") {
        let lift = case.number("dT_K");
        // A table of 25: every second lift has all five.
        let told = if (lift / 10.0).fract() == 0.0 { &columns[..] } else { &[] };
        for &(column, which) in told {
            all.push(check(
                format!("regression.{column}.{lift}"),
                format!("{} at {lift} K", column.replace('_', " ")),
                "–",
                case.number(column),
                Kind::PublishedSeen,
                "regressions of Staffell 2012 and Ruhnau 2019, seen second-hand",
                move |nudge| Ok(ratio(which, lift * nudge)),
            ));
        }
        all.push(check(
            format!("reversible.{lift}"),
            format!("reversible machine over {lift} K up to 45 °C"),
            "–",
            case.number("carnot_at_Tsink45"),
            Kind::ClosedForm,
            "T_hot/(T_hot − T_cold)",
            move |nudge| Ok(reversible_heating(45.0 - lift * nudge, 45.0)),
        ));
    }
    all
}

fn part_load() -> Vec<Check> {
    let row = |r: Row| {
        let load = r.number("PLR");
        let factor = check(
            format!("part-load.{load}"),
            format!("efficiency at {load} of full load over that at full load"),
            "–",
            r.number("CDF"),
            Kind::PublishedMemory,
            "degradation 1 − 0.229 (1 − PLR) of the cooling-equipment cases, from memory",
            move |nudge| Ok(cycling_factor(load, 0.229 * nudge)),
        );
        let running = check(
            format!("running.{load}"),
            format!("running share at {load} of full load"),
            "–",
            r.number("runtime_fraction"),
            Kind::ClosedForm,
            "PLR over its degradation factor",
            move |nudge| Ok(load / cycling_factor(load, 0.229 * nudge)),
        );
        if load < 1.0 { vec![factor, running] } else { Vec::new() }
    };
    rows(PART_LOAD).into_iter().flat_map(row).collect()
}

fn cooling_cases() -> Vec<Check> {
    let tolerance = Data::read(TOLERANCES).number("dx_cop");
    let of = |row: Row| {
        let case = row.text("case").to_owned();
        let gap = match case.as_str() {
            "E130" => Some(
                "three per cent high at a twentieth of full load in great heat: the dry coil's capacity is one straight line in the law, and falls faster",
            ),
            "E165" => Some(
                "2.05 per cent low: wet coils at great heat keep more of their efficiency than one approach temperature allows",
            ),
            _ => None,
        };
        let base = check(
            format!("cooling-case.{case}"),
            format!("ratio of cold to electricity, case {case}"),
            "–",
            row.number("COP"),
            Kind::PublishedMemory,
            CASES_SOURCE,
            move |nudge| cooling(&row, nudge),
        );
        Check { tolerance: Tolerance::Relative(tolerance), known_gap: gap, ..base }
    };
    rows(CASES).into_iter().map(of).collect()
}

fn cooling(row: &Row, nudge: f64) -> Result<f64, String> {
    let fit = Data::read(FIT);
    let law = SecondLaw {
        mode: Mode::Cooling,
        efficiency: fit.number("efficiency") * nudge,
        efficiency_per_k: 0.0,
        reference_outdoor_c: fit.number("reference_outdoor_c"),
        reference_coil_c: fit.number("reference_coil_c"),
        outdoor_approach_k: fit.number("outdoor_approach_k"),
        room_w_k: fit.number("room_w_k"),
        capacity_w: fit.number("capacity_w"),
        per_outdoor_k: fit.number("per_outdoor_k"),
        per_coil_k: fit.number("per_coil_k"),
    };
    // One speed: it cycles below full load.
    let limits = Limits { least_share: 1.0, degradation: 0.229, standby_w: 0.0, ..Limits::default() };
    let machine = HeatPump { mode: Mode::Cooling, figures: Figures::Law(law), limits };
    let load = row.number("zone_load_kWh_from_balance") / 672.0 * 1000.0;
    let sensible = (load - row.number("latent_gain_W")) / load;
    let run = machine.meet(load, row.number("outdoor_drybulb_C"), row.number("indoor_drybulb_C"), sensible);
    Ok(run.heat_w / run.power_w)
}
