//! A pressure test as it is read: after each reading today's number, the next pressure, whether enough is known, and
//! whether the wind makes it useless.
//!
//! Feed [`Live::push`] with [`Event`]s, or lines of text through [`read_line`]. The standards' own rules (five points,
//! steps of 10 Pa, from the lowest allowed to 50 Pa at least) come first; after that a further point goes where it narrows
//! the result most.

use crate::fan_test::{Conditions, Direction, Fit, FlowState, Reading, Series, Standard, Wind};
use crate::single_point::{StatedExponent, quick_reading};
use crate::test_budget::{self, Circumstances, Estimate, Instruments, Source, Test, sign};
use numeric::ln;
use std::fmt;

/// What the test is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    /// Reference pressure, Pa.
    pub pressure_pa: f64,
    /// What the flow is divided by for the number shown: 1 for a flow, a volume or an area otherwise.
    pub size: f64,
    /// Standard uncertainty of that size, as a share.
    pub size_share: f64,
    /// Limit on the number shown, if any.
    pub limit: Option<f64>,
    /// Enough is known when the 95 % half-width is at most this share…
    pub wanted_share: f64,
    /// …or when the chance of the limit is this far from even: 0.95 asks for 95 or 5 in 100.
    pub sure: f64,
    /// Both directions, or the first alone.
    pub both_directions: bool,
    /// Highest pressure the fan reaches or the building may take, Pa.
    pub highest_pa: f64,
}

/// Day and instruments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rig {
    /// Air and building; the wind is updated by [`Event::Wind`].
    pub conditions: Conditions,
    /// What the flows mean.
    pub flows: FlowState,
    /// Instruments.
    pub instruments: Instruments,
    /// What else is uncertain.
    pub circumstances: Circumstances,
}

/// Something that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A zero-flow pressure, Pa.
    Zero(f64),
    /// A pressure and a flow.
    Point(Reading),
    /// The wind.
    Wind(Wind),
    /// The fan was turned round.
    Turn,
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Next {
    /// Read the zero-flow pressure with the fan covered.
    ZeroBefore,
    /// Set this pressure, Pa, inside minus outside as the gauge shows it.
    Pressure(f64),
    /// Read the zero-flow pressure again.
    ZeroAfter,
    /// Turn the fan round.
    Turn,
    /// Nothing: enough is known.
    Done,
}

/// What the wind does to the result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WindSays {
    /// Little.
    Fine,
    /// It is the largest part of the doubt; its 95 % half-width as a share.
    Widens(f64),
    /// No further reading helps: wait. Its 95 % half-width as a share, alone beyond what is wanted.
    Useless(f64),
    /// The zero-flow pressure is beyond the 5 Pa of ISO 9972: the test would not be valid. The pressure, Pa.
    ZeroTooHigh(f64),
}

/// The state after an event.
#[derive(Clone, Debug, PartialEq)]
pub struct Update {
    /// Today's number, after the division by the size; `None` before the first point.
    pub number: Option<Estimate>,
    /// Whether the number comes from a line (true) or from one or two points with a stated exponent.
    pub fitted: bool,
    /// Points of the present direction.
    pub points: usize,
    /// Chance of being at or under the limit.
    pub chance: Option<f64>,
    /// Whether enough is known.
    pub enough: bool,
    /// What to do next.
    pub next: Next,
    /// The wind.
    pub wind: WindSays,
    /// A word on what hinders an evaluation.
    pub trouble: Option<String>,
}

/// Zero-flow pressure beyond which ISO 9972 calls a test invalid, Pa.
const ZERO_LIMIT_PA: f64 = 5.0;
/// Points and widest step of ISO 9972, from memory.
const LEAST_POINTS: usize = 5;
const WIDEST_STEP_PA: f64 = 10.0;
/// More points in one direction tell nothing new about a calm test.
const MOST_POINTS: usize = 15;

/// A running test.
#[derive(Clone, Debug)]
pub struct Live {
    aim: Aim,
    rig: Rig,
    series: Vec<Series>,
}

impl Live {
    /// Begins with a direction.
    pub fn new(aim: Aim, rig: Rig, direction: Direction) -> Self {
        Self { aim, rig, series: vec![empty(direction, rig.flows)] }
    }

    /// Takes an event in and says where the test stands.
    pub fn push(&mut self, event: Event) -> Update {
        let at = self.series.len() - 1;
        let now = &mut self.series[at];
        match event {
            Event::Zero(pa) if now.readings.is_empty() => now.zero_before_pa.push(pa),
            Event::Zero(pa) => now.zero_after_pa.push(pa),
            Event::Point(reading) => now.readings.push(reading),
            Event::Wind(wind) => self.rig.conditions.wind = Some(wind),
            Event::Turn => {
                let other = match now.direction {
                    Direction::Depressurisation => Direction::Pressurisation,
                    Direction::Pressurisation => Direction::Depressurisation,
                };
                let flows = self.rig.flows;
                self.series.push(empty(other, flows));
            }
        }
        self.update()
    }

