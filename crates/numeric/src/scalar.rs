//! Functions of one number that no inner loop needs, from one portable implementation, so that every machine
//! gives the same bits. Arguments are radians where an angle is meant.

macro_rules! one {
    ($($(#[$doc:meta])* $name:ident = $from:path;)*) => {$(
        $(#[$doc])*
        #[inline]
        pub fn $name(x: f64) -> f64 {
            $from(x)
        }
    )*};
}

one! {
    /// Returns the sine of an angle in radians.
    sin = libm::sin;
    /// Returns the cosine of an angle in radians.
    cos = libm::cos;
    /// Returns the tangent of an angle in radians.
    tan = libm::tan;
    /// Returns the angle in [−π/2, π/2] with this sine; NaN outside [−1, 1].
    asin = libm::asin;
    /// Returns the angle in [0, π] with this cosine; NaN outside [−1, 1].
    acos = libm::acos;
    /// Returns the angle in (−π/2, π/2) with this tangent.
    atan = libm::atan;
    /// Returns the hyperbolic sine.
    sinh = libm::sinh;
    /// Returns the hyperbolic cosine.
    cosh = libm::cosh;
    /// Returns the hyperbolic tangent.
    tanh = libm::tanh;
    /// Returns the inverse hyperbolic sine.
    asinh = libm::asinh;
    /// Returns the inverse hyperbolic cosine; NaN below 1.
    acosh = libm::acosh;
    /// Returns the inverse hyperbolic tangent; NaN outside [−1, 1].
    atanh = libm::atanh;
    /// Returns e^x − 1, exact for small x.
    exp_m1 = libm::expm1;
    /// Returns ln(1 + x), exact for small x.
    ln_1p = libm::log1p;
    /// Returns the logarithm to base 2.
    log2 = libm::log2;
    /// Returns the logarithm to base 10.
    log10 = libm::log10;
    /// Returns 2^x.
    exp2 = libm::exp2;
    /// Returns 10^x.
    exp10 = libm::exp10;
    /// Returns the cube root.
    cbrt = libm::cbrt;
    /// Returns the error function.
    erf = libm::erf;
    /// Returns 1 − erf(x), exact in the far tail.
    erfc = libm::erfc;
    /// Returns the logarithm of the gamma function's size.
    ln_gamma = libm::lgamma;
    /// Returns the gamma function.
    gamma = libm::tgamma;
    /// Returns the Bessel function of the first kind, order 0.
    bessel_j0 = libm::j0;
    /// Returns the Bessel function of the first kind, order 1.
    bessel_j1 = libm::j1;
}

/// Returns the sine and cosine of an angle in radians.
#[inline]
pub fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

/// Returns the angle in (−π, π] of the point (x, y), as `atan2(y, x)`.
#[inline]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Returns √(x² + y²) without overflow on the way.
#[inline]
pub fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

/// Returns x^n by repeated multiplication, in a fixed order.
#[inline]
pub fn powi(x: f64, n: i32) -> f64 {
    let (mut base, mut left, mut result) = (x, n.unsigned_abs(), 1.0);
    while left > 0 {
        if left & 1 == 1 {
            result *= base;
        }
        base *= base;
        left >>= 1;
    }
    if n < 0 { 1.0 / result } else { result }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_6};

    #[test]
    fn known_values() {
        assert!((sin(FRAC_PI_6) - 0.5).abs() < 1e-15);
        assert_eq!(atan2(1.0, 0.0), FRAC_PI_2);
        assert_eq!(cbrt(27.0), 3.0);
        assert!((hypot(3e200, 4e200) / 5e200 - 1.0).abs() < 1e-15);
        assert_eq!(powi(2.0, -3), 0.125);
        assert_eq!(powi(-3.0, 3), -27.0);
        // DLMF 7.2: erf(1), recalled.
        assert!((erf(1.0) - 0.842_700_792_949_714_9).abs() < 1e-15);
    }
}
