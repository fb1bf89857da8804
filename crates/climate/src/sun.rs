//! Where the sun stands.
//!
//! Two ways: [`direction`] and [`SunYear`] are our own short series, good to 0.01°, fast and with the same bits on
//! every machine; [`precise`] is the long algorithm of an outside library, for checks and for single instants that
//! must be exact. Directions are geometric: no refraction, which lifts the sun by 0.03° at 30° height.

use numeric::scalar::{acos, atan2, sin_cos};

use crate::calendar::HOURS;
use crate::year::Place;

/// A unit vector towards the sun in the local frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direction {
    /// East component.
    pub east: f64,
    /// North component.
    pub north: f64,
    /// Upward component: the cosine of the zenith angle.
    pub up: f64,
}

impl Direction {
    /// Returns the direction of a zenith angle and an azimuth clockwise from north, degrees.
    pub fn from_angles(zenith_deg: f64, azimuth_deg: f64) -> Self {
        let (sin_z, cos_z) = sin_cos(zenith_deg.to_radians());
        let (sin_a, cos_a) = sin_cos(azimuth_deg.to_radians());
        Self { east: sin_z * sin_a, north: sin_z * cos_a, up: cos_z }
    }

    /// Returns the angle from the zenith, degrees.
    pub fn zenith_deg(&self) -> f64 {
        acos(self.up.clamp(-1.0, 1.0)).to_degrees()
    }

    /// Returns the azimuth clockwise from north, degrees, 0 to 360.
    pub fn azimuth_deg(&self) -> f64 {
        atan2(self.east, self.north).to_degrees().rem_euclid(360.0)
    }

    /// Returns the cosine of the angle to another direction.
    pub fn dot(&self, other: &Self) -> f64 {
        self.east * other.east + self.north * other.north + self.up * other.up
    }
}

/// The year whose sun is used: one halfway between leap years, because a typical year belongs to no year.
pub const REFERENCE_YEAR: i32 = 2022;
/// Julian date of 1 January of [`REFERENCE_YEAR`], 0 h universal time.
const REFERENCE_JULIAN_DATE: f64 = 2_459_580.5;
/// Julian date of the epoch J2000.
const J2000: f64 = 2_451_545.0;
/// Terrestrial less universal time in [`REFERENCE_YEAR`], days (69.3 s).
const DELTA_T_DAYS: f64 = 69.3 / 86_400.0;

/// Returns the direction of the sun at a time in hours of local standard time from the start of the year.
///
/// # Valid for
/// 1950 to 2050; within 0.01° of [`precise`] above the horizon.
/// # Source
/// Low-precision series of J. Meeus, Astronomical Algorithms (1991), chapters 12 and 25; recalled.
pub fn direction(place: &Place, time_h: f64) -> Direction {
    direction_at(place, REFERENCE_JULIAN_DATE + (time_h - place.utc_offset_h) / 24.0, DELTA_T_DAYS)
}

/// Returns the direction of the sun at a Julian date of universal time.
pub fn direction_at(place: &Place, julian_date_ut: f64, delta_t_days: f64) -> Direction {
    let days = julian_date_ut - J2000;
    let sun = Equatorial::at(days + delta_t_days);
    let (sin, cos) = sun.sidereal(days, place.longitude_deg);
    sun.seen(&Horizon::of(place), sin, cos)
}

/// The sun's direction among the stars.
struct Equatorial {
    /// Sine and cosine of the ecliptic longitude.
    sin_longitude: f64,
    cos_longitude: f64,
    /// Sine and cosine of the obliquity.
    sin_obliquity: f64,
    cos_obliquity: f64,
    /// Speed of the longitude, radians an hour.
    speed: f64,
    /// Equation of the equinoxes, degrees: what nutation adds to the sidereal angle.
    equinoxes_deg: f64,
}

/// The Earth's radius over its distance from the sun: the parallax that lowers the sun by up to 0.0024°.
const PARALLAX: f64 = 4.263_5e-5;

