//! What the kernel hands back.

use super::input::Part;

/// Heat of the elements of one part, seen from one zone, over one period, J. Positive is loss from the zone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartHeat {
    /// Heat that left the zone through these elements: out of their outside faces (or into the next zone).
    pub through_j: f64,
    /// Heat these elements stored.
    pub stored_j: f64,
}

/// Balance of one zone over one period. Heat in J, vapour in kg; gains positive, `parts` and storage positive as loss.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ZoneBalance {
    /// Steps in the period.
    pub steps: usize,
    /// Mean air temperature, °C.
    pub mean_air_c: f64,
    /// Mean operative temperature, °C.
    pub mean_operative_c: f64,
    /// Mean humidity ratio, kg/kg.
    pub mean_kg_kg: f64,
    /// Sensible heat of people.
    pub people_j: f64,
    /// Equipment.
    pub equipment_j: f64,
    /// Lights.
    pub lights_j: f64,
    /// Sun that stayed inside, with the panes' inward heat.
    pub sun_j: f64,
    /// Air through leaks.
    pub leaks_j: f64,
    /// Ventilation after recovery.
    pub ventilation_j: f64,
    /// Opened windows.
    pub airing_j: f64,
    /// Air from other zones.
    pub air_between_j: f64,
    /// Linear and point bridges (negative when heat is lost).
    pub bridges_j: f64,
    /// Heat of the plant.
    pub heating_j: f64,
    /// Heat taken by the plant (positive).
    pub cooling_j: f64,
    /// Heat stored in the air and light furnishing.
    pub air_stored_j: f64,
    /// Elements, in the order of [`Part::ALL`].
    pub parts: [PartHeat; Part::ALL.len()],
    /// Vapour of people.
    pub vapour_people_kg: f64,
    /// Vapour through leaks.
    pub vapour_leaks_kg: f64,
    /// Vapour with ventilation after recovery.
    pub vapour_ventilation_kg: f64,
    /// Vapour through opened windows.
    pub vapour_airing_kg: f64,
    /// Vapour from other zones.
    pub vapour_between_kg: f64,
    /// Vapour taken up by surfaces.
    pub vapour_buffered_kg: f64,
    /// Vapour stored in the air.
    pub vapour_stored_kg: f64,
    /// Water taken by drying (positive).
    pub dried_kg: f64,
    /// Water given by humidifying.
    pub moistened_kg: f64,
    /// Steps with an operative temperature above the warm threshold.
    pub warm_steps: f64,
    /// Steps with a humidity ratio above the humid threshold.
    pub humid_steps: f64,
}

impl ZoneBalance {
    /// Returns what went in minus what went out minus what was stored, J: rounding, if the balance closes.
    pub fn heat_residual_j(&self) -> f64 {
        let gains =
            self.people_j + self.equipment_j + self.lights_j + self.sun_j + self.heating_j - self.cooling_j;
        let air = self.leaks_j + self.ventilation_j + self.airing_j + self.air_between_j + self.bridges_j;
        let mut left = gains + air - self.air_stored_j;
        for part in &self.parts {
            left -= part.through_j + part.stored_j;
        }
        left
    }

    /// Returns the sum of all flows without their signs, J.
    pub fn gross_heat_j(&self) -> f64 {
        let mut gross = self.people_j.abs()
            + self.equipment_j.abs()
            + self.lights_j.abs()
            + self.sun_j.abs()
            + self.heating_j.abs()
            + self.cooling_j.abs()
            + self.leaks_j.abs()
            + self.ventilation_j.abs()
            + self.airing_j.abs()
            + self.air_between_j.abs()
            + self.bridges_j.abs();
        for part in &self.parts {
            gross += part.through_j.abs();
        }
        gross
    }

    /// Returns the vapour that does not close, kg.
    pub fn vapour_residual_kg(&self) -> f64 {
        self.vapour_people_kg
            + self.vapour_leaks_kg
            + self.vapour_ventilation_kg
            + self.vapour_airing_kg
            + self.vapour_between_kg
            + self.moistened_kg
            - self.dried_kg
            - self.vapour_buffered_kg
            - self.vapour_stored_kg
    }

    /// Returns the sum of all vapour flows without their signs, kg.
    pub fn gross_vapour_kg(&self) -> f64 {
        self.vapour_people_kg.abs()
            + self.vapour_leaks_kg.abs()
            + self.vapour_ventilation_kg.abs()
            + self.vapour_airing_kg.abs()
            + self.vapour_between_kg.abs()
            + self.moistened_kg.abs()
            + self.dried_kg.abs()
            + self.vapour_buffered_kg.abs()
    }

    /// Returns the heat a part lost through its outside, J.
    pub fn part(&self, part: Part) -> PartHeat {
        self.parts[part as usize]
    }

