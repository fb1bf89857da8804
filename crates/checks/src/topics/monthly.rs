//! The monthly method: closed forms of the utilisation factors and whole years worked by hand.

use crate::{Check, Compute, Kind, Tolerance};
use year::monthly::{Conventions, Envelope, MONTH_SECONDS, Month, gain_utilisation, loss_utilisation, year};

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = vec![
        check(
            "gain.equal",
            "gain utilisation where gains equal losses, a = 3: a/(a + 1)",
            "–",
            0.75,
            1e-9,
            Kind::ClosedForm,
            |nudge| gain_utilisation(1.0, 1.0, 3.0 * nudge),
        ),
        check(
            "gain.half",
            "gain utilisation at half as much gain as loss, a = 2: (1 − 1/4)/(1 − 1/8)",
            "–",
            6.0 / 7.0,
            1e-12,
            Kind::ClosedForm,
            |nudge| gain_utilisation(0.5 * nudge, 1.0, 2.0),
        ),
        check(
            "gain.double",
            "gain utilisation at twice as much gain as loss, a = 1: 1/(1 + γ)",
            "–",
            1.0 / 3.0,
            1e-12,
            Kind::ClosedForm,
            |nudge| gain_utilisation(2.0 * nudge, 1.0, 1.0),
        ),
        check(
            "loss.half",
            "loss utilisation at half as much gain as loss, a = 2: (1 − 4)/(1 − 8)",
            "–",
            3.0 / 7.0,
            1e-12,
            Kind::ClosedForm,
            |nudge| loss_utilisation(0.5, nudge, 2.0),
        ),
        check(
            "gain.heavy",
            "gain utilisation of a very heavy building, γ = 0.6: nearly all",
            "–",
            1.0,
            1e-3,
            Kind::ClosedForm,
            |nudge| gain_utilisation(0.6 * nudge, 1.0, 40.0),
        ),
    ];
    checks.extend(hand_worked());
    checks
}

fn check(
    id: &str,
    quantity: &str,
    unit: &'static str,
    reference: f64,
    tolerance: f64,
    kind: Kind,
    compute: impl Fn(f64) -> f64 + Send + Sync + 'static,
) -> Check {
    Check {
        id: format!("monthly.{id}"),
        topic: "Monthly method",
        quantity: quantity.to_owned(),
        unit,
        reference,
        tolerance: Tolerance::Relative(tolerance),
        kind,
        source: "EN ISO 52016-1:2017 monthly method, from memory; closed form of its equations".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(move |nudge| Ok(compute(nudge))) as Compute,
    }
}

/// A house that loses 100 W/K in the heating season at a steady 15 K, worked by hand.
const HOUSE: Envelope =
    Envelope { transmission_w_k: 80.0, capacity_j_k: 2.16e7, heating_c: 20.0, cooling_c: 25.0 };

fn months(nudge: f64) -> [Month; 12] {
    let mut months = [Month::default(); 12];
    for (month, seconds) in months.iter_mut().zip(MONTH_SECONDS) {
        month.outdoor_c = 5.0;
        month.ventilation_heating_w_k = 20.0;
        month.ventilation_cooling_w_k = 40.0;
        // 900 W of gains against 1 500 W of losses: γ = 0.6.
        month.internal_j = 900.0 * nudge * seconds;
    }
    months
}

fn hand_worked() -> Vec<Check> {
    // τ = 2.16e7/(100·3600) = 60 h, a = 1 + 60/15 = 5; η = (1 − 0.6⁵)/(1 − 0.6⁶) = 0.92224/0.953344;
    // demand 1500 − η·900 W. Cooling: H = 120 W/K, loss 2400 W, τ = 50 h, a = 13/3, x = 2400/900.
    let eta = (1.0 - 0.077_76) / (1.0 - 0.046_656);
    let heating_w = 1500.0 - eta * 900.0;
    let x: f64 = 2400.0 / 900.0;
    let (a, up) = (13.0 / 3.0, 16.0 / 3.0);
    let loss = (1.0 - numeric::pow(x, a)) / (1.0 - numeric::pow(x, up));
    let cooling_w = 900.0 - loss * 2400.0;
    let seconds: f64 = MONTH_SECONDS.iter().sum();
    let total = |cooling: bool| {
        move |nudge: f64| {
            let balances = year(HOUSE, &months(nudge), Conventions::default());
            let joules: f64 = balances.iter().map(|b| if cooling { b.cooling_j } else { b.heating_j }).sum();
            joules / seconds
        }
    };
    vec![
        check(
            "house.heating",
            "mean heating of a house at 5 °C outdoors with 900 W of gains",
            "W",
            heating_w,
            1e-12,
            Kind::ClosedForm,
            total(false),
        ),
        check(
            "house.cooling",
            "mean cooling of the same house: losses that the gains cannot use up",
            "W",
            cooling_w,
            1e-9,
            Kind::ClosedForm,
            total(true),
        ),
    ]
}
