//! Sun on tilted planes: single moments of the sky model, and the year of one weather file on five planes.

use std::sync::OnceLock;

use crate::reference::rows;
use crate::{Check, Compute, Kind, Tolerance};
use climate::Climate;
use climate::perez::Brightness;
use climate::sun::Direction;
use climate::tilted::{self, Plane};

const MOMENTS: &str = include_str!("../../../../reference/building/perez_60.csv");
const YEARS: &str = include_str!("../../../../reference/building/solar_incident_denver_tmy3.csv");
/// The weather of the whole-building cases, in our own plain table.
pub(crate) const DENVER: &str = include_str!("../../../../reference/building/denver_725650.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = moments();
    checks.extend(years());
    checks
}

fn check(
    id: String,
    quantity: String,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id,
        topic: "Tilted irradiance",
        quantity,
        unit,
        reference,
        tolerance: Tolerance::Relative(tolerance),
        kind: Kind::IndependentLibrary,
        source: "pvlib 0.16.1, Perez 1990 all-sites coefficients".to_owned(),
        seen: true,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

/// Every fifth of sixty moments: all clearness bins but the second and seventh occur among them.
fn moments() -> Vec<Check> {
    rows(MOMENTS)
        .into_iter()
        .enumerate()
        .filter(|(i, _)| i % 5 == 2)
        .map(|(i, row)| {
            let n = |column: &str| row.number(column);
            let sun = Direction::from_angles(n("zenith_deg"), n("sun_azimuth_deg"));
            let plane = Plane { tilt_deg: n("tilt_deg"), azimuth_deg: n("surface_azimuth_deg") };
            let (beam, diffuse, space, mass) = (n("dni_wm2"), n("dhi_wm2"), n("dni_extra_wm2"), n("airmass"));
            check(
                format!("tilted.moment.{i}"),
                format!(
                    "diffuse from the sky, sun at {}°, plane {}° facing {}°, clearness bin {}",
                    n("zenith_deg"),
                    n("tilt_deg"),
                    n("surface_azimuth_deg"),
                    n("bin")
                ),
                "W/m²",
                n("sky_diffuse"),
                1e-4,
                move |nudge| {
                    let (sin, cos) = numeric::scalar::sin_cos(plane.tilt_deg.to_radians());
                    let sky = Brightness::of(sun.up, beam, diffuse * nudge, space, mass);
                    Ok(sky.on_plane(cos, sin, plane.normal().dot(&sun)).total_w_m2())
                },
            )
        })
        .collect()
}

/// Returns the Denver year, read once.
pub(crate) fn denver() -> Result<&'static Climate, String> {
    static YEAR: OnceLock<Result<Climate, String>> = OnceLock::new();
    let text =
        |problems: Vec<climate::WeatherProblem>| problems.iter().map(ToString::to_string).collect::<String>();
    YEAR.get_or_init(|| climate::read(DENVER).map_err(text)).as_ref().map_err(Clone::clone)
}

/// Beam, sky and ground of the year, an hour a step, as the reference was computed.
fn years() -> Vec<Check> {
    let mut checks = Vec::new();
    for row in rows(YEARS) {
        let surface = row.text("surface").to_owned();
        let azimuth_deg = match surface.as_str() {
            "north" => 0.0,
            "east" => 90.0,
            "west" => 270.0,
            _ => 180.0,
        };
        let tilt_deg = if surface == "horizontal" { 0.0 } else { 90.0 };
        let plane = Plane { tilt_deg, azimuth_deg };
        let parts = [
            (0, "beam", "beam_kwh_m2"),
            (1, "sky", "sky_perez_kwh_m2"),
            (2, "ground", "ground_albedo02_kwh_m2"),
        ];
        for (part, name, column) in parts {
            // Nothing is reflected onto a plane that faces up, and every wall sees the same ground.
            if name == "ground" && surface != "south" {
                continue;
            }
            checks.push(check(
                format!("tilted.year.{surface}.{name}"),
                format!("{name} on a {surface} plane in a year, Denver"),
                "kWh/m²",
                row.number(column),
                0.01,
                move |nudge| {
                    let year = tilted::year(&nudged(denver()?, nudge), &[plane], 1);
                    Ok(year.planes[0].annual_kwh_m2()[part])
                },
            ));
        }
    }
    checks
}

/// The year with all its sun scaled.
fn nudged(climate: &Climate, nudge: f64) -> Climate {
    let mut climate = climate.clone();
    for h in &mut climate.hours {
        h.beam_normal_w_m2 *= nudge;
        h.diffuse_w_m2 *= nudge;
        h.global_w_m2 *= nudge;
    }
    climate
}
