//! The few complex operations that periodic heat flow needs.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A complex number.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Complex {
    /// Real part.
    pub re: f64,
    /// Imaginary part.
    pub im: f64,
}

impl Complex {
    /// One.
    pub const ONE: Self = Self::new(1.0, 0.0);
    /// Zero.
    pub const ZERO: Self = Self::new(0.0, 0.0);

    /// Returns `re + i im`.
    pub const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// Returns the real number `re`.
    pub const fn real(re: f64) -> Self {
        Self::new(re, 0.0)
    }

    /// Returns the squared modulus.
    pub fn norm_sqr(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    /// Returns the modulus.
    pub fn abs(self) -> f64 {
        // Scaled, because a thick light wall's transmittance at a short period lies far below 1e-154.
        let scale = self.re.abs().max(self.im.abs());
        if scale == 0.0 || !scale.is_finite() {
            return scale;
        }
        let (re, im) = (self.re / scale, self.im / scale);
        scale * (re * re + im * im).sqrt()
    }

    /// Returns this number times a real one.
    pub fn scale(self, factor: f64) -> Self {
        Self::new(self.re * factor, self.im * factor)
    }

    /// Returns the reciprocal.
    pub fn recip(self) -> Self {
        Self::ONE / self
    }

    /// Returns the principal square root.
    pub fn sqrt(self) -> Self {
        let modulus = self.abs();
        let re = (0.5 * (modulus + self.re.abs())).sqrt();
        if re == 0.0 {
            return Self::ZERO;
        }
        let im = 0.5 * self.im.abs() / re;
        let (re, im) = if self.re >= 0.0 { (re, im) } else { (im, re) };
        Self::new(re, if self.im < 0.0 { -im } else { im })
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::new(self.re * other.re - self.im * other.im, self.re * other.im + self.im * other.re)
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        // Smith's form: no overflow or underflow of the squared modulus.
        if other.re.abs() >= other.im.abs() {
            let ratio = other.im / other.re;
            let denominator = other.re + other.im * ratio;
            Self::new((self.re + self.im * ratio) / denominator, (self.im - self.re * ratio) / denominator)
        } else {
            let ratio = other.re / other.im;
            let denominator = other.re * ratio + other.im;
            Self::new((self.re * ratio + self.im) / denominator, (self.im * ratio - self.re) / denominator)
        }
    }
}

impl Neg for Complex {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.re, -self.im)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn root_squares_back() {
        for z in [
            Complex::new(3.0, 4.0),
            Complex::new(-3.0, 4.0),
            Complex::new(-3.0, -4.0),
            Complex::new(0.0, 2.0),
        ] {
            let back = z.sqrt() * z.sqrt() - z;
            assert!(back.abs() < 1e-14, "{z:?}");
            assert!(z.sqrt().re >= 0.0);
        }
    }

    #[test]
    fn quotient_times_divisor_is_dividend() {
        let (a, b) = (Complex::new(1e-200, 2e-200), Complex::new(-3e-180, 1e-180));
        assert!(((a / b) * b - a).abs() <= 1e-15 * a.abs());
    }
}
