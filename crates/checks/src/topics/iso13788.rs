//! Monthly condensation and surface humidity by ISO 13788.

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};
use moisture::indoor::Class;
use moisture::monthly::{Layer, Month, YearResult, surface_requirement, year};
use moisture::vapour::iso13788_saturation_pa;

const DATA: &str = include_str!("../../../../reference/moisture/iso13788_glaser.toml");
const SOURCE: &str = "method of ISO 13788:2012 from memory; example worked by another program";

pub(crate) fn checks() -> Vec<Check> {
    let data = Data::read(DATA);
    let mut checks = condensation(&data);
    checks.extend(january(&data));
    checks.extend(surfaces(&data));
    checks
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: Tolerance,
    compute: Compute,
) -> Check {
    Check {
        topic: if id.starts_with("wall.") { "ISO 13788, water in a wall" } else { "ISO 13788, surfaces" },
        id: format!("iso13788.{id}"),
        quantity,
        unit,
        reference,
        tolerance,
        kind: Kind::OwnConverged,
        source: SOURCE.to_owned(),
        seen: false,
        known_gap: None,
        compute,
    }
}

/// The file's climate; `share` scales the class's vapour excess.
fn months(data: &Data, share: f64) -> Vec<Month> {
    let column = |name: &str| data.numbers(&format!("climate.{name}"));
    let (days, te, rh) = (column("days"), column("te_C"), column("rh_e"));
    let indoor_c = data.number("climate.ti_C");
    (0..days.len())
        .map(|m| {
            let outdoor_pa = rh[m] * iso13788_saturation_pa(te[m]);
            let indoor_pa = outdoor_pa + share * Class::Three.excess_pa(te[m]);
            Month { days: days[m], outdoor_c: te[m], outdoor_pa, indoor_c, indoor_pa }
        })
        .collect()
}

/// The example wall; `nudge` scales the resistance of its vapour retarder.
fn example(data: &Data, nudge: f64) -> Result<YearResult, String> {
    let mut layers: Vec<Layer> = data
        .list("example_wall.layer")
        .iter()
        .map(|l| {
            let d = l.number("d");
            let name = l.text("name");
            let scale = if name == "vapour retarder" { nudge } else { 1.0 };
            Layer { name, resistance_m2k_w: d / l.number("lam"), air_layer_m: scale * l.number("mu") * d }
        })
        .collect();
    layers.reverse();
    year(&layers, &months(data, 1.0)).map_err(|e| format!("{e:?}"))
}

fn condensation(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for (k, month) in data.list("example_wall.month").iter().enumerate() {
        let name = month.text("month");
        if month.numbers("Ma_g_m2").is_empty() {
            continue;
        }
        for (what, key) in [("condensed in", "gc_g_m2_month"), ("held at the end of", "Ma_g_m2")] {
            let held = key == "Ma_g_m2";
            let reference = month.number(&format!("{key}.0"));
            if held && reference == 0.0 {
                continue;
            }
            let file = data.clone();
            checks.push(check(
                format!("wall.{name}.{}", if held { "held" } else { "condensed" }),
                format!("water {what} {name}"),
                "g/m²",
                reference,
                Tolerance::Absolute(data.number("tolerance.abs_gc_g_m2").max(0.0) / 10.0),
                Box::new(move |nudge| {
                    let year = example(&file, nudge)?;
                    let month = year.months.get(k).ok_or("no such month")?;
                    let plane = month.planes.first().ok_or("no wet plane")?;
                    Ok(1000.0 * if held { plane.held_kg_m2 } else { plane.condensed_kg_m2 })
                }),
            ));
        }
    }
    let file = data.clone();
    checks.push(check(
        "wall.peak".to_owned(),
        "most water held".to_owned(),
        "g/m²",
        data.number("example_wall.peak_g_m2"),
        Tolerance::Absolute(0.1),
        Box::new(move |nudge| Ok(1000.0 * example(&file, nudge)?.peak_kg_m2)),
    ));
    checks
}

/// Temperatures and pressures of January at the sheathing, in the wool's middle and at the retarder.
fn january(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    let interfaces = data.list("example_wall.january.interface");
    for k in [9, 17, 18] {
        let name = interfaces.get(k).map_or_else(String::new, Data::text_here);
        let file = data.clone();
        checks.push(check(
            format!("wall.january.{k}"),
            format!("vapour pressure in January, {name}"),
            "Pa",
            data.number(&format!("example_wall.january.p_Pa.{k}")),
            Tolerance::Absolute(data.number("tolerance.abs_p_Pa")),
            Box::new(move |nudge| {
                let year = example(&file, nudge)?;
                let month = year.months.iter().find(|m| m.month == 0).ok_or("no January")?;
                month.vapour_pa.get(k).copied().ok_or_else(|| "no such strip".to_owned())
            }),
        ));
    }
    checks
}

fn surfaces(data: &Data) -> Vec<Check> {
    let mut checks = Vec::new();
    for row in data.list("frsi_example.month") {
        let (name, factor) = (row.text("month"), row.number("factor_on_dp"));
        let names = data.list("climate.months");
        let Some(m) = names.iter().position(|n| n.text_here() == name) else { continue };
        let file = data.clone();
        checks.push(check(
            format!("surface.{name}.{factor}"),
            format!("temperature factor that keeps mould away in {name}, excess times {factor}"),
            "1",
            row.number("fRsi_min"),
            Tolerance::Absolute(1e-4),
            Box::new(move |nudge| {
                let month = months(&file, factor * nudge).swap_remove(m);
                surface_requirement(&month, 0.8).map(|r| r.1).ok_or_else(|| "no difference".to_owned())
            }),
        ));
    }
    let d = data.at("din4108_surface_check");
    let reference = d.number("tsi_min_C");
    checks.push(check(
        "surface.common-minimum".to_owned(),
        "surface at 80 % with 20 °C, 50 % inside".to_owned(),
        "°C",
        reference,
        Tolerance::Absolute(1e-3),
        Box::new(move |nudge| {
            let ti = d.number("ti_C");
            let month = Month {
                days: 31.0,
                outdoor_c: d.number("te_C"),
                outdoor_pa: 0.0,
                indoor_c: ti,
                indoor_pa: d.number("rh_i") * nudge * iso13788_saturation_pa(ti),
            };
            surface_requirement(&month, 0.8).map(|r| r.0).ok_or_else(|| "no difference".to_owned())
        }),
    ));
    checks
}
