//! The time loop.

use numeric::exp;

use super::flows::{Flows, LeakRow, ModeFlows, blank};
use super::input::{Drivers, Model, Options, UseState};
use super::lane::F;
use super::prepare::{BLOCK, Behind, Inner, Level, Outer, OuterRow, Prepared, empty};
use super::result::{KernelYear, Trace};
use super::solve::{Bounded, Bounds, Column, Matrix, factor, rows, substitute, times};
use super::tally::{EpochGains, Snapshot, Tally};

/// Stands for "no bound" on a temperature, °C, and on a humidity ratio: finite, so that nothing turns into NaN.
const NO_BOUND_C: f64 = 1e4;
const NO_BOUND_X: f64 = 1e3;
/// Humidity ratio at which a ratio is turned into vapour pressure by one factor, kg/kg: `p = x P / (0.622 + x)`.
/// At 4 and 12 g/kg the factor is off by 0.6 %, which only moves the moisture buffers.
const LINEAR_X: f64 = 0.008;
/// Ratio of the molar masses of water and dry air.
const MASS_RATIO: f64 = 0.622;

/// What the loop reads.
pub(crate) struct Tables<'a, const Z: usize, const L: usize> {
    pub drivers: &'a Drivers,
    pub options: &'a Options,
    pub prepared: &'a Prepared<Z, L>,
    pub modes: &'a [ModeFlows<Z, L>],
    pub leaks: &'a [LeakRow<L>],
    pub models: &'a [&'a Model],
    pub heat_unit: F<L>,
    pub density: F<L>,
    pub bypass_extract: F<L>,
    pub bypass_outdoor: F<L>,
    pub has_bypass: bool,
}

/// An element's faces: temperatures, what remembers the past, what drives them.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
struct FaceState<const L: usize> {
    /// The step's inside face without its zone (of an inner element: both faces), and outside face without the inside.
    free: [F<L>; 2],
    /// Sum of the inside faces over the period.
    sum: [F<L>; 2],
    /// Sun and gains on the faces in zones, W/m².
    gain: [F<L>; 2],
    /// Outside drive beyond the air film, W/m².
    drive: F<L>,
    /// Inside and outside face, °C, and H_i and H_o of the coming step; kept at the end of an epoch only.
    face: [F<L>; 2],
    past: [F<L>; 2],
}

/// States of a block of modes, aligned like the rows it meets.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
struct ModeStates<const L: usize>([F<L>; BLOCK]);

/// What the loop changes.
#[repr(C, align(64))]
struct State<const Z: usize, const L: usize> {
    outer: Vec<FaceState<L>>,
    inner: Vec<FaceState<L>>,
    modes: Vec<ModeStates<L>>,
    air: Column<Z, L>,
    star: Column<Z, L>,
    x: Column<Z, L>,
    co2: Column<Z, L>,
    phi: Vec<F<L>>,
    /// What the faces without their zones bring each air and radiant node this step, W.
    faces_to_air: Column<Z, L>,
    faces_to_star: Column<Z, L>,
    // Of an hour or an epoch:
    flows: Flows<Z, L>,
    sun_to_air: Column<Z, L>,
    sun_to_star: Column<Z, L>,
    /// Heat and vapour of machines that follow the hour.
    machine_heat: Column<Z, L>,
    machine_vapour: Column<Z, L>,
    gains: EpochGains<Z, L>,
    air_heat: Column<Z, L>,
    star_heat: Column<Z, L>,
    outdoor_heat: Column<Z, L>,
    vapour_in: Column<Z, L>,
    vapour_outdoor: Column<Z, L>,
    co2_in: Column<Z, L>,
    co2_lu: Matrix<Z, L>,
    heat_bounds: Bounds<Z, L>,
    /// The heat bounds less what the radiant nodes add by themselves this step.
    step_bounds: Bounds<Z, L>,
    vapour_bounds: Bounds<Z, L>,
    heat: Bounded<Z, L>,
    vapour: Bounded<Z, L>,
    /// Per buffer: conductance after elimination, saturation pressure.
    buffer_conductance: Vec<F<L>>,
    saturation: Column<Z, L>,
    use_state: usize,
    bypassed: F<L>,
    aired: Column<Z, L>,
    power: Column<Z, L>,
    water: Column<Z, L>,
    /// First watched stretch that has not ended.
    watch_from: usize,
}

