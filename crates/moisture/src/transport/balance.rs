//! The balances of one step: residuals of heat and water in every node, and their derivatives.
//!
//! Unknowns of a node are temperature and moisture potential, in that order; its equations are heat and water, in that
//! order, per square metre of wall and step. Enthalpy is counted from liquid water at 0 °C:
//!
//! ```text
//! d/dt (C T + c_w m T − h_f m_ice) = −Δ(q + c_w T g_l + (h₀ + c_v T) g_v),   d m/dt = −Δ(g_l + g_v)
//! ```
//! T of a flow is that of the node it leaves, so both balances close to rounding whatever the fluxes are.

use super::mesh::{Link, Mesh, NodeKind};
use crate::drive::SideState;
use crate::material::curve::{DRIEST, POTENTIAL_SCALE_PA, potential, suction_pa};
use crate::material::{AIR_PERMEABILITY_KG_MSPA, Material, WATER_HEAT_J_KGK, kelvin_scale_pa};
use crate::vapour::Air;
use crate::wall::Side;
use matter::moist_air::{
    ABSOLUTE_ZERO_C, EVAPORATION_HEAT_0C_J_KG, MOLAR_MASS_RATIO, SPECIFIC_HEAT_DRY_AIR_J_KGK,
    SPECIFIC_HEAT_VAPOUR_J_KGK, STANDARD_PRESSURE_PA,
};
use numeric::block_tridiagonal::Block;
use std::sync::Arc;

/// Heat of melting, J/kg.
const MELTING_HEAT_J_KG: f64 = 333_600.0;
/// Suction of pore water that just freezes, Pa a kelvin below 0 °C: ρ_w h_f / 273.15 K (Clapeyron).
const FREEZING_SUCTION_PA_K: f64 = 1000.0 * MELTING_HEAT_J_KG / 273.15;
/// Range in which water under no suction freezes, K: a jump would have no slope for Newton's method.
pub(crate) const FREE_WATER_RANGE_K: f64 = 0.1;
/// Film at which a drained face begins to run, kg/m²: what clings to it (judgement).
pub(crate) const CLINGING_FILM_KG_M2: f64 = 0.02;
/// Time in which what exceeds it runs away, s.
const RUNNING_TIME_S: f64 = 60.0;
/// Water a film holds a unit of potential, kg/m².
const FILM_SLOPE_KG_M2: f64 = CLINGING_FILM_KG_M2;
/// Water a dry face holds a unit of potential, kg/m²: its skin. Twelve milligrams from driest to wet, so that short
/// steps have something to hold on to; without it a face has spurious states that no step length cures.
const SKIN_SLOPE_KG_M2: f64 = 1e-6;
/// Heat capacity of that skin, J/(m²·K): about a tenth of a millimetre of brick.
pub(crate) const SKIN_CAPACITY_J_M2K: f64 = 200.0;
/// Water vapour carried by dry air a pascal of vapour pressure, kg/(kg·Pa): W ≈ 0.622 p_v/p, linear, 3 % low at 3 kPa.
const CARRIED: f64 = MOLAR_MASS_RATIO / STANDARD_PRESSURE_PA;

/// What acts during one step.
pub(crate) struct Forcing<'a> {
    pub step_s: f64,
    pub inside: &'a SideState,
    pub outside: &'a SideState,
    /// (node, source side, flow kg/(m²·s)).
    pub exchanges: &'a [(usize, Side, f64)],
    pub through_kg_m2s: f64,
    /// (node, share).
    pub rain: &'a [(usize, f64)],
    pub freezing: bool,
}

