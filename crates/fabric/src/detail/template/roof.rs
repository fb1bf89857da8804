//! Edges of flat roofs behind a parapet, eaves, ridges.

use super::super::polygon::area_m2;
use super::super::{Body, Detail, Region};
use super::{Leaf, Stack, Template, air, environments, part, plane, reach_m};
use crate::error::{FabricError, positive, within};
use numeric::scalar::{cos, sin, tan};

/// Returns the edge of a flat roof behind a parapet: the outer `shell_m` of the wall runs up past the roof, the rest of the
/// wall ends under it. Each leaf of the roof (inside → outside, upwards) begins `starts_m` from the wall's outside face.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity, or lengths out of range.
pub fn parapet(
    wall: &Stack,
    roof: &Stack,
    shell_m: f64,
    parapet_m: f64,
    starts_m: &[f64],
) -> Result<Template, FabricError> {
    wall.check("wall")?;
    roof.check("roof")?;
    let (tw, tr) = (wall.thickness_m(), roof.thickness_m());
    within(|| "parapet".into(), "thickness, m", shell_m, 0.0, tw)?;
    within(|| "parapet".into(), "height over the roof, m", parapet_m, 0.0, 3.0)?;
    let reach = reach_m(tw.max(tr));
    let right = tw + reach;
    let top = tr + parapet_m + 0.1;
    let mut regions = vec![air([-0.1, -reach], [right, top], 1), air([tw, -reach], [right, 0.0], 0)];
    for (inner, outer, leaf) in wall.bands() {
        regions.push(part(wall, leaf, [tw - outer, -reach], [tw - inner, 0.0]));
    }
    let shell = wall.outer(shell_m);
    for (inner, outer, leaf) in shell.bands() {
        regions.push(part(wall, leaf, [shell_m - outer, 0.0], [shell_m - inner, tr + parapet_m]));
    }
    for ((inner, outer, leaf), start) in roof.bands().into_iter().zip(starts_m) {
        within(|| "roof".into(), "distance from the wall's outside face, m", *start, 0.0, tw)?;
        regions.push(part(roof, leaf, [*start, inner], [right, outer]));
    }
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        vec![plane(wall, reach + tr), plane(roof, right)],
        vec![plane(wall, reach), plane(roof, reach)],
    ))
}

/// Returns eaves: a wall under a roof that rises inwards at `slope_deg` (falls, below zero: the high edge of a shed roof).
/// Layers mitre by number from the outside. Overhanging eaves and what lies in them are not drawn.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity, or a slope out of range.
pub fn eaves(wall: &Stack, roof: &Stack, slope_deg: f64) -> Result<Template, FabricError> {
    wall.check("wall")?;
    roof.check("roof")?;
    within(|| "roof".into(), "slope, degrees", slope_deg, -60.0, 60.0)?;
    let (tw, tr) = (wall.thickness_m(), roof.thickness_m());
    let reach = reach_m(tw.max(tr));
    let angle = slope_deg.to_radians();
    let (c, s, t) = (cos(angle), sin(angle), tan(angle));
    // The inside faces meet at the origin; the wall hangs below, outside to the left. Boundaries from the outside in.
    let wall_at = faces(wall);
    let roof_at = faces(roof);
    let count = wall_at.len().max(roof_at.len());
    let at = |faces: &[f64], k: usize| faces.get(k).copied().unwrap_or(0.0);
    let corner = |k: usize| {
        let (a, b) = (at(&wall_at, k), at(&roof_at, k));
        [-a, b / c - a * t]
    };
    // Along the roof, at right angles to it, `reach` beyond the inside corner.
    let end = |b: f64| [reach * c - b * s, reach * s + b * c];
    let foot = -reach + if slope_deg < 0.0 { reach * s } else { 0.0 };
    let (high, low) = (end(tr)[1].max(corner(0)[1]) + 0.1, foot);
    let right = end(0.0)[0].max(end(tr)[0]);
    let mut regions = vec![
        air([-tw - 0.1, low], [right, high], 1),
        Region::polygon(
            "inside air",
            vec![[0.0, low], [0.0, 0.0], end(0.0), [right, end(0.0)[1]], [right, low]],
            Body::Environment(0),
        ),
    ];
    for k in 0..count.saturating_sub(1) {
        let (outer, inner) = (corner(k), corner(k + 1));
        if let Some(leaf) = wall.leaves.iter().rev().nth(k) {
            let corners = vec![[inner[0], low], [outer[0], low], outer, inner];
            regions.push(sloped(wall, leaf, corners));
        }
        if let Some(leaf) = roof.leaves.iter().rev().nth(k) {
            let (b0, b1) = (at(&roof_at, k), at(&roof_at, k + 1));
            regions.push(sloped(roof, leaf, vec![inner, outer, end(b0), end(b1)]));
        }
    }
    // Beyond the cut across the roof nothing is.
    let far = 2.0 * (reach + tr);
    let cut = [
        end(-far),
        end(far),
        [end(far)[0] + 2.0 * far, end(far)[1]],
        [end(-far)[0] + 2.0 * far, end(-far)[1]],
    ];
    regions.extend(clipped(&cut, right, low, high).map(|c| Region::polygon("cut", c, Body::Cut)));
    let high_length = -low;
    let outside_corner = corner(0);
    Ok(Template::whole(
        Detail { plane: true, regions, environments: environments(wall.rsi_m2k_w) },
        vec![
            plane(wall, high_length + outside_corner[1]),
            plane(roof, reach + (outside_corner[0] * -c - outside_corner[1] * s)),
        ],
        vec![plane(wall, high_length), plane(roof, reach)],
    ))
}