/// Runs all lanes.
#[inline(always)]
pub(crate) fn run<const Z: usize, const L: usize>(t: &Tables<'_, Z, L>) -> Vec<KernelYear> {
    let d = t.drivers;
    let watches = d.watches.len();
    let mut tally = Tally::new(watches);
    let mut state = State::new(t);
    let mut trace = t.options.trace.then(Trace::default);
    let warm_up_h = (t.options.warm_up_days * 24).min(d.hours);
    let mut factored_before = 0;
    let mut bins = d.bin_ends.iter().peekable();
    // One loop for both, so that the step is compiled once.
    for count in 0..warm_up_h + d.hours {
        let recording = count >= warm_up_h;
        let hour = if recording { count - warm_up_h } else { d.hours - warm_up_h + count };
        if count == warm_up_h {
            tally.begin(state.snapshot(t));
            state.clear_sums();
            factored_before = state.heat.factored;
        }
        state.hour(t, hour, &mut tally, &mut trace, recording);
        state.flush(t, &mut tally);
        tally.end_hour(hour, t.prepared.zones.len(), d.steps_per_hour);
        if recording && bins.next_if(|end| **end == hour + 1).is_some() {
            tally.end_period(t.prepared, t.models, d, state.snapshot(t));
            state.clear_sums();
        }
    }
    let factored = state.heat.factored - factored_before;
    let mut years = tally.finish(t.prepared.zones.len(), t.models.len(), watches, t.options);
    for year in &mut years {
        year.trace = trace.take();
        year.factored = factored;
    }
    years
}

impl<const Z: usize, const L: usize> State<Z, L> {
    fn new(t: &Tables<'_, Z, L>) -> Self {
        let p = t.prepared;
        let start = F::from_fn(|l| t.models[l.min(t.models.len() - 1)].initial_c);
        let start_x = F::from_fn(|l| t.models[l.min(t.models.len() - 1)].initial_kg_kg);
        let mut modes = vec![ModeStates([F::ZERO; BLOCK]); p.states];
        let mut begin = |assembly: usize, states: &std::ops::Range<usize>| {
            let facts = &p.facts[p.assemblies[assembly].facts.clone()];
            let states = modes[states.clone()].iter_mut().flat_map(|block| &mut block.0);
            for (mode, state) in facts.iter().zip(states) {
                *state = (mode.steady_i + mode.steady_o) * start;
            }
        };
        p.outer.iter().for_each(|o| begin(o.assembly, &o.states));
        p.inner.iter().for_each(|i| begin(i.assembly, &i.states));
        let buffers = p.zones.iter().map(|z| z.buffers.len()).sum();
        let saturation = saturation_pa(start);
        let phi = vapour_factor(t.drivers.pressure_pa) * start_x.0[0] / saturation.0[0];
        let mut state = Self {
            outer: vec![FaceState::at(start); p.outer.len()],
            inner: vec![FaceState::at(start); p.inner.len()],
            modes,
            air: [start; Z],
            star: [start; Z],
            x: [start_x; Z],
            co2: [F::all(t.drivers.outdoor_co2_ppm); Z],
            phi: vec![F::all(phi.min(1.0)); buffers],
            faces_to_air: empty(),
            faces_to_star: empty(),
            flows: Flows::new(p.zones.len()),
            sun_to_air: empty(),
            sun_to_star: empty(),
            machine_heat: empty(),
            machine_vapour: empty(),
            gains: EpochGains::new(),
            air_heat: empty(),
            star_heat: empty(),
            outdoor_heat: empty(),
            vapour_in: empty(),
            vapour_outdoor: empty(),
            co2_in: empty(),
            co2_lu: blank(),
            heat_bounds: no_bounds(NO_BOUND_C),
            step_bounds: no_bounds(NO_BOUND_C),
            vapour_bounds: no_bounds(NO_BOUND_X),
            heat: Bounded::new(p.zones.len()),
            vapour: Bounded::new(p.zones.len()),
            buffer_conductance: vec![F::ZERO; buffers],
            saturation: empty(),
            use_state: usize::MAX,
            bypassed: F::ZERO,
            aired: empty(),
            power: empty(),
            water: empty(),
            watch_from: 0,
        };
        state.heat.limited = finite(p.zones.iter().flat_map(|z| [z.heating_limit, z.cooling_limit]));
        state.vapour.limited = finite(p.zones.iter().map(|z| z.drying_limit));
        state.past_of_start(t);
        state
    }

