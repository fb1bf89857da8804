//! The ground in an hourly balance: real layers, some soil, a virtual layer, and a temperature below it.
//!
//! The floor keeps its layers. Below them lie 0.5 m of ground, a virtual layer without mass that brings the whole to
//! the ground's transmittance, and a virtual temperature that makes the heat flow that of the monthly method, in every
//! month, at the reference inside temperature. The yearly mean of the virtual temperature is that of outdoors, so the heat of a
//! year equals ISO 13370's for *any* inside temperature; its swing is right near the reference one.
//! Source: ISO 13370:2017 Annex F and ISO 52016-1:2017, 6.5.8 (from memory).

use super::monthly::{YearlyTemperature, flow_at_month};
use super::{GroundTransfer, RSI_FLOOR, Soil};
use crate::Complex;
use crate::error::{FabricError, positive};
use crate::periodic::{self, PeriodicResponse};
use crate::transient::ConductionLayer;
use numeric::scalar;
use std::f64::consts::PI;

/// Density given to the soil layer; only its product with the specific heat matters.
const SOIL_DENSITY_KG_M3: f64 = 2000.0;
/// Thickness of ground that takes part hour by hour, m.
const SOIL_THICKNESS_M: f64 = 0.5;
/// A year of 8760 h, s.
const YEAR_S: f64 = 8760.0 * 3600.0;

/// Layers from the floor's surface down to the virtual ground temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundElement {
    /// Layers, inside → virtual ground.
    pub layers: Vec<ConductionLayer>,
    /// Surface resistance inside that the transmittance holds with, m²·K/W.
    pub rsi_m2k_w: f64,
    /// Temperature below the last layer.
    pub ground: VirtualGround,
}

/// The virtual ground temperature: a mean and one yearly wave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VirtualGround {
    /// Yearly mean, °C: that of outdoors.
    pub mean_c: f64,
    /// Factor of cos(2π m/12), m the month with 1 at mid-January, K.
    pub cos_k: f64,
    /// Factor of sin(2π m/12), K.
    pub sin_k: f64,
}

impl VirtualGround {
    /// Returns the temperature at an hour of the year (0 at the start of 1 January, year of 8760 h), °C.
    pub fn at_hour(&self, hour: f64) -> f64 {
        self.at_month(hour / 730.0 + 0.5)
    }

    /// Returns the temperature at a month (1 is mid-January), °C.
    pub fn at_month(&self, month: f64) -> f64 {
        let (sin, cos) = scalar::sin_cos(2.0 * PI * month / 12.0);
        self.mean_c + self.cos_k * cos + self.sin_k * sin
    }

    /// Returns the twelve mid-month temperatures, January first, °C.
    pub fn months_c(&self) -> [f64; 12] {
        let mut months = [0.0; 12];
        for (k, out) in months.iter_mut().enumerate() {
            *out = self.at_month(k as f64 + 1.0);
        }
        months
    }
}

/// Returns the layers and the temperature that stand for the ground below a floor or beside a basement wall.
///
/// `floor` are the real layers, inside → down, whose resistance went into `transfer`; `u_w_m2k` is the transmittance
/// of this part (the whole transfer's U, or a basement's floor or wall alone); `rsi_m2k_w` its inside film (0.17 floor,
/// 0.13 wall). `inside` is the reference inside temperature of the limit set, usually constant.
///
/// Where so little resistance is left that 0.5 m of ground would exceed it, the ground layer is thinned to nine tenths
/// of what is left.
///
/// # Errors
/// [`FabricError::Inconsistent`] when the floor's own layers resist more than the whole transfer allows: then U and
/// layers belong to different floors.
pub fn element(
    transfer: &GroundTransfer,
    u_w_m2k: f64,
    rsi_m2k_w: f64,
    floor: &[ConductionLayer],
    soil: &Soil,
    inside: &YearlyTemperature,
    outside: &YearlyTemperature,
) -> Result<GroundElement, FabricError> {
    positive(|| "ground element".into(), "transmittance, W/(m²·K)", u_w_m2k)?;
    soil.check()?;
    let own: f64 = floor.iter().map(|l| l.resistance_m2k_w()).sum();
    let left = 1.0 / u_w_m2k - rsi_m2k_w - own;
    if left.is_nan() || left <= 0.0 {
        return Err(FabricError::Inconsistent {
            what: "ground element".into(),
            detail: format!(
                "the floor's layers resist {own:.3} m²·K/W, but U = {u_w_m2k:.3} W/(m²·K) leaves {:.3}; give the layers that U was worked out with",
                1.0 / u_w_m2k - rsi_m2k_w
            ),
        });
    }
    let thickness = SOIL_THICKNESS_M.min(0.9 * left * soil.conductivity_w_mk);
    let mut layers = floor.to_vec();
    layers.push(ConductionLayer::solid(
        thickness,
        soil.conductivity_w_mk,
        SOIL_DENSITY_KG_M3,
        soil.heat_capacity_j_m3k / SOIL_DENSITY_KG_M3,
    ));
    layers.push(ConductionLayer::resistance(left - thickness / soil.conductivity_w_mk));
    let own = periodic::response(&layers, rsi_m2k_w, 0.0, YEAR_S)?;
    let ground = virtual_ground(transfer, u_w_m2k, &own, inside, outside);
    Ok(GroundElement { layers, rsi_m2k_w, ground })
}

/// The same for a slab or suspended floor, whose transfer is all of one part.
///
/// # Errors
/// As [`element`].
pub fn floor_element(
    transfer: &GroundTransfer,
    floor: &[ConductionLayer],
    soil: &Soil,
    inside: &YearlyTemperature,
    outside: &YearlyTemperature,
) -> Result<GroundElement, FabricError> {
    element(transfer, transfer.u_w_m2k, RSI_FLOOR, floor, soil, inside, outside)
}

/// Sets the virtual temperature so that the element's own yearly response yields the monthly method's flow.
///
/// With phasors at one turn a year, `q = Y11 θi − Y12 θv` between the inside air and the virtual ground, so
/// `θv = (Y11 θi − q) / Y12`. (ISO 52016-1 takes Y11 = Y12 = U here, which adds the delay of the soil layer, about
/// half a month, to the one that the coefficients of ISO 13370 already hold.)
fn virtual_ground(
    transfer: &GroundTransfer,
    u_w_m2k: f64,
    own: &PeriodicResponse,
    inside: &YearlyTemperature,
    outside: &YearlyTemperature,
) -> VirtualGround {
    let inside_wave = phasor(|month| inside.at_month(month));
    let flow_wave =
        phasor(|month| flow_at_month(transfer, inside, outside, month)).scale(u_w_m2k / transfer.steady_w_k);
    let wave = (own.admittance_inside * inside_wave - flow_wave) / own.transmittance;
    // Re(F exp(iωm)) = F.re cos − F.im sin
    VirtualGround { mean_c: outside.mean_c, cos_k: wave.re, sin_k: -wave.im }
}

/// Quarter points of a mean and a single wave give the wave exactly.
fn phasor(at: impl Fn(f64) -> f64) -> Complex {
    Complex::new(0.5 * (at(0.0) - at(6.0)), -0.5 * (at(3.0) - at(9.0)))
}
