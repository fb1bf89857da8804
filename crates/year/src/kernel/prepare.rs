//! Turns models into the tables the time loop reads: everything that does not change from step to step.
//!
//! Surface temperatures are held over a step while the modes run exactly, so an element answers a step with
//! `q_i = A_ii T_s + A_io T_o − H_i` (mean flux into its inside face), `q_o` alike, where H remembers the past.
//! The outside face, then the inside face, then the zone's radiant node are eliminated: what remains is one
//! equation a zone. Outside films depend on the wind speed, so this is done once a wind speed.

use fabric::transient::ModalElement;
use numeric::exp;

use super::input::{Drivers, InsideFace, Model, Outside, WIND_STEP_M_S};
use super::lane::F;
use super::solve::{Column, Matrix, invert, rows, zero};

/// Modes are added up in this many sums that meet at the end, so that a lone lane fills a vector with modes.
pub(crate) const BLOCK: usize = 4;

/// A block of modes of one assembly. With `u = T_s + ratio T_o` the state s follows `s ← decay s + a u`; it adds s to
/// H_i and `ratio s` to H_o. Absent modes are zero throughout.
///
/// Rows of lanes are aligned to cache lines, so that a vector of eight lanes never straddles two: worth a third of
/// the time loop. Lane fields come first in them.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
pub(crate) struct ModeBlock<const L: usize> {
    pub ratio: [F<L>; BLOCK],
    pub decay: [F<L>; BLOCK],
    pub a: [F<L>; BLOCK],
}

/// What of a mode only beginnings and storage need.
#[derive(Clone, Copy)]
pub(crate) struct ModeFacts<const L: usize> {
    /// Heat stored per unit of state, J/m².
    pub stored: F<L>,
    /// State per kelvin of each face once steady.
    pub steady_i: F<L>,
    pub steady_o: F<L>,
}

/// One assembly for a step length.
#[derive(Clone)]
#[repr(C, align(64))]
pub(crate) struct AssemblyRow<const L: usize> {
    pub a_ii: F<L>,
    pub a_oo: F<L>,
    pub a_io: F<L>,
    /// Residuals over the step length, W/(m²·K).
    pub r_i: F<L>,
    pub r_o: F<L>,
    pub r_x: F<L>,
    /// Heat stored per kelvin of each face beyond the modes' states, J/(m²·K).
    pub c_i: F<L>,
    pub c_o: F<L>,
    /// Blocks of modes.
    pub blocks: std::ops::Range<usize>,
    /// Modes of these blocks.
    pub facts: std::ops::Range<usize>,
    /// True when any lane has a residual.
    pub residual: bool,
}

/// What drives an outside face, beyond the air film.
#[derive(Clone, Copy)]
pub(crate) enum Behind {
    Air(usize),
    Given(usize),
    Nothing,
}

/// An element with one face in a zone.
#[repr(C, align(64))]
pub(crate) struct Outer<const L: usize> {
    pub area_hc: F<L>,
    pub area_hr: F<L>,
    pub area: F<L>,
    pub hc: F<L>,
    pub hr: F<L>,
    /// Shares per area.
    pub sun_share: F<L>,
    pub gain_share: F<L>,
    pub absorptance: F<L>,
    pub radiation: F<L>,
    /// Index in the model.
    pub element: usize,
    pub zone: usize,
    pub assembly: usize,
    /// Blocks of states.
    pub states: std::ops::Range<usize>,
    pub behind: Behind,
}

/// Coefficients of an outer element at one wind speed.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
pub(crate) struct OuterRow<const L: usize> {
    /// 1 / (A_ii + h_c + h_r − A_io² e).
    pub d: F<L>,
    pub d_hc: F<L>,
    pub d_hr: F<L>,
    /// 1 / (A_oo + outside films).
    pub e: F<L>,
    /// A_io e.
    pub w: F<L>,
    /// Convective film outside.
    pub film: F<L>,
}

