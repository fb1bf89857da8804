//! Sun through panes: transmitted, reflected and absorbed by angle, and the solar factor.
//!
//! Start at [`PaneOptics::fresnel`] and [`stack`], or at [`AngularCurve`] when only a solar factor is known.
//! Not here: spectral data, coatings that change with angle by more than clear glass does (a few per cent of the
//! normal value beyond 60°), blinds.

use crate::error::{FabricError, positive, within};
use numeric::{exp, scalar};
use std::f64::consts::PI;

/// A clear pane's bulk properties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaneOptics {
    /// Refractive index; 1.526 for soda-lime glass.
    pub index: f64,
    /// Extinction coefficient over the sun's spectrum, 1/m; about 4 (low-iron) to 30 (greenish).
    pub extinction_per_m: f64,
    /// Thickness, m.
    pub thickness_m: f64,
}

/// Shares of the incident sun at one angle, in one polarisation or averaged.
#[derive(Clone, Debug, PartialEq)]
pub struct StackOptics {
    /// Transmitted directly.
    pub transmitted: f64,
    /// Reflected back outdoors.
    pub reflected: f64,
    /// Absorbed in each pane, outside → inside.
    pub absorbed: Vec<f64>,
}

/// Shares of one pane.
#[derive(Clone, Copy, Debug)]
struct Shares {
    transmitted: f64,
    reflected: f64,
}

impl PaneOptics {
    /// Returns soda-lime glass of this thickness with a usual extinction coefficient, 19.6 1/m.
    pub const fn clear(thickness_m: f64) -> Self {
        Self { index: 1.526, extinction_per_m: 19.6, thickness_m }
    }

    /// Returns what one pane does at an incidence angle, degrees: average of both polarisations.
    pub fn fresnel(&self, incidence_deg: f64) -> StackOptics {
        stack(&[*self], incidence_deg)
    }

    /// Both polarisations: Fresnel at each face, Bouguer's law inside, all passes summed.
    fn shares(&self, incidence_deg: f64) -> [Shares; 2] {
        let (sin, cos) = scalar::sin_cos(incidence_deg * PI / 180.0);
        let inner_sin = sin / self.index;
        let inner_cos = (1.0 - inner_sin * inner_sin).sqrt();
        let pass = exp(-self.extinction_per_m * self.thickness_m / inner_cos);
        let across = (cos - self.index * inner_cos) / (cos + self.index * inner_cos);
        let along = (self.index * cos - inner_cos) / (self.index * cos + inner_cos);
        [across * across, along * along].map(|face| {
            let rest = 1.0 - face;
            let again = 1.0 - face * face * pass * pass;
            let transmitted = rest * rest * pass / again;
            Shares { transmitted, reflected: face * (1.0 + pass * transmitted) }
        })
    }
}

/// Returns what a stack of panes does at an incidence angle, degrees (0 head on, 90 grazing).
///
/// Each polarisation is followed through all inter-reflections, then both are averaged.
pub fn stack(panes: &[PaneOptics], incidence_deg: f64) -> StackOptics {
    let angle = incidence_deg.abs().min(90.0);
    if angle >= 90.0 {
        // Grazing sun: perfect mirrors face each other and the passes between them no longer add up.
        return StackOptics { transmitted: 0.0, reflected: 1.0, absorbed: vec![0.0; panes.len()] };
    }
    let each: Vec<[Shares; 2]> = panes.iter().map(|p| p.shares(angle)).collect();
    let mut mean = StackOptics { transmitted: 0.0, reflected: 0.0, absorbed: vec![0.0; panes.len()] };
    for polarisation in 0..2 {
        let shares: Vec<Shares> = each.iter().map(|s| s[polarisation]).collect();
        let one = one_polarisation(&shares);
        mean.transmitted += 0.5 * one.transmitted;
        mean.reflected += 0.5 * one.reflected;
        for (sum, a) in mean.absorbed.iter_mut().zip(&one.absorbed) {
            *sum += 0.5 * a;
        }
    }
    mean
}

