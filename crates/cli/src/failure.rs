//! What can go wrong, sorted: the user's input, the surroundings, the command line, ourselves.

use crate::terminal::Terminal;
use project::diagnostic::Report;
use std::io;

/// Why a command could not be carried out.
#[derive(Debug)]
pub enum Failure {
    /// The project's texts need mending: every problem with its place.
    Input(Box<Report>),
    /// The command line asks for something that is not there.
    CommandLine {
        /// What.
        message: String,
        /// What to type instead.
        hint: String,
    },
    /// The disk, its rights, the surroundings.
    Surroundings {
        /// What was tried.
        doing: String,
        /// What the system said.
        error: io::Error,
    },
    /// The site log could not do it; its words say what to do.
    Log(Box<project::log::LogError>),
    /// The input needs mending, and the output has said so.
    Told,
    /// A mistake of this program.
    Internal(String),
    /// The reader of our output went away; that is no failure.
    ClosedPipe,
}

impl Failure {
    /// Returns the exit code: 2 for everything that the user can mend, 3 for a mistake of this program.
    pub fn code(&self) -> u8 {
        match self {
            Self::ClosedPipe => 0,
            Self::Internal(_) => 3,
            _ => 2,
        }
    }

    /// Says it.
    pub fn told(&self, terminal: &Terminal) -> String {
        match self {
            Self::Input(report) => report.render(terminal.style()),
            Self::CommandLine { message, hint } => format!("{message}\n  {hint}\n"),
            Self::Surroundings { doing, error } => {
                format!(
                    "{doing}: {error}\n  nothing in the project was changed; check the disk and its rights\n"
                )
            }
            Self::Log(error) => terminal.paragraph(&format!("{error}"), ""),
            Self::Internal(what) => format!(
                "windtight made a mistake: {what}\n  this is not your input's fault; please keep the project folder and report it\n"
            ),
            Self::ClosedPipe | Self::Told => String::new(),
        }
    }

    /// Makes a failure of the surroundings; for use in `map_err`.
    pub fn while_doing(doing: impl Into<String>) -> impl FnOnce(io::Error) -> Self {
        let doing = doing.into();
        move |error| Self::Surroundings { doing, error }
    }
}

impl From<Box<Report>> for Failure {
    fn from(report: Box<Report>) -> Self {
        Self::Input(report)
    }
}