    /// H_i and H_o of the first step.
    fn past_of_start(&mut self, t: &Tables<'_, Z, L>) {
        let p = t.prepared;
        let modes = &self.modes;
        let remember = |state: &mut FaceState<L>, assembly: usize, states: &std::ops::Range<usize>| {
            let a = &p.assemblies[assembly];
            let [ti, to] = state.face;
            state.past = [a.r_i * ti + a.r_x * to, a.r_x * ti + a.r_o * to];
            for (block, states) in p.blocks[a.blocks.clone()].iter().zip(&modes[states.clone()]) {
                for k in 0..BLOCK {
                    state.past[0] += states.0[k];
                    state.past[1] += block.ratio[k] * states.0[k];
                }
            }
        };
        self.outer.iter_mut().zip(&p.outer).for_each(|(s, o)| remember(s, o.assembly, &o.states));
        self.inner.iter_mut().zip(&p.inner).for_each(|(s, i)| remember(s, i.assembly, &i.states));
    }

    /// One hour.
    #[inline(always)]
    fn hour(
        &mut self,
        t: &Tables<'_, Z, L>,
        hour: usize,
        tally: &mut Tally<Z, L>,
        trace: &mut Option<Trace>,
        recording: bool,
    ) {
        let d = t.drivers;
        let wind_level = usize::from(t.prepared.level_of_hour[hour]);
        let films = &t.prepared.outer_rows[wind_level][..];
        let level = &t.prepared.levels[wind_level];
        self.drive(t, hour);
        for k in 0..d.steps_per_hour {
            let step = hour * d.steps_per_hour + k;
            let use_state = d.use_of_step[step] as usize;
            // Epochs begin with hours and uses, never with what one lane decides: sums then have the same order
            // whatever lanes run side by side.
            if k == 0 || use_state != self.use_state {
                if k > 0 {
                    self.flush(t, tally);
                }
                let mode_changed = self.flows.mode != d.uses[use_state].air_mode;
                self.flows.mode = d.uses[use_state].air_mode;
                self.use_state = use_state;
                self.decide(t, use_state, d.outdoor_c[step]);
                if k == 0 || mode_changed {
                    let beyond = t.modes[self.flows.mode].surplus_beyond;
                    self.flows.leak(t.leaks, d, beyond, hour, wind_level, &self.air);
                }
                self.epoch(t, level, &d.uses[use_state]);
                self.begin_epoch(t, films, d.outdoor_c[step]);
            }
            let next = step + 1;
            let last = k + 1 == d.steps_per_hour || d.use_of_step[next] as usize != use_state;
            self.step(t, level, films, step, last, tally);
            if recording {
                self.watch(t, step, tally);
                if let Some(trace) = trace {
                    self.record(t, trace);
                }
            }
        }
    }

    /// Multiplies out the sums of the epoch that ends.
    #[inline(always)]
    fn flush(&self, t: &Tables<'_, Z, L>, tally: &mut Tally<Z, L>) {
        tally.flush(
            t.prepared.zones.len(),
            &self.flows,
            &t.modes[self.flows.mode],
            &self.gains,
            t.heat_unit,
            t.density,
            t.options.vapour,
        );
    }

    /// What holds for an hour: sun, sky, given temperatures, blinds, saturation pressure at the surfaces.
    #[inline(always)]
    fn drive(&mut self, t: &Tables<'_, Z, L>, hour: usize) {
        let d = t.drivers;
        let zones = t.prepared.zones.len();
        self.gains.transmitted = empty();
        self.sun_to_air = empty();
        self.sun_to_star = empty();
        for g in &t.prepared.glass {
            let sun = &d.apertures[g.aperture];
            if sun.incident_w_m2[hour] <= 0.0 && sun.transmitted_w_m2[hour] <= 0.0 {
                continue;
            }
            let mut area = g.area;
            if g.has_blind {
                let bright = F::all(sun.incident_w_m2[hour]).above(g.blind_above_w);
                let warm = ((self.air[g.zone] + self.star[g.zone]) * 0.5).above(g.blind_above_c);
                area = (bright * warm).select(area * g.blind_factor, area);
            }
            self.gains.transmitted[g.zone] += area * sun.transmitted_w_m2[hour];
            let inward = area * sun.inward_w_m2[hour];
            self.sun_to_air[g.zone] += inward * g.inward_convective;
            self.sun_to_star[g.zone] += inward * (F::ONE - g.inward_convective);
        }
        for z in 0..zones {
            let row = &t.prepared.zones[z];
            self.gains.sun[z] =
                self.gains.transmitted[z] * row.sun_kept + self.sun_to_air[z] + self.sun_to_star[z];
            self.sun_to_air[z] += self.gains.transmitted[z] * row.sun_to_air;
        }
        self.machine_heat = empty();
        self.machine_vapour = empty();
        for m in &d.machines {
            self.machine_heat[m.zone] += F::all(m.heat_w[hour]);
            self.machine_vapour[m.zone] += F::all(m.vapour_kg_s[hour]);
        }
        for (state, o) in self.outer.iter_mut().zip(&t.prepared.outer) {
            state.drive = match o.behind {
                Behind::Air(i) => {
                    let s = &d.surroundings[i];
                    o.radiation * s.radiant_c[hour] + o.absorptance * s.irradiance_w_m2[hour]
                }
                Behind::Given(i) => o.radiation * d.given[i].temperature_c[hour],
                Behind::Nothing => F::ZERO,
            };
        }
        if t.options.vapour {
            let mut b = 0;
            for z in 0..zones {
                if t.prepared.zones[z].buffers.is_empty() {
                    continue;
                }
                self.saturation[z] = saturation_pa(self.air[z]);
                for row in &t.prepared.zones[z].buffers {
                    self.buffer_conductance[b] = row.conductance.over(F::ONE + row.beta * self.saturation[z]);
                    b += 1;
                }
            }
        }
    }

