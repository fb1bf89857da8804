//! Details as drawings: the user's own, and those that the model's joints were worked out from.

use building::Building;
use fabric::detail::{Body, Detail, Solution};
use project::detail_file::{Drawn, Solved};
use project::details::{Details, WorkedJoint};
use quantity::Dimension;

use super::assemblies::{hatch, layer_hatch};
use crate::draw::detail::{DetailDrawing, HeatLine, Part, Size, Spot};
use crate::draw::hatch::Hatch;
use crate::reader::Reader;
use crate::sheet::joint_details::JointDetail;
use crate::svg::slug;

/// Temperatures that a coldest spot is told at, inside and outside, °C.
const TOLD_C: [f64; 2] = [20.0, 0.0];
/// How much of a plane element is shown beside the joint, as parts of the thickness of what meets.
const SHOWN: f64 = 1.3;

/// The drawing of a detail file.
pub fn drawn_detail(drawn: &Drawn, solved: &Solved, heat_lines: bool) -> DetailDrawing {
    let look = |n: usize| {
        let material = &drawn.materials[n];
        match matter::find(material) {
            Some(row) => hatch(row.family, &row.name),
            None => by_word(material),
        }
    };
    let parts = parts(&drawn.detail, 0.0, look);
    let window = whole(&drawn.detail);
    let c = &solved.answer.coldest;
    let spot = Spot {
        at_m: [c.x, c.y],
        words: format!("coldest inside spot {:.1} °C (f_Rsi {:.2})", c.temperature, solved.answer.f_rsi),
    };
    let words = |m: f64| format!("{:.0} mm", 1e3 * m);
    DetailDrawing {
        id: slug(&drawn.name),
        title: drawn.name.clone(),
        description: spot.words.clone(),
        sizes: sizes(&drawn.detail, window, &words),
        parts,
        window_m: window,
        spot: Some(spot),
        lines: if heat_lines { lines(&drawn.detail, &solved.coldest, window) } else { Vec::new() },
    }
}

/// Details of the model's joints, those with most loss first.
pub fn details(building: &Building, details: &Details, reader: Reader) -> Vec<JointDetail> {
    let mut all: Vec<&WorkedJoint> = details.joints.iter().collect();
    let loss = |j: &WorkedJoint| j.loss_w_k().unwrap_or(0.0);
    all.sort_by(|a, b| loss(b).total_cmp(&loss(a)));
    all.into_iter().map(|joint| of_joint(building, details, joint, reader)).collect()
}

fn of_joint(building: &Building, details: &Details, joint: &WorkedJoint, reader: Reader) -> JointDetail {
    let id = format!("detail-{}", slug(&joint.planned.title));
    let title = joint.planned.title.replace(['_', '-'], " ");
    let worked = joint.worked.as_ref().ok();
    let coldest = worked.map(|w| TOLD_C[1] + w.factor * (TOLD_C[0] - TOLD_C[1]));
    let told = TOLD_C.map(|t| reader.show(t, Dimension::Temperature));
    let drawing = joint.planned.template.as_ref().ok().zip(worked).map(|(template, w)| {
        let at = reader.show(coldest.unwrap_or(f64::NAN), Dimension::Temperature);
        let words = format!("coldest inside spot {at}");
        let window = near(&template.detail, w.coldest_m);
        let look = |n: usize| of_region(building, &template.detail.regions[n].name);
        DetailDrawing {
            id: id.clone(),
            title: title.clone(),
            description: format!("{words}, at {} inside and {} outside.", told[0], told[1]),
            parts: parts(&template.detail, 0.0, look),
            window_m: window,
            spot: Some(Spot { at_m: [w.coldest_m[0], w.coldest_m[1]], words }),
            sizes: sizes(&template.detail, window, &|m| reader.thickness(m)),
            lines: Vec::new(),
        }
    });
    JointDetail {
        id,
        title,
        drawing,
        left: joint.worked.as_ref().err().cloned(),
        point: joint.is_point(),
        extent: joint.extent,
        worked: worked.map(|w| w.inside),
        counted: joint.counted,
        stated: joint.stated,
        factor: worked.map(|w| w.factor),
        coldest: coldest.map(|t| reader.show(t, Dimension::Temperature)),
        told,
        worth_kwh: joint.loss_w_k().map(|h| 1e-3 * h * details.degree_hours_kh),
        error: worked.map_or(0.0, |w| w.error),
        cells: worked.map_or(0, |w| w.cells),
        settled: worked.is_none_or(|w| w.settled),
        notes: joint.planned.notes.iter().map(|n| (*n).to_owned()).collect(),
    }
}

