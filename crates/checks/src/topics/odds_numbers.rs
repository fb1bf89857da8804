//! Numbers about chance: distributions, sampling, weighted samples.
//!
//! Laws of the crate `numeric` only; what the odds engine makes of them is held elsewhere.

use crate::reference::{Data, rows};
use crate::{Check, Kind, Tolerance};
use numeric::distribution::{Distribution, Z95};
use numeric::weighted::Weights;
use numeric::{beta, exp, normal, scalar, sobol};

const QUANTILES: &str = include_str!("../../../../reference/odds/quantiles.csv");
const STUDENT: &str = include_str!("../../../../reference/odds/student_t.csv");
const PROBABILITY: &str = include_str!("../../../../reference/odds/probability.toml");
const SAMPLING: &str = include_str!("../../../../reference/odds/sampling.toml");
const SOBOL: &str = include_str!("../../../../reference/odds/sobol_unscrambled_6d_64.csv");
const WEIGHTS: &str = include_str!("../../../../reference/odds/importance_sampling.toml");
const WEIGHTS_ROWS: &str = include_str!("../../../../reference/odds/importance_sampling.csv");
const BAYES: &str = include_str!("../../../../reference/odds/bayes_linear_gaussian.toml");

/// Samples of the checks whose answer carries sampling error.
pub(super) const SAMPLES: u64 = 16_384;

pub(crate) fn checks() -> Vec<Check> {
    [distributions(), sampling(), weights()].into_iter().flatten().collect()
}

/// A check with the parts that most share; the rest by struct update.
pub(super) fn check(
    id: String,
    topic: &'static str,
    quantity: String,
    reference: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        id,
        topic,
        quantity,
        unit: "-",
        reference,
        tolerance: Tolerance::Relative(1e-9),
        kind: Kind::IndependentLibrary,
        source: "scipy".to_owned(),
        seen: false,
        known_gap: None,
        compute: Box::new(compute),
    }
}

/// An error as a check reports it.
pub(super) fn text(error: numeric::NumericError) -> String {
    error.to_string()
}

fn distributions() -> Vec<Check> {
    const TOPIC: &str = "Distributions";
    // factor95 = e^(1.96 · 0.25) makes the table's sigma.
    let known = [
        ("norm_0_1", Distribution::Normal { mean: 0.0, sd: 1.0 }, &[0_usize, 4, 8, 14, 17][..]),
        (
            "lognormal_median0.6_sigma0.25",
            Distribution::LogNormal { median: 0.6, factor95: exp(0.25 * Z95) },
            &[1, 13][..],
        ),
        ("triangular_1_3_6", Distribution::Triangular { low: 1.0, mode: 3.0, high: 6.0 }, &[2, 12][..]),
        ("beta_2_5", Distribution::Beta { alpha: 2.0, beta: 5.0, low: 0.0, high: 1.0 }, &[0, 7, 11, 16][..]),
    ];
    let table = rows(QUANTILES);
    let mut checks = Vec::new();
    for (column, distribution, places) in known {
        for row in places.iter().filter_map(|i| table.get(*i)) {
            let (p, d) = (row.number("p"), distribution.clone());
            checks.push(check(
                format!("quantile.{column}.p{p}"),
                TOPIC,
                format!("{column}, value not exceeded with probability {p}"),
                row.number(column),
                move |nudge| Ok(d.quantile(p * nudge)),
            ));
        }
    }
    let table = rows(STUDENT);
    for (df, level) in [(1.0, 95.0), (5.0, 90.0), (9.0, 95.0), (30.0, 99.0), (120.0, 95.0)] {
        let Some(row) = table.iter().find(|r| r.number("df") == df) else { continue };
        checks.push(check(
            format!("student-t.df{df}.level{level}"),
            TOPIC,
            format!("Student's t, {df} degrees of freedom, {level} % two-sided"),
            row.number(&format!("t_two_sided_{level}")),
            move |nudge| beta::student_t_two_sided(0.01 * level, df * nudge).map_err(text),
        ));
    }
    let data = Data::read(PROBABILITY);
    for (i, key) in [(1, "low"), (1, "high"), (3, "low"), (3, "wilson_high")] {
        let case = data.at(&format!("binomial_interval_95.{i}"));
        let (k, n, reference) = (case.number("k"), case.number("n"), case.number(key));
        let compute = move |nudge: f64| {
            let level = 1.0 - 0.05 * nudge;
            let (low, high) = if key.starts_with("wilson") {
                beta::wilson_interval(k / n, n, level)
            } else {
                beta::proportion_interval(k as u64, n as u64, level)
            }
            .map_err(text)?;
            Ok(if key.ends_with("low") { low } else { high })
        };
        let quantity = format!("95 % interval of a proportion, {k} of {n}: {key}");
        checks.push(check(format!("proportion.{k}-of-{n}.{key}"), TOPIC, quantity, reference, compute));
    }
    for i in [1, 3, 4] {
        let case = data.at(&format!("bivariate_normal_cdf.{i}"));
        let [h, k, rho, p] = ["h", "k", "rho", "P"].map(|key| case.number(key));
        checks.push(Check {
            tolerance: Tolerance::Absolute(1e-10),
            source: "quadrature (scipy)".to_owned(),
            ..check(
                format!("two-normals.h{h}.k{k}.rho{rho}"),
                TOPIC,
                format!("two standard normals with correlation {rho} below {h} and {k}"),
                p,
                move |nudge| Ok(normal::bivariate_cdf(h * nudge, k, rho)),
            )
        });
    }
    checks
}

