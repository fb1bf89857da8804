//! Sun on surfaces and through glass, hour by hour.

use std::collections::BTreeMap;

use building::model::{Building, Opening};
use climate::shade::{Fin, Overhang, Shades};
use climate::tilted::{Plane, PlaneYear, TiltedYear, year};
use climate::{Climate, sky};
use fabric::glazing::optics::AngularCurve;
use numeric::scalar::{acos, cos};

use crate::kernel::input::{Aperture, Surroundings};

/// Share of g that is heat absorbed in the panes and passed inward; the rest is light let through. Judgement:
/// coated double and triple units lie between 0.08 and 0.2.
const INWARD_SHARE: f64 = 0.12;

/// Orientation, rounded to a hundredth of a degree so that equal planes are found again.
pub(super) type Facing = (i64, i64);

pub(super) fn facing(azimuth_deg: f64, tilt_deg: f64) -> Facing {
    // A level plane has no azimuth.
    let azimuth = if (0.01..=179.99).contains(&tilt_deg) { azimuth_deg } else { 0.0 };
    ((azimuth * 100.0).round() as i64, (tilt_deg * 100.0).round() as i64)
}

/// The sun of a year on every plane of a building.
pub(super) struct Sun {
    year: TiltedYear,
    place: BTreeMap<Facing, usize>,
    outdoor_c: Vec<f64>,
    sky_c: Vec<f64>,
    curves: Vec<Option<AngularCurve>>,
}

impl Sun {
    /// Works out the sun on the planes given.
    pub fn new(climate: &Climate, facings: &[Facing]) -> Self {
        let mut place = BTreeMap::new();
        let mut planes = Vec::new();
        for f in facings {
            place.entry(*f).or_insert_with(|| {
                planes.push(Plane { azimuth_deg: f.0 as f64 / 100.0, tilt_deg: f.1 as f64 / 100.0 });
                planes.len() - 1
            });
        }
        // Values of an hour belong to its middle; readings of temperature and sky stand at its end.
        let middle = |hour: usize| climate.state_at(hour as f64 + 0.5);
        let hours = climate.hours.len();
        Self {
            year: year(climate, &planes, 1),
            place,
            outdoor_c: (0..hours).map(|h| middle(h).dry_bulb_c).collect(),
            sky_c: (0..hours).map(|h| sky::temperature_c(middle(h).longwave_down_w_m2)).collect(),
            curves: (1..=4).map(|panes| AngularCurve::by_panes(panes).ok()).collect(),
        }
    }

    fn plane(&self, f: Facing) -> &PlaneYear {
        &self.year.planes[self.place[&f]]
    }

    /// What a surface made of several planes sees, weighted by area.
    pub fn surroundings(&self, planes: &[(Facing, f64)]) -> Surroundings {
        let whole: f64 = planes.iter().map(|(_, area)| area).sum();
        let mut s = Surroundings {
            irradiance_w_m2: vec![0.0; self.outdoor_c.len()],
            radiant_c: vec![0.0; self.outdoor_c.len()],
        };
        for (f, area) in planes {
            let (plane, share) = (self.plane(*f), area / whole);
            let sees_sky = 0.5 * (1.0 + cos(plane.plane.tilt_deg.to_radians()));
            for hour in 0..s.irradiance_w_m2.len() {
                s.irradiance_w_m2[hour] +=
                    share * (plane.beam_w_m2[hour] + plane.sky_w_m2[hour] + plane.ground_w_m2[hour]);
                // Ground and buildings around are taken at the air's temperature.
                s.radiant_c[hour] +=
                    share * (sees_sky * self.sky_c[hour] + (1.0 - sees_sky) * self.outdoor_c[hour]);
            }
        }
        s
    }

    /// Sun through openings alike, per m² of glass of g = 1, weighted by glass area.
    pub fn aperture(&self, building: &Building, openings: &[&Opening], panes: u8) -> Aperture {
        let hours = self.outdoor_c.len();
        let whole: f64 = openings.iter().map(|o| o.glass_m2).sum();
        let mut a = Aperture {
            incident_w_m2: vec![0.0; hours],
            transmitted_w_m2: vec![0.0; hours],
            inward_w_m2: vec![0.0; hours],
        };
        let curve = self.curves[usize::from(panes.clamp(1, 4)) - 1].as_ref();
        let skylines = super::surfaces::skylines(building, openings);
        // Openings of one size and orientation under one skyline are worked out once.
        let mut alike: Vec<(usize, f64)> = Vec::new();
        for (i, o) in openings.iter().enumerate() {
            let same = alike.iter_mut().find(|(j, _)| {
                let p = openings[*j];
                (p.azimuth_deg, p.tilt_deg, p.width_m, p.height_m, p.shading)
                    == (o.azimuth_deg, o.tilt_deg, o.width_m, o.height_m, o.shading)
                    && skylines[i].is_none()
                    && skylines[*j].is_none()
            });
            match same {
                Some((_, area)) => *area += o.glass_m2,
                None => alike.push((i, o.glass_m2)),
            }
        }
        for (i, area) in alike {
            let (o, share) = (openings[i], area / whole);
            let plane = self.plane(facing(o.azimuth_deg, o.tilt_deg));
            let shades = shades(o);
            let (sky_share, ground_share) = (shades.sky_share(), shades.ground_share());
            let diffuse = curve.map_or(0.9, AngularCurve::diffuse);
            for hour in 0..hours {
                let (beam, sky, ground) =
                    (plane.beam_w_m2[hour], plane.sky_w_m2[hour], plane.ground_w_m2[hour]);
                if beam + sky + ground <= 0.0 {
                    continue;
                }
                let round_sun = plane.circumsolar_w_m2[hour];
                let sun = &self.year.sun.directions[hour];
                let mut lit = 0.0;
                if beam + round_sun > 0.0 && skylines[i].as_ref().is_none_or(|line| line.clears(sun)) {
                    // Reveals and fins are worked out for upright glass; sloped glass counts as unshaded.
                    let upright = (o.tilt_deg - 90.0).abs() < 20.0;
                    lit = if upright { shades.sunlit(sun, o.azimuth_deg) } else { 1.0 };
                }
                let incidence = acos(plane.cos_incidence[hour].clamp(-1.0, 1.0)).to_degrees();
                let at = curve.map_or(0.9, |c| c.at(incidence));
                let gain = (beam + round_sun) * lit * at
                    + (sky - round_sun) * sky_share * diffuse
                    + ground * ground_share * diffuse;
                a.incident_w_m2[hour] += share * (beam + sky + ground);
                a.transmitted_w_m2[hour] += share * gain * (1.0 - INWARD_SHARE);
                a.inward_w_m2[hour] += share * gain * INWARD_SHARE;
            }
        }
        a
    }
}

/// The boards around an opening. The model tells left and right as seen from outside, the shading as seen from inside.
fn shades(o: &Opening) -> Shades {
    let s = o.shading;
    let fin = |depth_m: f64, gap_m: f64| {
        (depth_m > 0.0).then_some(Fin { depth_m, gap_m, bottom_m: 0.0, top_m: o.height_m + s.overhang_gap_m })
    };
    Shades {
        width_m: o.width_m,
        height_m: o.height_m,
        overhang: (s.overhang_depth_m > 0.0).then_some(Overhang {
            depth_m: s.overhang_depth_m,
            gap_m: s.overhang_gap_m,
            left_m: s.right_gap_m,
            right_m: s.left_gap_m,
        }),
        left: fin(s.right_depth_m, s.right_gap_m),
        right: fin(s.left_depth_m, s.left_gap_m),
    }
}
