//! Readings that read well but look wrong: each gets the line and the likely mistake.
//!
//! One cause gives one message: what explains all points is looked for first, a single odd point last.

use super::entries::Said;
use super::{Problem, Row, Sheet, TestKind, direction_of};
use crate::fan_test::Direction;
use numeric::{exp, ln, regression};

/// A highest pressure below this, Pa, is no fan's: 50 Pa are 0.2 inches of water.
const LOWEST_LIKELY_PA: f64 = 2.0;
/// A highest pressure above this, Pa, would lift a roof membrane before it tested it.
const HIGHEST_LIKELY_PA: f64 = 500.0;
/// A slope above this cannot be a leak's; its reciprocal may be one.
const STEEPEST: f64 = 1.1;
/// A point this far off the line through the others, as a logarithm, is absurd…
const ABSURD: f64 = 0.15;
/// …if it is also this many times the scatter of the others.
const ABSURD_SCATTERS: f64 = 8.0;

/// A point with its line in the file, pressures without sign.
#[derive(Clone, Copy)]
struct Point {
    line: usize,
    pressure_pa: f64,
    flow: f64,
}

/// Looks at every direction's points.
pub(super) fn look(sheet: &Sheet, said: &Said, problems: &mut Vec<Problem>) {
    for way in [Direction::Depressurisation, Direction::Pressurisation] {
        let rows: Vec<&Row> =
            sheet.rows.iter().filter(|r| direction_of(r, sheet, said) == Some(way)).collect();
        if !rows.is_empty() {
            series(&rows, said, problems);
        }
    }
}

fn series(rows: &[&Row], said: &Said, problems: &mut Vec<Problem>) {
    let zeros: Vec<f64> = rows.iter().filter(|r| r.flows.is_empty()).map(|r| r.pressure_pa).collect();
    let zero = if zeros.is_empty() { 0.0 } else { zeros.iter().sum::<f64>() / zeros.len() as f64 };
    let mut spare = Vec::new();
    let points: Vec<Point> = rows
        .iter()
        .filter(|r| !r.flows.is_empty())
        .filter_map(|r| {
            let flow = said.flow(r, &mut spare)?;
            Some(Point { line: r.line, pressure_pa: (r.pressure_pa - zero).abs(), flow })
        })
        .collect();
    let last = rows[rows.len() - 1].line;
    if let Some(problem) = count(points.len(), said.kind, last) {
        problems.push(problem);
        return;
    }
    if let Some(problem) = mixed_signs(rows).or_else(|| scale(rows, &points)) {
        problems.push(problem);
        return;
    }
    if points.len() < 3 {
        return;
    }
    problems.extend(outlier(&points).or_else(|| swapped(&points)).or_else(|| falling(&points)));
}

fn count(points: usize, kind: TestKind, line: usize) -> Option<Problem> {
    match (kind, points) {
        (TestKind::Full, 0..=2) => Some(
            Problem::error(
                line,
                format!("{points} flow readings are too few: a line with its band needs three, the standards ask five"),
                "read on, or write `kind, single point` if this was a quick reading",
            )
            .likely("a quick reading, or rows lost when the file was cut"),
        ),
        (TestKind::OneOrTwoPoints, 0) => {
            Some(Problem::error(line, "there is no flow reading in this direction", "add one"))
        }
        _ => None,
    }
}

fn mixed_signs(rows: &[&Row]) -> Option<Problem> {
    let blowing: Vec<&&Row> = rows.iter().filter(|r| !r.flows.is_empty()).collect();
    let negative = blowing.iter().filter(|r| r.pressure_pa < 0.0).count();
    if negative == 0 || negative == blowing.len() {
        return None;
    }
    let odd = if 2 * negative < blowing.len() { -1.0 } else { 1.0 };
    let row = blowing.iter().find(|r| r.pressure_pa * odd > 0.0)?;
    Some(
        Problem::error(
            row.line,
            "the sign of this pressure differs from the others in its direction",
            "write pressures as inside minus outside",
        )
        .likely("a lost minus sign, or a row under the wrong direction"),
    )
}

