//! Periodic heat flow through layers by exact transfer matrices (ISO 13786), and their step response.
//!
//! A [`Transfer`] carries temperature and heat flux density (positive inside → outside) from the inside face of
//! a stack to its outside face, for temperatures that vary as `exp(s t)`. Start at [`response`].
//!
//! Not here: the reduced form for stepping through a year (`transient`), which is held against this module.

use crate::Complex;
use crate::error::{FabricError, positive};
use crate::transient::{Admittance, ConductionLayer};
use numeric::{exp, scalar};
use std::f64::consts::PI;

/// Transfer matrix of a stack: `(T, q) outside = Z · (T, q) inside`, q positive inside → outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// Temperature per temperature.
    pub z11: Complex,
    /// Temperature per flux, m²·K/W.
    pub z12: Complex,
    /// Flux per temperature, W/(m²·K).
    pub z21: Complex,
    /// Flux per flux.
    pub z22: Complex,
}

impl Transfer {
    /// The transfer of nothing.
    pub const IDENTITY: Self =
        Self { z11: Complex::ONE, z12: Complex::ZERO, z21: Complex::ZERO, z22: Complex::ONE };

    /// Returns the transfer of a resistance, m²·K/W, without capacity.
    pub fn resistance(resistance_m2k_w: f64) -> Self {
        Self { z12: Complex::real(-resistance_m2k_w), ..Self::IDENTITY }
    }

    /// Returns the transfer of one layer at the complex rate `s`, 1/s.
    ///
    /// ```text
    /// g = √(s R C):  Z11 = Z22 = cosh g,  Z12 = −R sinh g / g,  Z21 = −(g / R) sinh g
    /// ```
    /// Source: ISO 13786:2017, 7.3 (from memory; the reference cases use the same form).
    pub fn layer(layer: &ConductionLayer, s: Complex) -> Self {
        let resistance = layer.resistance_m2k_w();
        let capacity = layer.capacity_j_m2k();
        if capacity == 0.0 {
            return Self::resistance(resistance);
        }
        let g2 = s.scale(resistance * capacity);
        let (cosh, sinhc) = cosh_sinhc(g2);
        Self { z11: cosh, z12: -sinhc.scale(resistance), z21: -(s * sinhc).scale(capacity), z22: cosh }
    }

    /// Returns the transfer of layers given inside → outside at the complex rate `s`, 1/s.
    pub fn of_layers(layers: &[ConductionLayer], s: Complex) -> Self {
        layers.iter().fold(Self::IDENTITY, |stack, layer| stack.then(Self::layer(layer, s)))
    }

    /// Returns the transfer of this stack followed, further out, by another.
    pub fn then(self, outer: Self) -> Self {
        Self {
            z11: outer.z11 * self.z11 + outer.z12 * self.z21,
            z12: outer.z11 * self.z12 + outer.z12 * self.z22,
            z21: outer.z21 * self.z11 + outer.z22 * self.z21,
            z22: outer.z21 * self.z12 + outer.z22 * self.z22,
        }
    }

    /// Returns the flux into the stack at each face per kelvin at each face, W/(m²·K).
    pub fn admittance(&self) -> Admittance {
        let y = self.z12.recip();
        Admittance { inside: -(self.z11 * y), outside: -(self.z22 * y), cross: y }
    }
}

/// Returns the face admittances of layers, given inside → outside, at the complex rate `s`, 1/s.
///
/// Does not overflow, however thick the layers: the coupling of the faces then falls to zero. Something must resist.
pub fn admittance(layers: &[ConductionLayer], s: Complex) -> Admittance {
    let (mut stack, mut depth) = (Transfer::IDENTITY, 0.0);
    for layer in layers {
        let c = layer.capacity_j_m2k();
        let r = layer.resistance_m2k_w();
        let (cosh, sinhc, own) = scaled_cosh_sinhc(s.scale(r * c));
        let z = Transfer { z11: cosh, z12: -sinhc.scale(r), z21: -(s * sinhc).scale(c), z22: cosh };
        stack = stack.then(z);
        depth += own;
    }
    let y = stack.z12.recip();
    Admittance { inside: -(stack.z11 * y), outside: -(stack.z22 * y), cross: y.scale(exp(-depth)) }
}

/// Returns `cosh √x` and `sinh √x / √x`; both are entire functions of `x`, so the root's sign does not matter.
pub(crate) fn cosh_sinhc(x: Complex) -> (Complex, Complex) {
    let (cosh, sinhc, depth) = scaled_cosh_sinhc(x);
    let scale = if depth == 0.0 { 1.0 } else { exp(depth) };
    (cosh.scale(scale), sinhc.scale(scale))
}

