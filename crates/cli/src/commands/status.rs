//! `windtight status`.

use crate::Ended;
use crate::args::Status;
use crate::failure::Failure;
use crate::figures::Figures;
use crate::terminal::{Terminal, columns};
use project::diagnostic::{clean, list};
use project::standing::{Comparison, Finding, FindingKind, Odds, Outcome, Standing};
use project::{Asked, Project, chances};

/// Says where a project stands.
pub fn run(options: &Status, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let asked = if options.nominal {
        Asked::Nominal
    } else {
        Asked::Chances(chances::Asked { samples: options.samples, ..chances::Asked::default() })
    };
    let folder = options.folder.display().to_string();
    let first = |nominal: &Standing| {
        if terminal.is_watched() && !options.json {
            terminal.say(&first_findings(nominal, terminal));
        }
    };
    let standing = work_out_as(&project, asked, first, terminal);
    if options.json {
        let text = serde_json::to_string_pretty(&standing).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        terminal.print(&page(&standing, &folder, options.all, terminal))?;
    }
    Ok(if standing.misses_a_limit() { Ended::NotMet } else { Ended::Well })
}

/// Works out a standing with its chances, or takes it from the cache.
pub fn work_out(project: &Project, terminal: &Terminal) -> Standing {
    work_out_as(project, Asked::Chances(chances::Asked::default()), |_| {}, terminal)
}

fn work_out_as(
    project: &Project,
    asked: Asked,
    first: impl FnOnce(&Standing),
    terminal: &Terminal,
) -> Standing {
    let (standing, notice) =
        terminal.busy("running the years", |_| project::standing_kept(project, asked, first));
    if let Some(notice) = notice {
        terminal.say(&format!("{notice}\n"));
    }
    standing
}

/// What the stated values alone say, shown while chances are worked out.
fn first_findings(standing: &Standing, terminal: &Terminal) -> String {
    let figures = Figures::new(&standing.project.units);
    let rows: Vec<Vec<String>> =
        standing.limits().filter(|f| f.value.is_some()).map(|f| row(standing, f, &figures)).collect();
    format!("first findings, at the stated values; chances follow\n{}", columns(&rows, terminal.width(), 2))
}

/// Lays the standing out for reading.
pub fn page(standing: &Standing, folder: &str, all: bool, terminal: &Terminal) -> String {
    let figures = Figures::new(&standing.project.units);
    let mut out = String::new();
    let invented = if standing.project.invented { " · invented demonstration" } else { "" };
    let head = format!("{} · stage: {}{invented}", standing.project.name, standing.project.stage);
    out.push_str(&terminal.paragraph(&clean(&head), ""));
    out.push('\n');
    for line in terminal.paragraph(&clean(&standing.headline.decision), "").lines() {
        out.push_str(&terminal.strong(line));
        out.push('\n');
    }
    out.push_str(&terminal.paragraph(&clean(&standing.headline.because), ""));
    out.push('\n');
    let mut rows: Vec<Vec<String>> = Vec::new();
    if standing.chances.is_some() {
        let heads = ["chances in 100", "", "", "on paper", "in use", ""];
        rows.push(heads.map(str::to_owned).to_vec());
    }
    rows.extend(standing.limits().map(|f| row(standing, f, &figures)));
    out.push_str(&columns(&rows, terminal.width(), 2));
    out.push('\n');
    together(&mut out, standing, terminal);
    open(&mut out, standing, all, terminal);
    moisture(&mut out, standing, folder, all, terminal);
    for step in standing.next.iter().take(if all { usize::MAX } else { 3 }) {
        let time = step.hours.map_or_else(String::new, |h| format!("{}; ", work_time(h)));
        let text = format!("next: {} ({time}{})", clean(&step.what), clean(&lower(&step.why)));
        out.push_str(&terminal.paragraph(&text, "  "));
    }
    for (at, sentence) in standing.not_checked.iter().enumerate().filter(|(at, _)| all || *at < 1) {
        let more = standing.not_checked.len() - 1;
        let rest = if !all && more > 0 { format!(" ({more} more: --all)") } else { String::new() };
        let lead = if at == 0 { "not checked: " } else { "" };
        out.push_str(&terminal.paragraph(&format!("{lead}{}{rest}", clean(sentence)), "  "));
    }
    if all {
        for notice in &standing.notices {
            out.push_str(&terminal.quiet(&terminal.paragraph(&clean(notice), "  ")));
        }
    }
    let why = standing.limits().next().map_or("heating-demand", |f| f.id.trim_start_matches("limit."));
    let last = format!("why any number: windtight why {why} {folder}   sheets: windtight sheets {folder}");
    out.push_str(&terminal.quiet(&terminal.paragraph(&last, "  ")));
    out
}

