//! Design indoor air where no simulation of the room stands behind it.
//!
//! Three published rules, all recalled from memory; each is a supposition about how people live, not a forecast.

use matter::moist_air::saturation_pressure;

/// A supposition about the air of a room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DesignAir {
    /// EN 15026 annex C, normal occupancy: 30 % at −10 °C outdoors to 60 % at 20 °C; 20 to 25 °C.
    En15026Normal,
    /// The same with high occupancy: ten per cent more.
    En15026High,
    /// ASHRAE 160 simplified method: 40 % at −10 °C to 70 % at 20 °C of the day's mean outdoors.
    Ashrae160Simple,
    /// ISO 13788 humidity class, 1 to 4, at its upper limit.
    Iso13788(Class),
}

/// Humidity classes of ISO 13788 annex A.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Unoccupied buildings, dry storage.
    One,
    /// Offices, dwellings with normal occupancy and ventilation.
    Two,
    /// Buildings with unknown occupancy.
    Three,
    /// Sports halls, kitchens, canteens.
    Four,
}

impl Class {
    /// Returns the vapour pressure excess at 0 °C outdoors or below, Pa (upper limit of the class).
    pub fn excess_at_frost_pa(self) -> f64 {
        match self {
            Self::One => 270.0,
            Self::Two => 540.0,
            Self::Three => 810.0,
            Self::Four => 1080.0,
        }
    }

    /// Returns the vapour pressure excess over outdoors, Pa: falling in a straight line to nothing at 20 °C.
    pub fn excess_pa(self, outdoor_c: f64) -> f64 {
        self.excess_at_frost_pa() * (1.0 - outdoor_c / 20.0).clamp(0.0, 1.0)
    }
}

/// Returns indoor temperature, °C, and relative humidity, fraction.
///
/// `outdoor_c` and `outdoor_vapour_pa` are the hour's, or the day's mean where the rule asks for it; `set_point_c` is
/// kept as the temperature by the rules that have none of their own.
pub fn design_air(rule: DesignAir, outdoor_c: f64, outdoor_vapour_pa: f64, set_point_c: f64) -> (f64, f64) {
    let ramp = |low: f64, high: f64, at_low: f64, at_high: f64| {
        at_low + (at_high - at_low) * ((outdoor_c - low) / (high - low)).clamp(0.0, 1.0)
    };
    match rule {
        DesignAir::En15026Normal => (ramp(10.0, 20.0, 20.0, 25.0), ramp(-10.0, 20.0, 0.30, 0.60)),
        DesignAir::En15026High => (ramp(10.0, 20.0, 20.0, 25.0), ramp(-10.0, 20.0, 0.40, 0.70)),
        DesignAir::Ashrae160Simple => (set_point_c, ramp(-10.0, 20.0, 0.40, 0.70)),
        DesignAir::Iso13788(class) => {
            let pv = outdoor_vapour_pa + class.excess_pa(outdoor_c);
            (set_point_c, (pv / saturation_pressure(set_point_c)).clamp(0.0, 1.0))
        }
    }
}

/// Returns means over the day each hour belongs to, for rules that ask for the day's mean.
pub fn daily_means(hourly: &[f64]) -> Vec<f64> {
    hourly
        .chunks(24)
        .flat_map(|day| {
            let mean = numeric::sum::mean(day);
            day.iter().map(move |_| mean)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_meet_their_ends() {
        assert_eq!(design_air(DesignAir::En15026Normal, -20.0, 100.0, 20.0), (20.0, 0.30));
        assert_eq!(design_air(DesignAir::En15026High, 30.0, 100.0, 20.0), (25.0, 0.70));
        assert!((design_air(DesignAir::Ashrae160Simple, 5.0, 600.0, 21.0).1 - 0.55).abs() < 1e-12);
        assert_eq!(Class::Three.excess_pa(10.0), 405.0);
        assert_eq!(Class::Three.excess_pa(25.0), 0.0);
        assert_eq!(daily_means(&[1.0, 3.0]), vec![2.0, 2.0]);
    }
}