    /// Decides bypass and airing from the state at the beginning of an epoch.
    #[inline(always)]
    fn decide(&mut self, t: &Tables<'_, Z, L>, use_state: usize, outdoor_c: f64) {
        let state = &t.drivers.uses[use_state];
        let mode = &t.modes[state.air_mode];
        let outdoor = F::all(outdoor_c);
        self.bypassed = F::ZERO;
        if t.has_bypass && mode.supplies {
            let mut mix = F::ZERO;
            for z in 0..rows::<Z, L>(t.prepared.zones.len()) {
                mix += mode.extract_share[z] * self.air[z];
            }
            self.bypassed =
                mix.above(t.bypass_extract) * mix.above(outdoor) * outdoor.above(t.bypass_outdoor);
        }
        for (z, row) in t.prepared.zones.iter().enumerate() {
            self.aired[z] = F::ZERO;
            if row.has_airing && state.airing {
                let operative = (self.air[z] + self.star[z]) * 0.5;
                self.aired[z] =
                    operative.above(row.airing_above) * (self.air[z] - outdoor).above(row.airing_cooler);
            }
        }
    }

    /// What holds until the hour, the use or a decision changes: gains, bounds, air, the zones' matrices.
    #[inline(always)]
    fn epoch(&mut self, t: &Tables<'_, Z, L>, level: &Level<Z, L>, state: &UseState) {
        let p = t.prepared;
        let zones = p.zones.len();
        let mode = &t.modes[state.air_mode];
        self.flows.recovery = self.bypassed.select(F::ZERO, mode.recovery);
        self.flows.moisture_recovery = self.bypassed.select(F::ZERO, mode.moisture_recovery);
        for z in 0..zones {
            self.flows.airing[z] = p.zones[z].airing_flow * self.aired[z];
        }
        self.heat.matrix = level.matrix;
        self.outdoor_heat = self.flows.carry(mode, t.heat_unit, self.flows.recovery, &mut self.heat.matrix);
        for z in 0..zones {
            let row = &p.zones[z];
            let u = &state.zones[z];
            self.heat.matrix[z][z] += row.capacity_rate + row.bridges;
            self.outdoor_heat[z] += row.bridges;
            let people = row.people_factor * u.people_w;
            let equipment = row.equipment_factor * u.equipment_w;
            let lights = row.equipment_factor * u.lights_w;
            let radiant =
                people * row.people_radiant + equipment * row.equipment_radiant + lights * row.lights_radiant;
            self.gains.people[z] = people;
            self.gains.equipment[z] = equipment + self.machine_heat[z];
            self.gains.lights[z] = lights;
            self.gains.radiant[z] = radiant;
            self.gains.vapour[z] = row.people_factor * u.vapour_kg_s + self.machine_vapour[z];
            self.air_heat[z] = people + equipment + lights - radiant
                + radiant * row.rest_to_air
                + self.sun_to_air[z]
                + self.machine_heat[z]
                + t.heat_unit * self.flows.given_heat[z];
            self.star_heat[z] = radiant * row.rest_to_star + self.sun_to_star[z];
            let lower = row.heating_shift + F::all(u.heat_above_c.max(-NO_BOUND_C));
            let upper = row.cooling_shift + F::all(u.cool_below_c.min(NO_BOUND_C));
            self.heat_bounds.lower[z] = lower;
            self.heat_bounds.upper[z] = upper;
            self.step_bounds.lower_limit[z] = row.heating_limit;
            self.step_bounds.upper_limit[z] = row.cooling_limit;
            for y in 0..rows::<Z, L>(zones) {
                let own = if y == z { row.air_weight } else { F::ZERO };
                self.heat.control[z][y] = own + (F::ONE - row.air_weight) * level.follow[z][y];
            }
        }
        self.heat.stale = true;
        self.spread_gains(t);
        if t.options.vapour {
            self.vapour_epoch(t, mode, state);
        }
        if t.options.co2 {
            self.co2_lu = blank();
            let outdoor = self.flows.carry(mode, F::ONE, F::ZERO, &mut self.co2_lu);
            for z in 0..rows::<Z, L>(zones) {
                if z >= zones {
                    self.co2_lu[z][z] = F::ONE;
                    continue;
                }
                let row = &p.zones[z];
                self.co2_lu[z][z] += row.volume_rate;
                self.co2_in[z] = outdoor[z] * t.drivers.outdoor_co2_ppm
                    + self.flows.given_co2[z]
                    + row.people_factor * (state.zones[z].co2_m3_s * 1e6);
            }
            factor(&mut self.co2_lu, zones);
        }
    }