/// A face of an element between zones.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
pub(crate) struct Side<const L: usize> {
    pub hc: F<L>,
    pub hr: F<L>,
    pub area_hc: F<L>,
    pub area_hr: F<L>,
    pub sun_share: F<L>,
    pub gain_share: F<L>,
    pub zone: usize,
}

/// An element between two zones.
#[repr(C, align(64))]
pub(crate) struct Inner<const L: usize> {
    pub side: [Side<L>; 2],
    /// Inverse of its two surface equations.
    pub inverse: [[F<L>; 2]; 2],
    pub area: F<L>,
    pub element: usize,
    pub assembly: usize,
    pub states: std::ops::Range<usize>,
}

/// The zones' equations at one wind speed, with elements and radiant nodes eliminated.
#[repr(C, align(64))]
pub(crate) struct Level<const Z: usize, const L: usize> {
    /// S without air, W/K.
    pub matrix: Matrix<Z, L>,
    /// T_radiant = follow · T_air + reply · b_radiant.
    pub follow: Matrix<Z, L>,
    pub reply: Matrix<Z, L>,
    /// Heat at the radiant nodes as it arrives at the air nodes.
    pub arrive: Matrix<Z, L>,
}

/// A zone's constants.
#[repr(C, align(64))]
pub(crate) struct ZoneRow<const L: usize> {
    pub capacity_rate: F<L>,
    pub bridges: F<L>,
    pub sun_to_air: F<L>,
    pub sun_kept: F<L>,
    /// Radiant share left for the radiant node and for the air.
    pub rest_to_star: F<L>,
    pub rest_to_air: F<L>,
    pub people_radiant: F<L>,
    pub equipment_radiant: F<L>,
    pub lights_radiant: F<L>,
    pub people_factor: F<L>,
    pub equipment_factor: F<L>,
    pub air_weight: F<L>,
    pub heating_limit: F<L>,
    pub cooling_limit: F<L>,
    pub drying_limit: F<L>,
    pub heating_shift: F<L>,
    pub cooling_shift: F<L>,
    pub vapour_capacity_rate: F<L>,
    pub volume_rate: F<L>,
    pub airing_flow: F<L>,
    pub airing_above: F<L>,
    pub airing_cooler: F<L>,
    pub has_airing: bool,
    /// Buffers: conductance × step / capacity, conductance, capacity.
    pub buffers: Vec<BufferRow<L>>,
}

/// A moisture buffer's constants.
#[repr(C, align(64))]
pub(crate) struct BufferRow<const L: usize> {
    pub beta: F<L>,
    pub conductance: F<L>,
    pub capacity: F<L>,
}

/// Sun through glass.
#[repr(C, align(64))]
pub(crate) struct GlassRow<const L: usize> {
    pub area: F<L>,
    pub inward_convective: F<L>,
    pub blind_above_w: F<L>,
    pub blind_above_c: F<L>,
    pub blind_factor: F<L>,
    pub has_blind: bool,
    pub zone: usize,
    pub aperture: usize,
}

/// All tables.
pub(crate) struct Prepared<const Z: usize, const L: usize> {
    pub blocks: Vec<ModeBlock<L>>,
    pub facts: Vec<ModeFacts<L>>,
    pub assemblies: Vec<AssemblyRow<L>>,
    pub outer: Vec<Outer<L>>,
    pub outer_of_zone: Vec<std::ops::Range<usize>>,
    pub inner: Vec<Inner<L>>,
    /// `[level][outer]`.
    pub outer_rows: Vec<Vec<OuterRow<L>>>,
    pub levels: Vec<Level<Z, L>>,
    /// Wind speed of each level, m/s.
    pub speeds: Vec<f64>,
    /// Level of each hour.
    pub level_of_hour: Vec<u16>,
    pub zones: Vec<ZoneRow<L>>,
    pub glass: Vec<GlassRow<L>>,
    /// Blocks of states.
    pub states: usize,
    /// Whether radiant nodes of different zones are joined.
    pub stars_joined: bool,
}

