//! Coupled heat and moisture transport in one dimension, EN 15026 with air flows, rain and freezing added.
//!
//! Finite volumes in space, backward Euler in time, unknowns temperature and moisture potential of every node, solved
//! by damped Newton; steps follow an estimate of their own error. Start at [`Simulation::new`] and
//! [`Simulation::run`]. Scheme, error and limits are derived in `docs/method/moisture-transport.md`.
//!
//! Left out: hysteresis of sorption, salts, rising damp, air pressure in pores, two- and three-dimensional flow.

mod balance;
mod grid;
mod mesh;
mod trace;

pub use balance::Crossing;
pub use grid::{Cells, Resolution};
pub use trace::Trace;

use crate::drive::Drive;
use crate::error::{MoistureError, within};
use crate::material::potential_of_humidity;
use crate::vapour::{Air, Diffusion, Saturation};
use crate::wall::{Place, Side, Wall, inconsistent};
use balance::{Body, Forcing, System, energy};
use mesh::{Mesh, NodeKind};

/// How accurately, and by which conventions, a run is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Saturation curve.
    pub saturation: Saturation,
    /// Vapour diffusion in air.
    pub diffusion: Diffusion,
    /// Whether pore water freezes, with its heat of melting and its blocked pores.
    pub freezing: bool,
    /// Error of temperature allowed in a step, K.
    pub temperature_tolerance_k: f64,
    /// Error of water content allowed in a step, summed over the wall, kg/m².
    pub water_tolerance_kg_m2: f64,
    /// Longest step, s.
    pub longest_step_s: f64,
    /// Step to begin with, s.
    pub first_step_s: f64,
    /// Shortest step, s; failing here ends the run with an error.
    pub shortest_step_s: f64,
    /// Steps allowed altogether.
    pub most_steps: u64,
}

impl Default for Options {
    /// For a year of hours, within 1 % of the converged run (see the method note).
    fn default() -> Self {
        Self {
            saturation: Saturation::MoistAir,
            diffusion: Diffusion::default(),
            freezing: false,
            temperature_tolerance_k: 2.0,
            water_tolerance_kg_m2: 0.02,
            longest_step_s: 3600.0,
            first_step_s: 60.0,
            shortest_step_s: 1e-3,
            most_steps: 2_000_000,
        }
    }
}

/// How damp a layer is at the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Start {
    /// In balance with this relative humidity, 0 to 1.
    Humidity(f64),
    /// Holding this much water, kg/m³.
    Water(f64),
}

/// Counts and worst closures of a run.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Effort {
    /// Steps taken.
    pub steps: u64,
    /// Steps tried and given up, for their error or for want of convergence.
    pub rejected: u64,
    /// Newton iterations.
    pub iterations: u64,
    /// Largest water left unbalanced in a step, as a share of the water in the wall.
    pub worst_water: f64,
    /// Largest heat left unbalanced in a step, as a share of the wall's heat content counted from 0 °C (or of the
    /// content of 10 K, where that is more).
    pub worst_heat: f64,
}

/// A wall being run.
pub struct Simulation {
    wall: Wall,
    options: Options,
    body: Body,
    rain: Vec<(usize, f64)>,
    exchanges: Vec<(usize, Side)>,
    now: Present,
    system: System,
    guess: Vec<[f64; 2]>,
    before: Vec<[f64; 2]>,
    time_s: f64,
    next_step_s: f64,
    crossed: Crossing,
    effort: Effort,
}

/// State of an interface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaceState {
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
    /// Liquid standing there, kg/m².
    pub film_kg_m2: f64,
}

/// Where the wall stands, node by node.
struct Present {
    /// Temperature and potential.
    states: Vec<[f64; 2]>,
    /// Water, kg/m².
    masses: Vec<f64>,
    /// Heat, J/m².
    energies: Vec<f64>,
    /// Length of the last step and the change a second of temperature and water in it.
    rates: Option<(f64, Vec<[f64; 3]>)>,
}

enum Attempt {
    Done { crossing: Crossing, iterations: u32, water: f64, heat: f64 },
    Failed { iterations: u32, node: usize, residual: [f64; 2] },
}

const MOST_ITERATIONS: u32 = 20;
/// Newton stops when no balance misses more than this share of what the wall holds.
const CLOSURE: f64 = 2e-10;
/// What every accepted step keeps.
const PROMISED_CLOSURE: f64 = 1e-9;

