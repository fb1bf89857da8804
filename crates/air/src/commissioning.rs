//! Commissioning: measured flows against design, balance at every speed, and which damper to move next.
//!
//! [`judge`] holds one reading against its design with the meter's uncertainty; [`imbalance`] and [`effects`] say how far
//! supply and exhaust part and what that does; [`DuctTree::advise`] solves the duct network for the next move.

use crate::leakage::PowerLaw;
use crate::network::{Law, Link, Network, NetworkError, Node};
use crate::recovery;
use numeric::normal;
use std::fmt;

/// What a flow meter's certificate says: the larger of a share and an amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meter {
    /// 95 % half-width as a share of the reading.
    pub share: f64,
    /// 95 % half-width at least this, m³/h.
    pub least_m3_h: f64,
}

impl Meter {
    /// Returns the standard uncertainty of a reading, m³/h.
    pub fn standard_uncertainty_m3_h(&self, reading_m3_h: f64) -> f64 {
        0.5 * (self.share * reading_m3_h.abs()).max(self.least_m3_h)
    }
}

/// A reading against its design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// (measured − design)/design.
    pub deviation_share: f64,
    /// Whether the reading itself lies inside the tolerance.
    pub inside: bool,
    /// Chance that the true flow lies inside, by the meter's uncertainty.
    pub chance_inside: f64,
}

/// Holds a measured flow against its design; `None` for a design that is not above zero.
///
/// Tolerances are the job's: EN 12599 uses 15 % a room and 10 % a system with a meter of 5 to 10 % (from memory).
pub fn judge(design_m3_h: f64, measured_m3_h: f64, tolerance_share: f64, meter: Meter) -> Option<Judged> {
    if !(design_m3_h > 0.0 && measured_m3_h.is_finite()) {
        return None;
    }
    let half = tolerance_share * design_m3_h;
    let u = meter.standard_uncertainty_m3_h(measured_m3_h);
    let off = measured_m3_h - design_m3_h;
    let inside = off.abs() <= half;
    let chance_inside = if u > 0.0 {
        normal::cdf((half - off) / u) - normal::cdf((-half - off) / u)
    } else {
        f64::from(u8::from(inside))
    };
    Some(Judged { deviation_share: off / design_m3_h, inside, chance_inside })
}

/// How far supply and exhaust part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Imbalance {
    /// Supply less exhaust, m³/h; negative draws air in through leaks.
    pub difference_m3_h: f64,
    /// |difference| over the larger flow.
    pub share_of_larger: f64,
    /// Standard uncertainty of the share, by the meter.
    pub uncertainty: f64,
}

/// Returns the imbalance of outdoor and exhaust air; `None` unless both are above zero.
///
/// The two readings are taken as independent; one meter used for both in turn shares its scale, and the true uncertainty
/// is then smaller.
///
/// # Example
/// ```
/// let meter = air::commissioning::Meter { share: 0.03, least_m3_h: 3.0 };
/// let first = air::commissioning::imbalance(498.0, 566.0, meter).unwrap();
/// assert_eq!(format!("{:.1} %", 100.0 * first.share_of_larger), "12.0 %");
/// ```
pub fn imbalance(outdoor_m3_h: f64, exhaust_m3_h: f64, meter: Meter) -> Option<Imbalance> {
    if !(outdoor_m3_h > 0.0 && exhaust_m3_h > 0.0) {
        return None;
    }
    let larger = outdoor_m3_h.max(exhaust_m3_h);
    let ratio = outdoor_m3_h.min(exhaust_m3_h) / larger;
    let by = |q: f64| meter.standard_uncertainty_m3_h(q) / q;
    let (a, b) = (by(outdoor_m3_h), by(exhaust_m3_h));
    Some(Imbalance {
        difference_m3_h: outdoor_m3_h - exhaust_m3_h,
        share_of_larger: 1.0 - ratio,
        uncertainty: ratio * (a * a + b * b).sqrt(),
    })
}

/// Returns the share of a duct's air lost between two places: (at the unit − sum of terminals)/at the unit.
pub fn duct_leak_share(at_unit_m3_h: f64, terminals_m3_h: f64) -> f64 {
    (at_unit_m3_h - terminals_m3_h) / at_unit_m3_h
}

/// A day on which to tell what an imbalance does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// Indoor temperature, °C.
    pub inside_c: f64,
    /// Outdoor temperature, °C.
    pub outside_c: f64,
    /// Heat carried by air, J/(m³·K).
    pub air_j_m3k: f64,
}

