//! The flow network: spaces, neighbours and outside joined by leaks, openings, ducts and fans.
//!
//! Unknown are the pressures of the free nodes. Each link's flow rises with the pressure across it, so the balances
//! are the slope of a convex function and have one solution. [`solve`] walks down that function by Newton's method
//! with a line search that cannot overshoot, so it converges from any start; mass closes to 1e-9 kg/s or an error
//! says so. Derivation: `docs/method/flow-network.md`.

use crate::leakage::DRY_AIR_GAS_CONSTANT_J_KGK;
use numeric::envelope::Envelope;
use numeric::pow;
use std::fmt;

/// Standard acceleration of gravity, m/s².
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// Below this pressure difference a power law is continued as a straight line, Pa: the true flow there is laminar, and
/// the slope stays finite.
const LINEAR_BELOW_PA: f64 = 1e-4;
/// Mass must close to this at every free node, kg/s.
pub const MASS_TOLERANCE_KG_S: f64 = 1e-9;
/// A pressure beyond this, Pa, means that a fan holds its flow against next to no leak: an input mistake, and beyond the
/// digits a mass balance needs.
const MOST_PRESSURE_PA: f64 = 1e6;
/// Newton steps before giving up; random networks of 1 000 nodes need about 15.
const MOST_STEPS: usize = 200;

/// A place where air has one pressure: a space, a neighbour, the outside of one façade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Node {
    /// Pressure at height zero, Pa against the outdoor air at rest; `None` where it is to be found.
    pub pressure_pa: Option<f64>,
    /// Air density, kg/m³.
    pub density_kg_m3: f64,
}

/// How a link lets air through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// `ṁ = ρ·C·Δpⁿ` with C in m³/(s·Paⁿ) and the density of the air that flows.
    Leak {
        /// Flow coefficient, m³/(s·Paⁿ); above zero.
        coefficient: f64,
        /// Exponent, 0.5..1.
        exponent: f64,
    },
    /// A sharp opening: a leak with exponent one half, `C = C_d·A·sqrt(2/ρ)`.
    Opening {
        /// Free area, m².
        area_m2: f64,
        /// Discharge coefficient.
        discharge: f64,
    },
    /// A fan that holds its flow, kg/s from `from` to `to`, whatever the pressure.
    Fan {
        /// Mass flow, kg/s.
        flow_kg_s: f64,
    },
}

/// A way for air between two nodes at one height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// Node that positive flow leaves.
    pub from: usize,
    /// Node that positive flow enters.
    pub to: usize,
    /// Height of the link above the network's zero, m.
    pub height_m: f64,
    /// Law of flow.
    pub law: Law,
}

/// Pressures and flows of a solved network.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// Pressure of each node at height zero, Pa.
    pub pressures_pa: Vec<f64>,
    /// Mass flow of each link, kg/s, positive from `from` to `to`.
    pub flows_kg_s: Vec<f64>,
    /// Largest mass imbalance of a free node, kg/s.
    pub residual_kg_s: f64,
    /// Newton steps taken.
    pub steps: usize,
}

/// Why a network has no solution.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum NetworkError {
    /// A link names a node that is not there, or joins a node to itself.
    BadLink {
        /// Index of the link.
        link: usize,
    },
    /// A coefficient, exponent, area, density or flow is outside its range or not a number.
    BadValue {
        /// Index of the link or node.
        at: usize,
        /// What is wrong with it.
        what: &'static str,
    },
    /// No leak or opening joins this free node, even by way of others, to a node of known pressure.
    Floating {
        /// Index of the node.
        node: usize,
    },
    /// A fan blows into, or draws from, a place so tight that no real fan would hold the flow.
    NoWayOut {
        /// Index of the node.
        node: usize,
    },
    /// The balance did not close.
    NoConvergence {
        /// Largest imbalance left, kg/s.
        residual_kg_s: f64,
    },
}

