//! Coverage: intervals that claim 90 % hold the truth about nine times in ten.
//!
//! Five hundred invented worlds each. In the first two kinds the worlds come from the model itself: intervals must hold
//! 86 to 94 % and the truth's rank among the samples must be flat. In the third they come from another model (another
//! film law, another infiltration law, a biased sensor), and the truth may be excluded at most one time in five.

use building::stated::{Basis, Enters, Source, Statement};
use building::{StatedValues, ValueKey};
use numeric::counter::Stream;
use odds::cause::{Causes, Chance, value_at};
use odds::evidence::{Belief, Forward, Reading};
use odds::outcome::{self, Series};
use odds::smc::Settings;
use quantity::{Dimension, Spread};
use rayon::prelude::*;

const WORLDS: u64 = 500;
const DRAWS: u64 = 399;
const CLASSES: usize = 10;
/// χ² with 9 degrees of freedom is not exceeded with probability 0.999 (table).
const FLAT: f64 = 27.88;

fn state(values: &mut StatedValues, id: &str, value: f64, spread: Spread, group: Option<&str>) -> ValueKey {
    let statement = Statement {
        id: id.to_owned(),
        value,
        spread: Some(spread),
        kind: "conductivity",
        dimension: Dimension::Conductivity,
        basis: Basis::Drawn,
        rating: None,
        source: Source::Default("test".to_owned()),
        group: group.map(str::to_owned),
        enters: Enters::BOTH,
    };
    values.state(statement).expect("states")
}

/// What the ranks of the truth say.
struct Held {
    share: f64,
    chi2: f64,
}

fn held(ranks: &[f64]) -> Held {
    let n = ranks.len() as f64;
    let inside = ranks.iter().filter(|r| (0.05..=0.95).contains(*r)).count() as f64;
    let mut bins = [0.0; CLASSES];
    ranks.iter().for_each(|r| bins[((r * CLASSES as f64) as usize).min(CLASSES - 1)] += 1.0);
    let expected = n / CLASSES as f64;
    let chi2 = bins.iter().map(|b| (b - expected) * (b - expected) / expected).sum();
    Held { share: inside / n, chi2 }
}

/// Share of draws below the truth, ties halved.
fn rank(truth: f64, draws: &[f64]) -> f64 {
    let below = draws.iter().filter(|d| **d < truth).count() as f64;
    (below + 0.5) / (draws.len() as f64 + 1.0)
}

/// Insulation, its thickness, old brick, window U, a leak, and a group of two flows: most of what a job reads.
fn stated() -> (StatedValues, [ValueKey; 7]) {
    let mut v = StatedValues::new();
    let keys = [
        state(&mut v, "insulation", 0.039, Spread::HalfWidth95(0.004), None),
        state(&mut v, "thickness", 0.18, Spread::HalfWidth95(0.02), None),
        state(&mut v, "brick", 0.70, Spread::Range { low: 0.5, high: 0.9 }, None),
        state(&mut v, "window", 0.80, Spread::HalfWidth95(0.10), None),
        state(&mut v, "leak", 1.0, Spread::Factor95(2.0), None),
        state(&mut v, "flow-a", 0.15, Spread::HalfWidth95(0.02), Some("commissioning")),
        state(&mut v, "flow-b", 0.25, Spread::HalfWidth95(0.04), Some("commissioning")),
    ];
    (v, keys)
}

fn wall_u(of: &dyn Fn(ValueKey) -> f64, k: &[ValueKey; 7]) -> f64 {
    1.0 / (0.17 + 0.2 / of(k[2]) + of(k[1]) / of(k[0]))
}

/// Heat lost by a degree, W/K: what the job wants to know.
fn loss(of: &dyn Fn(ValueKey) -> f64, k: &[ValueKey; 7]) -> f64 {
    250.0 * wall_u(of, k) + 36.0 * of(k[3]) + 25.0 * of(k[4]) + 200.0 * (of(k[5]) + of(k[6]))
}

fn input_world(world: u64) -> f64 {
    let (values, k) = stated();
    let causes = Causes::of(&values, Chance::InUse, 7000 + world);
    // The world: scores of its own, errors of its own.
    let own: Vec<f64> =
        causes.list().iter().map(|c| Stream::new(world, &format!("world:{}", c.id)).normal(0)).collect();
    let error = |name: &str| Stream::new(world, &format!("error:{name}")).normal(0);
    let truth = |key: ValueKey| match causes.of_value(key) {
        Some(c) => value_at(&values.get(key).distribution, own[c]),
        None => values.get(key).value,
    };
    let gauge = error("gauge");
    let read = |record: &str, key: ValueKey, sd: f64| Reading {
        record: record.to_owned(),
        of: Forward::Value(key),
        seen: truth(key) + sd * error(record),
        sd,
        shared: None,
    };
    let fan = |record: &str| Reading {
        record: record.to_owned(),
        of: Forward::LogValue(k[4]),
        seen: truth(k[4]) * numeric::exp(0.04 * error(record) + 0.03 * gauge),
        sd: 0.04,
        shared: Some(("gauge".to_owned(), 0.03)),
    };
    let u = move |of: &dyn Fn(ValueKey) -> f64| wall_u(of, &k);
    let logged = Reading {
        record: "logged".to_owned(),
        seen: wall_u(&truth, &k) * (1.0 + 0.0) + 0.012 * error("logged"),
        of: Forward::Function(vec![k[0], k[1], k[2]], Box::new(u)),
        sd: 0.012,
        shared: None,
    };
    let readings = vec![
        fan("fan 1"),
        fan("fan 2"),
        read("window", k[3], 0.03),
        read("tape", k[1], 0.006),
        read("flow", k[5], 0.008),
        logged,
    ];
    let settings = Settings { particles: 1024, moves: 3, least_evaluations: 0, ..Settings::cheap(world) };
    let belief = Belief::absorb_with(&values, &causes, &readings, settings).expect("taken in");
    let draws: Vec<f64> = (0..DRAWS)
        .map(|i| {
            let scores = belief.scores(&causes, i);
            let of = |key: ValueKey| match causes.of_value(key) {
                Some(c) => value_at(&values.get(key).distribution, scores[c]),
                None => values.get(key).value,
            };
            loss(&of, &k)
        })
        .collect();
    rank(loss(&truth, &k), &draws)
}

