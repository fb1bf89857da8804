//! Small linear systems whose unknowns are held between bounds, as a thermostat holds a temperature.
//!
//! `S T = c + P`: each row's P is zero while its controlled value `y = r · T` lies between `lower` and `upper`, at
//! least zero where y sits on `lower`, at most zero where it sits on `upper`, and never beyond its limits. S is
//! diagonally dominant with off-diagonal entries that are not positive, so guessing which rows sit on a bound,
//! solving, and correcting the guess settles in a few rounds; the guess of the step before is mostly right.

use super::lane::F;

/// Where a row stands: see the constants.
const FREE: f64 = 0.0;
const ON_LOWER: f64 = 1.0;
const AT_LOWER_LIMIT: f64 = 2.0;
const ON_UPPER: f64 = -1.0;
const AT_UPPER_LIMIT: f64 = -2.0;

/// How far a value may pass its bound before its row is held, in the unknown's unit.
const VALUE_SLACK: f64 = 1e-10;
/// How far a power may have the wrong sign before its row is let go, relative to the diagonal.
const POWER_SLACK: f64 = 1e-10;
/// Rounds of correcting the guess. Two-sided bounds with limits settle in one to three; the cap only stops a
/// cycle between two states that differ by rounding.
const MAX_ROUNDS: usize = 12;

/// A matrix of `Z` rows for `L` lanes.
pub(crate) type Matrix<const Z: usize, const L: usize> = [[F<L>; Z]; Z];
/// `Z` numbers for `L` lanes.
pub(crate) type Column<const Z: usize, const L: usize> = [F<L>; Z];

/// Rows to loop over: those in use, at most `Z`. With lanes not a constant on purpose: unrolled rows of lanes make
/// blocks so large that the compiler gives up on vectors, four times slower. A lone lane of few zones is the opposite:
/// all rows, unrolled, the unused being those of the identity.
#[inline(always)]
pub(crate) fn rows<const Z: usize, const L: usize>(used: usize) -> usize {
    if L == 1 && Z <= 4 { Z } else { used.min(Z) }
}

/// Returns a matrix of zeros.
#[inline(always)]
pub(crate) fn zero<const Z: usize, const L: usize>() -> Matrix<Z, L> {
    [[F::ZERO; Z]; Z]
}

/// Factors in place without exchanging rows; the diagonal then holds reciprocals.
#[inline(always)]
pub(crate) fn factor<const Z: usize, const L: usize>(a: &mut Matrix<Z, L>, used: usize) {
    let n = rows::<Z, L>(used);
    for k in 0..n {
        let d = a[k][k].recip();
        a[k][k] = d;
        let (above, below) = a.split_at_mut(k + 1);
        let pivot_row = &above[k];
        for i in k + 1..n {
            let row = &mut below[i - k - 1];
            let m = row[k] * d;
            row[k] = m;
            for j in k + 1..n {
                row[j] -= m * pivot_row[j];
            }
        }
    }
}

/// Solves with a factored matrix.
#[inline(always)]
pub(crate) fn substitute<const Z: usize, const L: usize>(
    lu: &Matrix<Z, L>,
    b: &Column<Z, L>,
    used: usize,
) -> Column<Z, L> {
    let n = rows::<Z, L>(used);
    let mut x = *b;
    for i in 1..n {
        let mut t = x[i];
        for j in 0..i {
            t -= lu[i][j] * x[j];
        }
        x[i] = t;
    }
    for i in (0..n).rev() {
        let mut t = x[i];
        for j in i + 1..n {
            t -= lu[i][j] * x[j];
        }
        x[i] = t * lu[i][i];
    }
    x
}

/// Matrix times column.
#[inline(always)]
pub(crate) fn times<const Z: usize, const L: usize>(
    a: &Matrix<Z, L>,
    x: &Column<Z, L>,
    used: usize,
) -> Column<Z, L> {
    let n = rows::<Z, L>(used);
    let mut y = [F::ZERO; Z];
    for i in 0..n {
        y[i] = row_times(&a[i], x, n);
    }
    y
}

#[inline(always)]
fn row_times<const Z: usize, const L: usize>(row: &[F<L>; Z], x: &Column<Z, L>, n: usize) -> F<L> {
    let mut t = row[0] * x[0];
    for j in 1..n {
        t += row[j] * x[j];
    }
    t
}

/// Inverts a diagonally dominant matrix.
#[inline(always)]
pub(crate) fn invert<const Z: usize, const L: usize>(a: &Matrix<Z, L>, used: usize) -> Matrix<Z, L> {
    let n = rows::<Z, L>(used);
    let mut lu = *a;
    factor(&mut lu, used);
    let mut inverse = zero();
    for k in 0..n {
        let mut unit = [F::ZERO; Z];
        unit[k] = F::ONE;
        let column = substitute(&lu, &unit, used);
        for i in 0..n {
            inverse[i][k] = column[i];
        }
    }
    inverse
}

