//! Heat to the ground.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::ground::hourly;
use fabric::ground::monthly::YearlyTemperature;
use fabric::ground::{
    Basement, EdgeInsulation, EdgePlace, FloorPlan, Slab, Soil, SuspendedFloor, UnheatedBasement,
};
use fabric::transient::{ConductionLayer, ModalElement, Tolerance as Reduction, reduce};

const DATA: &str = include_str!("../../../../reference/fabric/iso13370_ground.toml");

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = published(&data);
    checks.extend(slabs(&data));
    checks.extend(others(&data));
    checks.extend(periodic(&data));
    checks.push(year_by_hours(&data));
    checks
}

/// The element that stands for the ground, stepped hour by hour until its years repeat.
fn year_by_hours(data: &Data) -> Check {
    let case = data.at("slab_cases.cases.1");
    check(
        "hourly.year".into(),
        "heat of a year through the stand-in of an insulated slab, stepped by hours".into(),
        "kWh/m²",
        case.number("U0") * 5.0 * 8.76,
        // What the year engine is asked for; the stand-in itself is exact, a quarter of a per mille is the sixth year's.
        Tolerance::Relative(0.01),
        Kind::ClosedForm,
        "U of the case times 5 K and 8760 h",
        Box::new(move |nudge| {
            let slab = Slab {
                plan: plan(&case),
                soil: soil(case.number("soil")),
                floor_m2k_w: case.number("Rf"),
                edge: None,
            };
            let transfer = slab.transfer().map_err(text)?;
            let outside = YearlyTemperature { mean_c: 15.0, swing_k: 11.0, coldest_month: 1.2 };
            let floor = [ConductionLayer::solid(0.1, 0.04, 30.0, 1450.0)];
            let inside = YearlyTemperature::constant(20.0);
            let ground =
                hourly::floor_element(&transfer, &floor, &slab.soil, &inside, &outside).map_err(text)?;
            let modes = reduce(&ground.layers, &Reduction::default()).map_err(text)?;
            Ok(sixth_year_kwh_m2(&ground, &modes, 20.0 * nudge))
        }),
    )
}

fn sixth_year_kwh_m2(element: &hourly::GroundElement, modes: &ModalElement, inside_c: f64) -> f64 {
    let dt = 3600.0;
    let steps: Vec<_> = modes.modes.iter().map(|m| m.implicit_step(dt)).collect();
    let gain = modes.modes.iter().zip(&steps).fold(0.0, |sum, (m, s)| sum + m.inside * m.inside * s.gain);
    let (k, r) = (modes.conductance_w_m2k, modes.inside_residual / dt);
    let mut z = vec![0.0; steps.len()];
    let (mut surface, mut ground) = (inside_c, element.ground.at_hour(0.0));
    let mut heat_wh = 0.0;
    for hour in 1..=6 * 8760_u32 {
        let next = element.ground.at_hour(f64::from(hour));
        let mut known = modes.cross_residual * (next - ground) / dt;
        for ((m, s), z) in modes.modes.iter().zip(&steps).zip(&z) {
            known += m.inside * (s.decay * z + s.gain * m.outside * (next - ground));
        }
        // The surface takes from the film what it gives to the floor.
        let film = 1.0 / element.rsi_m2k_w;
        let new = (inside_c * film + k * next + (gain + r) * surface - known) / (film + k + gain + r);
        for ((m, s), z) in modes.modes.iter().zip(&steps).zip(&mut z) {
            *z = s.decay * *z + s.gain * (m.inside * (new - surface) + m.outside * (next - ground));
        }
        (surface, ground) = (new, next);
        if hour > 5 * 8760 {
            heat_wh += (inside_c - new) * film;
        }
    }
    heat_wh / 1000.0
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("iso13370.{id}"),
        topic: "ISO 13370",
        quantity,
        unit,
        reference,
        tolerance,
        kind,
        source: source.to_owned(),
        seen: kind == Kind::PublishedSeen,
        known_gap: None,
        compute,
    }
}