/// Inches of water for pascals, and the other way round.
fn scale(rows: &[&Row], points: &[Point]) -> Option<Problem> {
    let highest = points.iter().map(|p| p.pressure_pa).fold(0.0, f64::max);
    let row = rows.iter().find(|r| !r.flows.is_empty())?;
    let (written, unit) = (row.pressure_written.0, &row.pressure_written.1);
    if highest < LOWEST_LIKELY_PA {
        let problem = Problem::error(
            row.line,
            format!("the highest pressure of this direction is {highest:.2} Pa"),
            "write the gauge's own unit in the heading, such as `pressure [inH2O]`",
        );
        return Some(problem.likely(format!("inches of water for pascals: {} inH2O are 50 Pa", 0.2)));
    }
    if highest > HIGHEST_LIKELY_PA {
        let mistake = match swapped(points) {
            Some(_) => "pressure and flow columns swapped".to_owned(),
            None => format!("pascals under a heading of another unit: {written} {unit}"),
        };
        let problem = Problem::error(
            row.line,
            format!("the highest pressure of this direction is {highest:.0} Pa"),
            "check the headings and their units",
        );
        return Some(problem.likely(mistake));
    }
    None
}

fn line_through(points: &[Point]) -> Option<regression::Line> {
    let x: Vec<f64> = points.iter().map(|p| ln(p.pressure_pa)).collect();
    let y: Vec<f64> = points.iter().map(|p| ln(p.flow)).collect();
    regression::ordinary(&x, &y).ok()
}

fn swapped(points: &[Point]) -> Option<Problem> {
    let line = line_through(points)?;
    let mirrored: Vec<Point> =
        points.iter().map(|p| Point { pressure_pa: p.flow, flow: p.pressure_pa, ..*p }).collect();
    let mirror = line_through(&mirrored)?.slope;
    (line.slope > STEEPEST && (0.45..=1.0).contains(&mirror)).then(|| {
        Problem::error(
            points[0].line,
            format!("flows rise with pressure to the power {:.2}, which no leak does", line.slope),
            "exchange the headings of the two columns",
        )
        .likely(format!(
            "pressure and flow columns swapped (the other way round the exponent is {mirror:.2})"
        ))
    })
}

fn falling(points: &[Point]) -> Option<Problem> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.pressure_pa.total_cmp(&b.pressure_pa));
    let worst = sorted
        .windows(2)
        .filter(|w| w[1].pressure_pa > w[0].pressure_pa + 1.0 && w[1].flow < 0.97 * w[0].flow)
        .min_by(|a, b| (a[1].flow / a[0].flow).total_cmp(&(b[1].flow / b[0].flow)))?;
    Some(
        Problem::error(
            worst[1].line,
            format!(
                "the flow falls from {:.0} to {:.0} m³/h while the pressure rises from {:.1} to {:.1} Pa",
                worst[0].flow, worst[1].flow, worst[0].pressure_pa, worst[1].pressure_pa
            ),
            "read the point again",
        )
        .likely("a fan ring changed without saying so, or flows typed in the wrong order"),
    )
}

/// One point far off the line through the others.
fn outlier(points: &[Point]) -> Option<Problem> {
    if points.len() < 5 {
        return None;
    }
    let mut found: Option<(f64, Point, f64)> = None;
    for (i, point) in points.iter().enumerate() {
        let others: Vec<Point> =
            points.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, p)| *p).collect();
        let Some(line) = line_through(&others) else { continue };
        // A leak's line, else one point is not what is wrong.
        if !(0.4..=1.05).contains(&line.slope) {
            continue;
        }
        let expected = line.at(ln(point.pressure_pa));
        let off = ln(point.flow) - expected;
        // Half a per cent is the least scatter anyone reads.
        let scatter = line.residual_variance.sqrt().max(0.005);
        let worse = found.is_none_or(|(best, ..)| off.abs() / scatter > best);
        if off.abs() > ABSURD && off.abs() > ABSURD_SCATTERS * scatter && worse {
            found = Some((off.abs() / scatter, *point, exp(expected)));
        }
    }
    let (_, point, expected) = found?;
    let ratio = point.flow / expected;
    let tenfold = (7.0..14.0).contains(&ratio) || (7.0..14.0).contains(&(1.0 / ratio));
    let mistake = if tenfold {
        "a misplaced decimal point"
    } else {
        "a mistyped digit, or a door opened during this reading"
    };
    Some(
        Problem::error(
            point.line,
            format!(
                "{:.0} m³/h at {:.1} Pa stands alone: the other points put {expected:.0} m³/h there",
                point.flow, point.pressure_pa
            ),
            "correct it from the notes, or take the row out with # and say why",
        )
        .likely(mistake),
    )
}
