//! The monthly method: a quasi-steady balance a month, with a utilisation factor.
//!
//! Certifying bodies and national rules often judge by it, so it stands beside the hourly balance and is fed with the
//! same areas, U-values, sun and people. It knows no order within the month: a crowd on one evening counts as a mean
//! gain. Conventions that differ between limit sets are data ([`Conventions`]).
//!
//! Source: EN ISO 52016-1:2017 clause 6.6 (monthly calculation), from memory; no printed worked example was found in
//! open text, so it is held against its closed forms and limits.

use numeric::pow;

/// Seconds in the months of a year of 365 days.
pub const MONTH_SECONDS: [f64; 12] = {
    const DAYS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut seconds = [0.0; 12];
    let mut month = 0;
    while month < 12 {
        seconds[month] = DAYS[month] as f64 * 86_400.0;
        month += 1;
    }
    seconds
};

/// What differs between rule books.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conventions {
    /// Numerical parameter a₀ of the utilisation factor for heating; 1.0 in the standard.
    pub heating_a0: f64,
    /// Reference time constant τ₀ for heating, h; 15 in the standard.
    pub heating_tau0_h: f64,
    /// a₀ for cooling; 1.0 in the standard.
    pub cooling_a0: f64,
    /// τ₀ for cooling, h; 15 in the standard.
    pub cooling_tau0_h: f64,
    /// Months whose heat demand is below this share of the year's largest are left out (0: none). Some conventions
    /// leave out summer months this way.
    pub ignore_below_share: f64,
}

impl Default for Conventions {
    /// The standard's own parameters.
    fn default() -> Self {
        Self {
            heating_a0: 1.0,
            heating_tau0_h: 15.0,
            cooling_a0: 1.0,
            cooling_tau0_h: 15.0,
            ignore_below_share: 0.0,
        }
    }
}

/// One month of a zone or a whole building.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Month {
    /// Mean outdoor temperature, °C.
    pub outdoor_c: f64,
    /// Heat flow to the ground at the heating set point, W, mean of the month; ISO 13370.
    pub ground_heating_w: f64,
    /// The same at the cooling set point, W.
    pub ground_cooling_w: f64,
    /// Heat flow to neighbours at the heating set point, W.
    pub neighbours_heating_w: f64,
    /// The same at the cooling set point, W.
    pub neighbours_cooling_w: f64,
    /// Air's heat transfer in the heating season, W/K: recovery taken off.
    pub ventilation_heating_w_k: f64,
    /// Air's heat transfer in the cooling season, W/K: bypass and airing as the convention has them.
    pub ventilation_cooling_w_k: f64,
    /// Sun through glass, shading and blinds included, less the sky radiation of opaque parts if the convention counts
    /// it, J.
    pub solar_j: f64,
    /// People, lights, equipment, J.
    pub internal_j: f64,
}

/// What stays the same over the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Envelope {
    /// Transmission to outdoors with joints, W/K.
    pub transmission_w_k: f64,
    /// Effective heat capacity inside the insulation, J/K.
    pub capacity_j_k: f64,
    /// Set point for heating, °C.
    pub heating_c: f64,
    /// Set point for cooling, °C.
    pub cooling_c: f64,
}

/// A month, worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MonthBalance {
    /// Heat leaving at the heating set point, J.
    pub losses_heating_j: f64,
    /// Heat leaving at the cooling set point, J; negative when it enters.
    pub losses_cooling_j: f64,
    /// Sun and internal gains, J.
    pub gains_j: f64,
    /// Utilisation factor of the gains for heating.
    pub gain_utilisation: f64,
    /// Utilisation factor of the losses for cooling.
    pub loss_utilisation: f64,
    /// Heating demand, J; at least zero.
    pub heating_j: f64,
    /// Sensible cooling demand, J; at least zero.
    pub cooling_j: f64,
}

/// Returns the utilisation factor of the gains for heating.
///
/// ```text
/// γ > 0, γ ≠ 1:  η = (1 − γᵃ)/(1 − γᵃ⁺¹)        γ = 1:  η = a/(a+1)        γ ≤ 0:  η = 1/γ (gains only), 1 at γ = 0
/// ```
/// γ is gains over losses, a the building's numerical parameter. With no losses left (γ negative or infinite) the gains
/// are of no use to heating; the demand is then zero and the factor is reported as zero.
pub fn gain_utilisation(gains_j: f64, losses_j: f64, a: f64) -> f64 {
    if losses_j <= 0.0 {
        return 0.0;
    }
    ratio_utilisation(gains_j / losses_j, a)
}

/// Returns the utilisation factor of the losses for cooling: the same function of losses over gains.
///
/// Losses below zero (it is warmer outside) are no help: the factor is one, so that they count in full as heat coming in.
pub fn loss_utilisation(gains_j: f64, losses_j: f64, a: f64) -> f64 {
    if losses_j <= 0.0 {
        return 1.0;
    }
    if gains_j <= 0.0 {
        return 0.0;
    }
    ratio_utilisation(losses_j / gains_j, a)
}