/// Hatch of a region of a template: of the layer that it names, else by its own word.
fn of_region(building: &Building, name: &str) -> Hatch {
    let layer = name.split_once(" / ").and_then(|(assembly, layer)| {
        let assembly = building.assemblies.iter().find(|a| a.name == assembly)?;
        assembly.layers.iter().find(|l| l.name == layer)
    });
    layer.map_or_else(|| by_word(name), |l| layer_hatch(building, l))
}

fn by_word(name: &str) -> Hatch {
    let words = name.to_lowercase();
    let has = |list: &[&str]| list.iter().any(|w| words.contains(w));
    if has(&["ground", "soil", "gravel"]) {
        Hatch::Soil
    } else if has(&["timber", "wood", "frame", "stud", "plate", "oak"]) {
        Hatch::Timber
    } else if has(&["cellulose", "blown"]) {
        Hatch::BlownFibre
    } else if has(&["wool", "gap", "batt"]) {
        Hatch::Batt
    } else if has(&["insulation", "foam"]) {
        Hatch::Foam
    } else if has(&["concrete", "slab", "screed"]) {
        Hatch::Concrete
    } else if has(&["brick", "block", "stone", "masonry"]) {
        Hatch::Masonry
    } else if has(&["board", "plaster", "render", "lime"]) {
        Hatch::Plaster
    } else if has(&["steel", "aluminium", "aluminum", "metal"]) {
        Hatch::Metal
    } else if has(&["glass"]) {
        Hatch::Glass
    } else if has(&["cavity", "air"]) {
        Hatch::Air
    } else {
        Hatch::Other
    }
}

/// Parts of a section; of a solid detail, of the cut at height z.
fn parts(detail: &Detail, z: f64, look: impl Fn(usize) -> Hatch) -> Vec<Part> {
    let cut = |n: &usize| {
        let r = &detail.regions[*n];
        detail.plane || r.low_m[2] <= z && r.high_m[2] > z
    };
    (0..detail.regions.len())
        .filter(cut)
        .map(|n| {
            let r = &detail.regions[n];
            let solid = matches!(r.body, Body::Solid(_));
            let corners = r.outline.clone().unwrap_or_else(|| {
                let (l, h) = (r.low_m, r.high_m);
                vec![[l[0], l[1]], [h[0], l[1]], [h[0], h[1]], [l[0], h[1]]]
            });
            Part {
                name: if solid { r.name.clone() } else { String::new() },
                hatch: solid.then(|| look(n)),
                corners,
            }
        })
        .collect()
}

/// The box around all solids, with a little air.
fn whole(detail: &Detail) -> [f64; 4] {
    let mut w = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    for r in detail.regions.iter().filter(|r| matches!(r.body, Body::Solid(_))) {
        w[0] = w[0].min(r.low_m[0]);
        w[1] = w[1].min(r.low_m[1]);
        w[2] = w[2].max(r.high_m[0]);
        w[3] = w[3].max(r.high_m[1]);
    }
    let edge = 0.04 * (w[2] - w[0]).max(w[3] - w[1]);
    [w[0] - edge, w[1] - edge, w[2] + edge, w[3] + edge]
}

