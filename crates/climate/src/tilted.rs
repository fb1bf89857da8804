//! A year of sun on planes of any slope, step by step.
//!
//! Each hour's measured means are kept: the beam is shared evenly among the steps in which the sun is up, diffuse
//! and global in proportion to the sun's height. So a quarter-hour year carries the beam and the diffuse of the file
//! to the last watt, except beam in hours without any sun above the horizon (rounding of the file at dawn and dusk),
//! which is summed up in [`TiltedYear::lost_beam_kwh_m2`].
//!
//! Beam by incidence, sky by [`crate::perez`] with the sun without refraction, ground as an even reflector of the
//! measured global irradiance. No shading: see [`crate::shade`].

use numeric::scalar::sin_cos;

use crate::calendar::HOURS;
use crate::perez::{Brightness, air_mass};
use crate::sun::{Direction, SunYear, extraterrestrial_w_m2};
use crate::year::Climate;

/// A plane by its slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// 0 = facing up, 90 = a wall, 180 = facing down; degrees.
    pub tilt_deg: f64,
    /// Direction it faces, degrees clockwise from north.
    pub azimuth_deg: f64,
}

impl Plane {
    /// Returns the direction square to the plane.
    pub fn normal(&self) -> Direction {
        Direction::from_angles(self.tilt_deg, self.azimuth_deg)
    }
}

/// The sun on one plane, a value a step.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaneYear {
    /// The plane.
    pub plane: Plane,
    /// Beam, W/m².
    pub beam_w_m2: Vec<f64>,
    /// Diffuse from the sky, circumsolar light included, W/m².
    pub sky_w_m2: Vec<f64>,
    /// Of `sky_w_m2`, what comes from round the sun, W/m².
    pub circumsolar_w_m2: Vec<f64>,
    /// Reflected by the ground, W/m².
    pub ground_w_m2: Vec<f64>,
    /// Cosine of the angle between sun and normal; negative when the sun is behind the plane or below the horizon
    /// is not told apart here: beam is zero in both.
    pub cos_incidence: Vec<f64>,
}

impl PlaneYear {
    /// Returns the beam, sky and ground irradiation of the year, kWh/m².
    pub fn annual_kwh_m2(&self) -> [f64; 3] {
        let hours_a_step = HOURS as f64 / self.beam_w_m2.len() as f64;
        [&self.beam_w_m2, &self.sky_w_m2, &self.ground_w_m2]
            .map(|column| numeric::sum::pairwise(column) * hours_a_step / 1_000.0)
    }
}

/// The sun on several planes.
#[derive(Clone, Debug, PartialEq)]
pub struct TiltedYear {
    /// Where the sun stands at the middle of each step.
    pub sun: SunYear,
    /// Beam facing the sun, W/m², a value a step.
    pub beam_normal_w_m2: Vec<f64>,
    /// One a plane, in the order asked for.
    pub planes: Vec<PlaneYear>,
    /// Beam of hours in which the sun never rose, kWh/m² facing the sun: lost.
    pub lost_beam_kwh_m2: f64,
}

/// What one step's sky looks like; the same for every plane.
#[derive(Clone, Copy)]
struct Step {
    beam: f64,
    global_reflected: f64,
    sky: Brightness,
}

/// Returns the sun on planes for every step of the year; `steps_per_hour` below 1 counts as 1.
pub fn year(climate: &Climate, planes: &[Plane], steps_per_hour: usize) -> TiltedYear {
    let sun = SunYear::new(&climate.place, steps_per_hour);
    let n = sun.steps_per_hour;
    let mut lost = 0.0;
    let mut steps: Vec<Step> = Vec::with_capacity(HOURS * n);
    for (hour, directions) in sun.directions.chunks(n).enumerate() {
        lost += share_hour(climate, hour, directions, &mut steps);
    }
    let planes = planes.iter().map(|&plane| on_plane(plane, &sun, &steps)).collect();
    TiltedYear {
        beam_normal_w_m2: steps.iter().map(|s| s.beam).collect(),
        sun,
        planes,
        lost_beam_kwh_m2: lost / 1_000.0,
    }
}

