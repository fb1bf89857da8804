//! Tempered sequential Monte Carlo: from a standard normal prior to the posterior of a few unknowns, whatever the shape
//! of the likelihood.
//!
//! The likelihood is raised to a power that grows from 0 to 1. Each power is the largest that leaves half of the
//! particles effective; then particles are resampled at evenly spaced positions and moved by a random walk that leaves
//! the present distribution as it is, with the covariance of the cloud itself. Numbers come from counters and sums have
//! a fixed order, so the result does not depend on threads.

use numeric::dense::Cholesky;
use numeric::weighted::Weights;
use numeric::{counter, ln, sum};
use rayon::prelude::*;

use crate::OddsError;

/// How the cloud is run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Particles.
    pub particles: usize,
    /// Moves after each power.
    pub moves: usize,
    /// Evaluations to make at least: what is left of them goes into further moves at the end.
    pub least_evaluations: usize,
    /// Most powers before giving up.
    pub most_powers: usize,
    /// Seed.
    pub seed: u64,
}

impl Settings {
    /// 8 192 particles, four moves a power, at least 10⁵ evaluations.
    pub fn cheap(seed: u64) -> Self {
        Self { particles: 8192, moves: 4, least_evaluations: 100_000, most_powers: 60, seed }
    }
}

/// What the run found.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloud {
    /// Particles, each a point of the unknowns; all of equal weight.
    pub points: Vec<Vec<f64>>,
    /// Powers taken, the last 1.
    pub powers: Vec<f64>,
    /// Share of moves accepted at each power.
    pub accepted: Vec<f64>,
    /// Logarithm of the evidence.
    pub ln_evidence: f64,
    /// Evaluations of the likelihood.
    pub evaluations: usize,
}

/// Share of particles that must stay effective.
const LEFT: f64 = 0.5;

/// Runs a cloud for `unknowns` independent standard normal unknowns.
///
/// # Errors
/// [`OddsError::Sizes`] without unknowns or with too few particles; [`OddsError::NoFit`] when no particle fits the
/// evidence at all or the powers run out.
pub fn run(
    unknowns: usize,
    settings: Settings,
    ln_likelihood: impl Fn(&[f64]) -> f64 + Sync,
) -> Result<Cloud, OddsError> {
    let n = settings.particles;
    if unknowns == 0 || n < 8 * unknowns.max(4) {
        return Err(OddsError::Sizes { what: "particles or unknowns", found: n.min(unknowns) });
    }
    let normal = |name: &str, k: usize| counter::Stream::new(settings.seed, &format!("smc:{name}:{k}"));
    let start: Vec<counter::Stream> = (0..unknowns).map(|k| normal("start", k)).collect();
    let mut points: Vec<Vec<f64>> =
        (0..n).into_par_iter().map(|i| start.iter().map(|s| s.normal(i as u64)).collect()).collect();
    let score = |p: &Vec<f64>| {
        let l = ln_likelihood(p);
        if l.is_nan() { f64::NEG_INFINITY } else { l }
    };
    let mut fit: Vec<f64> = points.par_iter().map(score).collect();
    let mut cloud = Cloud {
        points: Vec::new(),
        powers: Vec::new(),
        accepted: Vec::new(),
        ln_evidence: 0.0,
        evaluations: n,
    };
    let mut power = 0.0;
    while power < 1.0 {
        if cloud.powers.len() == settings.most_powers {
            return Err(OddsError::NoFit { powers: cloud.powers.len() });
        }
        let step = next_step(&fit, 1.0 - power)?;
        let scaled: Vec<f64> = fit.iter().map(|l| step * l).collect();
        let weights =
            Weights::from_logs(&scaled).map_err(|_| OddsError::NoFit { powers: cloud.powers.len() })?;
        cloud.ln_evidence += weights.ln_mean();
        power = if step >= 1.0 - power { 1.0 } else { power + step };
        let chosen = weights.resample(n);
        points = chosen.iter().map(|i| points[*i].clone()).collect();
        fit = chosen.iter().map(|i| fit[*i]).collect();
        let lower = spread(&points, unknowns)?;
        let mut accepted = 0;
        let missing = settings.least_evaluations.saturating_sub(cloud.evaluations).div_ceil(n);
        let moves = if power < 1.0 { settings.moves } else { settings.moves.max(missing) };
        for turn in 0..moves {
            let stage = format!("{}:{turn}", cloud.powers.len());
            let walk: Vec<counter::Stream> =
                (0..unknowns).map(|k| normal(&format!("walk:{stage}"), k)).collect();
            let toss = normal(&format!("toss:{stage}"), 0);
            let moved: Vec<(Vec<f64>, f64, bool)> = points
                .par_iter()
                .zip(&fit)
                .enumerate()
                .map(|(i, (p, l))| {
                    let z: Vec<f64> = walk.iter().map(|s| s.normal(i as u64)).collect();
                    // 2.38/√d, the usual scale of a random walk; every third move is short, for narrow corners.
                    let scale = 2.38 / (unknowns as f64).sqrt() * if turn % 3 == 2 { 0.3 } else { 1.0 };
                    let step = lower.correlate(&z);
                    let to: Vec<f64> = p.iter().zip(&step).map(|(x, d)| x + scale * d).collect();
                    let new = score(&to);
                    let prior = |x: &[f64]| -0.5 * x.iter().map(|v| v * v).sum::<f64>();
                    let gain = power * (new - l) + prior(&to) - prior(p);
                    if ln(toss.uniform(i as u64)) < gain { (to, new, true) } else { (p.clone(), *l, false) }
                })
                .collect();
            cloud.evaluations += n;
            accepted += moved.iter().filter(|m| m.2).count();
            (points, fit) = moved.into_iter().map(|(p, l, _)| (p, l)).unzip();
        }
        cloud.powers.push(power);
        cloud.accepted.push(accepted as f64 / (n * moves.max(1)) as f64);
    }
    cloud.points = points;
    Ok(cloud)
}

