//! A number for each of `L` lanes, with the operators a balance needs.
//!
//! Every operation is done lane by lane in one order, so a lane's bits do not depend on its neighbours or on `L`.

use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// A number for each lane.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(transparent)]
pub(crate) struct F<const L: usize>(pub [f64; L]);

impl<const L: usize> F<L> {
    /// Zero in every lane.
    pub const ZERO: Self = Self([0.0; L]);
    /// One in every lane.
    pub const ONE: Self = Self([1.0; L]);

    /// The same number in every lane.
    #[inline(always)]
    pub fn all(x: f64) -> Self {
        Self([x; L])
    }

    /// Lane by lane from the lane index.
    #[inline(always)]
    pub fn from_fn(f: impl Fn(usize) -> f64) -> Self {
        let mut y = [0.0; L];
        for l in 0..L {
            y[l] = f(l);
        }
        Self(y)
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut y = [0.0; L];
        for l in 0..L {
            y[l] = f(self.0[l], other.0[l]);
        }
        Self(y)
    }

    /// f of every lane.
    #[inline(always)]
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let mut y = [0.0; L];
        for l in 0..L {
            y[l] = f(self.0[l]);
        }
        Self(y)
    }

    /// 1 / x.
    #[inline(always)]
    pub fn recip(self) -> Self {
        self.map(|x| 1.0 / x)
    }

    /// x / y.
    #[inline(always)]
    pub fn over(self, y: Self) -> Self {
        self.zip(y, |a, b| a / b)
    }

    /// Positive part.
    #[inline(always)]
    pub fn positive(self) -> Self {
        self.map(|x| if x > 0.0 { x } else { 0.0 })
    }

    /// 1 where x > y, else 0.
    #[inline(always)]
    pub fn above(self, y: Self) -> Self {
        self.zip(y, |a, b| if a > b { 1.0 } else { 0.0 })
    }

    /// The larger of both.
    #[inline(always)]
    pub fn max(self, y: Self) -> Self {
        self.zip(y, |a, b| if a > b { a } else { b })
    }

    /// `yes` where this lane is not zero, else `no`.
    #[inline(always)]
    pub fn select(self, yes: Self, no: Self) -> Self {
        let mut y = [0.0; L];
        for l in 0..L {
            y[l] = if self.0[l] != 0.0 { yes.0[l] } else { no.0[l] };
        }
        Self(y)
    }

    /// Whether any lane differs.
    #[inline(always)]
    pub fn differs(self, other: Self) -> bool {
        let mut any = false;
        for l in 0..L {
            any |= self.0[l] != other.0[l];
        }
        any
    }
}

impl<const L: usize> Add for F<L> {
    type Output = Self;
    #[inline(always)]
    fn add(self, y: Self) -> Self {
        self.zip(y, |a, b| a + b)
    }
}

impl<const L: usize> Sub for F<L> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, y: Self) -> Self {
        self.zip(y, |a, b| a - b)
    }
}

impl<const L: usize> Mul for F<L> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, y: Self) -> Self {
        self.zip(y, |a, b| a * b)
    }
}

impl<const L: usize> Mul<f64> for F<L> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, y: f64) -> Self {
        self.map(|a| a * y)
    }
}

impl<const L: usize> Neg for F<L> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self.map(|a| -a)
    }
}

impl<const L: usize> AddAssign for F<L> {
    #[inline(always)]
    fn add_assign(&mut self, y: Self) {
        *self = *self + y;
    }
}

impl<const L: usize> SubAssign for F<L> {
    #[inline(always)]
    fn sub_assign(&mut self, y: Self) {
        *self = *self - y;
    }
}
