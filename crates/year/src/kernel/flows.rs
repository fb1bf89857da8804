//! Air between outdoors, neighbours and zones: flows of an epoch, and what they add to the zones' equations.

use numeric::{lanes, pow};

use super::input::{Drivers, FLOW_AT_C, LeakFrom, LeakLaw, Model, PARTY_TRIED};
use super::lane::F;
use super::solve::{Column, Matrix, rows, zero};

/// One air mode in lanes.
pub(crate) struct ModeFlows<const Z: usize, const L: usize> {
    pub supply: Column<Z, L>,
    /// Share of each zone's extract in the mix that passes the recovery.
    pub extract_share: Column<Z, L>,
    pub between: Vec<(usize, usize, F<L>)>,
    pub recovery: F<L>,
    pub moisture_recovery: F<L>,
    pub surplus_beyond: F<L>,
    pub supplies: bool,
}

/// One leak in lanes.
pub(crate) struct LeakRow<const L: usize> {
    pub zone: usize,
    pub from: LeakFrom,
    law: LawRow<L>,
}

enum LawRow<const L: usize> {
    Constant(F<L>),
    /// Coefficient, twice the exponent, driving pressure per kelvin, squared wind part by wind level.
    StackWind {
        coefficient: F<L>,
        exponent: F<L>,
        stack_pa_k: F<L>,
        wind: Vec<F<L>>,
    },
    Hourly {
        table: usize,
        factor: F<L>,
        /// Weights of the changes at less and at more leak to neighbours.
        party: [F<L>; 2],
    },
}

fn gather<const L: usize>(models: &[&Model], f: impl Fn(&Model) -> f64) -> F<L> {
    F::from_fn(|l| f(models[l.min(models.len() - 1)]))
}

/// Reads the air modes of all lanes.
pub(crate) fn mode_flows<const Z: usize, const L: usize>(models: &[&Model]) -> Vec<ModeFlows<Z, L>> {
    let zones = models[0].zones.len();
    (0..models[0].air_modes.len())
        .map(|i| {
            let column = |f: &dyn Fn(&Model, usize) -> f64| -> Column<Z, L> {
                let mut c = [F::ZERO; Z];
                for z in 0..zones {
                    c[z] = gather(models, |m| f(m, z));
                }
                c
            };
            let total = |m: &Model| -> f64 { m.air_modes[i].extract_m3_s.iter().sum() };
            ModeFlows {
                supply: column(&|m, z| m.air_modes[i].supply_m3_s[z]),
                extract_share: column(&|m, z| {
                    if total(m) > 0.0 { m.air_modes[i].extract_m3_s[z] / total(m) } else { 0.0 }
                }),
                between: (0..models[0].air_modes[i].between_m3_s.len())
                    .map(|b| {
                        let (from, to, _) = models[0].air_modes[i].between_m3_s[b];
                        (from, to, gather(models, |m| m.air_modes[i].between_m3_s[b].2))
                    })
                    .collect(),
                // Without extract air there is nothing to recover from.
                recovery: gather(models, |m| if total(m) > 0.0 { m.air_modes[i].recovery } else { 0.0 }),
                moisture_recovery: gather(models, |m| {
                    if total(m) > 0.0 { m.air_modes[i].moisture_recovery } else { 0.0 }
                }),
                surplus_beyond: gather(models, |m| m.air_modes[i].surplus_beyond_m3_s),
                supplies: models.iter().any(|m| m.air_modes[i].supply_m3_s.iter().any(|q| *q != 0.0)),
            }
        })
        .collect()
}

