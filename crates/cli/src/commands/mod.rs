//! One file a command.

mod check;
mod demo;
mod new;
mod verify;

use crate::args::{Args, Command};
use crate::failure::Failure;
use crate::terminal::Terminal;
use crate::Ended;

/// Carries a command out.
pub fn run(args: &Args, terminal: &Terminal) -> Result<Ended, Failure> {
    match &args.command {
        Command::New(options) => new::run(options, terminal),
        Command::Survey(options) => new::survey(options, terminal),
        Command::Demo(options) => demo::run(options, terminal),
        Command::Check(options) => check::run(options, terminal),
        Command::Verify(options) => verify::run(options, terminal),
        Command::Status(_) | Command::Why(_) | Command::Sheets(_) => Err(Failure::Internal("later".to_owned())),
    }
}
