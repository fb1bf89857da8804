//! The balance of zones over a year, on plain arrays; it knows no building.
//!
//! One call runs one sample, or several of the same structure side by side in lanes ([`run_many`]). Each step the
//! faces, radiant nodes and air of all zones are solved together, implicitly: no step length is unstable, steady
//! states are exact, and heat and vapour close to rounding, because face temperatures are held over a step while
//! the modes of the elements run exactly between.
//!
//! Start at [`input`] for what goes in, [`result`] for what comes out. Inside: `prepare` (tables that do not
//! change from step to step), `flows` (air), `solve` (set points and limits), `run` (the time loop), `tally`
//! (heat and vapour by cause).
//!
//! # Error in time
//! First order in the step: what stores heat answers half a step late (7½ minutes at quarter-hours, which moves a
//! day's swing behind a massive wall by up to one per cent in size). Steady states are exact. Set points are met in
//! every step; the power is the step's mean.
//!
//! # Limits
//! Inside films are constant; the plant is ideal and heats or cools the air only; air is well mixed in each zone;
//! vapour's own heat capacity is left out of the air's.

mod check;
mod flows;
pub mod input;
mod lane;
mod prepare;
pub mod result;
mod run;
mod solve;
mod tally;

#[cfg(test)]
mod tests;

use numeric::dispatch::{self, Kernel, Path};

pub use check::KernelError;
pub use input::{Drivers, Model, Options};
pub use result::{KernelYear, ZoneBalance};

use lane::F;

/// Most samples side by side: eight doubles fill two vector registers; wider was no faster for its compile time.
pub const MOST_LANES: usize = 8;
/// Most zones a run can have.
pub const MOST_ZONES: usize = 32;

/// Runs one sample.
///
/// # Errors
/// [`KernelError`] when the drivers or the model contradict themselves or each other.
pub fn run(drivers: &Drivers, model: &Model, options: &Options) -> Result<KernelYear, KernelError> {
    let mut years = run_many(drivers, std::slice::from_ref(model), 1, options)?;
    years.pop().ok_or(KernelError::Length { what: "results".into(), found: 0, expected: 1 })
}

/// Runs samples of one structure, `width` (at most [`MOST_LANES`]) side by side. The width changes no bit of the results.
///
/// # Errors
/// [`KernelError`], for the first sample found wrong.
pub fn run_many(
    drivers: &Drivers,
    models: &[Model],
    width: usize,
    options: &Options,
) -> Result<Vec<KernelYear>, KernelError> {
    run_many_on(Path::Widest, drivers, models, width, options)
}

/// As [`run_many`], on a chosen instruction path; tests compare the bytes of both.
///
/// # Errors
/// [`KernelError`], for the first sample found wrong.
pub fn run_many_on(
    path: Path,
    drivers: &Drivers,
    models: &[Model],
    width: usize,
    options: &Options,
) -> Result<Vec<KernelYear>, KernelError> {
    check::drivers(drivers)?;
    let Some(first) = models.first() else { return Ok(Vec::new()) };
    if options.trace && models.len() > 1 {
        return Err(KernelError::TraceOfLanes { lanes: models.len() });
    }
    for (lane, model) in models.iter().enumerate() {
        check::model(drivers, model)?;
        check::same_structure(lane, first, model)?;
    }
    let zones = first.zones.len();
    // Runs of many zones (every room) go one at a time: their small matrices fill the vector registers alone.
    let width = if zones > 4 { 1 } else { width.clamp(1, MOST_LANES) };
    let mut years = Vec::with_capacity(models.len());
    for batch in models.chunks(width) {
        let batch: Vec<&Model> = batch.iter().collect();
        let job = Job { path, drivers, models: &batch, options };
        years.extend(match (zones, width) {
            // Few sizes, because each is compiled for every instruction path; smaller runs leave rows unused.
            (..=4, 1) => job.run::<4, 1>(),
            (5..=32, _) => job.run::<32, 1>(),
            (..=4, _) => job.run::<4, 8>(),
            _ => return Err(KernelError::TooManyZones { zones, most: MOST_ZONES }),
        });
    }
    Ok(years)
}

