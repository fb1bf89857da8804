//! Guarded tests: telling the leak to outside from the leak through a party boundary.
//!
//! The neighbour is held at equal pressure, opened to outside, or left alone; each way shows another mixture of the two
//! leaks. From two or more tests [`separate`] finds both with their uncertainty. [`visible`] says which leak a set-up can
//! show at all: no step is ever advised that it cannot.

use crate::test_budget::Estimate;
use numeric::pow;
use std::fmt;

/// How the tested space and its neighbour are set up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Setup {
    /// No fan runs.
    FanOff,
    /// No neighbour: every boundary is to outside.
    Alone,
    /// A second fan holds the neighbour at the tested space's pressure.
    EqualPressure {
        /// Standard deviation of the pressure left across the party boundary, Pa.
        residual_pa: f64,
    },
    /// The neighbour's doors or windows stand open: it is at outdoor pressure.
    Opened,
    /// The neighbour is left as found: its pressure settles between.
    Untouched {
        /// Share of the test pressure that lies across the party boundary, measured with a second gauge: best value.
        across_share: f64,
        /// Its standard uncertainty.
        share_uncertainty: f64,
    },
}

/// Where a leak leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LeakKind {
    /// From the tested space to outside.
    ToOutside,
    /// From the tested space to its neighbour.
    Party,
    /// From the neighbour to outside.
    NeighbourToOutside,
    /// Between two rooms of the tested space.
    Inside,
}

/// Below this share of the test pressure across a leak neither smoke nor a difference of readings shows it (judgement).
const LEAST_SHARE: f64 = 0.05;

/// Says whether a set-up can show a leak: whether air is driven through it, from the tested side, hard enough.
pub fn visible(setup: Setup, leak: LeakKind) -> bool {
    match (setup, leak) {
        (Setup::FanOff, _) | (_, LeakKind::Inside | LeakKind::NeighbourToOutside) => false,
        (_, LeakKind::ToOutside) => true,
        (Setup::Alone | Setup::EqualPressure { .. }, LeakKind::Party) => false,
        (Setup::Opened, LeakKind::Party) => true,
        (Setup::Untouched { across_share, .. }, LeakKind::Party) => across_share >= LEAST_SHARE,
    }
}

/// Returns how much of a leak's flow at the test pressure a reading in this set-up contains.
pub fn seen_share(setup: Setup, leak: LeakKind, exponent: f64) -> f64 {
    match (setup, leak) {
        (Setup::FanOff, _) | (_, LeakKind::Inside | LeakKind::NeighbourToOutside) => 0.0,
        (_, LeakKind::ToOutside) | (Setup::Opened, LeakKind::Party) => 1.0,
        (Setup::Alone | Setup::EqualPressure { .. }, LeakKind::Party) => 0.0,
        (Setup::Untouched { across_share, .. }, LeakKind::Party) if across_share > 0.0 => {
            pow(across_share.min(1.0), exponent)
        }
        (Setup::Untouched { .. }, LeakKind::Party) => 0.0,
    }
}

/// One test for [`separate`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuardedTest {
    /// How it was set up.
    pub setup: Setup,
    /// Flow at the reference pressure, m³/h, with the uncertainty that this test has for itself (scatter, drift).
    pub flow: Estimate,
}

/// Both leaks at the reference pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separated {
    /// Leak to outside, m³/h.
    pub outside: Estimate,
    /// Leak through the party boundary with the whole test pressure across it, m³/h. May come out below zero where the
    /// tests cannot tell it from none.
    pub party: Estimate,
    /// Correlation of the two uncertainties.
    pub correlation: f64,
}

/// Why two leaks cannot be told apart.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum GuardError {
    /// Fewer than two tests.
    TooFewTests {
        /// Tests given.
        found: usize,
    },
    /// Every test shows the same mixture of the two leaks.
    SameMixture,
    /// A flow or uncertainty is not a positive number, or a set-up does not run a fan.
    BadTest {
        /// Index of the test.
        test: usize,
    },
}

impl fmt::Display for GuardError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFewTests { found } => {
                write!(f, "{found} tests: two set-ups are needed to tell two leaks apart")
            }
            Self::SameMixture => write!(
                f,
                "every test shows the same mixture of both leaks: repeat one with the neighbour held at equal pressure or opened"
            ),
            Self::BadTest { test } => {
                write!(
                    f,
                    "test {}: the flow and its uncertainty must be above zero, with the fan running",
                    test + 1
                )
            }
        }
    }
}

