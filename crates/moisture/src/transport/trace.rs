//! What a run leaves behind: hour by hour, interface by interface, layer by layer.

use super::{Crossing, Effort, FaceState, Simulation, Start};
use crate::drive::Drive;
use crate::error::MoistureError;

/// Hourly (period by period) record of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Length of a period, h.
    pub period_h: f64,
    /// Per interface, per period: its state (the damper side where a sheet splits it).
    pub interfaces: Vec<Vec<FaceState>>,
    /// Per layer, per period: water, kg/m².
    pub layer_water_kg_m2: Vec<Vec<f64>>,
    /// Per layer, per period: wettest cell, kg/m³.
    pub layer_peak_kg_m3: Vec<Vec<f64>>,
    /// Per layer, per period: temperature of its coldest cell, °C.
    pub layer_coldest_c: Vec<Vec<f64>>,
    /// What crossed the bounds altogether.
    pub crossed: Crossing,
    /// Counts and closures.
    pub effort: Effort,
}

impl Trace {
    /// Makes room for a wall's record.
    pub fn new(simulation: &Simulation, period_s: f64) -> Self {
        let n = simulation.wall().layers.len();
        Self {
            period_h: period_s / 3600.0,
            interfaces: vec![Vec::new(); n + 1],
            layer_water_kg_m2: vec![Vec::new(); n],
            layer_peak_kg_m3: vec![Vec::new(); n],
            layer_coldest_c: vec![Vec::new(); n],
            ..Self::default()
        }
    }

    /// Adds the present state.
    pub fn push(&mut self, s: &Simulation) {
        for (k, list) in self.interfaces.iter_mut().enumerate() {
            let (a, b) = (s.interface_inner(k), s.interface(k));
            list.push(if (a.film_kg_m2, a.humidity) > (b.film_kg_m2, b.humidity) { a } else { b });
        }
        for k in 0..self.layer_water_kg_m2.len() {
            let (water, peak, coldest) = s.layer_summary(k);
            self.layer_water_kg_m2[k].push(water);
            self.layer_peak_kg_m3[k].push(peak);
            self.layer_coldest_c[k].push(coldest);
        }
    }

    /// Number of periods recorded.
    pub fn periods(&self) -> usize {
        self.interfaces.first().map_or(0, Vec::len)
    }
}

impl Simulation {
    /// Runs from a start through a drive and records every period.
    ///
    /// # Errors
    /// Those of [`Simulation::start`] and [`Simulation::run`].
    pub fn record(
        &mut self,
        temperature_c: f64,
        start: &[Start],
        drive: &Drive,
        duration_s: f64,
    ) -> Result<Trace, Vec<MoistureError>> {
        self.start(temperature_c, start)?;
        self.record_on(drive, duration_s)
    }

    /// Runs on from the present state and records every period.
    ///
    /// # Errors
    /// Those of [`Simulation::run`].
    pub fn record_on(&mut self, drive: &Drive, duration_s: f64) -> Result<Trace, Vec<MoistureError>> {
        let mut trace = Trace::new(self, drive.period_s);
        self.run(drive, duration_s, |s| trace.push(s))?;
        trace.crossed = self.crossed();
        trace.effort = self.effort();
        Ok(trace)
    }

    /// Runs whole years until the water in every layer repeats itself, and returns each year's end content of the wall,
    /// kg/m²; true when it came to repeat.
    ///
    /// After every second year the change of a cell is carried on to where changes shrinking at the wall's ratio would
    /// end (at most eight times the last change); only a plain year after that decides. `tolerance` is the largest
    /// yearly change of a layer, as a share of its content, that counts as repeating.
    ///
    /// # Errors
    /// Those of [`Simulation::run`].
    pub fn run_to_repeat(
        &mut self,
        drive: &Drive,
        tolerance: f64,
        most_years: usize,
    ) -> Result<(Vec<f64>, bool), Vec<MoistureError>> {
        let year_s = drive.period_s * drive.inside.len() as f64;
        let layers = self.wall().layers.len();
        let mut ends = Vec::new();
        let mut change_before = None;
        for year in 0..most_years {
            let water: Vec<f64> = (0..layers).map(|k| self.layer_water_kg_m2(k)).collect();
            let masses = self.now.masses.clone();
            self.run(drive, year_s, |_| {})?;
            ends.push(self.water_kg_m2());
            let repeats = water.iter().enumerate().all(|(k, was)| {
                let now = self.layer_water_kg_m2(k);
                (now - was).abs() <= tolerance * now.abs()
            });
            if repeats {
                return Ok((ends, true));
            }
            let change: f64 = self.now.masses.iter().zip(&masses).map(|(a, b)| a - b).sum();
            let ratio = change_before.map(|before: f64| change / before);
            change_before = Some(change);
            if let Some(ratio) = ratio
                && year % 2 == 1
                && ratio > 0.05
                && ratio < 1.0
            {
                self.carry_on(&masses, (ratio / (1.0 - ratio)).min(8.0));
                change_before = None;
            }
        }
        Ok((ends, false))
    }

    /// Moves every cell on by `times` the change of its water since `masses`, within what it can hold.
    fn carry_on(&mut self, masses: &[f64], times: f64) {
        for layer in 0..self.wall.layers.len() {
            let material = self.wall.layers[layer].material.clone();
            for i in self.body.mesh.cells[layer].clone() {
                let (now, width) = (self.now.masses[i], self.body.mesh.width_m(i));
                let wanted = now + times * (now - masses[i]);
                let water =
                    wanted.clamp(0.2 * now, material.saturation_kg_m3.max(now / width) * width) / width;
                self.now.states[i][1] = material.curves.potential_of_water(water);
            }
        }
        self.refresh();
    }

    /// Water (kg/m²), wettest cell (kg/m³) and coldest cell (°C) of a layer.
    fn layer_summary(&self, layer: usize) -> (f64, f64, f64) {
        let (mut water, mut peak, mut coldest) = (0.0, 0.0_f64, f64::INFINITY);
        for i in self.body.mesh.cells[layer].clone() {
            water += self.now.masses[i];
            peak = peak.max(self.water_at(i));
            coldest = coldest.min(self.now.states[i][0]);
        }
        (water, peak, coldest)
    }
}
