//! Works as CSV and as a calendar.

use super::{Activity, schedule, today};
use crate::check::Project;
use crate::standing::records;
use building::calendar::Date;
use building::records::Body;

/// Writes the works as CSV; `start` is as computed, so that the list can be read back by the book.
///
/// # Errors
/// What the writer said; writing into memory gives none in practice.
pub fn csv(project: &Project) -> Result<String, String> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let fail = |e: csv::Error| e.to_string();
    let head = ["activity", "trade", "start", "end", "days", "touches", "covers", "after", "stage"];
    out.write_record(head).map_err(fail)?;
    for a in schedule(project) {
        let day = |d: Option<Date>| d.map(|d| d.to_string()).unwrap_or_default();
        let row = [
            a.plan.activity.clone(),
            a.plan.trade.clone(),
            day(a.start),
            day(a.end),
            a.plan.days.to_string(),
            a.plan.touches.join("; "),
            a.plan.covers.join("; "),
            a.plan.after.join("; "),
            a.plan.stage.clone().unwrap_or_default(),
        ];
        out.write_record(row).map_err(fail)?;
    }
    let bytes = out.into_inner().map_err(|e| e.to_string())?;
    String::from_utf8(bytes).map_err(|e| e.to_string())
}

/// Writes the works, booked inspections and questions that are due as a calendar (iCalendar, RFC 5545), whole days.
/// The same project gives the same bytes.
pub fn icalendar(project: &Project) -> String {
    let stamp = today(project).map_or_else(|| "19700101".to_owned(), basic);
    let mut out = Calendar { text: String::new(), stamp: format!("{stamp}T000000Z") };
    out.line("BEGIN:VCALENDAR");
    out.line("VERSION:2.0");
    out.line("PRODID:-//windtight//works//EN");
    for a in schedule(project) {
        out.activity(&a);
    }
    for record in records(project) {
        let id = &record.head.id;
        match &record.body {
            Body::OfficialInspection(i) => {
                if let Some(day) = Date::read(&i.on) {
                    out.event(id, day, day, &format!("inspection: {} ({})", i.of, i.state), &i.office);
                }
            }
            Body::Question(q) if q.answer.is_empty() => {
                if let Some(day) = Date::read(&q.due) {
                    out.event(id, day, day, &format!("answer due from {}", q.to), &q.question);
                }
            }
            _ => {}
        }
    }
    out.line("END:VCALENDAR");
    out.text
}

struct Calendar {
    text: String,
    stamp: String,
}

impl Calendar {
    /// Writes a line, folded at 75 octets as RFC 5545, 3.1 asks.
    fn line(&mut self, line: &str) {
        let mut room = 75;
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > room {
                self.text.push_str("\r\n ");
                used = 0;
                room = 74;
            }
            self.text.push(c);
            used += c.len_utf8();
        }
        self.text.push_str("\r\n");
    }

    fn event(&mut self, id: &str, first: Date, last: Date, summary: &str, more: &str) {
        // The end of a whole-day event is the day after its last.
        let Some(after) = last.plus_days(1) else { return };
        self.line("BEGIN:VEVENT");
        self.line(&format!("UID:{}@windtight", escaped(id)));
        let stamp = format!("DTSTAMP:{}", self.stamp);
        self.line(&stamp);
        self.line(&format!("DTSTART;VALUE=DATE:{}", basic(first)));
        self.line(&format!("DTEND;VALUE=DATE:{}", basic(after)));
        self.line(&format!("SUMMARY:{}", escaped(summary)));
        if !more.is_empty() {
            self.line(&format!("DESCRIPTION:{}", escaped(more)));
        }
        self.line("END:VEVENT");
    }

    fn activity(&mut self, a: &Activity) {
        let (Some(start), Some(end)) = (a.start, a.end) else { return };
        let trade = if a.plan.trade.is_empty() { String::new() } else { format!(" ({})", a.plan.trade) };
        let covers = if a.plan.covers.is_empty() {
            String::new()
        } else {
            format!("covers {}", a.plan.covers.join("; "))
        };
        self.event(
            &format!("work-{}", a.number + 1),
            start,
            end,
            &format!("{}{trade}", a.plan.activity),
            &covers,
        );
    }
}

fn basic(day: Date) -> String {
    day.to_string().replace('-', "")
}

/// Escapes text as RFC 5545, 3.3.11 asks; other control signs are dropped.
fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}