/// Bounds of one step.
#[derive(Clone, Copy)]
#[repr(C, align(64))]
pub(crate) struct Bounds<const Z: usize, const L: usize> {
    /// Lower bound of each row's controlled value.
    pub lower: Column<Z, L>,
    /// Upper bound.
    pub upper: Column<Z, L>,
    /// Greatest positive P.
    pub lower_limit: Column<Z, L>,
    /// Greatest negative P, as a positive number.
    pub upper_limit: Column<Z, L>,
}

/// The system with its factors and its guess of the step before.
#[repr(C, align(64))]
pub(crate) struct Bounded<const Z: usize, const L: usize> {
    /// S.
    pub matrix: Matrix<Z, L>,
    /// r: what each row controls.
    pub control: Matrix<Z, L>,
    lu: Matrix<Z, L>,
    state: Column<Z, L>,
    /// Set when `matrix` or `control` has changed.
    pub stale: bool,
    /// Set when any limit is finite.
    pub limited: bool,
    used: usize,
    /// Systems factored so far; pins the work in tests.
    pub factored: usize,
}

impl<const Z: usize, const L: usize> Bounded<Z, L> {
    /// Returns a system of zeros that must be filled.
    pub fn new(used: usize) -> Self {
        let mut control = zero();
        for z in 0..Z {
            control[z][z] = F::ONE;
        }
        Self {
            matrix: zero(),
            control,
            stale: true,
            limited: true,
            used,
            lu: zero(),
            state: [F::ZERO; Z],
            factored: 0,
        }
    }

    /// Returns T and P. `controlled` gives the controlled values y of a T, the product of `control` and T.
    #[inline(always)]
    pub fn solve(
        &mut self,
        c: &Column<Z, L>,
        bounds: &Bounds<Z, L>,
        controlled: impl Fn(&Column<Z, L>) -> Column<Z, L>,
    ) -> (Column<Z, L>, Column<Z, L>) {
        let n = rows::<Z, L>(self.used);
        let mut round = 0;
        loop {
            if self.stale {
                self.refactor();
            }
            let mut right = [F::ZERO; Z];
            for z in 0..n {
                right[z] = self.right_side(z, c[z], bounds);
            }
            let t = substitute(&self.lu, &right, self.used);
            let y = controlled(&t);
            let mut p = [F::ZERO; Z];
            let mut changed = false;
            for z in 0..n {
                // A row free in all lanes has no power.
                if self.state[z].differs(F::ZERO) {
                    p[z] = row_times(&self.matrix[z], &t, n) - c[z];
                }
                let next = self.next_state(z, y[z], p[z], bounds);
                changed |= next.differs(self.state[z]);
                self.state[z] = next;
            }
            round += 1;
            if !changed || round == MAX_ROUNDS {
                // What is left of a free row's power is rounding.
                for z in 0..n {
                    p[z] = self.state[z].select(p[z], F::ZERO);
                }
                return (t, p);
            }
            self.stale = true;
        }
    }

    /// Held rows are replaced by their control equation.
    #[inline(always)]
    fn refactor(&mut self) {
        let n = rows::<Z, L>(self.used);
        for z in 0..n {
            let held = self.state[z].map(|s| if s == ON_LOWER || s == ON_UPPER { 1.0 } else { 0.0 });
            for y in 0..n {
                self.lu[z][y] = held.select(self.control[z][y], self.matrix[z][y]);
            }
        }
        factor(&mut self.lu, self.used);
        self.stale = false;
        self.factored += 1;
    }

    #[inline(always)]
    fn right_side(&self, z: usize, c: F<L>, bounds: &Bounds<Z, L>) -> F<L> {
        let s = &self.state[z].0;
        let (lower, upper) = (&bounds.lower[z].0, &bounds.upper[z].0);
        let mut right = c.0;
        for l in 0..L {
            right[l] = if s[l] == ON_LOWER { lower[l] } else { right[l] };
            right[l] = if s[l] == ON_UPPER { upper[l] } else { right[l] };
        }
        if self.limited {
            let (most, least) = (&bounds.lower_limit[z].0, &bounds.upper_limit[z].0);
            for l in 0..L {
                right[l] = if s[l] == AT_LOWER_LIMIT { right[l] + most[l] } else { right[l] };
                right[l] = if s[l] == AT_UPPER_LIMIT { right[l] - least[l] } else { right[l] };
            }
        }
        F(right)
    }

