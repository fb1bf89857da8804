//! `windtight sheets`.

use crate::Ended;
use crate::args::Sheets;
use crate::failure::Failure;
use crate::terminal::Terminal;
use project::Project;
use project::diagnostic::count;
use project::standing::{Standing, Years};
use sheets::Input;
use std::path::{Path, PathBuf};

/// Draws the sheets of a project.
pub fn run(options: &Sheets, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let out = options.out.clone().unwrap_or_else(|| options.folder.join("sheets"));
    let years = terminal.busy("running the year", |_| Years::run(&project));
    let standing = super::status::work_out(&project, terminal);
    let (index, number) = write(&project, &standing, &years, &out)?;
    terminal.print(&format!("{}\n", index.display()))?;
    terminal.say(&format!("{} drawn; open the first in any browser\n", count(number, "sheet")));
    Ok(Ended::Well)
}

/// Writes the set; returns the way in and how many sheets there are.
pub fn write(
    project: &Project,
    standing: &Standing,
    years: &Years,
    out: &Path,
) -> Result<(PathBuf, usize), Failure> {
    let moisture = project::dry::at_hand(project);
    let workings = sheets::workings(&project.building, &project.building.values.nominal());
    let air = project::air::Story::of(project);
    let input = Input {
        air: Some(&air),
        standing,
        building: &project.building,
        workings: &workings,
        details: &project.details,
        year: years.real.as_ref().or(years.standard.as_ref()),
        moisture: moisture.as_ref(),
        machines: years.machines.as_ref(),
        revision: project.inputs.text(),
    };
    let log = sheets::adapt::site_log(project).map_err(|e| Failure::Log(Box::new(e)))?;
    let set = sheets::render_with(&input, Some(&log));
    std::fs::create_dir_all(out)
        .map_err(Failure::while_doing(format!("making the folder {}", out.display())))?;
    for sheet in &set {
        let path = out.join(sheet.file_name);
        std::fs::write(&path, &sheet.html)
            .map_err(Failure::while_doing(format!("writing {}", path.display())))?;
    }
    Ok((out.join("index.html"), set.len()))
}