impl Simulation {
    /// Lays a wall out in cells.
    ///
    /// # Errors
    /// Everything wrong with the wall, the cells or the options, at once.
    pub fn new(wall: &Wall, cells: &Cells, options: Options) -> Result<Self, Vec<MoistureError>> {
        wall.check()?;
        cells.check(wall)?;
        options.check()?;
        let mesh = Mesh::new(wall, &cells.widths_m);
        let capacity: Vec<f64> = mesh
            .nodes
            .iter()
            .map(|n| match *n {
                NodeKind::Cell { layer, width_m } => {
                    wall.layers[layer].material.heat_capacity_j_m3k * width_m
                }
                NodeKind::Film { .. } => balance::SKIN_CAPACITY_J_M2K,
            })
            .collect();
        let n = mesh.nodes.len();
        let rain = wall.rain.iter().map(|r| (mesh.node(Place::Interface(r.interface)), r.share)).collect();
        let exchanges = wall.exchanges.iter().map(|e| (mesh.node(e.place), e.from)).collect();
        let body = Body {
            materials: wall.layers.iter().map(|l| l.material.clone()).collect(),
            air: Air::new(options.saturation, options.diffusion),
            capacity,
            mesh,
        };
        let mut simulation = Self {
            wall: wall.clone(),
            options,
            body,
            rain,
            exchanges,
            now: Present {
                states: vec![[20.0, potential_of_humidity(0.5, 20.0)]; n],
                masses: vec![0.0; n],
                energies: vec![0.0; n],
                rates: None,
            },
            system: System::new(n),
            guess: vec![[0.0; 2]; n],
            before: vec![[0.0; 2]; n],
            time_s: 0.0,
            next_step_s: options.first_step_s,
            crossed: Crossing::default(),
            effort: Effort::default(),
        };
        simulation.settle();
        Ok(simulation)
    }

    /// Sets every layer to a temperature and a dampness of its own; time and tallies go back to nothing.
    ///
    /// # Errors
    /// A list of another length than the layers, or a state out of range.
    pub fn start(&mut self, temperature_c: f64, layers: &[Start]) -> Result<(), Vec<MoistureError>> {
        let n = self.wall.layers.len();
        if layers.len() != n {
            return Err(vec![inconsistent("start", format!("{} states for {n} layers", layers.len()))]);
        }
        let mut found = Vec::new();
        found.extend(within("start", "temperature in °C", temperature_c, -60.0, 90.0).err());
        let mut potentials = Vec::with_capacity(n);
        for (layer, start) in self.wall.layers.iter().zip(layers) {
            let what = format!("start of {}", layer.name);
            potentials.push(match *start {
                Start::Humidity(h) => {
                    found.extend(within(&what, "relative humidity", h, 1e-9, 1.0).err());
                    potential_of_humidity(h, temperature_c)
                }
                Start::Water(w) => {
                    let m = &layer.material;
                    let most = 1.5 * m.saturation_kg_m3 + if m.capillary { 0.0 } else { 500.0 };
                    found.extend(within(&what, "water in kg/m³", w, 0.0, most).err());
                    m.curves.potential_of_water(w)
                }
            });
        }
        if !found.is_empty() {
            return Err(found);
        }
        let driest_beside = |k: usize| {
            let a = k.checked_sub(1).and_then(|i| potentials.get(i)).copied();
            let b = potentials.get(k).copied();
            a.unwrap_or(f64::INFINITY).min(b.unwrap_or(f64::INFINITY)).min(0.0)
        };
        for (state, kind) in self.now.states.iter_mut().zip(&self.body.mesh.nodes) {
            let u = match *kind {
                NodeKind::Cell { layer, .. } => potentials[layer],
                NodeKind::Film { interface, .. } => driest_beside(interface),
            };
            *state = [temperature_c, u];
        }
        self.time_s = 0.0;
        self.settle();
        Ok(())
    }