/// Water and heat that crossed the bounds of the wall in a step, kg/m² and J/m², inward positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Crossing {
    /// Vapour through the inside face.
    pub inside_vapour_kg_m2: f64,
    /// Vapour through the outside face.
    pub outside_vapour_kg_m2: f64,
    /// Rain taken in, run-off already taken away.
    pub rain_kg_m2: f64,
    /// Vapour brought (or taken, negative) by air flows.
    pub air_kg_m2: f64,
    /// Heat through the inside face, enthalpy of vapour included.
    pub inside_heat_j_m2: f64,
    /// Heat through the outside face, enthalpy of vapour and rain included.
    pub outside_heat_j_m2: f64,
    /// Heat brought by air flows.
    pub air_heat_j_m2: f64,
}

impl Crossing {
    /// Returns the water gained, kg/m².
    pub fn water_kg_m2(&self) -> f64 {
        self.inside_vapour_kg_m2 + self.outside_vapour_kg_m2 + self.rain_kg_m2 + self.air_kg_m2
    }

    /// Returns the heat gained, J/m².
    pub fn heat_j_m2(&self) -> f64 {
        self.inside_heat_j_m2 + self.outside_heat_j_m2 + self.air_heat_j_m2
    }

    pub(crate) fn add(&mut self, o: &Self) {
        self.inside_vapour_kg_m2 += o.inside_vapour_kg_m2;
        self.outside_vapour_kg_m2 += o.outside_vapour_kg_m2;
        self.rain_kg_m2 += o.rain_kg_m2;
        self.air_kg_m2 += o.air_kg_m2;
        self.inside_heat_j_m2 += o.inside_heat_j_m2;
        self.outside_heat_j_m2 += o.outside_heat_j_m2;
        self.air_heat_j_m2 += o.air_heat_j_m2;
    }
}

/// State and material functions of one node.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct NodeState {
    pub t: f64,
    pub u: f64,
    pub humidity: f64,
    /// Vapour pressure and its slopes by temperature and potential.
    pub pv: f64,
    pv_t: f64,
    pv_u: f64,
    /// Water held, kg/m², and its slope.
    pub mass: f64,
    mass_u: f64,
    /// Of that, frozen, and its slopes.
    pub ice: f64,
    ice_t: f64,
    ice_u: f64,
    /// Liquid flux potential and its slope.
    liquid: f64,
    liquid_u: f64,
    /// Share of liquid transport left by ice.
    thaw: f64,
    /// Vapour permeability and its slopes.
    perm: f64,
    perm_t: f64,
    perm_u: f64,
    /// Conductivity and its slope.
    conductivity: f64,
    conductivity_u: f64,
}

/// Everything that does not change during a run.
pub(crate) struct Body {
    pub mesh: Mesh,
    pub materials: Vec<Arc<Material>>,
    pub air: Air,
    /// Dry heat capacity of each node, J/(m²·K).
    pub capacity: Vec<f64>,
}

/// Work space of a step.
pub(crate) struct System {
    pub states: Vec<NodeState>,
    pub lower: Vec<Block<2>>,
    pub diagonal: Vec<Block<2>>,
    pub upper: Vec<Block<2>>,
    pub residual: Vec<[f64; 2]>,
}

impl System {
    pub fn new(n: usize) -> Self {
        Self {
            states: vec![NodeState::default(); n],
            lower: vec![[[0.0; 2]; 2]; n],
            diagonal: vec![[[0.0; 2]; 2]; n],
            upper: vec![[[0.0; 2]; 2]; n],
            residual: vec![[0.0; 2]; n],
        }
    }
}

