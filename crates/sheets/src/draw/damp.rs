//! A year of dampness: one strip a layer, 52 weeks across, hatched denser where it is damper.
//!
//! Density alone carries the meaning, so that it stays in grey print: no stroke below 60 % relative humidity, one to five
//! strokes a week up to 97 %, a full block above. The layer that governs is underlined and named.

use super::chart::Format;
use super::scale::{Scale, month_marks};
use crate::svg::{Anchor, Drawing, Path, line, rect, text};

/// One layer's year.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// Name.
    pub name: String,
    /// Relative humidity of each week, a share.
    pub weeks: Vec<f64>,
    /// Whether it governs the verdict.
    pub governs: bool,
}

/// Strips of an assembly, outside to inside.
#[derive(Clone, Debug, PartialEq)]
pub struct DampYear {
    /// Unique on its page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What lies outside: "outdoors".
    pub outside: String,
    /// Layers, outside to inside.
    pub strips: Vec<Strip>,
}

/// Lower ends of the steps of dampness, shares of relative humidity.
const STEPS: [f64; 6] = [0.60, 0.70, 0.80, 0.85, 0.90, 0.97];
/// Words of the steps, for the legend.
const WORDS: [&str; 7] = ["under 60 %", "60 %", "70 %", "80 %", "85 %", "90 %", "97 % and more"];

/// Step of a humidity, 0 to 6.
fn step(humidity: f64) -> usize {
    STEPS.iter().filter(|s| humidity >= **s).count()
}

/// Draws the strips.
pub fn damp_year(input: &DampYear, format: Format) -> Drawing {
    let width = format.width();
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, 0.0);
    drawing.describe(description(input));
    let (left, height, gap, name_room) = match format {
        Format::Desk => (232.0, 22.0, 7.0, 0.0),
        Format::Phone => (2.0, 18.0, 8.0, 17.0),
    };
    let right = width - 2.0;
    let weeks = Scale::new(0.0, 52.0, left, right);
    let mut y = 20.0;
    let marks = month_marks(if format == Format::Desk { 3 } else { 1 });
    for mark in &marks {
        let x = weeks.at(mark.hour / 168.0);
        drawing.push(text(x + 1.0, y - 7.0, &mark.label, Anchor::Start, "ts"));
    }
    drawing.push(text(left - 10.0, y - 7.0, &input.outside, Anchor::End, "ts"));
    for strip in &input.strips {
        y = one(&mut drawing, strip, weeks, (left, right), y, (height, name_room)) + gap;
    }
    if format == Format::Desk {
        drawing.push(text(left - 10.0, y + 8.0, "inside", Anchor::End, "ts"));
    }
    y = legend(&mut drawing, y + 16.0, left.max(2.0), right, format);
    drawing.set_height(y + 4.0);
    drawing
}

fn one(
    drawing: &mut Drawing,
    strip: &Strip,
    weeks: Scale,
    (left, right): (f64, f64),
    y: f64,
    (height, name_room): (f64, f64),
) -> f64 {
    let top = y + name_room;
    let class = if strip.governs { "tdb" } else { "td" };
    let name = if strip.governs { format!("▸ {}", strip.name) } else { strip.name.clone() };
    if name_room > 0.0 {
        drawing.push(text(left, top - 4.0, &name, Anchor::Start, class));
    } else {
        let shown = crate::svg::fit(&name, left - 14.0, 13.0, crate::svg::Weight::Regular);
        drawing.push(text(left - 10.0, top + 0.7 * height, &shown, Anchor::End, class));
    }
    for (week, humidity) in strip.weeks.iter().enumerate() {
        let (a, b) = (weeks.at(week as f64), weeks.at(week as f64 + 1.0));
        cell(drawing, a, b, top, top + height, step(*humidity));
    }
    drawing.push(rect(left, top, right - left, height, "edge"));
    if strip.governs {
        drawing.push(line(left, top + height + 2.5, right, top + height + 2.5, "cut"));
    }
    top + height
}

/// Strokes of one week.
fn cell(drawing: &mut Drawing, left: f64, right: f64, top: f64, bottom: f64, step: usize) {
    if step == 0 {
        return;
    }
    if step == WORDS.len() - 1 {
        drawing.push(rect(left, top, right - left, bottom - top, "solid"));
        return;
    }
    let mut path = Path::new();
    for k in 0..step {
        let x = left + (k as f64 + 0.5) * (right - left) / step as f64;
        path = path.to(x, top).line(x, bottom);
    }
    drawing.push(path.node(if step >= 4 { "edge" } else { "thin" }));
}

fn legend(drawing: &mut Drawing, y: f64, left: f64, right: f64, format: Format) -> f64 {
    let (columns, cell_width) = match format {
        Format::Desk => (7, 14.0),
        Format::Phone => (3, 12.0),
    };
    let pitch = (right - left) / columns as f64;
    let mut last = y;
    for (k, word) in WORDS.iter().enumerate() {
        let x = left + (k % columns) as f64 * pitch;
        let top = y + (k / columns) as f64 * 20.0;
        cell(drawing, x, x + cell_width, top, top + 13.0, k);
        drawing.push(rect(x, top, cell_width, 13.0, "edge"));
        let words = if format == Format::Desk && k == WORDS.len() - 1 { "97 % +" } else { word };
        drawing.push(text(x + cell_width + 4.0, top + 11.0, words, Anchor::Start, "ts"));
        last = top + 14.0;
    }
    last
}

fn description(input: &DampYear) -> String {
    let one = |s: &Strip| {
        let most = s.weeks.iter().copied().fold(0.0, f64::max);
        let week = s.weeks.iter().position(|w| *w == most).unwrap_or(0);
        let governs = if s.governs { ", it governs" } else { "" };
        format!("{} up to {:.0} % in week {}{governs}", s.name, 100.0 * most, week + 1)
    };
    let all: Vec<String> = input.strips.iter().map(one).collect();
    format!("Relative humidity by week, from {} to inside: {}.", input.outside, all.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn damper_weeks_carry_more_ink() {
        let strip = |humidity: f64| {
            let input = DampYear {
                id: "x".into(),
                title: "t".into(),
                outside: "outdoors".into(),
                strips: vec![Strip { name: "a".into(), weeks: vec![humidity; 52], governs: true }],
            };
            let drawn = damp_year(&input, Format::Desk).inline();
            drawn.matches('M').count() + 100 * drawn.matches("\"solid\"").count()
        };
        let ink: Vec<usize> = [0.5, 0.65, 0.75, 0.82, 0.87, 0.93, 0.99].map(strip).to_vec();
        assert!(ink.windows(2).all(|w| w[1] > w[0]), "{ink:?}");
        assert_eq!(step(0.97), 6);
    }
}