/// The joint itself: about the thickness of what meets on all sides of the coldest spot, within the drawing.
fn near(detail: &Detail, at_m: [f64; 3]) -> [f64; 4] {
    let all = whole(detail);
    // The thickest part that is no ground: how far the picture must reach.
    let thick = |r: &fabric::detail::Region| {
        let (w, h) = (r.high_m[0] - r.low_m[0], r.high_m[1] - r.low_m[1]);
        w.min(h)
    };
    let solids = detail.regions.iter().filter(|r| matches!(r.body, Body::Solid(_)) && r.name != "ground");
    let sum: f64 = solids.map(thick).sum();
    let reach = (SHOWN * sum).clamp(0.35, 1.0);
    [
        (at_m[0] - reach).max(all[0]),
        (at_m[1] - reach).max(all[1]),
        (at_m[0] + reach).min(all[2]),
        (at_m[1] + reach).min(all[3]),
    ]
}

/// Sizes of what stands against the lower and the right edge of the window: layer by layer.
fn sizes(detail: &Detail, window: [f64; 4], words: &dyn Fn(f64) -> String) -> Vec<Size> {
    let mut all = Vec::new();
    for (axis, along_x) in [(0, true), (1, false)] {
        let other = 1 - axis;
        // A line just inside the lower (right) edge meets the layers there.
        let line = if along_x {
            window[1] + 0.02 * (window[3] - window[1])
        } else {
            window[2] - 0.02 * (window[2] - window[0])
        };
        let mut marks: Vec<f64> = detail
            .regions
            .iter()
            .filter(|r| r.low_m[other] < line && r.high_m[other] > line && matches!(r.body, Body::Solid(_)))
            .filter(|r| r.outline.is_none())
            .flat_map(|r| [r.low_m[axis], r.high_m[axis]])
            .filter(|m| *m >= window[axis] && *m <= window[axis + 2])
            .collect();
        marks.sort_by(f64::total_cmp);
        marks.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        if let (Some(first), Some(last)) = (marks.first(), marks.last())
            && last - first > 0.01
            && last - first < 0.95 * (window[axis + 2] - window[axis])
        {
            all.push(Size { along_x, span_m: [*first, *last], words: words(last - first) });
        }
    }
    all
}

/// Lines of equal temperature by squares over the window, one for each twelfth of the span.
fn lines(detail: &Detail, solution: &Solution, window: [f64; 4]) -> Vec<HeatLine> {
    const ACROSS: usize = 90;
    let temperatures: Vec<f64> = detail.environments.iter().map(|e| e.temperature_c).collect();
    let (low, high) =
        temperatures.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), t| (l.min(*t), h.max(*t)));
    let step = ((high - low) / 10.0).max(0.5).round().max(1.0);
    let size = (window[2] - window[0]) / ACROSS as f64;
    let rows = ((window[3] - window[1]) / size).ceil().min(400.0) as usize;
    let at = |i: usize, j: usize| [window[0] + size * i as f64, window[1] + size * j as f64];
    let z = if detail.plane { 0.5 } else { 1e-4 };
    let mut grid = vec![None; (ACROSS + 1) * (rows + 1)];
    for j in 0..=rows {
        for i in 0..=ACROSS {
            let [x, y] = at(i, j);
            grid[i + (ACROSS + 1) * j] = solution.temperature_at([x, y, z]);
        }
    }
    let mut all = Vec::new();
    let mut level = (low / step).ceil() * step;
    while level < high {
        let mut pieces = Vec::new();
        for j in 0..rows {
            for i in 0..ACROSS {
                let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
                let values = corners.map(|(a, b)| grid[a + (ACROSS + 1) * b]);
                let [Some(a), Some(b), Some(c), Some(d)] = values else { continue };
                let v = [a, b, c, d];
                let mut cut: Vec<[f64; 2]> = Vec::new();
                for k in 0..4 {
                    let (p, q) = (v[k], v[(k + 1) % 4]);
                    if (p < level) != (q < level) {
                        let f = (level - p) / (q - p);
                        let (s, t) = (
                            at(corners[k].0, corners[k].1),
                            at(corners[(k + 1) % 4].0, corners[(k + 1) % 4].1),
                        );
                        cut.push([s[0] + f * (t[0] - s[0]), s[1] + f * (t[1] - s[1])]);
                    }
                }
                if let [p, q, ..] = cut.as_slice() {
                    pieces.push([*p, *q]);
                }
            }
        }
        all.push(HeatLine { name: format!("{level:.0} °C"), pieces });
        level += step;
    }
    all
}
