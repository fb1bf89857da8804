//! Shape: areas, volumes and enclosure against closed forms, and against sums made by hand over the invented school.

use building::counting::{Count, certification_style, count, test_standard};
use building::geometry::{Polygon, intersection, roof_geometry};
use building::model::RoofShape;
use building::{Building, sample};

use crate::reference::Data;
use crate::{Check, Compute, Kind, Tolerance};

const SUMS: &str = include_str!("../../../../reference/building/demo_sums.toml");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = by_hand();
    checks.extend(closed_forms());
    checks
}

/// The school with every length scaled, counted.
fn school(scale: f64) -> (Building, Count, Count) {
    let (building, _) = Building::derive(sample::school_scaled(scale));
    let strict = count(&building, certification_style());
    let own = count(&building, test_standard());
    (building, strict, own)
}

fn surface(count: &Count, part: &str) -> f64 {
    count.surfaces.iter().filter(|(name, _)| name.contains(part)).map(|(_, area)| area).sum()
}

type OfSchool = fn(&(Building, Count, Count)) -> f64;

fn by_hand() -> Vec<Check> {
    let results: [(&str, OfSchool); 13] = [
        ("floor-area", |s| s.1.floor_area_m2),
        ("floor-area-without-hole", |s| s.2.floor_area_m2),
        ("volume-voids-out", |s| s.1.volume_m3),
        ("volume-voids-in", |s| s.2.volume_m3),
        ("outer-walls", |s| surface(&s.1, "upper: walls to the open")),
        ("roof", |s| surface(&s.1, "upper: roof")),
        ("party-floor", |s| surface(&s.1, "upper: floor to pottery")),
        ("lobby-outer-walls", |s| surface(&s.1, "ground: walls to the open")),
        ("lobby-party-walls", |s| surface(&s.1, "ground: walls to pottery")),
        ("floor-band", |s| surface(&s.1, "edge of the floor above")),
        ("enclosure", |s| s.1.enclosure_m2),
        ("openings", |s| s.0.openings.iter().map(|o| o.area_m2).sum()),
        ("opening-perimeter", |s| s.0.openings.iter().map(|o| 2.0 * (o.width_m + o.height_m)).sum()),
    ];
    let data = Data::read(SUMS);
    let sum = |id: &str| (0..20).map(|i| data.at(&format!("sum.{i}"))).find(|row| row.text("id") == id);
    results
        .into_iter()
        .filter_map(|(id, result)| {
            let row = sum(id)?;
            Some(Check {
                id: format!("geometry.school.{id}"),
                topic: "Geometry",
                quantity: row.text("quantity"),
                unit: match row.text("unit").as_str() {
                    "m³" => "m³",
                    "m" => "m",
                    _ => "m²",
                },
                reference: row.number("value"),
                tolerance: Tolerance::Absolute(row.number("tolerance")),
                kind: Kind::OwnConverged,
                source: format!("own arithmetic by hand, invented building: {}", row.text("working")),
                seen: false,
                known_gap: None,
                compute: Box::new(move |nudge| Ok(result(&school(nudge)))),
            })
        })
        .collect()
}

/// Regular hexagon of side `a`.
fn hexagon(a: f64) -> Result<Polygon, String> {
    let corner = |i: i32| {
        let (sin, cos) = numeric::scalar::sin_cos(f64::from(i) * std::f64::consts::FRAC_PI_3);
        [a * cos, a * sin]
    };
    Polygon::new((0..6).map(corner).collect()).map_err(|e| e.to_string())
}

/// Square of side `a` around the origin, turned by 45° or not.
fn square(a: f64, turned: bool) -> Result<Polygon, String> {
    let h = 0.5 * a;
    let corners = if turned {
        let d = h * 2.0_f64.sqrt();
        vec![[d, 0.0], [0.0, d], [-d, 0.0], [0.0, -d]]
    } else {
        vec![[-h, -h], [h, -h], [h, h], [-h, h]]
    };
    Polygon::new(corners).map_err(|e| e.to_string())
}

fn under_roof(form: fn(&Polygon) -> RoofShape, eaves: f64) -> Result<(f64, f64), String> {
    let house = Polygon::rectangle(0.0, 0.0, 10.0, 6.0).map_err(|e| e.to_string())?;
    let g = roof_geometry(&form(&house), &house, &house, eaves);
    Ok((g.volume_m3, g.area_m2))
}

fn closed_forms() -> Vec<Check> {
    let r3 = 3.0_f64.sqrt();
    let rows: Vec<(&str, &str, &'static str, f64, f64, &str, Compute)> = vec![
        (
            "hexagon.area",
            "regular hexagon of side 4 m, area",
            "m²",
            1.5 * r3 * 16.0,
            1e-9,
            "3√3/2 · a²",
            Box::new(|k| Ok(hexagon(4.0 * k)?.area())),
        ),
        (
            "hexagon.inside",
            "the same moved in by walls of 0.3 m all round, area",
            "m²",
            2.0 * r3 * (2.0 * r3 - 0.3) * (2.0 * r3 - 0.3),
            1e-9,
            "2√3 · r², r the inner radius",
            Box::new(|k| {
                let inside = hexagon(4.0 * k)?.offset_inward(&[0.3; 6]);
                inside.map(|p| p.area()).map_err(|e| e.to_string())
            }),
        ),
        (
            "square.overlap",
            "two squares of side 1 m, one turned by 45°, shared area",
            "m²",
            2.0 * (2.0_f64.sqrt() - 1.0),
            1e-6,
            "regular octagon, 2(√2 − 1) · a²; the overlap library works on a grid, good to 1e-6",
            Box::new(|k| Ok(intersection(&square(k, false)?, &square(k, true)?))),
        ),
        (
            "gable.volume",
            "10 m × 6 m under a gable of 45°, 2.5 m at the eaves, volume",
            "m³",
            150.0 + 90.0,
            1e-9,
            "box and triangular prism",
            Box::new(|k| Ok(under_roof(|p| RoofShape::gable(p, true, 45.0), 2.5 * k)?.0)),
        ),
        (
            "gable.roof",
            "the same, roof area",
            "m²",
            60.0 * 2.0_f64.sqrt(),
            1e-9,
            "plan area over cos 45°",
            Box::new(|k| {
                let house = Polygon::rectangle(0.0, 0.0, 10.0 * k, 6.0).map_err(|e| e.to_string())?;
                Ok(roof_geometry(&RoofShape::gable(&house, true, 45.0), &house, &house, 2.5).area_m2)
            }),
        ),
        (
            "shed.volume",
            "10 m × 6 m under a shed roof of 30°, 2.5 m at the low side, volume",
            "m³",
            60.0 * (2.5 + 3.0 / r3),
            1e-9,
            "box and wedge",
            Box::new(|k| Ok(under_roof(|p| RoofShape::shed(p, 0, 30.0), 2.5 * k)?.0)),
        ),
    ];
    rows.into_iter()
        .map(|(id, quantity, unit, reference, tolerance, source, compute)| Check {
            id: format!("geometry.{id}"),
            topic: "Geometry",
            quantity: quantity.to_owned(),
            unit,
            reference,
            tolerance: Tolerance::Absolute(tolerance),
            kind: Kind::ClosedForm,
            source: source.to_owned(),
            seen: true,
            known_gap: None,
            compute,
        })
        .collect()
}
