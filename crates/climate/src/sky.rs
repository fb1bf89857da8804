//! Long-wave radiation from the sky.
//!
//! Weather files of the TMY family carry none, so it is modelled from dew point and cloud. The spread between
//! models is about 10 W/m², which is one of the larger uncertainties of a roof on a clear night.

use matter::moist_air::ABSOLUTE_ZERO_C;

/// Stefan–Boltzmann constant, W/(m²·K⁴) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Returns the emissivity of a clear sky.
///
/// # Valid for
/// Dew points of −30 to 30 °C.
/// # Source
/// Berdahl and Martin, Solar Energy 32 (1984), daily mean form without the diurnal and altitude terms; recalled.
pub fn clear_emissivity(dew_point_c: f64) -> f64 {
    let t = dew_point_c / 100.0;
    0.711 + 0.56 * t + 0.73 * t * t
}

/// Share of a black sky that a full opaque cover makes up for: clouds at about 2.7 km, whose cold underside is
/// worth exp(−2.7/8.2) of one at air temperature (form of Martin and Berdahl 1984, height a middling choice).
pub const CLOUD_SHARE: f64 = 0.72;

/// Returns the emissivity of a sky with this opaque cloud cover (fraction).
pub fn emissivity(dew_point_c: f64, opaque_cloud: f64) -> f64 {
    let clear = clear_emissivity(dew_point_c);
    clear + CLOUD_SHARE * (1.0 - clear) * opaque_cloud
}

/// Returns the long-wave irradiance of a horizontal plane, W/m², by [`emissivity`].
pub fn longwave_down(dry_bulb_c: f64, dew_point_c: f64, opaque_cloud: f64) -> f64 {
    emissivity(dew_point_c, opaque_cloud) * black_body(dry_bulb_c)
}

/// Returns the opaque cover that [`longwave_down`] would need to give this irradiance, held within 0 to 1.
pub fn cloud_of_longwave(dry_bulb_c: f64, dew_point_c: f64, longwave_down_w_m2: f64) -> f64 {
    let clear = clear_emissivity(dew_point_c);
    ((longwave_down_w_m2 / black_body(dry_bulb_c) - clear) / (CLOUD_SHARE * (1.0 - clear))).clamp(0.0, 1.0)
}

/// Returns the temperature, °C, of the black sky that sends this long-wave irradiance.
pub fn temperature_c(longwave_down_w_m2: f64) -> f64 {
    (longwave_down_w_m2 / STEFAN_BOLTZMANN).sqrt().sqrt() + ABSOLUTE_ZERO_C
}

/// Returns the radiation of a black body, W/m².
pub fn black_body(temperature_c: f64) -> f64 {
    let square = (temperature_c - ABSOLUTE_ZERO_C) * (temperature_c - ABSOLUTE_ZERO_C);
    STEFAN_BOLTZMANN * square * square
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sky_temperature_undoes_longwave() {
        assert!((temperature_c(black_body(-12.0)) + 12.0).abs() < 1e-9);
        // A clear winter night sky lies 20 to 25 K below the air, an overcast one a few.
        let clear = temperature_c(longwave_down(0.0, -5.0, 0.0));
        let overcast = temperature_c(longwave_down(0.0, -5.0, 1.0));
        assert!((-26.0..-18.0).contains(&clear), "{clear}");
        assert!((-8.0..-4.0).contains(&overcast), "{overcast}");
        assert!((cloud_of_longwave(0.0, -5.0, longwave_down(0.0, -5.0, 0.4)) - 0.4).abs() < 1e-12);
    }
}
