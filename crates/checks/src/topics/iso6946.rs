//! Layered elements: films, air layers, combined method, corrections, tapered layers.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use fabric::layers::air::AirSpace;
use fabric::layers::correction::{Fasteners, Gaps, fastener_addition_w_m2k, gap_addition_w_m2k};
use fabric::layers::film::{Direction, inside_film_m2k_w, outside_film_m2k_w};
use fabric::layers::taper::{Taper, tapered_u_w_m2k};
use fabric::layers::{Assembly, Layer, Substance, Transmittance};

const DATA: &str = include_str!("../../../../reference/fabric/iso6946.toml");
const TOPIC: &str = "ISO 6946";

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = combined(&data);
    checks.extend(simple(&data));
    checks.extend(air_and_films(&data));
    checks.extend(corrections(&data));
    checks.extend(tapers(&data));
    checks
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    kind: Kind,
    source: &str,
    compute: Compute,
) -> Check {
    Check {
        id: format!("iso6946.{id}"),
        topic: TOPIC,
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

fn text(e: impl std::fmt::Display) -> String {
    e.to_string()
}

fn substance(conductivity_w_mk: f64) -> Substance {
    Substance { conductivity_w_mk, density_kg_m3: 1000.0, specific_heat_j_kgk: 1000.0 }
}

/// Layers of a case in the order given; the nudge scales every conductivity.
fn layers(list: &[Data], fraction: f64, nudge: f64) -> Vec<Layer> {
    list.iter()
        .map(|layer| {
            let name = layer.text("name");
            let main = substance(layer.number("conductivity") * nudge);
            if layer.has("resistance") {
                Layer::resistance(name, layer.number("resistance"))
            } else if layer.has("bridge_conductivity") {
                let bridge = substance(layer.number("bridge_conductivity") * nudge);
                Layer::bridged(name, layer.number("thickness"), main, bridge, fraction, None)
            } else {
                Layer::solid(name, layer.number("thickness"), main)
            }
        })
        .collect()
}

fn between(rsi: f64, rse: f64, layers: Vec<Layer>) -> Result<Transmittance, String> {
    let assembly =
        Assembly { rsi_m2k_w: rsi, rse_m2k_w: rse, ..Assembly::new(layers, Direction::Horizontal) };
    assembly.transmittance().map_err(text)
}

type Pick = fn(&Transmittance) -> f64;

fn combined(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for case in data.list("combined_case") {
        let picks: [(&str, &str, &str, &'static str, Pick); 3] = [
            ("upper", "R_upper", "tolerance_R", "m²·K/W", |t| t.upper_m2k_w),
            ("lower", "R_lower", "tolerance_R", "m²·K/W", |t| t.lower_m2k_w),
            ("u", "U", "tolerance_U", "W/(m²·K)", |t| t.uncorrected_u_w_m2k),
        ];
        for (what, key, tolerance, unit, pick) in picks {
            let c = case.clone();
            checks.push(check(
                format!("combined.{}.{what}", case.text("id")),
                format!("{}: {key}", case.text("title")),
                unit,
                case.number(key),
                case.number(tolerance),
                Kind::ClosedForm,
                "formulas of ISO 6946:2017 6.7.2, worked out apart; layers after government guidance (memory)",
                Box::new(move |nudge| {
                    let list = layers(&c.list("layers_inside_to_outside"), c.number("bridge_fraction"), nudge);
                    between(c.number("Rsi"), c.number("Rse"), list).map(|t| pick(&t))
                }),
            ));
        }
    }
    checks
}

fn simple(data: &Data) -> Vec<Check> {
    let brick = data.at("simple_case.0");
    let source = "public guidance page conserveandsave.co.uk/calculations/wall-u-values";
    let c = brick.clone();
    let brick_u = move |nudge: f64| {
        let mut list = layers(&c.list("layers_outside_to_inside"), 0.0, nudge);
        list.reverse();
        between(0.13, 0.04, list).map(|t| t.u_w_m2k)
    };
    let battens = data.at("simple_case.1");
    let b = battens.clone();
    vec![
        check(
            "simple.brick".into(),
            brick.text("title"),
            "W/(m²·K)",
            brick.number("U"),
            // The page divides by a resistance rounded to two digits.
            brick.number("tolerance_U"),
            Kind::PublishedSeen,
            source,
            Box::new(brick_u),
        ),
        check(
            "simple.battens".into(),
            battens.text("title"),
            "W/(m²·K)",
            battens.number("U"),
            battens.number("tolerance_U"),
            Kind::PublishedSeen,
            source,
            Box::new(move |nudge| {
                let main = substance(nudge / b.number("R_main"));
                let bridge = substance(nudge / b.number("R_bridge"));
                let layer = Layer::bridged("battens", 1.0, main, bridge, b.number("fraction"), None);
                between(0.0, 0.0, vec![layer]).map(|t| 1.0 / t.upper_m2k_w)
            }),
        ),
    ]
}

fn air_and_films(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    let rows = data.list("air_layers_unventilated.rows");
    for (row, column, direction) in [
        (3, "upwards", Direction::Upwards),
        (5, "horizontal", Direction::Horizontal),
        (7, "downwards", Direction::Downwards),
    ] {
        let Some(r) = rows.get(row) else { continue };
        let d = r.number("thickness");
        checks.push(check(
            format!("air.{column}"),
            format!("unventilated air layer {} mm, heat flow {column}", d * 1000.0),
            "m²·K/W",
            r.number(column),
            data.number("air_layers_unventilated.tolerance"),
            Kind::PublishedMemory,
            "ISO 6946:2007 Table 2",
            Box::new(move |nudge| {
                let e = (0.9 / nudge).min(1.0);
                let space = AirSpace { emissivities: (e, e), ..AirSpace::still(d) };
                space.resistance_m2k_w(direction).map_err(text)
            }),
        ));
    }
    checks.push(check(
        "film.outside".into(),
        "outside surface resistance at 4 m/s".into(),
        "m²·K/W",
        data.number("surface_resistance_formula.published_Rse.3.value"),
        // Printed to two decimals.
        0.005,
        Kind::PublishedMemory,
        "ISO 6946:2007 Annex A",
        Box::new(|nudge| outside_film_m2k_w(4.0 * nudge, 0.9, 0.0).map_err(text)),
    ));
    checks.push(check(
        "film.inside-up".into(),
        "inside surface resistance, heat flow upwards".into(),
        "m²·K/W",
        data.number("surface_resistance.Rsi_upwards"),
        0.005,
        Kind::PublishedMemory,
        "ISO 6946:2017 Table 7",
        Box::new(|nudge| inside_film_m2k_w(Direction::Upwards, (0.9 / nudge).min(1.0), 20.0).map_err(text)),
    ));
    checks
}

fn corrections(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for case in data.list("correction_cases.cases") {
        let c = case.clone();
        let id = case.text("id");
        checks.push(check(
            format!("correction.{id}"),
            "gaps and fasteners added to 1/R_T".into(),
            "W/(m²·K)",
            case.number("U_corrected"),
            data.number("correction_cases.tolerance"),
            Kind::ClosedForm,
            "formulas of ISO 6946:2007 Annex D (memory), worked out apart",
            Box::new(move |nudge| {
                let (r1, rt) = (c.number("R1"), c.number("RT"));
                let gaps = match c.number("dUpp") {
                    x if x < 0.005 => Gaps::None,
                    x if x < 0.02 => Gaps::Bridging,
                    _ => Gaps::Circulating,
                };
                let fasteners = Fasteners {
                    conductivity_w_mk: c.number("lambda_f") * nudge,
                    count_per_m2: c.number("nf"),
                    area_m2: c.number("Af"),
                    insulation_thickness_m: c.number("d0"),
                    length_in_insulation_m: c.number("d1"),
                };
                let uf = fastener_addition_w_m2k(&fasteners, r1, rt).map_err(text)?;
                Ok(1.0 / rt + gap_addition_w_m2k(gaps, r1, rt) + uf)
            }),
        ));
    }
    checks
}

fn tapers(data: &Data) -> Vec<Check> {
    let Some(row) = data.list("tapered_layers.rows").first().cloned() else { return Vec::new() };
    [
        ("rectangle", "U_rectangle", Taper::Rectangle),
        ("thickest-at-apex", "U_triangle_thickest_at_apex", Taper::TriangleThickestAtApex),
        ("thinnest-at-apex", "U_triangle_thinnest_at_apex", Taper::TriangleThinnestAtApex),
    ]
    .into_iter()
    .map(|(id, key, shape)| {
        let r = row.clone();
        check(
            format!("taper.{id}"),
            format!("tapered layer, {id}"),
            "W/(m²·K)",
            row.number(key),
            data.number("tapered_layers.tolerance"),
            Kind::ClosedForm,
            "ISO 6946:2007 Annex C, checked by numerical integration",
            Box::new(move |nudge| {
                tapered_u_w_m2k(shape, r.number("R0") * nudge, r.number("R2")).map_err(text)
            }),
        )
    })
    .collect()
}