/// Returns the largest step of the power that leaves [`LEFT`] of the particles effective, or what is left to go.
fn next_step(fit: &[f64], left: f64) -> Result<f64, OddsError> {
    let effective = |step: f64| {
        let scaled: Vec<f64> = fit.iter().map(|l| step * l).collect();
        Weights::from_logs(&scaled).map(|w| w.effective_size() / fit.len() as f64)
    };
    let whole = effective(left).map_err(|_| OddsError::NoFit { powers: 0 })?;
    if whole >= LEFT {
        return Ok(left);
    }
    let (mut low, mut high) = (0.0, left);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        match effective(middle) {
            Ok(share) if share >= LEFT => low = middle,
            _ => high = middle,
        }
    }
    // Particles that do not fit at all keep the size below any target however small the step: then the smallest.
    Ok(if low > 0.0 { low } else { high })
}

/// Lower factor of the cloud's covariance, kept off zero in directions where all particles agree.
fn spread(points: &[Vec<f64>], unknowns: usize) -> Result<Cholesky, OddsError> {
    let n = points.len();
    let mean: Vec<f64> = (0..unknowns).map(|k| sum::pairwise_by(n, &|i| points[i][k]) / n as f64).collect();
    let mut covariance = vec![0.0; unknowns * unknowns];
    for a in 0..unknowns {
        for b in 0..=a {
            let c = sum::pairwise_by(n, &|i| (points[i][a] - mean[a]) * (points[i][b] - mean[b])) / n as f64;
            covariance[a * unknowns + b] = c;
            covariance[b * unknowns + a] = c;
        }
        covariance[a * unknowns + a] += 1e-10;
    }
    Cholesky::new(unknowns, &covariance).map_err(OddsError::Numeric)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_normal_posterior_is_found() {
        // Prior N(0, 1); reading 1.5 of x + y with sd 0.1.
        let ln_likelihood = |p: &[f64]| {
            let z = (p[0] + p[1] - 1.5) / 0.1;
            -0.5 * z * z - ln(0.1 * std::f64::consts::TAU.sqrt())
        };
        let cloud = run(2, Settings::cheap(1), ln_likelihood).expect("fits");
        let n = cloud.points.len() as f64;
        let mean: f64 = cloud.points.iter().map(|p| p[0] + p[1]).sum::<f64>() / n;
        assert!((mean - 1.5 * 2.0 / 2.01).abs() < 0.005, "{mean}");
        let across: f64 = cloud.points.iter().map(|p| (p[0] - p[1]) * (p[0] - p[1])).sum::<f64>() / n;
        assert!((across - 2.0).abs() < 0.12, "{across}");
        assert!(cloud.evaluations >= 100_000, "{}", cloud.evaluations);
        // ln N(1.5; 0, 2.01), by the mean of independent runs within three of its own standard errors.
        let exact = -0.5 * (ln(std::f64::consts::TAU * 2.01) + 1.5 * 1.5 / 2.01);
        let found: Vec<f64> = (0..24)
            .map(|seed| {
                let settings = Settings { particles: 1024, least_evaluations: 0, ..Settings::cheap(seed) };
                run(2, settings, ln_likelihood).expect("fits").ln_evidence
            })
            .collect();
        let (mean, variance) = sum::mean_variance(&found);
        let error = (variance / found.len() as f64).sqrt();
        assert!((mean - exact).abs() < 3.0 * error, "{mean} ± {error} against {exact}");
    }

    #[test]
    fn threads_do_not_matter() {
        let settings = Settings { particles: 512, moves: 2, least_evaluations: 0, ..Settings::cheap(5) };
        let of = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
            pool.install(|| {
                run(1, settings, |p| -8.0 * (p[0] * p[0] - 1.0) * (p[0] * p[0] - 1.0)).expect("fits")
            })
        };
        let (one, three) = (of(1), of(3));
        assert_eq!(one, three);
        // Both humps are held.
        let right = one.points.iter().filter(|p| p[0] > 0.0).count();
        assert!((206..306).contains(&right), "{right}");
    }

    #[test]
    fn what_cannot_fit_says_so() {
        let settings = Settings { particles: 64, moves: 1, least_evaluations: 0, ..Settings::cheap(5) };
        assert!(matches!(run(1, settings, |_| f64::NEG_INFINITY), Err(OddsError::NoFit { .. })));
        assert!(run(0, settings, |_| 0.0).is_err());
    }
}
