//! Heat over electricity of heat pumps by lift alone: published regressions over many machines, for jobs where nothing
//! else is known yet.
//!
//! Staffell and others 2012 (doi 10.1039/C2EE22653G) over maker's data; Ruhnau and others 2019
//! (doi 10.1038/s41597-019-0199-y) with a floor of 15 K and a factor of 0.85 for installed machines. Both seen second-hand.

/// Which regression, for which source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regression {
    /// Staffell, outdoor air.
    StaffellAir,
    /// Staffell, ground.
    StaffellGround,
    /// Ruhnau, outdoor air.
    RuhnauAir,
    /// Ruhnau, ground.
    RuhnauGround,
    /// Ruhnau, ground water.
    RuhnauWater,
}

/// Correction from the laboratory to the field.
pub const FIELD: f64 = 0.85;
/// Smallest lift that the regressions are used at, K.
const LEAST_LIFT_K: f64 = 15.0;

/// Returns heat over electricity at a lift between source and heat given, K; valid for 15 to 60 K, held at 15 below.
pub fn ratio(which: Regression, lift_k: f64) -> f64 {
    let [a, b, c] = match which {
        Regression::StaffellAir => [6.81, -0.121, 0.000_630],
        Regression::StaffellGround => [8.77, -0.150, 0.000_734],
        Regression::RuhnauAir => [6.08, -0.09, 0.0005],
        Regression::RuhnauGround => [10.29, -0.21, 0.0012],
        Regression::RuhnauWater => [9.97, -0.20, 0.0012],
    };
    let lift = lift_k.max(LEAST_LIFT_K);
    (a + b * lift + c * lift * lift).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_lift_less_heat() {
        assert!(ratio(Regression::RuhnauAir, 20.0) > ratio(Regression::RuhnauAir, 45.0));
        assert_eq!(ratio(Regression::RuhnauAir, 5.0), ratio(Regression::RuhnauAir, 15.0));
    }
}