/// The same divided by `exp(depth)`, with that depth: 0, or Re √x where the functions would grow out of range.
pub(crate) fn scaled_cosh_sinhc(x: Complex) -> (Complex, Complex, f64) {
    if x.norm_sqr() < 1e-4 {
        // Series: the quotient below would lose digits. Fifth terms are under 1e-16 of the sum here.
        let term = |factors: [f64; 5]| {
            factors.iter().rev().fold(Complex::ZERO, |sum, &f| Complex::real(f) + sum * x)
        };
        return (
            term([1.0, 1.0 / 2.0, 1.0 / 24.0, 1.0 / 720.0, 1.0 / 40_320.0]),
            term([1.0, 1.0 / 6.0, 1.0 / 120.0, 1.0 / 5_040.0, 1.0 / 362_880.0]),
            0.0,
        );
    }
    let g = x.sqrt();
    let depth = if g.re > 20.0 { g.re } else { 0.0 };
    let (sin, cos) = scalar::sin_cos(g.im);
    let (up, down) = (exp(g.re - depth), exp(-g.re - depth));
    let (cosh_re, sinh_re) = (0.5 * (up + down), 0.5 * (up - down));
    let cosh = Complex::new(cosh_re * cos, sinh_re * sin);
    let sinh = Complex::new(sinh_re * cos, cosh_re * sin);
    (cosh, sinh / g, depth)
}

/// Dynamic thermal characteristics of an element between two environments (ISO 13786).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PeriodicResponse {
    /// Period, s.
    pub period_s: f64,
    /// Steady transmittance, W/(m²·K).
    pub u_w_m2k: f64,
    /// The whole transfer matrix, films included.
    pub transfer: Transfer,
    /// Inside admittance Y11 = −Z11/Z12, W/(m²·K).
    pub admittance_inside: Complex,
    /// Outside admittance Y22 = −Z22/Z12, W/(m²·K).
    pub admittance_outside: Complex,
    /// Periodic transmittance Y12 = −1/Z12, W/(m²·K).
    pub transmittance: Complex,
    /// Time by which the inside heat flow lags the outside temperature, h, unwrapped.
    pub transmittance_lag_h: f64,
    /// Areal heat capacity seen from inside κ1, J/(m²·K).
    pub capacity_inside_j_m2k: f64,
    /// Areal heat capacity seen from outside κ2, J/(m²·K).
    pub capacity_outside_j_m2k: f64,
}

impl PeriodicResponse {
    /// Returns the decrement factor f = |Y12| / U.
    pub fn decrement_factor(&self) -> f64 {
        self.transmittance.abs() / self.u_w_m2k
    }

    /// Returns the time by which the inside heat flow leads the inside temperature, h.
    pub fn inside_lead_h(&self) -> f64 {
        lead_h(self.admittance_inside, self.period_s)
    }

    /// Returns the time by which the outside heat flow leads the outside temperature, h.
    pub fn outside_lead_h(&self) -> f64 {
        lead_h(self.admittance_outside, self.period_s)
    }
}

fn lead_h(y: Complex, period_s: f64) -> f64 {
    argument(y) * period_s / (2.0 * PI) / 3600.0
}

/// Returns the argument of a complex number, radians in (−π, π].
pub(crate) fn argument(z: Complex) -> f64 {
    scalar::atan2(z.im, z.re)
}

/// Returns the dynamic thermal characteristics of layers between two surface resistances.
///
/// | symbol   | argument          | unit   | shape               |
/// |----------|-------------------|--------|---------------------|
/// | layers   | `layers`          |        | n, inside → outside |
/// | Rsi, Rse | `rsi`, `rse`      | m²·K/W | scalar, zero or more|
/// | T        | `period_s`        | s      | scalar, above zero  |
///
/// # Errors
/// [`FabricError`] when a layer or the period is not above zero, when nothing resists, or when the layers are so
/// thick for the period that the matrix overflows (several hundred penetration depths).
/// # Source
/// ISO 13786:2017, clauses 4 and 7 (from memory).
pub fn response(
    layers: &[ConductionLayer],
    rsi_m2k_w: f64,
    rse_m2k_w: f64,
    period_s: f64,
) -> Result<PeriodicResponse, FabricError> {
    check_layers(layers)?;
    positive(|| "periodic response".into(), "period, s", period_s)?;
    let resistance: f64 = rsi_m2k_w + rse_m2k_w + layers.iter().map(|l| l.resistance_m2k_w()).sum::<f64>();
    let omega = 2.0 * PI / period_s;
    let whole = |omega: f64| {
        let s = Complex::new(0.0, omega);
        Transfer::resistance(rsi_m2k_w)
            .then(Transfer::of_layers(layers, s))
            .then(Transfer::resistance(rse_m2k_w))
    };
    let transfer = whole(omega);
    if !(transfer.z12.abs() > 0.0 && transfer.z11.abs().is_finite() && transfer.z22.abs().is_finite()) {
        return Err(FabricError::Numerical {
            what: "periodic response".into(),
            detail: format!("the layers are too thick for a period of {period_s} s to be followed through"),
        });
    }
    let y = transfer.admittance();
    let storage = |z: Complex| ((z - Complex::ONE) * y.cross).abs() / omega;
    Ok(PeriodicResponse {
        period_s,
        u_w_m2k: 1.0 / resistance,
        transfer,
        admittance_inside: y.inside,
        admittance_outside: y.outside,
        transmittance: -y.cross,
        transmittance_lag_h: unwrapped_lag_rad(layers, omega, &whole) / omega / 3600.0,
        capacity_inside_j_m2k: storage(transfer.z11),
        capacity_outside_j_m2k: storage(transfer.z22),
    })
}

