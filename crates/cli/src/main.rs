//! The `windtight` command: thin over `project`, `sheets` and `checks`; it holds no formula.
//!
//! [`args`] defines every command and option (and `docs/cli.md` with them), [`commands`] carries them out,
//! [`terminal`] knows width, colour and closed pipes, [`failure`] sorts what can go wrong.
//!
//! Data goes to standard output, talk to standard error.
#![forbid(unsafe_code)]

mod args;
mod commands;
mod failure;
mod figures;
mod terminal;

use clap::Parser as _;
use failure::Failure;
use std::process::ExitCode;
use terminal::Terminal;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ended {
    /// All limits met, or nothing was judged.
    Well,
    /// A limit is not met, or a check is out.
    NotMet,
}

fn main() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(error) => {
            // Help and version are answers, not failures. A closed pipe while printing either is none.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    let terminal = Terminal::new(args.color, args.ascii);
    let outcome = commands::run(&args, &terminal);
    match outcome {
        Ok(Ended::Well) => ExitCode::SUCCESS,
        Ok(Ended::NotMet) => ExitCode::from(1),
        Err(Failure::ClosedPipe) => ExitCode::SUCCESS,
        Err(failure) => {
            terminal.say(&failure.told(&terminal));
            ExitCode::from(failure.code())
        }
    }
}