    #[inline(always)]
    fn next_state(&self, z: usize, y: F<L>, p: F<L>, bounds: &Bounds<Z, L>) -> F<L> {
        let (s, d) = (&self.state[z].0, &self.matrix[z][z].0);
        let (lower, upper) = (&bounds.lower[z].0, &bounds.upper[z].0);
        let (y, p) = (&y.0, &p.0);
        let mut next = [FREE; L];
        for l in 0..L {
            let slack = POWER_SLACK * d[l];
            let low = if y[l] < lower[l] - VALUE_SLACK { ON_LOWER } else { FREE };
            let free = if y[l] > upper[l] + VALUE_SLACK { ON_UPPER } else { low };
            let on_lower = if p[l] < -slack { FREE } else { ON_LOWER };
            let on_upper = if p[l] > slack { FREE } else { ON_UPPER };
            let held = if s[l] > 0.0 { on_lower } else { on_upper };
            next[l] = if s[l] == FREE { free } else { held };
        }
        if self.limited {
            let (most, least) = (&bounds.lower_limit[z].0, &bounds.upper_limit[z].0);
            for l in 0..L {
                let too_much = if p[l] > most[l] { AT_LOWER_LIMIT } else { next[l] };
                let too_cold = if -p[l] > least[l] { AT_UPPER_LIMIT } else { next[l] };
                let warm = if y[l] > lower[l] + VALUE_SLACK { ON_LOWER } else { AT_LOWER_LIMIT };
                let cool = if y[l] < upper[l] - VALUE_SLACK { ON_UPPER } else { AT_UPPER_LIMIT };
                next[l] = if s[l] == ON_LOWER { too_much } else { next[l] };
                next[l] = if s[l] == ON_UPPER { too_cold } else { next[l] };
                next[l] = if s[l] == AT_LOWER_LIMIT { warm } else { next[l] };
                next[l] = if s[l] == AT_UPPER_LIMIT { cool } else { next[l] };
            }
        }
        F(next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(lower: f64, upper: f64, limit: f64) -> Bounds<2, 1> {
        Bounds {
            lower: [F::all(lower); 2],
            upper: [F::all(upper); 2],
            lower_limit: [F::all(limit); 2],
            upper_limit: [F::all(limit); 2],
        }
    }

    fn system() -> Bounded<2, 1> {
        let mut b = Bounded::new(2);
        b.matrix = [[F([3.0]), F([-1.0])], [F([-1.0]), F([2.0])]];
        b
    }

    #[test]
    fn free_rows_solve_the_plain_system() {
        let (t, p) = system().solve(&[F([5.0]), F([5.0])], &bounds(-1e4, 1e4, f64::INFINITY), |t| *t);
        assert!((t[0].0[0] - 3.0).abs() < 1e-12 && (t[1].0[0] - 4.0).abs() < 1e-12);
        assert!(p[0].0[0].abs() < 1e-12 && p[1].0[0].abs() < 1e-12);
    }

    #[test]
    fn held_rows_give_the_power_that_holds_them() {
        // Row 2 free would be 4 and row 1 is 3: an upper bound of 3.5 takes 2 * 3.5 - T1 - 5 from row 2.
        let (t, p) = system().solve(&[F([5.0]), F([5.0])], &bounds(-1e4, 3.5, f64::INFINITY), |t| *t);
        assert!((t[1].0[0] - 3.5).abs() < 1e-12);
        assert!((t[0].0[0] - 8.5 / 3.0).abs() < 1e-12);
        assert!((p[1].0[0] - (7.0 - 8.5 / 3.0 - 5.0)).abs() < 1e-12);
        assert!(p[0].0[0].abs() < 1e-12);
    }

    #[test]
    fn a_limit_caps_the_power_and_lets_the_value_go() {
        let (t, p) = system().solve(&[F([5.0]), F([5.0])], &bounds(10.0, 1e4, 2.0), |t| *t);
        assert!((p[0].0[0] - 2.0).abs() < 1e-12 && (p[1].0[0] - 2.0).abs() < 1e-12);
        assert!(t[0].0[0] < 10.0 && t[1].0[0] < 10.0);
    }

    #[test]
    fn the_inverse_undoes_the_matrix() {
        let m = system().matrix;
        let i = invert(&m, 2);
        for r in 0..2 {
            for c in 0..2 {
                let s = m[r][0].0[0] * i[0][c].0[0] + m[r][1].0[0] * i[1][c].0[0];
                assert!((s - if r == c { 1.0 } else { 0.0 }).abs() < 1e-14);
            }
        }
    }
}
