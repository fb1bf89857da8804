//! From a project's log, works and proof to the sheet of the site log.

use crate::sheet::site_log::{Ahead, Entry, Proof, STRIP_DAYS, SiteLog};
use building::calendar::Date;
use project::log::{self, LogError};
use project::works::{self, item_words};
use project::{Project, proof};

/// Makes the Site log sheet's input, on the day the book speaks of (else this machine's).
///
/// # Errors
/// When the log's store cannot be read.
pub fn site_log(project: &Project) -> Result<SiteLog, LogError> {
    let listing = log::read(project.folder.root())?;
    let today = works::today(project);
    let mut remarks: Vec<String> = listing
        .unreadable
        .iter()
        .map(|e| format!("Record {} cannot be read here, and is kept: {}.", e.line, e.message))
        .collect();
    remarks.extend(log::warnings(project.folder.root()));
    let mut sheet = SiteLog {
        day: today.map(words).unwrap_or_default(),
        has_works: !project.building.works.is_empty(),
        clashes: works::findings(project).into_iter().map(|f| f.sentence).collect(),
        holds: holds(project),
        proof: proof::matrix(project)
            .into_iter()
            .map(|r| Proof {
                what: r.what,
                basis: r.basis,
                needed: r.needed,
                state: r.state.word(),
                because: r.because,
            })
            .collect(),
        holes: holes(project),
        deviations: proof::deviations(project)
            .into_iter()
            .map(|d| [item_words(&d.what), d.meant, d.found, d.state, d.because, d.day])
            .collect(),
        records: listing.entries.iter().rev().map(entry).collect(),
        remarks,
        ..SiteLog::default()
    };
    if let Some(from) = today {
        strip(project, from, &mut sheet);
        let day = works::day_sheet(project, from);
        let on_site =
            day.on_site.iter().map(|(trade, activity, days)| format!("{trade}: {activity} ({days})"));
        sheet.today = [on_site.collect(), day.keep_open, day.photograph, day.due];
    }
    Ok(sheet)
}

fn words(day: Date) -> String {
    format!("{:?} {day}", day.weekday())
}

fn holds(project: &Project) -> Vec<[String; 3]> {
    let hold = |h: proof::Hold| {
        let first = h.what.chars().next().map(char::to_uppercase);
        let what = first.map_or_else(String::new, |c| c.chain(h.what.chars().skip(1)).collect());
        [what, h.holds.join(", "), h.due]
    };
    proof::holds(project).into_iter().map(hold).collect()
}

fn holes(project: &Project) -> Vec<[String; 7]> {
    let hole = |h: proof::Hole| {
        let seal = if h.seal.is_empty() { "nobody said".to_owned() } else { h.seal };
        let checked = format!("{} of {}", h.checked, h.count);
        let name = format!("{} ({})", h.name, h.count);
        [name, h.through.replace('-', " "), h.trade, seal, h.permission, checked, h.open.join(" ")]
    };
    proof::penetrations(project).into_iter().map(hole).collect()
}

fn entry(e: &log::Entry) -> Entry {
    let head = &e.record.head;
    let mut said = log::sentence(&e.record);
    if !head.place.is_empty() {
        said = format!("{}: {said}", item_words(&head.place));
    }
    match head.attachments.len() {
        0 => {}
        1 => said.push_str(" (1 photo or file)"),
        n => said.push_str(&format!(" ({n} photos or files)")),
    }
    if e.disputed {
        said.push_str(" Another record has the same id and says something else.");
    }
    let day = head.client_time.get(..10).unwrap_or_default().to_owned();
    Entry {
        number: e.number.to_string(),
        head: [day, log::kind_words(e.record.body.kind()), head.name.clone()],
        said,
    }
}

fn strip(project: &Project, from: Date, sheet: &mut SiteLog) {
    let day = |n: u32| from.plus_days(i64::from(n));
    sheet.weeks = (0..STRIP_DAYS).step_by(7).filter_map(|n| Some((n, words(day(n)?)))).collect();
    sheet.rest =
        (0..STRIP_DAYS).filter(|n| day(*n).is_some_and(|d| !works::is_working_day(project, d))).collect();
    for a in works::look_ahead(project, from, STRIP_DAYS / 7) {
        let (Some(start), Some(end)) = (a.start, a.end) else { continue };
        let place = |d: Date| (d.day_number() - from.day_number()).clamp(0, i64::from(STRIP_DAYS) - 1);
        // Clamped to the strip, so both fit.
        let (first, last) = (place(start) as u32, place(end) as u32);
        let trade = if a.plan.trade.is_empty() { String::new() } else { format!(", {}", a.plan.trade) };
        let covers: Vec<String> = a.plan.covers.iter().map(|c| item_words(c)).collect();
        sheet.ahead.push(Ahead {
            said: format!("{}{trade}", a.plan.activity),
            days: if start == end { words(start) } else { format!("{} to {}", words(start), words(end)) },
            covers: covers.join(", "),
            from: first,
            length: last - first + 1,
        });
    }
}
