//! Symmetric positive definite systems on a graph: envelope Cholesky in reverse Cuthill–McKee order.
//!
//! Made for networks (rooms and leaks, nodes and resistances) of up to some thousand unknowns whose pattern
//! is solved many times: order and envelope are found once, then [`Envelope::clear`], [`Envelope::add`],
//! [`Envelope::factor`] and [`Envelope::solve`] repeat. Direct, so conductances may differ by many powers of
//! ten.

use crate::NumericError;

/// A symmetric matrix with a fixed pattern, in skyline form, factored in place.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// Place of each unknown in the reordered matrix.
    place: Vec<usize>,
    /// First stored column of each reordered row.
    first: Vec<usize>,
    /// Where each row's stored part begins in `values`.
    start: Vec<usize>,
    values: Vec<f64>,
}

impl Envelope {
    /// Lays out a matrix of `n` unknowns whose off-diagonal pattern is `edges` (either order, repeats
    /// allowed).
    pub fn new(n: usize, edges: &[(usize, usize)]) -> Self {
        let place = reverse_cuthill_mckee(n, edges);
        let mut first: Vec<usize> = (0..n).collect();
        for &(a, b) in edges {
            let (low, high) = (place[a].min(place[b]), place[a].max(place[b]));
            first[high] = first[high].min(low);
        }
        let mut start = Vec::with_capacity(n + 1);
        let mut total = 0;
        for row in 0..n {
            start.push(total);
            total += row - first[row] + 1;
        }
        start.push(total);
        Self { place, first, start, values: vec![0.0; total] }
    }

    /// Returns the number of stored entries: the memory and, squared over the size, the work of a
    /// factorisation.
    pub fn stored(&self) -> usize {
        self.values.len()
    }

    /// Sets every entry to zero.
    pub fn clear(&mut self) {
        self.values.fill(0.0);
    }

    /// Adds to entry (i, j) and, by symmetry, (j, i). An off-diagonal pair must be one of the edges given to
    /// `new`.
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        let (low, high) = (self.place[i].min(self.place[j]), self.place[i].max(self.place[j]));
        let at = self.start[high] + low - self.first[high];
        self.values[at] += value;
    }

    /// Factors the matrix in place.
    ///
    /// # Errors
    /// [`NumericError::Singular`] if a pivot is not above zero: the matrix is not positive definite.
    pub fn factor(&mut self) -> Result<(), NumericError> {
        for row in 0..self.first.len() {
            let (first_i, start_i) = (self.first[row], self.start[row]);
            for column in first_i..row {
                let (first_j, start_j) = (self.first[column], self.start[column]);
                let from = first_i.max(first_j);
                let mut sum = self.values[start_i + column - first_i];
                for k in from..column {
                    sum -= self.values[start_i + k - first_i] * self.values[start_j + k - first_j];
                }
                self.values[start_i + column - first_i] = sum / self.values[start_j + column - first_j];
            }
            let end = start_i + row - first_i;
            let squares: f64 = self.values[start_i..end].iter().map(|x| x * x).sum();
            let pivot = self.values[end] - squares;
            if !(pivot > 0.0 && pivot.is_finite()) {
                return Err(NumericError::NotPositiveDefinite { row });
            }
            self.values[end] = pivot.sqrt();
        }
        Ok(())
    }

    /// Solves with the factors; `b` holds the right-hand side and then the solution.
    pub fn solve(&self, b: &mut [f64]) {
        let n = self.first.len();
        let mut x = vec![0.0; n];
        for (old, &new) in self.place.iter().enumerate() {
            x[new] = b[old];
        }
        for row in 0..n {
            let (first, start) = (self.first[row], self.start[row]);
            let mut sum = x[row];
            for k in first..row {
                sum -= self.values[start + k - first] * x[k];
            }
            x[row] = sum / self.values[start + row - first];
        }
        for row in (0..n).rev() {
            let (first, start) = (self.first[row], self.start[row]);
            x[row] /= self.values[start + row - first];
            let known = x[row];
            for k in first..row {
                x[k] -= self.values[start + k - first] * known;
            }
        }
        for (old, &new) in self.place.iter().enumerate() {
            b[old] = x[new];
        }
    }
}

/// Returns each unknown's place in reverse Cuthill–McKee order; parts that are not joined follow one another.
fn reverse_cuthill_mckee(n: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut neighbours = vec![Vec::new(); n];
    for &(a, b) in edges {
        if a != b {
            neighbours[a].push(b);
            neighbours[b].push(a);
        }
    }
    for list in &mut neighbours {
        list.sort_unstable();
        list.dedup();
    }
    let degree: Vec<usize> = neighbours.iter().map(Vec::len).collect();
    let mut order = Vec::with_capacity(n);
    let mut seen = vec![false; n];
    let mut starts: Vec<usize> = (0..n).collect();
    starts.sort_by_key(|&i| (degree[i], i));
    for start in starts {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        let mut next = order.len();
        order.push(start);
        while next < order.len() {
            let mut fresh: Vec<usize> =
                neighbours[order[next]].iter().copied().filter(|&j| !seen[j]).collect();
            fresh.sort_by_key(|&j| (degree[j], j));
            for j in fresh {
                seen[j] = true;
                order.push(j);
            }
            next += 1;
        }
    }
    let mut place = vec![0; n];
    for (position, &node) in order.iter().enumerate() {
        place[node] = n - 1 - position;
    }
    place
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dense;
    use proptest::prelude::*;

    #[test]
    fn an_isolated_unknown_without_a_diagonal_is_singular() {
        let mut matrix = Envelope::new(2, &[]);
        matrix.add(0, 0, 1.0);
        assert!(matrix.factor().is_err());
    }

    proptest! {
        #[test]
        fn agrees_with_a_dense_solve(
            edges in prop::collection::vec((0usize..12, 0usize..12, 0.01..10.0f64), 5..40),
            rhs in prop::collection::vec(-5.0..5.0f64, 12),
        ) {
            let pattern: Vec<(usize, usize)> = edges.iter().map(|e| (e.0, e.1)).collect();
            let mut matrix = Envelope::new(12, &pattern);
            let mut full = vec![0.0; 144];
            let mut add = |m: &mut Envelope, i: usize, j: usize, v: f64| {
                m.add(i, j, v);
                full[i * 12 + j] += v;
                if i != j {
                    full[j * 12 + i] += v;
                }
            };
            for i in 0..12 {
                add(&mut matrix, i, i, 0.5);
            }
            for &(a, b, g) in &edges {
                if a != b {
                    add(&mut matrix, a, a, g);
                    add(&mut matrix, b, b, g);
                    add(&mut matrix, a, b, -g);
                }
            }
            matrix.factor().unwrap();
            let mut x = rhs.clone();
            matrix.solve(&mut x);
            let exact = dense::solve(12, &full, &rhs).unwrap();
            for (a, b) in x.iter().zip(&exact) {
                prop_assert!((a - b).abs() < 1e-9 * (1.0 + b.abs()));
            }
        }
    }
}