/// Reads the leaks of all lanes.
pub(crate) fn leak_rows<const L: usize>(models: &[&Model], wind_levels_m_s: &[f64]) -> Vec<LeakRow<L>> {
    (0..models[0].leaks.len())
        .map(|i| {
            let first = &models[0].leaks[i];
            let law = match &first.law {
                LeakLaw::Constant(_) => LawRow::Constant(gather(models, |m| match m.leaks[i].law {
                    LeakLaw::Constant(q) => q,
                    _ => 0.0,
                })),
                LeakLaw::StackWind { .. } => {
                    let read = |f: &dyn Fn(f64, f64, f64, f64) -> f64| {
                        gather(models, |m| match m.leaks[i].law {
                            LeakLaw::StackWind { coefficient, exponent, stack_pa_k, wind_pa_s2_m2 } => {
                                f(coefficient, exponent, stack_pa_k, wind_pa_s2_m2)
                            }
                            _ => 0.0,
                        })
                    };
                    LawRow::StackWind {
                        coefficient: read(&|c, _, _, _| c),
                        exponent: read(&|_, n, _, _| 2.0 * n),
                        stack_pa_k: read(&|_, _, s, _| s),
                        wind: wind_levels_m_s
                            .iter()
                            .map(|v| {
                                read(&|_, n, _, w| {
                                    let pressure = w * v * v;
                                    if pressure > 0.0 { pow(pressure, 2.0 * n) } else { 0.0 }
                                })
                            })
                            .collect(),
                    }
                }
                LeakLaw::Hourly { table, .. } => {
                    let read = |f: &dyn Fn(f64, f64) -> f64| {
                        gather(models, |m| match m.leaks[i].law {
                            LeakLaw::Hourly { factor, party, .. } => f(factor, party),
                            _ => 0.0,
                        })
                    };
                    let [less, more] = PARTY_TRIED;
                    LawRow::Hourly {
                        table: *table,
                        factor: read(&|factor, _| factor),
                        // A parabola through the three leaks solved; beyond the outer two, straight lines from the middle.
                        party: [
                            read(&|_, g| match g {
                                g if g < less => (1.0 - g) / (1.0 - less),
                                g if g > more => 0.0,
                                g => (g - 1.0) * (g - more) / ((less - 1.0) * (less - more)),
                            }),
                            read(&|_, g| match g {
                                g if g < less => 0.0,
                                g if g > more => (g - 1.0) / (more - 1.0),
                                g => (g - 1.0) * (g - less) / ((more - 1.0) * (more - less)),
                            }),
                        ],
                    }
                }
            };
            LeakRow { zone: first.zone, from: first.from, law }
        })
        .collect()
}

impl<const L: usize> LeakRow<L> {
    /// Whether the flow is tabulated by the hour.
    pub fn is_hourly(&self) -> bool {
        matches!(self.law, LawRow::Hourly { .. })
    }

    /// Flow at one moment, m³/s, with the zone's temperature.
    #[inline(always)]
    pub fn flow(&self, at: &Moment<'_>, level: usize, zone_c: F<L>, surplus_beyond: F<L>) -> F<L> {
        match &self.law {
            LawRow::Constant(q) => *q,
            LawRow::StackWind { coefficient, exponent, stack_pa_k, wind } => {
                // Far below any real pressure, so that the logarithm stays finite without a branch.
                const LEAST_PA: f64 = 1e-9;
                let mut stack = [0.0; L];
                for l in 0..L {
                    stack[l] = stack_pa_k.0[l] * (zone_c.0[l] - at.outdoor_c).abs() + LEAST_PA;
                }
                let mut power = lanes::ln(&stack);
                for l in 0..L {
                    power[l] *= exponent.0[l];
                }
                let mut flow = lanes::exp(&power);
                let wind = &wind[level].0;
                for l in 0..L {
                    flow[l] = coefficient.0[l] * (flow[l] + wind[l]).sqrt();
                }
                F(flow)
            }
            LawRow::Hourly { table, factor, party } => {
                let flows = &at.drivers.hourly_flows.tables[*table];
                let read = |column: &[f64]| column.get(at.slot).copied().unwrap_or(0.0);
                let grown = F::all(flows.flow_m3_s[at.slot])
                    + (zone_c - F::all(FLOW_AT_C)) * flows.per_k[at.slot]
                    + (party[0] * read(&flows.party[0]) + party[1] * read(&flows.party[1]));
                let pushed = read(&flows.per_surplus);
                (*factor * grown + surplus_beyond * pushed).positive()
            }
        }
    }
}

/// What leaks need to know of a moment besides their zone.
pub(crate) struct Moment<'a> {
    pub drivers: &'a Drivers,
    pub outdoor_c: f64,
    /// Slot of the hourly flows; zero where there are none.
    pub slot: usize,
}

impl<'a> Moment<'a> {
    #[inline(always)]
    pub fn new(drivers: &'a Drivers, hour: usize, mode: usize) -> Self {
        Self {
            drivers,
            outdoor_c: drivers.outdoor_c[hour * drivers.steps_per_hour],
            // The check has seen that every hour has a slot for its modes.
            slot: drivers.hourly_flows.slot(hour, mode).unwrap_or(0),
        }
    }
}

/// Inflows of an epoch and the recovery in force.
pub(crate) struct Flows<const Z: usize, const L: usize> {
    /// From outdoors through leaks, m³/s.
    pub leaks: Column<Z, L>,
    /// From neighbours: Σ q and Σ q θ, Σ q x, Σ q C.
    pub given: Column<Z, L>,
    pub given_heat: Column<Z, L>,
    pub given_vapour: Column<Z, L>,
    pub given_co2: Column<Z, L>,
    /// Through opened windows.
    pub airing: Column<Z, L>,
    /// Recovery after bypass.
    pub recovery: F<L>,
    pub moisture_recovery: F<L>,
    pub mode: usize,
    /// Zones in use.
    pub zones: usize,
}