    /// Adds another zone or period; means are weighted by steps.
    pub fn add(&mut self, other: &Self) {
        let (a, b) = (self.steps as f64, other.steps as f64);
        if a + b > 0.0 {
            self.mean_air_c = (self.mean_air_c * a + other.mean_air_c * b) / (a + b);
            self.mean_operative_c = (self.mean_operative_c * a + other.mean_operative_c * b) / (a + b);
            self.mean_kg_kg = (self.mean_kg_kg * a + other.mean_kg_kg * b) / (a + b);
        }
        self.steps += other.steps;
        self.people_j += other.people_j;
        self.equipment_j += other.equipment_j;
        self.lights_j += other.lights_j;
        self.sun_j += other.sun_j;
        self.leaks_j += other.leaks_j;
        self.ventilation_j += other.ventilation_j;
        self.airing_j += other.airing_j;
        self.air_between_j += other.air_between_j;
        self.bridges_j += other.bridges_j;
        self.heating_j += other.heating_j;
        self.cooling_j += other.cooling_j;
        self.air_stored_j += other.air_stored_j;
        for (mine, theirs) in self.parts.iter_mut().zip(&other.parts) {
            mine.through_j += theirs.through_j;
            mine.stored_j += theirs.stored_j;
        }
        self.vapour_people_kg += other.vapour_people_kg;
        self.vapour_leaks_kg += other.vapour_leaks_kg;
        self.vapour_ventilation_kg += other.vapour_ventilation_kg;
        self.vapour_airing_kg += other.vapour_airing_kg;
        self.vapour_between_kg += other.vapour_between_kg;
        self.vapour_buffered_kg += other.vapour_buffered_kg;
        self.vapour_stored_kg += other.vapour_stored_kg;
        self.dried_kg += other.dried_kg;
        self.moistened_kg += other.moistened_kg;
        self.warm_steps += other.warm_steps;
        self.humid_steps += other.humid_steps;
    }
}

/// A greatest value and when.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peak {
    /// The value, in the unit of its field.
    pub value: f64,
    /// Hour of the year it belongs to, from 0.
    pub hour: usize,
}

/// Greatest CO2 and operative temperature of a watched stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Watched {
    /// Greatest CO2 at the end of a step, ppm.
    pub co2_ppm: f64,
    /// Step of the year it came at.
    pub co2_step: usize,
    /// Greatest operative temperature, °C.
    pub operative_c: f64,
    /// Greatest humidity ratio, kg/kg.
    pub kg_kg: f64,
}

/// Every step of every zone: `[step · zones + zone]`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Air temperature, °C.
    pub air_c: Vec<f64>,
    /// Operative temperature, °C.
    pub operative_c: Vec<f64>,
    /// Humidity ratio, kg/kg.
    pub kg_kg: Vec<f64>,
    /// CO2, ppm.
    pub co2_ppm: Vec<f64>,
    /// Sensible power of the plant: heating positive, cooling negative, W.
    pub power_w: Vec<f64>,
    /// Drying positive, humidifying negative, kg/s.
    pub drying_kg_s: Vec<f64>,
    /// Inside face temperatures of the elements, °C: `[step · elements + element]`, in the model's order.
    pub face_c: Vec<f64>,
}

/// One sample's year.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KernelYear {
    /// Zones.
    pub zones: usize,
    /// Balances: `[bin · zones + zone]`.
    pub balances: Vec<ZoneBalance>,
    /// Greatest hourly mean heating power of the whole, W.
    pub heating_peak_w: Peak,
    /// Greatest hourly mean sensible cooling power of the whole, W.
    pub cooling_peak_w: Peak,
    /// Greatest daily mean heating power of the whole, W; the hour is the day's first.
    pub heating_day_peak_w: Peak,
    /// Greatest daily mean of sensible cooling power, W.
    pub cooling_day_peak_w: Peak,
    /// Each zone's greatest hourly mean heating power, W.
    pub zone_heating_peak_w: Vec<Peak>,
    /// Each zone's greatest hourly mean cooling power, W.
    pub zone_cooling_peak_w: Vec<Peak>,
    /// Watched stretches, in the drivers' order.
    pub watched: Vec<Watched>,
    /// Every step, when asked for.
    pub trace: Option<Trace>,
    /// Systems factored for heat; pins the work in tests.
    pub factored: usize,
}

impl KernelYear {
    /// Returns the balance of one zone over the whole run.
    pub fn zone(&self, zone: usize) -> ZoneBalance {
        let mut sum = ZoneBalance::default();
        for bin in 0..self.balances.len() / self.zones.max(1) {
            sum.add(&self.balances[bin * self.zones + zone]);
        }
        sum
    }

    /// Returns the heat of the plant in all zones, J.
    pub fn heating_j(&self) -> f64 {
        self.balances.iter().map(|b| b.heating_j).sum()
    }

    /// Returns the sensible heat taken by the plant in all zones, J.
    pub fn cooling_j(&self) -> f64 {
        self.balances.iter().map(|b| b.cooling_j).sum()
    }

    /// Returns the water taken by drying in all zones, kg.
    pub fn dried_kg(&self) -> f64 {
        self.balances.iter().map(|b| b.dried_kg).sum()
    }
}
