//! `windtight verify`.

use crate::Ended;
use crate::args::Verify;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use checks::{Check, Outcome, Status};
use project::diagnostic::count;
use serde_json::{Value, json};

/// Runs the published checks, or turns each one against itself.
pub fn run(options: &Verify, terminal: &Terminal) -> Result<Ended, Failure> {
    let all: Vec<Check> = checks::all().into_iter().filter(|c| wanted(c, options)).collect();
    if all.is_empty() {
        return Err(Failure::CommandLine {
            message: "no check has that topic".to_owned(),
            hint: "windtight verify lists them all".to_owned(),
        });
    }
    if options.self_test {
        return self_test(&all, terminal);
    }
    let outcomes: Vec<Outcome> = terminal.busy("running the published checks", |bar| {
        let total = all.len();
        let run = |(at, check): (usize, &Check)| {
            bar.set_message(format!("check {} of {total}: {}", at + 1, check.id));
            check.run()
        };
        all.iter().enumerate().map(run).collect()
    });
    if options.json {
        let rows: Vec<Value> = all.iter().zip(&outcomes).map(|(c, o)| row(c, o)).collect();
        let text = serde_json::to_string_pretty(&rows).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        terminal.print(&table(&all, &outcomes, terminal))?;
    }
    let out = outcomes.iter().any(|o| o.status == Status::Out);
    Ok(if out { Ended::NotMet } else { Ended::Well })
}

fn wanted(check: &Check, options: &Verify) -> bool {
    let text = options.topic.as_deref().unwrap_or("").to_lowercase();
    check.topic.to_lowercase().contains(&text)
}

fn status_word(status: Status) -> &'static str {
    match status {
        Status::Ok => "ok",
        Status::Out => "out",
        Status::KnownGap => "known gap",
    }
}

/// One row of `verify --json`. A check without a number has `null` there, and its reason under `error`.
fn row(check: &Check, outcome: &Outcome) -> Value {
    json!({
        "id": check.id,
        "topic": check.topic,
        "quantity": check.quantity,
        "unit": check.unit,
        "computed": outcome.computed.as_ref().ok().filter(|v| v.is_finite()),
        "reference": check.reference,
        "deviation": Some(outcome.deviation).filter(|d| d.is_finite()),
        "tolerance": check.tolerance.absolute(check.reference),
        "status": status_word(outcome.status),
        "kind": check.kind.to_string(),
        "source": check.source,
        "seen": check.seen,
        "diagnosis": check.known_gap,
        "error": outcome.computed.as_ref().err(),
    })
}

/// One line a topic, then every check that is not inside its tolerance.
fn table(all: &[Check], outcomes: &[Outcome], terminal: &Terminal) -> String {
    let mut topics: Vec<&str> = Vec::new();
    for check in all {
        if !topics.contains(&check.topic) {
            topics.push(check.topic);
        }
    }
    let mut rows = Vec::new();
    for topic in topics {
        let of: Vec<(&Check, &Outcome)> =
            all.iter().zip(outcomes).filter(|(c, _)| c.topic == topic).collect();
        let inside = of.iter().filter(|(_, o)| o.status == Status::Ok).count();
        let seen = of.iter().filter(|(c, _)| c.seen).count();
        let nearest =
            of.iter().map(|(c, o)| o.deviation.abs() / c.tolerance.absolute(c.reference)).fold(0.0, f64::max);
        rows.push(vec![
            topic.to_owned(),
            format!("{inside} of {} inside", of.len()),
            format!("{seen} seen in their source"),
            format!("largest deviation {:.0} % of its tolerance", 100.0 * nearest),
        ]);
    }
    let mut text = columns(&rows, terminal.width(), 2);
    for (check, outcome) in all.iter().zip(outcomes).filter(|(_, o)| o.status != Status::Ok) {
        let computed = match &outcome.computed {
            Ok(v) => format!("{v:.6} against {:.6} {}", check.reference, check.unit),
            Err(why) => why.clone(),
        };
        let tolerance = check.tolerance.absolute(check.reference);
        let line =
            format!("{}: {}: {computed} (tolerance {tolerance:.3e})", status_word(outcome.status), check.id);
        text.push_str(&terminal.paragraph(&line, "  "));
        if let Some(diagnosis) = check.known_gap {
            text.push_str(&terminal.paragraph(diagnosis, "    "));
        }
    }
    let tally = |status| outcomes.iter().filter(|o| o.status == status).count();
    text.push_str(&format!(
        "{}: {} inside, {} out, {}\n",
        count(all.len(), "check"),
        tally(Status::Ok),
        tally(Status::Out),
        count(tally(Status::KnownGap), "known gap")
    ));
    text
}

fn self_test(all: &[Check], terminal: &Terminal) -> Result<Ended, Failure> {
    let deaf: Vec<String> = terminal.busy("turning each check against itself", |bar| {
        let total = all.len();
        let turn = |(at, check): (usize, &Check)| {
            bar.set_message(format!("check {} of {total}: {}", at + 1, check.id));
            check.self_test().err()
        };
        all.iter().enumerate().filter_map(turn).collect()
    });
    for why in &deaf {
        terminal.print(&terminal.paragraph(why, "  "))?;
    }
    let noticed = all.len() - deaf.len();
    terminal
        .print(&format!("{noticed} of {} notice a nudge of three tolerances\n", count(all.len(), "check")))?;
    Ok(if deaf.is_empty() { Ended::Well } else { Ended::NotMet })
}
