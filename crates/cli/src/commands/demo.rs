//! `windtight demo`.

use crate::Ended;
use crate::args::Demo;
use crate::failure::Failure;
use crate::terminal::Terminal;
use project::demo::{MUSIC_SCHOOL, NARROW_HOUSE, Written};
use project::standing::Years;
use std::path::PathBuf;

/// Writes an example, works out where it stands and draws its sheets. Succeeds unless it could not run.
pub fn run(options: &Demo, terminal: &Terminal) -> Result<Ended, Failure> {
    let example = if options.house { &NARROW_HOUSE } else { &MUSIC_SCHOOL };
    let folder = options.folder.clone().unwrap_or_else(|| PathBuf::from(example.folder));
    let shown = folder.display().to_string();
    let written =
        example.write(&folder).map_err(Failure::while_doing(format!("writing the example to {shown}")))?;
    match written {
        Written::New => terminal.say(&format!("wrote the example to {shown}\n")),
        Written::Same => {}
        Written::Kept => terminal.say(&format!("{shown} holds files of yours; they were left as they are\n")),
    }
    let (project, report) = project::open(&folder)?;
    terminal.say(&report.render(terminal.style()));
    let years = terminal.busy("running the year", |_| Years::run(&project));
    let standing = super::status::work_out(&project, terminal);
    terminal.print(&super::status::page(&standing, &shown, false, terminal))?;
    let (index, _) = super::sheets::write(&project, &standing, &years, &folder.join("sheets"))?;
    terminal.print(&format!("  sheets are in {}\n", index.display()))?;
    Ok(Ended::Well)
}
