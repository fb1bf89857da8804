//! Which input moves a result, and what knowing it would be worth.

use super::odds_numbers::{SAMPLES, check, text};
use crate::reference::{Data, Row, rows};
use crate::{Check, Kind, Tolerance};
use numeric::distribution::Distribution;
use numeric::weighted::Weights;
use numeric::{normal, scalar, sensitivity, sobol, worth};

const PROBABILITY: &str = include_str!("../../../../reference/odds/probability.toml");
const SHARES: &str = include_str!("../../../../reference/odds/sensitivity_functions.toml");
const SALTELLI: &str = include_str!("../../../../reference/odds/saltelli_small_ishigami.csv");
const MORRIS: &str = include_str!("../../../../reference/odds/morris.toml");
const MORRIS_ROWS: &str = include_str!("../../../../reference/odds/morris_trajectories.csv");

pub(crate) fn checks() -> Vec<Check> {
    shares().into_iter().chain(worths()).collect()
}

fn shares() -> Vec<Check> {
    const TOPIC: &str = "Shares of variance";
    let data = Data::read(SHARES);
    let small = data.at("saltelli_small");
    type Pick = fn(&sensitivity::Shares) -> &[f64];
    let picks: [(&str, Pick); 3] =
        [("S1_saltelli_2010", |s| &s.first), ("S1_jansen", |s| &s.first_jansen), ("ST_jansen", |s| &s.total)];
    let mut checks = Vec::new();
    for (key, pick) in picks {
        for (i, reference) in small.numbers(key).into_iter().enumerate() {
            checks.push(Check {
                tolerance: Tolerance::Absolute(1e-12),
                source: "numpy on the same 320 results".to_owned(),
                ..check(
                    format!("shares.designed.{key}.x{}", i + 1),
                    TOPIC,
                    format!("{key} of x{} from 64 base points", i + 1),
                    reference,
                    move |nudge| designed(nudge).map(|s| pick(&s)[i]),
                )
            });
        }
    }
    checks.extend(given_samples(&data, TOPIC));
    checks.extend(trajectories(TOPIC));
    checks
}

/// Shares from the table's own results, those of set A scaled.
fn designed(nudge: f64) -> Result<sensitivity::Shares, String> {
    let table = rows(SALTELLI);
    let block = |name: &str| -> Vec<f64> {
        table.iter().filter(|r| r.text("block") == name).map(|r| r.number("y")).collect()
    };
    let a: Vec<f64> = block("A").iter().map(|y| y * nudge).collect();
    sensitivity::saltelli(&a, &block("B"), &["AB1", "AB2", "AB3"].map(block)).map_err(text)
}

/// First-order shares without a design, from samples already made.
fn given_samples(data: &Data, topic: &'static str) -> Vec<Check> {
    let mut checks = Vec::new();
    for (function, input) in [("ishigami.0", 0), ("ishigami.0", 1), ("g_function.1", 0), ("g_function.1", 1)]
    {
        let case = data.at(function);
        let (a, b) = (case.numbers("a"), case.number("b"));
        let reference = case.numbers("S").get(input).copied().unwrap_or(f64::NAN);
        checks.push(Check {
            // Chance: about √(2·classes)/n of the variance and the classes' width; both below 0.01 here.
            tolerance: Tolerance::Absolute(0.01),
            kind: Kind::ClosedForm,
            source: case.text("status"),
            ..check(
                format!("shares.given.{function}.x{}", input + 1),
                topic,
                format!("first-order share of x{} of {function} from {SAMPLES} given samples", input + 1),
                reference,
                move |nudge| {
                    let ishigami = case.has("b");
                    let (a, a0) = (&a, case.number("a"));
                    let f = |u: &[f64]| if ishigami { wave(u, a0, b * nudge) } else { corner(u, a, nudge) };
                    from_samples(f, if ishigami { 3 } else { a.len() }, input)
                },
            )
        });
    }
    checks
}

fn from_samples(f: impl Fn(&[f64]) -> f64, inputs: usize, input: usize) -> Result<f64, String> {
    let stream = sobol::Stream::new(77);
    let mut u = vec![0.0; inputs];
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for k in 0..SAMPLES {
        stream.point(k, &mut u);
        x.push(u[input]);
        y.push(f(&u));
    }
    let equal = Weights::equal(x.len()).map_err(text)?;
    sensitivity::first_order(&x, &y, &equal, sensitivity::classes(x.len())).map_err(text)
}

/// sin x₁ + a sin² x₂ + b x₃⁴ sin x₁ on (−π, π).
fn wave(u: &[f64], a: f64, b: f64) -> f64 {
    let x: Vec<f64> = u.iter().map(|u| std::f64::consts::PI * (2.0 * u - 1.0)).collect();
    let s = scalar::sin(x[1]);
    scalar::sin(x[0]) * (1.0 + b * x[2] * x[2] * x[2] * x[2]) + a * s * s
}

/// Π (|4u − 2| + a)/(1 + a), the first a shifted.
fn corner(u: &[f64], a: &[f64], nudge: f64) -> f64 {
    u.iter()
        .zip(a)
        .enumerate()
        .map(|(i, (u, a))| {
            let a = if i == 0 { a + (nudge - 1.0) } else { *a };
            ((4.0 * u - 2.0).abs() + a) / (1.0 + a)
        })
        .product()
}