/// The first 64 unscrambled points in six dimensions, in the table's Gray-code order, each number scaled.
fn sobol_points(nudge: f64) -> Vec<Vec<f64>> {
    let at = |i: u64, d| nudge * sobol::unscrambled(i ^ (i >> 1), d).unwrap_or(f64::NAN);
    (0..64).map(|i| (0..6).map(|d| at(i, d)).collect()).collect()
}

/// Products over the dimensions summed over points and over pairs of points.
fn products(x: &[Vec<f64>], one: impl Fn(f64) -> f64, two: impl Fn(f64, f64) -> f64) -> (f64, f64) {
    let n = x.len() as f64;
    let single: f64 = x.iter().map(|p| p.iter().map(|u| one(*u)).product::<f64>()).sum();
    let pairs: f64 = x
        .iter()
        .flat_map(|p| x.iter().map(move |q| (p, q)))
        .map(|(p, q)| p.iter().zip(q).map(|(u, v)| two(*u, *v)).product::<f64>())
        .sum();
    (single / n, pairs / (n * n))
}

fn sampling() -> Vec<Check> {
    const TOPIC: &str = "Sampling";
    let data = Data::read(SAMPLING);
    let mut checks = vec![Check {
        tolerance: Tolerance::Absolute(0.0),
        source: "first 64 points of Joe and Kuo's direction numbers (scipy)".to_owned(),
        ..check(
            "sobol.points".to_owned(),
            TOPIC,
            "largest distance of 64 points in 6 dimensions from the table".to_owned(),
            0.0,
            |nudge| {
                let ours = sobol_points(nudge);
                let table = rows(SOBOL);
                let far = table.iter().zip(&ours).flat_map(|(row, p)| {
                    p.iter().enumerate().map(|(d, u)| (u - row.number(&format!("u{}", d + 1))).abs())
                });
                if table.len() != 64 {
                    return Err(format!("{} rows in the table", table.len()));
                }
                Ok(far.fold(0.0, f64::max))
            },
        )
    }];
    // Squared, as the library prints them; the star form as its root.
    type Form = fn(&[Vec<f64>]) -> f64;
    let forms: [(&str, Form); 3] = [
        ("CD", |x| {
            let a = |u: f64| (u - 0.5).abs();
            let one = |u| 1.0 + 0.5 * a(u) - 0.5 * a(u) * a(u);
            let (s, p) = products(x, one, |u, v| 1.0 + 0.5 * a(u) + 0.5 * a(v) - 0.5 * (u - v).abs());
            scalar::powi(13.0 / 12.0, 6) - 2.0 * s + p
        }),
        ("WD", |x| {
            let two = |u: f64, v: f64| 1.5 - (u - v).abs() * (1.0 - (u - v).abs());
            products(x, |_| 1.0, two).1 - scalar::powi(4.0 / 3.0, 6)
        }),
        ("L2-star", |x| {
            let (s, p) = products(x, |u| 0.5 * (1.0 - u * u), |u, v| 1.0 - u.max(v));
            (scalar::powi(3.0, -6) - 2.0 * s + p).sqrt()
        }),
    ];
    for (name, form) in forms {
        checks.push(Check {
            tolerance: Tolerance::Absolute(1e-12),
            ..check(
                format!("sobol.discrepancy.{name}"),
                TOPIC,
                format!("{name} discrepancy of the first 64 points in 6 dimensions"),
                data.number(&format!("sobol_unscrambled.discrepancy.{name}")),
                move |nudge| Ok(form(&sobol_points(nudge))),
            )
        });
    }
    type Integrand = fn(&[f64]) -> f64;
    let integrands: [Integrand; 3] = [
        |u| u.iter().map(|u| 1.0 + 0.5 * (u - 0.5)).product(),
        |u| exp(u.iter().sum()),
        |u| (u[0] + u[1] - 1.0).max(0.0),
    ];
    for (i, f) in integrands.into_iter().enumerate() {
        let case = data.at(&format!("integral_tests.{i}"));
        let exact = case.number("exact");
        checks.push(Check {
            // Sixteen times as many points as the table's own estimate must do better than it did.
            tolerance: Tolerance::Absolute((case.number("rqmc_256_in_file") - exact).abs()),
            kind: Kind::ClosedForm,
            source: "exact integral".to_owned(),
            ..check(
                format!("sobol.integral.{i}"),
                TOPIC,
                format!("mean of {} over 4 096 scrambled points", case.text("f")),
                exact,
                move |nudge| {
                    let stream = sobol::Stream::new(2024);
                    let mut u = [0.0; 4];
                    let sum: f64 = (0..4096)
                        .map(|k| {
                            stream.point(k, &mut u);
                            f(&u.map(|v| nudge * v))
                        })
                        .sum();
                    Ok(sum / 4096.0)
                },
            )
        });
    }
    checks
}