/// Shares one hour's means among its steps; returns the beam that found no sun, W/m².
fn share_hour(climate: &Climate, hour: usize, directions: &[Direction], steps: &mut Vec<Step>) -> f64 {
    let h = &climate.hours[hour];
    let n = directions.len() as f64;
    let height: f64 = directions.iter().map(|d| d.up.max(0.0)).sum();
    let lit = directions.iter().filter(|d| d.up > 0.0).count() as f64;
    let space = extraterrestrial_w_m2(hour / 24);
    for d in directions {
        let up = d.up.max(0.0);
        // Without any sun the diffuse of dusk is even over the hour.
        let by_height = if height > 0.0 { n * up / height } else { 1.0 };
        let beam = if up > 0.0 { h.beam_normal_w_m2 * n / lit } else { 0.0 };
        let diffuse = h.diffuse_w_m2 * by_height;
        let sky = if up > 0.0 && diffuse > 0.0 {
            Brightness::of(up, beam, diffuse, space, air_mass(up))
        } else {
            Brightness::even(diffuse)
        };
        steps.push(Step { beam, global_reflected: h.global_w_m2 * by_height * h.albedo, sky });
    }
    if lit > 0.0 { 0.0 } else { h.beam_normal_w_m2 }
}

fn on_plane(plane: Plane, sun: &SunYear, steps: &[Step]) -> PlaneYear {
    let normal = plane.normal();
    let (sin_tilt, cos_tilt) = sin_cos(plane.tilt_deg.to_radians());
    let sees_ground = 0.5 * (1.0 - cos_tilt);
    let n = steps.len();
    let mut of = PlaneYear {
        plane,
        beam_w_m2: Vec::with_capacity(n),
        sky_w_m2: Vec::with_capacity(n),
        circumsolar_w_m2: Vec::with_capacity(n),
        ground_w_m2: Vec::with_capacity(n),
        cos_incidence: Vec::with_capacity(n),
    };
    for (step, direction) in steps.iter().zip(&sun.directions) {
        let cos_incidence = normal.dot(direction);
        let sky = step.sky.on_plane(cos_tilt, sin_tilt, cos_incidence);
        let total = sky.total_w_m2();
        of.beam_w_m2.push(step.beam * cos_incidence.max(0.0));
        of.sky_w_m2.push(total);
        of.circumsolar_w_m2.push(sky.circumsolar_w_m2.min(total));
        of.ground_w_m2.push(step.global_reflected * sees_ground);
        of.cos_incidence.push(cos_incidence);
    }
    of
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo_year;

    #[test]
    fn each_hour_keeps_its_means() {
        let climate = demo_year();
        let flat = Plane { tilt_deg: 0.0, azimuth_deg: 180.0 };
        let quarter = year(&climate, &[flat], 4);
        for (hour, h) in climate.hours.iter().enumerate() {
            let steps = hour * 4..hour * 4 + 4;
            let mean = |column: &[f64]| column[steps.clone()].iter().sum::<f64>() / 4.0;
            if quarter.sun.directions[steps.clone()].iter().any(|d| d.up > 0.0) {
                assert!((mean(&quarter.beam_normal_w_m2) - h.beam_normal_w_m2).abs() < 1e-9, "{hour}");
            }
            // Below 5° of sun the disc is cut off, so a flat plane loses a little of the circumsolar part.
            if quarter.sun.directions[steps.clone()].iter().all(|d| d.up > 0.09) {
                assert!((mean(&quarter.planes[0].sky_w_m2) - h.diffuse_w_m2).abs() < 1e-9, "{hour}");
            }
        }
        assert!(quarter.lost_beam_kwh_m2 < 1.0, "{}", quarter.lost_beam_kwh_m2);
    }

    #[test]
    fn finer_steps_change_the_year_little() {
        let climate = demo_year();
        let walls = [0.0, 90.0, 180.0, 270.0].map(|azimuth_deg| Plane { tilt_deg: 90.0, azimuth_deg });
        let coarse = year(&climate, &walls, 1);
        let fine = year(&climate, &walls, 4);
        for (a, b) in coarse.planes.iter().zip(&fine.planes) {
            let total = |p: &PlaneYear| p.annual_kwh_m2().iter().sum::<f64>();
            assert!((total(a) / total(b) - 1.0).abs() < 0.015, "{} {}", total(a), total(b));
        }
    }
}