    /// Sun and radiant gains on each inside face.
    #[inline(always)]
    fn spread_gains(&mut self, t: &Tables<'_, Z, L>) {
        let gains = &self.gains;
        let on =
            |zone: usize, sun: F<L>, gain: F<L>| sun * gains.transmitted[zone] + gain * gains.radiant[zone];
        for (state, o) in self.outer.iter_mut().zip(&t.prepared.outer) {
            state.gain[0] = on(o.zone, o.sun_share, o.gain_share);
        }
        for (state, i) in self.inner.iter_mut().zip(&t.prepared.inner) {
            for (gain, side) in state.gain.iter_mut().zip(&i.side) {
                *gain = on(side.zone, side.sun_share, side.gain_share);
            }
        }
    }

    #[inline(always)]
    fn vapour_epoch(&mut self, t: &Tables<'_, Z, L>, mode: &ModeFlows<Z, L>, state: &UseState) {
        let zones = t.prepared.zones.len();
        let factor_pa = vapour_factor(t.drivers.pressure_pa);
        self.vapour.matrix = blank();
        self.vapour_outdoor =
            self.flows.carry(mode, t.density, self.flows.moisture_recovery, &mut self.vapour.matrix);
        let mut b = 0;
        for z in 0..rows::<Z, L>(zones) {
            if z >= zones {
                self.vapour.matrix[z][z] = F::ONE;
                continue;
            }
            let row = &t.prepared.zones[z];
            self.vapour.matrix[z][z] += row.vapour_capacity_rate;
            for _ in &row.buffers {
                self.vapour.matrix[z][z] += self.buffer_conductance[b] * factor_pa;
                b += 1;
            }
            self.vapour_in[z] = self.gains.vapour[z] + t.density * self.flows.given_vapour[z];
            let u = &state.zones[z];
            self.vapour_bounds.lower[z] = F::all(u.moisten_above_kg_kg.max(-NO_BOUND_X));
            self.vapour_bounds.upper[z] = F::all(u.dry_below_kg_kg.min(NO_BOUND_X));
            if u.moisten_above_kg_kg <= 0.0 {
                self.vapour_bounds.lower[z] = F::all(-NO_BOUND_X);
            }
            self.vapour_bounds.upper_limit[z] = row.drying_limit;
        }
        self.vapour.stale = true;
    }

    /// Works out the faces without their zones for the first step of an epoch; [`Self::faces`] does it for the others.
    #[inline(always)]
    fn begin_epoch(&mut self, t: &Tables<'_, Z, L>, films: &[OuterRow<L>], outdoor_c: f64) {
        let p = t.prepared;
        self.faces_to_air = empty();
        self.faces_to_star = empty();
        for ((o, row), state) in p.outer.iter().zip(films).zip(&mut self.outer) {
            let (air, star) = (&mut self.faces_to_air[o.zone], &mut self.faces_to_star[o.zone]);
            free_outer(o, row, state, state.past, outdoor_c, air, star);
        }
        for (n, state) in p.inner.iter().zip(&mut self.inner) {
            free_inner(n, state, state.past, &mut self.faces_to_air, &mut self.faces_to_star);
        }
    }

