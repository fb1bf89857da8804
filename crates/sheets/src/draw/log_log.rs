//! The picture of a pressure test: flow against pressure on two logarithmic axes, readings, fitted lines, band, limit.
//!
//! A leak is a straight line here. Directions differ by the sign of their marks and the dash of their lines; the band is
//! drawn by its two edges, so that it prints in grey.

use super::chart::{Format, spread};
use crate::svg::{Anchor, Drawing, Path, Weight, circle, decimal, line, text, text_width};
use numeric::{ln, pow};

/// Readings of one direction with their line `q = c·pⁿ`, in the units shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Name at its end.
    pub name: String,
    /// `(pressure, flow)`; both above zero.
    pub points: Vec<[f64; 2]>,
    /// Coefficient and exponent; `None` for readings without a line.
    pub law: Option<[f64; 2]>,
}

/// A picture of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct LogLog {
    /// Unique on its page.
    pub id: String,
    /// What it shows, with its units.
    pub title: String,
    /// The same in words.
    pub description: String,
    /// Name of the flow's unit.
    pub unit: String,
    /// One run a direction.
    pub runs: Vec<Run>,
    /// Half-width of the full band as a share of the flow; zero: none.
    pub band: f64,
    /// Reference pressure and the flow allowed there; `None` without a limit.
    pub limit: Option<[f64; 2]>,
    /// Reference pressure, Pa.
    pub reference_pa: f64,
}

/// Pressures that get a mark, Pa.
const PRESSURES: [f64; 8] = [4.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 75.0];