/// Net-radiation method on one polarisation: reflectance of what lies inside, then flows from outside in.
fn one_polarisation(shares: &[Shares]) -> StackOptics {
    let n = shares.len();
    let mut inner = vec![0.0; n + 1];
    for k in (0..n).rev() {
        let Shares { transmitted: t, reflected: r } = shares[k];
        inner[k] = r + t * t * inner[k + 1] / (1.0 - r * inner[k + 1]);
    }
    let mut incoming = 1.0;
    let mut absorbed = vec![0.0; n];
    for k in 0..n {
        let Shares { transmitted: t, reflected: r } = shares[k];
        let passed = t * incoming / (1.0 - r * inner[k + 1]);
        let back = passed * inner[k + 1];
        absorbed[k] = (1.0 - t - r) * (incoming + back);
        incoming = passed;
    }
    StackOptics { transmitted: incoming, reflected: inner.first().copied().unwrap_or(0.0), absorbed }
}

/// Returns the mean over the hemisphere of a quantity of the incidence angle (degrees), for uniform diffuse sun.
///
/// ∫ f(θ) sin 2θ dθ by Simpson's rule in 90 steps.
pub fn hemispherical(f: impl Fn(f64) -> f64) -> f64 {
    let steps = 90;
    let h = PI / 2.0 / f64::from(steps);
    let mut sum = 0.0;
    for k in 0..=steps {
        let weight = if k == 0 || k == steps {
            1.0
        } else if k % 2 == 1 {
            4.0
        } else {
            2.0
        };
        let degrees = f64::from(k) * 90.0 / f64::from(steps);
        sum += weight * f(degrees) * scalar::sin(2.0 * f64::from(k) * h);
    }
    sum * h / 3.0
}

/// Returns the solar factor: transmitted sun and the share of what panes absorb that flows inwards.
///
/// The share of a pane is the resistance from outdoors to its middle over the whole. `gaps_w_m2k` are the gap
/// conductances outside → inside; pane resistances are left out, as EN 410 does.
///
/// # Errors
/// [`FabricError`] when counts do not match or a coefficient is not above zero.
/// # Source
/// EN 410:2011, 5.4 (from memory); there he = 23 and hi = 8 W/(m²·K).
pub fn solar_factor(
    optics: &StackOptics,
    gaps_w_m2k: &[f64],
    outside_w_m2k: f64,
    inside_w_m2k: f64,
) -> Result<f64, FabricError> {
    let what = || "solar factor".to_string();
    if gaps_w_m2k.len() + 1 != optics.absorbed.len() {
        return Err(FabricError::Inconsistent {
            what: what(),
            detail: format!("{} panes with {} gaps", optics.absorbed.len(), gaps_w_m2k.len()),
        });
    }
    positive(what, "outside coefficient, W/(m²·K)", outside_w_m2k)?;
    positive(what, "inside coefficient, W/(m²·K)", inside_w_m2k)?;
    let mut passed = 1.0 / outside_w_m2k;
    let mut inwards = 0.0;
    for (k, absorbed) in optics.absorbed.iter().enumerate() {
        inwards += absorbed * passed;
        if let Some(&h) = gaps_w_m2k.get(k) {
            passed += 1.0 / positive(what, "gap conductance, W/(m²·K)", h)?;
        }
    }
    Ok(optics.transmitted + inwards / (passed + 1.0 / inside_w_m2k))
}

/// A solar factor by incidence angle, relative to head on: the generic curve of clear glass by number of panes.
///
/// Tabulated every degree from [`stack`]; between degrees linear. For coated glass it is an approximation: measured
/// curves differ by a few hundredths of the normal value beyond 60°.
#[derive(Clone, Debug, PartialEq)]
pub struct AngularCurve {
    relative: Vec<f64>,
    diffuse: f64,
}

