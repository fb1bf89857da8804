//! Heat recovery between two air streams: effectiveness by number of transfer units, and what ratings mean.

use numeric::exp;

/// Returns the effectiveness of a counterflow exchanger.
///
/// ```text
/// ε = (1 − e^(−N(1−C))) / (1 − C·e^(−N(1−C)));   C = 1:  ε = N/(1+N)
/// ```
/// N = UA over the smaller capacity rate, C the ratio of smaller to larger.
pub fn counterflow(transfer_units: f64, capacity_ratio: f64) -> f64 {
    if (1.0 - capacity_ratio).abs() < 1e-9 {
        return transfer_units / (1.0 + transfer_units);
    }
    let e = exp(-transfer_units * (1.0 - capacity_ratio));
    (1.0 - e) / (1.0 - capacity_ratio * e)
}

/// Returns the effectiveness of a parallel-flow exchanger: `(1 − e^(−N(1+C)))/(1 + C)`.
pub fn parallel(transfer_units: f64, capacity_ratio: f64) -> f64 {
    (1.0 - exp(-transfer_units * (1.0 + capacity_ratio))) / (1.0 + capacity_ratio)
}

/// Returns the effectiveness of a crossflow exchanger with both streams unmixed.
///
/// The usual approximation `1 − exp( N^0.22/C·(exp(−C·N^0.78) − 1) )`, within about 1 % of the series solution.
pub fn crossflow(transfer_units: f64, capacity_ratio: f64) -> f64 {
    if transfer_units <= 0.0 {
        return 0.0;
    }
    let a = numeric::pow(transfer_units, 0.22) / capacity_ratio;
    let b = exp(-capacity_ratio * numeric::pow(transfer_units, 0.78));
    1.0 - exp(a * (b - 1.0))
}

/// Returns the transfer units that give a counterflow exchanger at balanced flow this effectiveness; `None` outside 0..1.
pub fn transfer_units_of_balanced(effectiveness: f64) -> Option<f64> {
    (0.0..1.0).contains(&effectiveness).then(|| effectiveness / (1.0 - effectiveness))
}

/// The four air states of an exchanger and the heat it passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// Effectiveness on the smaller stream.
    pub effectiveness: f64,
    /// Heat from extract to outdoor air, W; negative in summer.
    pub heat_w: f64,
    /// Supply temperature, °C.
    pub supply_c: f64,
    /// Exhaust temperature, °C.
    pub exhaust_c: f64,
    /// (supply − outdoor)/(extract − outdoor).
    pub supply_ratio: f64,
    /// (extract − exhaust)/(extract − outdoor).
    pub exhaust_ratio: f64,
}

/// Returns how a counterflow exchanger works between unequal streams.
///
/// `capacity_w_k` are mass flow times specific heat of supply and extract air, W/K, both above zero. A missing supply
/// enters through the fabric instead: the ratio rises on the smaller side while the heat recovered falls.
pub fn unbalanced(
    ua_w_k: f64,
    supply_w_k: f64,
    extract_w_k: f64,
    outdoor_c: f64,
    extract_c: f64,
) -> Exchange {
    let smaller = supply_w_k.min(extract_w_k);
    let ratio = smaller / supply_w_k.max(extract_w_k);
    let effectiveness = counterflow(ua_w_k / smaller, ratio);
    let heat = effectiveness * smaller * (extract_c - outdoor_c);
    Exchange {
        effectiveness,
        heat_w: heat,
        supply_c: outdoor_c + heat / supply_w_k,
        exhaust_c: extract_c - heat / extract_w_k,
        supply_ratio: effectiveness * smaller / supply_w_k,
        exhaust_ratio: effectiveness * smaller / extract_w_k,
    }
}

/// Returns the exhaust-side ratio with fan heat, the certification-style figure.
///
/// ```text
/// η = ((θ_ETA − θ_EHA) + P_el/(ṁ c_p)) / (θ_ETA − θ_ODA)
/// ```
/// Not comparable with a supply-side ratio, nor with one without fan heat.
pub fn exhaust_side_with_fans(
    outdoor_c: f64,
    extract_c: f64,
    exhaust_c: f64,
    power_w: f64,
    flow_m3_s: f64,
    heat_capacity_j_m3k: f64,
) -> f64 {
    (extract_c - exhaust_c + power_w / (flow_m3_s * heat_capacity_j_m3k)) / (extract_c - outdoor_c)
}

/// Returns the power a preheater needs to hold the inlet at a limit, W; zero above it.
pub fn preheat_w(limit_c: f64, outdoor_c: f64, flow_m3_s: f64, heat_capacity_j_m3k: f64) -> f64 {
    (limit_c - outdoor_c).max(0.0) * flow_m3_s * heat_capacity_j_m3k
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_one_stream_gains_the_other_loses(ua in 10.0..2000.0f64, s in 5.0..500.0f64, e in 5.0..500.0f64, out in -20.0..40.0f64) {
            let x = unbalanced(ua, s, e, out, 21.0);
            let gained = s * (x.supply_c - out);
            let lost = e * (21.0 - x.exhaust_c);
            prop_assert!((gained - lost).abs() < 1e-9 * (1.0 + gained.abs()));
        }

        #[test]
        fn the_second_law_holds(ua in 10.0..5000.0f64, s in 5.0..500.0f64, e in 5.0..500.0f64) {
            let x = unbalanced(ua, s, e, -5.0, 21.0);
            prop_assert!(x.supply_c <= 21.0 + 1e-9 && x.exhaust_c >= -5.0 - 1e-9);
        }

        #[test]
        fn transfer_units_undo(e in 0.01..0.99f64) {
            let n = transfer_units_of_balanced(e).unwrap();
            prop_assert!((counterflow(n, 1.0) - e).abs() < 1e-12);
        }
    }
}