/// Reads one number from every lane's model.
#[inline(always)]
fn gather<const L: usize>(models: &[&Model], f: impl Fn(&Model) -> f64) -> F<L> {
    F::from_fn(|l| f(models[l.min(models.len() - 1)]))
}

/// Film at an outside face at one wind speed: convection and radiation, W/(m²·K).
fn outside_films(outside: &Outside, wind_m_s: f64) -> (f64, f64) {
    match *outside {
        Outside::Air { film, .. } => (film.still_w_m2k + film.per_m_s * wind_m_s, film.radiation_w_m2k),
        Outside::Given { film_w_m2k, .. } => (0.0, film_w_m2k),
        Outside::Zone(_) | Outside::Adiabatic => (0.0, 0.0),
    }
}

/// Mode constants of one lane for a step: ratio, decay, a, stored, steady_i, steady_o.
fn mode_numbers(element: &ModalElement, mode: usize, step_s: f64) -> [f64; 6] {
    // An absent mode (another lane keeps more) has no state and stores nothing.
    let Some(m) = element.modes.get(mode) else { return [0.0; 6] };
    let decay = exp(-m.rate_per_s * step_s);
    let gamma = (1.0 - decay) / (m.rate_per_s * step_s);
    // The state is scaled by its inside coupling; a mode seen only from outside keeps a negligible one.
    let inside = if m.inside.abs() < 1e-30 { 1e-30 } else { m.inside };
    let scale = gamma * inside;
    [
        m.outside / inside,
        decay,
        scale * (1.0 - decay) * inside,
        (inside + m.outside) / (m.rate_per_s * scale),
        scale * inside,
        scale * m.outside,
    ]
}

/// A_ii, A_oo, A_io of one lane.
fn step_admittance(element: &ModalElement, residuals: [f64; 3], step_s: f64) -> [f64; 3] {
    let k = element.conductance_w_m2k;
    let [r_i, r_o, r_x] = residuals;
    let mut a = [k + r_i / step_s, k + r_o / step_s, -k + r_x / step_s];
    for m in &element.modes {
        let x = m.rate_per_s * step_s;
        let gamma = (1.0 - exp(-x)) / x;
        a[0] += gamma * m.inside * m.inside;
        a[1] += gamma * m.outside * m.outside;
        a[2] += gamma * m.inside * m.outside;
    }
    a
}

type Assemblies<const L: usize> = (Vec<ModeBlock<L>>, Vec<ModeFacts<L>>, Vec<AssemblyRow<L>>);

/// Heat stored at the faces beyond the modes is left out below this share of an element's capacity: the reduction
/// leaves about a millionth there, which three more coefficients a step would follow.
const LEAST_RESIDUAL: f64 = 1e-5;

/// Residuals r_i, r_o, r_x of one lane, J/(m²·K).
fn residuals(element: &ModalElement) -> [f64; 3] {
    let (inside, outside) = element.face_capacities_j_m2k();
    let r = [element.inside_residual, element.outside_residual, element.cross_residual];
    if r[0] + r[1] < LEAST_RESIDUAL * (inside + outside) { [0.0; 3] } else { r }
}

