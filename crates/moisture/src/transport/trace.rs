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
