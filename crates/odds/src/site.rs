//! Forward models and corrections of readings taken on site.
//!
//! * [`in_situ`]: resistance of an element from logged heat flow, ISO 9869-1 average method, with its end criteria by
//!   name;
//! * [`wood_moisture`]: a resistance meter's reading corrected for temperature and species;
//! * [`one_place`]: how far one measured place stands for the whole.

use crate::judgement;
use numeric::pow;

/// What a logged stretch says about a resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct InSitu {
    /// Resistance between the faces, m²·K/W.
    pub resistance_m2k_w: f64,
    /// The end criteria, each with its verdict.
    pub criteria: Vec<Criterion>,
    /// Relative standard error, of instruments, contact and a bounded test.
    pub share: f64,
}

/// An end criterion.
#[derive(Clone, Debug, PartialEq)]
pub struct Criterion {
    /// Its name.
    pub name: &'static str,
    /// Whether it holds.
    pub holds: bool,
    /// What was found, as a share or in hours.
    pub found: f64,
}

impl InSitu {
    /// Says whether the test may end.
    pub fn complete(&self) -> bool {
        self.criteria.iter().all(|c| c.holds)
    }
}

/// One logged hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Logged {
    /// Heat flow into the element at the inside face, W/m².
    pub flux_w_m2: f64,
    /// Inside face, °C.
    pub inside_c: f64,
    /// Outside face, °C.
    pub outside_c: f64,
}

/// Shortest test, hours.
pub const SHORTEST_H: usize = 72;
/// Largest change of the result from one end to another.
pub const STEADY_SHARE: f64 = 0.05;

/// Works out a resistance from hourly readings by the average method, R = Σ(θ_si − θ_se) / Σ q over whole days.
///
/// `None` with less than two days, or when the flow does not add up to a number above zero.
///
/// # Valid for
/// Light elements, or heavy ones whose heat content at both ends is about the same: no storage correction is made.
/// # Source
/// ISO 9869-1:2014, clauses 7.1 (average method, end criteria: three days; the last day moves the result by no more
/// than 5 %; the first two thirds and the last two thirds agree within 5 %) and 9 (uncertainty, 14 to 28 % in all). From
/// memory, not seen.
pub fn in_situ(hours: &[Logged]) -> Option<InSitu> {
    let days = hours.len() / 24;
    if days < 2 {
        return None;
    }
    let of = |from: usize, to: usize| {
        let part = &hours[24 * from..24 * to];
        let flow: f64 = part.iter().map(|h| h.flux_w_m2).sum();
        part.iter().map(|h| h.inside_c - h.outside_c).sum::<f64>() / flow
    };
    let whole = of(0, days);
    if !(whole.is_finite() && whole > 0.0) {
        return None;
    }
    let two_thirds = (2 * days / 3).max(1);
    let day_before = (of(0, days - 1) / whole - 1.0).abs();
    let halves = (of(0, two_thirds) / of(days - two_thirds, days) - 1.0).abs();
    let within = |x: f64| x <= STEADY_SHARE;
    Some(InSitu {
        resistance_m2k_w: whole,
        criteria: vec![
            Criterion {
                name: "three days at least",
                holds: 24 * days >= SHORTEST_H,
                found: (24 * days) as f64,
            },
            Criterion {
                name: "the last day moves the result by no more than 5 %",
                holds: within(day_before),
                found: day_before,
            },
            Criterion {
                name: "first and last two thirds agree within 5 %",
                holds: within(halves),
                found: halves,
            },
        ],
        // 14 % is the lower of the standard's two figures for the whole, taken as a 95 % half-width.
        share: if within(day_before) && within(halves) { 0.07 } else { 0.14 },
    })
}

/// A species as its meter sees it: `true = (read − b) / a` after the temperature is corrected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Species {
    /// Slope.
    pub a: f64,
    /// Offset, per cent.
    pub b: f64,
}