fn assemblies<const L: usize>(models: &[&Model], step_s: f64) -> Assemblies<L> {
    let (mut blocks, mut facts, mut rows) = (Vec::new(), Vec::new(), Vec::new());
    for i in 0..models[0].assemblies.len() {
        let element = |l: usize| &models[l.min(models.len() - 1)].assemblies[i];
        let count = (0..L).map(|l| element(l).modes.len()).max().unwrap_or(0);
        let (from, facts_from) = (blocks.len(), facts.len());
        for block in 0..count.div_ceil(BLOCK) {
            let zero = [F::ZERO; BLOCK];
            let mut row = ModeBlock { ratio: zero, decay: zero, a: zero };
            for k in 0..BLOCK {
                let mode = block * BLOCK + k;
                let numbers: Vec<[f64; 6]> = (0..L).map(|l| mode_numbers(element(l), mode, step_s)).collect();
                let pick = |n: usize| F::from_fn(|l| numbers[l][n]);
                (row.ratio[k], row.decay[k], row.a[k]) = (pick(0), pick(1), pick(2));
                facts.push(ModeFacts { stored: pick(3), steady_i: pick(4), steady_o: pick(5) });
            }
            blocks.push(row);
        }
        let residuals: Vec<[f64; 3]> = (0..L).map(|l| residuals(element(l))).collect();
        let admittance: Vec<[f64; 3]> =
            (0..L).map(|l| step_admittance(element(l), residuals[l], step_s)).collect();
        let [r_i, r_o, r_x]: [F<L>; 3] = std::array::from_fn(|n| F::from_fn(|l| residuals[l][n]));
        let residual = r_i.differs(F::ZERO) || r_o.differs(F::ZERO) || r_x.differs(F::ZERO);
        rows.push(AssemblyRow {
            blocks: from..blocks.len(),
            facts: facts_from..facts.len(),
            a_ii: F::from_fn(|l| admittance[l][0]),
            a_oo: F::from_fn(|l| admittance[l][1]),
            a_io: F::from_fn(|l| admittance[l][2]),
            r_i: r_i * (1.0 / step_s),
            r_o: r_o * (1.0 / step_s),
            r_x: r_x * (1.0 / step_s),
            c_i: r_i + r_x,
            c_o: r_o + r_x,
            residual,
        });
    }
    (blocks, facts, rows)
}

fn side<const L: usize>(models: &[&Model], i: usize, face: impl Fn(&Model) -> InsideFace) -> Side<L> {
    let area = |m: &Model| m.elements[i].area_m2;
    Side {
        zone: face(models[0]).zone,
        hc: gather(models, |m| face(m).convection_w_m2k),
        hr: gather(models, |m| face(m).radiation_w_m2k),
        area_hc: gather(models, |m| area(m) * face(m).convection_w_m2k),
        area_hr: gather(models, |m| area(m) * face(m).radiation_w_m2k),
        sun_share: gather(models, |m| face(m).sun_share / area(m)),
        gain_share: gather(models, |m| face(m).gain_share / area(m)),
    }
}

/// Elements with one face in a zone (zone by zone), and elements between zones.
fn elements<const L: usize>(
    models: &[&Model],
    rows: &[AssemblyRow<L>],
) -> (Vec<Outer<L>>, Vec<Inner<L>>, usize) {
    let mut states = 0;
    let mut outer = Vec::new();
    let mut inner = Vec::new();
    let mut order: Vec<usize> = (0..models[0].elements.len()).collect();
    order.sort_by_key(|i| models[0].elements[*i].inside.zone);
    for i in order {
        let first = &models[0].elements[i];
        let count = rows[first.assembly].blocks.len();
        let range = states..states + count;
        states += count;
        let face = side(models, i, |m| m.elements[i].inside);
        let area = gather(models, |m| m.elements[i].area_m2);
        if let Outside::Zone(_) = first.outside {
            let far = |m: &Model| match m.elements[i].outside {
                Outside::Zone(far) => far,
                _ => m.elements[i].inside,
            };
            let far = side(models, i, far);
            let row = &rows[first.assembly];
            let (a, b) = (row.a_ii + face.hc + face.hr, row.a_oo + far.hc + far.hr);
            let determinant = (a * b - row.a_io * row.a_io).recip();
            let cross = -(row.a_io * determinant);
            inner.push(Inner {
                element: i,
                assembly: first.assembly,
                states: range,
                area,
                side: [face, far],
                inverse: [[b * determinant, cross], [cross, a * determinant]],
            });
            continue;
        }
        let (behind, absorptance) = match first.outside {
            Outside::Air { surroundings, .. } => {
                let absorptance = gather(models, |m| match m.elements[i].outside {
                    Outside::Air { absorptance, .. } => absorptance,
                    _ => 0.0,
                });
                (Behind::Air(surroundings), absorptance)
            }
            Outside::Given { series, .. } => (Behind::Given(series), F::ZERO),
            _ => (Behind::Nothing, F::ZERO),
        };
        outer.push(Outer {
            element: i,
            zone: face.zone,
            assembly: first.assembly,
            states: range,
            behind,
            area,
            area_hc: face.area_hc,
            area_hr: face.area_hr,
            hc: face.hc,
            hr: face.hr,
            sun_share: face.sun_share,
            gain_share: face.gain_share,
            absorptance,
            radiation: gather(models, |m| outside_films(&m.elements[i].outside, 0.0).1),
        });
    }
    (outer, inner, states)
}