impl fmt::Display for NetworkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadLink { link } => write!(f, "link {link} does not join two nodes of the network"),
            Self::BadValue { at, what } => write!(f, "item {at}: {what}"),
            Self::Floating { node } => write!(f, "node {node} has no way to a node of known pressure"),
            Self::NoWayOut { node } => {
                write!(f, "a fan works against node {node}, which has next to no leak: give its air a way")
            }
            Self::NoConvergence { residual_kg_s } => {
                write!(f, "the mass balance did not close: {residual_kg_s:e} kg/s left")
            }
        }
    }
}

impl std::error::Error for NetworkError {}

/// Returns the density of dry air, kg/m³.
pub fn air_density_kg_m3(temperature_c: f64, pressure_pa: f64) -> f64 {
    pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KGK * (temperature_c + 273.15))
}

/// Returns the pressure wind puts on a façade, Pa: `c_p·ρ/2·U²`.
pub fn wind_pressure_pa(coefficient: f64, density_kg_m3: f64, wind_m_s: f64) -> f64 {
    coefficient * 0.5 * density_kg_m3 * wind_m_s * wind_m_s
}

/// A network laid out for repeated solving: order and envelope of the balances are found once.
#[derive(Clone, Debug)]
pub struct Network {
    links: Vec<Link>,
    /// For each node, its place among the free ones.
    free: Vec<Option<usize>>,
    matrix: Envelope,
}