impl AngularCurve {
    /// Returns the curve of one to four clear panes of 4 mm.
    ///
    /// # Errors
    /// [`FabricError::OutOfRange`] for another number of panes.
    pub fn by_panes(panes: usize) -> Result<Self, FabricError> {
        within(|| "angular curve".into(), "number of panes", panes as f64, 1.0, 4.0)?;
        let glass = vec![PaneOptics::clear(0.004); panes];
        Ok(Self::of(|deg| {
            // A third of what clear panes absorb reaches the room; its exact share hardly bends the curve.
            let o = stack(&glass, deg);
            o.transmitted + o.absorbed.iter().sum::<f64>() / 3.0
        }))
    }

    /// Returns the curve of a function of the incidence angle, degrees, relative to its value head on.
    pub fn of(f: impl Fn(f64) -> f64) -> Self {
        let normal = f(0.0);
        let relative: Vec<f64> = (0..=90).map(|deg| f(f64::from(deg)) / normal).collect();
        let mut curve = Self { relative, diffuse: 0.0 };
        curve.diffuse = hemispherical(|deg| curve.at(deg));
        curve
    }

    /// Returns the factor at an incidence angle, degrees; zero at and beyond 90.
    pub fn at(&self, incidence_deg: f64) -> f64 {
        let angle = incidence_deg.abs().min(90.0);
        let low = (angle.floor() as usize).min(89);
        let share = angle - low as f64;
        self.relative[low] + share * (self.relative[low + 1] - self.relative[low])
    }

    /// Returns the factor for uniform diffuse sun.
    pub fn diffuse(&self) -> f64 {
        self.diffuse
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_add_up_to_one() {
        let panes = [PaneOptics::clear(0.004), PaneOptics::clear(0.006), PaneOptics::clear(0.004)];
        for deg in [0.0, 30.0, 60.0, 85.0, 89.9] {
            let o = stack(&panes, deg);
            let sum = o.transmitted + o.reflected + o.absorbed.iter().sum::<f64>();
            assert!((sum - 1.0).abs() < 1e-12, "{deg}: {sum}");
        }
        assert_eq!(stack(&panes, 90.0).transmitted, 0.0);
    }

    #[test]
    fn clear_face_without_absorption() {
        // Head on, one lossless pane: t = (1 − r)/(1 + r), r = ((n − 1)/(n + 1))².
        let pane = PaneOptics { extinction_per_m: 0.0, ..PaneOptics::clear(0.004) };
        let r = (0.526_f64 / 2.526) * (0.526 / 2.526);
        assert!((pane.fresnel(0.0).transmitted - (1.0 - r) / (1.0 + r)).abs() < 1e-12);
    }

    #[test]
    fn mean_of_a_constant_is_itself() {
        assert!((hemispherical(|_| 1.0) - 1.0).abs() < 1e-8);
    }

    #[test]
    fn curve_falls_with_angle_and_panes() {
        let curves: Vec<AngularCurve> = (1..=4).map(|n| AngularCurve::by_panes(n).unwrap()).collect();
        for c in &curves {
            assert_eq!(c.at(0.0), 1.0);
            assert!(c.at(40.0) > 0.95 && c.at(80.0) < 0.6 && c.at(90.0).abs() < 1e-12);
            assert!(c.diffuse() > 0.8 && c.diffuse() < 0.95, "{}", c.diffuse());
        }
        assert!(curves[0].at(60.0) > curves[2].at(60.0));
        assert!(AngularCurve::by_panes(7).is_err());
    }

    #[test]
    fn dark_inner_pane_gives_more_than_dark_outer() {
        let optics = |absorbed| StackOptics { transmitted: 0.4, reflected: 0.1, absorbed };
        let g = |a| solar_factor(&optics(a), &[1.4], 23.0, 8.0).unwrap();
        assert!(g(vec![0.0, 0.5]) > g(vec![0.5, 0.0]));
        assert!(g(vec![0.0, 0.0]) == 0.4);
    }
}