/// What an imbalance does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effects {
    /// Pressure inside over outside that drives the difference through the leak, Pa.
    pub pressure_pa: f64,
    /// Air through leaks: the difference, m³/h (in where the exhaust is larger, out where the supply is).
    pub through_leaks_m3_h: f64,
    /// Ratio of the unit on its supply side: looks better when the supply is short.
    pub supply_ratio: f64,
    /// Heat recovered, W.
    pub recovered_w: f64,
    /// Heat recovered at the same larger flow on both sides, W.
    pub recovered_if_balanced_w: f64,
    /// Outdoor air to be heated, unit and leaks together, W.
    pub air_loss_w: f64,
}

/// Returns what an imbalance does to pressure, leaks and recovery.
///
/// `rated_effectiveness` at `rated_flow_m3_h` fixes the exchanger's size (counterflow, UA constant). Wind and stack are left
/// out: the network knows them. A room with a combustion appliance needs its own check of make-up air, whatever this says.
/// `None` unless flows are above zero and the effectiveness lies in 0..1.
pub fn effects(
    outdoor_m3_h: f64,
    exhaust_m3_h: f64,
    rated_effectiveness: f64,
    rated_flow_m3_h: f64,
    leak: PowerLaw,
    day: Day,
) -> Option<Effects> {
    let units = recovery::transfer_units_of_balanced(rated_effectiveness)?;
    if !(outdoor_m3_h > 0.0 && exhaust_m3_h > 0.0 && rated_flow_m3_h > 0.0) {
        return None;
    }
    let capacity = |m3_h: f64| m3_h / 3600.0 * day.air_j_m3k;
    let ua = units * capacity(rated_flow_m3_h);
    let exchange = |supply: f64, extract: f64| {
        recovery::unbalanced(ua, capacity(supply), capacity(extract), day.outside_c, day.inside_c)
    };
    let now = exchange(outdoor_m3_h, exhaust_m3_h);
    let larger = outdoor_m3_h.max(exhaust_m3_h);
    let difference = outdoor_m3_h - exhaust_m3_h;
    let all_in = outdoor_m3_h.max(exhaust_m3_h);
    Some(Effects {
        pressure_pa: leak.pressure_pa(difference),
        through_leaks_m3_h: difference.abs(),
        supply_ratio: now.supply_ratio,
        recovered_w: now.heat_w,
        recovered_if_balanced_w: exchange(larger, larger).heat_w,
        air_loss_w: capacity(all_in) * (day.inside_c - day.outside_c) - now.heat_w,
    })
}

/// A duct run from a place nearer the fan to one further away. Place 0 is the plenum at the fan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Place it begins at.
    pub from: usize,
    /// Place it ends at: each place but the plenum ends one run.
    pub to: usize,
    /// Flow at 1 Pa of drop, m³/h (drop goes with the square of flow).
    pub at_one_pa_m3_h: f64,
}

/// A terminal with its damper.
#[derive(Clone, Debug, PartialEq)]
pub struct Terminal {
    /// Name of the room.
    pub id: String,
    /// Place it hangs on.
    pub place: usize,
    /// Design flow, m³/h.
    pub design_m3_h: f64,
    /// Measured flow, m³/h.
    pub measured_m3_h: f64,
    /// Damper opening now, as a share of what the open damper lets through at equal pressure, 0..1.
    pub opening: f64,
}

/// How the fan answers when a damper moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// It holds its flow.
    Flow,
    /// It holds the plenum pressure.
    Pressure,
}

/// A branched duct, calibrated by a set of readings.
#[derive(Clone, Debug, PartialEq)]
pub struct DuctTree {
    /// Runs; without any, every terminal hangs on the plenum.
    pub runs: Vec<Run>,
    /// Terminals.
    pub terminals: Vec<Terminal>,
    /// Pressure in the plenum at the readings, Pa, without sign.
    pub plenum_pa: f64,
    /// How the fan answers.
    pub hold: Hold,
}

/// The next move.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// Index of the terminal whose damper to move; `None` where all are balanced.
    pub terminal: Option<usize>,
    /// Its opening afterwards.
    pub opening: f64,
    /// Flow it should show right after this one move, m³/h.
    pub lands_at_m3_h: f64,
    /// Openings when all is balanced: every terminal at the same share of its design, the worst fully open.
    pub final_openings: Vec<f64>,
    /// Flows when all is balanced, m³/h.
    pub final_flows_m3_h: Vec<f64>,
}