    /// One step of heat, vapour and CO2; `last` of its epoch or not.
    #[inline(always)]
    fn step(
        &mut self,
        t: &Tables<'_, Z, L>,
        level: &Level<Z, L>,
        films: &[OuterRow<L>],
        step: usize,
        last: bool,
        tally: &mut Tally<Z, L>,
    ) {
        let p = t.prepared;
        let zones = p.zones.len();
        let outdoor_c = t.drivers.outdoor_c[step];
        let mut air_in = self.air_heat;
        let mut star_in = self.star_heat;
        for z in 0..zones {
            air_in[z] += self.outdoor_heat[z] * outdoor_c
                + p.zones[z].capacity_rate * self.air[z]
                + self.faces_to_air[z];
            star_in[z] += self.faces_to_star[z];
        }
        // Radiant nodes: their own part, and what of it reaches the air.
        let mut star_free = empty();
        let mut c = air_in;
        if p.stars_joined {
            star_free = times(&level.reply, &star_in, zones);
            let arrived = times(&level.arrive, &star_in, zones);
            for z in 0..rows::<Z, L>(zones) {
                c[z] += arrived[z];
            }
        } else {
            for z in 0..rows::<Z, L>(zones) {
                star_free[z] = level.reply[z][z] * star_in[z];
                c[z] += level.arrive[z][z] * star_in[z];
            }
        }
        for z in 0..zones {
            let shift = (F::ONE - p.zones[z].air_weight) * star_free[z];
            self.step_bounds.lower[z] = self.heat_bounds.lower[z] - shift;
            self.step_bounds.upper[z] = self.heat_bounds.upper[z] - shift;
        }
        let follow = |air: &Column<Z, L>| {
            if p.stars_joined {
                return times(&level.follow, air, zones);
            }
            let mut star = empty();
            for z in 0..zones {
                star[z] = level.follow[z][z] * air[z];
            }
            star
        };
        let (air, power) = self.heat.solve(&c, &self.step_bounds, |air| {
            let mut y = follow(air);
            for z in 0..zones {
                let weight = p.zones[z].air_weight;
                y[z] = weight * air[z] + (F::ONE - weight) * y[z];
            }
            y
        });
        self.air = air;
        self.star = follow(&air);
        for z in 0..zones {
            self.star[z] += star_free[z];
        }
        self.faces(t, films, step, last);
        let e = &mut tally.epoch;
        e.steps += 1.0;
        e.outdoor_c += outdoor_c;
        for z in 0..zones {
            e.air[z] += air[z];
            e.star[z] += self.star[z];
            e.heating[z] += power[z].positive();
            e.cooling[z] += (-power[z]).positive();
            let operative = (air[z] + self.star[z]) * 0.5;
            e.warm[z] += operative.above(F::all(t.options.warm_above_c));
        }
        self.power = power;
        if t.options.vapour {
            self.vapour_step(t, step, tally);
        }
        if t.options.co2 {
            let mut right = self.co2_in;
            for z in 0..zones {
                right[z] += p.zones[z].volume_rate * self.co2[z];
            }
            self.co2 = substitute(&self.co2_lu, &right, zones);
        }
    }

    /// Face temperatures and modes after the zones' temperatures are known, and in the same pass the faces without
    /// their zones for the next step, unless the epoch ends: what drives them is then not yet known.
    #[inline(always)]
    fn faces(&mut self, t: &Tables<'_, Z, L>, films: &[OuterRow<L>], step: usize, last: bool) {
        let p = t.prepared;
        let next_c = if last { 0.0 } else { t.drivers.outdoor_c[step + 1] };
        let keep = last || t.options.trace;
        self.faces_to_air = empty();
        self.faces_to_star = empty();
        for z in 0..p.zones.len() {
            let (air, star) = (self.air[z], self.star[z]);
            let (mut to_air, mut to_star) = (F::ZERO, F::ZERO);
            let range = p.outer_of_zone[z].clone();
            let elements = p.outer[range.clone()].iter().zip(&films[range.clone()]);
            for ((o, row), state) in elements.zip(&mut self.outer[range]) {
                let face = state.free[0] + row.d_hc * air + row.d_hr * star;
                let back = state.free[1] - row.w * face;
                state.sum[0] += face;
                let past = advance(p, o.assembly, &o.states, &mut self.modes, [face, back]);
                if keep {
                    (state.face, state.past) = ([face, back], past);
                }
                if !last {
                    free_outer(o, row, state, past, next_c, &mut to_air, &mut to_star);
                }
            }
            self.faces_to_air[z] = to_air;
            self.faces_to_star[z] = to_star;
        }
        for (n, state) in p.inner.iter().zip(&mut self.inner) {
            let [a, b] = &n.side;
            let right = [
                a.hc * self.air[a.zone] + a.hr * self.star[a.zone],
                b.hc * self.air[b.zone] + b.hr * self.star[b.zone],
            ];
            let mut face = state.free;
            for f in 0..2 {
                face[f] += n.inverse[f][0] * right[0] + n.inverse[f][1] * right[1];
                state.sum[f] += face[f];
            }
            let past = advance(p, n.assembly, &n.states, &mut self.modes, face);
            if keep {
                (state.face, state.past) = (face, past);
            }
            if !last {
                free_inner(n, state, past, &mut self.faces_to_air, &mut self.faces_to_star);
            }
        }
    }