impl Body {
    /// Evaluates the state of node i.
    #[inline(always)]
    pub fn evaluate(&self, i: usize, t: f64, u: f64, freezing: bool, s: &mut NodeState) {
        let air = self.air.at(t);
        let (suction, slope) = if u < 0.0 { suction_pa(u) } else { (0.0, 0.0) };
        let scale = kelvin_scale_pa(t);
        let humidity = if u < 0.0 { numeric::exp(-suction / scale) } else { 1.0 };
        let pv = humidity * air.saturation;
        (s.t, s.u, s.humidity, s.pv) = (t, u, humidity, pv);
        s.pv_t = humidity * air.saturation_slope + pv * suction / (scale * (t - ABSOLUTE_ZERO_C));
        s.pv_u = -pv * slope / scale;
        (s.ice, s.ice_t, s.ice_u) = (0.0, 0.0, 0.0);
        match self.mesh.nodes[i] {
            NodeKind::Film { .. } => {
                s.mass_u = if u > 0.0 { FILM_SLOPE_KG_M2 } else { SKIN_SLOPE_KG_M2 };
                s.mass = film_kg_m2(u) + SKIN_SLOPE_KG_M2 * (u.min(0.0) - DRIEST);
            }
            NodeKind::Cell { layer, width_m } => {
                let m = &*self.materials[layer];
                let p = m.curves.at(u);
                s.mass = p.water * width_m;
                s.mass_u = p.water_slope * width_m;
                s.liquid = p.liquid;
                s.liquid_u = p.liquid_slope;
                s.perm = air.permeability * p.openness;
                s.perm_t = air.permeability_slope * p.openness;
                s.perm_u = air.permeability * p.openness_slope;
                s.conductivity = m.conductivity_w_mk + m.conductivity_rise * p.water;
                s.conductivity_u = m.conductivity_rise * p.water_slope;
                if freezing && t < 0.0 {
                    freeze(m, width_m, s);
                }
            }
        }
    }

    /// Sets how far ice blocks each cell, from the states at the beginning of a step: held through it, because the block
    /// closes within a fraction of a kelvin and would otherwise toggle from one iteration to the next.
    pub fn block(&self, system: &mut System, states: &[[f64; 2]], freezing: bool) {
        for (i, kind) in self.mesh.nodes.iter().enumerate() {
            system.states[i].thaw = match *kind {
                NodeKind::Cell { layer, .. } if freezing => {
                    thawed_share(&self.materials[layer], states[i][0], states[i][1])
                }
                _ => 1.0,
            };
        }
    }

    /// Fills residuals and derivatives at the states of `system`; returns what crossed the bounds.
    pub fn assemble(&self, system: &mut System, before: &[[f64; 2]], f: &Forcing<'_>) -> Crossing {
        let n = self.mesh.nodes.len();
        let dt = f.step_s;
        for i in 0..n {
            let s = &system.states[i];
            let energy = energy(self.capacity[i], s);
            system.residual[i] = [energy - before[i][0], s.mass - before[i][1]];
            let heat_t = self.capacity[i] + WATER_HEAT_J_KGK * s.mass - MELTING_HEAT_J_KG * s.ice_t;
            let heat_u = WATER_HEAT_J_KGK * s.t * s.mass_u - MELTING_HEAT_J_KG * s.ice_u;
            system.diagonal[i] = [[heat_t, heat_u], [0.0, s.mass_u]];
            system.lower[i] = [[0.0; 2]; 2];
            system.upper[i] = [[0.0; 2]; 2];
        }
        for (i, link) in self.mesh.links.iter().enumerate() {
            let flow = self.flow(link, &system.states[i], &system.states[i + 1], f);
            for r in 0..2 {
                system.residual[i][r] += dt * flow.value[r];
                system.residual[i + 1][r] -= dt * flow.value[r];
                for c in 0..2 {
                    let (l, g) = (dt * flow.by_left[r][c], dt * flow.by_right[r][c]);
                    system.diagonal[i][r][c] += l;
                    system.upper[i][r][c] += g;
                    system.lower[i + 1][r][c] -= l;
                    system.diagonal[i + 1][r][c] -= g;
                }
            }
        }
        self.bounds(system, f)
    }

