//! `windtight check`.

use crate::Ended;
use crate::args::Check;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::Project;
use project::diagnostic::{Report, clean, count};
use project::left_out::left_out;
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
    if options.explain {
        terminal.print(&explained(&project, terminal))?;
    }
    Ok(Ended::Well)
}

/// Lists what the book leaves to the tool.
fn explained(project: &Project, terminal: &Terminal) -> String {
    let list = left_out(project, project.building.project.units);
    let mut out = String::new();
    let mut section = |heading: String, rows: Vec<Vec<String>>| {
        if !rows.is_empty() {
            out.push_str(&format!("\n{}\n", terminal.strong(&heading)));
            out.push_str(&columns(&rows, terminal.width(), 2));
        }
    };
    section(
        format!("{} filled by a default", count(list.values.len(), "value")),
        list.values.iter().map(|v| [&v.id, &v.value, &v.source].map(|t| clean(t)).to_vec()).collect(),
    );
    section(
        "materials from the library".to_owned(),
        list.materials.iter().map(|(name, n)| vec![clean(name), count(*n, "value")]).collect(),
    );
    section(
        "spreads nobody stated (95 %)".to_owned(),
        list.spreads
            .iter()
            .map(|s| {
                let kind = format!("{}, {}", s.kind, s.basis);
                vec![kind, s.spread.clone(), format!("{}; {}", count(s.count, "value"), s.source)]
            })
            .collect(),
    );
    section(
        "limits in force".to_owned(),
        list.limits.iter().map(|l| [&l.id, &l.text, &l.source].map(|t| clean(t)).to_vec()).collect(),
    );
    out
}
