//! What the weather does to an outside face: sun, long-wave, wind, driving rain by two laws, and a moisture design year.

use building::model::{Beyond, RoofShape};
use building::plan::Terrain;
use building::{Building, Resolved};
use climate::rain::{WallExposure, deposit_kg_m2h};
use climate::tilted::{Plane, PlaneYear, year as tilted_year};
use climate::{Climate, HOURS, sky, synthetic_rain};
use matter::moist_air;
use moisture::MoistureError;
use moisture::drive::SideState;
use moisture::judge::Rain;
use moisture::surfaces::{OutsideFace, Weather, outside};
use numeric::pow;
use numeric::scalar::cos;
use serde::{Deserialize, Serialize};

use super::cases::Facing;

/// Which law puts rain on a wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RainLaw {
    /// ISO 15927-3, used hour by hour.
    Iso15927,
    /// ASHRAE 160.
    Ashrae160,
}

impl RainLaw {
    /// Its name.
    pub fn word(self) -> &'static str {
        match self {
            Self::Iso15927 => "ISO 15927-3",
            Self::Ashrae160 => "ASHRAE 160",
        }
    }
}

/// Seed of the made-up rain.
const SEED: u64 = 1;
/// Made-up years whose scatter tells how far one of them may be off.
const SEEDS: u64 = 6;
/// The design year (about one in ten) is colder by this much at the same relative humidity, K: the shift EN 15026 allows
/// where no reference year is at hand (recalled).
pub const DESIGN_COLDER_K: f64 = 2.0;
/// Its rain is more by this share: a year in ten where years scatter by 15 % (judgement).
pub const DESIGN_MORE_RAIN: f64 = 0.19;

/// Exposure by terrain: ASHRAE 160's factor below 10 m (severe, medium, sheltered by trees and buildings), and roughness,
/// obstruction and wall factor of ISO 15927-3. The values are middles of the standards' ranges (recalled). Which terrain
/// counts as which is a judgement, taken on the wet side: only a town counts as sheltered.
fn exposure(terrain: Terrain) -> (f64, WallExposure) {
    let iso = |roughness, obstruction| WallExposure { roughness, topography: 1.0, obstruction, wall: 0.4 };
    match terrain {
        Terrain::Open => (1.4, iso(1.0, 1.0)),
        Terrain::Country => (1.0, iso(0.85, 0.7)),
        Terrain::Suburb => (1.0, iso(0.7, 0.5)),
        Terrain::Town => (0.7, iso(0.6, 0.4)),
    }
}

/// The weather that all faces share.
pub(crate) struct Outdoors {
    climate: Climate,
    /// What is known of its rain.
    pub rain: Rain,
    /// Half-width of the stated sum, a share.
    sum_spread: f64,
    /// Rain of the year, mm, where there is any.
    pub yearly_mm: Option<f64>,
    wind_factor: f64,
    absorptance: [f64; 2],
    emissivity: [f64; 2],
    terrain: Terrain,
    deposition: f64,
    temperature_c: Vec<f64>,
    vapour_pressure_pa: Vec<f64>,
    wind_m_s: Vec<f64>,
}

/// Rain on a face in a year, by both laws, kg/m².
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RainSums {
    /// By ASHRAE 160, run-off included.
    pub ashrae_kg_m2: f64,
    /// By ISO 15927-3.
    pub iso_kg_m2: f64,
    /// Half-width (95 %) of either, a share; nothing for recorded rain.
    pub spread: f64,
}

impl RainSums {
    /// Returns the law that puts more on the wall: the run takes it.
    pub fn wetter(&self) -> RainLaw {
        if self.iso_kg_m2 > self.ashrae_kg_m2 { RainLaw::Iso15927 } else { RainLaw::Ashrae160 }
    }
}

