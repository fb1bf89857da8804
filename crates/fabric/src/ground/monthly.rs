//! Heat flow to the ground month by month: a mean and one yearly wave (ISO 13370 Annex A).

use super::GroundTransfer;
use crate::error::{FabricError, within};
use numeric::scalar;
use std::f64::consts::PI;

/// A temperature that swings once a year: `mean − swing · cos(2π (m − coldest) / 12)`, m the month 1..12.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearlyTemperature {
    /// Yearly mean, °C.
    pub mean_c: f64,
    /// Half of highest less lowest monthly mean, K.
    pub swing_k: f64,
    /// Month of the minimum: 1 is mid-January; fractions allowed.
    pub coldest_month: f64,
}

impl YearlyTemperature {
    /// Returns a temperature that does not change.
    pub const fn constant(mean_c: f64) -> Self {
        Self { mean_c, swing_k: 0.0, coldest_month: 1.0 }
    }

    /// Fits mean, swing and coldest month to twelve monthly means, °C, by least squares (first harmonic).
    pub fn of_months(months_c: &[f64; 12]) -> Self {
        let (mut mean, mut c, mut s) = (0.0, 0.0, 0.0);
        for (k, t) in months_c.iter().enumerate() {
            let (sin, cos) = scalar::sin_cos(2.0 * PI * (k as f64 + 1.0) / 12.0);
            mean += t / 12.0;
            c += t * cos / 6.0;
            s += t * sin / 6.0;
        }
        // mean + c cos + s sin = mean − swing cos(angle − coldest)
        let swing_k = (c * c + s * s).sqrt();
        let coldest = if swing_k > 0.0 { scalar::atan2(-s, -c) * 12.0 / (2.0 * PI) } else { 1.0 };
        let coldest_month = if coldest < 0.5 { coldest + 12.0 } else { coldest };
        Self { mean_c: mean, swing_k, coldest_month }
    }

    /// Returns the temperature at a month (1 is mid-January, fractions allowed), °C.
    pub fn at_month(&self, month: f64) -> f64 {
        self.mean_c - self.swing_k * scalar::cos(2.0 * PI * (month - self.coldest_month) / 12.0)
    }
}

/// Heat flow from a space to the ground over the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundFlow {
    /// Yearly mean Hg (θi − θe), W.
    pub mean_w: f64,
    /// Monthly means, January first, W.
    pub months_w: [f64; 12],
}

impl GroundFlow {
    /// Returns the heat of a year of 8760 h, kWh.
    pub fn yearly_kwh(&self) -> f64 {
        self.mean_w * 8.76
    }
}

/// Returns the heat flow from the space month by month.
///
/// ```text
/// Φ = Hg (θi − θe) − Hpi θ̂i cos(2π (m − τ + α)/12) + Hpe θ̂e cos(2π (m − τ − β)/12)
/// ```
/// with τ the coldest month (of each temperature), α the lead and β the lag of `transfer`.
///
/// # Errors
/// [`FabricError::OutOfRange`] for a negative swing or one above 60 K.
/// # Source
/// ISO 13370:2007 Annex A (from memory).
pub fn flow(
    transfer: &GroundTransfer,
    inside: &YearlyTemperature,
    outside: &YearlyTemperature,
) -> Result<GroundFlow, FabricError> {
    for t in [inside, outside] {
        within(|| "yearly temperature".into(), "swing, K", t.swing_k, 0.0, 60.0)?;
    }
    let mut months_w = [0.0; 12];
    for (k, out) in months_w.iter_mut().enumerate() {
        *out = flow_at_month(transfer, inside, outside, k as f64 + 1.0);
    }
    Ok(GroundFlow { mean_w: transfer.steady_w_k * (inside.mean_c - outside.mean_c), months_w })
}

/// The same at any moment of the year.
pub(super) fn flow_at_month(
    transfer: &GroundTransfer,
    inside: &YearlyTemperature,
    outside: &YearlyTemperature,
    month: f64,
) -> f64 {
    let wave = |shift: f64| scalar::cos(2.0 * PI * shift / 12.0);
    transfer.steady_w_k * (inside.mean_c - outside.mean_c)
        - transfer.inside_swing_w_k
            * inside.swing_k
            * wave(month - inside.coldest_month + transfer.lead_months)
        + transfer.outside_swing_w_k
            * outside.swing_k
            * wave(month - outside.coldest_month - transfer.lag_months)
}