/// Follows the phase of −Z12 from zero frequency up, so that whole turns are counted.
fn unwrapped_lag_rad(layers: &[ConductionLayer], omega: f64, whole: &dyn Fn(f64) -> Transfer) -> f64 {
    // The phase grows about as the sum of √(ω R C / 2); steps of half a radian cannot miss a turn.
    let reach: f64 = layers.iter().map(|l| (omega * l.resistance_m2k_w() * l.capacity_j_m2k()).sqrt()).sum();
    let steps = (2.0 * reach).ceil().max(4.0);
    let mut phase = 0.0;
    let mut k = 1.0;
    while k <= steps {
        let share = k / steps;
        let here = argument(-whole(omega * share * share).z12);
        let turns = ((phase - here) / (2.0 * PI)).round();
        phase = here + turns * 2.0 * PI;
        k += 1.0;
    }
    phase
}

/// Checks every layer and that something resists.
pub(crate) fn check_layers(layers: &[ConductionLayer]) -> Result<(), FabricError> {
    for (index, layer) in layers.iter().enumerate() {
        let what = || format!("layer {}", index + 1);
        match *layer {
            ConductionLayer::Solid { thickness_m, conductivity_w_mk, density_kg_m3, specific_heat_j_kgk } => {
                positive(what, "thickness, m", thickness_m)?;
                positive(what, "conductivity, W/(m·K)", conductivity_w_mk)?;
                positive(what, "density, kg/m³", density_kg_m3)?;
                positive(what, "specific heat, J/(kg·K)", specific_heat_j_kgk)?;
            }
            ConductionLayer::Resistance { resistance_m2k_w } => {
                if !(resistance_m2k_w >= 0.0 && resistance_m2k_w.is_finite()) {
                    return Err(FabricError::OutOfRange {
                        what: what(),
                        quantity: "resistance, m²·K/W",
                        value: resistance_m2k_w,
                        low: 0.0,
                        high: f64::MAX,
                    });
                }
            }
        }
    }
    let resistance: f64 = layers.iter().map(|l| l.resistance_m2k_w()).sum();
    if resistance > 0.0 { Ok(()) } else { Err(FabricError::NoResistance { what: "element".into() }) }
}

/// Response to a unit step of the air on one side, the other air held at zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepResponse {
    /// Inside surface temperature, K per K.
    pub inside_surface: f64,
    /// Outside surface temperature, K per K.
    pub outside_surface: f64,
    /// Heat flow into the inside room, W/m² per K.
    pub into_room_w_m2: f64,
    /// Heat flow into the element from outdoors, W/m² per K.
    pub from_outdoors_w_m2: f64,
}

/// Side on which the air steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The room.
    Inside,
    /// Outdoors.
    Outside,
}