fn text(e: impl std::fmt::Display) -> String {
    e.to_string()
}

fn soil(conductivity_w_mk: f64) -> Soil {
    Soil { conductivity_w_mk, heat_capacity_j_m3k: if conductivity_w_mk < 1.75 { 3.0e6 } else { 2.0e6 } }
}

fn plan(c: &Data) -> FloorPlan {
    FloorPlan { area_m2: c.number("A"), perimeter_m: c.number("P"), wall_thickness_m: c.number("w") }
}

/// The recalled table of ground floors on clay, and the seen handbook table.
fn published(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    let table = data.at("slab_table");
    for (i, row) in table.list("rows").into_iter().enumerate().filter(|(i, _)| i % 5 == 1) {
        let ratio = row.number("P_over_A");
        let slab = move |nudge: f64, floor_m2k_w: f64| {
            let plan = FloorPlan { area_m2: 100.0, perimeter_m: 100.0 * ratio, wall_thickness_m: 0.3 };
            let slab = Slab { plan, soil: soil(1.5 * nudge), floor_m2k_w, edge: None };
            slab.transfer().map(|t| t.u_w_m2k).map_err(text)
        };
        checks.push(check(
            format!("table.bare-{i}"),
            format!("bare slab on clay, P/A = {ratio}"),
            "W/(m²·K)",
            row.number("published_U_R0"),
            Tolerance::Absolute(table.number("tolerance_published")),
            Kind::PublishedMemory,
            "ground-floor table of UK government guidance (Approved Document L 2002, Appendix C)",
            Box::new(move |nudge| slab(nudge, 0.0)),
        ));
    }
    let older = data.at("older_table_four_edges");
    for i in [2_usize, 6, 8] {
        let row = older.at(&format!("rows.{i}"));
        let (l, b) = (row.number("length"), row.number("breadth"));
        checks.push(check(
            format!("handbook.{l}x{b}"),
            format!("solid floor {l} m × {b} m, four exposed edges"),
            "W/(m²·K)",
            row.number("U"),
            Tolerance::Relative(older.number("tolerance_percent") / 100.0),
            Kind::PublishedSeen,
            "national design handbook on passive solar heating, citing a 1977 services guide (magnitude only)",
            Box::new(move |nudge| {
                let plan =
                    FloorPlan { area_m2: l * b, perimeter_m: 2.0 * (l + b), wall_thickness_m: 0.3 };
                let slab = Slab { plan, soil: soil(1.4 * nudge), floor_m2k_w: 0.0, edge: None };
                slab.transfer().map(|t| t.u_w_m2k).map_err(text)
            }),
        ));
    }
    checks
}

fn slabs(data: &Data) -> Vec<Check> {
    let tolerance = data.number("slab_cases.tolerance_U");
    data.list("slab_cases.cases")
        .into_iter()
        .map(|case| {
            let c = case.clone();
            let key = if case.has("U") { "U" } else { "U0" };
            check(
                format!("slab.{}", case.text("id")),
                format!("slab: {}", case.text("id")),
                "W/(m²·K)",
                case.number(key),
                Tolerance::Absolute(tolerance),
                Kind::ClosedForm,
                "formulas of ISO 13370:2007 clause 9.1, Annex B (memory), worked out apart",
                Box::new(move |nudge| {
                    let edge = match c.text("edge").as_str() {
                        "" => None,
                        place => Some(EdgeInsulation {
                            place: if place == "vertical" {
                                EdgePlace::Vertical
                            } else {
                                EdgePlace::Horizontal
                            },
                            reach_m: c.number("D"),
                            resistance_m2k_w: c.number("Rn"),
                            thickness_m: c.number("dn"),
                        }),
                    };
                    let soil = soil(c.number("soil") * nudge);
                    let slab = Slab { plan: plan(&c), soil, floor_m2k_w: c.number("Rf"), edge };
                    slab.transfer().map(|t| t.u_w_m2k).map_err(text)
                }),
            )
        })
        .collect()
}

