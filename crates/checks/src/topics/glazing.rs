//! Centre of glass, windows, and sun through panes by angle.

use crate::reference::{Data, rows};
use crate::{Check, Compute, Kind, Tolerance};
use fabric::glazing::gas::Gas;
use fabric::glazing::optics::{PaneOptics, StackOptics, hemispherical, stack};
use fabric::glazing::{Conditions, Gap, Glazing, Pane};

const DATA: &str = include_str!("../../../../reference/fabric/glazing.toml");
const ANGULAR: &str = include_str!("../../../../reference/building/bestest_window_angular.csv");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = centre(&data);
    checks.extend(points(&data));
    checks.extend(table(&data));
    checks.extend(angular());
    checks
}

fn check(
    id: String,
    topic: &'static str,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("glazing.{id}"),
        topic,
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Absolute(tolerance),
        kind,
        source: source.to_owned(),
        seen: kind == Kind::PublishedSeen,
        known_gap: None,
        compute,
    }
}

fn gas(name: &str) -> Gas {
    match name {
        "argon" => Gas::Argon,
        "krypton" => Gas::Krypton,
        "xenon" => Gas::Xenon,
        "sf6" => Gas::Sf6,
        _ => Gas::Air,
    }
}

fn u(glazing: &Glazing, conditions: &Conditions) -> Result<f64, String> {
    glazing.centre(conditions).map(|c| c.u_w_m2k).map_err(|e| e.to_string())
}

/// Glazing of a case; the nudge scales every gap.
fn glazing(case: &Data, nudge: f64) -> Glazing {
    let gaps = case.list("gaps");
    Glazing {
        panes: case.numbers("panes_mm").into_iter().map(|mm| Pane::float(mm / 1000.0)).collect(),
        gaps: gaps
            .iter()
            .map(|g| Gap {
                width_m: g.number("width_mm") / 1000.0,
                gas: gas(&g.text("gas")),
                fraction: g.number("fraction"),
                emissivities: (g.number("e1") * nudge.min(1.15), g.number("e2")),
            })
            .collect(),
        tilt_deg: if case.text("orientation").starts_with("horizontal") { 0.0 } else { 90.0 },
    }
}

fn centre(data: &Data) -> Vec<Check> {
    data.list("glazing_case")
        .into_iter()
        .map(|case| {
            let c = case.clone();
            check(
                format!("centre.{}", case.text("id")),
                "Glazing EN 673",
                format!("centre of glass: {}", case.text("id")),
                "W/(m²·K)",
                case.number("U"),
                // Five printed decimals; the file's own 0.0005 would hide a wrong table row.
                2e-5,
                Kind::ClosedForm,
                "formulas of EN 673:2011 (memory), worked out apart",
                Box::new(move |nudge| {
                    let conditions =
                        if c.has("standard") { Conditions::ISO_10292 } else { Conditions::EN_673 };
                    u(&glazing(&c, nudge), &conditions)
                }),
            )
        })
        .collect()
}

fn points(data: &Data) -> Vec<Check> {
    let gap = |emissivity: f64, gas: Gas| Gap {
        width_m: 0.016,
        gas,
        fraction: if gas == Gas::Air { 1.0 } else { 0.9 },
        emissivities: (emissivity, 0.837),
    };
    let pane = |mm: f64| Pane::float(mm / 1000.0);
    let units = [
        Glazing { panes: vec![pane(6.0)], gaps: vec![], tilt_deg: 90.0 },
        Glazing { panes: vec![pane(4.0); 2], gaps: vec![gap(0.837, Gas::Air)], tilt_deg: 90.0 },
        Glazing { panes: vec![pane(4.0); 2], gaps: vec![gap(0.03, Gas::Argon)], tilt_deg: 90.0 },
        Glazing { panes: vec![pane(4.0); 3], gaps: vec![gap(0.03, Gas::Argon); 2], tilt_deg: 90.0 },
    ];
    data.list("published_points.rows")
        .into_iter()
        .zip(units)
        .enumerate()
        .map(|(i, (row, unit))| {
            let (low, high) = if row.has("U") {
                (row.number("U"), row.number("U"))
            } else {
                (row.number("U_low"), row.number("U_high"))
            };
            check(
                format!("guide.{i}"),
                "Glazing EN 673",
                format!("{}, as an engineering guide gives it", row.text("glazing")),
                "W/(m²·K)",
                0.5 * (low + high),
                // Given to one decimal, or as a range of two.
                data.number("published_points.tolerance") + 0.5 * (high - low),
                Kind::PublishedSeen,
                "engineering guide oikodomisis-front.pages.dev (glazing Ug)",
                Box::new(move |nudge| {
                    let conditions = Conditions {
                        outside_w_m2k: 25.0 * nudge,
                        inside_w_m2k: 7.7 * nudge,
                        ..Conditions::EN_673
                    };
                    let mut unit = unit.clone();
                    unit.gaps.iter_mut().for_each(|g| g.width_m /= nudge.max(1.0));
                    u(&unit, &conditions)
                }),
            )
        })
        .collect()
}