/// Returns the response at time `time_s` to a unit step of the air on one side at time zero.
///
/// The layer matrices are inverted from Laplace space on Talbot's contour with 22 nodes; the error is near 1e-9
/// of the step (J. Abate, W. Whitt, INFORMS J. Computing 18, 2006: digits ≈ 0.6 times the nodes, limited by
/// rounding). `layers` run inside → outside; surface resistances in m²·K/W must be above zero on the stepped side.
///
/// # Errors
/// As [`response`], and when `time_s` is not above zero.
pub fn step_response(
    layers: &[ConductionLayer],
    rsi_m2k_w: f64,
    rse_m2k_w: f64,
    side: Side,
    time_s: f64,
) -> Result<StepResponse, FabricError> {
    check_layers(layers)?;
    let what = || "step response".to_string();
    positive(what, "time, s", time_s)?;
    positive(what, "inside surface resistance, m²·K/W", rsi_m2k_w)?;
    positive(what, "outside surface resistance, m²·K/W", rse_m2k_w)?;
    let film = ConductionLayer::resistance;
    let filmed: Vec<ConductionLayer> =
        [film(rsi_m2k_w)].into_iter().chain(layers.iter().copied()).chain([film(rse_m2k_w)]).collect();
    // Quantities are found as deviations of the flux from the air; surfaces follow through the films.
    let fluxes = |s: Complex| {
        let y = admittance(&filmed, s);
        match side {
            Side::Inside => (y.inside / s, y.cross / s),
            Side::Outside => (y.cross / s, y.outside / s),
        }
    };
    let (inside, outside) = talbot(fluxes, time_s);
    let (air_in, air_out) = match side {
        Side::Inside => (1.0, 0.0),
        Side::Outside => (0.0, 1.0),
    };
    Ok(StepResponse {
        inside_surface: air_in - rsi_m2k_w * inside,
        outside_surface: air_out - rse_m2k_w * outside,
        into_room_w_m2: -inside,
        from_outdoors_w_m2: outside,
    })
}

/// Inverts two Laplace transforms at one time on the fixed Talbot contour.
pub(crate) fn talbot(transform: impl Fn(Complex) -> (Complex, Complex), time_s: f64) -> (f64, f64) {
    const NODES: u32 = 22;
    let m = f64::from(NODES);
    let r = 2.0 * m / (5.0 * time_s);
    let (a, b) = transform(Complex::real(r));
    let lead = 0.5 * exp(r * time_s);
    let mut sums = (lead * a.re, lead * b.re);
    for k in 1..NODES {
        let theta = f64::from(k) * PI / m;
        let (sin, cos) = scalar::sin_cos(theta);
        let cot = cos / sin;
        let s = Complex::new(r * theta * cot, r * theta);
        let sigma = theta + (theta * cot - 1.0) * cot;
        let grow = exp(s.re * time_s);
        let (turn_sin, turn_cos) = scalar::sin_cos(s.im * time_s);
        let weight = Complex::new(grow * turn_cos, grow * turn_sin) * Complex::new(1.0, sigma);
        let (a, b) = transform(s);
        sums.0 += (weight * a).re;
        sums.1 += (weight * b).re;
    }
    (sums.0 * r / m, sums.1 * r / m)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn concrete_outside_insulation() -> Vec<ConductionLayer> {
        vec![
            ConductionLayer::solid(0.2, 1.8, 2400.0, 1000.0),
            ConductionLayer::solid(0.1, 0.04, 30.0, 1400.0),
            ConductionLayer::solid(0.005, 1.0, 1200.0, 1500.0),
        ]
    }

    #[test]
    fn determinant_is_one() {
        let z = Transfer::of_layers(&concrete_outside_insulation(), Complex::new(1e-6, 7.3e-5));
        let det = z.z11 * z.z22 - z.z12 * z.z21;
        assert!((det - Complex::ONE).abs() < 1e-10);
    }

    #[test]
    fn series_meets_closed_form() {
        // Just either side of the switch the two branches agree.
        let below = cosh_sinhc(Complex::new(0.0, 0.009_999));
        let above = cosh_sinhc(Complex::new(0.0, 0.010_001));
        assert!((below.0 - above.0).abs() < 2e-6 && (below.1 - above.1).abs() < 1e-6);
        let g = Complex::new(0.005_f64, 0.009);
        let (cosh, sinhc) = cosh_sinhc(g * g);
        let identity = cosh * cosh - g * g * sinhc * sinhc;
        assert!((identity - Complex::ONE).abs() < 1e-15);
    }

    #[test]
    fn lag_counts_whole_turns() {
        // A wall so thick that the lag passes one period.
        let wall = [ConductionLayer::solid(1.2, 0.7, 1700.0, 800.0)];
        let day = response(&wall, 0.13, 0.04, 86_400.0).unwrap();
        assert!(day.transmittance_lag_h > 24.0, "{}", day.transmittance_lag_h);
        assert!((day.transmittance.abs() - day.transfer.z12.abs().recip()).abs() < 1e-15);
    }

    #[test]
    fn long_step_is_steady() {
        let r = step_response(&concrete_outside_insulation(), 0.13, 0.04, Side::Outside, 3.0e6).unwrap();
        let u = 1.0 / (0.13 + 0.2 / 1.8 + 2.5 + 0.005 + 0.04);
        assert!((r.into_room_w_m2 - u).abs() < 1e-6, "{r:?} {u}");
        assert!((r.from_outdoors_w_m2 - u).abs() < 1e-6);
    }
}