    /// Returns the readings so far, as a file would hold them.
    pub fn series(&self) -> &[Series] {
        &self.series
    }

    fn update(&self) -> Update {
        let now = &self.series[self.series.len() - 1];
        let used: Vec<Series> = self.series.iter().filter(|s| s.readings.len() >= 3).cloned().collect();
        let mut update = Update {
            number: None,
            fitted: false,
            points: now.readings.len(),
            chance: None,
            enough: false,
            next: Next::ZeroBefore,
            wind: WindSays::Fine,
            trouble: None,
        };
        if used.is_empty() {
            self.quick(now, &mut update);
        } else {
            self.fit(&used, &mut update);
        }
        let zero = self
            .series
            .iter()
            .flat_map(|s| s.zero_before_pa.iter().chain(&s.zero_after_pa))
            .fold(0.0_f64, |most, z| most.max(z.abs()));
        if zero > ZERO_LIMIT_PA {
            update.wind = WindSays::ZeroTooHigh(zero);
        }
        if let (Some(number), Some(limit)) = (update.number, self.aim.limit) {
            update.chance = Some(number.chance_at_or_under(limit));
        }
        update.enough = update.fitted && self.rules_met(now) && self.known(&update);
        update.next = self.next(now, &update);
        update
    }

    fn quick(&self, now: &Series, update: &mut Update) {
        if now.readings.is_empty() {
            return;
        }
        let quick = quick_reading(
            now,
            self.rig.conditions,
            StatedExponent::default(),
            self.aim.pressure_pa,
            Standard::Iso9972,
            self.rig.instruments,
            self.rig.circumstances,
        );
        match quick {
            Ok(quick) => {
                let share = quick.flow.standard_uncertainty / quick.flow.value;
                let value = quick.flow.value / self.aim.size;
                let whole = (share * share + self.aim.size_share * self.aim.size_share).sqrt();
                update.number = Some(Estimate {
                    value,
                    standard_uncertainty: value * whole,
                    degrees_of_freedom: f64::INFINITY,
                });
            }
            Err(error) => update.trouble = Some(error.to_string()),
        }
    }

    fn fit(&self, used: &[Series], update: &mut Update) {
        let test = Test {
            series: used,
            conditions: self.rig.conditions,
            fit: Fit::Unweighted,
            standard: Standard::Iso9972,
        };
        match test_budget::budget(test, self.aim.pressure_pa, self.rig.instruments, self.rig.circumstances) {
            Ok(budget) => {
                update.fitted = true;
                update.number = Some(budget.per(self.aim.size, self.aim.size_share));
                let windy = [Source::ZeroDrift, Source::WindZero, Source::WindFacades];
                let variance = |of: &dyn Fn(Source) -> bool| -> f64 {
                    budget.items.iter().filter(|i| of(i.source)).map(|i| i.share() * i.share()).sum()
                };
                let wind = variance(&|s| windy.contains(&s));
                let half = 2.0 * wind.sqrt();
                if half > self.aim.wanted_share {
                    update.wind = WindSays::Useless(half);
                } else if wind > variance(&|s| !windy.contains(&s)) {
                    update.wind = WindSays::Widens(half);
                }
            }
            Err(error) => update.trouble = Some(error.to_string()),
        }
    }

    fn known(&self, update: &Update) -> bool {
        let Some(number) = update.number else { return false };
        let narrow = number.half_width(0.95) <= self.aim.wanted_share * number.value;
        let decided = update.chance.is_some_and(|c| c.max(1.0 - c) >= self.aim.sure);
        narrow || decided
    }

    /// Lowest pressure the rules allow with the zero-flow pressures read, Pa.
    fn lowest_pa(&self, series: &Series) -> f64 {
        let zero = series.zero_before_pa.iter().fold(0.0_f64, |most, z| most.max(z.abs()));
        (5.0 * zero).max(10.0).min(self.aim.highest_pa)
    }

    /// Pressures read in this direction without their zero, rising, Pa.
    fn pressures(series: &Series) -> Vec<f64> {
        let zero = crate::fan_test::zero_pa(series);
        let mut p: Vec<f64> =
            series.readings.iter().map(|r| sign(series.direction) * (r.pressure_pa - zero)).collect();
        p.sort_by(f64::total_cmp);
        p
    }