/// Wind speeds in use and each hour's place among them.
fn wind_levels(drivers: &Drivers) -> (Vec<f64>, Vec<u16>) {
    let rounded: Vec<u64> = drivers.wind_m_s.iter().map(|v| (v / WIND_STEP_M_S).round() as u64).collect();
    let mut used = rounded.clone();
    used.sort_unstable();
    used.dedup();
    let speeds = used.iter().map(|n| *n as f64 * WIND_STEP_M_S).collect();
    let place = rounded.iter().map(|n| used.partition_point(|u| u < n) as u16).collect();
    (speeds, place)
}

#[inline(always)]
fn outer_row<const L: usize>(o: &Outer<L>, a: &AssemblyRow<L>, film: F<L>) -> OuterRow<L> {
    let e = (a.a_oo + film + o.radiation).recip();
    let w = a.a_io * e;
    let d = (a.a_ii + o.hc + o.hr - a.a_io * w).recip();
    OuterRow { d, d_hc: d * o.hc, d_hr: d * o.hr, e, w, film }
}

/// Air and radiant equations before the radiant nodes are eliminated.
struct Joined<const Z: usize, const L: usize> {
    air: Matrix<Z, L>,
    air_star: Matrix<Z, L>,
    star_air: Matrix<Z, L>,
    star: Matrix<Z, L>,
}

impl<const Z: usize, const L: usize> Joined<Z, L> {
    fn new() -> Self {
        Self { air: zero(), air_star: zero(), star_air: zero(), star: zero() }
    }

    /// Adds `area h (T_node − T_s)` with `T_s = d_c T_air + d_r T_star` of zone y, to the rows of zone z.
    #[inline(always)]
    fn couple(&mut self, z: usize, y: usize, area_hc: F<L>, area_hr: F<L>, d_hc: F<L>, d_hr: F<L>) {
        self.air[z][y] -= area_hc * d_hc;
        self.air_star[z][y] -= area_hc * d_hr;
        self.star_air[z][y] -= area_hr * d_hc;
        self.star[z][y] -= area_hr * d_hr;
        if z == y {
            self.air[z][z] += area_hc;
            self.star[z][z] += area_hr;
        }
    }