/// One limit: what, how much, against what, how near, what holds it back.
fn row(standing: &Standing, f: &Finding, figures: &Figures) -> Vec<String> {
    let word = match f.comparison {
        Some(Comparison::AtLeast) => "at least",
        _ => "at most",
    };
    let threshold = f.threshold.map_or_else(String::new, |t| match f.value {
        Some(_) => figures.threshold(t, &f.unit, &f.dimension),
        None if standing.chances.is_none() => figures.value(t, &f.unit, &f.dimension),
        None => figures.threshold(t, &f.unit, &f.dimension),
    });
    let value = match (f.value, f.status) {
        (Some(_), Outcome::NotKnown) => format!("{} ?", figures.of(f)),
        _ => figures.of(f),
    };
    let limit = format!("{word} {threshold}");
    if standing.chances.is_some() {
        let chance = |odds: &Option<Odds>| odds.map_or_else(|| "not known".to_owned(), |o| o.figure());
        let cells = [&f.subject, &value, &limit, &chance(&f.odds), &chance(&f.odds_in_use)];
        let mut cells: Vec<String> = cells.iter().map(|c| clean(c)).collect();
        cells.push(clean(&doubts(standing, f)));
        return cells;
    }
    vec![clean(&f.subject), value, limit, nearness(f), clean(&holds_back(standing, f))]
}

/// What the doubt hangs on: on paper while something is doubtful there, else in use.
fn doubts(standing: &Standing, f: &Finding) -> String {
    if f.odds.is_none() {
        return holds_back(standing, f);
    }
    let doubtful = f.odds.is_some_and(|o| (0.01..=0.99).contains(&o.p));
    let (list, lead) = match (doubtful, f.doubts_in_use.is_empty()) {
        (true, _) | (false, true) => (&f.doubts, ""),
        (false, false) => (&f.doubts_in_use, "in use: "),
    };
    let words: Vec<String> =
        list.iter().take(2).map(|c| format!("{} {:.0} %", c.stated, 100.0 * c.share)).collect();
    let text = if words.is_empty() { String::new() } else { format!("{lead}{}", words.join(", ")) };
    if f.advisory { format!("only advised; {text}").trim_end_matches("; ").to_owned() } else { text }
}

/// All limits at once.
fn together(out: &mut String, standing: &Standing, terminal: &Terminal) {
    let Some(chances) = &standing.chances else { return };
    let (Some(paper), Some(in_use)) = (chances.together, chances.together_in_use) else { return };
    let without = if chances.left_out.is_empty() {
        String::new()
    } else {
        format!(", without {} (not known)", list(&chances.left_out))
    };
    let text = format!("all limits together: {} on paper, {} in use{without}", paper.short(), in_use.short());
    out.push_str(&terminal.paragraph(&clean(&text), "  "));
}

fn nearness(f: &Finding) -> String {
    let percent = |m: f64| {
        let p = 100.0 * m.abs();
        if p < 10.0 { format!("{p:.1} %") } else { format!("{p:.0} %") }
    };
    match (f.status, f.margin) {
        (Outcome::NotKnown, _) | (_, None) => "not known".to_owned(),
        (Outcome::Met, Some(m)) => format!("{} left", percent(m)),
        (Outcome::NotMet, Some(m)) if f.comparison == Some(Comparison::AtLeast) => {
            format!("{} short", percent(m))
        }
        (Outcome::NotMet, Some(m)) => format!("{} over", percent(m)),
    }
}

