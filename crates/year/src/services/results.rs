//! What the machines' year says.

use serde::Serialize;

/// One month by end use, J at the meter unless said otherwise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct EnergyMonth {
    /// Heads, boilers and heaters of rooms, backup and frost protection included.
    pub heating_j: f64,
    /// Cooling and drying.
    pub cooling_j: f64,
    /// Ventilation fans.
    pub fans_j: f64,
    /// Hot water.
    pub hot_water_j: f64,
    /// Lights and plugs.
    pub equipment_j: f64,
    /// Of `heating_j`: fuel burnt on site.
    pub fuel_j: f64,
    /// Solar electricity made.
    pub solar_j: f64,
    /// Electricity bought.
    pub bought_j: f64,
    /// Electricity sold.
    pub sold_j: f64,
    /// Lost in the battery.
    pub battery_lost_j: f64,
    /// Cost of electricity bought less sold, in the tariff's currency; 0 without a tariff.
    pub cost: f64,
}

impl EnergyMonth {
    /// Returns all that the end uses took, J.
    pub fn used_j(&self) -> f64 {
        self.heating_j + self.cooling_j + self.fans_j + self.hot_water_j + self.equipment_j
    }

    /// Adds another month.
    pub fn add(&mut self, o: &Self) {
        self.heating_j += o.heating_j;
        self.cooling_j += o.cooling_j;
        self.fans_j += o.fans_j;
        self.hot_water_j += o.hot_water_j;
        self.equipment_j += o.equipment_j;
        self.fuel_j += o.fuel_j;
        self.solar_j += o.solar_j;
        self.bought_j += o.bought_j;
        self.sold_j += o.sold_j;
        self.battery_lost_j += o.battery_lost_j;
        self.cost += o.cost;
    }
}

/// One head over the year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct HeadYear {
    /// Name.
    pub name: String,
    /// Heat given, J.
    pub heat_j: f64,
    /// Electricity (or fuel) for it, J.
    pub heating_j: f64,
    /// Cold given, drying included, J.
    pub cold_j: f64,
    /// Electricity for it, J.
    pub cooling_j: f64,
    /// Resistance for what it could not give, J.
    pub backup_j: f64,
    /// Hours in which it could not give what was asked.
    pub short_h: f64,
    /// Hours it ran.
    pub running_h: f64,
    /// Hours it cycled below its least speed.
    pub cycling_h: f64,
    /// Cold taken from the rooms beyond their asking, for drying, J.
    pub overcooled_j: f64,
    /// Where its figures come from.
    pub figures: String,
}

/// Keeping ice out of the exchanger.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct FrostYear {
    /// Hours with outdoor air below the limit while the unit ran.
    pub hours: f64,
    /// Energy of the preheater, J.
    pub preheat_j: f64,
    /// Outdoor air not brought, m³.
    pub lost_air_m3: f64,
    /// Whether the book says how.
    pub stated: bool,
}

/// One month of the water heater, J.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct WaterMonth {
    /// Heat in the water drawn.
    pub drawn_j: f64,
    /// Electricity, element included.
    pub electricity_j: f64,
    /// Heat taken from the room it stands in, sensible.
    pub taken_sensible_j: f64,
    /// The same, latent: water condensed from its air.
    pub taken_latent_j: f64,
    /// Heat lost into the room by tank and pipes.
    pub given_j: f64,
    /// Water taken from the room's air, kg.
    pub condensed_kg: f64,
    /// Cold water, mean, °C.
    pub cold_water_c: f64,
}

/// The water heater over the year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct WaterYear {
    /// January to December.
    pub months: Vec<WaterMonth>,
    /// Heat in the water drawn, J.
    pub drawn_j: f64,
    /// Loss of the tank, J.
    pub lost_j: f64,
    /// Loss of loop and pipes, J.
    pub loop_j: f64,
    /// Electricity of the machine, J.
    pub machine_j: f64,
    /// Electricity of the element, J.
    pub element_j: f64,
    /// Heat missing in water drawn too cool, J.
    pub short_j: f64,
    /// Heat taken from its source, J.
    pub taken_j: f64,
    /// Largest error of any step's balance, J.
    pub residual_j: f64,
    /// Heat taken from the room in the last pass less that in the pass before, over it: how far the coupling settled.
    pub unsettled: f64,
    /// Room it stands in; empty when the book names none.
    pub room: String,
    /// Coldest hour of the air round it, °C.
    pub coldest_around_c: f64,
}

/// Weighted energy of a year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Weighting {
    /// Set of factors.
    pub source: String,
    /// Not renewable, J.
    pub not_renewable_j: f64,
    /// Renewable, J.
    pub renewable_j: f64,
    /// CO2, kg.
    pub co2_kg: f64,
    /// Electricity bought weighted for a wholly renewable supply, J.
    pub renewable_supply_j: f64,
}

/// What electricity costs.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Cost {
    /// Currency.
    pub currency: String,
    /// Bought less sold, and the standing charge, of a year.
    pub year: f64,
}

/// The machines over the year.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EnergyYear {
    /// January to December.
    pub months: Vec<EnergyMonth>,
    /// Heads, in the book's order.
    pub heads: Vec<HeadYear>,
    /// Water heater.
    pub water: WaterYear,
    /// Frost protection.
    pub frost: FrostYear,
    /// Primary energy and CO2.
    pub weighting: Weighting,
    /// Cost, when the book states a tariff.
    pub cost: Option<Cost>,
    /// Energy in the battery at the end of the year less that at its beginning, J.
    pub battery_stored_j: f64,
    /// Used, sold, lost and stored less bought and made, J: rounding.
    pub residual_j: f64,
}

impl EnergyYear {
    /// Returns the sum of the months.
    pub fn year(&self) -> EnergyMonth {
        let mut sum = EnergyMonth::default();
        for month in &self.months {
            sum.add(month);
        }
        sum
    }
}
