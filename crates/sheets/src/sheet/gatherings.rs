//! Gatherings: what the air of a room does when a crowd comes, against what it should do.

use maud::{Markup, html};
use quantity::Dimension;

use crate::draw::chart::{Format, LineChart, Reference, Series, line_chart};
use crate::draw::scale::{clock, clock_marks};
use crate::page::{figure, table, working};
use crate::reader::{Reader, plain};
use crate::sheet::where_we_stand::capital;

/// One course of CO2 through an evening.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// What makes it differ: "doors shut", "as run in the year".
    pub name: String,
    /// `(hour of the day, ppm)`; hours may run past 24.
    pub points: Vec<[f64; 2]>,
}

/// What a room should show when it fills.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// Highest while the crowd is there, ppm.
    pub peak_ppm: f64,
    /// Where it would end if they stayed, ppm.
    pub steady_ppm: f64,
    /// Under which condition, fit for the middle of a sentence.
    pub condition: String,
}

/// A gathering on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Evening {
    /// What it is called.
    pub name: String,
    /// Room.
    pub room: String,
    /// Heads.
    pub people: f64,
    /// Times it happens in the year.
    pub times_a_year: usize,
    /// Day shown, from 0.
    pub day: usize,
    /// Begin and end, hours of the day.
    pub hours: [f64; 2],
    /// Interval, when the room empties.
    pub interval: Option<[f64; 2]>,
    /// Courses, the one of the year's run first.
    pub courses: Vec<Course>,
    /// What this room, crowd and time should show.
    pub expected: Option<Expected>,
    /// Highest operative temperature of the evening, °C.
    pub warmest_c: Option<f64>,
    /// Outdoor air while the crowd is there, m³/s.
    pub outdoor_air_m3_s: Option<f64>,
    /// Heads a code official has posted for the room.
    pub posted_load: Option<u32>,
}

/// Draws the content of the sheet.
pub fn content(evenings: &[Evening], reader: Reader) -> Markup {
    html! {
        h1 { (headline(evenings)) }
        p.lead {
            "CO₂ does not count people and one figure fits no room: each line is held against what this room, this \
             crowd and this time should show. How many may come is for the code official, not for this sheet."
        }
        @for (place, evening) in evenings.iter().enumerate() { (one(place, evening, reader)) }
        @if evenings.is_empty() { p { "The book names no gathering." } }
    }
}

fn peak(evening: &Evening) -> Option<(f64, f64)> {
    let points = evening.courses.first()?.points.iter().filter(|p| p[1].is_finite());
    points.max_by(|a, b| a[1].total_cmp(&b[1])).map(|p| (p[0], p[1]))
}

fn headline(evenings: &[Evening]) -> String {
    let worst =
        evenings.iter().filter_map(|e| peak(e).map(|(_, ppm)| (e, ppm))).max_by(|a, b| a.1.total_cmp(&b.1));
    match worst {
        Some((evening, ppm)) => format!(
            "{} reaches {} during {}.",
            capital(&evening.room),
            plain((ppm / 10.0).round() * 10.0, "ppm"),
            evening.name.to_lowercase(),
        ),
        None => "When the room fills".to_owned(),
    }
}

fn sentence(evening: &Evening) -> String {
    let heads = plain(evening.people.round(), "");
    let room = capital(&evening.room);
    match (peak(evening), &evening.expected) {
        (Some((hour, ppm)), Some(expected)) => format!(
            "{room}: {heads} people take it to {} by {}; {}, it should show {} at most.",
            plain(ppm.round(), "ppm"),
            clock(hour),
            expected.condition,
            plain(expected.peak_ppm.round(), "ppm"),
        ),
        (Some((hour, ppm)), None) => {
            format!("{room}: {heads} people take it to {} by {}.", plain(ppm.round(), "ppm"), clock(hour))
        }
        (None, _) => format!("{room}: {heads} people; its air was not computed."),
    }
}