fn basement(c: &Data, nudge: f64) -> Basement {
    Basement {
        plan: plan(c),
        soil: soil(c.number("soil") * nudge),
        depth_m: c.number("z"),
        floor_m2k_w: c.number("Rf"),
        wall_m2k_w: c.number("Rw"),
    }
}

fn others(data: &Data) -> Vec<Check> {
    let source = "formulas of ISO 13370:2007 clause 9 (memory), worked out apart";
    let mut checks = Vec::new();
    for case in data.list("suspended_cases.cases") {
        let c = case.clone();
        checks.push(check(
            format!("suspended.{}", case.text("id")),
            format!("floor over a ventilated space: {}", case.text("id")),
            "W/(m²·K)",
            case.number("U"),
            Tolerance::Absolute(data.number("suspended_cases.tolerance_U")),
            Kind::ClosedForm,
            source,
            Box::new(move |nudge| {
                let floor = SuspendedFloor {
                    plan: plan(&c),
                    soil: soil(c.number("soil")),
                    floor_u_w_m2k: c.number("Uf") * nudge,
                    base_m2k_w: c.number("Rg"),
                    height_m: c.number("h"),
                    wall_u_w_m2k: c.number("Uw"),
                    openings_m2_m: c.number("eps"),
                    wind_m_s: c.number("v"),
                    shielding: c.number("fw"),
                };
                floor.transfer().map(|t| t.u_w_m2k).map_err(text)
            }),
        ));
    }
    for case in data.list("basement_cases.cases") {
        let c = case.clone();
        checks.push(check(
            format!("basement.{}", case.text("id")),
            format!("{}: whole coefficient", case.text("id")),
            "W/K",
            case.number("Hg"),
            // Five printed decimals of a sum of about 50.
            Tolerance::Absolute(2e-5),
            Kind::ClosedForm,
            source,
            Box::new(move |nudge| basement(&c, nudge).transfer().map(|t| t.whole.steady_w_k).map_err(text)),
        ));
    }
    let case = data.at("unheated_basement_cases.cases.0");
    let below = data.at("basement_cases.cases.0");
    let c = case.clone();
    checks.push(check(
        "basement.unheated".into(),
        "unheated basement: room to outdoors".into(),
        "W/(m²·K)",
        case.number("U"),
        Tolerance::Absolute(data.number("unheated_basement_cases.tolerance")),
        Kind::ClosedForm,
        source,
        Box::new(move |nudge| {
            let whole = UnheatedBasement {
                basement: basement(&below, 1.0),
                floor_above_u_w_m2k: c.number("Uf") * nudge,
                height_m: c.number("h"),
                wall_above_u_w_m2k: c.number("Uw"),
                air_change_per_h: c.number("n"),
                volume_m3: c.number("V"),
            };
            whole.transfer().map(|t| t.u_w_m2k).map_err(text)
        }),
    ));
    checks
}

fn periodic(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for (i, case) in data.list("periodic_cases.cases").into_iter().enumerate() {
        for (key, what) in [("Hpi", "inside"), ("Hpe", "outside")] {
            let c = case.clone();
            checks.push(check(
                format!("periodic.{i}.{what}"),
                format!("yearly periodic coefficient, {what}, slab {i}"),
                "W/K",
                case.number(key),
                Tolerance::Absolute(data.number("periodic_cases.tolerance")),
                Kind::ClosedForm,
                "formulas of ISO 13370:2007 Annex A (memory), worked out apart",
                Box::new(move |nudge| {
                    let slab = Slab {
                        plan: plan(&c),
                        soil: soil(c.number("soil") * nudge),
                        floor_m2k_w: c.number("Rf"),
                        edge: None,
                    };
                    let t = slab.transfer().map_err(text)?;
                    Ok(if what == "inside" { t.inside_swing_w_k } else { t.outside_swing_w_k })
                }),
            ));
        }
    }
    checks
}
