//! Line charts and year strips.
//!
//! Lines carry their names at their right ends and there is no legend; axes stand only where something is read
//! from them; the unit stands in the sentence above. Lines differ by their dashes, not by colour.

use super::decimate::{Reach, gather, thin};
use super::scale::{Scale, TimeMark, ticks};
use crate::svg::{Anchor, Drawing, Node, Path, Weight, decimal, line, rect, text, text_width};

/// How wide a drawing is made: its labels are set anew for each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// For a desk and for print.
    Desk,
    /// For a phone held upright.
    Phone,
}

impl Format {
    /// Both, in order.
    pub const ALL: [Self; 2] = [Self::Desk, Self::Phone];

    /// Natural width of a drawing.
    pub fn width(self) -> f64 {
        match self {
            Self::Desk => 760.0,
            Self::Phone => 320.0,
        }
    }

    /// Ending for ids, so that both drawings can stand on one page.
    pub fn suffix(self) -> &'static str {
        match self {
            Self::Desk => "d",
            Self::Phone => "p",
        }
    }
}

/// One line of a chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Name at its end.
    pub name: String,
    /// Points `(hour, value)`; values that are not finite break nothing, they are left out.
    pub points: Vec<[f64; 2]>,
}

/// A value across the whole chart, such as a set point.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Value.
    pub value: f64,
    /// Name at the right.
    pub name: String,
}

/// A line chart over time.
#[derive(Clone, Debug, PartialEq)]
pub struct LineChart {
    /// Unique on its page.
    pub id: String,
    /// What the chart shows, with the unit.
    pub title: String,
    /// The same for one who does not see it, with the figures that matter.
    pub description: String,
    /// Lines.
    pub series: Vec<Series>,
    /// Values across.
    pub references: Vec<Reference>,
    /// Marks of the time axis.
    pub marks: Vec<TimeMark>,
    /// Spans of time to point out, with a label: `(from, to, label)`.
    pub spans: Vec<(f64, f64, String)>,
    /// First and last hour of the axis.
    pub hours: [f64; 2],
    /// Value the axis must reach down to, such as 0.
    pub floor: Option<f64>,
}

/// Classes of lines in their order; three dashes is as many as the eye keeps apart in print.
const RUNS: [&str; 3] = ["run", "run2", "run3"];

/// A label at the end of a line, waiting for its place.
struct EndLabel {
    y: f64,
    line_y: f64,
    words: String,
    class: &'static str,
}

/// Draws a line chart.
pub fn line_chart(chart: &LineChart, format: Format) -> Drawing {
    let width = format.width();
    let height = match format {
        Format::Desk => 260.0,
        Format::Phone => 250.0,
    };
    let mut drawing = Drawing::new(&format!("{}-{}", chart.id, format.suffix()), &chart.title, width, height);
    drawing.describe(&chart.description);
    let end_room = end_label_room(chart, format);
    let (left, right, top, bottom) = (46.0, width - end_room, 26.0, height - 30.0);
    let (low, high) = value_span(chart);
    let marks = ticks(low, high, 4);
    let y = Scale::new(marks.values[0], marks.values[marks.values.len() - 1], bottom, top);
    let x = Scale::new(chart.hours[0], chart.hours[1], left, right);
    draw_spans(&mut drawing, chart, x, top, bottom);
    for value in &marks.values {
        drawing.push(line(left, y.at(*value), right, y.at(*value), "hair"));
        let label = decimal(*value, marks.decimals);
        drawing.push(text(left - 7.0, y.at(*value) + 4.5, &label, Anchor::End, "ts"));
    }
    draw_time_axis(&mut drawing, &chart.marks, x, bottom, right);
    let mut labels = Vec::new();
    for reference in &chart.references {
        let at = y.at(reference.value);
        drawing.push(line(left, at, right, at, "bound"));
        labels.push(EndLabel { y: at, line_y: at, words: reference.name.clone(), class: "ts" });
    }
    for (index, series) in chart.series.iter().enumerate() {
        let points = thin(&series.points, (right - left) as usize);
        let paper: Vec<[f64; 2]> = points.iter().map(|p| [x.at(p[0]), y.at(p[1])]).collect();
        if let Some(last) = paper.last() {
            drawing.push(line(last[0], last[1], right, last[1], "hair"));
            labels.push(EndLabel { y: last[1], line_y: last[1], words: series.name.clone(), class: "tsb" });
            drawing.push(Path::through(&paper).node(RUNS[index % RUNS.len()]));
        }
    }
    draw_end_labels(&mut drawing, labels, right, end_room, [top, bottom]);
    drawing
}

