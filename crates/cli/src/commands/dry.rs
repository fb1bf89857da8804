//! `windtight dry`.

use crate::Ended;
use crate::args::Dry;
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use project::Project;
use project::diagnostic::{clean, count};
use project::dry;
use quantity::Dimension;
use std::fmt::Write as _;
use year::dry::report::{CaseReport, DryReport, DryingTest, Status, YearVerdict};
use year::dry::{Wetting, report};

/// Says whether the assemblies stay dry.
pub fn run(options: &Dry, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, problems) = project::open(&options.folder)?;
    terminal.say(&problems.render(terminal.style()));
    let wetting = options.wet.as_deref().map(wetting).transpose()?;
    let told =
        terminal.busy("running the walls through their years", |_| work_out(&project, options, wetting));
    let (report, notice) = told.map_err(|error| Failure::CommandLine {
        message: format!("this was not run: {error}"),
        hint: "windtight check says what the book lacks; windtight dry alone lists the assemblies".to_owned(),
    })?;
    if let Some(notice) = notice {
        terminal.say(&format!("{notice}\n"));
    }
    if options.json {
        let text = serde_json::to_string_pretty(&report).map_err(|e| Failure::Internal(e.to_string()))?;
        terminal.print(&format!("{text}\n"))?;
    } else {
        let close = options.assembly.is_some();
        terminal.print(&page(&report, close, &options.folder.display().to_string(), terminal))?;
    }
    let fails = report.cases.iter().any(|c| c.status() == Status::NotMet);
    Ok(if fails { Ended::NotMet } else { Ended::Well })
}

fn work_out(
    project: &Project,
    options: &Dry,
    wetting: Option<Wetting>,
) -> Result<(DryReport, Option<String>), year::YearError> {
    if options.chances {
        return dry::chances(project);
    }
    match &options.assembly {
        Some(assembly) => dry::closely(project, assembly, wetting.as_ref()),
        None => dry::all(project),
    }
}

/// Reads `LAYER=200 g/m²`.
fn wetting(text: &str) -> Result<Wetting, Failure> {
    let wrong = |message: String| Failure::CommandLine {
        message,
        hint: "write it like --wet \"plywood=200 g/m²\"".to_owned(),
    };
    let (layer, amount) =
        text.split_once('=').ok_or_else(|| wrong(format!("\"{text}\" names no amount of water")))?;
    let reading = quantity::read(amount, Dimension::ArealDensity).map_err(|e| wrong(e.to_string()))?;
    if !(reading.value > 0.0 && reading.value <= 20.0) {
        return Err(wrong(format!(
            "{} is not an amount of water above 0 and at most 20 kg/m²",
            amount.trim()
        )));
    }
    Ok(Wetting { layer: layer.trim().to_owned(), added_kg_m2: reading.value })
}

fn page(told: &DryReport, close: bool, folder: &str, terminal: &Terminal) -> String {
    let mut out = String::new();
    let failing = told.cases.iter().filter(|c| c.status() == Status::NotMet).count();
    let open = told.cases.iter().filter(|c| c.status() == Status::NotJudged).count();
    let head = format!(
        "{} run, {failing} beyond a limit, {open} not judged. Rain: {}.",
        count(told.cases.len(), "wall"),
        told.rain
    );
    for line in terminal.paragraph(&head, "").lines() {
        let _ = writeln!(out, "{}", terminal.strong(line));
    }
    out.push('\n');
    let rows: Vec<Vec<String>> = told.cases.iter().map(row).collect();
    out.push_str(&columns(&rows, terminal.width(), 2));
    for case in told.cases.iter().filter(|c| close || c.drying.is_some()) {
        out.push('\n');
        in_detail(&mut out, case, close, terminal);
        if close {
            break;
        }
    }
    for not in &told.not_run {
        out.push('\n');
        let text = format!("{}: not run; {}", clean(&not.assembly), clean(&not.why.join("; ")));
        out.push_str(&terminal.paragraph(&text, ""));
    }
    pockets(&mut out, told, terminal);
    out.push('\n');
    for sentence in &told.cautions {
        out.push_str(&terminal.paragraph(&clean(sentence), "  "));
    }
    if close {
        for sentence in &told.suppositions {
            out.push_str(&terminal.quiet(&terminal.paragraph(&clean(sentence), "  ")));
        }
        estimates(&mut out, told, terminal);
    } else {
        let name = told.cases.first().map_or("NAME", |c| c.assembly.as_str());
        let last = format!(
            "closer, with suppositions and estimates: windtight dry {folder} --assembly {name}   another layer wetted: \
             --wet \"LAYER=200 g/m²\""
        );
        out.push_str(&terminal.quiet(&terminal.paragraph(&last, "  ")));
    }
    out
}