/// A logarithmic axis on paper.
#[derive(Clone, Copy)]
struct Axis {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Axis {
    fn at(self, value: f64) -> f64 {
        let span = ln(self.high / self.low);
        self.from + ln(value / self.low) / span * (self.to - self.from)
    }
}

/// Draws a test; readings that are not above zero have no place on such axes and are left out.
pub fn log_log(input: &LogLog, format: Format) -> Drawing {
    let (width, height) = match format {
        Format::Desk => (620.0, 380.0),
        Format::Phone => (320.0, 300.0),
    };
    let mut drawing = Drawing::new(&format!("{}-{}", input.id, format.suffix()), &input.title, width, height);
    drawing.describe(&input.description);
    let good = |p: &&[f64; 2]| p.iter().all(|v| v.is_finite() && *v > 0.0);
    let points: Vec<[f64; 2]> =
        input.runs.iter().flat_map(|r| r.points.iter().filter(good)).copied().collect();
    let (Some(lowest), Some(highest)) =
        (points.iter().map(|p| p[0]).reduce(f64::min), points.iter().map(|p| p[0]).reduce(f64::max))
    else {
        drawing.push(text(8.0, 30.0, "no readings", Anchor::Start, "ts"));
        return drawing;
    };
    // Room for a line through a single reading, and for the limit.
    let few = points.len() < 3;
    let low_pa = PRESSURES.iter().copied().rev().find(|p| *p <= 0.95 * lowest).unwrap_or(0.8 * lowest);
    // One or two readings need the run of a usual test around them, or their line leads from nowhere.
    let low_pa = if few { low_pa.min(10.0) } else { low_pa };
    let high_pa = highest.max(input.reference_pa) * 1.12;
    let flows = points.iter().map(|p| p[1]).chain(input.limit.iter().map(|l| l[1]));
    let on_lines = input.runs.iter().filter_map(|r| r.law).flat_map(|[c, n]| {
        [c * pow(low_pa, n) * (1.0 - input.band), c * pow(high_pa, n) * (1.0 + input.band)]
    });
    let all: Vec<f64> = flows.chain(on_lines).filter(|q| *q > 0.0 && q.is_finite()).collect();
    let least = all.iter().copied().fold(f64::INFINITY, f64::min) / 1.06;
    let most = all.iter().copied().fold(0.0, f64::max) * 1.06;
    let end_room = match format {
        Format::Desk => 150.0,
        Format::Phone => 92.0,
    };
    let (left, right, top, bottom) = (54.0, width - end_room, 18.0, height - 40.0);
    let x = Axis { low: low_pa, high: high_pa, from: left, to: right };
    let y = Axis { low: least, high: most, from: bottom, to: top };
    axes(&mut drawing, input, x, y);
    let mut labels: Vec<(f64, String, &'static str)> = Vec::new();
    if let Some([p, q]) = input.limit {
        drawing.push(line(left, y.at(q), right, y.at(q), "bound"));
        drawing.push(line(x.at(p), bottom, x.at(p), top, "hair"));
        labels.push((y.at(q), format!("limit {}", figure(q)), "ts"));
    }
    for (n, run) in input.runs.iter().enumerate() {
        let class = ["run", "run2", "run3"][n.min(2)];
        if let Some([c, e]) = run.law {
            let end = |p: f64, f: f64| [x.at(p), y.at(f * c * pow(p, e))];
            drawing.push(Path::through(&[end(low_pa, 1.0), end(high_pa, 1.0)]).node(class));
            if input.band > 0.0 && n == 0 {
                for f in [1.0 - input.band, 1.0 + input.band] {
                    drawing.push(Path::through(&[end(low_pa, f), end(high_pa, f)]).node("dim"));
                }
            }
            labels.push((y.at(c * pow(high_pa, e)), run.name.clone(), "tsb"));
        } else if let Some(last) = run.points.last() {
            labels.push((y.at(last[1]), run.name.clone(), "tsb"));
        }
        for p in run.points.iter().filter(good) {
            let (px, py) = (x.at(p[0]), y.at(p[1]));
            drawing.push(circle(px, py, 3.6, if n == 0 { "dot" } else { "pane" }));
        }
    }
    name_ends(&mut drawing, labels, right, end_room, [top, bottom]);
    drawing
}

fn axes(drawing: &mut Drawing, input: &LogLog, x: Axis, y: Axis) {
    drawing.push(line(x.from, y.from, x.to, y.from, "edge"));
    drawing.push(line(x.from, y.from, x.from, y.to, "edge"));
    let mut used = f64::NEG_INFINITY;
    for p in PRESSURES.into_iter().filter(|p| *p >= x.low && *p <= x.high) {
        let at = x.at(p);
        drawing.push(line(at, y.from, at, y.from + 5.0, "edge"));
        let label = decimal(p, 0);
        let half = text_width(&label, 13.0, Weight::Regular) / 2.0;
        if at - half > used + 5.0 {
            drawing.push(text(at, y.from + 19.0, &label, Anchor::Middle, "ts"));
            used = at + half;
        }
    }
    drawing.push(text(x.to, y.from + 34.0, "pressure difference, Pa", Anchor::End, "ts"));
    let mut last = f64::INFINITY;
    for q in decades(y.low, y.high) {
        let at = y.at(q);
        drawing.push(line(x.from, at, x.to, at, "hair"));
        if last - at > 15.0 {
            drawing.push(text(x.from - 7.0, at + 4.5, &figure(q), Anchor::End, "ts"));
            last = at;
        }
    }
    drawing.push(text(x.from + 6.0, y.to - 4.0, &input.unit, Anchor::Start, "ts"));
}

/// Round flows between two others: 1, 2, 3, 5 and 7 of each decade.
fn decades(low: f64, high: f64) -> Vec<f64> {
    let mut power = 1e-6;
    let mut all = Vec::new();
    while power < high {
        all.extend(
            [1.0, 2.0, 3.0, 5.0, 7.0].map(|m| m * power).into_iter().filter(|q| *q >= low && *q <= high),
        );
        power *= 10.0;
    }
    all
}

fn figure(value: f64) -> String {
    decimal(value, if value >= 10.0 { 0 } else { 2 })
}

/// Names at the right ends, moved apart where they would cover each other.
fn name_ends(
    drawing: &mut Drawing,
    mut labels: Vec<(f64, String, &'static str)>,
    right: f64,
    room: f64,
    [top, bottom]: [f64; 2],
) {
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wrapped: Vec<Vec<String>> = labels
        .iter()
        .map(|(_, words, _)| super::chart::wrap(words, room - 14.0, 13.0, Weight::SemiBold))
        .collect();
    let wanted: Vec<f64> = labels.iter().map(|(y, ..)| *y).collect();
    let sizes: Vec<f64> = wrapped.iter().map(|lines| 16.0 * lines.len() as f64).collect();
    let places = spread(&wanted, &sizes, top, bottom);
    for (((y, _, class), lines), place) in labels.iter().zip(&wrapped).zip(places) {
        let first = place - 8.0 * (lines.len() as f64 - 1.0);
        drawing.push(line(right, *y, right + 8.0, place, "hair"));
        for (k, words) in lines.iter().enumerate() {
            let at = first + 16.0 * k as f64 + 4.5;
            drawing.push(text(right + 11.0, at, words, Anchor::Start, class));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn test() -> LogLog {
        let law = [40.0, 0.65];
        let points = [20.0, 30.0, 50.0, 70.0].map(|p: f64| [p, law[0] * pow(p, law[1])]).to_vec();
        LogLog {
            id: "t".into(),
            title: "flow".into(),
            description: "a line".into(),
            unit: "m³/h".into(),
            runs: vec![Run { name: "out".into(), points, law: Some(law) }],
            band: 0.05,
            limit: Some([50.0, 573.0]),
            reference_pa: 50.0,
        }
    }

    #[test]
    fn a_power_law_is_straight_and_meets_its_readings() {
        let svg = log_log(&test(), Format::Desk).inline();
        let middle = |from: &str| svg.matches(from).count();
        assert_eq!(middle("class=\"dot\""), 4);
        assert_eq!(middle("class=\"run\""), 1);
        assert_eq!(middle("class=\"dim\""), 2);
        assert!(svg.contains("limit 573"));
    }

    #[test]
    fn nothing_read_is_said() {
        let mut empty = test();
        empty.runs[0].points.clear();
        assert!(log_log(&empty, Format::Phone).inline().contains("no readings"));
        let mut odd = test();
        odd.runs[0].points.push([f64::NAN, -3.0]);
        assert!(!log_log(&odd, Format::Phone).inline().contains("NaN"));
    }
}
