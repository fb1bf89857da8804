//! Two simple published hourly methods, kept as independent cross-checks of the balance: they share nothing with the
//! kernel.
//!
//! * [`FiveResistances`]: one zone as five resistances and one capacity, ISO 13790:2008 clause 7.2.2 and Annex C.
//! * [`FiveNodes`]: one opaque element as five nodes, ISO 52016-1:2017 clause 6.5.7.
//!
//! Both from memory of the standards; neither was opened here.

/// A zone as five resistances and one capacity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FiveResistances {
    /// Windows and doors, W/K.
    pub windows_w_k: f64,
    /// Opaque elements, W/K; above zero.
    pub opaque_w_k: f64,
    /// Ventilation, W/K; above zero.
    pub air_w_k: f64,
    /// Effective mass area, m².
    pub mass_area_m2: f64,
    /// Mass, J/K.
    pub capacity_j_k: f64,
    /// Area of all inside faces, m².
    pub faces_m2: f64,
}

/// What acts on a zone in an hour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HourOfZone {
    /// Outdoors, °C.
    pub outdoor_c: f64,
    /// Supply air, °C.
    pub supply_c: f64,
    /// Internal gains, W.
    pub internal_w: f64,
    /// Sun, W.
    pub sun_w: f64,
    /// Heating (positive) or cooling, W.
    pub plant_w: f64,
}

/// Temperatures after an hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneTemperatures {
    /// Mass at the end of the hour, °C.
    pub mass_end_c: f64,
    /// Mass, mean of both ends, °C.
    pub mass_c: f64,
    /// Faces, °C.
    pub faces_c: f64,
    /// Air, °C.
    pub air_c: f64,
    /// Operative: 0.3 air and 0.7 faces, °C.
    pub operative_c: f64,
}

/// Heat transfer between air and faces, and between faces and mass, W/(m²·K).
const AIR_FACES: f64 = 3.45;
const FACES_MASS: f64 = 9.1;

impl FiveResistances {
    /// Runs an hour from the mass temperature at its beginning (equations C.1 to C.11).
    pub fn hour(&self, mass_c: f64, h: &HourOfZone) -> ZoneTemperatures {
        let h_is = AIR_FACES * self.faces_m2;
        let h_ms = FACES_MASS * self.mass_area_m2;
        let h_em = 1.0 / (1.0 / self.opaque_w_k - 1.0 / h_ms);
        let h1 = 1.0 / (1.0 / self.air_w_k + 1.0 / h_is);
        let h2 = h1 + self.windows_w_k;
        let h3 = 1.0 / (1.0 / h2 + 1.0 / h_ms);
        let half = 0.5 * h.internal_w;
        let share = self.mass_area_m2 / self.faces_m2;
        let on_mass = share * (half + h.sun_w);
        let on_faces = (1.0 - share - self.windows_w_k / (FACES_MASS * self.faces_m2)) * (half + h.sun_w);
        let through_air = h1 * ((half + h.plant_w) / self.air_w_k + h.supply_c);
        let total = on_mass
            + h_em * h.outdoor_c
            + h3 * (on_faces + self.windows_w_k * h.outdoor_c + through_air) / h2;
        let rate = self.capacity_j_k / 3600.0;
        let out = 0.5 * (h3 + h_em);
        let mass_end_c = (mass_c * (rate - out) + total) / (rate + out);
        let mean = 0.5 * (mass_c + mass_end_c);
        let faces_c = (h_ms * mean + on_faces + self.windows_w_k * h.outdoor_c + through_air)
            / (h_ms + self.windows_w_k + h1);
        let air_c = (h_is * faces_c + self.air_w_k * h.supply_c + half + h.plant_w) / (h_is + self.air_w_k);
        ZoneTemperatures {
            mass_end_c,
            mass_c: mean,
            faces_c,
            air_c,
            operative_c: 0.3 * air_c + 0.7 * faces_c,
        }
    }

    /// Returns the power that keeps the air between two set points, within a limit either way, W, and the hour with it.
    ///
    /// The air follows the power along a line, so two trials give the power (Annex C.4).
    pub fn controlled(
        &self,
        mass_c: f64,
        h: &HourOfZone,
        heat_above_c: f64,
        cool_below_c: f64,
        limit_w: f64,
    ) -> (f64, ZoneTemperatures) {
        let at = |plant_w: f64| self.hour(mass_c, &HourOfZone { plant_w, ..*h });
        let free = at(0.0);
        let target = if free.air_c < heat_above_c {
            heat_above_c
        } else if free.air_c > cool_below_c {
            cool_below_c
        } else {
            return (0.0, free);
        };
        let trial_w = 10.0 * self.faces_m2 / 4.5;
        let trial = at(trial_w);
        let wanted = trial_w * (target - free.air_c) / (trial.air_c - free.air_c);
        let power = wanted.clamp(-limit_w, limit_w);
        (power, at(power))
    }
}

