//! The simulated years behind a standing.

use super::machines::Machines;
use crate::best::best_estimate;
use crate::check::Project;
use building::Building;
use year::{Grain, Use, YearError, YearResult};

/// One year a use, as far as they could be run.
#[derive(Clone, Debug, Default)]
pub struct Years {
    /// Under the limit set's standard assumption.
    pub standard: Option<YearResult>,
    /// As the building will really be used.
    pub real: Option<YearResult>,
    /// Loads, rooms left cold or hot, places of the water heater.
    pub machines: Option<Machines>,
    /// Why a year is missing, and what was kept from before.
    pub notices: Vec<String>,
}

impl Years {
    /// Runs both years side by side at the best estimates: what the book states, with what the site log says of it.
    pub fn run(project: &Project) -> Self {
        Self::without_machines(project).with_machines(project)
    }

    /// The same without machines: what limits and chances ask for.
    pub fn without_machines(project: &Project) -> Self {
        Self::of(project, &best_estimate(project))
    }

    /// Runs both years at what the book states, without the site log and without machines.
    pub fn as_stated(project: &Project) -> Self {
        Self::of(project, &project.building)
    }

    /// Adds loads, rooms left cold or hot and places of the water heater: some seconds of work.
    #[must_use]
    pub fn with_machines(mut self, project: &Project) -> Self {
        match Machines::run(&best_estimate(project), &project.weather.climate) {
            Ok(machines) => self.machines = Some(machines),
            Err(error) => self.notices.push(format!("Loads and rooms were not worked out: {error}.")),
        }
        self
    }

    fn of(project: &Project, building: &Building) -> Self {
        let run = |of| year::run(building, &project.weather.climate, of, Grain::Limits);
        let (standard, real) = rayon::join(|| run(Use::Standard), || run(Use::Real));
        let mut years = Self::default();
        let mut keep = |of: Use, result: Result<YearResult, YearError>| match result {
            Ok(year) => Some(year),
            Err(error) => {
                years.notices.push(format!("The year under {} use was not run: {error}.", of.word()));
                None
            }
        };
        let (standard, real) = (keep(Use::Standard, standard), keep(Use::Real, real));
        Self { standard, real, ..years }
    }
}