/// Returns what a model's leaks bring into all zones by hour and air mode, m³/s, at one inside temperature. For methods
/// beside the hourly balance. `from` picks one source; `winds` are the wind speeds that occur, m/s, and the place of each hour's among them.
pub fn leakages_m3_s<'a>(
    drivers: &'a Drivers,
    model: &'a Model,
    from: Option<input::LeakFrom>,
    winds: &'a (Vec<f64>, Vec<usize>),
    inside_c: f64,
) -> impl Fn(usize, usize) -> f64 + 'a {
    let rows = flows::leak_rows::<1>(&[model], &winds.0);
    move |hour, mode| {
        let at = flows::Moment::new(drivers, hour, mode);
        let beyond = F([model.air_modes[mode].surplus_beyond_m3_s]);
        rows.iter()
            .filter(|row| from.is_none_or(|from| row.from == from))
            .map(|row| row.flow(&at, winds.1[hour], F([inside_c]), beyond).0[0])
            .sum()
    }
}

/// Returns what a model's leaks bring into each zone by hour, air mode and temperatures of the zones, m³/s; for leaks
/// whose flows are tabulated by the hour.
pub fn leak_rows_m3_s<'a>(
    drivers: &'a Drivers,
    model: &'a Model,
) -> impl Fn(usize, usize, &[f64]) -> Vec<f64> + 'a {
    let rows = flows::leak_rows::<1>(&[model], &[]);
    move |hour, mode, zones_c| {
        let at = flows::Moment::new(drivers, hour, mode);
        let beyond = F([model.air_modes[mode].surplus_beyond_m3_s]);
        let mut sums = vec![0.0; zones_c.len()];
        for row in rows.iter().filter(|row| row.is_hourly()) {
            sums[row.zone] += row.flow(&at, 0, F([zones_c[row.zone]]), beyond).0[0];
        }
        sums
    }
}

/// Returns the wind speeds that occur, m/s, and the place of each hour's among them, for [`leakages_m3_s`].
pub fn wind_levels(drivers: &Drivers) -> (Vec<f64>, Vec<usize>) {
    let mut winds: Vec<f64> = drivers.wind_m_s.clone();
    winds.sort_by(f64::total_cmp);
    winds.dedup();
    let level = |v: &f64| winds.partition_point(|w| w < v).min(winds.len().saturating_sub(1));
    let of_hour = drivers.wind_m_s.iter().map(level).collect();
    (winds, of_hour)
}

struct Job<'a> {
    path: Path,
    drivers: &'a Drivers,
    models: &'a [&'a Model],
    options: &'a Options,
}

impl Job<'_> {
    /// Prepares the tables once, outside the dispatched loop, which then is all that each path compiles.
    fn run<const Z: usize, const L: usize>(&self) -> Vec<KernelYear> {
        self.prepared::<Z, L, _>(|path, tables| dispatch::run_on(path, InLanes(tables)))
    }

    fn prepared<const Z: usize, const L: usize, R>(
        &self,
        then: impl FnOnce(Path, &run::Tables<'_, Z, L>) -> R,
    ) -> R {
        let Job { drivers, models, options, path } = *self;
        let prepared = prepare::prepare::<Z, L>(drivers, models);
        let lane = |f: fn(&Model) -> f64| F::<L>::from_fn(|l| f(models[l.min(models.len() - 1)]));
        let tables = run::Tables {
            drivers,
            options,
            prepared: &prepared,
            modes: &flows::mode_flows(models),
            leaks: &flows::leak_rows(models, &prepared.speeds),
            models,
            heat_unit: lane(|m| m.air_heat_j_m3k),
            density: lane(|m| m.air_density_kg_m3),
            bypass_extract: lane(|m| m.bypass.map_or(f64::INFINITY, |b| b.extract_above_c)),
            bypass_outdoor: lane(|m| m.bypass.map_or(f64::INFINITY, |b| b.outdoor_above_c)),
            has_bypass: models.iter().any(|m| m.bypass.is_some()),
        };
        then(path, &tables)
    }
}

/// A prepared job for `Z` zones in `L` lanes.
struct InLanes<'a, const Z: usize, const L: usize>(&'a run::Tables<'a, Z, L>);

impl<const Z: usize, const L: usize> Kernel for InLanes<'_, Z, L> {
    type Output = Vec<KernelYear>;

    #[inline(always)]
    fn run(self) -> Vec<KernelYear> {
        run::run(self.0)
    }
}