impl Species {
    /// The species the meter is marked for (commonly Douglas fir).
    pub const METERS_OWN: Self = Self { a: 1.0, b: 0.0 };
}

/// Returns the moisture content of wood, per cent of dry mass, from a resistance meter's reading.
///
/// ```text
/// u = ((M + 0.567 − 0.0260 θ + 0.000051 θ²) / (0.881 · 1.0056^θ) − b) / a
/// ```
/// `M` is the reading in per cent of a meter marked at 21 °C, θ the wood's temperature, °C.
///
/// # Valid for
/// Readings from 7 to 28 %, wood from −20 to 60 °C; `None` outside: a meter tells nothing there.
/// # Source
/// Regression for resistance meters by Pfaff and Garrahan (1986), as in the appendix of ASTM D4444. From memory, not
/// seen: at 21 °C it returns the reading to within 0.35 points, which a test holds.
pub fn wood_moisture(read_percent: f64, wood_c: f64, species: Species) -> Option<f64> {
    if !(7.0..=28.0).contains(&read_percent) || !(-20.0..=60.0).contains(&wood_c) || species.a <= 0.0 {
        return None;
    }
    let at_meter = (read_percent + 0.567 - 0.0260 * wood_c + 0.000_051 * wood_c * wood_c)
        / (0.881 * pow(1.0056, wood_c));
    Some((at_meter - species.b) / species.a)
}

/// Returns the standard error of a reading that shows one place, or a few, of a value that differs from place to place:
/// the instrument's own, and what the places leave open of the value's spread.
///
/// `value_sd` is the value's standard deviation before the reading. Half of what makes places differ is shared
/// (judgement), the rest averages out over the places looked at.
pub fn one_place(instrument_sd: f64, value_sd: f64, places: u32) -> f64 {
    let open = judgement::table().reading.stands_for * value_sd / f64::from(places.max(1)).sqrt();
    (instrument_sd * instrument_sd + open * open).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(days: usize, flux: f64) -> Vec<Logged> {
        vec![Logged { flux_w_m2: flux, inside_c: 20.0, outside_c: 5.0 }; 24 * days]
    }

    #[test]
    fn a_steady_wall_is_read_in_three_days() {
        let found = in_situ(&steady(3, 5.0)).expect("a result");
        assert!((found.resistance_m2k_w - 3.0).abs() < 1e-12);
        assert!(found.complete(), "{found:?}");
        let short = in_situ(&steady(2, 5.0)).expect("a result");
        assert!(!short.complete() && !short.criteria[0].holds);
        assert_eq!(in_situ(&steady(1, 5.0)), None);
        assert_eq!(in_situ(&steady(3, 0.0)), None);
    }

    #[test]
    fn a_wall_that_still_drifts_is_not_read_yet() {
        let mut hours = steady(6, 5.0);
        for (i, h) in hours.iter_mut().enumerate() {
            h.flux_w_m2 *= 1.0 + 0.004 * i as f64;
        }
        let found = in_situ(&hours).expect("a result");
        assert!(!found.complete());
        assert!(found.share > 0.1);
    }

    #[test]
    fn a_meter_is_right_at_its_own_temperature_and_reads_low_in_the_cold() {
        let at = |m, t| wood_moisture(m, t, Species::METERS_OWN).expect("inside the range");
        for m in [10.0, 15.0, 24.0] {
            assert!((at(m, 21.0) - m).abs() < 0.35, "{m}: {}", at(m, 21.0));
            assert!(at(m, 0.0) > at(m, 21.0) && at(m, 40.0) < at(m, 21.0));
        }
        assert_eq!(wood_moisture(35.0, 20.0, Species::METERS_OWN), None);
    }

    #[test]
    fn more_places_say_more() {
        assert!(one_place(0.01, 0.1, 1) > one_place(0.01, 0.1, 4));
        assert!(one_place(0.01, 0.0, 1) == 0.01);
    }
}