/// Why no advice can be given.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum DuctError {
    /// A number is not above zero.
    NotPositive {
        /// What it is.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// Runs do not form a tree from the plenum, or a terminal hangs on no place.
    NotATree {
        /// The place.
        place: usize,
    },
    /// The readings leave no pressure for this terminal's damper: a run is too narrow, or the plenum pressure too low.
    NoPressureLeft {
        /// Index of the terminal.
        terminal: usize,
    },
    /// The network was not solved.
    Network(NetworkError),
}

impl fmt::Display for DuctError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotPositive { what, value } => write!(f, "{what} is {value}: it must be above zero"),
            Self::NotATree { place } => {
                write!(f, "place {place} is not reached from the plenum by exactly one run")
            }
            Self::NoPressureLeft { terminal } => write!(
                f,
                "by these readings no pressure is left at terminal {}: measure the plenum pressure again",
                terminal + 1
            ),
            Self::Network(error) => write!(f, "the duct network was not solved: {error}"),
        }
    }
}

impl std::error::Error for DuctError {}

/// Terminals within this share of the common ratio need no move.
const BALANCED_SHARE: f64 = 0.02;
/// Rounds of setting all dampers; each multiplies the remaining spread by less than a half.
const MOST_ROUNDS: usize = 200;
const DENSITY_KG_M3: f64 = 1.2;

impl DuctTree {
    /// Says which damper to move next and where it should land.
    ///
    /// The readings fix each terminal's resistance; then all dampers are set so that every terminal has the same share of
    /// its design with the most starved one fully open. The one that has to close most is moved first, and the network is
    /// solved again with that one move.
    ///
    /// # Errors
    /// Any [`DuctError`].
    pub fn advise(&self) -> Result<Advice, DuctError> {
        let open = self.open_coefficients()?;
        let now: Vec<f64> = self.terminals.iter().map(|t| t.opening).collect();
        let mut openings = now.clone();
        let mut flows = self.flows(&open, &openings)?;
        for _ in 0..MOST_ROUNDS {
            let ratios: Vec<f64> =
                flows.iter().zip(&self.terminals).map(|(q, t)| q / t.design_m3_h).collect();
            let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
            let spread = ratios.iter().fold(0.0_f64, |s, r| s.max((r / mean - 1.0).abs()));
            if spread < 1e-7 && openings.iter().copied().fold(0.0, f64::max) > 1.0 - 1e-9 {
                break;
            }
            for (o, r) in openings.iter_mut().zip(&ratios) {
                *o *= mean / r;
            }
            let widest = openings.iter().copied().fold(0.0, f64::max);
            for o in &mut openings {
                *o /= widest;
            }
            flows = self.flows(&open, &openings)?;
        }
        self.first_move(&open, &now, openings, flows)
    }

    fn first_move(
        &self,
        open: &[f64],
        now: &[f64],
        final_openings: Vec<f64>,
        final_flows_m3_h: Vec<f64>,
    ) -> Result<Advice, DuctError> {
        // Closing first: an opened damper would starve the others again.
        let change = |i: &usize| final_openings[*i] / now[*i];
        let farthest = (0..now.len())
            .min_by(|a, b| change(a).total_cmp(&change(b)))
            .filter(|i| change(i) < 1.0 - BALANCED_SHARE)
            .or_else(|| {
                (0..now.len())
                    .max_by(|a, b| change(a).total_cmp(&change(b)))
                    .filter(|i| change(i) > 1.0 + BALANCED_SHARE)
            });
        let (opening, lands_at_m3_h) = match farthest {
            None => (f64::NAN, f64::NAN),
            Some(i) => {
                let mut one = now.to_vec();
                one[i] = final_openings[i];
                (one[i], self.flows(open, &one)?[i])
            }
        };
        Ok(Advice { terminal: farthest, opening, lands_at_m3_h, final_openings, final_flows_m3_h })
    }

