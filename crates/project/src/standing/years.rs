//! The simulated years behind a standing.

use crate::check::Project;
use year::result::YearResult;

/// One year a use, as far as they could be run.
#[derive(Clone, Debug, Default)]
pub struct Years {
    /// Under the limit set's standard assumption.
    pub standard: Option<YearResult>,
    /// As the building will really be used.
    pub real: Option<YearResult>,
    /// Why a year is missing, and what was kept from before.
    pub notices: Vec<String>,
}

impl Years {
    /// Runs both years at their nominal values.
    pub fn run(project: &Project) -> Self {
        let name = &project.building.project.name;
        Self { notices: vec![format!("No year of {name} was run.")], ..Self::default() }
    }
}
