//! Heat transfer to the ground (ISO 13370): steady coefficients of every floor kind, month by month, and the
//! element that stands for the ground in an hourly balance.
//!
//! Start at [`Slab`], [`SuspendedFloor`] or [`Basement`]; [`monthly`] turns their coefficients into monthly heat
//! flow; [`hourly`] makes the layers and the ground temperature that the year engine steps through.
//!
//! All formulas are from memory of ISO 13370:2007 (the 2017 text keeps them with other symbols); the reference
//! cases repeat them independently. Not here: the wall–floor junction's linear transmittance.

pub mod hourly;
pub mod monthly;

use crate::error::{FabricError, positive, within};
use crate::working::Working;
use numeric::{exp, ln};
use std::f64::consts::PI;

/// Thermal properties of the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Soil {
    /// Conductivity, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Heat capacity per volume, J/(m³·K).
    pub heat_capacity_j_m3k: f64,
}

impl Soil {
    /// Clay or silt (ISO 13370:2007 Table 1).
    pub const CLAY_OR_SILT: Self = Self { conductivity_w_mk: 1.5, heat_capacity_j_m3k: 3.0e6 };
    /// Sand or gravel; also what to use when nothing is known (ISO 13370:2007 Table 1 and 5.1).
    pub const SAND_OR_GRAVEL: Self = Self { conductivity_w_mk: 2.0, heat_capacity_j_m3k: 2.0e6 };
    /// Homogeneous rock (ISO 13370:2007 Table 1).
    pub const ROCK: Self = Self { conductivity_w_mk: 3.5, heat_capacity_j_m3k: 2.0e6 };

    /// Returns the penetration depth of the yearly wave, m: `√(3.15e7 λ / (π ρc))`.
    pub fn yearly_depth_m(&self) -> f64 {
        (3.15e7 * self.conductivity_w_mk / (PI * self.heat_capacity_j_m3k)).sqrt()
    }

    /// The same, written into a working.
    fn shown_depth_m(&self, w: &mut Working) -> f64 {
        w.step("δ", "penetration depth of the year", self.yearly_depth_m(), "m", "ISO 13370 Annex A")
    }

    fn check(&self) -> Result<(), FabricError> {
        positive(|| "ground".into(), "conductivity, W/(m·K)", self.conductivity_w_mk)?;
        positive(|| "ground".into(), "heat capacity, J/(m³·K)", self.heat_capacity_j_m3k)?;
        Ok(())
    }
}

/// Surface resistance on a floor, m²·K/W.
pub const RSI_FLOOR: f64 = 0.17;
/// Surface resistance on a basement wall, m²·K/W.
pub const RSI_WALL: f64 = 0.13;
/// Surface resistance of the ground outdoors, m²·K/W.
pub const RSE_GROUND: f64 = 0.04;

/// Plan of a floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FloorPlan {
    /// Area, m².
    pub area_m2: f64,
    /// Perimeter exposed to outdoors or to unheated space outside the insulation, m.
    pub perimeter_m: f64,
    /// Full thickness of the walls at the perimeter, m.
    pub wall_thickness_m: f64,
}

impl FloorPlan {
    /// Returns the characteristic dimension B′ = A / (P/2), m.
    pub fn characteristic_dimension_m(&self) -> f64 {
        self.area_m2 / (0.5 * self.perimeter_m)
    }

    /// The same, written into a working.
    fn shown_dimension_m(&self, w: &mut Working) -> f64 {
        let b = self.characteristic_dimension_m();
        w.step("B′", "characteristic dimension", b, "m", "ISO 13370 8.1")
    }

    fn check(&self) -> Result<(), FabricError> {
        let what = || "floor".to_string();
        positive(what, "area, m²", self.area_m2)?;
        positive(what, "exposed perimeter, m (a floor without any loses nothing here)", self.perimeter_m)?;
        within(what, "wall thickness, m", self.wall_thickness_m, 0.0, 3.0)?;
        Ok(())
    }
}

/// Insulation along the edge of a slab.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeInsulation {
    /// Along the slab or down the foundation.
    pub place: EdgePlace,
    /// Width (along the slab) or depth below ground (down the foundation) D, m.
    pub reach_m: f64,
    /// Resistance of the edge insulation, m²·K/W.
    pub resistance_m2k_w: f64,
    /// Its thickness, m.
    pub thickness_m: f64,
}

/// Where edge insulation lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgePlace {
    /// Flat, along the perimeter.
    Horizontal,
    /// Upright, down the foundation.
    Vertical,
}