fn word(status: Status) -> &'static str {
    match status {
        Status::Met => "within limits",
        Status::NotMet => "beyond a limit",
        Status::NotJudged => "not judged",
    }
}

fn row(case: &CaseReport) -> Vec<String> {
    let spaces = case.spaces.join(", ");
    vec![
        format!("{}, {}", clean(&case.assembly), clean(&case.side)),
        word(case.status()).to_owned(),
        format!("{} ({})", clean(&case.sentence), clean(&spaces)),
    ]
}

fn in_detail(out: &mut String, case: &CaseReport, close: bool, terminal: &Terminal) {
    let head =
        format!("{}, {} ({})", clean(&case.assembly), clean(&case.side), clean(&case.spaces.join(", ")));
    let _ = writeln!(out, "{}", terminal.strong(&head));
    let mut say = |text: &str| out.push_str(&terminal.paragraph(&clean(text), "  "));
    say(&case.water.sentence);
    if let Some(test) = &case.drying {
        say(&format!("Drying: {}", test.sentence));
    }
    say(&case.openness.sentence);
    say(&format!("Month by month (ISO 13788): {}. {}", case.monthly.sentence, case.monthly.beside));
    match &case.chance {
        Some(chance) => say(&chance.sentence),
        None if close => say("Chances: not yet run (windtight dry --chances)."),
        None => {}
    }
    if !close {
        return;
    }
    if let Some(rain) = &case.rain {
        say(&format!(
            "Rain on it in a mean year: {:.0} kg/m² by ASHRAE 160, {:.0} by ISO 15927-3, ± {:.0} %; run with {}.",
            rain.ashrae_kg_m2,
            rain.iso_kg_m2,
            100.0 * rain.spread,
            case.rain_law.map_or("neither", report_law)
        ));
    }
    points(out, "a mean year", &case.mean, terminal);
    points(out, "a year in ten", &case.design, terminal);
    if let Some(test) = &case.drying {
        drying_table(out, test, terminal);
    }
    planes(out, &case.openness, terminal);
    if !case.scenarios.is_empty() {
        let _ = writeln!(out, "  {}", terminal.strong("other suppositions, mean year"));
        let rows: Vec<Vec<String>> = case
            .scenarios
            .iter()
            .map(|s| vec![s.name.clone(), word(s.verdict.status).to_owned(), clean(&s.sentence)])
            .collect();
        out.push_str(&columns(&rows, terminal.width(), 4));
    }
}

fn report_law(law: year::dry::RainLaw) -> &'static str {
    law.word()
}

fn points(out: &mut String, name: &str, verdict: &YearVerdict, terminal: &Terminal) {
    let _ = writeln!(out, "  {}", terminal.strong(name));
    let rows: Vec<Vec<String>> = verdict
        .points
        .iter()
        .map(|p| {
            let left = p.margin.map_or_else(String::new, |m| format!("{:.0} % left", 100.0 * m));
            let when = p.when.as_ref().map_or_else(String::new, |w| format!(" (about {w})"));
            vec![left, format!("{}{when}", clean(&p.sentence))]
        })
        .collect();
    out.push_str(&columns(&rows, terminal.width(), 4));
}

