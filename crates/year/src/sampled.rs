//! Years of many samples with what limits need: the hourly figures, the monthly method, primary energy.
//!
//! Start at [`Frame::sampled`]. What all samples share is taken once in [`Kept`].

use building::Resolved;

use crate::assemble::{Frame, PlantThere};
use crate::error::YearError;
use crate::kernel::{self, Model};
use crate::monthly::Conventions;
use crate::quasi_steady::{self, Months};
use crate::services::hours::renewable_supply;
use crate::tell::{Figures, Seasons, sample_energy};

/// What samples of a frame share beyond the frame itself.
#[derive(Clone, Debug)]
pub struct Kept {
    months: Months,
    cools: bool,
    seasons: Option<Seasons>,
}

impl Kept {
    /// Adds up the frame's drivers.
    pub fn new(frame: &Frame<'_>) -> Self {
        // The nominal year hour by hour carries the samples' energy; where it cannot run, no sample can either.
        let seasons = frame.year(&frame.building.values.nominal()).ok().map(|year| Seasons::of(frame, &year));
        Self { months: Months::of(frame), cools: PlantThere::of(frame.building).cools, seasons }
    }
}

/// One sample's year.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sampled {
    /// By the hourly balance.
    pub figures: Figures,
    /// Heating demand by the monthly method, J.
    pub monthly_heating_j: f64,
    /// Sensible cooling demand by the monthly method, J.
    pub monthly_cooling_j: f64,
    /// Primary energy, J.
    pub primary_j: f64,
    /// Electricity, J.
    pub electricity_j: f64,
    /// Electricity weighted for a wholly renewable supply, J.
    pub renewable_supply_j: f64,
}

impl Frame<'_> {
    /// Returns heating and sensible cooling demand by the monthly method alone, J: cheap, for rankings.
    ///
    /// # Errors
    /// [`YearError`] when the sample makes no model.
    pub fn monthly(&self, kept: &Kept, r: &Resolved) -> Result<(f64, f64), YearError> {
        let model = self.checked(r)?;
        let year = quasi_steady::run_on(&kept.months, self, &model, r, Conventions::default());
        Ok((year.heating_j, year.cooling_j))
    }

    /// Runs samples side by side, `width` at a time, and returns what limits need, in order.
    ///
    /// # Errors
    /// [`YearError`], for the first sample found wrong.
    pub fn sampled(
        &self,
        kept: &Kept,
        samples: &[Resolved],
        width: usize,
    ) -> Result<Vec<Sampled>, YearError> {
        let models: Vec<Model> = samples.iter().map(|r| self.checked(r)).collect::<Result<_, _>>()?;
        let years = kernel::run_many(&self.drivers, &models, width, &self.options)?;
        let of = |((r, model), year): ((&Resolved, &Model), &kernel::KernelYear)| {
            let figures = self.figures_of(year);
            let monthly = quasi_steady::run_on(&kept.months, self, model, r, Conventions::default());
            let energy = sample_energy(self, r, &figures.demand, kept.seasons.as_ref());
            Sampled {
                figures,
                monthly_heating_j: monthly.heating_j,
                monthly_cooling_j: if kept.cools { monthly.cooling_j } else { 0.0 },
                primary_j: energy.primary_j,
                electricity_j: energy.electricity_j,
                renewable_supply_j: kept.seasons.as_ref().map_or(1.0, |s| s.bought)
                    * energy
                        .end_uses
                        .iter()
                        .filter(|e| e.carrier == "electricity")
                        .map(|e| renewable_supply(e.end_use) * e.delivered_j)
                        .sum::<f64>(),
            }
        };
        Ok(samples.iter().zip(&models).zip(&years).map(of).collect())
    }
}
