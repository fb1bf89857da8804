//! Air on a job: from readings, records and the book to what a builder asks about leaks and fresh air.
//!
//! Each file puts questions to the laws of the air crate and answers with a plain structure that terminal, JSON, findings and
//! sheet share; no law is written here. [`report`](fn@report) evaluates a pressure test, [`Story::of`] gathers everything
//! about a project's air, [`gathering`](fn@gathering) runs a crowd, [`commission`](fn@commission) holds flows against design.

mod commission;
mod evaluate;
mod file;
mod fresh;
mod gathering;
mod guard;
mod leak_list;
mod leaks;
mod logged;
mod report;
mod test_day;
#[cfg(test)]
mod tests;

pub use commission::{
    AdviceLine, CommissionReport, IMBALANCE_LIMIT, ModeReport, TERMINAL_TOLERANCE, TerminalReport,
    UnitReport, commission,
};
pub use evaluate::{Ask, Per, circumstances, instruments, neighbour_words, report, source_words};
pub use file::{ask_of, read};
pub use fresh::{MakeUp, RoomAir, Transfer, make_up, rooms, transfers};
pub use gathering::{
    FailureLine, GatheringAsk, GatheringReport, Heads, MinuteLine, SENSOR_HALF_WIDTH_PPM, SoundLine,
    gathering, gathering_names, open_doors_m3_h,
};
pub use guard::{Separation, separation};
pub use leak_list::Item;
pub use leaks::{
    ForecastReport, LeakLine, StageReport, StepLine, SuspectLine, SuspectsReport, forecast, stage_target,
    suspects,
};
pub use logged::{Logged, logged};
pub use report::*;
pub use test_day::{ExpectedFlow, FanNeed, fan_need};

use crate::check::Project;
use ::air::readings::Neighbour;

/// Reference pressure of the limits, Pa (ISO 9972).
pub const REFERENCE_PA: f64 = 50.0;

/// The tests of a project's log, evaluated against what the project asks.
#[derive(Clone, Debug)]
pub struct Air {
    /// Limits, sizes, counting rules.
    pub ask: Ask,
    /// Tests in the order of the log, each with its report; those that allow no evaluation are left out.
    pub tests: Vec<(Logged, TestReport)>,
}

impl Air {
    /// Evaluates the log of a project.
    pub fn of(project: &Project) -> Self {
        let ask = ask_of(project, None).unwrap_or_default();
        let tests = logged(project).into_iter().filter_map(|l| l.told(&ask).map(|told| (l, told))).collect();
        Self { ask, tests }
    }

    /// Returns the test the limit is judged by: of the latest day, the guarded one where there is one, a whole one before a
    /// quick reading.
    pub fn latest(&self) -> Option<&(Logged, TestReport)> {
        let last = self.tests.iter().map(|(l, _)| l.day.as_str()).max()?;
        let of_day = self.tests.iter().filter(|(l, _)| l.day == last);
        let rank =
            |(l, t): &&(Logged, TestReport)| (l.file.neighbour == Neighbour::EqualPressure, t.standard_test);
        // Of equals the later record counts.
        of_day.max_by_key(rank)
    }

    /// Returns the limit as a flow at the reference pressure, m³/h, where the job has one on the air change.
    pub fn limit_m3_h(&self) -> Option<f64> {
        let (_, limit) = self.ask.limits.iter().find(|(per, _)| *per == Per::Volume)?;
        Some(limit * self.ask.volume?.value)
    }
}

/// Everything about a project's air.
#[derive(Clone, Debug)]
pub struct Story {
    /// Tests.
    pub air: Air,
    /// Forecast of the finished building.
    pub forecast: Option<ForecastReport>,
    /// Where the rest is.
    pub suspects: Option<SuspectsReport>,
    /// What today's reading must be.
    pub stage: Option<StageReport>,
    /// Party boundary apart from the outside.
    pub separation: Option<Separation>,
    /// Outdoor air by room.
    pub rooms: Vec<RoomAir>,
    /// What units carry over from extract to supply.
    pub transfers: Vec<Transfer>,
    /// What burns.
    pub make_up: Vec<MakeUp>,
    /// What the fan must do on a test day.
    pub fan: Option<FanNeed>,
    /// Flows against design.
    pub commission: CommissionReport,
}

impl Story {
    /// Gathers it.
    pub fn of(project: &Project) -> Self {
        let air = Air::of(project);
        let forecast = forecast(project, &air);
        Self {
            fan: fan_need(project, &air, forecast.as_ref()),
            forecast,
            suspects: suspects(project, &air),
            stage: stage_target(project, &air),
            separation: separation(project, &air),
            rooms: rooms(project),
            transfers: transfers(project),
            make_up: make_up(project, &air),
            commission: commission(project, &air),
            air,
        }
    }
}