    /// Adds water to a layer, kg/m², spread evenly over it; what it cannot hold stands free in it.
    ///
    /// # Errors
    /// A layer that does not exist, or more than its volume.
    pub fn wet(&mut self, layer: usize, water_kg_m2: f64) -> Result<(), MoistureError> {
        let Some(l) = self.wall.layers.get(layer) else {
            return Err(inconsistent("wetting", format!("there is no layer {}", layer + 1)));
        };
        within(&l.name, "water added in kg/m²", water_kg_m2, 0.0, 1000.0 * l.thickness_m)?;
        for i in self.body.mesh.cells[layer].clone() {
            let water = self.water_at(i) + water_kg_m2 / l.thickness_m;
            self.now.states[i][1] = l.material.curves.potential_of_water(water);
        }
        self.settle();
        Ok(())
    }

    /// Takes over the states of another run of a like wall, on whatever cells that had; time and tallies go back to
    /// nothing. Temperature and potential are read off straight between its nodes, at the same share of each layer's
    /// thickness, so layers hold nearly, not exactly, the same water.
    ///
    /// # Errors
    /// A wall of another number of layers.
    pub fn continue_from(&mut self, other: &Self) -> Result<(), MoistureError> {
        let n = self.wall.layers.len();
        if n != other.wall.layers.len() {
            let detail = format!("the other run's wall has {} layers, this one {n}", other.wall.layers.len());
            return Err(inconsistent("continuing", detail));
        }
        for layer in 0..n {
            let from = other.layer_nodes(layer);
            for (node, share) in self.layer_nodes(layer) {
                self.now.states[node] = between(&from, &other.now.states, share);
            }
        }
        self.time_s = 0.0;
        self.settle();
        Ok(())
    }

    /// Nodes of a layer with their places from its inner face, shares of its thickness: its two faces and its cells.
    fn layer_nodes(&self, layer: usize) -> Vec<(usize, f64)> {
        let mesh = &self.body.mesh;
        let thickness = self.wall.layers[layer].thickness_m;
        let mut x = 0.0;
        let mut nodes = vec![(mesh.films[layer].1, 0.0)];
        for i in mesh.cells[layer].clone() {
            let width = mesh.width_m(i);
            nodes.push((i, (x + 0.5 * width) / thickness));
            x += width;
        }
        nodes.push((mesh.films[layer + 1].0, 1.0));
        nodes
    }

    /// Begins anew from states that were set: tallies go back to nothing.
    fn settle(&mut self) {
        self.refresh();
        self.crossed = Crossing::default();
        self.effort = Effort::default();
    }

    /// Recomputes contents after states were set; the history of rates no longer holds.
    fn refresh(&mut self) {
        for i in 0..self.now.states.len() {
            let [t, u] = self.now.states[i];
            let s = &mut self.system.states[i];
            self.body.evaluate(i, t, u, self.options.freezing, s);
            self.now.masses[i] = s.mass;
            self.now.energies[i] = energy(self.body.capacity[i], s);
        }
        self.now.rates = None;
        self.next_step_s = self.options.first_step_s;
    }

    /// Runs on for this long, calling `watch` at the end of every period of the drive (and at the end of the run).
    ///
    /// # Errors
    /// A drive that does not fit, or a step that found no solution: with its time and place.
    pub fn run(
        &mut self,
        drive: &Drive,
        duration_s: f64,
        mut watch: impl FnMut(&Self),
    ) -> Result<(), Vec<MoistureError>> {
        drive.check(&self.wall)?;
        within("run", "duration in s", duration_s, 0.0, 1e12).map_err(|e| vec![e])?;
        let end = self.time_s + duration_s;
        let mut exchanges: Vec<(usize, Side, f64)> = self.exchanges.iter().map(|e| (e.0, e.1, 0.0)).collect();
        // Counting periods instead of dividing time keeps rounding from visiting one twice.
        let mut index = (self.time_s / drive.period_s + 1e-9) as u64;
        while self.time_s < end - 1e-6 {
            let period = drive.period_at(index);
            for (slot, flows) in exchanges.iter_mut().zip(&drive.exchange_kg_m2s) {
                slot.2 = flows[period];
            }
            let stop = ((index + 1) as f64 * drive.period_s).min(end);
            while self.time_s < stop - 1e-6 {
                self.advance(drive, period, &exchanges, stop).map_err(|e| vec![e])?;
            }
            self.time_s = stop;
            index += 1;
            watch(self);
        }
        Ok(())
    }