impl std::error::Error for GuardError {}

/// Separates the two leaks by generalised least squares.
///
/// ```text
/// Q_k = O + a_k·P + e_k      a: 0 under guard, 1 with the neighbour open, sᵑ for a share s of the pressure
/// ```
/// Errors: each test's own; `common_share` of the flow that all tests share (the same fan and gauge); what the guard's
/// residual pressure r drives, `P·(r/p)ⁿ`; what the uncertainty of s makes of P. The last two depend on P and are found
/// by repeating the solution.
///
/// # Errors
/// Any [`GuardError`].
///
/// # Example
/// ```
/// use air::guarded::{GuardedTest, Setup, separate};
/// use air::test_budget::Estimate;
/// let test = |setup, flow: f64| GuardedTest { setup, flow: Estimate::stated(flow, 0.02 * flow) };
/// let leaks = separate(
///     &[test(Setup::EqualPressure { residual_pa: 0.4 }, 524.0), test(Setup::Opened, 743.0)],
///     50.0, 0.65, 0.02,
/// )?;
/// assert!((leaks.party.value - 219.0).abs() < 1e-9 && (leaks.outside.value - 524.0).abs() < 1e-9);
/// # Ok::<(), air::guarded::GuardError>(())
/// ```
pub fn separate(
    tests: &[GuardedTest],
    pressure_pa: f64,
    exponent: f64,
    common_share: f64,
) -> Result<Separated, GuardError> {
    if tests.len() < 2 {
        return Err(GuardError::TooFewTests { found: tests.len() });
    }
    for (test, t) in tests.iter().enumerate() {
        let good = t.flow.value > 0.0 && t.flow.standard_uncertainty > 0.0 && t.flow.value.is_finite();
        if !good || t.setup == Setup::FanOff {
            return Err(GuardError::BadTest { test });
        }
    }
    let design: Vec<f64> = tests.iter().map(|t| seen_share(t.setup, LeakKind::Party, exponent)).collect();
    let spread = design.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - design.iter().copied().fold(f64::INFINITY, f64::min);
    if spread < LEAST_SHARE {
        return Err(GuardError::SameMixture);
    }
    let mut party = 0.0_f64;
    let mut found = None;
    // The weights depend on P but weakly; the fifth repetition moves nothing.
    for _ in 0..5 {
        let own: Vec<f64> =
            tests.iter().map(|t| own_variance(t, party.max(0.0), pressure_pa, exponent)).collect();
        let s = solve(tests, &design, &own, common_share).ok_or(GuardError::SameMixture)?;
        party = s.party.value;
        found = Some(s);
    }
    found.ok_or(GuardError::SameMixture)
}

/// Variance a test has for itself, (m³/h)².
fn own_variance(test: &GuardedTest, party: f64, pressure_pa: f64, n: f64) -> f64 {
    let by_setup = match test.setup {
        Setup::EqualPressure { residual_pa } if residual_pa != 0.0 => {
            party * pow(residual_pa.abs() / pressure_pa, n)
        }
        Setup::Untouched { across_share, share_uncertainty } if across_share > 0.0 => {
            party * n * pow(across_share, n - 1.0) * share_uncertainty
        }
        _ => 0.0,
    };
    test.flow.standard_uncertainty * test.flow.standard_uncertainty + by_setup * by_setup
}