impl Network {
    /// Lays out a network; which nodes are free is taken from `nodes` and may not change afterwards.
    ///
    /// # Errors
    /// Any [`NetworkError`] but `NoConvergence`.
    pub fn new(nodes: &[Node], links: Vec<Link>) -> Result<Self, NetworkError> {
        check(nodes, &links)?;
        let mut count = 0;
        let free: Vec<Option<usize>> = nodes
            .iter()
            .map(|node| {
                node.pressure_pa.is_none().then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect();
        let edges: Vec<(usize, usize)> =
            links.iter().filter_map(|link| Some((free[link.from]?, free[link.to]?))).collect();
        Ok(Self { matrix: Envelope::new(count, &edges), links, free })
    }

    /// Replaces a link's law, for a fan that changes speed or a door that opens.
    pub fn set_law(&mut self, link: usize, law: Law) {
        self.links[link].law = law;
    }

    /// Solves the balances; `start_pa` are pressures to begin from (those of the last step, or zeros).
    ///
    /// # Errors
    /// [`NetworkError::NoConvergence`].
    pub fn solve(&mut self, nodes: &[Node], start_pa: &[f64]) -> Result<Solution, NetworkError> {
        let mut pressures: Vec<f64> =
            nodes.iter().zip(start_pa).map(|(node, &start)| node.pressure_pa.unwrap_or(start)).collect();
        let unknowns = self.free.iter().flatten().count();
        let mut residual = vec![0.0; unknowns];
        let mut trial = pressures.clone();
        let mut worst = self.balance(nodes, &pressures, &mut residual);
        for steps in 0..MOST_STEPS {
            // Half the tolerance, so that the sum of many small flows still reports below it.
            if worst <= 0.5 * MASS_TOLERANCE_KG_S {
                return Ok(self.solution(nodes, pressures, worst, steps));
            }
            self.lay_out_slopes(nodes, &pressures);
            let absurd = pressures.iter().position(|p| p.abs() > MOST_PRESSURE_PA);
            if let Some(node) = absurd {
                return Err(NetworkError::NoWayOut { node });
            }
            if self.matrix.factor().is_err() {
                break;
            }
            let mut step = residual.clone();
            self.matrix.solve(&mut step);
            worst = self.walk(nodes, &pressures, &mut trial, &step, &mut residual);
            pressures.copy_from_slice(&trial);
        }
        if worst <= MASS_TOLERANCE_KG_S {
            return Ok(self.solution(nodes, pressures, worst, MOST_STEPS));
        }
        Err(NetworkError::NoConvergence { residual_kg_s: worst })
    }

    /// Walks along `step` to where the balance along it has at least halved; returns the largest imbalance there.
    ///
    /// The slope of the potential along the step is −step·residual and only rises, so the place is bracketed by the
    /// start (downhill) and any place uphill. Balances, not potentials, are compared: near the bottom round-off of
    /// the potential would hide progress that the balance still shows.
    fn walk(
        &self,
        nodes: &[Node],
        from: &[f64],
        trial: &mut [f64],
        step: &[f64],
        residual: &mut [f64],
    ) -> f64 {
        let along = |residual: &[f64]| step.iter().zip(residual).map(|(s, r)| s * r).sum::<f64>();
        let at_start = along(residual);
        let (mut low, mut high) = (0.0, 1.0);
        let (mut at_low, mut at_high) = (at_start, f64::NAN);
        let mut scale = 1.0;
        loop {
            for (i, place) in self.free.iter().enumerate() {
                if let Some(k) = place {
                    trial[i] = from[i] + scale * step[*k];
                }
            }
            let worst = self.balance(nodes, trial, residual);
            let here = along(residual);
            if here >= -0.5 * at_start && (here <= 0.5 * at_start || scale == 1.0) || high - low < 1e-12 {
                return worst;
            }
            if here > 0.0 {
                (low, at_low) = (scale, here);
            } else {
                (high, at_high) = (scale, here);
            }
            // A secant of the bracket, kept away from its ends.
            let secant = low + (high - low) * at_low / (at_low - at_high);
            scale = secant.clamp(low + 0.05 * (high - low), high - 0.05 * (high - low));
        }
    }

    /// Fills `residual` with the mass entering each free node, kg/s; returns the largest.
    fn balance(&self, nodes: &[Node], pressures: &[f64], residual: &mut [f64]) -> f64 {
        residual.fill(0.0);
        for link in &self.links {
            let flow = link_flow(link, nodes, pressures).0;
            if let Some(k) = self.free[link.from] {
                residual[k] -= flow;
            }
            if let Some(k) = self.free[link.to] {
                residual[k] += flow;
            }
        }
        residual.iter().fold(0.0, |worst: f64, r| worst.max(r.abs()))
    }

    fn lay_out_slopes(&mut self, nodes: &[Node], pressures: &[f64]) {
        self.matrix.clear();
        for link in &self.links {
            let slope = link_flow(link, nodes, pressures).1;
            if slope == 0.0 {
                continue;
            }
            let (a, b) = (self.free[link.from], self.free[link.to]);
            if let Some(k) = a {
                self.matrix.add(k, k, slope);
            }
            if let Some(k) = b {
                self.matrix.add(k, k, slope);
            }
            if let (Some(i), Some(j)) = (a, b) {
                self.matrix.add(i, j, -slope);
            }
        }
    }

    fn solution(&self, nodes: &[Node], pressures: Vec<f64>, residual: f64, steps: usize) -> Solution {
        let flows = self.links.iter().map(|link| link_flow(link, nodes, &pressures).0).collect();
        Solution { pressures_pa: pressures, flows_kg_s: flows, residual_kg_s: residual, steps }
    }
}

/// Solves a network once. See [`Network`] for repeated solving.
///
/// # Errors
/// Any [`NetworkError`].
///
/// # Example
/// ```
/// use air::network::{Law, Link, Node, solve};
/// // A fan draws 0.1 kg/s from a room with one leak: the leak must let in the same.
/// let density = 1.2;
/// let nodes = [Node { pressure_pa: Some(0.0), density_kg_m3: density }, Node { pressure_pa: None, density_kg_m3: density }];
/// let links = vec![
///     Link { from: 0, to: 1, height_m: 0.0, law: Law::Leak { coefficient: 0.01, exponent: 0.65 } },
///     Link { from: 1, to: 0, height_m: 0.0, law: Law::Fan { flow_kg_s: 0.1 } },
/// ];
/// let air = solve(&nodes, links)?;
/// assert!((air.flows_kg_s[0] - 0.1).abs() < 1e-9);
/// assert!(air.pressures_pa[1] < 0.0);
/// # Ok::<(), air::network::NetworkError>(())
/// ```
pub fn solve(nodes: &[Node], links: Vec<Link>) -> Result<Solution, NetworkError> {
    let start = vec![0.0; nodes.len()];
    Network::new(nodes, links)?.solve(nodes, &start)
}

/// Pressure across a link, Pa: stack included, from `from` to `to`.
fn across(link: &Link, nodes: &[Node], pressures: &[f64]) -> f64 {
    let stack =
        (nodes[link.to].density_kg_m3 - nodes[link.from].density_kg_m3) * GRAVITY_M_S2 * link.height_m;
    pressures[link.from] - pressures[link.to] + stack
}

/// Mass coefficient, kg/(s·Paⁿ), and exponent of a leak or opening. The density is the mean of both sides: the true
/// upstream density would make the flow's slope jump at zero; the difference is below 4 % for 20 K and 0.5 in n.
fn mass_law(law: Law, nodes: &[Node], link: &Link) -> Option<(f64, f64)> {
    let density = 0.5 * (nodes[link.from].density_kg_m3 + nodes[link.to].density_kg_m3);
    match law {
        Law::Leak { coefficient, exponent } => Some((density * coefficient, exponent)),
        Law::Opening { area_m2, discharge } => Some((discharge * area_m2 * (2.0 * density).sqrt(), 0.5)),
        Law::Fan { .. } => None,
    }
}

/// Returns mass flow, kg/s, and its slope, kg/(s·Pa), of a link.
fn link_flow(link: &Link, nodes: &[Node], pressures: &[f64]) -> (f64, f64) {
    if let Law::Fan { flow_kg_s } = link.law {
        return (flow_kg_s, 0.0);
    }
    let Some((coefficient, exponent)) = mass_law(link.law, nodes, link) else { return (0.0, 0.0) };
    let dp = across(link, nodes, pressures);
    if dp.abs() < LINEAR_BELOW_PA {
        let slope = coefficient * pow(LINEAR_BELOW_PA, exponent - 1.0);
        return (slope * dp, slope);
    }
    let flow = coefficient * pow(dp.abs(), exponent);
    (flow.copysign(dp), exponent * flow / dp.abs())
}

fn check(nodes: &[Node], links: &[Link]) -> Result<(), NetworkError> {
    for (at, node) in nodes.iter().enumerate() {
        if !(node.density_kg_m3 > 0.0 && node.density_kg_m3.is_finite()) {
            return Err(NetworkError::BadValue { at, what: "the density must be above zero" });
        }
        if node.pressure_pa.is_some_and(|p| !p.is_finite()) {
            return Err(NetworkError::BadValue { at, what: "the pressure must be a number" });
        }
    }
    for (at, link) in links.iter().enumerate() {
        if link.from >= nodes.len() || link.to >= nodes.len() || link.from == link.to {
            return Err(NetworkError::BadLink { link: at });
        }
        let good = match link.law {
            Law::Leak { coefficient, exponent } => {
                coefficient > 0.0 && coefficient.is_finite() && (0.5..=1.0).contains(&exponent)
            }
            Law::Opening { area_m2, discharge } => {
                area_m2 > 0.0 && discharge > 0.0 && (area_m2 * discharge).is_finite()
            }
            Law::Fan { flow_kg_s } => flow_kg_s.is_finite(),
        };
        if !(good && link.height_m.is_finite()) {
            return Err(NetworkError::BadValue {
                at,
                what: "a coefficient must be above zero, an exponent 0.5..1",
            });
        }
    }
    floating(nodes, links).map_or(Ok(()), |node| Err(NetworkError::Floating { node }))
}

/// Returns a free node that no leak or opening joins, even by others, to a known pressure.
fn floating(nodes: &[Node], links: &[Link]) -> Option<usize> {
    let mut held: Vec<bool> = nodes.iter().map(|node| node.pressure_pa.is_some()).collect();
    loop {
        let mut grew = false;
        for link in links.iter().filter(|link| !matches!(link.law, Law::Fan { .. })) {
            if held[link.from] != held[link.to] {
                held[link.from] = true;
                held[link.to] = true;
                grew = true;
            }
        }
        if !grew {
            return held.iter().position(|&h| !h);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn outside() -> Node {
        Node { pressure_pa: Some(0.0), density_kg_m3: air_density_kg_m3(0.0, 101_325.0) }
    }

    fn room() -> Node {
        Node { pressure_pa: None, density_kg_m3: air_density_kg_m3(20.0, 101_325.0) }
    }

    #[test]
    fn two_equal_leaks_put_the_neutral_level_midway() {
        let leak = Law::Leak { coefficient: 0.001, exponent: 0.65 };
        let links = [0.0, 6.0].map(|height_m| Link { from: 0, to: 1, height_m, law: leak });
        let s = solve(&[outside(), room()], links.to_vec()).unwrap();
        assert!((s.flows_kg_s[0] + s.flows_kg_s[1]).abs() < 1e-9);
        let stack = (outside().density_kg_m3 - room().density_kg_m3) * GRAVITY_M_S2 * 3.0;
        assert!((s.pressures_pa[1] + stack).abs() < 1e-6, "{} {stack}", s.pressures_pa[1]);
    }

    #[test]
    fn a_sealed_room_floats() {
        let links = vec![Link { from: 0, to: 1, height_m: 0.0, law: Law::Fan { flow_kg_s: 0.1 } }];
        assert_eq!(solve(&[outside(), room()], links).unwrap_err(), NetworkError::Floating { node: 1 });
    }

    #[test]
    fn a_fan_against_a_wall_is_named() {
        let links = vec![
            Link { from: 0, to: 1, height_m: 0.0, law: Law::Leak { coefficient: 1e-9, exponent: 0.5 } },
            Link { from: 0, to: 1, height_m: 0.0, law: Law::Fan { flow_kg_s: 0.3 } },
        ];
        assert_eq!(solve(&[outside(), room()], links).unwrap_err(), NetworkError::NoWayOut { node: 1 });
    }

    /// A chain of rooms to outside plus random links, fans and heights: always solvable. The chain's leaks are at
    /// least those of a well-sealed room, 3e-5 m³/(s·Paⁿ); the others go down to a pinhole.
    fn networks() -> impl Strategy<Value = (Vec<Node>, Vec<Link>)> {
        (2usize..25).prop_flat_map(|rooms| {
            let chain = prop::collection::vec((-4.5..-0.5f64, 0.5..=1.0f64, 0.0..12.0f64), rooms);
            let extra = prop::collection::vec(
                (0..=rooms, 0..=rooms, 0u8..3, -9.0..-0.5f64, 0.5..=1.0f64, 0.0..12.0f64),
                0..40,
            );
            let warm = prop::collection::vec(-15.0..35.0f64, rooms);
            (chain, extra, warm).prop_map(move |(chain, extra, warm)| {
                let mut nodes = vec![outside()];
                nodes.extend(
                    warm.iter()
                        .map(|&t| Node { pressure_pa: None, density_kg_m3: air_density_kg_m3(t, 101_325.0) }),
                );
                let leak = |log: f64, exponent| Law::Leak { coefficient: pow(10.0, log), exponent };
                let mut links: Vec<Link> = chain
                    .iter()
                    .enumerate()
                    .map(|(i, &(log, n, height_m))| Link { from: i, to: i + 1, height_m, law: leak(log, n) })
                    .collect();
                for (from, to, kind, log, n, height_m) in extra {
                    if from == to {
                        continue;
                    }
                    let law = match kind {
                        0 => leak(log, n),
                        1 => Law::Opening { area_m2: pow(10.0, log), discharge: 0.6 },
                        _ => Law::Fan { flow_kg_s: 1e-2 * pow(10.0, log) },
                    };
                    links.push(Link { from, to, height_m, law });
                }
                (nodes, links)
            })
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]
        #[test]
        fn mass_closes_on_random_networks((nodes, links) in networks()) {
            let s = solve(&nodes, links).map_err(|e| TestCaseError::fail(e.to_string()))?;
            prop_assert!(s.residual_kg_s <= MASS_TOLERANCE_KG_S);
        }

        #[test]
        fn the_start_does_not_matter((nodes, links) in networks(), start in -200.0..200.0f64) {
            let mut network = Network::new(&nodes, links.clone()).unwrap();
            let a = network.solve(&nodes, &vec![0.0; nodes.len()]).unwrap();
            let b = network.solve(&nodes, &vec![start; nodes.len()]).unwrap();
            for (x, y) in a.flows_kg_s.iter().zip(&b.flows_kg_s) {
                prop_assert!((x - y).abs() < 1e-7);
            }
        }
    }
}