impl Equatorial {
    /// `days` of terrestrial time since J2000.
    fn at(days: f64) -> Self {
        let centuries = days / 36_525.0;
        let anomaly = (357.529_11 + 0.985_600_281_7 * days).rem_euclid(360.0).to_radians();
        let (s1, c1) = sin_cos(anomaly);
        let s2 = 2.0 * s1 * c1;
        let s3 = s1 * (3.0 - 4.0 * s1 * s1);
        let centre = (1.914_602 - 0.004_817 * centuries) * s1
            + (0.019_993 - 0.000_101 * centuries) * s2
            + 0.000_289 * s3;
        let node = (125.04 - 0.052_953_76 * days).rem_euclid(360.0).to_radians();
        let (sin_node, cos_node) = sin_cos(node);
        let mean_longitude = 280.466_46 + 0.985_647_36 * days;
        let longitude =
            (mean_longitude + centre - 0.005_69 - 0.004_78 * sin_node).rem_euclid(360.0).to_radians();
        let obliquity = (23.439_291 - 0.013_004_2 * centuries + 0.002_56 * cos_node).to_radians();
        let (sin_longitude, cos_longitude) = sin_cos(longitude);
        let (sin_obliquity, cos_obliquity) = sin_cos(obliquity);
        let degrees_a_day = 0.985_647_36
            + 0.985_600_28_f64.to_radians() * (1.914_602 * c1 + 2.0 * 0.019_993 * (1.0 - 2.0 * s1 * s1));
        Self {
            sin_longitude,
            cos_longitude,
            sin_obliquity,
            cos_obliquity,
            speed: (degrees_a_day / 24.0).to_radians(),
            equinoxes_deg: -0.004_78 * sin_node * cos_obliquity,
        }
    }

    /// Moves on by less than an hour; the second order is below 1e-7.
    fn advanced(&self, hours: f64) -> Self {
        let angle = self.speed * hours;
        Self {
            sin_longitude: self.sin_longitude + self.cos_longitude * angle,
            cos_longitude: self.cos_longitude - self.sin_longitude * angle,
            ..*self
        }
    }

    /// Sine and cosine of the local apparent sidereal angle, for days of universal time since J2000.
    fn sidereal(&self, days: f64, longitude_deg: f64) -> (f64, f64) {
        let mean = 280.460_618_37 + 360.985_647_366_29 * days + longitude_deg;
        sin_cos((mean + self.equinoxes_deg).rem_euclid(360.0).to_radians())
    }

    /// Turns to the local frame, given sine and cosine of the local sidereal angle.
    fn seen(&self, horizon: &Horizon, sin_sidereal: f64, cos_sidereal: f64) -> Direction {
        let x = self.cos_longitude;
        let y = self.cos_obliquity * self.sin_longitude;
        let z = self.sin_obliquity * self.sin_longitude;
        // Towards the meridian and towards the west, in the equatorial plane.
        let meridian = x * cos_sidereal + y * sin_sidereal;
        let west = x * sin_sidereal - y * cos_sidereal;
        let up = horizon.sin_latitude * z + horizon.cos_latitude * meridian;
        // Seen from the surface instead of the Earth's centre, first order in the parallax.
        let stretch = 1.0 + PARALLAX * up;
        Direction {
            east: -west * stretch,
            north: (horizon.cos_latitude * z - horizon.sin_latitude * meridian) * stretch,
            up: up * stretch - PARALLAX,
        }
    }
}

struct Horizon {
    sin_latitude: f64,
    cos_latitude: f64,
}

impl Horizon {
    fn of(place: &Place) -> Self {
        let (sin_latitude, cos_latitude) = sin_cos(place.latitude_deg.to_radians());
        Self { sin_latitude, cos_latitude }
    }
}

/// Extraterrestrial irradiance at the mean distance, W/m² (the constant that goes with the Perez coefficients' use
/// in general-purpose libraries; measured values lie within 0.4 %).
pub const SOLAR_CONSTANT_W_M2: f64 = 1_366.1;