/// The table's samples and log-likelihoods, these scaled.
fn weighted_rows(nudge: f64) -> Result<(Vec<f64>, Weights), String> {
    let table = rows(WEIGHTS_ROWS);
    let x = table.iter().map(|r| r.number("x_prior_draw")).collect();
    let logs: Vec<f64> = table.iter().map(|r| nudge * r.number("log_likelihood_unnormalised")).collect();
    Ok((x, Weights::from_logs(&logs).map_err(text)?))
}

fn weights() -> Vec<Check> {
    const TOPIC: &str = "Weighted samples";
    let data = Data::read(WEIGHTS);
    let mut checks = Vec::new();
    type Statistic = fn(&[f64], &Weights) -> f64;
    let statistics: [(&str, Statistic); 5] = [
        ("ESS_kish", |_, w| w.effective_size()),
        ("weighted_mean", |x, w| w.mean(x)),
        ("weighted_sd", |x, w| w.sd(x)),
        ("P_below_0_6", |x, w| w.share(|i| x[i] <= 0.6)),
        ("log_mean_weight", |_, w| w.ln_mean()),
    ];
    for (key, f) in statistics {
        checks.push(Check {
            tolerance: Tolerance::Relative(1e-12),
            source: "numpy".to_owned(),
            ..check(
                format!("weights.{key}"),
                TOPIC,
                format!("60 prior draws weighted by a reading: {key}"),
                data.number(key),
                move |nudge| weighted_rows(nudge).map(|(x, w)| f(&x, &w)),
            )
        });
    }
    let counts = data.numbers("systematic_resample_offset_half_counts");
    checks.push(Check {
        tolerance: Tolerance::Absolute(0.0),
        source: "numpy".to_owned(),
        ..check(
            "weights.resampling".to_owned(),
            TOPIC,
            "samples whose count after systematic resampling differs from the table".to_owned(),
            0.0,
            move |nudge| {
                let (_, w) = weighted_rows(nudge)?;
                let drawn = w.resample(counts.len());
                let of = |i: usize| drawn.iter().filter(|d| **d == i).count() as f64;
                Ok(counts.iter().enumerate().filter(|(i, c)| of(*i) != **c).count() as f64)
            },
        )
    });
    let logs = data.numbers("underflow_trap_log_weights");
    for (i, reference) in data.numbers("underflow_trap_weights").into_iter().enumerate() {
        let logs = logs.clone();
        checks.push(Check {
            tolerance: Tolerance::Relative(1e-12),
            kind: Kind::ClosedForm,
            source: "e^(x − max)/Σ".to_owned(),
            ..check(
                format!("weights.no-underflow.{i}"),
                TOPIC,
                format!("weight {i} of likelihoods e^-1000, e^-1001, e^-1002"),
                reference,
                move |nudge| {
                    let scaled: Vec<f64> = logs.iter().map(|l| l * nudge).collect();
                    Ok(Weights::from_logs(&scaled).map_err(text)?.as_slice()[i])
                },
            )
        });
    }
    checks.extend(asymptotic_sizes(&data, TOPIC));
    checks.extend(posteriors(TOPIC));
    checks
}