#[test]
fn evidence_on_inputs_covers_the_truth() {
    let ranks: Vec<f64> = (0..WORLDS).into_par_iter().map(input_world).collect();
    let held = held(&ranks);
    assert!((0.86..=0.94).contains(&held.share), "{}", held.share);
    assert!(held.chi2 < FLAT, "{}", held.chi2);
}

/// Law of the toy year: how films and leaks answer wind and cold.
#[derive(Clone, Copy)]
struct Law {
    film_with_wind: f64,
    leak_exponent: f64,
    sensor_bias: f64,
}

const OWN: Law = Law { film_with_wind: 0.0, leak_exponent: 0.65, sensor_bias: 0.0 };

/// Two zones through 52 weeks: the first heated, the second a buffer between it and outdoors. Scores: loss of the
/// fabric, leak, gains, set point. Returns weekly heating, kWh.
fn toy_year(z: &[f64], law: Law) -> Vec<f64> {
    let fabric = 120.0 * numeric::exp(0.12 * z[0]);
    let leak = 30.0 * numeric::exp(0.35 * z[1]);
    let gains = 600.0 * numeric::exp(0.20 * z[2]);
    let set_c = 20.0 + 0.6 * z[3];
    (0..52)
        .map(|week| {
            let phase = std::f64::consts::TAU * f64::from(week) / 52.0;
            let season = numeric::scalar::cos(phase);
            let (outdoor_c, wind) = (13.0 - 11.0 * season, 3.0 + season);
            let difference = (set_c - outdoor_c).max(0.1);
            let drive = numeric::pow((difference + 4.0 * wind) / 30.0, law.leak_exponent);
            let film = 1.0 + law.film_with_wind * (wind - 3.0);
            // The buffer floats between both: its share of the loss falls by what it keeps warm.
            let to_buffer = 0.35 * fabric;
            let buffer_c = (to_buffer * set_c + 60.0 * film * outdoor_c) / (to_buffer + 60.0 * film);
            let lost = (0.65 * fabric * film + leak * drive) * difference + to_buffer * (set_c - buffer_c);
            let sun = 250.0 * (1.0 - 0.7 * season);
            // Smooth at the end of the season.
            let net = lost - gains - sun;
            let smooth = 0.5 * (net + (net * net + 200.0 * 200.0).sqrt());
            smooth * 168.0 / 1000.0
        })
        .collect()
}

const READS_SD: f64 = 12.0;
const RHO: f64 = 0.5;

fn toy_world(world: u64, law: Law, discrepancy: f64) -> f64 {
    let own: Vec<f64> = (0..4).map(|k| Stream::new(world, &format!("toy:{k}")).normal(0)).collect();
    let truth = toy_year(&own, law);
    let total: f64 = truth.iter().sum();
    let noise = Stream::new(world, "toy:reading");
    let mut error = 0.0;
    let off = 1.0 + if law.sensor_bias == 0.0 { discrepancy * noise.normal(1000) } else { law.sensor_bias };
    let seen: Vec<f64> = truth
        .iter()
        .enumerate()
        .map(|(t, m)| {
            let fresh = noise.normal(t as u64);
            error = if t == 0 {
                READS_SD * fresh
            } else {
                RHO * error + (1.0 - RHO * RHO).sqrt() * READS_SD * fresh
            };
            m * off + error
        })
        .collect();
    // Half a year is metered; the whole year is asked for.
    let series = Series { seen: seen[..26].to_vec(), sd: READS_SD, rho: RHO, discrepancy };
    let settings = Settings { particles: 384, moves: 4, least_evaluations: 0, ..Settings::cheap(world) };
    let cloud = outcome::absorb(4, &series, settings, |z| toy_year(z, OWN)[..26].to_vec()).expect("fits");
    let draws: Vec<f64> = cloud.points.iter().map(|p| toy_year(&p[..4], OWN).iter().sum()).collect();
    rank(total, &draws)
}

#[test]
fn evidence_on_outcomes_covers_the_truth() {
    let ranks: Vec<f64> = (0..WORLDS).into_par_iter().map(|w| toy_world(w, OWN, 0.03)).collect();
    let held = held(&ranks);
    assert!((0.86..=0.94).contains(&held.share), "{}", held.share);
    assert!(held.chi2 < FLAT, "{}", held.chi2);
}

#[test]
fn a_truth_from_another_model_is_seldom_excluded() {
    let other = Law { film_with_wind: 0.06, leak_exponent: 0.80, sensor_bias: 0.03 };
    let ranks: Vec<f64> = (0..WORLDS).into_par_iter().map(|w| toy_world(w, other, 0.05)).collect();
    let excluded = 1.0 - held(&ranks).share;
    assert!(excluded <= 0.20, "{excluded}");
}