    #[inline(always)]
    fn vapour_step(&mut self, t: &Tables<'_, Z, L>, step: usize, tally: &mut Tally<Z, L>) {
        let zones = t.prepared.zones.len();
        let outdoor = t.drivers.outdoor_kg_kg[step];
        let factor_pa = vapour_factor(t.drivers.pressure_pa);
        let mut c = empty();
        let mut b = 0;
        for z in 0..zones {
            let row = &t.prepared.zones[z];
            c[z] =
                self.vapour_in[z] + self.vapour_outdoor[z] * outdoor + row.vapour_capacity_rate * self.x[z];
            for _ in &row.buffers {
                c[z] += self.buffer_conductance[b] * self.saturation[z] * self.phi[b];
                b += 1;
            }
        }
        let (x, water) = self.vapour.solve(&c, &self.vapour_bounds, |x| *x);
        self.x = x;
        let e = &mut tally.epoch;
        e.outdoor_x += outdoor;
        let mut b = 0;
        for z in 0..zones {
            for row in &t.prepared.zones[z].buffers {
                let taken =
                    self.buffer_conductance[b] * (x[z] * factor_pa - self.saturation[z] * self.phi[b]);
                e.buffered[z] += taken;
                self.phi[b] += (taken * t.drivers.step_s()).over(row.capacity);
                b += 1;
            }
            e.x[z] += x[z];
            e.dried[z] += (-water[z]).positive();
            e.moistened[z] += water[z].positive();
            e.humid[z] += x[z].above(F::all(t.options.humid_above_kg_kg));
        }
        self.water = water;
    }

    /// Keeps the peaks of watched stretches.
    #[inline(always)]
    fn watch(&mut self, t: &Tables<'_, Z, L>, step: usize, tally: &mut Tally<Z, L>) {
        let watches = &t.drivers.watches;
        while watches.get(self.watch_from).is_some_and(|w| w.to_step <= step) {
            self.watch_from += 1;
        }
        for w in self.watch_from..watches.len() {
            let watch = &watches[w];
            if step < watch.from_step {
                break;
            }
            if step >= watch.to_step {
                continue;
            }
            let z = watch.zone;
            let higher = self.co2[z].above(tally.watched_co2[w]);
            tally.watched_co2[w] = higher.select(self.co2[z], tally.watched_co2[w]);
            tally.watched_step[w] = higher.select(F::all(step as f64), tally.watched_step[w]);
            tally.watched_operative[w] = tally.watched_operative[w].max((self.air[z] + self.star[z]) * 0.5);
            tally.watched_x[w] = tally.watched_x[w].max(self.x[z]);
        }
    }

    /// Keeps a step of the first lane.
    fn record(&self, t: &Tables<'_, Z, L>, trace: &mut Trace) {
        let p = t.prepared;
        for z in 0..p.zones.len() {
            trace.air_c.push(self.air[z].0[0]);
            trace.operative_c.push(0.5 * (self.air[z].0[0] + self.star[z].0[0]));
            trace.kg_kg.push(self.x[z].0[0]);
            trace.co2_ppm.push(self.co2[z].0[0]);
            trace.power_w.push(self.power[z].0[0]);
            trace.drying_kg_s.push(-self.water[z].0[0]);
        }
        let from = trace.face_c.len();
        trace.face_c.resize(from + t.models[0].elements.len(), 0.0);
        for (state, o) in self.outer.iter().zip(&p.outer) {
            trace.face_c[from + o.element] = state.face[0].0[0];
        }
        for (state, i) in self.inner.iter().zip(&p.inner) {
            trace.face_c[from + i.element] = state.face[0].0[0];
        }
    }

    /// States from which storage is counted.
    fn snapshot(&self, t: &Tables<'_, Z, L>) -> Snapshot<Z, L> {
        let p = t.prepared;
        let mut stored = vec![F::ZERO; t.models[0].elements.len()];
        let heat = |state: &FaceState<L>, assembly: usize, states: &std::ops::Range<usize>| {
            let a = &p.assemblies[assembly];
            let mut sum = a.c_i * state.face[0] + a.c_o * state.face[1];
            let states = self.modes[states.clone()].iter().flat_map(|block| &block.0);
            for (mode, state) in p.facts[a.facts.clone()].iter().zip(states) {
                sum += mode.stored * *state;
            }
            sum
        };
        for (state, o) in self.outer.iter().zip(&p.outer) {
            stored[o.element] = o.area * heat(state, o.assembly, &o.states);
        }
        for (state, n) in self.inner.iter().zip(&p.inner) {
            stored[n.element] = n.area * heat(state, n.assembly, &n.states);
        }
        Snapshot {
            air: self.air,
            x: self.x,
            stored,
            outer_face: self.outer.iter().map(|s| s.sum[0]).collect(),
            inner_face: self.inner.iter().map(|s| s.sum).collect(),
        }
    }

