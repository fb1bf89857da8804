//! The outline of a union of upright rectangles, as closed rings.

/// A rectangle `[x from, x to, z from, z to]`, m.
pub type Box2 = [f64; 4];

/// Places closer than this, m, count as one: surveyed rooms rarely meet to the millimetre.
const SAME_M: f64 = 0.005;

/// Returns the rings around a union of rectangles, each corner once, first corner not repeated.
pub fn outline(boxes: &[Box2]) -> Vec<Vec<[f64; 2]>> {
    let boxes: Vec<&Box2> = boxes
        .iter()
        .filter(|b| b.iter().all(|v| v.is_finite()) && b[1] - b[0] > SAME_M && b[3] - b[2] > SAME_M)
        .collect();
    let xs = places(boxes.iter().flat_map(|b| [b[0], b[1]]).collect());
    let zs = places(boxes.iter().flat_map(|b| [b[2], b[3]]).collect());
    if xs.len() < 2 || zs.len() < 2 {
        return Vec::new();
    }
    let (columns, rows) = (xs.len() - 1, zs.len() - 1);
    let full = |i: isize, j: isize| -> bool {
        let (Ok(i), Ok(j)) = (usize::try_from(i), usize::try_from(j)) else { return false };
        if i >= columns || j >= rows {
            return false;
        }
        let (x, z) = ((xs[i] + xs[i + 1]) / 2.0, (zs[j] + zs[j + 1]) / 2.0);
        boxes.iter().any(|b| b[0] < x && x < b[1] && b[2] < z && z < b[3])
    };
    // Edges with the full side on the left, from grid corner to grid corner.
    let mut edges: Vec<([usize; 2], [usize; 2])> = Vec::new();
    for i in 0..columns {
        for j in 0..rows {
            let (a, b) = (i as isize, j as isize);
            if !full(a, b) {
                continue;
            }
            let sides = [
                (full(a, b - 1), [i, j], [i + 1, j]),
                (full(a + 1, b), [i + 1, j], [i + 1, j + 1]),
                (full(a, b + 1), [i + 1, j + 1], [i, j + 1]),
                (full(a - 1, b), [i, j + 1], [i, j]),
            ];
            edges.extend(sides.into_iter().filter(|s| !s.0).map(|(_, from, to)| (from, to)));
        }
    }
    chain(edges).into_iter().map(|ring| ring.into_iter().map(|[i, j]| [xs[i], zs[j]]).collect()).collect()
}

fn places(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    let mut kept: Vec<f64> = Vec::new();
    for value in values {
        if kept.last().is_none_or(|last| value - last > SAME_M) {
            kept.push(value);
        }
    }
    kept
}

fn chain(mut edges: Vec<([usize; 2], [usize; 2])>) -> Vec<Vec<[usize; 2]>> {
    let mut rings = Vec::new();
    while let Some((start, mut end)) = edges.pop() {
        let mut ring = vec![start];
        while end != start {
            let Some(next) = edges.iter().position(|(from, _)| *from == end) else { break };
            ring.push(end);
            end = edges.swap_remove(next).1;
        }
        rings.push(without_straight(ring));
    }
    rings
}

/// Leaves out corners on a straight run.
fn without_straight(ring: Vec<[usize; 2]>) -> Vec<[usize; 2]> {
    let count = ring.len();
    (0..count)
        .filter(|k| {
            let (before, here, after) = (ring[(k + count - 1) % count], ring[*k], ring[(k + 1) % count]);
            !(before[0] == here[0] && here[0] == after[0] || before[1] == here[1] && here[1] == after[1])
        })
        .map(|k| ring[k])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn two_boxes_make_one_ring() {
        let rings = outline(&[[0.0, 3.0, 0.0, 4.0], [0.0, 20.0, 4.0, 7.0]]);
        assert_eq!(rings.len(), 1);
        assert_eq!(rings[0].len(), 6);
    }

    #[test]
    fn boxes_apart_make_two_rings() {
        assert_eq!(outline(&[[0.0, 1.0, 0.0, 1.0], [2.0, 3.0, 0.0, 1.0]]).len(), 2);
        assert!(outline(&[]).is_empty());
        assert!(outline(&[[0.0, f64::NAN, 0.0, 1.0]]).is_empty());
    }

    /// Area inside rings: counter-clockwise ones count, holes take away.
    fn area(rings: &[Vec<[f64; 2]>]) -> f64 {
        let twice = |r: &Vec<[f64; 2]>| -> f64 {
            (0..r.len())
                .map(|k| {
                    let (p, q) = (r[k], r[(k + 1) % r.len()]);
                    p[0] * q[1] - q[0] * p[1]
                })
                .sum()
        };
        rings.iter().map(twice).sum::<f64>() / 2.0
    }

    proptest! {
        /// Rings enclose what the boxes cover, counted on a grid of whole metres.
        #[test]
        fn rings_enclose_the_union(corners in prop::collection::vec((0_i32..9, 1_i32..6, 0_i32..9, 1_i32..6), 1..6)) {
            let boxes: Vec<Box2> = corners
                .iter()
                .map(|(x, w, z, h)| [f64::from(*x), f64::from(x + w), f64::from(*z), f64::from(z + h)])
                .collect();
            let mut covered = 0.0;
            for i in 0..15 {
                for j in 0..15 {
                    let (x, z) = (f64::from(i) + 0.5, f64::from(j) + 0.5);
                    if boxes.iter().any(|b| b[0] < x && x < b[1] && b[2] < z && z < b[3]) {
                        covered += 1.0;
                    }
                }
            }
            prop_assert!((area(&outline(&boxes)) - covered).abs() < 1e-9);
        }
    }
}
