//! Ducts, fans and heat recovery.

use crate::reference::{Data, rows};
use crate::{Check, Compute, Kind, Tolerance};
use air::duct::{Air, Section, drop, equal_friction_diameter_m, hydraulic_diameter_m};
use air::recovery;

const FRICTION: &str = include_str!("../../../../reference/air/ducts_friction.csv");
const DUCTS: &str = include_str!("../../../../reference/air/ducts_fans.toml");
const RECOVERY: &str = include_str!("../../../../reference/air/heat_recovery.toml");
const EFFECTIVENESS: &str = include_str!("../../../../reference/air/heat_recovery_ntu.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = friction();
    checks.extend(path_and_diameters());
    checks.extend(effectiveness());
    checks.extend(unbalanced());
    checks
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
    Check {
        id,
        topic,
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(1e-9),
        kind,
        source: source.to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn table_air() -> Air {
    let data = Data::read(DUCTS);
    Air { density_kg_m3: data.number("air.rho"), viscosity_pa_s: data.number("air.mu") }
}

/// Every fifth row of the friction table: sizes, roughness and flows all vary.
fn friction() -> Vec<Check> {
    let air = table_air();
    let row_check = |row: crate::reference::Row| {
        let (d, rough, q) = (row.number("D_m"), row.number("roughness_mm"), row.number("Q_m3h"));
        check(
            format!("ducts.friction.{d}m-{rough:.2}mm-{q}m3h"),
            "Ducts and fans",
            format!("friction of a {d} m duct, roughness {rough:.2} mm, {q} m³/h"),
            "Pa/m",
            row.number("dp_per_m_Pa"),
            Kind::IndependentLibrary,
            "exact Colebrook solution of a general fluids library",
            move |nudge| {
                let section =
                    Section { diameter_m: d, length_m: 1.0, local_loss: 0.0, roughness_m: rough / 1000.0 };
                drop(section, q * nudge / 3600.0, air)
                    .map(|x| x.friction_pa)
                    .ok_or_else(|| "no root".to_owned())
            },
        )
    };
    rows(FRICTION).into_iter().step_by(5).map(row_check).collect()
}

fn path_and_diameters() -> Vec<Check> {
    let data = Data::read(DUCTS);
    let air = table_air();
    let path = data.at("critical_path");
    let mut checks = vec![check(
        "ducts.path".to_owned(),
        "Ducts and fans",
        "pressure drop along four sections with fittings".to_owned(),
        "Pa",
        path.number("dp_total_Pa"),
        Kind::IndependentLibrary,
        "general fluids library, sections summed",
        move |nudge| {
            let mut total = 0.0;
            for s in path.list("section") {
                let section = Section {
                    diameter_m: s.number("D_m"),
                    length_m: s.number("L_m"),
                    local_loss: s.number("zeta"),
                    roughness_m: s.number("roughness_mm") / 1000.0,
                };
                let d = drop(section, s.number("Q_m3h") * nudge / 3600.0, air).ok_or("no root")?;
                total += d.friction_pa + d.local_pa;
            }
            Ok(total)
        },
    )];
    for case in data.list("rectangular_equivalent.case") {
        for (key, hydraulic) in [("D_equiv_huebscher_m", false), ("D_hydraulic_m", true)] {
            let (a, b) = (case.number("a_m"), case.number("b_m"));
            let what = if hydraulic { "hydraulic" } else { "equal-friction" };
            checks.push(check(
                format!("ducts.diameter.{a}x{b}.{what}"),
                "Ducts and fans",
                format!("{what} diameter of a {a} × {b} m duct"),
                "m",
                case.number(key),
                if hydraulic { Kind::ClosedForm } else { Kind::PublishedMemory },
                if hydraulic { "definition" } else { "Huebscher 1948, from memory" },
                move |nudge| {
                    Ok(if hydraulic {
                        hydraulic_diameter_m(a * nudge, b)
                    } else {
                        equal_friction_diameter_m(a * nudge, b)
                    })
                },
            ));
        }
    }
    checks
}

fn effectiveness() -> Vec<Check> {
    rows(EFFECTIVENESS)
        .into_iter()
        .step_by(9)
        .take(6)
        .map(|row| {
            let (n, c) = (row.number("NTU_min"), row.number("C_ratio"));
            check(
                format!("recovery.counterflow.{n}-{c}"),
                "Heat recovery",
                format!("counterflow effectiveness, {n} transfer units, capacity ratio {c}"),
                "–",
                row.number("eff_counterflow"),
                Kind::ClosedForm,
                "effectiveness–NTU relation",
                move |nudge| Ok(recovery::counterflow(n * nudge, c)),
            )
        })
        .collect()
}

fn unbalanced() -> Vec<Check> {
    let data = Data::read(RECOVERY);
    let mut checks = Vec::new();
    for case in data.list("unbalanced_case") {
        let name = case.text("name").replace('_', "-");
        checks.push(check(
            format!("recovery.unbalanced.{name}"),
            "Heat recovery",
            format!("supply temperature of a recovery unit, {}", case.text("name").replace('_', " ")),
            "°C",
            case.number("T_supply_C"),
            Kind::ClosedForm,
            "effectiveness–NTU relation with unequal streams",
            move |nudge| {
                // Specific heat of moist room air as the reference cases take it, J/(kg·K).
                let cp = case.number("UA_W_K")
                    / case.number("NTU")
                    / case.number("m_sup_kg_s").min(case.number("m_ext_kg_s"));
                let x = recovery::unbalanced(
                    case.number("UA_W_K") * nudge,
                    case.number("m_sup_kg_s") * cp,
                    case.number("m_ext_kg_s") * cp,
                    case.number("T_out_C"),
                    case.number("T_ext_C"),
                );
                Ok(x.supply_c)
            },
        ));
    }
    for (i, case) in data.list("eta_eff_case").into_iter().enumerate() {
        checks.push(check(
            format!("recovery.exhaust-side.{}", i + 1),
            "Heat recovery",
            format!("exhaust-side ratio with fan heat, case {}", i + 1),
            "–",
            case.number("eta_eff"),
            Kind::PublishedMemory,
            "certification-style definition, from memory",
            move |nudge| {
                Ok(recovery::exhaust_side_with_fans(
                    case.number("T_ODA_C"),
                    case.number("T_ETA_C"),
                    case.number("T_EHA_C"),
                    case.number("P_el_W") * nudge,
                    case.number("q_m3h") / 3600.0,
                    case.number("rho_cp_J_m3K"),
                ))
            },
        ));
    }
    checks
}
