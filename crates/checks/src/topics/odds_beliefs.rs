//! Exact beliefs after readings, and the designs of sampling that tables hold.
//!
//! Beliefs are the odds engine's own ([`odds::gaussian`]); designs are held against the discrepancies of their points.

use super::odds_numbers::check;
use crate::reference::{Data, rows};
use crate::{Check, Kind, Tolerance};
use numeric::{ln, normal, scalar};
use odds::gaussian::Gaussian;

const BAYES: &str = include_str!("../../../../reference/odds/bayes_linear_gaussian.toml");
const SAMPLING: &str = include_str!("../../../../reference/odds/sampling.toml");
const SCRAMBLED: &str = include_str!("../../../../reference/odds/sobol_scrambled_4d_256.csv");
const SQUARES: &str = include_str!("../../../../reference/odds/lhs_5d_40.csv");

pub(crate) fn checks() -> Vec<Check> {
    [two_unknowns(), one_unknown(), designs()].into_iter().flatten().collect()
}

const BELIEFS: &str = "Beliefs after readings";

/// The two unknowns of the table after its first `readings` readings, the last reading scaled.
fn after(readings: usize, nudge: f64) -> Result<Gaussian, String> {
    let case = Data::read(BAYES).at("case_2d");
    let covariance: Vec<f64> = (0..2).flat_map(|i| case.numbers(&format!("prior_cov.{i}"))).collect();
    let mut g = Gaussian::new(&case.numbers("prior_mean"), &covariance).map_err(|e| e.to_string())?;
    let (seen, variance) = (case.numbers("y"), case.numbers("R_diag"));
    for k in 0..readings {
        let scale = if k + 1 == readings { nudge } else { 1.0 };
        let weights = case.numbers(&format!("H.{k}"));
        g.observe(&weights, scale * seen[k], scale * variance[k]).map_err(|e| e.to_string())?;
    }
    Ok(g)
}

fn exact(
    id: String,
    quantity: String,
    reference: f64,
    compute: impl Fn(f64) -> Result<f64, String> + Send + Sync + 'static,
) -> Check {
    Check {
        tolerance: Tolerance::Absolute(1e-12),
        kind: Kind::ClosedForm,
        source: "linear Gaussian update".to_owned(),
        ..check(id, BELIEFS, quantity, reference, compute)
    }
}

fn two_unknowns() -> Vec<Check> {
    let case = Data::read(BAYES).at("case_2d");
    let mut checks = Vec::new();
    for step in case.list("sequential") {
        let n = step.number("after") as usize;
        let (mean, row) = (step.numbers("mean"), step.numbers("cov.0"));
        for (k, reference) in mean.into_iter().enumerate() {
            checks.push(exact(
                format!("belief.two.after{n}.mean{k}"),
                format!("mean of unknown {} after {n} of three readings", k + 1),
                reference,
                move |nudge| Ok(after(n, nudge)?.mean()[k]),
            ));
        }
        for (k, reference) in row.into_iter().enumerate() {
            checks.push(exact(
                format!("belief.two.after{n}.cov0{k}"),
                format!("covariance of unknowns 1 and {} after {n} of three readings", k + 1),
                reference,
                move |nudge| Ok(after(n, nudge)?.covariance()[k]),
            ));
        }
    }
    checks.push(exact(
        "belief.two.evidence".to_owned(),
        "logarithm of the evidence of three readings".to_owned(),
        case.number("log_evidence"),
        |nudge| Ok(after(3, nudge)?.ln_evidence()),
    ));
    checks
}

/// One unknown after readings with their standard errors: mean, standard deviation, chance at or under a limit.
fn scalar_belief(prior: [f64; 2], readings: &[(f64, f64)], limit: f64) -> Result<[f64; 3], String> {
    let mut g = Gaussian::independent(&[prior[0]], &[prior[1]]);
    for (seen, sd) in readings {
        g.observe(&[1.0], *seen, sd * sd).map_err(|e| e.to_string())?;
    }
    let (mean, sd) = (g.mean()[0], g.covariance()[0].sqrt());
    Ok([mean, sd, normal::cdf((limit - mean) / sd)])
}

fn one_unknown() -> Vec<Check> {
    let mut checks = Vec::new();
    let case = Data::read(BAYES).at("case_n50");
    let prior = [case.number("prior_mean"), case.number("prior_sd")];
    let readings: Vec<(f64, f64)> = case.numbers("y").into_iter().zip(case.numbers("u")).collect();
    let cases = [
        ("posterior_mean", 2, 0),
        ("posterior_sd", 2, 1),
        ("P_pass_prior", 0, 2),
        ("P_pass_after_first", 1, 2),
        ("P_pass_posterior", 2, 2),
    ];
    for (key, taken, at) in cases {
        let readings = readings.clone();
        checks.push(exact(
            format!("belief.staged-tests.{key}"),
            format!("air change at 50 Pa by staged tests: {key}"),
            case.number(key),
            move |nudge| {
                let seen: Vec<(f64, f64)> =
                    readings[..taken].iter().map(|(y, u)| (nudge * y, nudge * u)).collect();
                // Without a reading only the limit can be nudged.
                let limit = if taken == 0 { 0.6 * nudge } else { 0.6 };
                Ok(scalar_belief(prior, &seen, limit)?[at])
            },
        ));
    }
    let case = Data::read(BAYES).at("case_lognormal");
    for (key, at) in [("post_ln_mean", 0), ("post_ln_sd", 1), ("P_below_0_6", 2)] {
        let prior = [case.number("ln_prior_mean"), case.number("ln_prior_sd")];
        let reading = (case.number("ln_y"), case.number("ln_u"));
        checks.push(exact(
            format!("belief.lognormal.{key}"),
            format!("a lognormal value read by its logarithm: {key}"),
            case.number(key),
            move |nudge| {
                let seen = [(nudge * reading.0, nudge * reading.1)];
                Ok(scalar_belief(prior, &seen, ln(0.6))?[at])
            },
        ));
    }
    checks
}

