//! Whether pieces make a whole: none over another unsaid, no hole, no solid that ends in nothing.

use crate::diagnostic::Diagnostic;
use crate::reader::{Names, Problems};
use crate::source::Place;
use fabric::detail::cavity::Opening;
use fabric::detail::{Body, Environment, Region};

/// A piece as written.
#[derive(Clone, Debug)]
pub(super) struct Written {
    pub region: Region,
    pub place: Place,
    /// Said to lie over earlier ones.
    pub over: bool,
    pub material: String,
    pub cavity: Option<(Opening, f64)>,
}

/// Places sampled along each axis of a polygon or between the edges of boxes.
const SAMPLES: usize = 6;
/// Holes told one by one.
const MOST_HOLES: usize = 5;

/// Looks for overlaps, holes and open boundaries.
pub(super) fn shape(cx: &mut Problems, all: &[Written], cuts: &[String], head: &Place, solid: bool) {
    overlaps(cx, all);
    if all.is_empty() {
        return;
    }
    holes(cx, all, head);
    let (low, high) = bounds(all);
    let axes = if solid { 3 } else { 2 };
    for w in all.iter().filter(|w| matches!(w.region.body, Body::Solid(_))) {
        for (d, (l, h)) in low.iter().zip(&high).enumerate().take(axes) {
            for (side, at, edge) in [(2 * d, w.region.low_m[d], l), (2 * d + 1, w.region.high_m[d], h)] {
                let name = super::read::SIDES[side];
                if (at - edge).abs() < 1e-9 && !cuts.iter().any(|c| c == name) {
                    let message =
                        format!("\"{}\" ends in nothing at the {name} of the drawing", w.region.name);
                    let d = Diagnostic::error("boundary", &w.place, message);
                    cx.add(d.with_help(format!(
                        "put air against it, or say that it runs on like this: cuts = [\"{name}\"] under [detail]"
                    )));
                }
            }
        }
    }
}

fn bounds(all: &[Written]) -> ([f64; 3], [f64; 3]) {
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for w in all {
        for d in 0..3 {
            low[d] = low[d].min(w.region.low_m[d]);
            high[d] = high[d].max(w.region.high_m[d]);
        }
    }
    (low, high)
}

fn overlaps(cx: &mut Problems, all: &[Written]) {
    for (n, later) in all.iter().enumerate() {
        if later.over {
            continue;
        }
        if let Some(earlier) = all[..n].iter().find(|earlier| overlap(&earlier.region, &later.region)) {
            let message = format!("\"{}\" lies over \"{}\"", later.region.name, earlier.region.name);
            let d = Diagnostic::error("overlap", &later.place, message)
                .with_related(earlier.place.clone(), "the earlier piece")
                .with_help(
                    "move one of them, or write over = true in the later one: it then takes the place",
                );
            cx.add(d);
        }
    }
}

/// Says whether two pieces share room: boxes by their edges, polygons by places sampled in the box both share.
fn overlap(a: &Region, b: &Region) -> bool {
    let low = [0, 1, 2].map(|d| a.low_m[d].max(b.low_m[d]));
    let high = [0, 1, 2].map(|d| a.high_m[d].min(b.high_m[d]));
    if (0..3).any(|d| high[d] - low[d] < 1e-9) {
        return false;
    }
    if a.outline.is_none() && b.outline.is_none() {
        return true;
    }
    let n = 40;
    let z = 0.5 * (low[2] + high[2]);
    let at = |d: usize, k: usize| low[d] + (high[d] - low[d]) * (k as f64 + 0.5) / n as f64;
    let shared = (0..n * n).filter(|k| {
        let (x, y) = (at(0, k % n), at(1, k / n));
        a.covers([x, y, z]) && b.covers([x, y, z])
    });
    // Edges that two polygons share may catch a few places by rounding.
    shared.count() > n
}