    /// Flows at the faces, by air exchange, rain and run-off.
    fn bounds(&self, system: &mut System, f: &Forcing<'_>) -> Crossing {
        let (dt, last) = (f.step_s, self.mesh.nodes.len() - 1);
        let mut crossing = Crossing::default();
        let through = f.through_kg_m2s;
        for (node, side, flow) in [(0, f.inside, through), (last, f.outside, -through)] {
            let s = system.states[node];
            let film = side.heat_film_w_m2k + side.radiant_film_w_m2k;
            let heat = side.heat_film_w_m2k * (side.air_temperature_c - s.t)
                + side.radiant_film_w_m2k * (side.radiant_temperature_c - s.t)
                + side.absorbed_w_m2;
            let mut inflow = Inflow { heat, heat_t: -film, ..Inflow::default() };
            let vapour = Carried {
                flow: side.vapour_film_kg_m2spa * (side.vapour_pressure_pa - s.pv),
                by_t: -side.vapour_film_kg_m2spa * s.pv_t,
                by_u: -side.vapour_film_kg_m2spa * s.pv_u,
            };
            inflow.vapour(vapour, side.air_temperature_c, s.t);
            let (water, warmth) = (inflow.water, inflow.heat);
            if node == 0 {
                (crossing.inside_vapour_kg_m2, crossing.inside_heat_j_m2) = (water * dt, warmth * dt);
            } else {
                (crossing.outside_vapour_kg_m2, crossing.outside_heat_j_m2) = (water * dt, warmth * dt);
            }
            if flow != 0.0 {
                let mut brought = Inflow::default();
                brought.air(flow, side, &s);
                crossing.air_kg_m2 += brought.water * dt;
                crossing.air_heat_j_m2 += brought.heat * dt;
                inflow.add(&brought);
            }
            system.take(node, &inflow, dt);
        }
        for &(node, from, flow) in f.exchanges {
            if flow == 0.0 {
                continue;
            }
            let s = system.states[node];
            let side = match from {
                Side::Inside => f.inside,
                Side::Outside => f.outside,
            };
            // In at the state of its source, out at that of the place.
            let mut inflow = Inflow::default();
            inflow.air(flow, side, &s);
            inflow.air(-flow, side, &s);
            crossing.air_kg_m2 += inflow.water * dt;
            crossing.air_heat_j_m2 += inflow.heat * dt;
            system.take(node, &inflow, dt);
        }
        if f.outside.rain_kg_m2s > 0.0 {
            for &(node, share) in f.rain {
                let water = share * f.outside.rain_kg_m2s;
                let heat = water * WATER_HEAT_J_KGK * f.outside.air_temperature_c;
                crossing.rain_kg_m2 += water * dt;
                crossing.outside_heat_j_m2 += heat * dt;
                system.take(node, &Inflow { water, heat, ..Inflow::default() }, dt);
            }
        }
        for (node, kind) in self.mesh.nodes.iter().enumerate() {
            let s = system.states[node];
            if matches!(kind, NodeKind::Film { drained: true, .. }) && s.mass > CLINGING_FILM_KG_M2 {
                let rate = (s.mass - CLINGING_FILM_KG_M2) / RUNNING_TIME_S;
                let slope = s.mass_u / RUNNING_TIME_S;
                let heat = WATER_HEAT_J_KGK * s.t;
                let out = Inflow {
                    water: -rate,
                    water_u: -slope,
                    heat: -rate * heat,
                    heat_t: -rate * WATER_HEAT_J_KGK,
                    heat_u: -slope * heat,
                    water_t: 0.0,
                };
                crossing.rain_kg_m2 -= rate * dt;
                crossing.outside_heat_j_m2 -= rate * heat * dt;
                system.take(node, &out, dt);
            }
        }
        crossing
    }