    /// Flow of each terminal with these openings, m³/h.
    fn flows(&self, open: &[f64], openings: &[f64]) -> Result<Vec<f64>, DuctError> {
        let places = self.places();
        // Node 0 is the room side, at zero; places follow.
        let mut nodes = vec![Node { pressure_pa: Some(0.0), density_kg_m3: DENSITY_KG_M3 }];
        nodes.extend((0..places).map(|_| Node { pressure_pa: None, density_kg_m3: DENSITY_KG_M3 }));
        let leak = |at_one_pa: f64| Law::Leak { coefficient: at_one_pa / 3600.0, exponent: 0.5 };
        let link = |from: usize, to: usize, law: Law| Link { from, to, height_m: 0.0, law };
        let mut links: Vec<Link> =
            self.runs.iter().map(|r| link(1 + r.from, 1 + r.to, leak(r.at_one_pa_m3_h))).collect();
        let first = links.len();
        links.extend(
            self.terminals
                .iter()
                .zip(open.iter().zip(openings))
                .map(|(t, (k, o))| link(1 + t.place, 0, leak(k * o))),
        );
        match self.hold {
            Hold::Flow => {
                let total: f64 = self.terminals.iter().map(|t| t.measured_m3_h).sum();
                links.push(link(0, 1, Law::Fan { flow_kg_s: total / 3600.0 * DENSITY_KG_M3 }));
            }
            Hold::Pressure => nodes[1].pressure_pa = Some(self.plenum_pa),
        }
        let start = vec![self.plenum_pa; nodes.len()];
        let mut network = Network::new(&nodes, links).map_err(DuctError::Network)?;
        let solution = network.solve(&nodes, &start).map_err(DuctError::Network)?;
        let flows = &solution.flows_kg_s[first..first + self.terminals.len()];
        Ok(flows.iter().map(|kg_s| kg_s / DENSITY_KG_M3 * 3600.0).collect())
    }

    fn places(&self) -> usize {
        let runs = self.runs.iter().map(|r| r.from.max(r.to));
        1 + runs.chain(self.terminals.iter().map(|t| t.place)).max().unwrap_or(0)
    }

    /// Flow at 1 Pa of each terminal with its damper fully open, m³/h, from the readings.
    fn open_coefficients(&self) -> Result<Vec<f64>, DuctError> {
        self.check()?;
        let places = self.places();
        let mut flow = vec![0.0; places];
        for t in &self.terminals {
            flow[t.place] += t.measured_m3_h;
        }
        // Runs from the leaves inwards carry what their ends take.
        let order = self.outwards()?;
        for &r in order.iter().rev() {
            let run = self.runs[r];
            flow[run.from] += flow[run.to];
        }
        let mut pressure = vec![self.plenum_pa; places];
        for &r in &order {
            let run = self.runs[r];
            let drop = flow[run.to] / run.at_one_pa_m3_h;
            pressure[run.to] = pressure[run.from] - drop * drop;
        }
        self.terminals
            .iter()
            .enumerate()
            .map(|(terminal, t)| {
                let left = pressure[t.place];
                if !(left > 0.0) {
                    return Err(DuctError::NoPressureLeft { terminal });
                }
                Ok(t.measured_m3_h / left.sqrt() / t.opening)
            })
            .collect()
    }

    /// Runs in an order in which each begins at the plenum or at the end of an earlier one.
    fn outwards(&self) -> Result<Vec<usize>, DuctError> {
        let places = self.places();
        let mut reached = vec![false; places];
        reached[0] = true;
        let mut order = Vec::new();
        let mut left: Vec<usize> = (0..self.runs.len()).collect();
        while let Some(at) = left.iter().position(|&r| reached[self.runs[r].from]) {
            let r = left.remove(at);
            let to = self.runs[r].to;
            if reached[to] {
                return Err(DuctError::NotATree { place: to });
            }
            reached[to] = true;
            order.push(r);
        }
        match reached.iter().position(|r| !r) {
            Some(place) => Err(DuctError::NotATree { place }),
            None => Ok(order),
        }
    }