/// Effective size of a shifted or narrower target against its closed form.
fn asymptotic_sizes(data: &Data, topic: &'static str) -> Vec<Check> {
    let size = |logs: Vec<f64>| -> Result<f64, String> {
        Ok(Weights::from_logs(&logs).map_err(text)?.effective_size() / SAMPLES as f64)
    };
    let cases =
        [("asymptotic_ess.1", "mu"), ("asymptotic_ess_scale.1", "s"), ("asymptotic_ess_scale.2", "s")];
    cases
        .into_iter()
        .map(|(path, key)| {
            let case = data.at(path);
            let parameter = case.number(key);
            Check {
                // 16 384 evenly spread samples miss the far tail: measured below 2e-4.
                tolerance: Tolerance::Relative(1e-3),
                kind: Kind::ClosedForm,
                source: case.text("note"),
                ..check(
                    format!("weights.effective-size.{key}{parameter}"),
                    topic,
                    format!("effective share of the samples, {key} = {parameter}"),
                    case.number("ratio"),
                    move |nudge| {
                        let a = parameter * nudge;
                        let z = evenly_spread_normals();
                        if key == "mu" {
                            return size(z.map(|z| a * z).collect());
                        }
                        // Samples from N(0, s), target N(0, 1).
                        size(z.map(|z| 0.5 * z * z * (1.0 - a * a)).collect())
                    },
                )
            }
        })
        .collect()
}

/// Standard normal numbers at the middles of equal probabilities.
fn evenly_spread_normals() -> impl Iterator<Item = f64> {
    (0..SAMPLES).map(|i| normal::quantile((i as f64 + 0.5) / SAMPLES as f64))
}

/// Two readings on one normal prior: the weighted samples against the exact posterior.
fn posteriors(topic: &'static str) -> Vec<Check> {
    type Statistic = fn(&[f64], &Weights) -> f64;
    let statistics: [(&str, Statistic); 3] = [
        ("posterior_mean", |x, w| w.mean(x)),
        ("posterior_sd", |x, w| w.sd(x)),
        ("P_pass_posterior", |x, w| w.share(|i| x[i] <= 0.6)),
    ];
    let case = Data::read(BAYES).at("case_n50");
    statistics
        .into_iter()
        .map(|(key, f)| {
            let [mean, sd] = ["prior_mean", "prior_sd"].map(|k| case.number(k));
            let (y, u) = (case.numbers("y"), case.numbers("u"));
            Check {
                // Half a sample's step at the limit moves the probability by about 1e-4.
                tolerance: Tolerance::Absolute(5e-4),
                kind: Kind::ClosedForm,
                source: "linear Gaussian update".to_owned(),
                ..check(
                    format!("weights.two-readings.{key}"),
                    topic,
                    format!(
                        "air change at 50 Pa after two staged tests, from {SAMPLES} weighted samples: {key}"
                    ),
                    case.number(key),
                    move |nudge| {
                        let x: Vec<f64> = evenly_spread_normals().map(|z| mean + sd * z).collect();
                        let log = |x: f64| {
                            y.iter().zip(&u).fold(0.0, |s, (y, u)| {
                                let z = (x - nudge * y) / u;
                                s - 0.5 * z * z
                            })
                        };
                        let logs: Vec<f64> = x.iter().map(|x| log(*x)).collect();
                        Ok(f(&x, &Weights::from_logs(&logs).map_err(text)?))
                    },
                )
            }
        })
        .collect()
}