    fn rules_met(&self, series: &Series) -> bool {
        let p = Self::pressures(series);
        let (Some(first), Some(last)) = (p.first(), p.last()) else { return false };
        let step = p.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
        p.len() >= LEAST_POINTS
            && step <= WIDEST_STEP_PA + 0.5
            && *last >= self.aim.highest_pa.min(50.0) - 1.0
            && *first <= self.lowest_pa(series) + WIDEST_STEP_PA
    }

    fn next(&self, now: &Series, update: &Update) -> Next {
        if now.zero_before_pa.is_empty() {
            return Next::ZeroBefore;
        }
        let finished = self.rules_met(now) && (update.enough || now.readings.len() >= MOST_POINTS);
        let hopeless = matches!(update.wind, WindSays::Useless(_)) && self.rules_met(now);
        if finished || hopeless {
            if now.zero_after_pa.is_empty() {
                return Next::ZeroAfter;
            }
            return if self.aim.both_directions && self.series.len() < 2 { Next::Turn } else { Next::Done };
        }
        let pressure = self.next_pressure(now);
        Next::Pressure(sign(now.direction) * pressure + crate::fan_test::zero_pa(now))
    }

    /// The next pressure without its zero: both ends, then the widest gap, then where the result gains most.
    fn next_pressure(&self, series: &Series) -> f64 {
        let p = Self::pressures(series);
        let (low, high) = (self.lowest_pa(series), self.aim.highest_pa);
        let Some((&first, &last)) = p.first().zip(p.last()) else { return high };
        if last < high - 0.5 * WIDEST_STEP_PA {
            return high;
        }
        if first > low + 0.5 * WIDEST_STEP_PA {
            return low;
        }
        let widest = p.windows(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
        if let Some(gap) = widest.filter(|g| g[1] - g[0] > WIDEST_STEP_PA || p.len() < LEAST_POINTS) {
            return 0.5 * (gap[0] + gap[1]);
        }
        // Variance of the line at the reference: 1/n + (x − x̄)²/Σ(x − x̄)².
        let x: Vec<f64> = p.iter().map(|p| ln(*p)).collect();
        let variance = |extra: f64| {
            let all: Vec<f64> = x.iter().copied().chain([ln(extra)]).collect();
            let n = all.len() as f64;
            let mean = all.iter().sum::<f64>() / n;
            let squares: f64 = all.iter().map(|v| (v - mean) * (v - mean)).sum();
            let off = ln(self.aim.pressure_pa) - mean;
            1.0 / n + off * off / squares
        };
        let candidates = (0..=20).map(|k| low + (high - low) * f64::from(k) / 20.0);
        candidates.min_by(|a, b| variance(*a).total_cmp(&variance(*b))).unwrap_or(high)
    }
}

fn empty(direction: Direction, flows: FlowState) -> Series {
    Series { direction, zero_before_pa: vec![], zero_after_pa: vec![], readings: vec![], flows }
}

/// A line that says nothing we know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineError {
    /// The line.
    pub line: String,
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is no reading: write `zero -1.2`, `-50.3 511` (pressure, flow), `wind 2.5` or `turn`",
            self.line
        )
    }
}

impl std::error::Error for LineError {}

