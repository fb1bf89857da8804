//! `windtight works` and `windtight takeoff`.

use crate::Ended;
use crate::args::{Takeoff, Works};
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use building::calendar::Date;
use project::Project;
use project::diagnostic::{clean, count};
use project::takeoff;
use project::works::{self, Activity, DaySheet};
use serde_json::{Value, json};

/// Shows the works: three weeks ahead, one day, or all of it as a list or calendar.
pub fn run(options: &Works, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    if options.csv {
        let text = works::csv(&project).map_err(Failure::Internal)?;
        return terminal.print(&text).map(|()| Ended::Well);
    }
    if options.ics {
        return terminal.print(&works::icalendar(&project)).map(|()| Ended::Well);
    }
    let from = match &options.day {
        Some(text) if text == "today" => None,
        Some(text) => Some(Date::read(text).ok_or_else(|| Failure::CommandLine {
            message: format!("\"{text}\" is no date"),
            hint: "write --day 2025-09-03, or --day today".to_owned(),
        })?),
        None => None,
    };
    let from = from
        .or_else(|| works::today(&project))
        .ok_or_else(|| Failure::Internal("the machine's date could not be read".to_owned()))?;
    let found = works::findings(&project);
    if options.json {
        print_json(terminal, &json(&project, from, options.weeks))?;
    } else if options.day.is_some() {
        terminal.print(&day(&works::day_sheet(&project, from), &project, terminal))?;
    } else {
        terminal.print(&ahead(&project, from, options.weeks, terminal))?;
    }
    Ok(if found.is_empty() { Ended::Well } else { Ended::NotMet })
}

fn print_json(terminal: &Terminal, value: &Value) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Failure::Internal(e.to_string()))?;
    terminal.print(&format!("{text}\n"))
}

fn text(day: Option<Date>) -> Option<String> {
    day.map(|d| d.to_string())
}

fn json(project: &Project, from: Date, weeks: u32) -> Value {
    let activity = |a: &Activity| {
        json!({
            "number": a.number + 1, "activity": a.plan.activity, "trade": a.plan.trade, "start": text(a.start),
            "end": text(a.end), "days": a.plan.days, "start-follows": a.derived, "touches": a.plan.touches,
            "covers": a.plan.covers, "after": a.plan.after, "stage": a.plan.stage.clone().unwrap_or_default(),
        })
    };
    let sheet = works::day_sheet(project, from);
    let on_site: Vec<Value> = sheet
        .on_site
        .iter()
        .map(|(trade, activity, days)| json!({ "trade": trade, "activity": activity, "days": days }))
        .collect();
    let found: Vec<Value> = works::findings(project)
        .iter()
        .map(|f| json!({ "number": f.number + 1, "code": f.code, "sentence": f.sentence }))
        .collect();
    json!({
        "schema": "windtight/works/1",
        "from": from.to_string(),
        "weeks": weeks,
        "activities": works::schedule(project).iter().map(activity).collect::<Vec<_>>(),
        "ahead": works::look_ahead(project, from, weeks).iter().map(|a| a.number + 1).collect::<Vec<_>>(),
        "day": {
            "on-site": on_site, "keep-open": sheet.keep_open, "photograph": sheet.photograph, "due": sheet.due,
        },
        "findings": found,
    })
}

fn ahead(project: &Project, from: Date, weeks: u32, terminal: &Terminal) -> String {
    let all = works::look_ahead(project, from, weeks);
    let mut out = format!("{}\n", terminal.strong(&format!("{} from {from}", count(weeks as usize, "week"))));
    if project.building.works.is_empty() {
        out.push_str("the book has no works; write [[work]] tables, or [works] with a file\n");
        return out;
    }
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|a| {
            let covers: Vec<String> = a.plan.covers.iter().map(|c| works::item_words(c)).collect();
            let more =
                if covers.is_empty() { String::new() } else { format!("; covers {}", covers.join(", ")) };
            let day = |d: Option<Date>| d.map_or_else(String::new, |d| format!("{:?} {d}", d.weekday()));
            vec![day(a.start), day(a.end), clean(&a.plan.trade), clean(&format!("{}{more}", a.plan.activity))]
        })
        .collect();
    out.push_str(&columns(&rows, terminal.width(), 2));
    if all.is_empty() {
        out.push_str("  nothing\n");
    }
    let found = works::findings(project);
    if !found.is_empty() {
        out.push_str(&format!("\n{}\n", terminal.strong("does not go together")));
        for f in found {
            out.push_str(&terminal.paragraph(&clean(&f.sentence), "  "));
        }
    }
    out
}

fn day(sheet: &DaySheet, project: &Project, terminal: &Terminal) -> String {
    let title = sheet.day.map_or_else(String::new, |d| format!("{:?} {d}", d.weekday()));
    let mut out =
        format!("{}\n", terminal.strong(&clean(&format!("{}, {title}", project.building.project.name))));
    let mut part = |heading: &str, lines: Vec<String>| {
        out.push_str(&format!("\n{}\n", terminal.strong(heading)));
        if lines.is_empty() {
            out.push_str("  nothing by the works and the log\n");
        }
        for line in lines {
            out.push_str(&terminal.paragraph(&format!("- {}", clean(&line)), "  "));
        }
    };
    let on_site =
        sheet.on_site.iter().map(|(trade, activity, days)| format!("{trade}: {activity} ({days})")).collect();
    part("on site", on_site);
    part("may not be covered", sheet.keep_open.clone());
    part("photograph", sheet.photograph.clone());
    part("due within a week", sheet.due.clone());
    out
}

/// Lists quantities by trade.
pub fn takeoff(options: &Takeoff, terminal: &Terminal) -> Result<Ended, Failure> {
    let (project, report) = project::open(&options.folder)?;
    terminal.say(&report.render(terminal.style()));
    let all = takeoff::takeoff(&project.building);
    if options.csv {
        let text = takeoff::csv(&all).map_err(Failure::Internal)?;
        return terminal.print(&text).map(|()| Ended::Well);
    }
    if options.json {
        let list = serde_json::to_value(&all).map_err(|e| Failure::Internal(e.to_string()))?;
        let value =
            json!({ "schema": takeoff::SCHEMA, "quantities": list, "not-measured": takeoff::NOT_MEASURED });
        return print_json(terminal, &value).map(|()| Ended::Well);
    }
    let mut out = String::new();
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut trade = "";
    let close = |out: &mut String, rows: &mut Vec<Vec<String>>| {
        out.push_str(&columns(rows, terminal.width(), 2));
        rows.clear();
    };
    for q in &all {
        if q.trade != trade {
            close(&mut out, &mut rows);
            trade = &q.trade;
            out.push_str(&format!("{}\n", terminal.strong(&clean(trade))));
        }
        let figure = |n| takeoff::figure(n, q.unit);
        rows.push(vec![
            format!("{} {}", figure(q.with_waste), q.unit),
            format!("net {}, waste {:.0} %", figure(q.net), 100.0 * q.waste),
            clean(&q.item),
        ]);
    }
    close(&mut out, &mut rows);
    out.push_str(&terminal.quiet(&terminal.paragraph(takeoff::NOT_MEASURED, "")));
    terminal.print(&out)?;
    terminal
        .say(&format!("{}; each traced to its elements with --csv or --json\n", count(all.len(), "line")));
    Ok(Ended::Well)
}
