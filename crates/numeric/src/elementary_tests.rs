//! Accuracy and edge cases of [`super`].

use super::{exp, ln, pow};

/// Distance of `a` from `b` in units of the last place of `b`.
fn ulps(a: f64, b: f64) -> f64 {
    if a == b || (a.is_nan() && b.is_nan()) {
        return 0.0;
    }
    let spacing = (f64::from_bits(b.abs().to_bits() + 1) - b.abs()).max(f64::from_bits(1));
    (a - b).abs() / spacing
}

/// Reproducible numbers in (0, 1) for dense samples.
fn unit(i: u64) -> f64 {
    let mut z = i.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0 + 1e-17
}

/// libm's own errors stay below 1 ulp for these three, so 1.6 here bounds ours by about one more.
#[test]
fn dense_samples_stay_near_libm() {
    let mut worst = [0.0_f64; 3];
    for i in 0..300_000 {
        let x = -745.5 + 1455.5 * unit(3 * i);
        worst[0] = worst[0].max(ulps(exp(x), libm::exp(x)));
        let x = -2.0 + 4.0 * unit(3 * i + 1);
        worst[0] = worst[0].max(ulps(exp(x), libm::exp(x)));
        let m = libm::exp(-700.0 + 1400.0 * unit(3 * i + 2));
        worst[1] = worst[1].max(ulps(ln(m), libm::log(m)));
        let m = 0.5 + 1.5 * unit(7 * i);
        worst[1] = worst[1].max(ulps(ln(m), libm::log(m)));
        let y = (unit(5 * i) - 0.5) * 1400.0 / libm::log(m).abs().max(0.01);
        worst[2] = worst[2].max(ulps(pow(m, y), libm::pow(m, y)));
        let y = 3.0 * unit(5 * i + 1);
        let x = 100.0 * unit(5 * i + 2);
        worst[2] = worst[2].max(ulps(pow(x, y), libm::pow(x, y)));
    }
    assert!(worst.iter().all(|w| *w <= 1.01), "{worst:?}");
}

#[test]
fn subnormal_results_and_arguments() {
    for i in 0..2_000 {
        let x = -745.2 + 38.0 * unit(i);
        assert!(ulps(exp(x), libm::exp(x)) <= 1.0, "exp({x})");
        let tiny = f64::from_bits(1 + i * 2_251_799_813_685);
        assert!(ulps(ln(tiny), libm::log(tiny)) <= 1.0, "ln({tiny})");
        assert!(ulps(pow(tiny, 0.37), libm::pow(tiny, 0.37)) <= 1.0, "pow({tiny}, 0.37)");
        assert!(ulps(pow(10.0, -307.5 - 17.0 * unit(i)), libm::pow(10.0, -307.5 - 17.0 * unit(i))) <= 1.0);
    }
}

#[test]
fn edges_of_exp_and_ln() {
    assert_eq!(exp(0.0), 1.0);
    assert_eq!(exp(-0.0), 1.0);
    assert_eq!(exp(f64::INFINITY), f64::INFINITY);
    assert_eq!(exp(f64::NEG_INFINITY), 0.0);
    assert_eq!(exp(709.9), f64::INFINITY);
    assert!(exp(709.78).is_finite());
    assert_eq!(exp(-745.2), 0.0);
    assert_eq!(exp(-745.1), f64::from_bits(1));
    assert!(exp(f64::NAN).is_nan());
    assert_eq!(ln(1.0), 0.0);
    assert_eq!(ln(0.0), f64::NEG_INFINITY);
    assert_eq!(ln(-0.0), f64::NEG_INFINITY);
    assert_eq!(ln(f64::INFINITY), f64::INFINITY);
    for bad in [-1.0, -f64::MIN_POSITIVE, f64::NEG_INFINITY, f64::NAN] {
        assert!(ln(bad).is_nan(), "ln({bad})");
    }
    assert_eq!(ln(2.0), std::f64::consts::LN_2);
    assert_eq!(ln(f64::MAX), libm::log(f64::MAX));
}

#[test]
fn edges_of_pow_follow_the_standard() {
    let special = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        2.0,
        -2.0,
        0.5,
        -0.5,
        3.0,
        -3.0,
        1e300,
        -1e300,
        1e-300,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NAN,
        4_503_599_627_370_497.0,
        9_007_199_254_740_991.0,
        9.1e15,
        1.0 + f64::EPSILON,
        1.0 - f64::EPSILON / 2.0,
        f64::from_bits(1),
        f64::MAX,
    ];
    for x in special {
        for y in special {
            let (ours, theirs) = (pow(x, y), libm::pow(x, y));
            assert!(
                ulps(ours, theirs) <= 1.0
                    && (ours.is_nan() || ours.is_sign_negative() == theirs.is_sign_negative()),
                "pow({x:e}, {y:e}) = {ours:e}, libm {theirs:e}"
            );
        }
    }
}

proptest::proptest! {
    #[test]
    fn exp_undoes_ln(x in 1e-300_f64..1e300) {
        let back = exp(ln(x));
        // ln rounds to half an ulp of up to 691: relative 691 · 2^-53.
        proptest::prop_assert!((back / x - 1.0).abs() < 1.6e-13);
    }

    #[test]
    fn exp_never_falls(x in -700.0_f64..700.0) {
        let above = f64::from_bits(if x >= 0.0 { x.to_bits() + 1 } else { x.to_bits() - 1 });
        proptest::prop_assert!(exp(above) >= exp(x) * (1.0 - f64::EPSILON));
    }

    #[test]
    fn whole_powers_are_products(x in -50.0_f64..50.0) {
        proptest::prop_assert!(ulps(pow(x, 2.0), x * x) <= 1.0);
        proptest::prop_assert!(ulps(pow(x, 1.0), x) <= 0.0);
    }
}