/// A slab on the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slab {
    /// Plan.
    pub plan: FloorPlan,
    /// Ground.
    pub soil: Soil,
    /// Resistance of all layers of the floor (dense slabs and thin coverings may be left out), m²·K/W.
    pub floor_m2k_w: f64,
    /// Edge insulation.
    pub edge: Option<EdgeInsulation>,
}

/// Steady and yearly-periodic transfer between a space and outdoors through the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundTransfer {
    /// Transmittance per floor area, W/(m²·K).
    pub u_w_m2k: f64,
    /// Area the transmittance refers to, m².
    pub area_m2: f64,
    /// Steady coefficient Hg = U A (with edge effect), W/K.
    pub steady_w_k: f64,
    /// Periodic coefficient for the swing of the inside temperature, W/K.
    pub inside_swing_w_k: f64,
    /// Periodic coefficient for the swing of the outside temperature, W/K.
    pub outside_swing_w_k: f64,
    /// Months by which the heat flow leads the inside temperature.
    pub lead_months: f64,
    /// Months by which the heat flow lags the outside temperature.
    pub lag_months: f64,
    /// The working.
    pub working: Working,
}

fn deep_or_wide(lambda: f64, b: f64, d: f64) -> f64 {
    if d < b { 2.0 * lambda / (PI * b + d) * ln(PI * b / d + 1.0) } else { lambda / (0.457 * b + d) }
}

/// Periodic term λ/d √(2 / ((1 + δ/d)² + 1)), W/(m²·K).
fn inside_term(lambda: f64, delta: f64, d: f64) -> f64 {
    let x = 1.0 + delta / d;
    lambda / d * (2.0 / (x * x + 1.0)).sqrt()
}

impl Slab {
    /// Works out the transfer.
    ///
    /// ```text
    /// dt = w + λ (Rsi + Rf + Rse)
    /// U₀ = 2λ / (π B′ + dt) ln(π B′/dt + 1)   for dt < B′,   λ / (0.457 B′ + dt) otherwise
    /// U  = U₀ + 2 Ψge / B′                     with edge insulation
    /// ```
    ///
    /// # Errors
    /// [`FabricError`] names the quantity that is out of range.
    /// # Source
    /// ISO 13370:2007 clause 9.1, Annexes A and B (from memory).
    pub fn transfer(&self) -> Result<GroundTransfer, FabricError> {
        self.plan.check()?;
        self.soil.check()?;
        within(|| "slab".into(), "floor resistance, m²·K/W", self.floor_m2k_w, 0.0, 100.0)?;
        let mut w = Working::new();
        let lambda = self.soil.conductivity_w_mk;
        let (a, p) = (self.plan.area_m2, self.plan.perimeter_m);
        let b = self.plan.shown_dimension_m(&mut w);
        let rf = RSI_FLOOR + self.floor_m2k_w + RSE_GROUND;
        let dt = self.plan.wall_thickness_m + lambda * rf;
        w.step("dt", "equivalent thickness of the floor", dt, "m", "ISO 13370 8.2");
        let u0 = w.step(
            "U₀",
            "transmittance without edge effect",
            deep_or_wide(lambda, b, dt),
            "W/(m²·K)",
            "ISO 13370 9.1",
        );
        let delta = self.soil.shown_depth_m(&mut w);
        let (u, extra, reach) = match &self.edge {
            None => (u0, 0.0, 0.0),
            Some(edge) => {
                let (psi, extra, reach) = self.edge_effect(edge, dt)?;
                w.step("Ψge", "edge insulation", psi, "W/(m·K)", "ISO 13370 Annex B");
                (u0 + 2.0 * psi / b, extra, reach)
            }
        };
        let inside = a * inside_term(lambda, delta, dt);
        // Without edge insulation the extra thickness is none and the weights do not matter.
        let near = exp(-reach / delta);
        let outside =
            0.37 * p * lambda * ((1.0 - near) * ln(delta / (dt + extra) + 1.0) + near * ln(delta / dt + 1.0));
        w.step("Hpi", "periodic coefficient, inside", inside, "W/K", "ISO 13370 Annex A");
        w.step("Hpe", "periodic coefficient, outside", outside, "W/K", "ISO 13370 Annex A");
        w.step("U", "transmittance", u, "W/(m²·K)", "ISO 13370 9.1");
        let upright = matches!(self.edge, Some(EdgeInsulation { place: EdgePlace::Vertical, .. }));
        Ok(GroundTransfer {
            u_w_m2k: u,
            area_m2: a,
            steady_w_k: u * a,
            inside_swing_w_k: inside,
            outside_swing_w_k: outside,
            lead_months: 0.0,
            lag_months: if upright { 2.0 } else { 1.0 },
            working: w,
        })
    }