    fn check(&self) -> Result<(), DuctError> {
        let above = |what, value: f64| {
            if value > 0.0 && value.is_finite() {
                Ok(())
            } else {
                Err(DuctError::NotPositive { what, value })
            }
        };
        above("the number of terminals", self.terminals.len() as f64)?;
        above("the plenum pressure", self.plenum_pa)?;
        for run in &self.runs {
            above("the size of a run", run.at_one_pa_m3_h)?;
        }
        for t in &self.terminals {
            above("a design flow", t.design_m3_h)?;
            above("a measured flow", t.measured_m3_h)?;
            above("an opening", t.opening)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const METER: Meter = Meter { share: 0.03, least_m3_h: 3.0 };

    fn terminal(id: &str, place: usize, design: f64, measured: f64) -> Terminal {
        Terminal { id: id.to_owned(), place, design_m3_h: design, measured_m3_h: measured, opening: 1.0 }
    }

    #[test]
    fn a_reading_near_its_tolerance_is_half_a_chance() {
        let j = judge(100.0, 110.0, 0.10, METER).unwrap();
        assert!(j.inside && (j.chance_inside - 0.5).abs() < 1e-6, "{j:?}");
        assert!(judge(0.0, 10.0, 0.1, METER).is_none());
    }

    #[test]
    fn a_short_supply_looks_better_and_saves_less() {
        let leak = PowerLaw::through(532.0, 50.0, 0.65);
        let day = Day { inside_c: 20.0, outside_c: 0.0, air_j_m3k: 1207.0 };
        let off = effects(498.0, 566.0, 0.82, 560.0, leak, day).unwrap();
        let even = effects(566.0, 566.0, 0.82, 560.0, leak, day).unwrap();
        assert!(off.supply_ratio > even.supply_ratio && off.recovered_w < even.recovered_w);
        assert!(off.pressure_pa < 0.0 && off.air_loss_w > even.air_loss_w);
        assert!((leak.flow_m3_h(-off.pressure_pa) - 68.0).abs() < 1e-9);
        assert!(effects(498.0, 566.0, 1.2, 560.0, leak, day).is_none());
    }

    fn tree(measured: &[f64], hold: Hold) -> DuctTree {
        let design = [150.0, 60.0, 60.0, 90.0];
        let places = [1, 2, 2, 1];
        DuctTree {
            runs: vec![
                Run { from: 0, to: 1, at_one_pa_m3_h: 160.0 },
                Run { from: 1, to: 2, at_one_pa_m3_h: 60.0 },
            ],
            terminals: (0..4).map(|i| terminal("t", places[i], design[i], measured[i])).collect(),
            plenum_pa: 60.0,
            hold,
        }
    }

    #[test]
    fn the_readings_come_back_from_the_calibrated_tree() {
        for hold in [Hold::Flow, Hold::Pressure] {
            let t = tree(&[190.0, 40.0, 45.0, 85.0], hold);
            let open = t.open_coefficients().unwrap();
            let flows = t.flows(&open, &[1.0; 4]).unwrap();
            for (q, t) in flows.iter().zip(&t.terminals) {
                assert!((q - t.measured_m3_h).abs() < 1e-4, "{q} {}", t.measured_m3_h);
            }
        }
    }

    #[test]
    fn the_greediest_damper_closes_first() {
        let t = tree(&[190.0, 40.0, 45.0, 85.0], Hold::Flow);
        let advice = t.advise().unwrap();
        assert_eq!(advice.terminal, Some(0));
        assert!(advice.lands_at_m3_h < 190.0 && advice.opening < 1.0, "{advice:?}");
        // All at one share of design: 360 in all over 360.
        for (q, t) in advice.final_flows_m3_h.iter().zip(&t.terminals) {
            assert!((q / t.design_m3_h - 1.0).abs() < 1e-4, "{advice:?}");
        }
    }

    #[test]
    fn balanced_terminals_need_no_move() {
        let advice = tree(&[150.0, 60.0, 60.0, 90.0], Hold::Flow).advise().unwrap();
        assert_eq!(advice.terminal, None, "{advice:?}");
    }

    #[test]
    fn mistakes_are_named() {
        let mut t = tree(&[190.0, 40.0, 45.0, 85.0], Hold::Flow);
        t.runs[1].at_one_pa_m3_h = 5.0;
        assert!(matches!(t.advise(), Err(DuctError::NoPressureLeft { .. })));
        t.runs[1] = Run { from: 2, to: 1, at_one_pa_m3_h: 60.0 };
        assert!(matches!(t.advise(), Err(DuctError::NotATree { .. })));
        t.terminals.clear();
        assert!(t.advise().is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn any_tree_is_balanced(m in prop::collection::vec(30.0..120.0f64, 4), pressure in prop::bool::ANY) {
            let mut t = tree(&m, if pressure { Hold::Pressure } else { Hold::Flow });
            t.runs[0].at_one_pa_m3_h = 300.0;
            t.runs[1].at_one_pa_m3_h = 120.0;
            let advice = t.advise().unwrap();
            let ratios: Vec<f64> =
                advice.final_flows_m3_h.iter().zip(&t.terminals).map(|(q, t)| q / t.design_m3_h).collect();
            let (low, high) = ratios.iter().fold((f64::MAX, 0.0_f64), |(l, h), r| (l.min(*r), h.max(*r)));
            prop_assert!(high / low - 1.0 < 1e-4, "{:?}", ratios);
            prop_assert!(advice.final_openings.iter().all(|o| *o <= 1.0 + 1e-9));
        }
    }
}
