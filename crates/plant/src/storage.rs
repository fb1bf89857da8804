//! A battery that keeps surplus solar electricity for the evening.

use crate::PlantError;
use crate::error::within;

/// A battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Battery {
    capacity_j: f64,
    power_w: f64,
    one_way: f64,
    /// Energy kept, J.
    pub kept_j: f64,
}

/// What a step does at the meter; J, all positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Metered {
    /// From the grid.
    pub bought_j: f64,
    /// To the grid.
    pub sold_j: f64,
    /// Lost in the battery.
    pub lost_j: f64,
    /// Growth of the energy kept.
    pub stored_j: f64,
}

impl Battery {
    /// Takes the usable capacity, J, the greatest power either way, W, and the efficiency there and back.
    ///
    /// # Errors
    /// [`PlantError::Range`] for figures that are none.
    pub fn new(capacity_j: f64, power_w: f64, there_and_back: f64) -> Result<Self, PlantError> {
        within("battery capacity", capacity_j, 0.0, 1e12, "is zero or more, J")?;
        within("battery power", power_w, 0.0, 1e9, "is zero or more, W")?;
        within("battery efficiency", there_and_back, 0.01, 1.0, "lies from 0.01 to 1")?;
        Ok(Self { capacity_j, power_w, one_way: there_and_back.sqrt(), kept_j: 0.0 })
    }

    /// No battery.
    pub const NONE: Self = Self { capacity_j: 0.0, power_w: 0.0, one_way: 1.0, kept_j: 0.0 };

    /// Meets a use with what is made: surplus fills the battery, then is sold; want empties it, then is bought.
    pub fn step(&mut self, made_j: f64, used_j: f64, step_s: f64) -> Metered {
        let mut out = Metered::default();
        let most = self.power_w * step_s;
        let surplus = made_j - used_j;
        let before = self.kept_j;
        if surplus >= 0.0 {
            let taken = surplus.min(most).min((self.capacity_j - self.kept_j) / self.one_way);
            self.kept_j += taken * self.one_way;
            out.lost_j = taken * (1.0 - self.one_way);
            out.sold_j = surplus - taken;
        } else {
            let given = (-surplus).min(most).min(self.kept_j * self.one_way);
            self.kept_j = (self.kept_j - given / self.one_way).max(0.0);
            out.lost_j = given * (1.0 / self.one_way - 1.0);
            out.bought_j = -surplus - given;
        }
        out.stored_j = self.kept_j - before;
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_made_and_bought_is_used_sold_lost_or_kept(steps in proptest::collection::vec((0.0..3e7f64, 0.0..3e7f64), 1..40)) {
            let mut b = Battery::new(3.6e7, 3000.0, 0.9).unwrap();
            for (made, used) in steps {
                let m = b.step(made, used, 3600.0);
                let closure = made + m.bought_j - used - m.sold_j - m.lost_j - m.stored_j;
                prop_assert!(closure.abs() < 1e-6 && b.kept_j >= -1e-6 && b.kept_j <= 3.6e7 + 1e-6);
                prop_assert!(m.bought_j >= 0.0 && m.sold_j >= 0.0 && m.lost_j >= 0.0);
            }
        }
    }
}