fn value_span(chart: &LineChart) -> (f64, f64) {
    let mut span: Option<(f64, f64)> = None;
    let values = chart.series.iter().flat_map(|s| s.points.iter().map(|p| p[1]));
    let all = values.chain(chart.references.iter().map(|r| r.value)).chain(chart.floor);
    for value in all.filter(|v| v.is_finite()) {
        let (low, high) = span.unwrap_or((value, value));
        span = Some((low.min(value), high.max(value)));
    }
    span.unwrap_or((0.0, 1.0))
}

fn end_label_room(chart: &LineChart, format: Format) -> f64 {
    let names = chart.series.iter().map(|s| &s.name).chain(chart.references.iter().map(|r| &r.name));
    let most = match format {
        Format::Desk => 210.0,
        Format::Phone => 112.0,
    };
    let widest = names.map(|n| longest_line(n, most)).fold(0.0, f64::max);
    (widest + 16.0).clamp(40.0, most + 16.0)
}

/// Breaks words into lines no wider than `width`, at spaces.
pub fn wrap(words: &str, width: f64, size: f64, weight: Weight) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(current) if text_width(&format!("{current} {word}"), size, weight) <= width => {
                current.push(' ');
                current.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn longest_line(words: &str, width: f64) -> f64 {
    wrap(words, width, 13.0, Weight::SemiBold)
        .iter()
        .map(|l| text_width(l, 13.0, Weight::SemiBold))
        .fold(0.0, f64::max)
}

fn draw_spans(drawing: &mut Drawing, chart: &LineChart, x: Scale, top: f64, bottom: f64) {
    for (from, to, label) in &chart.spans {
        let (a, b) = (x.at(from.max(chart.hours[0])), x.at(to.min(chart.hours[1])));
        if b <= a {
            continue;
        }
        drawing.push(line(a, top - 6.0, a, bottom, "hair"));
        drawing.push(line(b, top - 6.0, b, bottom, "hair"));
        drawing.push(line(a, top - 6.0, b, top - 6.0, "edge"));
        if text_width(label, 13.0, Weight::Regular) <= b - a {
            drawing.push(text((a + b) / 2.0, top - 11.0, label, Anchor::Middle, "ts"));
        }
    }
}

/// Draws a time axis; labels that would run over the last one, or over `right`, are left out.
fn draw_time_axis(drawing: &mut Drawing, marks: &[TimeMark], x: Scale, bottom: f64, right: f64) {
    drawing.push(line(x.at(marks.first().map_or(0.0, |m| m.hour)), bottom, right, bottom, "edge"));
    let mut used = f64::NEG_INFINITY;
    for mark in marks {
        let at = x.at(mark.hour);
        drawing.push(line(at, bottom, at, bottom + 5.0, "edge"));
        let half = text_width(&mark.label, 13.0, Weight::Regular) / 2.0;
        if at - half > used + 6.0 && !mark.label.is_empty() {
            drawing.push(text(at, bottom + 19.0, &mark.label, Anchor::Middle, "ts"));
            used = at + half;
        }
    }
}

fn draw_end_labels(
    drawing: &mut Drawing,
    labels: Vec<EndLabel>,
    right: f64,
    room: f64,
    [top, bottom]: [f64; 2],
) {
    const LINE: f64 = 15.0;
    let mut labels: Vec<(EndLabel, Vec<String>)> = labels
        .into_iter()
        .map(|label| {
            let lines = wrap(&label.words, room - 14.0, 13.0, Weight::SemiBold);
            (label, lines)
        })
        .collect();
    labels.sort_by(|a, b| a.0.line_y.total_cmp(&b.0.line_y));
    let heights: Vec<f64> = labels.iter().map(|(_, lines)| lines.len() as f64 * LINE + 2.0).collect();
    let wanted: Vec<f64> = labels.iter().map(|(label, _)| label.y).collect();
    let placed = spread(&wanted, &heights, top - 8.0, bottom + 10.0);
    for (((label, lines), centre), height) in labels.iter().zip(placed).zip(heights) {
        drawing.push(Path::through(&[[right + 1.0, label.line_y], [right + 8.0, centre]]).node("hair"));
        for (row, words) in lines.iter().enumerate() {
            let y = centre - height / 2.0 + LINE * (row as f64 + 0.8);
            drawing.push(text(right + 11.0, y, words, Anchor::Start, label.class));
        }
    }
}

/// Moves sorted centres apart until spans of the sizes given do not overlap, as near to where they were wanted
/// as a pass down and a pass up allow, inside `low..high` as far as there is room.
pub fn spread(wanted: &[f64], sizes: &[f64], low: f64, high: f64) -> Vec<f64> {
    let mut placed: Vec<f64> = wanted.to_vec();
    let mut edge = low;
    for (centre, size) in placed.iter_mut().zip(sizes) {
        *centre = centre.max(edge + size / 2.0);
        edge = *centre + size / 2.0;
    }
    let mut edge = high;
    for (centre, size) in placed.iter_mut().zip(sizes).rev() {
        *centre = centre.min(edge - size / 2.0);
        edge = *centre - size / 2.0;
    }
    placed
}

/// A year of one quantity: the reach of each day as a stroke, and the set points across.
#[derive(Clone, Debug, PartialEq)]
pub struct YearStrip {
    /// Unique on its page.
    pub id: String,
    /// What it shows, with the unit.
    pub title: String,
    /// The same in words.
    pub description: String,
    /// Reach of each day, in the reader's unit; `None` for a day without values.
    pub days: Vec<Option<Reach>>,
    /// Name of the values.
    pub name: String,
    /// Values across, such as set points.
    pub references: Vec<Reference>,
    /// Days to point out at their highest, with a short label: `(day, label)`.
    pub notes: Vec<(usize, String)>,
}

/// Draws a year strip.
pub fn year_strip(strip: &YearStrip, format: Format) -> Drawing {
    let width = format.width();
    let (height, letters) = match format {
        Format::Desk => (164.0, 3),
        Format::Phone => (180.0, 1),
    };
    let mut drawing = Drawing::new(&format!("{}-{}", strip.id, format.suffix()), &strip.title, width, height);
    drawing.describe(&strip.description);
    let room: f64 = match format {
        Format::Desk => 120.0,
        Format::Phone => 78.0,
    };
    let (left, right, top, bottom) = (38.0, width - room, 22.0, height - 28.0);
    let columns = match format {
        Format::Desk => 365,
        Format::Phone => 122,
    };
    let front = gather(&strip.days, columns);
    let references = strip.references.iter().map(|r| r.value);
    let seen = front.iter().flatten().flat_map(|r| [r.low, r.high]).chain(references);
    let (low, high) =
        seen.filter(|v| v.is_finite()).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if front.iter().all(Option::is_none) {
        drawing.push(text(left, top + 20.0, "no values", Anchor::Start, "ts"));
        return drawing;
    }
    let marks = ticks(low, high, 4);
    let y = Scale::new(marks.values[0], marks.values[marks.values.len() - 1], bottom, top);
    // The axis is marked in hours; a day stands in its middle.
    let x = Scale::new(0.0, 24.0 * strip.days.len().max(1) as f64, left, right);
    for value in &marks.values {
        drawing.push(line(left, y.at(*value), right, y.at(*value), "hair"));
        drawing.push(text(
            left - 6.0,
            y.at(*value) + 4.5,
            &decimal(*value, marks.decimals),
            Anchor::End,
            "ts",
        ));
    }
    draw_time_axis(&mut drawing, &super::scale::month_marks(letters), x, bottom, right);
    let column_width = (right - left) / columns as f64;
    drawing.push(strokes(&front, left, column_width, y, "band"));
    for reference in &strip.references {
        let at = y.at(reference.value);
        drawing.push(line(left, at, right, at, "bound"));
    }
    draw_notes(&mut drawing, strip, [left, right, top], y);
    let mut labels: Vec<EndLabel> = Vec::new();
    if let Some(at) = front.iter().rev().flatten().next().map(|r| y.at(r.mean)) {
        labels.push(EndLabel { y: at, line_y: at, words: strip.name.clone(), class: "tsb" });
    }
    for reference in &strip.references {
        let at = y.at(reference.value);
        labels.push(EndLabel { y: at, line_y: at, words: reference.name.clone(), class: "ts" });
    }
    draw_end_labels(&mut drawing, labels, right, room, [top, bottom]);
    drawing
}

fn strokes(reaches: &[Option<Reach>], left: f64, column_width: f64, y: Scale, class: &'static str) -> Node {
    let mut path = Path::new();
    for (k, reach) in reaches.iter().enumerate() {
        if let Some(reach) = reach {
            let x = left + (k as f64 + 0.5) * column_width;
            // A day without any swing still leaves a mark as tall as the pen.
            let (top, bottom) = (y.at(reach.high), y.at(reach.low).max(y.at(reach.high) + 0.8));
            path = path.to(x, top).line(x, bottom);
        }
    }
    path.node(class)
}

fn draw_notes(drawing: &mut Drawing, strip: &YearStrip, [left, right, top]: [f64; 3], y: Scale) {
    let days = strip.days.len().max(1);
    for (day, label) in &strip.notes {
        let Some(Some(reach)) = strip.days.get(*day) else { continue };
        let x = left + (*day as f64 + 0.5) * (right - left) / days as f64;
        drawing.push(crate::svg::circle(x, y.at(reach.high), 3.6, "edge"));
        let half = text_width(label, 13.0, Weight::SemiBold) / 2.0 + 2.0;
        drawing.push(line(x, y.at(reach.high) - 3.6, x, top - 3.0, "hair"));
        let centre = x.clamp(left + half, (right - half).max(left + half));

        drawing.push(text(centre, top - 8.0, label, Anchor::Middle, "tsb"));
    }
}

/// A rule as long as a share of `width`, for ranked rows: solid, or broken for the other sign.
pub fn length_rule(share: f64, width: f64, broken: bool) -> String {
    let length = (share.clamp(0.0, 1.0) * width).max(2.0);
    let mut drawing = Node::new("svg")
        .with("xmlns", "http://www.w3.org/2000/svg")
        .class("rule")
        .num("width", length)
        .num("height", 7.0)
        .with("aria-hidden", "true");
    if broken {
        let mut x = 0.0;
        while x < length {
            drawing.push(rect(x, 0.0, (length - x).min(5.0), 7.0, "bar"));
            x += 7.5;
        }
    } else {
        drawing.push(rect(0.0, 0.0, length, 7.0, "bar"));
    }
    drawing.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sample() -> LineChart {
        LineChart {
            id: "evening".into(),
            title: "CO2 in the hall, ppm".into(),
            description: "Rises from 600 to 1967 ppm.".into(),
            series: vec![
                Series {
                    name: "doors shut".into(),
                    points: vec![[19.0, 600.0], [20.0, 1908.0], [20.25, 1967.0]],
                },
                Series {
                    name: "doors open".into(),
                    points: vec![[19.0, 600.0], [20.0, 1479.0], [20.25, 1597.0]],
                },
            ],
            references: vec![Reference { value: 2040.0, name: "steady".into() }],
            marks: crate::draw::scale::clock_marks(19.0, 20.25, 4),
            spans: vec![(19.0, 20.25, "90 people".into())],
            hours: [19.0, 20.25],
            floor: Some(400.0),
        }
    }

    #[test]
    fn a_line_chart_is_stable() {
        insta::assert_snapshot!(line_chart(&sample(), Format::Desk).inline());
    }

    #[test]
    fn an_empty_chart_is_still_a_picture() {
        let chart = LineChart { series: vec![], references: vec![], marks: vec![], ..sample() };
        assert!(line_chart(&chart, Format::Phone).inline().starts_with("<svg"));
        let strip = YearStrip {
            id: "s".into(),
            title: "t".into(),
            description: String::new(),
            days: vec![],
            name: "hall".into(),
            references: vec![],
            notes: vec![],
        };
        assert!(year_strip(&strip, Format::Desk).inline().contains("no values"));
    }

    #[test]
    fn rules_keep_their_share() {
        insta::assert_snapshot!(length_rule(0.25, 100.0, true));
        assert!(length_rule(0.5, 100.0, false).contains("width=\"50\""));
    }

    proptest! {
        /// Labels never overlap when there is room for all.
        #[test]
        fn spread_keeps_apart(mut wanted in prop::collection::vec(0.0..100.0_f64, 1..8)) {
            wanted.sort_by(f64::total_cmp);
            let sizes = vec![12.0; wanted.len()];
            let placed = spread(&wanted, &sizes, 0.0, 100.0);
            for pair in placed.windows(2) {
                prop_assert!(pair[1] - pair[0] >= 12.0 - 1e-9);
            }
            prop_assert!(placed[0] >= 6.0 - 1e-9 && placed[placed.len() - 1] <= 94.0 + 1e-9);
        }

        /// Wrapped words come back whole.
        #[test]
        fn wrap_loses_nothing(words in "[a-z]{1,9}( [a-z]{1,9}){0,6}", width in 10.0..300.0_f64) {
            prop_assert_eq!(wrap(&words, width, 13.0, Weight::Regular).join(" "), words);
        }
    }
}