impl Outdoors {
    /// Prepares a year; rain is made up from the site's yearly sum where the weather has none and the book states it.
    pub fn new(building: &Building, climate: &Climate, r: &Resolved) -> Self {
        let recorded = climate.hours.iter().all(|h| h.rain_mm.is_some());
        let stated = building.site.rain.map(|key| (r[key], &building.values.get(key).distribution));
        let (climate, rain, sum_spread) = match stated {
            _ if recorded => (climate.clone(), Rain::Recorded, 0.0),
            Some((sum, distribution)) => {
                let (low, high) = distribution.interval95();
                let spread = 0.5 * (high - low) / sum;
                match synthetic_rain::with_synthetic_rain(climate, sum, SEED) {
                    Ok(with) => (with, Rain::Synthetic { spread }, spread),
                    Err(_) => (climate.clone(), Rain::Unknown, 0.0),
                }
            }
            None => (climate.clone(), Rain::Unknown, 0.0),
        };
        let middle = |hour: usize| climate.state_at(hour as f64 + 0.5);
        let vapour = |h: usize| {
            let state = middle(h);
            moist_air::vapour_pressure(state.humidity_ratio, state.pressure_pa)
        };
        let wind_factor = crate::assemble::wind_factor(building, &climate);
        let s = &building.surfaces;
        Self {
            yearly_mm: climate.hours.iter().map(|h| h.rain_mm).sum(),
            rain,
            sum_spread,
            wind_factor,
            absorptance: [r[s.wall_absorptance], r[s.roof_absorptance]],
            emissivity: [r[s.wall_emissivity], r[s.roof_emissivity]],
            terrain: building.site.terrain,
            deposition: deposition(building),
            temperature_c: (0..HOURS).map(|h| middle(h).dry_bulb_c).collect(),
            vapour_pressure_pa: (0..HOURS).map(vapour).collect(),
            wind_m_s: climate.hours.iter().map(|h| (h.wind_speed_m_s * wind_factor).max(0.0)).collect(),
            climate,
        }
    }

    /// Sun on a plane, with nothing around it in the way.
    pub fn sun(&self, facing: Facing) -> PlaneYear {
        let plane = Plane { azimuth_deg: facing.azimuth_deg(), tilt_deg: facing.tilt_deg() };
        let mut year = tilted_year(&self.climate, &[plane], 1);
        year.planes.swap_remove(0)
    }

    /// Temperature and vapour pressure outdoors.
    pub fn air(&self) -> (&[f64], &[f64]) {
        (&self.temperature_c, &self.vapour_pressure_pa)
    }

    /// Wind near the walls, m/s.
    pub fn wind(&self) -> &[f64] {
        &self.wind_m_s
    }

    /// Rain on a face by both laws.
    pub fn sums(&self, facing: Facing) -> RainSums {
        if self.rain == Rain::Unknown {
            return RainSums::default();
        }
        let of = |law| (0..HOURS).map(|h| self.rain_on(facing, law, h)).sum();
        let spread = match self.rain {
            Rain::Synthetic { .. } if facing.is_wall() => {
                let sum = self.yearly_mm.unwrap_or(0.0);
                let bare = &self.climate;
                let azimuth = facing.azimuth_deg();
                synthetic_rain::spread_of_index(bare, sum, self.sum_spread, azimuth, SEEDS)
                    .unwrap_or(self.sum_spread)
            }
            _ => self.sum_spread,
        };
        RainSums { ashrae_kg_m2: of(RainLaw::Ashrae160), iso_kg_m2: of(RainLaw::Iso15927), spread }
    }

    fn rain_on(&self, facing: Facing, law: RainLaw, hour: usize) -> f64 {
        let h = &self.climate.hours[hour];
        let rain = h.rain_mm.unwrap_or(0.0);
        if !facing.is_wall() {
            return rain * cos(facing.tilt_deg().to_radians()).max(0.0);
        }
        let (factor, iso) = exposure(self.terrain);
        let azimuth = facing.azimuth_deg();
        match law {
            RainLaw::Ashrae160 => deposit_kg_m2h(h, azimuth, factor, self.deposition).unwrap_or(0.0),
            RainLaw::Iso15927 => {
                let on = h.wind_speed_m_s * cos((h.wind_direction_deg - azimuth).to_radians());
                if rain > 0.0 && on > 0.0 {
                    2.0 / 9.0
                        * pow(rain, 8.0 / 9.0)
                        * on
                        * iso.roughness
                        * iso.topography
                        * iso.obstruction
                        * iso.wall
                } else {
                    0.0
                }
            }
        }
    }

