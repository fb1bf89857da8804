//! `windtight compare`.

use crate::Ended;
use crate::args::Compare;
use crate::failure::Failure;
use crate::figures::Figures;
use crate::terminal::{Terminal, columns};
use project::chances::Asked;
use project::chances::compare::{Comparison, LimitRow, compare};
use project::diagnostic::clean;
use project::standing::Odds;

/// Holds a change against the book.
pub fn run(options: &Compare, terminal: &Terminal) -> Result<Ended, Failure> {
    let (before, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let text = std::fs::read_to_string(&options.with).map_err(|error| Failure::Surroundings {
        doing: format!("reading {}", options.with.display()),
        error,
    })?;
    let name = options
        .with
        .file_name()
        .map_or_else(|| "change.toml".to_owned(), |n| n.to_string_lossy().into_owned());
    let (after, change, report) = project::open_changed(&before.folder, &name, &text)?;
    terminal.say(&report.render(terminal.style()));
    let asked = Asked { samples: options.samples, ..Asked::default() };
    let compared = terminal.busy("running both", |_| compare(&before, &after, change, asked));
    let compared = match compared {
        Ok(compared) => compared,
        Err(why) => {
            terminal.say(&format!("The two cannot be compared: {why}.\n"));
            return Ok(Ended::NotMet);
        }
    };
    if options.json {
        let text = serde_json::to_string_pretty(&compared).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        let units = if before.building.project.units == quantity::System::Si { "si" } else { "us" };
        terminal.print(&sheet(&compared, &Figures::new(units), terminal))?;
    }
    Ok(Ended::Well)
}

/// The change sheet: one page.
fn sheet(c: &Comparison, figures: &Figures, terminal: &Terminal) -> String {
    let invented = if c.invented { " · invented demonstration" } else { "" };
    let mut out = terminal.paragraph(&clean(&format!("Change sheet · {}{invented}", c.project)), "");
    out.push('\n');
    out.push_str(&terminal.strong(terminal.paragraph(&clean(&c.change.about), "").trim_end()));
    out.push('\n');
    let facts = [
        ("cost", c.change.cost.clone()),
        ("time", c.change.days.clone()),
        ("paid by", c.change.pays.clone()),
        ("must agree", c.change.agree.join(", ")),
        ("proof needed", c.change.proof.join(", ")),
    ];
    for (what, text) in facts.iter().filter(|f| !f.1.is_empty()) {
        out.push_str(&terminal.paragraph(&clean(&format!("{what}: {text}")), "  "));
    }
    out.push('\n');
    let mut rows =
        vec![["chances in 100", "at stated values", "on paper", "in use", ""].map(str::to_owned).to_vec()];
    rows.extend(c.limits.iter().map(|r| row(r, figures)));
    out.push_str(&columns(&rows, terminal.width(), 2));
    let pair = |k: usize| arrow(&c.together[0][k], &c.together[1][k]);
    out.push_str(
        &terminal.paragraph(&format!("all limits together: {} on paper, {} in use", pair(0), pair(1)), "  "),
    );
    section(&mut out, terminal, "What moves", &c.deviations);
    let turned: Vec<String> = c.findings.iter().map(|t| format!("{}: {}", t.how, t.sentence)).collect();
    section(&mut out, terminal, "Findings that turn", &turned);
    section(&mut out, terminal, "How this was worked out", &c.notes);
    out
}

fn section(out: &mut String, terminal: &Terminal, head: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    out.push('\n');
    out.push_str(&terminal.strong(head));
    out.push('\n');
    for line in lines {
        out.push_str(&terminal.paragraph(&clean(line), "  "));
    }
}

fn row(r: &LimitRow, figures: &Figures) -> Vec<String> {
    let value = |v: Option<f64>| {
        v.map_or_else(|| "not known".to_owned(), |v| figures.value(v, &r.unit, &r.dimension))
    };
    let (a, b) = (value(r.before.value), value(r.after.value));
    let stated = if a == b { a } else { format!("{a} → {b}") };
    let cells = [
        r.title.clone(),
        stated,
        arrow(&r.before.odds, &r.after.odds),
        arrow(&r.before.odds_in_use, &r.after.odds_in_use),
        String::new(),
    ];
    cells.iter().map(|c| clean(c)).collect()
}

/// "67 → 88", or one figure where both say the same.
fn arrow(before: &Option<Odds>, after: &Option<Odds>) -> String {
    let figure = |o: &Option<Odds>| o.map_or_else(|| "not known".to_owned(), |o| o.figure());
    let (a, b) = (figure(before), figure(after));
    if a == b { a } else { format!("{a} → {b}") }
}