    /// Heat and water flowing from a node to the next.
    #[inline(always)]
    fn flow(&self, link: &Link, a: &NodeState, b: &NodeState, f: &Forcing<'_>) -> Flow {
        let mut out = Flow::default();
        // Vapour conductance with its slopes, heat conductance with its slopes, liquid flow.
        let (g, g_a, g_b, h, h_a, h_b, liquid);
        match *link {
            Link::Solid { layer, left_m, right_m } => {
                let m = &*self.materials[layer];
                let series = |x_a: f64, k_a: f64, x_b: f64, k_b: f64| {
                    if x_a == 0.0 {
                        (k_b / x_b, 0.0, 1.0 / x_b)
                    } else if x_b == 0.0 {
                        (k_a / x_a, 1.0 / x_a, 0.0)
                    } else {
                        let d = 1.0 / (x_a * k_b + x_b * k_a);
                        (k_a * k_b * d, x_a * k_b * k_b * d * d, x_b * k_a * k_a * d * d)
                    }
                };
                let (c, by_a, by_b) = series(left_m, a.perm, right_m, b.perm);
                (g, g_a, g_b) = (c, [by_a * a.perm_t, by_a * a.perm_u], [by_b * b.perm_t, by_b * b.perm_u]);
                let (c, by_a, by_b) = series(left_m, a.conductivity, right_m, b.conductivity);
                (h, h_a, h_b) = (c, by_a * a.conductivity_u, by_b * b.conductivity_u);
                liquid = if m.capillary {
                    // A film sees this layer through its own material; standing water exerts no suction.
                    let of_film = |s: &NodeState| {
                        let (value, slope) = m.curves.liquid(s.u.min(0.0));
                        (value, if s.u > 0.0 { 0.0 } else { slope })
                    };
                    let (la, la_u) = if left_m == 0.0 { of_film(a) } else { (a.liquid, a.liquid_u) };
                    let (lb, lb_u) = if right_m == 0.0 { of_film(b) } else { (b.liquid, b.liquid_u) };
                    let share = if f.outside.rain_kg_m2s > 0.0 { 1.0 } else { m.redistribution };
                    let c = share * a.thaw.min(b.thaw) / (left_m + right_m);
                    Some((c * (la - lb), c * la_u, -c * lb_u))
                } else {
                    None
                };
            }
            Link::Break { conductance_w_m2k, ref sheet } => {
                // The air layer of a sheet is a resistance by convention at 2e-10; only its humidity changes it.
                let humidity = 0.5 * (a.humidity + b.humidity);
                let at = |h: f64| AIR_PERMEABILITY_KG_MSPA / sheet.at(h);
                g = at(humidity);
                // Half of dg/dφ · dφ/du each side; the much weaker dφ/dT is left to the iteration.
                let slope = if sheet.air_layer_m.len() > 1 {
                    (at(humidity + 1e-5) - at(humidity - 1e-5)) / 2e-5
                } else {
                    0.0
                };
                let by = |s: &NodeState| {
                    [0.0, if s.pv > 0.0 { 0.5 * slope * s.pv_u * s.humidity / s.pv } else { 0.0 }]
                };
                (g_a, g_b) = (by(a), by(b));
                (h, h_a, h_b) = (conductance_w_m2k, 0.0, 0.0);
                liquid = None;
            }
        }
        let drop = a.t - b.t;
        out.value[0] = h * drop;
        out.by_left[0] = [h, h_a * drop];
        out.by_right[0] = [-h, h_b * drop];
        let dp = a.pv - b.pv;
        out.vapour(
            g * dp,
            [g * a.pv_t + g_a[0] * dp, g * a.pv_u + g_a[1] * dp],
            [-g * b.pv_t + g_b[0] * dp, -g * b.pv_u + g_b[1] * dp],
            a.t,
            b.t,
        );
        if let Some((flow, by_a, by_b)) = liquid {
            out.liquid(flow, by_a, by_b, a.t, b.t);
        }
        if f.through_kg_m2s != 0.0 {
            out.air(f.through_kg_m2s, a, b);
        }
        out
    }
}

/// Returns the liquid standing on a face of this potential, kg/m².
pub(crate) fn film_kg_m2(u: f64) -> f64 {
    FILM_SLOPE_KG_M2 * u.max(0.0)
}

/// Enthalpy of a node, J/m².
pub(crate) fn energy(capacity: f64, s: &NodeState) -> f64 {
    (capacity + WATER_HEAT_J_KGK * s.mass) * s.t - MELTING_HEAT_J_KG * s.ice
}

