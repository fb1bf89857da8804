//! CO2 given off by people.

/// Sex, as the metabolic-rate equations of the source distinguish it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sex {
    /// Female row of the equations.
    Female,
    /// Male row of the equations.
    Male,
}

/// Respiratory quotient of a usual diet.
const RESPIRATORY_QUOTIENT: f64 = 0.85;
/// L·kPa/(s·K) per MJ/day: the source's constant, which holds oxygen's energy equivalent and the gas law.
const SOURCE_CONSTANT: f64 = 0.000_211;

/// Upper ages of the bands of [`basal_metabolic_rate_mj_day`], years; the last band is open.
const BAND_UPPER_AGE: [f64; 5] = [3.0, 10.0, 18.0, 30.0, 60.0];
const MALE: [(f64, f64); 6] =
    [(0.249, -0.127), (0.095, 2.110), (0.074, 2.754), (0.063, 2.896), (0.048, 3.653), (0.049, 2.459)];
const FEMALE: [(f64, f64); 6] =
    [(0.244, -0.130), (0.085, 2.033), (0.056, 2.898), (0.062, 2.036), (0.034, 3.538), (0.038, 2.755)];

/// Returns the basal metabolic rate by sex, age band and body mass, MJ/day.
///
/// Source: Schofield equations as used by Persily and de Jonge 2017 (Indoor Air 27:868–879); coefficients from memory.
pub fn basal_metabolic_rate_mj_day(sex: Sex, age_years: f64, mass_kg: f64) -> f64 {
    let band = BAND_UPPER_AGE.iter().filter(|&&upper| age_years >= upper).count();
    let (slope, intercept) = match sex {
        Sex::Male => MALE[band],
        Sex::Female => FEMALE[band],
    };
    slope * mass_kg + intercept
}

/// Returns the CO2 one person gives off, L/s at the air's own temperature and pressure.
///
/// ```text
/// V = RQ · BMR · M · (T / P) · 0.000 211
/// ```
/// BMR in MJ/day, M in met, T in K, P in kPa.
///
/// # Source
/// Persily and de Jonge 2017, eq. for CO2 generation; abstract seen, formula and coefficients from memory. Individual
/// spread is about ±15 % (judgement).
pub fn co2_l_s(bmr_mj_day: f64, activity_met: f64, temperature_c: f64, pressure_pa: f64) -> f64 {
    RESPIRATORY_QUOTIENT
        * bmr_mj_day
        * activity_met
        * ((temperature_c + 273.15) / (pressure_pa / 1000.0))
        * SOURCE_CONSTANT
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_meet_at_their_ages() {
        let at = |age| basal_metabolic_rate_mj_day(Sex::Male, age, 80.0);
        assert!((at(29.9) - (0.063 * 80.0 + 2.896)).abs() < 1e-12);
        assert!((at(30.0) - (0.048 * 80.0 + 3.653)).abs() < 1e-12);
        assert!((at(75.0) - (0.049 * 80.0 + 2.459)).abs() < 1e-12);
    }
}