/// (1 − xᵃ)/(1 − xᵃ⁺¹), continued through x = 1.
fn ratio_utilisation(x: f64, a: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    if (x - 1.0).abs() < 1e-7 {
        // First-order expansion about one: the plain quotient loses its digits here.
        return a / (a + 1.0) * (1.0 - (x - 1.0) / 2.0);
    }
    (1.0 - pow(x, a)) / (1.0 - pow(x, a + 1.0))
}

/// Works out the twelve months.
pub fn year(envelope: Envelope, months: &[Month; 12], conventions: Conventions) -> [MonthBalance; 12] {
    let mut balances = [MonthBalance::default(); 12];
    for (i, month) in months.iter().enumerate() {
        balances[i] = one(envelope, month, MONTH_SECONDS[i], conventions);
    }
    let most = balances.iter().map(|b| b.heating_j).fold(0.0, f64::max);
    for balance in &mut balances {
        if balance.heating_j < conventions.ignore_below_share * most {
            balance.heating_j = 0.0;
        }
    }
    balances
}

fn one(envelope: Envelope, month: &Month, seconds: f64, conventions: Conventions) -> MonthBalance {
    let gains = month.solar_j + month.internal_j;
    let heat_w_k = envelope.transmission_w_k + month.ventilation_heating_w_k;
    let cool_w_k = envelope.transmission_w_k + month.ventilation_cooling_w_k;
    let losses_heating = (heat_w_k * (envelope.heating_c - month.outdoor_c)
        + month.ground_heating_w
        + month.neighbours_heating_w)
        * seconds;
    let losses_cooling = (cool_w_k * (envelope.cooling_c - month.outdoor_c)
        + month.ground_cooling_w
        + month.neighbours_cooling_w)
        * seconds;
    let a_heating = conventions.heating_a0 + time_constant_h(envelope, heat_w_k) / conventions.heating_tau0_h;
    let a_cooling = conventions.cooling_a0 + time_constant_h(envelope, cool_w_k) / conventions.cooling_tau0_h;
    let gain_use = gain_utilisation(gains, losses_heating, a_heating);
    let loss_use = loss_utilisation(gains, losses_cooling, a_cooling);
    MonthBalance {
        losses_heating_j: losses_heating,
        losses_cooling_j: losses_cooling,
        gains_j: gains,
        gain_utilisation: gain_use,
        loss_utilisation: loss_use,
        heating_j: (losses_heating.max(0.0) - gain_use * gains).max(0.0),
        cooling_j: (gains - loss_use * losses_cooling).max(0.0),
    }
}

/// Returns the time constant of a zone, h: capacity over heat transfer.
pub fn time_constant_h(envelope: Envelope, transfer_w_k: f64) -> f64 {
    envelope.capacity_j_k / transfer_w_k / 3600.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HOUSE: Envelope =
        Envelope { transmission_w_k: 100.0, capacity_j_k: 3.0e7, heating_c: 20.0, cooling_c: 25.0 };

    fn winter(gains_j: f64) -> [Month; 12] {
        [Month {
            outdoor_c: 0.0,
            ventilation_heating_w_k: 20.0,
            ventilation_cooling_w_k: 60.0,
            internal_j: gains_j,
            ..Month::default()
        }; 12]
    }

    #[test]
    fn without_gains_the_demand_is_the_loss() {
        let january = year(HOUSE, &winter(0.0), Conventions::default())[0];
        assert!((january.heating_j - 120.0 * 20.0 * MONTH_SECONDS[0]).abs() < 1e-3);
        assert_eq!(january.cooling_j, 0.0);
    }

    #[test]
    fn heat_that_enters_counts_in_full_for_cooling() {
        let mut months = winter(1.0e9);
        months[6].outdoor_c = 30.0;
        let july = year(HOUSE, &months, Conventions::default())[6];
        let entering = 160.0 * 5.0 * MONTH_SECONDS[6];
        assert!((july.cooling_j - (1.0e9 + entering)).abs() < 1.0);
    }

    proptest! {
        #[test]
        fn factors_stay_between_none_and_all(g in 0.0..1e11f64, l in -1e11..1e11f64, a in 0.5..20.0f64) {
            prop_assert!((0.0..=1.0).contains(&gain_utilisation(g, l, a)));
            prop_assert!((0.0..=1.0).contains(&loss_utilisation(g, l, a)));
        }

        #[test]
        fn heating_and_cooling_factors_mirror(x in 0.01..100.0f64, a in 0.5..20.0f64) {
            // A month's unused gains and unused losses are the same heat: γ·η_gain(γ) = η_loss(1/γ…).
            let gain = gain_utilisation(x, 1.0, a);
            let loss = loss_utilisation(x, 1.0, a);
            prop_assert!((x * gain - loss).abs() < 1e-6 * (1.0 + loss));
        }

        #[test]
        fn more_gain_less_heat_more_cool(g in 0.0..1e10f64, t in -10.0..24.0f64) {
            let at = |gains: f64| {
                let mut months = winter(gains);
                months[0].outdoor_c = t;
                year(HOUSE, &months, Conventions::default())[0]
            };
            let (less, more) = (at(g), at(g * 1.1 + 1e6));
            prop_assert!(more.heating_j <= less.heating_j + 1e-3);
            prop_assert!(more.cooling_j >= less.cooling_j - 1e-3);
        }
    }
}