    /// What acts on a face, hour by hour; in the design year when asked.
    pub fn states(
        &self,
        facing: Facing,
        sun: &PlaneYear,
        coat_m: f64,
        law: RainLaw,
        design: bool,
    ) -> Result<Vec<SideState>, MoistureError> {
        let roof = usize::from(!facing.is_wall());
        let colder = if design { DESIGN_COLDER_K } else { 0.0 };
        let more = if design { 1.0 + DESIGN_MORE_RAIN } else { 1.0 };
        let temperature_c: Vec<f64> = self.temperature_c.iter().map(|t| t - colder).collect();
        // The relative humidity stays, so vapour falls with saturation.
        let vapour: Vec<f64> = self
            .vapour_pressure_pa
            .iter()
            .zip(self.temperature_c.iter().zip(&temperature_c))
            .map(|(pv, (was, now))| {
                pv * moist_air::saturation_pressure(*now) / moist_air::saturation_pressure(*was)
            })
            .collect();
        let sees_sky = 0.5 * (1.0 + cos(facing.tilt_deg().to_radians()));
        let long_wave: Vec<f64> = (0..HOURS)
            .map(|h| {
                let down = self.climate.state_at(h as f64 + 0.5).longwave_down_w_m2;
                // Colder air sends less in the same proportion as a black body does.
                let now = sky::black_body(temperature_c[h]) / sky::black_body(self.temperature_c[h]);
                // Ground and buildings around are taken at the air's temperature.
                sees_sky * down * now + (1.0 - sees_sky) * sky::black_body(temperature_c[h])
            })
            .collect();
        let solar: Vec<f64> =
            (0..HOURS).map(|h| sun.beam_w_m2[h] + sun.sky_w_m2[h] + sun.ground_w_m2[h]).collect();
        let rain: Vec<f64> = if self.rain == Rain::Unknown {
            Vec::new()
        } else {
            (0..HOURS).map(|h| more * self.rain_on(facing, law, h)).collect()
        };
        let face = OutsideFace {
            solar_absorptance: self.absorptance[roof],
            emissivity: self.emissivity[roof],
            coat_air_layer_m: coat_m,
            splash: if facing.is_wall() { 0.3 } else { 0.0 },
        };
        outside(
            &Weather {
                temperature_c: &temperature_c,
                vapour_pressure_pa: &vapour,
                wind_m_s: &self.wind_m_s,
                solar_w_m2: &solar,
                long_wave_w_m2: &long_wave,
                rain_kg_m2h: &rain,
            },
            &face,
        )
    }

    /// Suppositions made here, in sentences.
    pub fn suppositions(&self) -> Vec<String> {
        let (factor, iso) = exposure(self.terrain);
        let mut all = vec![format!(
            "Rain on walls by ASHRAE 160 with exposure {factor} and deposition {}, and by ISO 15927-3 with roughness \
             {}, obstruction {}, wall factor {}; each wall is run with the wetter one.",
            self.deposition, iso.roughness, iso.obstruction, iso.wall
        )];
        all.push(format!(
            "Design year (about one in ten): {DESIGN_COLDER_K} K colder at the same relative humidity, {:.0} % more rain.",
            100.0 * DESIGN_MORE_RAIN
        ));
        all.push(format!(
            "Wind at the walls is {:.2} of the station's; neighbouring buildings cast no shade and keep off no rain.",
            self.wind_factor
        ));
        match self.rain {
            Rain::Unknown => all.push(
                "The weather year has no rain: rained-on masonry and the timber in it are not judged. State the site's \
                 yearly sum (rain = \"… mm\" under [site]) to run made-up rain, or give a weather year with rain."
                    .to_owned(),
            ),
            Rain::Synthetic { spread } => all.push(format!(
                "Hours of rain are made up from the yearly sum stated, {:.0} mm ± {:.0} %: in damp and cloudy hours, the \
                 same in each month.",
                self.yearly_mm.unwrap_or(0.0),
                100.0 * spread
            )),
            Rain::Recorded => {
                all.push(format!("Rain is in the weather year: {:.0} mm.", self.yearly_mm.unwrap_or(0.0)));
            }
        }
        all
    }
}

/// Deposition factor of ASHRAE 160 (recalled): 0.5 below a flat roof, 0.35 below a steep one, 1 where nothing is drawn.
fn deposition(building: &Building) -> f64 {
    let outside = |beyond: &Beyond| *beyond == Beyond::Outside;
    let roofs = building.storeys.iter().filter_map(|s| s.roof.as_ref()).filter(|roof| outside(&roof.beyond));
    roofs
        .map(|roof| match roof.form {
            RoofShape::Flat => 0.5,
            RoofShape::Shed { slope, .. } | RoofShape::Gable { slope, .. } => {
                if slope < 0.33 {
                    0.5
                } else {
                    0.35
                }
            }
        })
        .fold(None, |worst: Option<f64>, d| Some(worst.map_or(d, |w| w.max(d))))
        .unwrap_or(1.0)
}
