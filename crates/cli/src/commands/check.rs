//! `windtight check`.

use crate::Ended;
use crate::args::Check;
use crate::failure::Failure;
use crate::terminal::Terminal;
use project::diagnostic::{Report, count};
use project::source::{Folder, Sources};

/// Checks a project and says everything that is wrong.
pub fn run(options: &Check, terminal: &Terminal) -> Result<Ended, Failure> {
    let (report, project) = match Folder::open(&options.folder) {
        Ok(folder) => {
            let checked = project::check(&folder);
            (checked.report, checked.project)
        }
        Err(problem) => (Report::new(Sources::default(), vec![*problem]), None),
    };
    if options.json {
        let lines =
            serde_json::to_string_pretty(&report.to_json()).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{lines}\n"))?;
        return if project.is_some() { Ok(Ended::Well) } else { Err(Failure::Told) };
    }
    let Some(project) = project else { return Err(Failure::Input(Box::new(report))) };
    terminal.say(&report.render(terminal.style()));
    let values = project.building.values.len();
    terminal.print(&format!("{}: {} stated, no errors\n", project.folder.name(), count(values, "value")))?;
    Ok(Ended::Well)
}