/// Returns the ridge of two like slopes, one half drawn.
///
/// # Errors
/// [`FabricError`] for layers without thickness or conductivity, or a slope out of range.
pub fn ridge(roof: &Stack, slope_deg: f64) -> Result<Template, FabricError> {
    roof.check("roof")?;
    positive(|| "roof".into(), "slope, degrees", slope_deg)?;
    within(|| "roof".into(), "slope, degrees", slope_deg, 0.0, 75.0)?;
    let tr = roof.thickness_m();
    let reach = reach_m(tr);
    let angle = slope_deg.to_radians();
    let (c, s, t) = (cos(angle), sin(angle), tan(angle));
    // The inside faces meet at the origin, where the half is cut upright; the slope falls to the right.
    let end = |b: f64| [reach * c + b * s, -reach * s + b * c];
    let (low, high) = (end(0.0)[1] - 0.3, tr / c + 0.1);
    let right = end(tr)[0];
    let mut regions = vec![
        air([0.0, low], [right, high], 1),
        Region::polygon(
            "inside air",
            vec![
                [0.0, low],
                [0.0, 0.0],
                end(0.0),
                [right, end(0.0)[1] - t * (right - end(0.0)[0])],
                [right, low],
            ],
            Body::Environment(0),
        ),
    ];
    for (inner, outer, leaf) in roof.bands() {
        let corners = vec![[0.0, inner / c], [0.0, outer / c], end(outer), end(inner)];
        regions.push(sloped(roof, leaf, corners));
    }
    let far = 2.0 * (reach + tr);
    let cut = [
        end(-far),
        end(far),
        [end(far)[0] + 2.0 * far, end(far)[1]],
        [end(-far)[0] + 2.0 * far, end(-far)[1]],
    ];
    regions.extend(clipped(&cut, right, low, high).map(|c| Region::polygon("cut", c, Body::Cut)));
    Ok(Template {
        detail: Detail { plane: true, regions, environments: environments(roof.rsi_m2k_w) },
        external: vec![plane(roof, reach + tr * t)],
        internal: vec![plane(roof, reach)],
        times: 2.0,
    })
}

/// Distances of a stack's faces from its inside face, outermost first.
fn faces(stack: &Stack) -> Vec<f64> {
    let mut at: Vec<f64> = stack.bands().iter().map(|b| b.1).collect();
    at.reverse();
    at.push(0.0);
    at
}

fn sloped(stack: &Stack, leaf: &Leaf, corners: Vec<[f64; 2]>) -> Region {
    Region::polygon(leaf.name.clone(), corners, Body::solid(leaf.conductivity_w_mk))
        .with_film(0, stack.rsi_m2k_w)
        .with_film(1, stack.rse_m2k_w)
}

/// A convex polygon clipped to what lies left of `right`, between `low` and `high`.
fn clipped(corners: &[[f64; 2]], right: f64, low: f64, high: f64) -> Option<Vec<[f64; 2]>> {
    let mut polygon = corners.to_vec();
    for (axis, limit, keep_above) in [(0, right, false), (1, low, true), (1, high, false)] {
        let inside = |p: &[f64; 2]| if keep_above { p[axis] >= limit } else { p[axis] <= limit };
        let mut next = Vec::new();
        for (k, a) in polygon.iter().enumerate() {
            let b = &polygon[(k + 1) % polygon.len()];
            if inside(a) {
                next.push(*a);
            }
            if inside(a) != inside(b) {
                let f = (limit - a[axis]) / (b[axis] - a[axis]);
                let mut p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
                p[axis] = limit;
                next.push(p);
            }
        }
        polygon = next;
    }
    // A level roof is cut by the edge of the drawing itself.
    (area_m2(&polygon).abs() > 1e-9).then_some(polygon)
}