const DESIGNS: &str = "Sampling designs";

/// Points of a table with columns u1, u2, ….
fn points(text: &str, dimensions: usize, nudge: f64) -> Vec<Vec<f64>> {
    let column = |d: usize| format!("u{}", d + 1);
    rows(text).iter().map(|r| (0..dimensions).map(|d| nudge * r.number(&column(d))).collect()).collect()
}

/// Mean over points of a product of one factor, and over pairs of a product of two.
fn products(x: &[Vec<f64>], one: impl Fn(f64) -> f64, two: impl Fn(f64, f64) -> f64) -> (f64, f64) {
    let n = x.len() as f64;
    let single: f64 = x.iter().map(|p| p.iter().map(|u| one(*u)).product::<f64>()).sum();
    let mut pairs = 0.0;
    for p in x {
        for q in x {
            pairs += p.iter().zip(q).map(|(u, v)| two(*u, *v)).product::<f64>();
        }
    }
    (single / n, pairs / (n * n))
}

/// Discrepancies as the table names them, squared but for the star form. Formulas: K.-T. Fang and others, Design and
/// Modeling for Computer Experiments (2006), from memory; that three designs agree shows them right.
fn discrepancy(name: &str, x: &[Vec<f64>]) -> f64 {
    let d = x.first().map_or(0, Vec::len) as i32;
    let a = |u: f64| (u - 0.5).abs();
    match name {
        "CD" => {
            let one = |u| 1.0 + 0.5 * a(u) - 0.5 * a(u) * a(u);
            let (s, p) = products(x, one, |u, v| 1.0 + 0.5 * a(u) + 0.5 * a(v) - 0.5 * (u - v).abs());
            scalar::powi(13.0 / 12.0, d) - 2.0 * s + p
        }
        "WD" => {
            let two = |u: f64, v: f64| 1.5 - (u - v).abs() * (1.0 - (u - v).abs());
            products(x, |_| 1.0, two).1 - scalar::powi(4.0 / 3.0, d)
        }
        "MD" => {
            let one = |u| 5.0 / 3.0 - 0.25 * a(u) - 0.25 * a(u) * a(u);
            let two = |u: f64, v: f64| {
                let far = (u - v).abs();
                1.875 - 0.25 * a(u) - 0.25 * a(v) - 0.75 * far + 0.5 * far * far
            };
            let (s, p) = products(x, one, two);
            scalar::powi(19.0 / 12.0, d) - 2.0 * s + p
        }
        _ => {
            let (s, p) = products(x, |u| 0.5 * (1.0 - u * u), |u, v| 1.0 - u.max(v));
            (scalar::powi(3.0, -d) - 2.0 * s + p).sqrt()
        }
    }
}

/// Slices of equal width that do not hold exactly one point, over all dimensions.
fn uneven_slices(x: &[Vec<f64>]) -> f64 {
    let n = x.len();
    let mut uneven = 0;
    for d in 0..x.first().map_or(0, Vec::len) {
        let mut held = vec![0; n];
        x.iter().for_each(|p| held[((p[d] * n as f64) as usize).min(n - 1)] += 1);
        uneven += held.iter().filter(|h| **h != 1).count();
    }
    uneven as f64
}

fn designs() -> Vec<Check> {
    let data = Data::read(SAMPLING);
    let mut checks = Vec::new();
    for (design, text, dimensions) in [("sobol_scrambled", SCRAMBLED, 4), ("lhs", SQUARES, 5)] {
        for name in ["CD", "WD", "MD", "L2-star"] {
            checks.push(Check {
                tolerance: Tolerance::Absolute(1e-12),
                ..check(
                    format!("design.{design}.{name}"),
                    DESIGNS,
                    format!("{name} discrepancy of the table {design}"),
                    data.number(&format!("{design}.discrepancy.{name}")),
                    move |nudge| Ok(discrepancy(name, &points(text, dimensions, nudge))),
                )
            });
        }
        checks.push(Check {
            tolerance: Tolerance::Absolute(0.0),
            ..check(
                format!("design.{design}.slices"),
                DESIGNS,
                format!("slices of the table {design} without exactly one point"),
                0.0,
                move |nudge| Ok(uneven_slices(&points(text, dimensions, nudge))),
            )
        });
    }
    checks
}