    /// Ψge, the extra equivalent thickness d′, and the reach that counts (twice the depth for upright insulation).
    fn edge_effect(&self, edge: &EdgeInsulation, dt: f64) -> Result<(f64, f64, f64), FabricError> {
        let what = || "edge insulation".to_string();
        let lambda = self.soil.conductivity_w_mk;
        let d = positive(what, "reach, m", edge.reach_m)?;
        positive(what, "resistance, m²·K/W", edge.resistance_m2k_w)?;
        within(what, "thickness, m", edge.thickness_m, 0.0, 1.0)?;
        let extra_r = edge.resistance_m2k_w - edge.thickness_m / lambda;
        let extra =
            positive(what, "resistance beyond that of the ground it replaces, m²·K/W", extra_r)? * lambda;
        let reach = match edge.place {
            EdgePlace::Horizontal => d,
            EdgePlace::Vertical => 2.0 * d,
        };
        let psi = -lambda / PI * (ln(reach / dt + 1.0) - ln(reach / (dt + extra) + 1.0));
        Ok((psi, extra, reach))
    }
}

/// A floor over a ventilated space above the ground: suspended floor or crawl space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SuspendedFloor {
    /// Plan.
    pub plan: FloorPlan,
    /// Ground.
    pub soil: Soil,
    /// Transmittance of the suspended part, room to underfloor space, W/(m²·K).
    pub floor_u_w_m2k: f64,
    /// Resistance of insulation on the base of the underfloor space, m²·K/W.
    pub base_m2k_w: f64,
    /// Mean height of the floor above outside ground, m.
    pub height_m: f64,
    /// Transmittance of the walls of the underfloor space above ground, W/(m²·K).
    pub wall_u_w_m2k: f64,
    /// Area of ventilation openings per length of perimeter, m²/m.
    pub openings_m2_m: f64,
    /// Mean wind speed at 10 m, m/s.
    pub wind_m_s: f64,
    /// Wind shielding factor: 0.02 sheltered (town), 0.05 average (suburb), 0.10 exposed (country).
    pub shielding: f64,
}

impl SuspendedFloor {
    /// Works out the transfer.
    ///
    /// ```text
    /// 1/U = 1/Uf + 1/(Ug + Ux),   dg = w + λ (Rsi + Rg + Rse),   Ug = 2λ / (π B′ + dg) ln(π B′/dg + 1)
    /// Ux = 2 h Uw / B′ + 1450 ε v fw / B′
    /// ```
    ///
    /// # Errors
    /// [`FabricError`] names the quantity that is out of range.
    /// # Source
    /// ISO 13370:2007 clause 9.2, Annex A (from memory).
    pub fn transfer(&self) -> Result<GroundTransfer, FabricError> {
        self.plan.check()?;
        self.soil.check()?;
        let what = || "suspended floor".to_string();
        let uf = positive(what, "transmittance of the floor, W/(m²·K)", self.floor_u_w_m2k)?;
        within(what, "insulation on the base, m²·K/W", self.base_m2k_w, 0.0, 100.0)?;
        within(what, "height above ground, m", self.height_m, 0.0, 3.0)?;
        within(what, "transmittance of the walls, W/(m²·K)", self.wall_u_w_m2k, 0.0, 10.0)?;
        within(what, "openings, m²/m", self.openings_m2_m, 0.0, 1.0)?;
        within(what, "wind speed, m/s", self.wind_m_s, 0.0, 30.0)?;
        within(what, "shielding factor", self.shielding, 0.0, 1.0)?;
        let mut w = Working::new();
        let (a, p, lambda) = (self.plan.area_m2, self.plan.perimeter_m, self.soil.conductivity_w_mk);
        let b = self.plan.shown_dimension_m(&mut w);
        let dg = self.plan.wall_thickness_m + lambda * (RSI_FLOOR + self.base_m2k_w + RSE_GROUND);
        w.step("dg", "equivalent thickness of the base", dg, "m", "ISO 13370 9.2");
        let ug = w.step(
            "Ug",
            "base to outdoors",
            2.0 * lambda / (PI * b + dg) * ln(PI * b / dg + 1.0),
            "W/(m²·K)",
            "ISO 13370 9.2",
        );
        let ux = 2.0 * self.height_m * self.wall_u_w_m2k / b
            + 1450.0 * self.openings_m2_m * self.wind_m_s * self.shielding / b;
        w.step("Ux", "walls and ventilation of the underfloor space", ux, "W/(m²·K)", "ISO 13370 9.2");
        let u = 1.0 / (1.0 / uf + 1.0 / (ug + ux));
        let delta = self.soil.shown_depth_m(&mut w);
        let below = lambda / delta + ux;
        let inside = a / (1.0 / uf + 1.0 / below);
        let outside = uf * (0.37 * p * lambda * ln(delta / dg + 1.0) + ux * a) / (below + uf);
        w.step("Hpi", "periodic coefficient, inside", inside, "W/K", "ISO 13370 Annex A");
        w.step("Hpe", "periodic coefficient, outside", outside, "W/K", "ISO 13370 Annex A");
        w.step("U", "transmittance", u, "W/(m²·K)", "ISO 13370 9.2");
        Ok(GroundTransfer {
            u_w_m2k: u,
            area_m2: a,
            steady_w_k: u * a,
            inside_swing_w_k: inside,
            outside_swing_w_k: outside,
            lead_months: 0.0,
            lag_months: 0.0,
            working: w,
        })
    }
}

