//! Exponential, natural logarithm and power with one result on every machine.
//!
//! Every function is a straight line of additions, multiplications, divisions and selects, so the compiler
//! can turn a loop over lanes into vector instructions of any width, and each lane still rounds exactly as
//! the scalar call does. Nothing is fused: `a * b + c` rounds twice everywhere.
//!
//! Start at [`exp`], [`ln`], [`pow`]; lanes are in [`crate::lanes`]. Not here: trigonometry and the rest,
//! which no inner loop needs ([`crate::scalar`]).

/// 1.5 · 2^52: adding it rounds a small number to an integer held in the low bits.
const ROUND: f64 = 6_755_399_441_055_744.0;
const INV_LN2: f64 = std::f64::consts::LOG2_E;
/// Upper part of ln 2 with 21 trailing zero bits, so that `k · LN2_HIGH` is exact for |k| < 2^20.
const LN2_HIGH: f64 = f64::from_bits(0x3FE6_2E42_FEE0_0000);
/// ln 2 − [`LN2_HIGH`], from its expansion to 110 bits.
const LN2_LOW: f64 = f64::from_bits(0x3DEA_39EF_3579_3C76);

/// Returns `b` where the condition holds, else `a`, without a branch.
#[inline(always)]
fn select(condition: bool, b: f64, a: f64) -> f64 {
    if condition { b } else { a }
}

/// Returns e^x.
///
/// Largest error measured against 45-digit decimal arithmetic: 0.82 units of the last place (40 000 arguments
/// from −700 to 700). Results above the range are +∞, below it they fall through the subnormals to 0; NaN
/// stays NaN.
#[inline(always)]
pub fn exp(x: f64) -> f64 {
    exp_with_tail(x, 0.0)
}

/// Returns e^(x + tail) for a tail far below the last digit of `x`.
#[inline(always)]
fn exp_with_tail(x: f64, tail: f64) -> f64 {
    // Beyond these the result is +∞ or 0; written so that NaN passes through.
    let tail = select(x.abs() > 746.0, 0.0, tail);
    let x = select(x > 710.0, 710.0, x);
    let x = select(x < -746.0, -746.0, x);
    let shifted = x * INV_LN2 + ROUND;
    let k = shifted - ROUND;
    let high = x - k * LN2_HIGH;
    let low = k * LN2_LOW - tail;
    let r = high - low;
    let r_tail = (high - r) - low;
    // Taylor series of (e^r − 1 − r)/r², |r| ≤ 0.35: the first term left out is below 4e-18. Summed in pairs,
    // so that the scalar call does not wait for a long chain.
    let r2 = r * r;
    let r4 = r2 * r2;
    let r8 = r4 * r4;
    let q01 = 1.0 / 2.0 + r * (1.0 / 6.0);
    let q23 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let q45 = 1.0 / 720.0 + r * (1.0 / 5_040.0);
    let q67 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let q89 = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let q1011 = 1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0);
    let q = ((q01 + r2 * q23) + r4 * (q45 + r2 * q67)) + r8 * (q89 + r2 * q1011);
    let y = 1.0 + (r + (r_tail + r2 * q));
    // 2^k in two factors: one alone cannot reach the subnormals or the last binade. The low bits of `shifted`
    // hold k; 2048 keeps the halved number positive, so that a logical shift will do.
    let k = shifted.to_bits().wrapping_sub(ROUND.to_bits());
    let half = (k.wrapping_add(2048) >> 1).wrapping_sub(1024);
    let rest = k.wrapping_sub(half);
    let scale_a = f64::from_bits(half.wrapping_add(1023) << 52);
    let scale_b = f64::from_bits(rest.wrapping_add(1023) << 52);
    (y * scale_a) * scale_b
}

/// Splits a positive finite number into `(k, m)` with `x = 2^k · m` and `m` in [√½, √2).
#[inline(always)]
fn split(x: f64) -> (f64, f64) {
    // Subnormals are lifted by 2^54 first.
    let small = x < f64::MIN_POSITIVE;
    let x = select(small, x * 18_014_398_509_481_984.0, x);
    let lift = select(small, 54.0, 0.0);
    const SQRT_HALF_BITS: u64 = 0x3FE6_A09E_0000_0000;
    const ONE_BITS: u64 = 0x3FF0_0000_0000_0000;
    let bits = x.to_bits().wrapping_add(ONE_BITS - SQRT_HALF_BITS);
    // An integer below 2^52 or-ed into 2^52 is that sum: conversion without a conversion instruction.
    let biased = f64::from_bits((bits >> 52) | 0x4330_0000_0000_0000) - 4_503_599_627_370_496.0;
    let m = f64::from_bits((bits & 0x000F_FFFF_FFFF_FFFF).wrapping_add(SQRT_HALF_BITS));
    ((biased - 1023.0) - lift, m)
}