fn days(days: Option<u32>, most: u32) -> String {
    days.map_or_else(|| format!("over {most}"), |d| d.to_string())
}

fn drying_table(out: &mut String, test: &DryingTest, terminal: &Terminal) {
    let title = format!("days to dry, {:.0} g/m² in {}", 1000.0 * test.added_kg_m2, clean(&test.wetted));
    let _ = writeln!(out, "  {}", terminal.strong(&title));
    let mut months: Vec<usize> = test.cases.iter().map(|c| c.month).collect();
    months.sort_unstable();
    months.dedup();
    let mut rows = vec![
        std::iter::once("closed in".to_owned())
            .chain(months.iter().map(|m| climate::calendar::MONTHS[*m].to_owned()))
            .collect::<Vec<_>>(),
    ];
    for (way, words) in
        [("both", "to both sides"), ("inside", "to the inside"), ("outside", "to the outside")]
    {
        let of = |m: &usize| test.cases.iter().find(|c| c.way == way && c.month == *m).and_then(|c| c.days);
        let cells = months.iter().map(|m| days(of(m), test.most_days));
        rows.push(std::iter::once(words.to_owned()).chain(cells).collect());
    }
    for change in &test.changes {
        let cells = change.days.iter().map(|d| days(*d, test.most_days));
        rows.push(std::iter::once(format!("both, {}", clean(&change.change))).chain(cells).collect());
    }
    out.push_str(&columns(&rows, terminal.width(), 4));
}

fn planes(out: &mut String, openness: &report::Openness, terminal: &Terminal) {
    let _ = writeln!(out, "  {}", terminal.strong("open to vapour, inside to outside"));
    let mut rows = vec![vec!["".to_owned(), "dry cup".to_owned(), "wet cup".to_owned()]];
    for p in &openness.planes {
        let cell = |k: usize| format!("{} m, {} perm", figure(p.air_layer_m[k]), figure(p.perms[k]));
        rows.push(vec![clean(&p.name), cell(0), cell(1)]);
    }
    out.push_str(&columns(&rows, terminal.width(), 4));
}

fn figure(x: f64) -> String {
    if x >= 100.0 {
        format!("{x:.0}")
    } else if x >= 10.0 {
        format!("{x:.1}")
    } else {
        format!("{x:.2}")
    }
}

fn pockets(out: &mut String, told: &DryReport, terminal: &Terminal) {
    if told.pockets.is_empty() {
        return;
    }
    out.push('\n');
    let _ = writeln!(out, "{}", terminal.strong("timber ends pocketed in masonry (a bound)"));
    let rows: Vec<Vec<String>> =
        told.pockets.iter().map(|p| vec![clean(&p.case), clean(&p.sentence)]).collect();
    out.push_str(&columns(&rows, terminal.width(), 2));
}

fn estimates(out: &mut String, told: &DryReport, terminal: &Terminal) {
    let Some(case) = told.cases.first().filter(|c| !c.estimates.is_empty()) else { return };
    let _ = writeln!(out, "  {}", terminal.strong("estimated, because nobody stated it"));
    let rows: Vec<Vec<String>> = case
        .estimates
        .iter()
        .map(|e| vec![clean(&e.material), clean(&e.property), figure(e.value), clean(&e.basis)])
        .collect();
    out.push_str(&columns(&rows, terminal.width(), 4));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn water_is_read_with_its_layer() {
        let w = wetting("plywood = 200 g/m²").expect("read");
        assert_eq!((w.layer.as_str(), w.added_kg_m2), ("plywood", 0.2));
        assert!(
            wetting("plywood").is_err() && wetting("plywood=3 m").is_err() && wetting("x=0 g/m²").is_err()
        );
    }
}
