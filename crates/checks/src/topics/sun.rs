//! Where the sun stands: the long algorithm against its worked example and a library, our short series against the
//! same library.

use crate::reference::{Data, rows};
use crate::{Check, Compute, Kind, Tolerance};
use climate::Place;
use climate::sun::{Direction, Instant, direction_at, precise};
use climate::tilted::Plane;

const EXAMPLE: &str = include_str!("../../../../reference/building/solar_spa_example.toml");
const POSITIONS: &str = include_str!("../../../../reference/building/solar_position_60.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = worked_example();
    checks.extend(positions());
    checks
}

fn check(
    id: String,
    quantity: String,
    reference: f64,
    tolerance_deg: f64,
    source: &str,
    seen: bool,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id,
        topic: "Sun",
        quantity,
        unit: "°",
        reference,
        tolerance: Tolerance::Absolute(tolerance_deg),
        kind: if seen { Kind::IndependentLibrary } else { Kind::PublishedMemory },
        source: source.to_owned(),
        seen,
        known_gap: None,
        compute: Box::new(compute) as Compute,
    }
}

fn place(latitude_deg: f64, longitude_deg: f64, elevation_m: f64) -> Place {
    Place { name: String::new(), latitude_deg, longitude_deg, elevation_m, utc_offset_h: 0.0 }
}

/// The example of NREL/TP-560-34302, table A5.1, as a public library's test suite repeats it.
fn worked_example() -> Vec<Check> {
    let data = Data::read(EXAMPLE);
    let of = |key: &str| data.number(&format!("input.{key}"));
    let (latitude, longitude, elevation) = (of("latitude_deg"), of("longitude_deg_east"), of("elevation_m"));
    let (pressure, temperature) = (of("pressure_mbar") * 100.0, of("temperature_c"));
    let (slope, rotation) =
        (of("surface_slope_deg"), of("surface_azimuth_rotation_deg_from_south_west_positive"));
    // 12:30:30 at UTC−7.
    let at = Instant {
        year: 2003,
        month: 10,
        day: 17,
        hour: 19,
        minute: 30,
        second: 30.0,
        delta_t_s: of("delta_t_s"),
    };
    let position =
        move |nudge: f64| precise(&place(latitude * nudge, longitude, elevation), &at, pressure, temperature);
    let source =
        "worked example of NREL/TP-560-34302, table A5.1, as repeated in a public solar library's test suite";
    let recalled = "worked example of NREL/TP-560-34302, appendix A.5";
    vec![
        check(
            "sun.example.zenith".to_owned(),
            "zenith angle seen through the air".to_owned(),
            data.number("expected.zenith_deg"),
            1e-5,
            source,
            true,
            move |nudge| position(nudge).map(|p| p.apparent_zenith_deg),
        ),
        check(
            "sun.example.elevation".to_owned(),
            "height without refraction".to_owned(),
            data.number("expected.elevation_without_refraction_deg"),
            1e-5,
            source,
            true,
            move |nudge| position(nudge).map(|p| 90.0 - p.zenith_deg),
        ),
        check(
            "sun.example.azimuth".to_owned(),
            "azimuth".to_owned(),
            data.number("expected.azimuth_deg_from_north"),
            1e-5,
            source,
            true,
            move |nudge| position(nudge).map(|p| p.azimuth_deg),
        ),
        check(
            "sun.example.incidence".to_owned(),
            "incidence on a plane of 30° slope".to_owned(),
            data.number("memory.incidence_angle_deg"),
            1e-4,
            recalled,
            false,
            move |nudge| {
                let plane = Plane { tilt_deg: slope, azimuth_deg: 180.0 + rotation };
                let p = position(nudge)?;
                let seen = Direction::from_angles(p.apparent_zenith_deg, p.azimuth_deg);
                Ok(numeric::scalar::acos(plane.normal().dot(&seen)).to_degrees())
            },
        ),
    ]
}

/// Every fourth of sixty places and instants by the long algorithm; of those with the sun up, the short series too.
fn positions() -> Vec<Check> {
    let source = "pvlib 0.16.1, spa_python, ΔT 67 s";
    let mut checks = Vec::new();
    for (i, row) in rows(POSITIONS).into_iter().enumerate() {
        let at = instant(row.text("time_utc"), row.number("delta_t_s"));
        let (latitude, longitude) = (row.number("lat_deg"), row.number("lon_deg_east"));
        let (altitude, pressure, temperature) =
            (row.number("alt_m"), row.number("pressure_pa"), row.number("temp_c"));
        let (zenith, azimuth) = (row.number("zenith_true_deg"), row.number("azimuth_deg_from_north_cw"));
        let name = format!("{}, {}", row.text("place"), row.text("time_utc"));
        let id = row.text("place").to_lowercase().replace([' ', '.'], "-");
        if i % 6 == 3 {
            checks.push(check(
                format!("sun.long.{i}-{id}.zenith"),
                format!("zenith angle, long algorithm: {name}"),
                zenith,
                0.001,
                source,
                true,
                move |nudge| {
                    let here = place(latitude * nudge, longitude, altitude);
                    precise(&here, &at, pressure, temperature).map(|p| p.zenith_deg)
                },
            ));
        }
        if zenith < 89.0 && i % 3 == 1 {
            let short = move |nudge: f64| {
                direction_at(
                    &place(latitude * nudge, longitude, altitude),
                    at.julian_date_ut(),
                    at.delta_t_s / 86_400.0,
                )
            };
            checks.push(check(
                format!("sun.short.{i}-{id}.zenith"),
                format!("zenith angle, short series: {name}"),
                zenith,
                0.01,
                source,
                true,
                move |nudge| Ok(short(nudge).zenith_deg()),
            ));
            if checks.len() < 24 {
                checks.push(check(
                    format!("sun.short.{i}-{id}.azimuth"),
                    format!("azimuth, short series: {name}"),
                    azimuth,
                    // An angle round the zenith is wider than on the sky by 1/sin of the zenith angle.
                    0.01 / numeric::scalar::sin(zenith.to_radians()).max(0.1),
                    source,
                    true,
                    move |nudge| Ok(short(nudge).azimuth_deg()),
                ));
            }
        }
    }
    checks.truncate(21);
    checks
}

/// Reads `2003-10-17 19:30:30Z`; a date that cannot be read becomes one in the year 0, which no check survives.
fn instant(text: &str, delta_t_s: f64) -> Instant {
    let part = |from: usize, to: usize| text.get(from..to).and_then(|s| s.parse::<u32>().ok()).unwrap_or(0);
    Instant {
        year: part(0, 4).cast_signed(),
        month: part(5, 7),
        day: part(8, 10),
        hour: part(11, 13),
        minute: part(14, 16),
        second: f64::from(part(17, 19)),
        delta_t_s,
    }
}
