//! `windtight story`.

use crate::Ended;
use crate::args::Story;
use crate::failure::Failure;
use crate::terminal::Terminal;
use project::chances::{Asked, story};
use project::diagnostic::clean;
use project::standing::Odds;

/// Tells how the chances moved.
pub fn run(options: &Story, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let asked = Asked { samples: options.samples, ..Asked::default() };
    let told = terminal.busy("reading the log day by day", |_| story::kept(&project, asked));
    let chapters = match told {
        Ok(chapters) => chapters,
        Err(why) => {
            terminal.say(&format!("The story cannot be told: {why}.\n"));
            return Ok(Ended::NotMet);
        }
    };
    if options.json {
        let text = serde_json::to_string_pretty(&chapters).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
        return Ok(Ended::Well);
    }
    let invented = if project.building.project.invented { " · invented demonstration" } else { "" };
    let mut out = terminal.paragraph(&clean(&format!("{}{invented}", project.building.project.name)), "");
    out.push_str(&terminal.paragraph(
        &format!(
            "How the chances moved, {} samples each day under one seed: what moves is what came in. Chances are in 100.",
            options.samples
        ),
        "",
    ));
    for chapter in &chapters {
        out.push('\n');
        let when = if chapter.day == "before" { "The book alone".to_owned() } else { chapter.day.clone() };
        let later = if chapter.after_today { ", after the day the book speaks of" } else { "" };
        out.push_str(&terminal.strong(&format!("{when} · {}{later}", chapter.stage)));
        out.push('\n');
        for sentence in &chapter.came_in {
            out.push_str(&terminal.paragraph(&clean(sentence), "  "));
        }
        for moved in &chapter.moved {
            let from = moved.from.as_ref().map_or_else(String::new, |o| format!("{} → ", o.figure()));
            let line = format!("{} {}: {from}{}", moved.title, moved.count, moved.to.figure());
            out.push_str(&terminal.paragraph(&clean(&line), "    "));
        }
        if chapter.moved.is_empty() {
            out.push_str(&terminal.paragraph("moves nothing that can be told apart", "    "));
        }
        if let [Some(paper), Some(in_use)] = &chapter.together {
            let figure = |o: &Odds| o.figure();
            let line = format!("all limits together: {} on paper, {} in use", figure(paper), figure(in_use));
            out.push_str(&terminal.quiet(&terminal.paragraph(&line, "    ")));
        }
    }
    terminal.print(&out)?;
    Ok(Ended::Well)
}