/// Returns the irradiance outside the atmosphere facing the sun, W/m², on a day of the year (0 = 1 January).
///
/// # Source
/// Spencer, Search 2 (1971), as used throughout solar engineering; recalled.
pub fn extraterrestrial_w_m2(day: usize) -> f64 {
    let (s1, c1) = sin_cos(2.0 * std::f64::consts::PI * day as f64 / 365.0);
    let (s2, c2) = (2.0 * s1 * c1, 1.0 - 2.0 * s1 * s1);
    SOLAR_CONSTANT_W_M2 * (1.000_11 + 0.034_221 * c1 + 0.001_28 * s1 + 0.000_719 * c2 + 0.000_077 * s2)
}

/// The sun of a whole year, at the middle of each step.
#[derive(Clone, Debug, PartialEq)]
pub struct SunYear {
    /// Steps an hour.
    pub steps_per_hour: usize,
    /// Direction at the middle of each step.
    pub directions: Vec<Direction>,
}

impl SunYear {
    /// Works out the year; `steps_per_hour` below 1 counts as 1.
    ///
    /// Agrees with [`direction`] to 1e-7; the ecliptic longitude is worked out once an hour and moved on within it.
    pub fn new(place: &Place, steps_per_hour: usize) -> Self {
        let steps = steps_per_hour.max(1);
        let horizon = Horizon::of(place);
        // Offsets of the steps' middles from the middle of the hour: hours, and the turn of the sky they bring.
        let offsets: Vec<(f64, f64, f64)> = (0..steps)
            .map(|j| {
                let hours = (j as f64 + 0.5) / steps as f64 - 0.5;
                let (sin, cos) = sin_cos((360.985_647_366_29 / 24.0 * hours).to_radians());
                (hours, sin, cos)
            })
            .collect();
        let mut directions = Vec::with_capacity(HOURS * steps);
        for hour in 0..HOURS {
            let days = REFERENCE_JULIAN_DATE - J2000 + (hour as f64 + 0.5 - place.utc_offset_h) / 24.0;
            let sun = Equatorial::at(days + DELTA_T_DAYS);
            let (sin, cos) = sun.sidereal(days, place.longitude_deg);
            for &(hours, s, c) in &offsets {
                directions.push(sun.advanced(hours).seen(&horizon, sin * c + cos * s, cos * c - sin * s));
            }
        }
        Self { steps_per_hour: steps, directions }
    }
}

/// What the precise algorithm says of one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PrecisePosition {
    /// Angle from the zenith without refraction, degrees.
    pub zenith_deg: f64,
    /// Angle from the zenith as seen through the air, degrees.
    pub apparent_zenith_deg: f64,
    /// Azimuth clockwise from north, degrees.
    pub azimuth_deg: f64,
}

/// An instant of universal time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instant {
    /// Year of the Gregorian calendar.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u32,
    /// Day of the month, from 1.
    pub day: u32,
    /// Hour, 0 to 23.
    pub hour: u32,
    /// Minute, 0 to 59.
    pub minute: u32,
    /// Second, below 60.
    pub second: f64,
    /// Terrestrial less universal time, s.
    pub delta_t_s: f64,
}

impl Instant {
    /// Returns the Julian date of universal time.
    ///
    /// # Source
    /// Count of days in the Gregorian calendar: years run from March, so that the leap day comes last.
    pub fn julian_date_ut(&self) -> f64 {
        let (month, day) = (i64::from(self.month), i64::from(self.day));
        let year = i64::from(self.year) - i64::from(month <= 2);
        let from_march = (month + 9) % 12;
        let days = 365 * year + year.div_euclid(4) - year.div_euclid(100)
            + year.div_euclid(400)
            + (153 * from_march + 2) / 5
            + day
            - 1;
        // Day 0 of this count is 1 March of the year 0.
        let clock_h = f64::from(self.hour) + f64::from(self.minute) / 60.0 + self.second / 3_600.0;
        days as f64 + 1_721_119.5 + clock_h / 24.0
    }
}

