//! `windtight why`.

use crate::Ended;
use crate::args::Why;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::diagnostic::clean;
use project::standing::Years;

/// Shows the working of a number.
pub fn run(options: &Why, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, _) = project::open(&options.folder)?;
    let years = terminal.busy("running the year", |_| Years::without_machines(&project));
    let standing = project::standing::standing(&project, &years);
    let working =
        project::working::explain(&project, &years, &standing, &options.result).map_err(|hint| {
            Failure::CommandLine {
                message: format!("nothing here is called \"{}\"", clean(&options.result)),
                hint,
            }
        })?;
    let mut out = format!("{}\n\n", terminal.strong(&clean(&working.title)));
    let rows: Vec<Vec<String>> = working
        .lines
        .iter()
        .map(|l| {
            let source = if l.source.is_empty() { String::new() } else { format!(" [{}]", l.source) };
            vec![clean(&l.symbol), clean(&l.value), clean(&format!("{}{source}", l.words))]
        })
        .collect();
    out.push_str(&columns(&rows, terminal.width(), 2));
    for note in &working.notes {
        out.push('\n');
        out.push_str(&terminal.paragraph(&clean(note), ""));
    }
    terminal.print(&out)?;
    Ok(Ended::Well)
}