    /// Takes one step of at most what is left to `stop`.
    fn advance(
        &mut self,
        drive: &Drive,
        period: usize,
        exchanges: &[(usize, Side, f64)],
        stop: f64,
    ) -> Result<(), MoistureError> {
        let left = stop - self.time_s;
        let wanted = self.next_step_s.min(self.options.longest_step_s);
        // Two even steps rather than a long one and a crumb.
        let mut step_s = if wanted >= left {
            left
        } else if wanted > 0.5 * left {
            0.5 * left
        } else {
            wanted
        };
        loop {
            if self.effort.steps + self.effort.rejected >= self.options.most_steps {
                let steps = self.effort.steps + self.effort.rejected;
                return Err(MoistureError::TooManySteps { hour: self.time_s / 3600.0, steps });
            }
            let forcing = Forcing {
                step_s,
                inside: &drive.inside[period],
                outside: &drive.outside[period],
                exchanges,
                through_kg_m2s: drive.through_kg_m2s.get(period).copied().unwrap_or(0.0),
                rain: &self.rain,
                freezing: self.options.freezing,
            };
            let attempt =
                attempt(&self.body, &mut self.system, &mut self.guess, &mut self.before, &self.now, &forcing);
            match attempt {
                Attempt::Done { crossing, iterations, water, heat } => {
                    self.effort.iterations += u64::from(iterations);
                    let error = self.step_error(step_s);
                    if error > 1.0 && step_s > 20.0 * self.options.shortest_step_s {
                        self.effort.rejected += 1;
                        step_s *= (0.8 / error.sqrt()).clamp(0.2, 0.7);
                        continue;
                    }
                    self.accept(step_s, &crossing, water, heat);
                    let hard = if iterations > 7 { 0.7 } else { 2.5 };
                    self.next_step_s = step_s * (0.8 / error.max(1e-6).sqrt()).clamp(0.4, hard);
                    return Ok(());
                }
                Attempt::Failed { iterations, node, residual } => {
                    self.effort.iterations += u64::from(iterations);
                    self.effort.rejected += 1;
                    if step_s <= self.options.shortest_step_s {
                        return Err(MoistureError::NoConvergence {
                            hour: self.time_s / 3600.0,
                            place: self.wall.name(self.body.mesh.place(node)),
                            residual_kg_m2: residual[1],
                            residual_j_m2: residual[0],
                            iterations,
                            step_s,
                        });
                    }
                    step_s = (0.25 * step_s).max(self.options.shortest_step_s);
                }
            }
        }
    }

    /// Estimates the error of the step just solved in units of the tolerance: backward Euler misses h²/2 of the second
    /// derivative, and the last step's rates say how far that is.
    fn step_error(&self, step_s: f64) -> f64 {
        let Some((last_s, rates)) = &self.now.rates else { return 0.5 };
        let share = step_s / (step_s + last_s);
        let (mut worst, mut water) = (0.0_f64, 0.0);
        for i in 0..self.now.states.len() {
            if matches!(self.body.mesh.nodes[i], NodeKind::Film { .. }) {
                // A face follows its surroundings at once: its jumps are no error.
                continue;
            }
            let s = &self.system.states[i];
            worst = worst.max((s.t - self.now.states[i][0] - step_s * rates[i][0]).abs());
            water += (s.mass - self.now.masses[i] - step_s * rates[i][1]).abs();
        }
        // Half: what one node gains another has lost.
        let water = 0.5 * share * water / self.options.water_tolerance_kg_m2;
        (share * worst / self.options.temperature_tolerance_k).max(water)
    }

    fn accept(&mut self, step_s: f64, crossing: &Crossing, water: f64, heat: f64) {
        let n = self.now.states.len();
        let (_, mut rates) = self.now.rates.take().unwrap_or_else(|| (0.0, vec![[0.0; 3]; n]));
        for i in 0..n {
            let s = &self.system.states[i];
            let was = self.now.states[i];
            rates[i] =
                [(s.t - was[0]) / step_s, (s.mass - self.now.masses[i]) / step_s, (s.u - was[1]) / step_s];
            self.now.states[i] = [s.t, s.u];
            self.now.masses[i] = s.mass;
            self.now.energies[i] = energy(self.body.capacity[i], s);
        }
        self.now.rates = Some((step_s, rates));
        self.time_s += step_s;
        self.crossed.add(crossing);
        self.effort.steps += 1;
        self.effort.worst_water = self.effort.worst_water.max(water);
        self.effort.worst_heat = self.effort.worst_heat.max(heat);
    }