/// Reads one typed line: `zero -1.2`, `-50.3 511`, `wind 2.5` (m/s near the ground), `turn`; `None` for an empty line or a
/// remark. Pressures in Pa; flows are multiplied by `flow_factor` to m³/h.
///
/// # Errors
/// [`LineError`].
pub fn read_line(line: &str, flow_factor: f64) -> Result<Option<Event>, LineError> {
    let trimmed = line.trim();
    if trimmed.is_empty() || trimmed.starts_with('#') {
        return Ok(None);
    }
    let error = || LineError { line: trimmed.chars().take(80).collect() };
    let number = |text: &str| text.parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(error);
    let words: Vec<&str> = trimmed
        .split(|c: char| c.is_whitespace() || c == ',' || c == ';')
        .filter(|w| !w.is_empty())
        .collect();
    match words.as_slice() {
        ["turn"] => Ok(Some(Event::Turn)),
        ["zero", pa] => Ok(Some(Event::Zero(number(pa)?))),
        ["wind", speed] => Ok(Some(Event::Wind(Wind::NearGround(number(speed)?.abs())))),
        [pa, flow] => {
            let (pressure_pa, flow) = (number(pa)?, number(flow)?);
            if flow <= 0.0 || pressure_pa == 0.0 {
                return Err(error());
            }
            Ok(Some(Event::Point(Reading { pressure_pa, flow_m3_h: flow * flow_factor })))
        }
        _ => Err(error()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use numeric::pow;
    use proptest::prelude::*;

    fn aim() -> Aim {
        Aim {
            pressure_pa: 50.0,
            size: 955.0,
            size_share: 0.005,
            limit: Some(0.60),
            wanted_share: 0.08,
            sure: 0.95,
            both_directions: true,
            highest_pa: 70.0,
        }
    }

    fn rig(wind: f64) -> Rig {
        Rig {
            conditions: Conditions {
                inside_c: 20.0,
                outside_c: 10.0,
                barometer_pa: 99_000.0,
                height_m: Some(4.0),
                wind: Some(Wind::NearGround(wind)),
            },
            flows: FlowState::Corrected,
            instruments: Instruments::default(),
            circumstances: Circumstances::default(),
        }
    }

    /// Does what it is told in a building of this leak; returns updates until done.
    fn obedient(c: f64, n: f64, wind: f64) -> Vec<Update> {
        let mut live = Live::new(aim(), rig(wind), Direction::Depressurisation);
        let mut updates = vec![live.push(Event::Zero(-0.8))];
        while updates.len() < 80 {
            let k = updates.len();
            let event = match updates[k - 1].next {
                Next::ZeroBefore | Next::ZeroAfter => Event::Zero(-0.8),
                Next::Pressure(p) => {
                    let true_pa = (p + 0.8).abs();
                    let scatter = if k % 2 == 0 { 1.003 } else { 0.997 };
                    Event::Point(Reading { pressure_pa: p, flow_m3_h: c * pow(true_pa, n) * scatter })
                }
                Next::Turn => Event::Turn,
                Next::Done => break,
            };
            updates.push(live.push(event));
        }
        updates
    }

    #[test]
    fn a_calm_test_ends_with_a_valid_series() {
        let updates = obedient(42.0, 0.65, 1.0);
        let last = updates.last().unwrap();
        assert_eq!(last.next, Next::Done);
        assert!(last.enough && last.fitted, "{last:?}");
        let n50 = last.number.unwrap();
        assert!((n50.value - 42.0 * pow(50.0, 0.65) / 955.0).abs() < 0.01, "{n50:?}");
        assert!(updates.len() < 26, "{}", updates.len());
        // The first point already gives a number, with a wider band.
        let first = updates.iter().find(|u| u.number.is_some()).unwrap();
        assert!(!first.fitted && first.number.unwrap().standard_uncertainty >= n50.standard_uncertainty);
    }

    #[test]
    fn wind_that_spoils_the_test_is_said() {
        let updates = obedient(42.0, 0.65, 12.0);
        assert!(updates.iter().any(|u| matches!(u.wind, WindSays::Useless(_))));
        let mut live = Live::new(aim(), rig(3.0), Direction::Depressurisation);
        assert!(matches!(live.push(Event::Zero(-6.5)).wind, WindSays::ZeroTooHigh(_)));
    }

    #[test]
    fn lines() {
        assert_eq!(read_line("zero -1.2", 1.0), Ok(Some(Event::Zero(-1.2))));
        assert_eq!(
            read_line(" -50.3, 300 ", 1.699),
            Ok(Some(Event::Point(Reading { pressure_pa: -50.3, flow_m3_h: 300.0 * 1.699 })))
        );
        assert_eq!(read_line("# a door opened", 1.0), Ok(None));
        assert!(read_line("-50,3 511", 1.0).is_err());
        assert!(read_line("zero", 1.0).unwrap_err().to_string().contains("turn"));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(40))]
        #[test]
        fn any_calm_building_comes_to_an_end(c in 5.0..400.0f64, n in 0.52..0.9f64) {
            let updates = obedient(c, n, 1.0);
            prop_assert_eq!(updates.last().unwrap().next, Next::Done);
        }

        #[test]
        fn no_events_panic(events in prop::collection::vec((0u8..4, -100.0..100.0f64, 1.0..2000.0f64), 0..30)) {
            let mut live = Live::new(aim(), rig(1.0), Direction::Depressurisation);
            for (kind, p, q) in events {
                let update = live.push(match kind {
                    0 => Event::Zero(p / 20.0),
                    1 => Event::Wind(Wind::NearGround(p.abs() / 10.0)),
                    2 if p > 90.0 => Event::Turn,
                    _ => Event::Point(Reading { pressure_pa: p, flow_m3_h: q }),
                });
                if let Next::Pressure(p) = update.next {
                    prop_assert!(p.is_finite());
                }
            }
        }

        #[test]
        fn no_line_panics(line in "\\PC*") {
            let _ = read_line(&line, 1.0);
        }
    }
}