/// Weighted least squares with the shared error taken in afterwards: scaling every flow scales both leaks alike, so a
/// common share adds `(c·O)²`, `(c·P)²` and `c²·O·P` to the covariance and moves no value.
fn solve(tests: &[GuardedTest], design: &[f64], own: &[f64], common: f64) -> Option<Separated> {
    let (mut w00, mut w01, mut w11, mut b0, mut b1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for ((test, a), v) in tests.iter().zip(design).zip(own) {
        let w = 1.0 / v;
        w00 += w;
        w01 += w * a;
        w11 += w * a * a;
        b0 += w * test.flow.value;
        b1 += w * a * test.flow.value;
    }
    let determinant = w00 * w11 - w01 * w01;
    if !(determinant > 0.0) {
        return None;
    }
    let outside = (w11 * b0 - w01 * b1) / determinant;
    let party = (w00 * b1 - w01 * b0) / determinant;
    let c2 = common * common;
    let vo = w11 / determinant + c2 * outside * outside;
    let vp = w00 / determinant + c2 * party * party;
    let cov = -w01 / determinant + c2 * outside * party;
    let estimate = |value, variance: f64| Estimate {
        value,
        standard_uncertainty: variance.sqrt(),
        degrees_of_freedom: f64::INFINITY,
    };
    Some(Separated {
        outside: estimate(outside, vo),
        party: estimate(party, vp),
        correlation: cov / (vo * vp).sqrt(),
    })
}

/// Returns the share of the test pressure across the party boundary of an untouched neighbour, from both leaks:
/// party leak and the neighbour's own in series with one exponent.
///
/// ```text
/// P·sⁿ = N·(1 − s)ⁿ   ⇒   s = 1 / (1 + (P/N)^(1/n))
/// ```
pub fn untouched_share(party: f64, neighbour_to_outside: f64, exponent: f64) -> f64 {
    1.0 / (1.0 + pow(party / neighbour_to_outside, 1.0 / exponent))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn test(setup: Setup, flow: f64) -> GuardedTest {
        GuardedTest { setup, flow: Estimate::stated(flow, 0.02 * flow) }
    }

    #[test]
    fn one_set_up_tells_nothing_of_the_other_leak() {
        let guard = Setup::EqualPressure { residual_pa: 0.2 };
        let error = separate(&[test(guard, 500.0), test(guard, 510.0)], 50.0, 0.65, 0.0).unwrap_err();
        assert_eq!(error, GuardError::SameMixture);
        assert!(separate(&[test(guard, 500.0)], 50.0, 0.65, 0.0).is_err());
        assert!(separate(&[test(guard, 500.0), test(Setup::FanOff, 510.0)], 50.0, 0.65, 0.0).is_err());
    }

    #[test]
    fn a_guard_that_drifts_costs_certainty() {
        let at = |residual_pa| {
            separate(
                &[test(Setup::EqualPressure { residual_pa }, 524.0), test(Setup::Opened, 743.0)],
                50.0,
                0.65,
                0.0,
            )
            .unwrap()
        };
        assert!(at(0.6).outside.standard_uncertainty > at(0.0).outside.standard_uncertainty);
        assert!((at(0.6).party.value - 219.0).abs() < 1e-9);
    }

    #[test]
    fn series_leaks_pass_one_flow() {
        let (p, n, e) = (200.0, 900.0, 0.65);
        let s = untouched_share(p, n, e);
        assert!((p * pow(s, e) - n * pow(1.0 - s, e)).abs() < 1e-9);
    }

    fn setups() -> impl Strategy<Value = Setup> {
        prop_oneof![
            Just(Setup::FanOff),
            Just(Setup::Alone),
            (0.0..2.0f64).prop_map(|residual_pa| Setup::EqualPressure { residual_pa }),
            Just(Setup::Opened),
            (0.0..1.0f64).prop_map(|across_share| Setup::Untouched { across_share, share_uncertainty: 0.05 }),
        ]
    }

    fn kinds() -> impl Strategy<Value = LeakKind> {
        prop_oneof![
            Just(LeakKind::ToOutside),
            Just(LeakKind::Party),
            Just(LeakKind::NeighbourToOutside),
            Just(LeakKind::Inside)
        ]
    }

    proptest! {
        #[test]
        fn what_is_visible_is_in_the_reading(setup in setups(), kind in kinds()) {
            if visible(setup, kind) {
                prop_assert!(seen_share(setup, kind, 0.65) > 0.0);
            }
            if seen_share(setup, kind, 0.65) == 0.0 {
                prop_assert!(!visible(setup, kind));
            }
        }

        #[test]
        fn made_up_tests_are_taken_apart(o in 100.0..2000.0f64, p in 20.0..800.0f64, s in 0.1..0.9f64) {
            let untouched = Setup::Untouched { across_share: s, share_uncertainty: 0.02 };
            let seen = seen_share(untouched, LeakKind::Party, 0.65);
            let tests = [
                test(Setup::EqualPressure { residual_pa: 0.3 }, o),
                test(untouched, o + seen * p),
                test(Setup::Opened, o + p),
            ];
            let found = separate(&tests, 50.0, 0.65, 0.03).unwrap();
            prop_assert!((found.outside.value - o).abs() < 1e-6 * o);
            prop_assert!((found.party.value - p).abs() < 1e-6 * (o + p));
        }
    }
}
