//! Fans: power by flow and by what clogs their way.

use numeric::pow;

use crate::PlantError;
use crate::error::within;

/// Power of a unit's fans by flow, through the points of its sheet.
///
/// Between points the exponent of `P ~ q^k` is taken from the neighbours; beyond them from the nearest pair. With one
/// point k is [`Fans::AFFINITY`]: the affinity law's 3 less what drives lose at low speed.
#[derive(Clone, Debug, PartialEq)]
pub struct Fans {
    points: Vec<(f64, f64)>,
}

impl Fans {
    /// Exponent of power over flow with one point only. Affinity gives 3 in a fixed duct network; motors and their
    /// electronics lose relatively more at low speed. Judgement.
    pub const AFFINITY: f64 = 2.5;

    /// Takes (flow m³/s, power of both fans W).
    ///
    /// # Errors
    /// [`PlantError`] when there is none, or a flow or power is not above zero.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, PlantError> {
        if points.is_empty() {
            return Err(PlantError::TooFew { what: "fan power", least: 1, found: 0 });
        }
        let mut points = points.to_vec();
        for (flow, power) in &points {
            within("flow of a fan point", *flow, 1e-9, 1e3, "is more than zero, m³/s")?;
            within("power of a fan point", *power, 0.0, 1e6, "is zero or more, W")?;
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.dedup_by(|a, b| (a.0 / b.0 - 1.0).abs() < 1e-9);
        Ok(Self { points })
    }

    /// Returns the power at a flow, W. `clogging` is the pressure drop over that of the sheet, at least 1: the fans make
    /// up for a loaded filter, and power grows with pressure at the same flow.
    pub fn power_w(&self, flow_m3_s: f64, clogging: f64) -> f64 {
        if !(flow_m3_s > 0.0) {
            return 0.0;
        }
        let above = self.points.iter().position(|p| p.0 >= flow_m3_s).unwrap_or(self.points.len());
        let last = self.points.len() - 1;
        let right = above.clamp(1.min(last), last);
        let (a, b) = (self.points[right.saturating_sub(1)], self.points[right]);
        let exponent = if b.0 > a.0 && a.1 > 0.0 && b.1 > 0.0 {
            (numeric::ln(b.1 / a.1) / numeric::ln(b.0 / a.0)).clamp(0.0, 3.0)
        } else {
            Self::AFFINITY
        };
        b.1 * pow(flow_m3_s / b.0, exponent) * clogging.max(1.0)
    }
}

/// A filter that fills up between changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filter {
    /// Share of the whole pressure drop that the clean filter takes.
    pub share: f64,
    /// Its drop when due over its drop when clean, at least 1.
    pub due_over_clean: f64,
    /// Days between changes.
    pub days: f64,
}

impl Filter {
    /// A tenth to a third of a small unit's drop, doubled after half a year: common practice, no source.
    pub const USUAL: Self = Self { share: 0.25, due_over_clean: 2.0, days: 182.5 };

    /// Returns the network's pressure drop over that with a clean filter, `day` days after a change. Dust is taken as
    /// even over time.
    pub fn clogging(&self, day: f64) -> f64 {
        let age = (day.max(0.0) / self.days).fract();
        1.0 + self.share * (self.due_over_clean - 1.0) * age
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_met_and_between_lies_between() {
        let fans = Fans::new(&[(0.1, 40.0), (0.2, 180.0)]).unwrap();
        assert!(
            (fans.power_w(0.1, 1.0) - 40.0).abs() < 1e-9 && (fans.power_w(0.2, 1.0) - 180.0).abs() < 1e-9
        );
        let middle = fans.power_w(0.15, 1.0);
        assert!(middle > 40.0 && middle < 180.0);
        assert_eq!(fans.power_w(0.0, 1.0), 0.0);
        let one = Fans::new(&[(0.1, 40.0)]).unwrap();
        assert!((one.power_w(0.2, 1.0) / 40.0 - pow(2.0, 2.5)).abs() < 1e-9);
    }

    #[test]
    fn a_filter_fills_and_is_changed() {
        let f = Filter::USUAL;
        assert_eq!(f.clogging(0.0), 1.0);
        assert!(f.clogging(180.0) > 1.24 && f.clogging(183.0) < 1.01);
    }
}
