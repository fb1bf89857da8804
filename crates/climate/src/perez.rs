//! Diffuse irradiance of a tilted plane: the sky model of Perez and others (1990).
//!
//! The sky is an even dome, a bright disc round the sun and a bright band along the horizon; how bright, an outside
//! table says by the clearness of the moment. Start at [`Brightness::of`], then [`Brightness::on_plane`].

use numeric::pow;

/// Lower limits of the clearness bins (Perez et al., Solar Energy 44 (1990), table 1).
const BIN_FROM: [f64; 8] = [1.0, 1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2];

/// F11, F12, F13, F21, F22, F23 of each bin: the 1990 all-sites composite (same paper, table 6).
const COEFFICIENTS: [[f64; 6]; 8] = [
    [-0.008, 0.588, -0.062, -0.060, 0.072, -0.022],
    [0.130, 0.683, -0.151, -0.019, 0.066, -0.029],
    [0.330, 0.487, -0.221, 0.055, -0.064, -0.026],
    [0.568, 0.187, -0.295, 0.109, -0.152, -0.014],
    [0.873, -0.392, -0.362, 0.226, -0.462, 0.001],
    [1.132, -1.237, -0.412, 0.288, -0.823, 0.056],
    [1.060, -1.600, -0.359, 0.264, -1.127, 0.131],
    [0.678, -0.327, -0.250, 0.156, -1.377, 0.251],
];

/// Weight of the zenith angle in the clearness (same paper, equation 1).
const KAPPA: f64 = 1.041;
/// Cosine of 85°: a lower sun spreads its disc no further (same paper, equation 9).
const COS_85: f64 = 0.087_155_742_747_658_17;

/// How the sky's light is shared out at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brightness {
    /// Diffuse irradiance of a horizontal plane, W/m².
    pub diffuse_w_m2: f64,
    /// Share of it from round the sun, 0 to 1 and rarely a little more.
    pub circumsolar: f64,
    /// Brightness of the horizon band; negative when the horizon is darker than the dome.
    pub horizon: f64,
    /// Cosine of the zenith angle, not below that of 85°.
    cos_zenith: f64,
}

/// Diffuse irradiance of one plane by origin, W/m².
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkyOnPlane {
    /// From the even dome.
    pub dome_w_m2: f64,
    /// From round the sun: shade and glass treat it like the beam.
    pub circumsolar_w_m2: f64,
    /// From the horizon band.
    pub horizon_w_m2: f64,
}

impl SkyOnPlane {
    /// Returns the sum, not below zero.
    pub fn total_w_m2(&self) -> f64 {
        (self.dome_w_m2 + self.circumsolar_w_m2 + self.horizon_w_m2).max(0.0)
    }
}

impl Brightness {
    /// Returns the sharing of a diffuse irradiance at this moment. With the sun below the horizon, or nothing to
    /// share, the sky is even.
    ///
    /// | argument | unit |
    /// |---|---|
    /// | `cos_zenith`: cosine of the sun's zenith angle, without refraction | 1 |
    /// | `beam_normal_w_m2`, `diffuse_w_m2`, `extraterrestrial_w_m2` | W/m² |
    /// | `air_mass`: relative, see [`air_mass`] | 1 |
    ///
    /// # Source
    /// Perez, Ineichen, Seals, Michalsky, Stewart, Solar Energy 44 (1990) 271–289; coefficients as read in a public
    /// solar library.
    pub fn of(
        cos_zenith: f64,
        beam_normal_w_m2: f64,
        diffuse_w_m2: f64,
        extraterrestrial_w_m2: f64,
        air_mass: f64,
    ) -> Self {
        if cos_zenith <= 0.0 || diffuse_w_m2 <= 0.0 {
            return Self::even(diffuse_w_m2.max(0.0));
        }
        let zenith = numeric::scalar::acos(cos_zenith.min(1.0));
        let cube = KAPPA * zenith * zenith * zenith;
        let clearness = ((diffuse_w_m2 + beam_normal_w_m2) / diffuse_w_m2 + cube) / (1.0 + cube);
        let bin = BIN_FROM.iter().rposition(|&from| from <= clearness).unwrap_or(0);
        let [f11, f12, f13, f21, f22, f23] = COEFFICIENTS[bin];
        let brightness = diffuse_w_m2 * air_mass / extraterrestrial_w_m2;
        Self {
            diffuse_w_m2,
            circumsolar: (f11 + f12 * brightness + f13 * zenith).max(0.0),
            horizon: f21 + f22 * brightness + f23 * zenith,
            cos_zenith: cos_zenith.max(COS_85),
        }
    }

    /// Returns an even sky.
    pub fn even(diffuse_w_m2: f64) -> Self {
        Self { diffuse_w_m2, circumsolar: 0.0, horizon: 0.0, cos_zenith: 1.0 }
    }

    /// Returns what falls on a plane; `cos_incidence` below zero means that the sun is behind it.
    pub fn on_plane(&self, cos_tilt: f64, sin_tilt: f64, cos_incidence: f64) -> SkyOnPlane {
        SkyOnPlane {
            dome_w_m2: self.diffuse_w_m2 * 0.5 * (1.0 - self.circumsolar) * (1.0 + cos_tilt),
            circumsolar_w_m2: self.diffuse_w_m2 * self.circumsolar * cos_incidence.max(0.0) / self.cos_zenith,
            horizon_w_m2: self.diffuse_w_m2 * self.horizon * sin_tilt,
        }
    }
}

/// Returns the relative optical air mass.
///
/// # Valid for
/// A sun above the horizon; below it the value at the horizon (about 38) is returned.
/// # Source
/// Kasten and Young, Applied Optics 28 (1989); recalled.
pub fn air_mass(cos_zenith: f64) -> f64 {
    let up = cos_zenith.clamp(0.0, 1.0);
    let zenith_deg = numeric::scalar::acos(up).to_degrees();
    1.0 / (up + 0.505_72 * pow(96.079_95 - zenith_deg, -1.6364))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_horizontal_plane_gets_the_diffuse_it_is_said_to(
            zenith in 0.0..85.0_f64, beam in 0.0..1000.0_f64, diffuse in 1.0..400.0_f64,
        ) {
            let up = numeric::scalar::cos(zenith.to_radians());
            let sky = Brightness::of(up, beam, diffuse, 1366.1, air_mass(up)).on_plane(1.0, 0.0, up);
            prop_assert!((sky.total_w_m2() - diffuse).abs() < 1e-9 * diffuse);
        }

        #[test]
        fn nothing_is_negative(
            up in -1.0..1.0_f64, beam in 0.0..1100.0_f64, diffuse in 0.0..600.0_f64,
            tilt in 0.0..180.0_f64, incidence in -1.0..1.0_f64,
        ) {
            let (s, c) = numeric::scalar::sin_cos(tilt.to_radians());
            let sky = Brightness::of(up, beam, diffuse, 1366.1, air_mass(up)).on_plane(c, s, incidence);
            prop_assert!(sky.total_w_m2() >= 0.0 && sky.total_w_m2().is_finite());
        }
    }
}
