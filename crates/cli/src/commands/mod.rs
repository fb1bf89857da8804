//! One file a command.

mod check;
mod commission;
mod compare;
mod demo;
mod detail;
mod dry;
mod gathering;
mod log;
mod new;
mod pressure_test;
mod serve;
mod sheets;
mod size;
mod status;
mod story;
mod verify;
mod why;
mod works;

use crate::Ended;
use crate::args::{Args, Command};
use crate::failure::Failure;
use crate::terminal::Terminal;

/// Carries a command out.
pub fn run(args: &Args, terminal: &Terminal) -> Result<Ended, Failure> {
    match &args.command {
        Command::New(options) => new::run(options, terminal),
        Command::Survey(options) => new::survey(options, terminal),
        Command::Demo(options) => demo::run(options, terminal),
        Command::Check(options) => check::run(options, terminal),
        Command::Detail(options) => detail::run(options, terminal),
        Command::Verify(options) => verify::run(options, terminal),
        Command::Status(options) => status::run(options, terminal),
        Command::Dry(options) => dry::run(options, terminal),
        Command::Story(options) => story::run(options, terminal),
        Command::Compare(options) => compare::run(options, terminal),
        Command::Why(options) => why::run(options, terminal),
        Command::PressureTest(options) => pressure_test::run(options, terminal),
        Command::Log(options) => log::run(options, terminal),
        Command::Works(options) => works::run(options, terminal),
        Command::Takeoff(options) => works::takeoff(options, terminal),
        Command::Gathering(options) => gathering::run(options, terminal),
        Command::Commission(options) => commission::run(options, terminal),
        Command::Size(options) => size::run(options, terminal),
        Command::Sheets(options) => sheets::run(options, terminal),
        Command::Serve(options) => serve::run(options, terminal),
    }
}