    /// Time since the start, s.
    pub fn time_s(&self) -> f64 {
        self.time_s
    }

    /// The wall.
    pub fn wall(&self) -> &Wall {
        &self.wall
    }

    /// Counts and closures so far.
    pub fn effort(&self) -> Effort {
        self.effort
    }

    /// Water and heat that have crossed the wall's bounds so far.
    pub fn crossed(&self) -> Crossing {
        self.crossed
    }

    /// Number of cells, films not counted.
    pub fn cell_count(&self) -> usize {
        self.body.mesh.cells.iter().map(ExactSizeIterator::len).sum()
    }

    /// Water in a layer, kg/m²; its films count to the interfaces.
    pub fn layer_water_kg_m2(&self, layer: usize) -> f64 {
        self.body.mesh.cells[layer].clone().map(|i| self.now.masses[i]).sum()
    }

    /// Water in the whole wall, films included, kg/m².
    pub fn water_kg_m2(&self) -> f64 {
        numeric::sum::pairwise(&self.now.masses)
    }

    /// Heat in the whole wall, counted from 0 °C, J/m².
    pub fn heat_j_m2(&self) -> f64 {
        numeric::sum::pairwise(&self.now.energies)
    }

    /// Ice in a layer, kg/m².
    pub fn layer_ice_kg_m2(&self, layer: usize) -> f64 {
        self.body.mesh.cells[layer].clone().map(|i| self.system.states[i].ice).sum()
    }

    /// State of an interface: its outer side where a sheet or gap splits it.
    pub fn interface(&self, interface: usize) -> FaceState {
        self.face(self.body.mesh.films[interface].1)
    }

    /// State of an interface's inner side.
    pub fn interface_inner(&self, interface: usize) -> FaceState {
        self.face(self.body.mesh.films[interface].0)
    }

    fn face(&self, node: usize) -> FaceState {
        let s = &self.system.states[node];
        FaceState { temperature_c: s.t, humidity: s.humidity, film_kg_m2: balance::film_kg_m2(s.u) }
    }

    /// Cells of a layer, inside to outside: (middle from the layer's inner face m, temperature °C, relative humidity,
    /// water kg/m³).
    pub fn profile(&self, layer: usize) -> Vec<[f64; 4]> {
        let mut x = 0.0;
        self.body.mesh.cells[layer]
            .clone()
            .filter_map(|i| {
                let NodeKind::Cell { width_m, .. } = self.body.mesh.nodes[i] else { return None };
                let s = &self.system.states[i];
                x += width_m;
                Some([x - 0.5 * width_m, s.t, s.humidity, s.mass / width_m])
            })
            .collect()
    }

    /// Water content of node i, kg/m³ (0 for a film).
    fn water_at(&self, i: usize) -> f64 {
        match self.body.mesh.nodes[i] {
            NodeKind::Cell { width_m, .. } => self.now.masses[i] / width_m,
            NodeKind::Film { .. } => 0.0,
        }
    }
}

