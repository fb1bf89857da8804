//! The weather year itself: what every reader delivers and everything else starts from.

use matter::moist_air;

use crate::calendar::HOURS;

/// Where the readings were taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name, as the file gives it.
    pub name: String,
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
    /// Metres above sea level.
    pub elevation_m: f64,
    /// Local standard time less universal time, hours.
    pub utc_offset_h: f64,
}

/// One hour. Hour `k` covers [k, k + 1) hours of the year in local standard time.
///
/// Irradiance and rain are the mean and the sum **of that hour**. All other readings are states **at its end**, the
/// instant `k + 1`, as stations note them; [`Climate::state_at`] interpolates between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hour {
    /// Dry-bulb temperature, °C.
    pub dry_bulb_c: f64,
    /// Dew point over liquid water, °C, also below freezing, as weather services note it.
    pub dew_point_c: f64,
    /// Relative humidity over liquid water, fraction.
    pub relative_humidity: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Station pressure, Pa.
    pub pressure_pa: f64,
    /// Wind speed at [`Climate::wind_height_m`], m/s.
    pub wind_speed_m_s: f64,
    /// Direction the wind comes from, degrees clockwise from north.
    pub wind_direction_deg: f64,
    /// Global irradiance of a horizontal plane, W/m².
    pub global_w_m2: f64,
    /// Direct irradiance of a plane facing the sun, W/m².
    pub beam_normal_w_m2: f64,
    /// Diffuse irradiance of a horizontal plane, W/m².
    pub diffuse_w_m2: f64,
    /// Sky covered by any cloud, fraction.
    pub total_cloud: f64,
    /// Sky covered by cloud one cannot see through, fraction.
    pub opaque_cloud: f64,
    /// Long-wave irradiance of a horizontal plane, W/m².
    pub longwave_down_w_m2: f64,
    /// Short-wave reflectance of the ground, fraction.
    pub albedo: f64,
    /// Rain on a horizontal plane, mm; `None` when the file does not tell.
    pub rain_mm: Option<f64>,
}

/// Where the long-wave irradiance comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LongwaveOrigin {
    /// In the file.
    Measured,
    /// From dew point and cloud, see [`crate::sky`].
    Modelled,
}

/// Where the cloud cover comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CloudOrigin {
    /// In the file.
    Observed,
    /// The cover that explains the file's long-wave irradiance.
    FromLongwave,
    /// The cover that explains the day's global irradiance.
    FromSun,
}

/// A weather year.
#[derive(Clone, Debug, PartialEq)]
pub struct Climate {
    /// Where it was taken.
    pub place: Place,
    /// Always [`HOURS`] of them.
    pub hours: Vec<Hour>,
    /// Height of the wind readings above open ground, m.
    pub wind_height_m: f64,
    /// Origin of the long-wave irradiance.
    pub longwave: LongwaveOrigin,
    /// Origin of the cloud cover.
    pub cloud: CloudOrigin,
    /// What the file is, in a line.
    pub source: String,
    /// What was done to the readings on the way in, one sentence each.
    pub notes: Vec<String>,
}

/// The state of the outdoor air at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outdoor {
    /// Dry-bulb temperature, °C.
    pub dry_bulb_c: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Station pressure, Pa.
    pub pressure_pa: f64,
    /// Wind speed, m/s.
    pub wind_speed_m_s: f64,
    /// Direction the wind comes from, degrees; that of the nearer reading.
    pub wind_direction_deg: f64,
    /// Long-wave irradiance of a horizontal plane, W/m².
    pub longwave_down_w_m2: f64,
}

impl Climate {
    /// Returns the outdoor state at a time in hours from the start of the year, straight between the readings at
    /// the ends of hours; the year closes on itself.
    pub fn state_at(&self, time_h: f64) -> Outdoor {
        let wrapped = time_h.rem_euclid(HOURS as f64);
        let whole = (wrapped.floor() as usize).min(HOURS - 1);
        let share = wrapped - whole as f64;
        // The reading at instant `whole` is that at the end of the hour before.
        let before = &self.hours[(whole + HOURS - 1) % HOURS];
        let after = &self.hours[whole];
        let between = |a: f64, b: f64| a + (b - a) * share;
        Outdoor {
            dry_bulb_c: between(before.dry_bulb_c, after.dry_bulb_c),
            humidity_ratio: between(before.humidity_ratio, after.humidity_ratio),
            pressure_pa: between(before.pressure_pa, after.pressure_pa),
            wind_speed_m_s: between(before.wind_speed_m_s, after.wind_speed_m_s),
            wind_direction_deg: if share < 0.5 { before } else { after }.wind_direction_deg,
            longwave_down_w_m2: between(before.longwave_down_w_m2, after.longwave_down_w_m2),
        }
    }

    /// Puts an hourly rain from elsewhere into the year, mm, and notes where it is from. Rain of another year does not
    /// fall at this year's cold fronts; say so where a result rests on it.
    ///
    /// # Errors
    /// A sentence when there are not [`HOURS`] values, each from 0 to 320 mm.
    pub fn with_rain(mut self, rain_mm: Vec<f64>, from: &str) -> Result<Self, String> {
        if rain_mm.len() != HOURS {
            return Err(format!("rain has {} hours; a weather year has {HOURS}", rain_mm.len()));
        }
        if let Some(hour) = rain_mm.iter().position(|mm| !(0.0..=320.0).contains(mm)) {
            let when = crate::calendar::words(hour);
            return Err(format!("rain of {} mm at {when} is not from 0 to 320 mm", rain_mm[hour]));
        }
        for (hour, mm) in self.hours.iter_mut().zip(rain_mm) {
            hour.rain_mm = Some(mm);
        }
        self.notes.push(format!("Rain was put in from elsewhere: {from}."));
        Ok(self)
    }

    /// Returns one column of the year.
    pub fn column(&self, of: impl Fn(&Hour) -> f64) -> Vec<f64> {
        self.hours.iter().map(of).collect()
    }

    /// Returns the mean dry-bulb temperature of each day, °C.
    pub fn daily_means_c(&self) -> Vec<f64> {
        self.hours.chunks(24).map(|day| day.iter().map(|h| h.dry_bulb_c).sum::<f64>() / 24.0).collect()
    }

    /// Returns the mean dry-bulb temperature of each month, °C.
    pub fn monthly_means_c(&self) -> [f64; 12] {
        std::array::from_fn(|month| {
            let hours = &self.hours[crate::calendar::hours_of_month(month)];
            hours.iter().map(|h| h.dry_bulb_c).sum::<f64>() / hours.len() as f64
        })
    }

    /// Returns the partial pressure of vapour of an hour, Pa.
    pub fn vapour_pressure_pa(&self, hour: usize) -> f64 {
        let h = &self.hours[hour];
        moist_air::vapour_pressure(h.humidity_ratio, h.pressure_pa)
    }
}