/// Freezes what the temperature allows: first what stands free above saturation, over a tenth of a kelvin, then pore
/// water whose suction is below that of pore water in balance with ice.
fn freeze(m: &Material, width_m: f64, s: &mut NodeState) {
    if s.t > -FREE_WATER_RANGE_K {
        let free = s.mass - m.saturation_kg_m3 * width_m;
        if free > 0.0 {
            let share = -s.t / FREE_WATER_RANGE_K;
            s.ice = share * free;
            s.ice_u = share * s.mass_u;
            s.ice_t = -free / FREE_WATER_RANGE_K;
        }
        return;
    }
    let below = -FREE_WATER_RANGE_K - s.t;
    let limit = potential(FREEZING_SUCTION_PA_K * below);
    if s.u <= limit {
        return;
    }
    let unfrozen = m.curves.at(limit);
    // du/dT of the limit: u = −ln(1 + k(−T)/p₀).
    let limit_t = FREEZING_SUCTION_PA_K / (POTENTIAL_SCALE_PA + FREEZING_SUCTION_PA_K * below);
    s.ice = s.mass - unfrozen.water * width_m;
    s.ice_u = s.mass_u;
    s.ice_t = -unfrozen.water_slope * width_m * limit_t;
}

/// Share of a material's liquid transport that ice leaves: the conductivity of the pores still liquid over that of all.
fn thawed_share(m: &Material, t: f64, u: f64) -> f64 {
    let limit = potential(FREEZING_SUCTION_PA_K * (-FREE_WATER_RANGE_K - t).max(0.0));
    if t >= 0.0 || u <= limit {
        return 1.0;
    }
    // Slopes of the flux potential are K dp/du, so the slopes of suction divide out.
    let conductivity = |u: f64| m.curves.at(u).liquid_slope / -suction_pa(u).1;
    let here = conductivity(u);
    if here > 0.0 { (conductivity(limit) / here).min(1.0) } else { 1.0 }
}

/// Heat and water from one node to the next, with derivatives by [temperature, potential] of both.
#[derive(Default)]
struct Flow {
    value: [f64; 2],
    by_left: [[f64; 2]; 2],
    by_right: [[f64; 2]; 2],
}

impl Flow {
    #[inline(always)]
    fn vapour(&mut self, g: f64, by_a: [f64; 2], by_b: [f64; 2], t_a: f64, t_b: f64) {
        let t = if g > 0.0 { t_a } else { t_b };
        let h = EVAPORATION_HEAT_0C_J_KG + SPECIFIC_HEAT_VAPOUR_J_KGK * t;
        self.value[0] += g * h;
        self.value[1] += g;
        for c in 0..2 {
            self.by_left[0][c] += by_a[c] * h;
            self.by_left[1][c] += by_a[c];
            self.by_right[0][c] += by_b[c] * h;
            self.by_right[1][c] += by_b[c];
        }
        self.carry(g, SPECIFIC_HEAT_VAPOUR_J_KGK);
    }

    #[inline(always)]
    fn liquid(&mut self, g: f64, by_a: f64, by_b: f64, t_a: f64, t_b: f64) {
        let h = WATER_HEAT_J_KGK * if g > 0.0 { t_a } else { t_b };
        self.value[0] += g * h;
        self.value[1] += g;
        self.by_left[0][1] += by_a * h;
        self.by_left[1][1] += by_a;
        self.by_right[0][1] += by_b * h;
        self.by_right[1][1] += by_b;
        self.carry(g, WATER_HEAT_J_KGK);
    }

    #[inline(always)]
    fn carry(&mut self, g: f64, heat: f64) {
        if g > 0.0 {
            self.by_left[0][0] += g * heat;
        } else {
            self.by_right[0][0] += g * heat;
        }
    }

