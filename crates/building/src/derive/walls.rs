//! Which room stands along which piece of a storey's sides, and what the other edges of rooms face.

use super::shape::Shape;
use crate::geometry::{Polygon, TOUCH_M, shared_edges};
use crate::model::{SpaceId, StoreyId};

/// Rooms closer than this stand on either side of one inside wall, m.
pub(super) const PARTITION_M: f64 = 0.6;

/// A piece of a side along one room, in coordinates of the inside edge, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Piece {
    pub side: usize,
    pub space: SpaceId,
    pub from: f64,
    pub to: f64,
    /// Share of the side's height that belongs to the room; below one only for rooms that are not drawn.
    pub share: f64,
}

/// An edge of a room against what is not ours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct RestPiece {
    pub space: SpaceId,
    pub edge: usize,
    pub from: f64,
    pub to: f64,
}

/// An inside wall between two rooms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Partition {
    pub first: SpaceId,
    pub second: SpaceId,
    /// Edge of the first.
    pub edge: usize,
    pub from: f64,
    pub to: f64,
}

/// Returns the pieces of each side, in the order of the sides and along them.
///
/// Between two rooms the wall's line is halved; on a storey that is all ours the outermost rooms reach the corners.
pub(super) fn pieces(shape: &Shape, storey: StoreyId, has_rest: bool) -> Vec<Piece> {
    let s = &shape.storeys[storey.0];
    let mut out = Vec::new();
    for side in 0..s.inside.len() {
        let mut touched: Vec<Piece> = Vec::new();
        for &space in &s.spaces {
            let Some(outline) = &shape.spaces[space.0].outline else { continue };
            let shared = shared_edges(&s.inside, outline, true, TOUCH_M);
            touched.extend(shared.iter().filter(|e| e.first == side).map(|e| Piece {
                side,
                space,
                from: e.from,
                to: e.to,
                share: 1.0,
            }));
        }
        touched.sort_by(|a, b| a.from.total_cmp(&b.from));
        let length = s.inside.edge_length(side);
        if touched.is_empty() && !has_rest {
            touched = undrawn(shape, storey, side, length);
        }
        close_gaps(&mut touched, length, has_rest);
        out.extend(touched);
    }
    out
}

/// A side that no drawn room reaches is shared by the rooms that are not drawn, else by all, by floor area.
fn undrawn(shape: &Shape, storey: StoreyId, side: usize, length: f64) -> Vec<Piece> {
    let all = &shape.storeys[storey.0].spaces;
    let hidden: Vec<SpaceId> =
        all.iter().copied().filter(|id| shape.spaces[id.0].outline.is_none()).collect();
    let takers = if hidden.is_empty() { all } else { &hidden };
    let area: f64 = takers.iter().map(|id| shape.spaces[id.0].area_m2).sum();
    let mut from = 0.0;
    let piece = |&space: &SpaceId| {
        let to = from + length * shape.spaces[space.0].area_m2 / area;
        let piece = Piece { side, space, from, to, share: 1.0 };
        from = to;
        piece
    };
    takers.iter().map(piece).collect()
}

fn close_gaps(pieces: &mut [Piece], length: f64, has_rest: bool) {
    let n = pieces.len();
    for i in 1..n {
        let gap = pieces[i].from - pieces[i - 1].to;
        if gap <= PARTITION_M || !has_rest {
            let middle = 0.5 * (pieces[i].from + pieces[i - 1].to);
            pieces[i - 1].to = middle;
            pieces[i].from = middle;
        }
    }
    if n > 0 {
        if !has_rest || pieces[0].from <= TOUCH_M {
            pieces[0].from = 0.0;
        }
        if !has_rest || length - pieces[n - 1].to <= TOUCH_M {
            pieces[n - 1].to = length;
        }
    }
}

/// Returns the inside walls of a storey.
pub(super) fn partitions(shape: &Shape, storey: StoreyId) -> Vec<Partition> {
    let rooms = &shape.storeys[storey.0].spaces;
    let mut out = Vec::new();
    for (n, &first) in rooms.iter().enumerate() {
        for &second in &rooms[n + 1..] {
            let (Some(a), Some(b)) = (&shape.spaces[first.0].outline, &shape.spaces[second.0].outline) else {
                continue;
            };
            let shared = shared_edges(a, b, false, PARTITION_M);
            out.extend(shared.iter().map(|e| Partition {
                first,
                second,
                edge: e.first,
                from: e.from,
                to: e.to,
            }));
        }
    }
    out
}

/// Returns the edges of rooms that face neither the storey's walls nor another room of ours.
pub(super) fn rest_pieces(shape: &Shape, storey: StoreyId) -> Vec<RestPiece> {
    let s = &shape.storeys[storey.0];
    let mut out = Vec::new();
    for &space in &s.spaces {
        let Some(outline) = &shape.spaces[space.0].outline else { continue };
        let mut taken: Vec<Vec<(f64, f64)>> = vec![Vec::new(); outline.len()];
        for e in shared_edges(outline, &s.inside, true, TOUCH_M) {
            taken[e.first].push((e.from, e.to));
        }
        for &other in s.spaces.iter().filter(|&&other| other != space) {
            if let Some(facing) = &shape.spaces[other.0].outline {
                for e in shared_edges(outline, facing, false, PARTITION_M) {
                    taken[e.first].push((e.from, e.to));
                }
            }
        }
        for (edge, taken) in taken.into_iter().enumerate() {
            out.extend(free(taken, outline, edge).into_iter().map(|(from, to)| RestPiece {
                space,
                edge,
                from,
                to,
            }));
        }
    }
    out
}

fn free(mut taken: Vec<(f64, f64)>, outline: &Polygon, edge: usize) -> Vec<(f64, f64)> {
    taken.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out = Vec::new();
    let mut at = 0.0;
    for (from, to) in taken {
        if from - at > TOUCH_M {
            out.push((at, from));
        }
        at = to.max(at);
    }
    let length = outline.edge_length(edge);
    if length - at > TOUCH_M {
        out.push((at, length));
    }
    out
}