    fn eliminate(mut self, zones: usize) -> Level<Z, L> {
        let n = rows::<Z, L>(zones);
        for z in 0..n {
            // A zone without radiant exchange gets a radiant node that follows its air, so that operative
            // temperatures stay meaningful; unused rows become the identity.
            let bare = F::from_fn(|l| if self.star[z][z].0[l] <= 1e-12 { 1.0 } else { 0.0 });
            self.star[z][z] = bare.select(F::ONE, self.star[z][z]);
            self.star_air[z][z] = bare.select(-F::ONE, self.star_air[z][z]);
            if z >= zones {
                self.air[z][z] = F::ONE;
                self.star_air[z][z] = F::ZERO;
            }
        }
        let reply = invert(&self.star, zones);
        let mut level = Level { matrix: self.air, follow: zero(), reply, arrive: zero() };
        for i in 0..n {
            for j in 0..n {
                for k in 0..n {
                    level.follow[i][j] -= level.reply[i][k] * self.star_air[k][j];
                    // Heat b at a radiant node raises it by reply b; the air then gains −air_star · reply b.
                    level.arrive[i][j] -= self.air_star[i][k] * level.reply[k][j];
                }
            }
        }
        for i in 0..n {
            for j in 0..n {
                for k in 0..n {
                    level.matrix[i][j] += self.air_star[i][k] * level.follow[k][j];
                }
            }
        }
        level
    }
}

fn zone_rows<const L: usize>(models: &[&Model], drivers: &Drivers) -> Vec<ZoneRow<L>> {
    let step_s = drivers.step_s();
    let first = models[0];
    (0..first.zones.len())
        .map(|z| {
            let taken = |m: &Model, share: fn(&InsideFace) -> f64| -> f64 {
                let mut sum = 0.0;
                for e in &m.elements {
                    if e.inside.zone == z {
                        sum += share(&e.inside);
                    }
                    if let Outside::Zone(far) = e.outside
                        && far.zone == z
                    {
                        sum += share(&far);
                    }
                }
                sum
            };
            let rest = |m: &Model| (1.0 - taken(m, |f| f.gain_share)).max(0.0);
            let airing = |m: &Model| m.zones[z].airing;
            ZoneRow {
                capacity_rate: gather(models, |m| m.zones[z].heat_capacity_j_k / step_s),
                bridges: gather(models, |m| m.zones[z].bridges_w_k),
                sun_to_air: gather(models, |m| m.zones[z].sun_to_air),
                sun_kept: gather(models, |m| m.zones[z].sun_to_air + taken(m, |f| f.sun_share)),
                rest_to_star: gather(models, |m| if m.zones[z].radiant_rest_to_air { 0.0 } else { rest(m) }),
                rest_to_air: gather(models, |m| if m.zones[z].radiant_rest_to_air { rest(m) } else { 0.0 }),
                people_radiant: gather(models, |m| m.zones[z].people_radiant),
                equipment_radiant: gather(models, |m| m.zones[z].equipment_radiant),
                lights_radiant: gather(models, |m| m.zones[z].lights_radiant),
                people_factor: gather(models, |m| m.zones[z].people_factor),
                equipment_factor: gather(models, |m| m.zones[z].equipment_factor),
                air_weight: gather(models, |m| m.zones[z].air_weight),
                heating_limit: gather(models, |m| m.zones[z].heating_limit_w),
                cooling_limit: gather(models, |m| m.zones[z].cooling_limit_w),
                drying_limit: gather(models, |m| m.zones[z].drying_limit_kg_s),
                heating_shift: gather(models, |m| m.zones[z].heating_shift_k),
                cooling_shift: gather(models, |m| m.zones[z].cooling_shift_k),
                vapour_capacity_rate: gather(models, |m| {
                    m.air_density_kg_m3 * m.zones[z].volume_m3 * m.zones[z].vapour_capacity_factor / step_s
                }),
                volume_rate: gather(models, |m| m.zones[z].volume_m3 / step_s),
                airing_flow: gather(models, |m| airing(m).map_or(0.0, |a| a.flow_m3_s)),
                airing_above: gather(models, |m| airing(m).map_or(f64::INFINITY, |a| a.above_c)),
                airing_cooler: gather(models, |m| airing(m).map_or(0.0, |a| a.cooler_by_k)),
                has_airing: first.zones[z].airing.is_some(),
                buffers: (0..first.zones[z].buffers.len())
                    .map(|b| {
                        let buffer = |m: &Model| m.zones[z].buffers[b];
                        BufferRow {
                            beta: gather(models, |m| {
                                buffer(m).conductance_kg_s_pa * step_s / buffer(m).capacity_kg
                            }),
                            conductance: gather(models, |m| buffer(m).conductance_kg_s_pa),
                            capacity: gather(models, |m| buffer(m).capacity_kg),
                        }
                    })
                    .collect(),
            }
        })
        .collect()
}