    /// Starts the sums of a period.
    fn clear_sums(&mut self) {
        self.outer.iter_mut().chain(&mut self.inner).for_each(|s| s.sum = [F::ZERO; 2]);
    }
}

impl<const L: usize> FaceState<L> {
    fn at(start: F<L>) -> Self {
        let none = [F::ZERO; 2];
        Self { face: [start; 2], past: none, gain: none, drive: F::ZERO, free: none, sum: none }
    }
}

/// An outer element's faces without their zone, and what they bring the zone's nodes.
#[inline(always)]
fn free_outer<const L: usize>(
    o: &Outer<L>,
    row: &OuterRow<L>,
    state: &mut FaceState<L>,
    past: [F<L>; 2],
    outdoor_c: f64,
    to_air: &mut F<L>,
    to_star: &mut F<L>,
) {
    let push = state.drive + past[1] + row.film * outdoor_c;
    let free = row.d * (state.gain[0] + past[0] - row.w * push);
    state.free = [free, row.e * push];
    *to_air += o.area_hc * free;
    *to_star += o.area_hr * free;
}

/// The same for an element between zones.
#[inline(always)]
fn free_inner<const Z: usize, const L: usize>(
    n: &Inner<L>,
    state: &mut FaceState<L>,
    past: [F<L>; 2],
    to_air: &mut Column<Z, L>,
    to_star: &mut Column<Z, L>,
) {
    let right = [state.gain[0] + past[0], state.gain[1] + past[1]];
    for face in 0..2 {
        let free = n.inverse[face][0] * right[0] + n.inverse[face][1] * right[1];
        state.free[face] = free;
        let side = &n.side[face];
        to_air[side.zone] += side.area_hc * free;
        to_star[side.zone] += side.area_hr * free;
    }
}

/// Advances an element's modes by a step with its face temperatures; returns H_i and H_o for the next.
#[inline(always)]
fn advance<const Z: usize, const L: usize>(
    p: &Prepared<Z, L>,
    assembly: usize,
    states: &std::ops::Range<usize>,
    modes: &mut [ModeStates<L>],
    face: [F<L>; 2],
) -> [F<L>; 2] {
    let a = &p.assemblies[assembly];
    let [inside, outside] = face;
    let (mut hi, mut ho) = ([F::ZERO; BLOCK], [F::ZERO; BLOCK]);
    for (m, s) in p.blocks[a.blocks.clone()].iter().zip(&mut modes[states.clone()]) {
        for k in 0..BLOCK {
            let next = m.decay[k] * s.0[k] + m.a[k] * (inside + m.ratio[k] * outside);
            s.0[k] = next;
            hi[k] += next;
            ho[k] += m.ratio[k] * next;
        }
    }
    let meet = |h: &[F<L>; BLOCK]| (h[0] + h[2]) + (h[1] + h[3]);
    let past = [meet(&hi), meet(&ho)];
    if !a.residual {
        return past;
    }
    [past[0] + (a.r_i * inside + a.r_x * outside), past[1] + (a.r_x * inside + a.r_o * outside)]
}

/// Vapour pressure per unit of humidity ratio, Pa; see [`LINEAR_X`].
#[inline(always)]
fn vapour_factor(pressure_pa: f64) -> f64 {
    pressure_pa / (MASS_RATIO + LINEAR_X)
}

/// Saturation pressure over water, Pa, by the Magnus form `611.2 exp(17.62 θ / (243.12 + θ))`.
///
/// World Meteorological Organization, Guide to Instruments and Methods of Observation, annex 4.B (from memory);
/// within 0.2 % of the Hyland-Wexler equations of `matter` between 0 and 40 °C, in one exp.
#[inline(always)]
fn saturation_pa<const L: usize>(celsius: F<L>) -> F<L> {
    celsius.map(|t| 611.2 * exp(17.62 * t / (243.12 + t)))
}

/// Whether any lane of any limit is finite.
fn finite<const L: usize>(mut limits: impl Iterator<Item = F<L>>) -> bool {
    limits.any(|limit| limit.0.iter().any(|x| x.is_finite()))
}

fn no_bounds<const Z: usize, const L: usize>(far: f64) -> Bounds<Z, L> {
    Bounds {
        lower: [F::all(-far); Z],
        upper: [F::all(far); Z],
        lower_limit: [F::all(f64::INFINITY); Z],
        upper_limit: [F::all(f64::INFINITY); Z],
    }
}
