//! Site log: what the site answered, what still lacks proof, what waits, and what is done next.

use maud::{Markup, html};

/// Days the strip of works shows: three weeks.
pub const STRIP_DAYS: u32 = 21;

/// An activity within the strip.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ahead {
    /// What, and by whom.
    pub said: String,
    /// First to last day, in words.
    pub days: String,
    /// What it covers for good, in words; empty when nothing.
    pub covers: String,
    /// First day on the strip, from 0.
    pub from: u32,
    /// Days on the strip, rest days between included; at least one.
    pub length: u32,
}

/// A line of the proof matrix.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proof {
    /// What is stated.
    pub what: String,
    /// How the book knows it.
    pub basis: String,
    /// Proof needed.
    pub needed: String,
    /// `in conflict`, `missing` or `have`.
    pub state: &'static str,
    /// Why.
    pub because: String,
}

/// A record.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Entry {
    /// Its number.
    pub number: String,
    /// Day, kind, name.
    pub head: [String; 3],
    /// Place and sentence.
    pub said: String,
}

/// Everything on the sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SiteLog {
    /// Day the sheet speaks of, in words.
    pub day: String,
    /// Marks of the strip: day from 0 and its words, one a week.
    pub weeks: Vec<(u32, String)>,
    /// Days of rest on the strip.
    pub rest: Vec<u32>,
    /// Works of the next three weeks.
    pub ahead: Vec<Ahead>,
    /// True when the book has works at all.
    pub has_works: bool,
    /// What does not go together in the works.
    pub clashes: Vec<String>,
    /// The day: on site, may not be covered, photograph, due.
    pub today: [Vec<String>; 4],
    /// What waits: for what, what waits, due.
    pub holds: Vec<[String; 3]>,
    /// Proof matrix, conflicts first.
    pub proof: Vec<Proof>,
    /// Register: what and how many, through, trade, seal, permission, checked, open.
    pub holes: Vec<[String; 7]>,
    /// Deviations: what, meant, found, state, why, day.
    pub deviations: Vec<[String; 6]>,
    /// Records, newest first.
    pub records: Vec<Entry>,
    /// What a reader must know of the log itself: unreadable records, a network folder.
    pub remarks: Vec<String>,
}

const TODAY: [&str; 4] = ["On site", "May not be covered", "Photograph", "Due within a week"];

/// Draws the content of the sheet.
pub fn content(log: &SiteLog) -> Markup {
    html! {
        h1 { (headline(log)) }
        p.lead {
            "Nothing in the log is ever changed: a correction is a new record. A record proves what it names; what it does \
             not name stays open. "
            @if !log.day.is_empty() { "Read on " (log.day) "." }
        }
        @for remark in &log.remarks { p.act { (remark) } }
        (works(log))
        (today(log))
        h2 { "What waits" }
        (lines(&["For what", "What waits", "Due"], log.holds.iter().map(|r| r.as_slice()), "Nothing waits."))
        (proof(log))
        h2 { "Register of penetrations" }
        p.soft { "Nobody makes a hole through the air barrier before somebody has allowed it." }
        (lines(
            &["What", "Through", "Trade", "Seal", "May it be made", "Found good", "Still open"],
            log.holes.iter().map(|r| r.as_slice()),
            "The book names no penetration.",
        ))
        h2 { "Deviations" }
        (lines(
            &["What", "Meant", "Found", "State", "Why", "Day"],
            log.deviations.iter().map(|r| r.as_slice()),
            "The log knows of none.",
        ))
        (records(log))
    }
}

fn headline(log: &SiteLog) -> String {
    let of = |state: &str| log.proof.iter().filter(|p| p.state == state).count();
    let (conflict, missing, have) = (of("in conflict"), of("missing"), of("have"));
    let all = conflict + missing + have;
    let conflicts = match conflict {
        0 => String::new(),
        1 => ", one contradicts the book".to_owned(),
        n => format!(", {n} contradict the book"),
    };
    if all == 0 && log.records.is_empty() {
        return "Nothing is on record yet.".to_owned();
    }
    format!("{have} of {all} proofs are on record{conflicts}.")
}

fn works(log: &SiteLog) -> Markup {
    html! {
        h2 { "Three weeks ahead" }
        @if !log.has_works {
            p { "The book has no works: [[work]] tables, or [works] with a file, would show here what comes next." }
        } @else {
            @for clash in &log.clashes { p.act { (clash) } }
            @if log.ahead.is_empty() { p { "Nothing is planned within three weeks." } }
            ol.ahead {
                @for a in &log.ahead {
                    li {
                        p { b { (a.said) } span { (a.days) } @if !a.covers.is_empty() { span { "covers " (a.covers) } } }
                        (strip(log, a))
                    }
                }
            }
            @if !log.ahead.is_empty() {
                p.soft { "A stroke a week, from " (log.weeks.first().map_or("", |(_, w)| w.as_str())) "; days of rest are shaded." }
            }
        }
    }
}

