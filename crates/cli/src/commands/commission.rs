//! `windtight commission`.

use crate::Ended;
use crate::args::Commission;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::air::{Air, IMBALANCE_LIMIT, ModeReport, TerminalReport};
use project::diagnostic::clean;
use quantity::{Dimension, System, show};

/// Holds the flows of the log against the book's.
pub fn run(options: &Commission, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let told = project::air::commission(&project, &Air::of(&project));
    if options.json {
        let text = serde_json::to_string_pretty(&told).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        let system = project.building.project.units;
        let mut out = String::new();
        if told.units.is_empty() {
            out.push_str("The book has no ventilation unit.\n");
        }
        for unit in &told.units {
            for mode in &unit.modes {
                out.push_str(&page(&unit.unit, mode, system, terminal));
                out.push('\n');
            }
        }
        for note in &told.notes {
            out.push_str(&terminal.paragraph(note, "  "));
        }
        terminal.print(&out)?;
    }
    let modes = || told.units.iter().flat_map(|u| &u.modes);
    let off = modes().any(|m| {
        m.imbalance.is_some_and(|i| i > IMBALANCE_LIMIT)
            || m.terminals.iter().any(|t| t.inside == Some(false))
    });
    Ok(if off { Ended::NotMet } else { Ended::Well })
}

fn page(unit: &str, mode: &ModeReport, system: System, terminal: &Terminal) -> String {
    let flow = |m3_h: f64| show(m3_h / 3600.0, Dimension::VolumeFlow, system);
    let mut out = String::new();
    for line in terminal.paragraph(&clean(&sentence(unit, mode, &flow)), "").lines() {
        out.push_str(&terminal.strong(line));
        out.push('\n');
    }
    let mut rows = Vec::new();
    for (name, k) in [("outdoor air", 0), ("exhaust air", 1)] {
        rows.push(vec![
            name.to_owned(),
            format!("design {}", flow(mode.design_m3_h[k])),
            mode.read_m3_h[k].map_or_else(|| "not read".to_owned(), |q| format!("read {}", flow(q))),
        ]);
    }
    rows.extend(mode.terminals.iter().map(|t| terminal_row(t, &flow)));
    out.push_str(&columns(&rows, terminal.width(), 2));
    for a in &mode.advice {
        let said = match (&a.room, a.opening_ratio, a.lands_at_m3_h) {
            (Some(room), Some(opening), Some(lands)) => {
                let way = if opening < 1.0 { "close" } else { "open" };
                format!(
                    "next: {way} the {} damper of {} to {:.0} % of its present opening; it should then read {}",
                    a.way,
                    clean(room),
                    100.0 * opening,
                    flow(lands)
                )
            }
            _ => format!("the {} terminals are balanced", a.way),
        };
        out.push_str(&terminal.paragraph(&said, "  "));
    }
    out
}

fn sentence(unit: &str, mode: &ModeReport, flow: &impl Fn(f64) -> String) -> String {
    let head = format!("{unit}, \"{}\"", mode.mode);
    let mut parts = vec![match (mode.imbalance, mode.imbalance_uncertainty) {
        (Some(i), Some(u)) => {
            let verdict = if i > IMBALANCE_LIMIT { "too much" } else { "within" };
            format!(
                "{:.1} % ± {:.1} % out of balance (95 %), {verdict} the usual {:.0} %",
                100.0 * i,
                200.0 * u,
                100.0 * IMBALANCE_LIMIT
            )
        }
        _ => "outdoor and exhaust air are not both on record".to_owned(),
    }];
    if let (Some(pa), Some(q), Some(w)) = (mode.pressure_pa, mode.through_leaks_m3_h, mode.lost_w) {
        parts.push(format!(
            "it holds the rooms at {pa:+.1} Pa, moves {} through leaks and loses {w:.0} W of recovery at freezing outdoors",
            flow(q)
        ));
    }
    if let Some(sfp) = mode.fan_wh_m3 {
        parts.push(format!("fans {sfp:.2} Wh/m³"));
    }
    if let Some(leak) = mode.duct_leak {
        parts.push(format!("{:.1} % lost between the unit and the supply terminals", 100.0 * leak));
    }
    format!("{head}: {}.", parts.join("; "))
}

fn terminal_row(t: &TerminalReport, flow: &impl Fn(f64) -> String) -> Vec<String> {
    let read = match (t.read_m3_h, t.half_width_m3_h) {
        (Some(q), Some(half)) => format!("read {} ± {}", flow(q), flow(half)),
        _ => "not read".to_owned(),
    };
    let judged = match (t.deviation, t.inside, t.chance_inside) {
        (Some(d), Some(inside), Some(chance)) => {
            let word = if inside { "inside" } else { "OUT" };
            format!("{:+.0} %, {word}; {:.0} in 100 that the true flow is inside", 100.0 * d, 100.0 * chance)
        }
        _ => String::new(),
    };
    vec![format!("{} {}", t.way, clean(&t.label)), format!("design {}", flow(t.design_m3_h)), read, judged]
}