    fn air(&mut self, flow: f64, a: &NodeState, b: &NodeState) {
        let up = if flow > 0.0 { a } else { b };
        let (water, heat, by) = carried_by_air(flow, up.t, up.pv, up.pv_t, up.pv_u);
        self.value[0] += heat;
        self.value[1] += water;
        let side = if flow > 0.0 { &mut self.by_left } else { &mut self.by_right };
        for r in 0..2 {
            for c in 0..2 {
                side[r][c] += by[r][c];
            }
        }
    }
}

/// Water and heat an air flow carries, and their derivatives by the temperature and potential of where it comes from.
fn carried_by_air(flow: f64, t: f64, pv: f64, pv_t: f64, pv_u: f64) -> (f64, f64, [[f64; 2]; 2]) {
    let water = flow * CARRIED * pv;
    let enthalpy = EVAPORATION_HEAT_0C_J_KG + SPECIFIC_HEAT_VAPOUR_J_KGK * t;
    let (w_t, w_u) = (flow * CARRIED * pv_t, flow * CARRIED * pv_u);
    let heat = flow * SPECIFIC_HEAT_DRY_AIR_J_KGK * t + water * enthalpy;
    let heat_t = flow * SPECIFIC_HEAT_DRY_AIR_J_KGK + w_t * enthalpy + water * SPECIFIC_HEAT_VAPOUR_J_KGK;
    (water, heat, [[heat_t, w_u * enthalpy], [w_t, w_u]])
}

struct Carried {
    flow: f64,
    by_t: f64,
    by_u: f64,
}

/// Heat and water into a node from beyond the wall, with derivatives by the node's own unknowns.
#[derive(Default)]
struct Inflow {
    heat: f64,
    heat_t: f64,
    heat_u: f64,
    water: f64,
    water_t: f64,
    water_u: f64,
}

impl Inflow {
    fn vapour(&mut self, v: Carried, t_beyond: f64, t_here: f64) {
        let t = if v.flow > 0.0 { t_beyond } else { t_here };
        let h = EVAPORATION_HEAT_0C_J_KG + SPECIFIC_HEAT_VAPOUR_J_KGK * t;
        self.heat += v.flow * h;
        self.heat_t += v.by_t * h;
        self.heat_u += v.by_u * h;
        if v.flow <= 0.0 {
            self.heat_t += v.flow * SPECIFIC_HEAT_VAPOUR_J_KGK;
        }
        self.water += v.flow;
        self.water_t += v.by_t;
        self.water_u += v.by_u;
    }

    /// Air into the node at the state beyond (positive flow), or out of it at its own.
    fn air(&mut self, flow: f64, beyond: &SideState, s: &NodeState) {
        if flow > 0.0 {
            let (water, heat, _) =
                carried_by_air(flow, beyond.air_temperature_c, beyond.vapour_pressure_pa, 0.0, 0.0);
            self.water += water;
            self.heat += heat;
        } else {
            let (water, heat, by) = carried_by_air(flow, s.t, s.pv, s.pv_t, s.pv_u);
            self.water += water;
            self.heat += heat;
            self.heat_t += by[0][0];
            self.heat_u += by[0][1];
            self.water_t += by[1][0];
            self.water_u += by[1][1];
        }
    }

    fn add(&mut self, o: &Self) {
        self.heat += o.heat;
        self.heat_t += o.heat_t;
        self.heat_u += o.heat_u;
        self.water += o.water;
        self.water_t += o.water_t;
        self.water_u += o.water_u;
    }
}

impl System {
    fn take(&mut self, node: usize, inflow: &Inflow, dt: f64) {
        self.residual[node][0] -= dt * inflow.heat;
        self.residual[node][1] -= dt * inflow.water;
        let d = &mut self.diagonal[node];
        d[0][0] -= dt * inflow.heat_t;
        d[0][1] -= dt * inflow.heat_u;
        d[1][0] -= dt * inflow.water_t;
        d[1][1] -= dt * inflow.water_u;
    }
}
