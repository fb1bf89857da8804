//! Levers: what a change would do to the chances, on shared samples.
//!
//! Candidates are run on the same few points ([`SHARED`]), so that their differences are those of the change and not of
//! the samples; the best three are run again in full.

use rayon::prelude::*;

use crate::OddsError;

/// Points on which all candidates are compared.
pub const SHARED: usize = 512;
/// Candidates run in full at the end.
pub const IN_FULL: usize = 3;
/// Most candidates.
pub const MOST: usize = 24;

/// A candidate with what it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lever {
    /// Place in the list of candidates.
    pub candidate: usize,
    /// Chance without it, on the points it was last run on.
    pub before: f64,
    /// Chance with it.
    pub after: f64,
    /// Points of that run.
    pub points: usize,
}

/// Runs candidates on shared points, then the best three on all; best first.
///
/// `chance(None, n)` is the chance as things stand on the first `n` points, `chance(Some(c), n)` with candidate `c`.
///
/// # Errors
/// [`OddsError::Sizes`] for more than [`MOST`] candidates; whatever a run says.
pub fn best(
    candidates: usize,
    all: usize,
    chance: impl Fn(Option<usize>, usize) -> Result<f64, OddsError> + Sync,
) -> Result<Vec<Lever>, OddsError> {
    if candidates > MOST {
        return Err(OddsError::Sizes { what: "candidates", found: candidates });
    }
    let few = SHARED.min(all);
    let before = chance(None, few)?;
    let run = |c: usize, n: usize, before: f64| {
        chance(Some(c), n).map(|after| Lever { candidate: c, before, after, points: n })
    };
    let mut levers: Vec<Lever> =
        (0..candidates).into_par_iter().map(|c| run(c, few, before)).collect::<Result<_, _>>()?;
    let gain = |l: &Lever| l.after - l.before;
    levers.sort_by(|a, b| gain(b).total_cmp(&gain(a)).then(a.candidate.cmp(&b.candidate)));
    levers.truncate(IN_FULL);
    if all > few && !levers.is_empty() {
        let before = chance(None, all)?;
        levers = levers.iter().map(|l| run(l.candidate, all, before)).collect::<Result<_, _>>()?;
        levers.sort_by(|a, b| gain(b).total_cmp(&gain(a)).then(a.candidate.cmp(&b.candidate)));
    }
    Ok(levers)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_three_are_run_in_full() {
        let chance =
            |c: Option<usize>, n: usize| Ok(0.3 + c.map_or(0.0, |c| 0.05 * c as f64) + 1.0 / n as f64);
        let found = best(6, 2048, chance).expect("levers");
        assert_eq!(found.iter().map(|l| l.candidate).collect::<Vec<_>>(), [5, 4, 3]);
        assert!(found.iter().all(|l| l.points == 2048));
        assert!(best(25, 64, chance).is_err());
    }
}