/// Returns the natural logarithm of `x`.
///
/// Largest error measured against 45-digit decimal arithmetic: 0.75 units of the last place (40 000 arguments
/// from 1e-304 to 1e304). `ln(0) = −∞`, `ln(x < 0) = NaN`, `ln(+∞) = +∞`; NaN stays NaN. The polynomial is
/// the well-known one in s = f/(2 + f) with error below 2^-58.45 (minimax coefficients as published with
/// fdlibm, from memory; the accuracy test would show a slip).
#[inline(always)]
pub fn ln(x: f64) -> f64 {
    const L1: f64 = 6.666_666_666_666_735e-1;
    const L2: f64 = 3.999_999_999_940_942e-1;
    const L3: f64 = 2.857_142_874_366_239e-1;
    const L4: f64 = 2.222_219_843_214_978_4e-1;
    const L5: f64 = 1.818_357_216_161_805e-1;
    const L6: f64 = 1.531_383_769_920_937_3e-1;
    const L7: f64 = 1.479_819_860_511_658_6e-1;
    let (k, m) = split(x);
    let f = m - 1.0;
    let half_square = 0.5 * f * f;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let odd = w * (L2 + w * (L4 + w * L6));
    let even = z * (L1 + w * (L3 + w * (L5 + w * L7)));
    let tail = s * (half_square + (even + odd)) + k * LN2_LOW;
    let y = k * LN2_HIGH - ((half_square - tail) - f);
    let y = select(x == 0.0, f64::NEG_INFINITY, y);
    let y = select(x < 0.0, f64::NAN, y);
    // +∞ and NaN come back as they are.
    select((x < f64::INFINITY) | (x < 0.0), y, x)
}

/// Returns `a + b` as a rounded sum and its exact error.
#[inline(always)]
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let bb = s - a;
    (s, (a - (s - bb)) + (b - bb))
}

/// As [`two_sum`], for |a| ≥ |b| or a = 0.
#[inline(always)]
fn quick_two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    (s, b - (s - a))
}

/// Returns `a · b` as a rounded product and its exact error (Dekker's split; no fused operation). |a|, |b| <
/// 2^990.
#[inline(always)]
fn two_product(a: f64, b: f64) -> (f64, f64) {
    const SPLIT: f64 = 134_217_729.0; // 2^27 + 1
    let p = a * b;
    let ta = SPLIT * a;
    let ah = ta - (ta - a);
    let al = a - ah;
    let tb = SPLIT * b;
    let bh = tb - (tb - b);
    let bl = b - bh;
    (p, ((ah * bh - p) + ah * bl + al * bh) + al * bl)
}