/// A basement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Basement {
    /// Plan of the basement floor; the wall thickness is that of the walls at ground level.
    pub plan: FloorPlan,
    /// Ground.
    pub soil: Soil,
    /// Depth of the basement floor below ground z, m.
    pub depth_m: f64,
    /// Resistance of the basement floor, m²·K/W.
    pub floor_m2k_w: f64,
    /// Resistance of the basement walls, m²·K/W.
    pub wall_m2k_w: f64,
}

/// Transfer of a heated basement: floor and walls apart, and together.
#[derive(Clone, Debug, PartialEq)]
pub struct BasementTransfer {
    /// Transmittance of the basement floor, W/(m²·K).
    pub floor_u_w_m2k: f64,
    /// Transmittance of the basement walls below ground, W/(m²·K).
    pub wall_u_w_m2k: f64,
    /// Wall area below ground z P, m².
    pub wall_area_m2: f64,
    /// Both together; its U refers to floor and walls.
    pub whole: GroundTransfer,
}

/// What lies above and beside an unheated basement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnheatedBasement {
    /// The basement.
    pub basement: Basement,
    /// Transmittance of the floor between room and basement, W/(m²·K).
    pub floor_above_u_w_m2k: f64,
    /// Height of the basement walls above ground, m.
    pub height_m: f64,
    /// Transmittance of these walls, W/(m²·K).
    pub wall_above_u_w_m2k: f64,
    /// Air change of the basement, 1/h.
    pub air_change_per_h: f64,
    /// Air volume of the basement, m³.
    pub volume_m3: f64,
}

impl Basement {
    /// Works out the transfer of the heated basement.
    ///
    /// ```text
    /// Ubf = 2λ / (π B′ + dt + z/2) ln(π B′/(dt + z/2) + 1)   for dt + z/2 < B′, else λ / (0.457 B′ + dt + z/2)
    /// Ubw = 2λ / (π z) (1 + dt / (2 (dt + z))) ln(z/dw + 1),  dw = λ (Rsi + Rw + Rse), dt ≤ dw here
    /// Hg = A Ubf + z P Ubw
    /// ```
    ///
    /// # Errors
    /// [`FabricError`] names the quantity that is out of range.
    /// # Source
    /// ISO 13370:2007 clause 9.3, Annex A (from memory).
    pub fn transfer(&self) -> Result<BasementTransfer, FabricError> {
        self.plan.check()?;
        self.soil.check()?;
        let what = || "basement".to_string();
        let z = positive(what, "depth, m", self.depth_m)?;
        within(what, "floor resistance, m²·K/W", self.floor_m2k_w, 0.0, 100.0)?;
        within(what, "wall resistance, m²·K/W", self.wall_m2k_w, 0.0, 100.0)?;
        let mut w = Working::new();
        let (a, p, lambda) = (self.plan.area_m2, self.plan.perimeter_m, self.soil.conductivity_w_mk);
        let b = self.plan.shown_dimension_m(&mut w);
        let dt = self.plan.wall_thickness_m + lambda * (RSI_FLOOR + self.floor_m2k_w + RSE_GROUND);
        w.step("dt", "equivalent thickness of the floor", dt, "m", "ISO 13370 9.3");
        let dw = lambda * (RSI_WALL + self.wall_m2k_w + RSE_GROUND);
        w.step("dw", "equivalent thickness of the walls", dw, "m", "ISO 13370 9.3");
        let ubf = deep_or_wide(lambda, b, dt + 0.5 * z);
        w.step("Ubf", "basement floor", ubf, "W/(m²·K)", "ISO 13370 9.3");
        let top = dt.min(dw);
        let ubw = 2.0 * lambda / (PI * z) * (1.0 + 0.5 * top / (top + z)) * ln(z / dw + 1.0);
        w.step("Ubw", "basement walls", ubw, "W/(m²·K)", "ISO 13370 9.3");
        let steady = w.step("Hg", "steady coefficient", a * ubf + z * p * ubw, "W/K", "ISO 13370 9.3");
        let delta = self.soil.shown_depth_m(&mut w);
        let inside = a * inside_term(lambda, delta, dt) + z * p * inside_term(lambda, delta, dw);
        let near = exp(-z / delta);
        let outside =
            0.37 * p * lambda * (near * ln(delta / dt + 1.0) + 2.0 * (1.0 - near) * ln(delta / dw + 1.0));
        w.step("Hpi", "periodic coefficient, inside", inside, "W/K", "ISO 13370 Annex A");
        w.step("Hpe", "periodic coefficient, outside", outside, "W/K", "ISO 13370 Annex A");
        let area = a + z * p;
        let u =
            w.step("U", "mean transmittance of floor and walls", steady / area, "W/(m²·K)", "ISO 13370 9.3");
        Ok(BasementTransfer {
            floor_u_w_m2k: ubf,
            wall_u_w_m2k: ubw,
            wall_area_m2: z * p,
            whole: GroundTransfer {
                u_w_m2k: u,
                area_m2: area,
                steady_w_k: steady,
                inside_swing_w_k: inside,
                outside_swing_w_k: outside,
                lead_months: 0.0,
                lag_months: 1.0,
                working: w,
            },
        })
    }
}