fn holds_back(standing: &Standing, f: &Finding) -> String {
    if f.value.is_none() {
        let why = f.sentence.rsplit_once("; ").map_or("", |(_, why)| why);
        return why.trim_end_matches('.').to_owned();
    }
    let causes: Vec<String> =
        f.causes.iter().take(2).map(|c| format!("{} {:.0} %", c.stated, 100.0 * c.share)).collect();
    let text = if causes.is_empty() { f.method.clone() } else { causes.join(", ") };
    if f.advisory {
        format!("only advised; {text}")
    } else if f.status == Outcome::NotMet && !standing.binds(f) {
        format!("an alternative is met; {text}")
    } else {
        text
    }
}

/// Whether the assemblies stay dry: the nearest to failing, or that it was not run.
fn moisture(out: &mut String, standing: &Standing, folder: &str, all: bool, terminal: &Terminal) {
    if standing.finding(project::dry::NOT_RUN).is_some() {
        let text = format!("moisture: not yet run: windtight dry {folder}");
        out.push_str(&terminal.paragraph(&text, "  "));
        return;
    }
    let found: Vec<&Finding> = standing.findings.iter().filter(|f| f.id.starts_with("moisture.")).collect();
    let Some(first) = found.first() else { return };
    let beyond = found.iter().filter(|f| f.status == Outcome::NotMet).count();
    let lead = format!("moisture: {beyond} of {} assemblies beyond a limit", found.len());
    out.push_str(&terminal.paragraph(&format!("{lead}; {}", clean(&first.sentence)), "  "));
    for finding in found.iter().skip(1).filter(|_| all) {
        out.push_str(&terminal.paragraph(&clean(&finding.sentence), "    "));
    }
}

/// What is open, in one line a kind, or all of it.
fn open(out: &mut String, standing: &Standing, all: bool, terminal: &Terminal) {
    let of = |kind: FindingKind| -> Vec<&Finding> {
        standing.findings.iter().filter(|f| f.kind == kind && f.is_open()).collect()
    };
    let (gaps, proof) = (of(FindingKind::Gap), of(FindingKind::Proof));
    let (air, stage): (Vec<&Finding>, Vec<&Finding>) =
        of(FindingKind::Stage).into_iter().partition(|f| f.id.starts_with("air."));
    let mut parts = Vec::new();
    let kinds = [
        (&gaps, "gap", "gaps"),
        (&proof, "proof or answer", "proofs or answers"),
        (&air, "thing about air", "things about air"),
        (&stage, "thing about to be covered", "things about to be covered"),
    ];
    for (found, one, many) in kinds {
        match found.len() {
            0 => {}
            1 => parts.push(format!("1 {one}")),
            n => parts.push(format!("{n} {many}")),
        }
    }
    if parts.is_empty() {
        return;
    }
    let hint = if all { "" } else { " (--all lists them)" };
    out.push_str(&terminal.paragraph(&format!("open: {}{hint}", list(&parts)), "  "));
    if all {
        for finding in gaps.iter().chain(&proof).chain(&air).chain(&stage) {
            let line = finding
                .place
                .as_ref()
                .filter(|p| p.line > 0)
                .map_or_else(String::new, |p| format!(" (line {})", p.line));
            out.push_str(&terminal.paragraph(&format!("{}{line}", clean(&finding.sentence)), "    "));
        }
    } else if let Some(first) = gaps.first().or(proof.first()).or(stage.first()) {
        out.push_str(&terminal.paragraph(&format!("first: {}", clean(&first.sentence)), "  "));
    }
}

/// Puts a sentence inside brackets: small first letter, no full stop.
fn lower(text: &str) -> String {
    let mut chars = text.trim_end_matches('.').chars();
    chars.next().map_or_else(String::new, |c| c.to_lowercase().collect::<String>() + chars.as_str())
}

/// Time of work as one says it: minutes below an hour, else hours to the half.
fn work_time(hours: f64) -> String {
    if hours < 1.0 {
        return format!("{:.0} min", 60.0 * hours);
    }
    format!("{} h", (2.0 * hours).round() / 2.0)
}