/// Returns ln(x) as a rounded number and a tail, together good to about 2^-65; x positive, finite.
#[inline(always)]
fn ln_with_tail(x: f64) -> (f64, f64) {
    let (k, m) = split(x);
    // s = (m − 1)/(m + 1) with its tail; ln m = 2 s (1 + z/3 + z²/5 + …), z = s² ≤ 0.0295.
    let f = m - 1.0;
    let (g, g_tail) = two_sum(m, 1.0);
    let inverse = 1.0 / g;
    let s = f * inverse;
    let (back, back_tail) = two_product(s, g);
    let s_tail = (((f - back) - back_tail) - s * g_tail) * inverse;
    let (z, z_err) = two_product(s, s);
    let z_tail = z_err + 2.0 * s * s_tail;
    // The terms from z²/5 on weigh below 2^-12, so plain numbers carry them. Left out: z^14/29 < 1e-22.
    let z2 = z * z;
    let z4 = z2 * z2;
    let z8 = z4 * z4;
    let p01 = 1.0 / 5.0 + z * (1.0 / 7.0);
    let p23 = 1.0 / 9.0 + z * (1.0 / 11.0);
    let p45 = 1.0 / 13.0 + z * (1.0 / 15.0);
    let p67 = 1.0 / 17.0 + z * (1.0 / 19.0);
    let p89 = 1.0 / 21.0 + z * (1.0 / 23.0);
    let p10 = 1.0 / 25.0 + z * (1.0 / 27.0);
    let p = ((p01 + z2 * p23) + z4 * (p45 + z2 * p67)) + z8 * (p89 + z2 * p10);
    const THIRD: f64 = 1.0 / 3.0;
    const THIRD_TAIL: f64 = 1.850_371_707_708_594e-17;
    let (c, c_err) = quick_two_sum(THIRD, z * p);
    let c_tail = c_err + THIRD_TAIL;
    let (u, u_err) = two_product(z, c);
    let u_tail = u_err + (z * c_tail + z_tail * c);
    // 2 s + 2 s u.
    let (v, v_err) = two_product(s, u);
    let v_tail = v_err + (s * u_tail + s_tail * u);
    let (h, h_err) = quick_two_sum(s, v);
    let h_tail = h_err + (s_tail + v_tail);
    let (sum, sum_err) = two_sum(k * LN2_HIGH, 2.0 * h);
    quick_two_sum(sum, sum_err + (2.0 * h_tail + k * LN2_LOW))
}

/// True when a number is an integer; anything of 2^52 or more is.
#[inline(always)]
fn is_integer(magnitude: f64) -> bool {
    const WHOLE: f64 = 4_503_599_627_370_496.0;
    (magnitude >= WHOLE) | ((magnitude + WHOLE) - WHOLE == magnitude)
}

/// Returns x^y.
///
/// Largest error measured against 45-digit decimal arithmetic: 0.84 units of the last place (20 000 pairs
/// over the whole range of results). Special cases as in IEEE 754 `pow`: `pow(x, 0) = 1`, `pow(1, y) = 1`, a
/// negative `x` needs a whole `y` or gives NaN, zeros and infinities by their limits.
#[inline(always)]
pub fn pow(x: f64, y: f64) -> f64 {
    pow_lanes(&[x], &[y])[0]
}

/// [`pow`] for `L` lanes, in three short loops: as one loop its body is too long for the compiler to turn into
/// vector instructions.
#[inline(always)]
pub(crate) fn pow_lanes<const L: usize>(x: &[f64; L], y: &[f64; L]) -> [f64; L] {
    // Any exponent beyond 2^70 overflows or vanishes unless |x| = 1; the clamp keeps the exact product
    // finite.
    const LARGE: f64 = 1_180_591_620_717_411_303_424.0;
    let mut e = [0.0; L];
    let mut e_tail = [0.0; L];
    for i in 0..L {
        let (l, l_tail) = ln_with_tail(x[i].abs());
        let yc = select(y[i] > LARGE, LARGE, y[i]);
        let yc = select(yc < -LARGE, -LARGE, yc);
        let (product, error) = two_product(yc, l);
        e[i] = product;
        e_tail[i] = error + yc * l_tail;
    }
    let mut r = [0.0; L];
    for i in 0..L {
        r[i] = exp_with_tail(e[i], e_tail[i]);
    }
    for i in 0..L {
        r[i] = pow_special(x[i], y[i], r[i]);
    }
    r
}

/// Sets the sign and the special cases of x^y, given |x|^y.
#[inline(always)]
fn pow_special(x: f64, y: f64, r: f64) -> f64 {
    let ax = x.abs();
    let infinite = ax == f64::INFINITY;
    let zero = ax == 0.0;
    let r = select((zero & (y > 0.0)) | (infinite & (y < 0.0)), 0.0, r);
    let r = select((zero & (y < 0.0)) | (infinite & (y > 0.0)), f64::INFINITY, r);
    let ay = y.abs();
    let whole = is_integer(ay);
    let odd = whole & !is_integer(0.5 * ay);
    let r = select((x < 0.0) & !whole & !infinite, f64::NAN, r);
    let r = select(x.is_sign_negative() & odd, -r, r);
    // NaN in, NaN out; but 1^y and x^0 are 1 whatever the other is.
    let r = select(x.is_nan() | y.is_nan(), f64::NAN, r);
    select((y == 0.0) | (x == 1.0), 1.0, r)
}

#[cfg(test)]
#[path = "elementary_tests.rs"]
mod tests;
