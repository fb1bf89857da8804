//! Electricity and its weighting: solar modules and inverters, primary energy, recovery fitted to a test report.

use plant::exchanger::{AIR_J_M3K, Exchanger, Rated, TestPoint};
use plant::primary::{Flow, Weighted, find, weigh};
use plant::solar::{Inverter, Module, cell_c, incidence_share};

use crate::reference::{Data, Row, rows};
use crate::{Check, Kind, Tolerance};

const SOLAR: &str = include_str!("../../../../reference/plant/solar_electricity.csv");
const CASES: &str = include_str!("../../../../reference/plant/primary_energy_cases.toml");
const FACTORS: &str = include_str!("../../../../reference/plant/primary_energy_factors.csv");
const RECOVERY: &str = include_str!("../../../../reference/air/heat_recovery.toml");
const TOLERANCES: &str = include_str!("../../../../reference/plant/tolerances.toml");

pub(crate) fn checks() -> Vec<Check> {
    let mut all = solar();
    all.extend(primary());
    all.extend(factors());
    all.extend(imbalance());
    all
}

fn check(
    id: String,
    topic: &'static str,
    quantity: String,
    unit: &'static str,
    reference: f64,
    kind: Kind,
    source: &str,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    let key = if kind == Kind::IndependentLibrary { "library" } else { "closed_form" };
    Check {
        id,
        topic,
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(Data::read(TOLERANCES).number(key)),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}

fn solar() -> Vec<Check> {
    let library = "pvlib 0.16.1, reference/plant/make_solar.py";
    let of = |r: Row| {
        let (a, b, c) = (r.number("a"), r.number("b"), r.number("c"));
        let what = r.text("quantity").to_owned();
        let (words, unit) = match what.as_str() {
            "module" => (format!("greatest power at {a} W/m², cells at {b} °C"), "W"),
            "cell" => (format!("cells at {a} W/m², air {b} °C, wind {c} m/s"), "°C"),
            "inverter" => (format!("alternating power from {a} W direct"), "W"),
            _ => (format!("light let in at {a} degrees"), "–"),
        };
        check(
            format!("solar.{what}.{a}.{b}.{c}").replace(".NaN", ""),
            if what == "module" { "Solar modules" } else { "Solar cells and inverters" },
            words,
            unit,
            r.number("value"),
            Kind::IndependentLibrary,
            library,
            move |nudge| {
                Ok(match what.as_str() {
                    "module" => Module::USUAL.greatest_w(a * nudge, b),
                    "cell" => cell_c(a * nudge, b, c),
                    "inverter" => inverter(nudge).ac_w(a),
                    _ => incidence_share((a * nudge).to_radians().cos(), 0.05),
                })
            },
        )
    };
    // At normal incidence nothing moves when the angle is scaled: zero stays zero.
    rows(SOLAR)
        .into_iter()
        .filter(|r| !(r.text("quantity") == "incidence" && r.number("a") == 0.0))
        .map(of)
        .collect()
}

/// The script's inverter, its powers scaled.
fn inverter(scale: f64) -> Inverter {
    Inverter {
        ac_w: 5000.0 * scale,
        dc_w: 5_181.347_150_259_068,
        start_w: 30.0,
        curvature_per_w: -3.0e-6,
        night_w: 2.5 * scale,
    }
}

fn weighted(nudge: f64, k_exp: f64) -> Result<Weighted, String> {
    let case = Data::read(CASES).at("case.0");
    let flow = |carrier: &str, key: &str| -> Result<Flow, String> {
        let f = find("ISO 52000-1", carrier).ok_or_else(|| format!("no factor for {carrier}"))?;
        let need = |x: Option<f64>| x.ok_or_else(|| format!("no factor for {carrier}"));
        Ok(Flow {
            energy: case.number(key),
            not_renewable: need(f.not_renewable)?,
            renewable: need(f.renewable)?,
            co2_g_kwh: need(f.co2_g_kwh)?,
        })
    };
    let mut gas = flow("fuel gaseous fossil", "delivered_gas_kWh")?;
    gas.energy *= nudge;
    let mut grid = flow("electricity grid", "delivered_el_kWh")?;
    grid.energy *= nudge;
    let own = flow("solar PV or thermal on site", "pv_self_kWh")?;
    let sold = flow("electricity exported", "pv_exported_kWh")?;
    Ok(weigh(&[gas, grid, own], &[sold], k_exp))
}

fn primary() -> Vec<Check> {
    let case = Data::read(CASES).at("case.0");
    type Pick = fn(&Weighted) -> f64;
    let rows: [(&str, &str, &'static str, f64, Pick); 6] = [
        ("E_Pnren_kexp0_kWh", "primary energy not renewable, export not counted", "kWh", 0.0, |w| {
            w.not_renewable
        }),
        ("E_Pnren_kexp1_kWh", "primary energy not renewable, export counted", "kWh", 1.0, |w| {
            w.not_renewable
        }),
        ("E_Pren_kexp0_kWh", "primary energy renewable, export not counted", "kWh", 0.0, |w| w.renewable),
        ("E_Ptot_kexp0_kWh", "primary energy in all, export not counted", "kWh", 0.0, Weighted::total),
        ("CO2_kexp0_kg", "CO2, export not counted", "kg", 0.0, |w| w.co2 * 1e-3),
        ("CO2_kexp1_kg", "CO2, export counted", "kg", 1.0, |w| w.co2 * 1e-3),
    ];
    rows.into_iter()
        .map(|(key, words, unit, k_exp, pick)| {
            check(
                format!("primary.{key}"),
                "Primary energy",
                words.to_owned(),
                unit,
                case.number(key),
                Kind::ClosedForm,
                "worked case by ISO 52000-1 default factors (from memory)",
                move |nudge| Ok(pick(&weighted(nudge, k_exp)?)),
            )
        })
        .collect()
}

/// The built-in factors against the reference table, where a set names not renewable and total.
fn factors() -> Vec<Check> {
    rows(FACTORS)
        .into_iter()
        .filter(|r| r.text("source").starts_with("ISO 52000-1") && r.number("f_tot") > 0.0)
        .map(|r| {
            let carrier = r.text("carrier").to_owned();
            check(
                format!("primary.factor.{}", carrier.replace(' ', "-")),
                "Primary energy",
                format!("factor in all of {carrier}"),
                "–",
                r.number("f_tot"),
                Kind::PublishedMemory,
                "ISO 52000-1:2017 Annex B, from memory",
                move |nudge| {
                    let f = find("ISO 52000-1", &carrier).ok_or("no such carrier")?;
                    let unit = |x: Option<f64>| x.ok_or_else(|| "no factor".to_owned());
                    let flow = Flow {
                        energy: nudge,
                        not_renewable: unit(f.not_renewable)?,
                        renewable: unit(f.renewable)?,
                        co2_g_kwh: 0.0,
                    };
                    Ok(weigh(&[flow], &[], 0.0).total())
                },
            )
        })
        .collect()
}

/// An exchanger fitted to one balanced point, asked at unequal flows.
fn imbalance() -> Vec<Check> {
    let data = Data::read(RECOVERY);
    let mut all = Vec::new();
    for case in data.list("unbalanced_case") {
        let name = case.text("name").replace('_', "-");
        let source =
            "effectiveness–NTU relation with unequal streams; the law fitted to that conductance at balance";
        all.push(check(
            format!("recovery.fitted.{name}"),
            "Heat recovery",
            format!("supply temperature by a unit fitted at balanced flow, {}", name.replace('-', " ")),
            "°C",
            case.number("T_supply_C"),
            Kind::ClosedForm,
            source,
            move |nudge| {
                let cp = case.number("UA_W_K")
                    / case.number("NTU")
                    / case.number("m_sup_kg_s").min(case.number("m_ext_kg_s"));
                let (supply, extract) =
                    (case.number("m_sup_kg_s") * cp / AIR_J_M3K, case.number("m_ext_kg_s") * cp / AIR_J_M3K);
                let (outdoor, room) = (case.number("T_out_C"), case.number("T_ext_C"));
                // Balanced at the geometric mean, where the conductance is that of the case.
                let mean = (supply * extract).sqrt();
                let units = case.number("UA_W_K") * nudge / (mean * AIR_J_M3K);
                let point = TestPoint {
                    supply_m3_s: mean,
                    extract_m3_s: mean,
                    outdoor_c: outdoor,
                    extract_c: room,
                    ratio: units / (1.0 + units),
                    rated: Rated::SupplyBare,
                    fans_w: 0.0,
                    carry_over: 0.0,
                };
                let unit = Exchanger::fit(&[point]).map_err(|e| e.to_string())?;
                Ok(outdoor + unit.supply_ratio(supply, extract, 0.5 * (outdoor + room)) * (room - outdoor))
            },
        ));
    }
    all
}