/// Returns the position by the long solar position algorithm (Reda and Andreas 2004, ±0.0003°).
///
/// # Errors
/// The library's message for an impossible date, place or atmosphere.
pub fn precise(
    place: &Place,
    at: &Instant,
    pressure_pa: f64,
    temperature_c: f64,
) -> Result<PrecisePosition, String> {
    use solar_positioning::{Location, RefractionCorrection, SolarPositions, time::JulianDate};
    let text = |e: solar_positioning::Error| e.to_string();
    let time = JulianDate::from_utc(at.year, at.month, at.day, at.hour, at.minute, at.second, at.delta_t_s)
        .map_err(text)?;
    let location = Location { latitude: place.latitude_deg, longitude: place.longitude_deg };
    let positions = SolarPositions::new();
    let bare = positions.at_from_julian(time, location, place.elevation_m, None).map_err(text)?;
    let refraction = RefractionCorrection::new(pressure_pa / 100.0, temperature_c).map_err(text)?;
    let seen = positions.at_from_julian(time, location, place.elevation_m, Some(refraction)).map_err(text)?;
    Ok(PrecisePosition {
        zenith_deg: bare.zenith_angle(),
        apparent_zenith_deg: seen.zenith_angle(),
        azimuth_deg: bare.azimuth(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places() -> Vec<Place> {
        [
            (36.1, -79.95, -5.0),
            (55.3, -160.5, -9.0),
            (45.0, 8.0, 1.0),
            (-33.9, 151.2, 10.0),
            (69.65, 18.96, 1.0),
        ]
        .into_iter()
        .map(|(latitude_deg, longitude_deg, utc_offset_h)| Place {
            name: String::new(),
            latitude_deg,
            longitude_deg,
            elevation_m: 0.0,
            utc_offset_h,
        })
        .collect()
    }

    #[test]
    fn short_series_keeps_within_a_hundredth_of_a_degree() {
        let mut worst: f64 = 0.0;
        for place in places() {
            for step in 0..1_500 {
                let time_h = f64::from(step) * 5.83;
                let fast = direction(&place, time_h);
                if fast.up < 0.0 {
                    continue;
                }
                let utc = time_h - place.utc_offset_h;
                // Counted from 1 January, so that no calendar is needed: the library takes day and hour apart.
                let jd = REFERENCE_JULIAN_DATE + utc / 24.0;
                let time = solar_positioning::time::JulianDate::new(jd, 69.3).expect("a date");
                let location = solar_positioning::Location {
                    latitude: place.latitude_deg,
                    longitude: place.longitude_deg,
                };
                let exact = solar_positioning::SolarPositions::new()
                    .at_from_julian(time, location, 0.0, None)
                    .expect("a position");
                let exact = Direction::from_angles(exact.zenith_angle(), exact.azimuth());
                let apart = acos(fast.dot(&exact).clamp(-1.0, 1.0)).to_degrees();
                worst = worst.max(apart);
            }
        }
        assert!(worst < 0.01, "{worst}");
    }

    #[test]
    fn julian_dates() {
        let at = |year, month, day, hour, minute, second| {
            Instant { year, month, day, hour, minute, second, delta_t_s: 0.0 }.julian_date_ut()
        };
        assert_eq!(at(2000, 1, 1, 12, 0, 0.0), J2000);
        assert_eq!(at(REFERENCE_YEAR, 1, 1, 0, 0, 0.0), REFERENCE_JULIAN_DATE);
        assert!((at(2003, 10, 17, 19, 30, 30.0) - 2_452_930.312_847).abs() < 1e-6);
    }

    #[test]
    fn the_year_agrees_with_the_instant() {
        for place in places() {
            let year = SunYear::new(&place, 4);
            for step in (0..HOURS * 4).step_by(997) {
                let one = direction(&place, (step as f64 + 0.5) / 4.0);
                let other = year.directions[step];
                assert!((one.east - other.east).abs() < 2e-7, "{step} {one:?} {other:?}");
                assert!((one.up - other.up).abs() < 2e-7);
                let length = other.dot(&other);
                assert!((length - 1.0).abs() < 2e-7);
            }
        }
    }
}