fn holes(cx: &mut Problems, all: &[Written], head: &Place) {
    let marks = |d: usize| {
        let mut m: Vec<f64> = all.iter().flat_map(|w| [w.region.low_m[d], w.region.high_m[d]]).collect();
        m.sort_by(f64::total_cmp);
        m.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        m
    };
    let sloped = all.iter().any(|w| w.region.outline.is_some());
    let per = if sloped { SAMPLES } else { 1 };
    let between = |m: &[f64]| -> Vec<f64> {
        m.windows(2)
            .flat_map(|p| (0..per).map(move |k| p[0] + (p[1] - p[0]) * (k as f64 + 0.47) / per as f64))
            .collect()
    };
    let (xs, ys, zs) = (between(&marks(0)), between(&marks(1)), marks(2));
    let zs: Vec<f64> = zs.windows(2).map(|p| 0.5 * (p[0] + p[1])).collect();
    if xs.len() * ys.len() * zs.len() > 4_000_000 {
        return;
    }
    let mut found = 0;
    for z in &zs {
        for y in &ys {
            for x in &xs {
                if all.iter().any(|w| w.region.covers([*x, *y, *z])) {
                    continue;
                }
                found += 1;
                if found <= MOST_HOLES {
                    let depth = if zs.len() > 1 { format!(", z = {:.1} mm", 1e3 * z) } else { String::new() };
                    let message =
                        format!("nothing lies at x = {:.1} mm, y = {:.1} mm{depth}", 1e3 * x, 1e3 * y);
                    let d = Diagnostic::error("hole", head, message);
                    cx.add(
                        d.with_help("fill the place with a material or with air, or cut it away: cut = true"),
                    );
                }
            }
        }
    }
}

/// Says which environments touch nothing.
pub(super) fn used(cx: &mut Problems, all: &[Written], environments: &Names) {
    for (n, name) in environments.iter().enumerate() {
        if all.iter().any(|w| w.region.body == Body::Environment(n)) {
            continue;
        }
        if let Some(place) = environments.place(name) {
            let d = Diagnostic::error("environment", place, format!("no piece is air of \"{name}\""));
            cx.add(d.with_help(format!(
                "add a box against a surface: [[piece]] air = \"{name}\" x = \"…\" y = \"…\""
            )));
        }
    }
}

/// U along a line at right angles to the layers: `along` 0 runs along x at height y, 1 along y at x.
pub(super) fn along(
    all: &[Written],
    environments: &[Environment],
    along: usize,
    at: f64,
) -> Result<f64, String> {
    let mut marks: Vec<f64> =
        all.iter().flat_map(|w| [w.region.low_m[along], w.region.high_m[along]]).collect();
    marks.sort_by(f64::total_cmp);
    marks.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let z = all.first().map_or(0.5, |w| 0.5 * (w.region.low_m[2] + w.region.high_m[2]));
    let (mut resistance, mut ends, mut last): (f64, Vec<f64>, Option<&Written>) = (0.0, Vec::new(), None);
    for pair in marks.windows(2) {
        let middle = 0.5 * (pair[0] + pair[1]);
        let place = if along == 0 { [middle, at, z] } else { [at, middle, z] };
        let Some(top) = all.iter().rev().find(|w| w.region.covers(place)) else {
            return Err("it meets a hole".into());
        };
        if top.region.outline.is_some() {
            return Err(format!("it meets the polygon \"{}\"", top.region.name));
        }
        let film = |solid: &Written, e: usize| {
            let own = solid.region.films.iter().find(|(k, _)| *k == e).map(|(_, r)| *r);
            own.unwrap_or(environments[e].surface_m2k_w)
        };
        match (top.region.body, last.map(|l| l.region.body)) {
            (Body::Solid(k), before) => {
                if let (Some(Body::Environment(e)), true) = (before, ends.is_empty()) {
                    ends.push(film(top, e));
                }
                resistance += (pair[1] - pair[0]) / k[along];
            }
            (Body::Environment(e), Some(Body::Solid(_))) => {
                if let (Some(solid), false) = (last, ends.is_empty()) {
                    ends.push(film(solid, e));
                    break;
                }
                return Err("it begins in a solid".into());
            }
            (Body::Cut, _) => return Err("it meets a cut".into()),
            _ => {}
        }
        last = Some(top);
    }
    match ends.as_slice() {
        [a, b] => Ok(1.0 / (a + resistance + b)),
        _ => Err("it does not run from air to air".into()),
    }
}