fn glass_rows<const L: usize>(models: &[&Model]) -> Vec<GlassRow<L>> {
    (0..models[0].glass.len())
        .map(|i| {
            let blind = |m: &Model| m.glass[i].blind;
            GlassRow {
                zone: models[0].glass[i].zone,
                aperture: models[0].glass[i].aperture,
                area: gather(models, |m| m.glass[i].area_m2),
                inward_convective: gather(models, |m| m.glass[i].inward_convective),
                blind_above_w: gather(models, |m| blind(m).map_or(f64::INFINITY, |b| b.above_w_m2)),
                blind_above_c: gather(models, |m| blind(m).map_or(f64::INFINITY, |b| b.above_c)),
                blind_factor: gather(models, |m| blind(m).map_or(1.0, |b| b.factor)),
                has_blind: models.iter().any(|m| blind(m).is_some()),
            }
        })
        .collect()
}

/// Prepares `L` lanes; when fewer models are given, the last fills the rest.
pub(crate) fn prepare<const Z: usize, const L: usize>(
    drivers: &Drivers,
    models: &[&Model],
) -> Prepared<Z, L> {
    let step_s = drivers.step_s();
    let (blocks, facts, assembly_rows) = assemblies(models, step_s);
    let (outer, inner, states) = elements(models, &assembly_rows);
    let (speeds, level_of_hour) = wind_levels(drivers);
    let zones = models[0].zones.len();
    let mut outer_rows = Vec::with_capacity(speeds.len());
    let mut levels = Vec::with_capacity(speeds.len());
    for speed in &speeds {
        let mut joined = Joined::<Z, L>::new();
        let mut at_speed = Vec::with_capacity(outer.len());
        for o in &outer {
            let film = gather(models, |m| outside_films(&m.elements[o.element].outside, *speed).0);
            let row = outer_row(o, &assembly_rows[o.assembly], film);
            joined.couple(o.zone, o.zone, o.area_hc, o.area_hr, row.d_hc, row.d_hr);
            at_speed.push(row);
        }
        for i in &inner {
            for (mine, near) in i.side.iter().enumerate() {
                for (theirs, far) in i.side.iter().enumerate() {
                    let d = i.inverse[mine][theirs];
                    let own = mine == theirs;
                    joined.couple(near.zone, far.zone, near.area_hc, near.area_hr, d * far.hc, d * far.hr);
                    if !own && near.zone == far.zone {
                        // Both faces in one zone: `couple` has counted the node's own coefficient twice.
                        joined.air[near.zone][near.zone] -= near.area_hc;
                        joined.star[near.zone][near.zone] -= near.area_hr;
                    }
                }
            }
        }
        outer_rows.push(at_speed);
        levels.push(joined.eliminate(zones));
    }
    let outer_of_zone = (0..zones)
        .map(|z| {
            let from = outer.partition_point(|o| o.zone < z);
            from..outer.partition_point(|o| o.zone <= z)
        })
        .collect();
    let stars_joined = inner.iter().any(|i| i.side[0].zone != i.side[1].zone);
    Prepared {
        blocks,
        facts,
        assemblies: assembly_rows,
        outer,
        outer_of_zone,
        inner,
        outer_rows,
        levels,
        speeds,
        level_of_hour,
        zones: zone_rows(models, drivers),
        glass: glass_rows(models),
        states,
        stars_joined,
    }
}

/// Columns that hold nothing yet.
#[inline(always)]
pub(crate) fn empty<const Z: usize, const L: usize>() -> Column<Z, L> {
    [F::ZERO; Z]
}