fn table(data: &Data) -> Vec<Check> {
    let all = data.list("iso10077_1_table.rows");
    [2_usize, 8, 13, 22, 27, 32]
        .into_iter()
        .enumerate()
        .filter_map(|(i, k)| all.get(k).map(|row| (i % 3, row.clone())))
        .map(|(column, row)| {
            let gas = [Gas::Air, Gas::Argon, Gas::Krypton][column];
            let (panes, e, gap_mm) =
                (row.number("panes") as usize, row.number("emissivity"), row.number("gap_mm"));
            check(
                format!("table.{panes}-{e}-{gap_mm}"),
                "Glazing EN 673",
                format!("{panes} panes, coating {e}, gap {gap_mm} mm, {gas:?}"),
                "W/(m²·K)",
                row.number(&format!("table_air_argon_krypton.{column}")),
                data.number("iso10077_1_table.tolerance"),
                Kind::PublishedMemory,
                "ISO 10077-1:2006 Table C.2",
                Box::new(move |nudge| {
                    let coated = if e > 0.8 { 0.837 } else { e };
                    let one = Gap {
                        width_m: gap_mm / 1000.0 / nudge,
                        gas,
                        fraction: if gas == Gas::Air { 1.0 } else { 0.9 },
                        emissivities: (coated, 0.837),
                    };
                    let unit = Glazing {
                        panes: vec![Pane::float(0.004); panes],
                        gaps: vec![one; panes - 1],
                        tilt_deg: 90.0,
                    };
                    u(&unit, &Conditions::EN_673)
                }),
            )
        })
        .collect()
}

type Pick = fn(&StackOptics) -> f64;

fn angular() -> Vec<Check> {
    let picks: [(&str, Pick); 4] = [
        ("transmittance", |o| o.transmitted),
        ("reflectance", |o| o.reflected),
        ("abs_outer", |o| o.absorbed.first().copied().unwrap_or(f64::NAN)),
        ("abs_inner", |o| o.absorbed.get(1).copied().unwrap_or(f64::NAN)),
    ];
    let panes =
        |nudge: f64| [PaneOptics { index: 1.526, extinction_per_m: 19.6 * nudge, thickness_m: 0.003_175 }; 2];
    let mut checks = Vec::new();
    for (k, row) in rows(ANGULAR).into_iter().enumerate() {
        let angle = row.text("incidence_deg").to_owned();
        let wanted: &[usize] = match angle.as_str() {
            "0" | "60" | "80" => &[0, 1, 2],
            "hemispherical" => &[0, 2, 3],
            _ => &[],
        };
        for &w in wanted {
            let (column, pick) = picks[w];
            let degrees: Option<f64> = angle.parse().ok();
            checks.push(check(
                format!("angle.{angle}.{column}"),
                "Sun through panes",
                format!("double clear glazing, {column} at {angle} (row {k})"),
                "",
                row.number(column),
                // Five printed decimals; the hemispherical mean by another rule of quadrature.
                if degrees.is_some() { 1e-5 } else { 2e-4 },
                Kind::ClosedForm,
                "Fresnel and Bouguer, n = 1.526, 19.6 1/m, 3.175 mm, another program",
                Box::new(move |nudge| {
                    let at = |deg: f64| pick(&stack(&panes(nudge), deg));
                    Ok(degrees.map_or_else(|| hemispherical(at), at))
                }),
            ));
        }
    }
    checks
}