/// Where the mass of an element sits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MassClass {
    /// Inside.
    Inside,
    /// Outside.
    Outside,
    /// Inside and outside.
    Both,
    /// Evenly spread.
    Even,
    /// In the middle.
    Middle,
}

impl MassClass {
    /// Shares of the capacity on nodes 1 (outside) to 5 (inside).
    pub fn shares(self) -> [f64; 5] {
        match self {
            Self::Inside => [0.0, 0.0, 0.0, 0.0, 1.0],
            Self::Outside => [1.0, 0.0, 0.0, 0.0, 0.0],
            Self::Both => [0.5, 0.0, 0.0, 0.0, 0.5],
            Self::Even => [0.125, 0.25, 0.25, 0.25, 0.125],
            Self::Middle => [0.0, 0.0, 1.0, 0.0, 0.0],
        }
    }
}

/// An opaque element as five nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FiveNodes {
    /// Resistance between the faces, m²·K/W.
    pub resistance_m2k_w: f64,
    /// Capacity, J/(m²·K).
    pub capacity_j_m2k: f64,
    /// Where it sits.
    pub class: MassClass,
    /// Outside coefficient, all to one temperature, W/(m²·K).
    pub outside_w_m2k: f64,
    /// Inside coefficient, W/(m²·K).
    pub inside_w_m2k: f64,
}

impl FiveNodes {
    /// Returns the node temperatures, outside to inside, after an implicit step.
    pub fn step(&self, nodes_c: &[f64; 5], outdoor_c: f64, inside_c: f64, step_s: f64) -> [f64; 5] {
        let (outer, inner) = (6.0 / self.resistance_m2k_w, 3.0 / self.resistance_m2k_w);
        let h = [self.outside_w_m2k, outer, inner, inner, outer, self.inside_w_m2k];
        let shares = self.class.shares();
        // Tridiagonal: forward elimination, then backwards.
        let (mut c, mut d) = ([0.0; 5], [0.0; 5]);
        for i in 0..5 {
            let rate = shares[i] * self.capacity_j_m2k / step_s;
            let mut right = rate * nodes_c[i];
            if i == 0 {
                right += h[0] * outdoor_c;
            }
            if i == 4 {
                right += h[5] * inside_c;
            }
            let below = if i > 0 { h[i] } else { 0.0 };
            let (c_before, d_before) = if i > 0 { (c[i - 1], d[i - 1]) } else { (0.0, 0.0) };
            let pivot = rate + h[i] + h[i + 1] - below * c_before;
            c[i] = h[i + 1] / pivot;
            d[i] = (right + below * d_before) / pivot;
        }
        let mut t = [0.0; 5];
        for i in (0..5).rev() {
            t[i] = d[i] + if i < 4 { c[i] * t[i + 1] } else { 0.0 };
        }
        t
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_nodes_settle_at_the_steady_flux() {
        let wall = FiveNodes {
            resistance_m2k_w: 3.0,
            capacity_j_m2k: 110_000.0,
            class: MassClass::Even,
            outside_w_m2k: 24.14,
            inside_w_m2k: 7.63,
        };
        let mut nodes = [15.0; 5];
        for _ in 0..5000 {
            nodes = wall.step(&nodes, 0.0, 20.0, 3600.0);
        }
        let flux = 7.63 * (20.0 - nodes[4]);
        assert!((flux - 20.0 / (3.0 + 1.0 / 24.14 + 1.0 / 7.63)).abs() < 1e-9);
    }

    #[test]
    fn a_limited_plant_gives_no_more() {
        let zone = FiveResistances {
            windows_w_k: 18.0,
            opaque_w_k: 42.0,
            air_w_k: 25.5,
            mass_area_m2: 250.0,
            capacity_j_k: 16.5e6,
            faces_m2: 450.0,
        };
        let hour = HourOfZone { outdoor_c: -20.0, supply_c: -20.0, ..HourOfZone::default() };
        let (power, t) = zone.controlled(15.0, &hour, 20.0, 26.0, 500.0);
        assert_eq!(power, 500.0);
        assert!(t.air_c < 20.0);
        let (power, t) = zone.controlled(15.0, &hour, 20.0, 26.0, 1e6);
        assert!(power > 500.0 && (t.air_c - 20.0).abs() < 1e-9);
    }
}
