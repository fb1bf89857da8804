//! `windtight detail`.

use crate::Ended;
use crate::args::Detail;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::detail_file::{self, Drawn, Solved};
use project::diagnostic::clean;

/// Works one drawn detail out.
pub fn run(options: &Detail, terminal: &Terminal) -> Result<Ended, Failure> {
    let shown = options.file.display().to_string();
    let text =
        std::fs::read_to_string(&options.file).map_err(Failure::while_doing(format!("reading {shown}")))?;
    let (drawn, report) = detail_file::read(&shown, &text).map_err(Failure::Input)?;
    terminal.say(&report.render(terminal.style()));
    let solved = terminal.busy("working the detail out", |_| detail_file::solve(&drawn)).map_err(|e| {
        Failure::CommandLine {
            message: format!("{shown} cannot be worked out: {e}"),
            hint: "correct the detail's numbers".to_owned(),
        }
    })?;
    if let Some(path) = &options.svg {
        let drawing = sheets::adapt::drawn_detail(&drawn, &solved, options.heat_lines);
        std::fs::write(
            path,
            sheets::draw::detail::detail(&drawing, sheets::draw::chart::Format::Desk).standalone(),
        )
        .map_err(Failure::while_doing(format!("writing {}", path.display())))?;
    }
    if options.json {
        let text =
            serde_json::to_string_pretty(&solved.answer).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        terminal.print(&page(&drawn, &solved, terminal))?;
    }
    Ok(Ended::Well)
}

/// Coldest spot first, then the loss, then how both were found.
fn page(drawn: &Drawn, solved: &Solved, terminal: &Terminal) -> String {
    let a = &solved.answer;
    let (unit, loss) = if drawn.detail.plane { ("W/(m·K)", "W/m") } else { ("W/K", "W") };
    let invented = if drawn.invented { " · invented" } else { "" };
    let mut out = terminal.paragraph(&clean(&format!("{}{invented}", a.name)), "");
    let first = format!(
        "coldest inside spot {:.1} °C at x {:.0}, y {:.0}{} mm (f_Rsi {:.2})",
        a.coldest.temperature,
        1e3 * a.coldest.x,
        1e3 * a.coldest.y,
        if drawn.detail.plane { String::new() } else { format!(", z {:.0}", 1e3 * a.coldest.z) },
        a.f_rsi
    );
    out.push_str(&terminal.strong(&first));
    out.push('\n');
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut row = |words: &str, value: String| rows.push(vec![words.to_owned(), value]);
    let extra = [
        ("extra loss Ψ, inside dimensions (the building's)", a.psi_inside),
        ("extra loss Ψ, outside dimensions", a.psi_outside),
        ("extra loss χ", a.chi),
        ("coupling L2D", a.l2d),
        ("coupling L3D", a.l3d),
    ];
    for (words, value) in extra {
        if let Some(value) = value {
            row(words, format!("{value:.4} {unit}"));
        }
    }
    for (name, flow) in &a.flows {
        row(&format!("heat from {}", clean(name)), format!("{flow:.3} {loss}"));
    }
    if a.environments.len() > 2 {
        for pair in &a.couplings {
            row(
                &format!("coupling {} – {}", clean(&pair.a), clean(&pair.b)),
                format!("{:.4} {unit}", pair.coupling),
            );
        }
        for (name, weight) in &a.weights {
            row(&format!("share of {} in the coldest spot", clean(name)), format!("{weight:.3}"));
        }
    }
    for (name, k) in &a.cavities {
        row(&format!("conductivity found for {}", clean(name)), format!("{k:.3} W/(m·K)"));
    }
    out.push_str(&columns(&rows, terminal.width(), 2));
    for e in &a.environments {
        let words = format!(
            "{} at {:.1} °C; film for heat {:.2}, for the coldest spot {:.2} m²·K/W",
            clean(&e.name),
            e.temperature,
            e.film,
            e.film_coldest
        );
        out.push_str(&terminal.quiet(&terminal.paragraph(&words, "  ")));
    }
    let settled = if a.settled { "stood still" } else { "had not yet stood still" };
    let how = format!(
        "{} cells; flow, extra loss and coldest spot {settled} at the last halving; estimated error {:.2} % of the flow, {:.4} {unit} of the extra loss; residual {:.0e}.",
        a.cells,
        100.0 * a.error_estimate,
        a.error_of_extra,
        a.residual
    );
    out.push_str(&terminal.quiet(&terminal.paragraph(&how, "  ")));
    if a.environments.len() > 2 {
        let rule = "With three environments or more the extra loss is that between the two named: their own coupling less the planes between them (ISO 10211).";
        out.push_str(&terminal.quiet(&terminal.paragraph(rule, "  ")));
    }
    let caution = "A surface above the limit does not promise freedom from mould: furniture, leaks and damp rooms were not looked at. Structure, fire and moisture inside the parts were not checked.";
    out.push_str(&terminal.quiet(&terminal.paragraph(caution, "  ")));
    out
}