impl UnheatedBasement {
    /// Works out the transfer between the room above and outdoors.
    ///
    /// ```text
    /// 1/U = 1/Uf + A / (A Ubf + z P Ubw + h P Uw + 0.33 n V)
    /// ```
    ///
    /// # Errors
    /// [`FabricError`] names the quantity that is out of range.
    /// # Source
    /// ISO 13370:2007 clause 9.4, Annex A (from memory).
    pub fn transfer(&self) -> Result<GroundTransfer, FabricError> {
        let below = self.basement.transfer()?;
        let what = || "unheated basement".to_string();
        let uf = positive(what, "transmittance of the floor above, W/(m²·K)", self.floor_above_u_w_m2k)?;
        within(what, "height above ground, m", self.height_m, 0.0, 5.0)?;
        within(what, "transmittance of walls above ground, W/(m²·K)", self.wall_above_u_w_m2k, 0.0, 10.0)?;
        within(what, "air change, 1/h", self.air_change_per_h, 0.0, 20.0)?;
        within(what, "volume, m³", self.volume_m3, 0.0, 1e6)?;
        let mut w = below.whole.working.clone();
        let plan = &self.basement.plan;
        let (a, p, z) = (plan.area_m2, plan.perimeter_m, self.basement.depth_m);
        let lambda = self.basement.soil.conductivity_w_mk;
        let above =
            self.height_m * p * self.wall_above_u_w_m2k + 0.33 * self.air_change_per_h * self.volume_m3;
        w.step("Hx", "walls above ground and air change", above, "W/K", "ISO 13370 9.4");
        let u = 1.0 / (1.0 / uf + a / (below.whole.steady_w_k + above));
        let delta = self.basement.soil.yearly_depth_m();
        let to_ground = (a + z * p) * lambda / delta + above;
        let inside = 1.0 / (1.0 / (a * uf) + 1.0 / to_ground);
        let dt = w.value("dt").unwrap_or(f64::NAN);
        let swing = 0.37 * p * lambda * (2.0 - exp(-z / delta)) * ln(delta / dt + 1.0) + above;
        let outside = a * uf * swing / (to_ground + a * uf);
        w.step("Hpi", "periodic coefficient, inside", inside, "W/K", "ISO 13370 Annex A");
        w.step("Hpe", "periodic coefficient, outside", outside, "W/K", "ISO 13370 Annex A");
        w.step("U", "transmittance room to outdoors", u, "W/(m²·K)", "ISO 13370 9.4");
        Ok(GroundTransfer {
            u_w_m2k: u,
            area_m2: a,
            steady_w_k: u * a,
            inside_swing_w_k: inside,
            outside_swing_w_k: outside,
            lead_months: 0.0,
            lag_months: 1.0,
            working: w,
        })
    }
}

#[cfg(test)]
mod tests;
