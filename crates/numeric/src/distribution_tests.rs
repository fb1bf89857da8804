//! Tests of [`super`].

use super::*;
use proptest::prelude::*;

/// Any distribution that passes its check.
fn any() -> impl Strategy<Value = Distribution> {
    let x = -10.0_f64..10.0;
    let w = 0.01_f64..20.0;
    prop_oneof![
        (x.clone(), 0.01_f64..5.0).prop_map(|(mean, sd)| Distribution::Normal { mean, sd }),
        (0.1_f64..10.0, 1.01_f64..4.0).prop_map(|(m, f)| Distribution::factor95(m, f)),
        (x.clone(), w.clone()).prop_map(|(low, w)| Distribution::range(low, low + w)),
        (x.clone(), w.clone(), 0.0_f64..=1.0).prop_map(|(low, w, t)| Distribution::Triangular {
            low,
            mode: low + t * w,
            high: low + w
        }),
        (x.clone(), 0.1_f64..5.0, -3.0_f64..3.0, 0.05_f64..4.0).prop_map(|(mean, sd, a, w)| {
            Distribution::TruncatedNormal { mean, sd, low: mean + a * sd, high: mean + (a + w) * sd }
        }),
        (0.5_f64..20.0, 0.5_f64..20.0, x, w).prop_map(|(alpha, beta, low, w)| Distribution::Beta {
            alpha,
            beta,
            low,
            high: low + w
        }),
    ]
}

proptest! {
    #[test]
    fn quantile_and_probability_undo_each_other(d in any(), p in 0.001_f64..0.999) {
        d.check().unwrap();
        let x = d.quantile(p);
        let slack = 1e-10 + 4.0 * f64::EPSILON * x.abs() * d.pdf(x).unwrap();
        prop_assert!((d.cdf(x) - p).abs() < slack, "{:?} at {}", d, p);
    }

    #[test]
    fn quantile_never_falls(d in any(), p in 0.0_f64..1.0, q in 0.0_f64..1.0) {
        let (p, q) = (p.min(q), p.max(q));
        prop_assert!(d.quantile(p) <= d.quantile(q));
    }

    #[test]
    fn moments_are_those_of_the_quantile(d in any()) {
        // ∫ x(p) dp and its square, with the ends graded by p = t²(3 − 2t).
        let rule = gauss_legendre(20);
        let of = |f: &dyn Fn(f64) -> f64| integrate(&rule, |t| f(d.quantile(t * t * (3.0 - 2.0 * t))) * 6.0 * t * (1.0 - t), 0.0, 1.0, 40);
        let m = of(&|x| x);
        let s = of(&|x| (x - m) * (x - m)).sqrt();
        prop_assert!((m - d.mean()).abs() < 1e-5 * (d.sd() + 1e-12), "{:?}: {} {}", d, m, d.mean());
        prop_assert!((s / d.sd() - 1.0).abs() < 1e-3, "{:?}: {} {}", d, s, d.sd());
    }

    #[test]
    fn density_is_the_slope_of_probability(d in any(), p in 0.02_f64..0.98) {
        let x = d.quantile(p);
        let h = 1e-4 * d.sd();
        let slope = (d.cdf(x + h) - d.cdf(x - h)) / (2.0 * h);
        let f = d.pdf(x).unwrap();
        prop_assert!((slope - f).abs() < 1e-2 * f + 2e-3 / d.sd(), "{:?}: {} {}", d, slope, f);
    }
}

#[test]
fn stated_spreads_have_their_meaning() {
    let d = Distribution::half_width95(60.0, 3.0);
    assert_eq!((d.mean(), d.sd()), (60.0, 1.5));
    let (low, high) = Distribution::factor95(2.0, 1.5).interval95();
    assert!((low - 2.0 / 1.5).abs() < 1e-14 && (high - 3.0).abs() < 1e-14);
    assert_eq!(Distribution::tolerance(10.0, 2.0), Distribution::Uniform { low: 8.0, high: 12.0 });
    assert_eq!(Distribution::Point { value: 3.0 }.quantile(0.9), 3.0);
    assert_eq!(Distribution::half_width95(1.0, 0.0).quantile(0.0), 1.0);
}

#[test]
fn a_few_values() {
    let d = Distribution::Discrete { values: vec![(1.0, 0.0), (2.0, 1.0), (5.0, 3.0)] };
    d.check().unwrap();
    assert_eq!(d.quantile(0.0), 2.0);
    assert_eq!(d.quantile(0.25), 2.0);
    assert_eq!(d.quantile(0.26), 5.0);
    assert_eq!(d.quantile(1.0), 5.0);
    assert_eq!(d.cdf(2.0), 0.25);
    assert_eq!(d.mean(), 4.25);
    assert!((d.sd() - 1.6875_f64.sqrt()).abs() < 1e-15);
}

#[test]
fn far_tails_of_a_cut_bell_keep_their_digits() {
    // Ends 8 and 9 deviations above the mean: the mean of the tail is near 8 + 1/8.12 (Mills' ratio).
    let d = Distribution::TruncatedNormal { mean: 0.0, sd: 1.0, low: 8.0, high: 9.0 };
    d.check().unwrap();
    assert!((d.mean() - 8.121).abs() < 2e-3, "{}", d.mean());
    assert!((d.cdf(d.quantile(0.3)) - 0.3).abs() < 1e-12);
    let open = Distribution::TruncatedNormal { mean: 0.0, sd: 1.0, low: 0.0, high: f64::INFINITY };
    assert!((open.mean() - (2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-15);
    assert!((open.sd() - (1.0 - 2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-15);
}

#[test]
fn bad_parameters_are_named() {
    let bad = [
        Distribution::Normal { mean: 0.0, sd: -1.0 },
        Distribution::LogNormal { median: 0.0, factor95: 2.0 },
        Distribution::LogNormal { median: 1.0, factor95: 0.5 },
        Distribution::Uniform { low: 1.0, high: 1.0 },
        Distribution::Triangular { low: 0.0, mode: 2.0, high: 1.0 },
        Distribution::TruncatedNormal { mean: 0.0, sd: 1.0, low: 60.0, high: 61.0 },
        Distribution::Beta { alpha: 0.0, beta: 1.0, low: 0.0, high: 1.0 },
        Distribution::Discrete { values: vec![] },
        Distribution::Discrete { values: vec![(2.0, 1.0), (1.0, 1.0)] },
        Distribution::Point { value: f64::NAN },
    ];
    for d in bad {
        let message = d.check().unwrap_err().to_string();
        assert!(message.contains("must be"), "{message}");
    }
    assert!(Distribution::range(0.0, 1.0).quantile(1.1).is_nan());
}