impl Options {
    fn check(&self) -> Result<(), Vec<MoistureError>> {
        let mut found = Vec::new();
        let mut check =
            |quantity, value, low, high| found.extend(within("options", quantity, value, low, high).err());
        check("temperature tolerance in K", self.temperature_tolerance_k, 1e-12, 100.0);
        check("water tolerance in kg/m²", self.water_tolerance_kg_m2, 1e-15, 100.0);
        check("longest step in s", self.longest_step_s, 1e-6, 1e13);
        check("first step in s", self.first_step_s, 1e-9, 1e9);
        check("shortest step in s", self.shortest_step_s, 1e-12, self.longest_step_s);
        if let Diffusion::Schirmer { pressure_pa } = self.diffusion {
            check("air pressure in Pa", pressure_pa, 3e4, 1.2e5);
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }
}

/// Solves one step by damped Newton from the last state; leaves the solution in `system.states`.
fn attempt(
    body: &Body,
    system: &mut System,
    guess: &mut [[f64; 2]],
    before: &mut [[f64; 2]],
    now: &Present,
    forcing: &Forcing<'_>,
) -> Attempt {
    let n = now.states.len();
    let (mut water_scale, mut heat_scale) = (1e-3, 0.0);
    let mut capacity = 0.0;
    for i in 0..n {
        before[i] = [now.energies[i], now.masses[i]];
        water_scale += now.masses[i];
        heat_scale += now.energies[i].abs();
        capacity += body.capacity[i];
        guess[i] = now.states[i];
        if let Some((_, rates)) = &now.rates {
            // Temperatures are taken to go on as they did, within a kelvin; potentials stay.
            guess[i][0] += (rates[i][0] * forcing.step_s).clamp(-1.0, 1.0);
            guess[i][1] += (rates[i][2] * forcing.step_s).clamp(-0.05, 0.05);
        }
    }
    let heat_scale = heat_scale.max(10.0 * capacity);
    body.block(system, &now.states, forcing.freezing);
    let mut worst = (0, [0.0; 2]);
    for iteration in 0..=MOST_ITERATIONS {
        for i in 0..n {
            body.evaluate(i, guess[i][0], guess[i][1], forcing.freezing, &mut system.states[i]);
        }
        let crossing = body.assemble(system, before, forcing);
        let (mut water, mut heat, mut worst_share) = (0.0, 0.0, 0.0);
        let mut finite = true;
        for (i, r) in system.residual.iter().enumerate() {
            let shares = [r[0].abs() / heat_scale, r[1].abs() / water_scale];
            heat += shares[0];
            water += shares[1];
            finite &= shares[0].is_finite() && shares[1].is_finite();
            if shares[0].max(shares[1]) > worst_share {
                worst_share = shares[0].max(shares[1]);
                worst = (i, *r);
            }
        }
        // What five iterations leave is rounding: good enough where it keeps the promised closure.
        let enough = if iteration < 5 { CLOSURE } else { PROMISED_CLOSURE };
        if finite && heat <= enough && water <= enough {
            return Attempt::Done { crossing, iterations: iteration, water, heat };
        }
        if !finite || iteration == MOST_ITERATIONS {
            break;
        }
        for r in &mut system.residual {
            *r = [-r[0], -r[1]];
        }
        let solved = numeric::block_tridiagonal::solve(
            &system.lower,
            &mut system.diagonal,
            &mut system.upper,
            &mut system.residual,
        );
        if solved.is_err() {
            break;
        }
        for (x, d) in guess.iter_mut().zip(&system.residual) {
            update(x, d, forcing.freezing);
        }
    }
    Attempt::Failed { iterations: MOST_ITERATIONS, node: worst.0, residual: worst.1 }
}

/// State at a place, straight between the nodes around it.
fn between(nodes: &[(usize, f64)], states: &[[f64; 2]], x: f64) -> [f64; 2] {
    let k = nodes.partition_point(|n| n.1 <= x).clamp(1, nodes.len() - 1);
    let ((a, x_a), (b, x_b)) = (nodes[k - 1], nodes[k]);
    let share = if x_b > x_a { ((x - x_a) / (x_b - x_a)).clamp(0.0, 1.0) } else { 0.0 };
    std::array::from_fn(|i| states[a][i] + share * (states[b][i] - states[a][i]))
}

/// Adds a Newton correction, held back where the functions bend: at most 15 K, two units of potential, and never
/// far across saturation, where a film or full pores change the slope, nor across the brink of freezing, where the heat
/// content falls steeply at first and ever less steeply further down: from the steep side Newton's method comes down
/// without turning back.
fn update(x: &mut [f64; 2], d: &[f64; 2], freezing: bool) {
    const BRINK_C: f64 = -balance::FREE_WATER_RANGE_K;
    let t = (x[0] + d[0].clamp(-15.0, 15.0)).clamp(-75.0, 165.0);
    x[0] = if freezing && x[0] > 0.0 && t < 0.0 {
        t.max(0.5 * BRINK_C)
    } else if freezing && x[0] > BRINK_C && t < BRINK_C {
        t.max(BRINK_C - 0.002)
    } else if freezing && x[0] < BRINK_C && t > BRINK_C {
        0.5 * BRINK_C
    } else {
        t
    };
    let u = x[1] + d[1].clamp(-2.0, 2.0);
    x[1] = if x[1] < 0.0 && u > 0.0 {
        u.min(0.02)
    } else if x[1] > 0.0 && u < 0.0 {
        u.max(-0.02)
    } else {
        u
    }
    .max(crate::material::curve::DRIEST);
}

#[cfg(test)]
mod tests;