fn one(place: usize, evening: &Evening, reader: Reader) -> Markup {
    let said = sentence(evening);
    let [start, end] = axis(evening);
    let mut spans =
        vec![(evening.hours[0], evening.hours[1], format!("{} people", plain(evening.people.round(), "")))];
    if let Some([from, to]) = evening.interval {
        spans = vec![
            (evening.hours[0], from, format!("{} people", plain(evening.people.round(), ""))),
            (from, to, "interval".to_owned()),
            (to, evening.hours[1], String::new()),
        ];
    }
    let chart = LineChart {
        id: format!("gathering-{place}"),
        title: format!("CO2 in {}, ppm", evening.room),
        description: said.clone(),
        series: evening
            .courses
            .iter()
            .map(|c| Series { name: c.name.clone(), points: c.points.clone() })
            .collect(),
        references: evening
            .expected
            .iter()
            .flat_map(|e| {
                // Two lines a hair apart would only smear each other.
                let apart = (e.steady_ppm - e.peak_ppm).abs() > 0.03 * e.peak_ppm.abs();
                let stayed = if apart { e.steady_ppm } else { f64::NAN };
                [(e.peak_ppm, "what it should show"), (stayed, "if they stayed")]
            })
            .filter(|(ppm, _)| ppm.is_finite())
            .map(|(ppm, name)| Reference { value: ppm, name: name.to_owned() })
            .collect(),
        marks: clock_marks(start, end, 6),
        spans,
        hours: [start, end],
        floor: Some(400.0),
    };
    html! {
        h2 { (capital(&evening.name)) }
        div.evening {
            div {
                @if evening.courses.is_empty() { p { (said) } } @else {
                    (figure(&format!("{said} CO₂ in ppm."), |format: Format| line_chart(&chart, format)))
                }
            }
            div {
                (facts(evening, reader))
                @if !evening.courses.is_empty() {
                    (working("the same in figures", &course_table(evening, start, end)))
                }
            }
        }
    }
}

fn axis(evening: &Evening) -> [f64; 2] {
    let points = evening.courses.iter().flat_map(|c| c.points.iter().map(|p| p[0])).filter(|h| h.is_finite());
    let (low, high) = points.fold((evening.hours[0], evening.hours[1]), |(l, h), p| (l.min(p), h.max(p)));
    [low, high]
}

fn facts(evening: &Evening, reader: Reader) -> Markup {
    html! {
        dl.facts {
            dt { "When" }
            dd { (evening.times_a_year) " times a year, " (clock(evening.hours[0])) " to " (clock(evening.hours[1])) }
            @if !evening.courses.is_empty() {
                dt { "Shown" } dd { (reader.day(evening.day)) }
            }
            @if let Some(flow) = evening.outdoor_air_m3_s {
                dt { "Outdoor air" } dd { (reader.show(flow, Dimension::VolumeFlow)) }
            }
            @if let Some(warmest) = evening.warmest_c {
                dt { "Warmest" } dd { (reader.show(warmest, Dimension::Temperature)) }
            }
            @if let Some(expected) = &evening.expected {
                dt { "Should show" } dd { (plain(expected.peak_ppm.round(), "ppm")) ", " (expected.condition) }
                dt { "If they stayed" } dd { (plain(expected.steady_ppm.round(), "ppm")) }
            }
            dt { "Posted for" }
            dd { @match evening.posted_load { Some(load) => { (load) " people" } None => "no load recorded" } }
        }
    }
}

/// CO2 every quarter or half hour, one column a course.
fn course_table(evening: &Evening, start: f64, end: f64) -> Markup {
    let step = if end - start > 4.0 { 0.5 } else { 0.25 };
    let mut head = vec!["time"];
    head.extend(evening.courses.iter().map(|c| c.name.as_str()));
    let mut rows = Vec::new();
    let mut hour = start;
    while hour <= end + 1e-9 {
        let mut row = vec![clock(hour)];
        for course in &evening.courses {
            let at = course.points.iter().min_by(|a, b| (a[0] - hour).abs().total_cmp(&(b[0] - hour).abs()));
            row.push(match at {
                Some(p) if (p[0] - hour).abs() <= step / 2.0 && p[1].is_finite() => {
                    plain(p[1].round(), "ppm")
                }
                _ => "–".to_owned(),
            });
        }
        rows.push(row);
        hour += step;
    }
    table("CO₂", &head, &rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recital() -> Evening {
        Evening {
            name: "recital".into(),
            room: "hall".into(),
            people: 90.0,
            times_a_year: 24,
            day: 4,
            hours: [19.0, 20.75],
            interval: Some([19.75, 20.0]),
            courses: vec![Course { name: "as run".into(), points: vec![[19.0, 600.0], [20.25, 1967.4]] }],
            expected: Some(Expected {
                peak_ppm: 1967.0,
                steady_ppm: 2040.0,
                condition: "shut off, with 530 cfm of outdoor air".into(),
            }),
            warmest_c: None,
            outdoor_air_m3_s: None,
            posted_load: None,
        }
    }

    #[test]
    fn the_sentence_says_what_to_see() {
        assert_eq!(
            sentence(&recital()),
            "Hall: 90 people take it to 1967 ppm by 20:15; shut off, with 530 cfm of outdoor air, it should show 1967 ppm \
             at most."
        );
        assert_eq!(headline(&[recital()]), "Hall reaches 1970 ppm during recital.");
    }

    #[test]
    fn a_gathering_without_a_run_claims_nothing() {
        let evening = Evening { courses: vec![], ..recital() };
        assert_eq!(sentence(&evening), "Hall: 90 people; its air was not computed.");
        assert_eq!(headline(&[evening]), "When the room fills");
    }
}