/// A bar over three weeks; the words beside it say the same.
fn strip(log: &SiteLog, a: &Ahead) -> Markup {
    let x = |day: u32| 20 * day;
    html! {
        svg.strip viewBox={ "0 0 " (x(STRIP_DAYS)) " 26" } role="img" aria-label=(a.days) preserveAspectRatio="none" {
            @for day in &log.rest { rect.rest x=(x(*day)) y="0" width="20" height="26" {} }
            @for (day, _) in &log.weeks { line.week x1=(x(*day)) y1="0" x2=(x(*day)) y2="26" {} }
            rect.bar x=(x(a.from)) y="7" width=(x(a.length)) height="12" {}
        }
    }
}

fn today(log: &SiteLog) -> Markup {
    html! {
        h2 { "The day" @if !log.day.is_empty() { ": " (log.day) } }
        div.day {
            @for (heading, list) in TODAY.iter().zip(&log.today) {
                section {
                    h3 { (heading) }
                    @if list.is_empty() { p.soft { "Nothing by the works and the log." } }
                    @else { ul { @for line in list { li { (line) } } } }
                }
            }
        }
    }
}

fn proof(log: &SiteLog) -> Markup {
    let of = |state: &str| log.proof.iter().filter(|p| p.state == state).collect::<Vec<&Proof>>();
    let (conflict, missing, had) = (of("in conflict"), of("missing"), of("have"));
    // What one visit can bring stands together: by the proof needed, in the order it is first asked for.
    let mut by_need: Vec<(&str, Vec<&Proof>)> = Vec::new();
    for p in &missing {
        match by_need.iter_mut().find(|(needed, _)| *needed == p.needed) {
            Some((_, list)) => list.push(p),
            None => by_need.push((&p.needed, vec![p])),
        }
    }
    let rows: Vec<[String; 4]> =
        had.iter().map(|p| [p.what.clone(), p.basis.clone(), p.needed.clone(), p.because.clone()]).collect();
    let rows = lines(&["Stated", "Known from", "Proof", "Record"], rows.iter().map(|r| r.as_slice()), "");
    html! {
        h2 { "Proof matrix" }
        p.soft { "What proof is usual is common practice; the certifying body's own list goes before." }
        @if log.proof.is_empty() { p { "Nothing in the book asks for proof." } }
        @for p in &conflict {
            p.act { "In conflict: " (p.what) " (" (p.basis) "); " (p.because) ". Needed: " (p.needed) "." }
        }
        ol.needs {
            @for (needed, list) in &by_need {
                li {
                    h3 { "Missing: " (needed) " " span.soft { "(" (list.len()) ")" } }
                    ul {
                        @for p in list {
                            li { (p.what) @if p.because != "nothing on record" { span.soft { " · " (p.because) } } }
                        }
                    }
                }
            }
        }
        @if !had.is_empty() { (crate::page::working(&format!("{} on record", had.len()), &rows)) }
    }
}

fn records(log: &SiteLog) -> Markup {
    html! {
        h2 id="records" { "The log" }
        @if log.records.is_empty() { p { "No record yet." } }
        ol.records {
            @for entry in &log.records {
                li {
                    p.kicker.num { (entry.number) " · " (entry.head[0]) " · " (entry.head[1]) @if !entry.head[2].is_empty() { " · " (entry.head[2]) } }
                    p { (entry.said) }
                }
            }
        }
    }
}

/// A table of words that a phone shows as cards, each cell under its heading.
fn lines<'a>(head: &[&str], rows: impl Iterator<Item = &'a [String]>, none: &str) -> Markup {
    let mut rows = rows.peekable();
    html! {
        @if rows.peek().is_none() {
            @if !none.is_empty() { p { (none) } }
        } @else {
            table.words {
                thead { tr { @for cell in head { th scope="col" { (cell) } } } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (place, cell) in row.iter().enumerate() {
                                @let heading = head.get(place).copied().unwrap_or("");
                                @if place == 0 { th scope="row" { (cell) } }
                                @else if cell.is_empty() { td.none {} }
                                @else { td data-label=(heading) { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_log_says_so() {
        let page = content(&SiteLog::default()).into_string();
        assert!(
            page.contains("Nothing is on record yet.") && page.contains("The book has no works"),
            "{page}"
        );
    }

    #[test]
    fn words_of_a_record_never_become_markup() {
        let entry = Entry { said: "<script>alert(1)</script>".to_owned(), ..Entry::default() };
        let log = SiteLog {
            records: vec![entry],
            holds: vec![["<b>".to_owned(), "\" onclick=x".to_owned(), String::new()]],
            ..SiteLog::default()
        };
        let page = content(&log).into_string();
        assert!(
            !page.contains("<script>") && !page.contains("<b>") && !page.contains("\" onclick"),
            "{page}"
        );
    }
}