impl<const Z: usize, const L: usize> Flows<Z, L> {
    pub fn new(zones: usize) -> Self {
        Self {
            zones,
            leaks: [F::ZERO; Z],
            given: [F::ZERO; Z],
            given_heat: [F::ZERO; Z],
            given_vapour: [F::ZERO; Z],
            given_co2: [F::ZERO; Z],
            airing: [F::ZERO; Z],
            recovery: F::ZERO,
            moisture_recovery: F::ZERO,
            mode: 0,
        }
    }

    /// Evaluates the leaks for an hour, with the zones' temperatures at its beginning.
    #[inline(always)]
    pub fn leak(
        &mut self,
        rows: &[LeakRow<L>],
        drivers: &Drivers,
        surplus_beyond: F<L>,
        hour: usize,
        level: usize,
        air_c: &Column<Z, L>,
    ) {
        self.leaks = [F::ZERO; Z];
        self.given = [F::ZERO; Z];
        self.given_heat = [F::ZERO; Z];
        self.given_vapour = [F::ZERO; Z];
        self.given_co2 = [F::ZERO; Z];
        let at = Moment::new(drivers, hour, self.mode);
        for row in rows {
            let z = row.zone;
            let q = row.flow(&at, level, air_c[z], surplus_beyond);
            match row.from {
                LeakFrom::Outdoors => self.leaks[z] += q,
                LeakFrom::Given(i) => {
                    let source = &drivers.given[i];
                    self.given[z] += q;
                    self.given_heat[z] += q * source.temperature_c[hour];
                    self.given_vapour[z] += q * source.humidity_kg_kg[hour];
                    self.given_co2[z] += q * source.co2_ppm;
                }
            }
        }
    }

    /// Adds the inflows of one carried quantity to a matrix: `unit` is J/(m³·K), kg/m³ or 1.
    ///
    /// Returns the coefficient of the outdoor value in each row; `fixed` receives what neighbours bring.
    #[inline(always)]
    pub fn carry(
        &self,
        mode: &ModeFlows<Z, L>,
        unit: F<L>,
        recovery: F<L>,
        matrix: &mut Matrix<Z, L>,
    ) -> Column<Z, L> {
        let n = rows::<Z, L>(self.zones);
        let mut outdoor = [F::ZERO; Z];
        for z in 0..n {
            let open = self.leaks[z] + self.airing[z];
            matrix[z][z] += unit * (open + self.given[z] + mode.supply[z]);
            outdoor[z] = unit * (open + mode.supply[z] * (F::ONE - recovery));
        }
        if mode.supplies {
            for z in 0..n {
                let recovered = unit * mode.supply[z] * recovery;
                for y in 0..n {
                    matrix[z][y] -= recovered * mode.extract_share[y];
                }
            }
        }
        for (from, to, q) in &mode.between {
            matrix[*to][*to] += unit * *q;
            matrix[*to][*from] -= unit * *q;
        }
        outdoor
    }

    /// Splits what was carried over an epoch by cause, from sums of the outdoor value and the zones' values.
    /// Order: leaks (neighbours' air included), ventilation, airing, between zones.
    #[inline(always)]
    pub fn carried(
        &self,
        mode: &ModeFlows<Z, L>,
        unit: F<L>,
        recovery: F<L>,
        outdoor_sum: f64,
        zone_sum: &Column<Z, L>,
        given_sum: &Column<Z, L>,
    ) -> [Column<Z, L>; 4] {
        let n = rows::<Z, L>(self.zones);
        let mut out = [[F::ZERO; Z]; 4];
        let mut mix = F::ZERO;
        if mode.supplies {
            for y in 0..n {
                mix += mode.extract_share[y] * zone_sum[y];
            }
        }
        let outdoor = F::all(outdoor_sum);
        for z in 0..n {
            let t = zone_sum[z];
            out[0][z] = unit * (self.leaks[z] * (outdoor - t) + given_sum[z] - self.given[z] * t);
            let supplied = outdoor + recovery * (mix - outdoor);
            out[1][z] = unit * mode.supply[z] * (supplied - t);
            out[2][z] = unit * self.airing[z] * (outdoor - t);
        }
        for (from, to, q) in &mode.between {
            out[3][*to] += unit * *q * (zone_sum[*from] - zone_sum[*to]);
        }
        out
    }
}

/// Returns an empty matrix; here so that callers need not name the solver's.
#[inline(always)]
pub(crate) fn blank<const Z: usize, const L: usize>() -> Matrix<Z, L> {
    zero()
}