fn trajectories(topic: &'static str) -> Vec<Check> {
    let data = Data::read(MORRIS);
    type Pick = fn(&sensitivity::Effect) -> f64;
    let picks: [(&str, Pick, &[usize]); 3] =
        [("mu", |e| e.mean, &[0, 1, 2]), ("mu_star", |e| e.mean_size, &[0, 2]), ("sigma", |e| e.sd, &[0, 1])];
    let mut checks = Vec::new();
    for (key, pick, inputs) in picks {
        for &i in inputs {
            checks.push(Check {
                tolerance: Tolerance::Relative(1e-12),
                source: "SALib trajectories, recomputed with numpy".to_owned(),
                ..check(
                    format!("shares.trajectories.{key}.x{}", i + 1),
                    topic,
                    format!("elementary effects of x{}: {key}", i + 1),
                    data.numbers(key).get(i).copied().unwrap_or(f64::NAN),
                    move |nudge| effects(nudge).map(|e| pick(&e[i])),
                )
            });
        }
    }
    checks
}

/// Effects over the table's trajectories, results scaled.
fn effects(nudge: f64) -> Result<Vec<sensitivity::Effect>, String> {
    let table = rows(MORRIS_ROWS);
    let point = |r: &Row| (["x1", "x2", "x3", "x4"].map(|k| r.number(k)).to_vec(), nudge * r.number("y"));
    let runs: Vec<Vec<(Vec<f64>, f64)>> = table
        .chunk_by(|a, b| a.number("trajectory") == b.number("trajectory"))
        .map(|rows| rows.iter().map(point).collect())
        .collect();
    sensitivity::morris(&runs).map_err(text)
}

/// Samples of a net benefit and the worth of knowing it, or of reading it with some noise.
fn worths() -> Vec<Check> {
    const TOPIC: &str = "Worth of knowing";
    let cases = Data::read(PROBABILITY).list("value_of_information.case");
    let mut checks = Vec::new();
    for (i, case) in cases.iter().enumerate() {
        let [mean, sd] = ["mean_net_benefit", "sd"].map(|k| case.number(k));
        checks.push(Check {
            // Evenly spread samples miss a little of the far tail: measured below 1e-4.
            tolerance: Tolerance::Relative(1e-3),
            kind: Kind::ClosedForm,
            source: "E max(X, 0) − max(mean, 0), X normal".to_owned(),
            ..check(
                format!("worth.truth.{i}"),
                TOPIC,
                format!("perfect knowledge, net benefit {mean} ± {sd}"),
                case.number("EVPI"),
                move |nudge| Ok(simulated(mean, sd * nudge, 0.0)?.of_truth()),
            )
        });
        let after = sd * sd / (sd * sd + 0.25 * sd * sd).sqrt();
        let z = mean / after;
        let gain = mean * normal::cdf(z) + after * normal::pdf(z) - mean.max(0.0);
        checks.push(Check {
            // The estimate chooses on half the samples: a little low by design.
            tolerance: Tolerance::Relative(0.02),
            kind: Kind::ClosedForm,
            source: "belief after a reading is normal with sd s²/√(s² + u²)".to_owned(),
            ..check(
                format!("worth.reading.{i}"),
                TOPIC,
                format!("a reading with noise half the spread, net benefit {mean} ± {sd}"),
                gain,
                move |nudge| Ok(simulated(mean, sd * nudge, 0.5 * sd)?.of_reading()),
            )
        });
    }
    let case = Data::read(PROBABILITY).at("limit_with_measurement_error");
    checks.push(Check {
        tolerance: Tolerance::Absolute(1e-10),
        kind: Kind::ClosedForm,
        source: "normal with a flat prior".to_owned(),
        ..check("worth.limit-after-reading".to_owned(), TOPIC, case.text("note"), case.number("P"), |nudge| {
            Ok(Distribution::Normal { mean: 0.57 * nudge, sd: 0.03 }.cdf(0.6))
        })
    });
    let case = Data::read(PROBABILITY).at("gum_ratio");
    let parts = ["q50", "u_q50", "V", "u_V"].map(|k| case.number(k));
    checks.push(Check {
        // Samples carry the second-order terms too, which the propagation law drops: some 3e-4 here.
        tolerance: Tolerance::Relative(2e-3),
        kind: Kind::ClosedForm,
        source: "law of propagation of uncertainty, ISO/IEC Guide 98-3".to_owned(),
        ..check(
            "worth.ratio-uncertainty".to_owned(),
            TOPIC,
            "uncertainty of a flow over a volume, by samples".to_owned(),
            case.number("u_n50"),
            move |nudge| {
                let [q, u_q, v, u_v] = parts;
                let stream = sobol::Stream::new(5);
                let draw = |k, d, mean, sd| Distribution::Normal { mean, sd }.quantile(stream.at(k, d));
                let n: Vec<f64> =
                    (0..SAMPLES).map(|k| draw(k, 0, q, u_q * nudge) / draw(k, 1, v, u_v)).collect();
                Ok(Weights::equal(n.len()).map_err(text)?.sd(&n))
            },
        )
    });
    checks
}

fn simulated(mean: f64, sd: f64, noise: f64) -> Result<worth::Worth, String> {
    let stream = sobol::Stream::new(31);
    let spread = Distribution::Normal { mean: 0.0, sd: 1.0 };
    let net: Vec<f64> = (0..SAMPLES).map(|k| mean + sd * spread.quantile(stream.at(k, 0))).collect();
    let reading: Vec<f64> =
        net.iter().zip(0..).map(|(x, k)| x + noise * spread.quantile(stream.at(k, 1))).collect();
    worth::go_or_hold(&net, &reading, &Weights::equal(net.len()).map_err(text)?).map_err(text)
}
