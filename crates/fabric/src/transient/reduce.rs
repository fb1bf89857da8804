//! From layers to a few modes.
//!
//! The storing part of the exact face admittance, `H(s) = (Y(s) − Y(0)) / s = Σ_k m_k m_kᵀ / (s + λ_k)` over all
//! modes of the layers, is projected onto the fields that belong to a few rates and faces. Because the projection
//! uses the same fields on both sides, the reduced element meets Y *exactly* at each chosen rate and face
//! (value and slope), its decay rates are positive and it is passive, whatever the choice. Inner products of the
//! fields follow from the transfer matrices alone, so that no mesh and no mesh error come in:
//!
//! ```text
//! v(s, d) = (s + Λ)⁻¹ M d          vᵀw  = −(dᵀH(s) e − dᵀH(p) e) / (s − p)
//!                                  vᵀΛw = (s dᵀH(s) e − p dᵀH(p) e) / (s − p)
//! ```
//!
//! What the modes leave of the heat stored (`H(0)` less theirs) goes quasi-statically to the faces.
//! Sources: the identities follow from partial fractions; that such an interpolation is a Galerkin projection is
//! the Loewner theory of rational interpolation (A. C. Antoulas, Approximation of Large-Scale Dynamical Systems, 2005).

use super::{Admittance, ConductionLayer, ModalElement, Mode};
use crate::Complex;
use crate::error::FabricError;
use crate::periodic::{self, Transfer, scaled_cosh_sinhc};
use std::f64::consts::PI;

/// How close a reduced element must be to the exact one, between the surface resistances of ISO 13786.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Relative error of admittances and periodic transmittance at a period of 24 h (as a complex number).
    pub daily: f64,
    /// The same at 2 h.
    pub two_hours: f64,
    /// Error of a surface temperature from 15 minutes after a step of its air, K per K of the step.
    pub step: f64,
    /// How many times as much is allowed at the outside face; infinity leaves it to what comes through.
    pub outside: f64,
    /// Share of the steady transmittance below which an error of the periodic transmittance is not chased.
    pub unfelt: f64,
    /// Most modes allowed.
    pub most_modes: usize,
}

impl Default for Tolerance {
    /// Half of 1 % at a day and of 5 % at two hours; 0.05 K after a step of 10 K; at most 16 modes.
    ///
    /// A relative error of 0.5 % bounds the phase by 0.3°, a minute of the day.
    fn default() -> Self {
        Self { daily: 0.005, two_hours: 0.025, step: 0.005, outside: 1.0, unfelt: 1e-10, most_modes: 16 }
    }
}

impl Tolerance {
    /// For balances of what is inside: 1 % at a day, 5 % at two hours and 0.05 K after a step of 10 K for the inside
    /// face and for what comes through from air to air. The outside face by itself is not held, and errors of a wave
    /// below a thousandth of the steady transmittance are not chased.
    ///
    /// A fifth fewer modes than [`Self::default`].
    pub const fn inside() -> Self {
        Self {
            daily: 0.0095,
            two_hours: 0.045,
            step: 0.01,
            outside: f64::INFINITY,
            unfelt: 1e-3,
            most_modes: 16,
        }
    }
}

/// Face of an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// The inside face.
    Inside,
    /// The outside face.
    Outside,
    /// Both faces alike.
    Both,
}

impl Face {
    /// Weights of the inside and the outside face.
    fn weights(self) -> [f64; 2] {
        match self {
            Self::Inside => INSIDE,
            Self::Outside => OUTSIDE,
            Self::Both => [1.0, 1.0],
        }
    }
}

const INSIDE: [f64; 2] = [1.0, 0.0];
const OUTSIDE: [f64; 2] = [0.0, 1.0];

/// A rate and a face at which the reduced element meets the exact one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Meeting {
    /// A sinusoid of this period, s, at one face; two modes.
    Period(f64, Face),
    /// A growth rate, 1/s, at one face; one mode.
    Rate(f64, Face),
    /// Slow change of both faces together; one mode.
    Slow,
}

impl Meeting {
    fn modes(self) -> usize {
        match self {
            Self::Period(..) => 2,
            Self::Rate(..) | Self::Slow => 1,
        }
    }
}

/// Which rates and faces to meet. Made once for the nominal layers ([`plan`]) and used for all their variations
/// ([`reduce_by`]), so that every sample of an element has the same number of modes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// The meetings, in the order in which they were found necessary.
    pub meetings: Vec<Meeting>,
}

impl Plan {
    /// Returns the number of modes of an element reduced by this plan.
    pub fn modes(&self) -> usize {
        self.meetings.iter().map(|m| m.modes()).sum()
    }
}

/// Reduces layers, given inside → outside, to an element that meets the tolerance.
///
/// # Errors
/// [`FabricError`] when a layer is not above zero, when nothing resists, or when the tolerance needs more modes
/// than it allows.
/// # Example
/// ```
/// use fabric::transient::{ConductionLayer, Tolerance, reduce};
/// let brick = [ConductionLayer::solid(0.215, 0.77, 1700.0, 800.0)];
/// let element = reduce(&brick, &Tolerance::default())?;
/// assert!((element.conductance_w_m2k - 0.77 / 0.215).abs() < 1e-12);
/// let (inside, outside) = element.face_capacities_j_m2k();
/// assert!((inside + outside - 0.215 * 1700.0 * 800.0).abs() < 1e-6);
/// # Ok::<(), fabric::FabricError>(())
/// ```
pub fn reduce(layers: &[ConductionLayer], tolerance: &Tolerance) -> Result<ModalElement, FabricError> {
    plan(layers, tolerance).map(|(_, element)| element)
}

/// Reduces layers by a plan made elsewhere, usually on their nominal values.
///
/// # Errors
/// [`FabricError`] when a layer is not above zero, when nothing resists, or when the numbers are too extreme.
pub fn reduce_by(layers: &[ConductionLayer], plan: &Plan) -> Result<ModalElement, FabricError> {
    periodic::check_layers(layers)?;
    let statics = Statics::of(layers);
    if statics.capacity() == 0.0 {
        return Ok(ModalElement::massless(statics.conductance));
    }
    let fields: Result<Vec<Field>, FabricError> =
        plan.meetings.iter().map(|&m| Field::at(layers, &statics, m)).collect();
    project(&statics, &fields?)
}

/// Finds the meetings that bring the reduced element within the tolerance, and the element itself.
///
/// Each round looks at the worst error and adds the meeting that removes it; the order is fixed by the layers.
///
/// # Errors
/// As [`reduce`].
pub fn plan(layers: &[ConductionLayer], tolerance: &Tolerance) -> Result<(Plan, ModalElement), FabricError> {
    periodic::check_layers(layers)?;
    let statics = Statics::of(layers);
    let mut plan = Plan::default();
    if statics.capacity() == 0.0 {
        return Ok((plan, ModalElement::massless(statics.conductance)));
    }
    let probes = Probe::all(layers, tolerance)?;
    let mut fields = Vec::new();
    loop {
        let element = project(&statics, &fields)?;
        let Some((worst, meeting)) = worst_error(&element, &probes, &plan) else {
            return thinned(&statics, &probes, plan, fields, element);
        };
        let Some(meeting) = meeting.filter(|m| plan.modes() + m.modes() <= tolerance.most_modes) else {
            return Err(FabricError::Numerical {
                what: "reduction to modes".into(),
                detail: format!(
                    "{} modes leave {worst:.2} times the error allowed; allow more modes or a wider tolerance",
                    plan.modes()
                ),
            });
        };
        if plan.meetings.is_empty() {
            fields.push(Field::at(layers, &statics, Meeting::Slow)?);
            plan.meetings.push(Meeting::Slow);
        }
        fields.push(Field::at(layers, &statics, meeting)?);
        plan.meetings.push(meeting);
    }
}

/// Leaves out meetings that later ones have made needless.
fn thinned(
    statics: &Statics,
    probes: &[Probe],
    mut plan: Plan,
    mut fields: Vec<Field>,
    mut element: ModalElement,
) -> Result<(Plan, ModalElement), FabricError> {
    // The first is slow change, which carries the heat stored.
    let mut k = 1;
    while k < fields.len() {
        let (field, meeting) = (fields.remove(k), plan.meetings.remove(k));
        let without = project(statics, &fields)?;
        if worst_error(&without, probes, &plan).is_none() {
            element = without;
        } else {
            fields.insert(k, field);
            plan.meetings.insert(k, meeting);
            k += 1;
        }
    }
    Ok((plan, element))
}

/// A symmetric 2 × 2 matrix over the faces.
#[derive(Clone, Copy, Debug)]
struct Pair<T> {
    inside: T,
    cross: T,
    outside: T,
}

impl Pair<Complex> {
    /// aᵀ H b for two weightings of the faces.
    fn between(&self, a: [f64; 2], b: [f64; 2]) -> Complex {
        self.inside.scale(a[0] * b[0])
            + self.cross.scale(a[0] * b[1] + a[1] * b[0])
            + self.outside.scale(a[1] * b[1])
    }
}

impl<T: Copy> Pair<T> {
    fn zip<U: Copy, V>(&self, other: &Pair<U>, f: impl Fn(T, U) -> V) -> Pair<V> {
        Pair {
            inside: f(self.inside, other.inside),
            cross: f(self.cross, other.cross),
            outside: f(self.outside, other.outside),
        }
    }
}

/// What is known without modes: K, and the quasi-static capacities H(0).
struct Statics {
    conductance: f64,
    storage: Pair<f64>,
}

impl Statics {
    /// H(0) is the heat of the steady profiles: ∫ρc θ_a θ_b dx, with θ linear in resistance.
    fn of(layers: &[ConductionLayer]) -> Self {
        let total: f64 = layers.iter().map(|l| l.resistance_m2k_w()).sum();
        let mut storage = Pair { inside: 0.0, cross: 0.0, outside: 0.0 };
        let mut passed = 0.0;
        for layer in layers {
            let from = passed / total;
            passed += layer.resistance_m2k_w();
            let to = passed / total;
            let c = layer.capacity_j_m2k() / 3.0;
            let (u, v) = (1.0 - from, 1.0 - to);
            storage.inside += c * (u * u + u * v + v * v);
            storage.outside += c * (from * from + from * to + to * to);
            storage.cross += c * (u * from + v * to + 0.5 * (u * to + v * from));
        }
        Self { conductance: 1.0 / total, storage }
    }

    fn capacity(&self) -> f64 {
        self.storage.inside + 2.0 * self.storage.cross + self.storage.outside
    }
}

/// H and its slope at one rate, for one face.
struct Field {
    s: Complex,
    along: [f64; 2],
    paired: bool,
    h: Pair<Complex>,
    slope: Pair<Complex>,
}

impl Field {
    fn at(layers: &[ConductionLayer], statics: &Statics, meeting: Meeting) -> Result<Self, FabricError> {
        let (s, along, paired) = match meeting {
            Meeting::Period(period_s, face) => (Complex::new(0.0, 2.0 * PI / period_s), face.weights(), true),
            Meeting::Rate(rate, face) => (Complex::real(rate), face.weights(), false),
            // Slow against the slowest mode (λ₁ ≥ π²/RC or more), yet fast enough to keep digits in the slope.
            Meeting::Slow => {
                (Complex::real(0.01 * statics.conductance / statics.capacity()), Face::Both.weights(), false)
            }
        };
        let (mut z, mut dz, mut depth) = (Transfer::IDENTITY, ZERO, 0.0);
        for layer in layers {
            let (l, dl, own) = layer_with_slope(layer, s);
            (z, dz, depth) = (z.then(l), sum(dz.then(l), z.then(dl)), depth + own);
        }
        // Both matrices are divided by exp(depth): ratios do not feel it, and the coupling of the faces gets it back.
        let over = z.z12.recip();
        let y = Admittance {
            inside: -(z.z11 * over),
            outside: -(z.z22 * over),
            cross: over.scale(numeric::exp(-depth)),
        };
        // Slopes of −Z11/Z12, 1/Z12 and −Z22/Z12.
        let relative = dz.z12 * over;
        let dy = Pair {
            inside: -(dz.z11 * over + y.inside * relative),
            cross: -(y.cross * relative),
            outside: -(dz.z22 * over + y.outside * relative),
        };
        let k = Complex::real(statics.conductance);
        let over_s = s.recip();
        let h = Pair {
            inside: (y.inside - k) * over_s,
            cross: (y.cross + k) * over_s,
            outside: (y.outside - k) * over_s,
        };
        let slope = dy.zip(&h, |dy, h| (dy - h) * over_s);
        for value in [slope.inside, slope.cross, slope.outside] {
            followed(value)?;
        }
        Ok(Self { s, along, paired, h, slope })
    }

    fn len(&self) -> usize {
        if self.paired { 2 } else { 1 }
    }

    /// vᵀw and vᵀΛw against another field, whose rate may be conjugated; no conjugation of the product.
    fn products(&self, other: &Self, conjugate: bool) -> (Complex, Complex) {
        let bar = |z: Complex| if conjugate { Complex::new(z.re, -z.im) } else { z };
        let p = bar(other.s);
        let (h, g) = (self.h.between(self.along, other.along), bar(other.h.between(self.along, other.along)));
        let gap = self.s - p;
        if gap == Complex::ZERO {
            let slope = self.slope.between(self.along, other.along);
            return (-slope, h + self.s * slope);
        }
        ((g - h) / gap, (self.s * h - p * g) / gap)
    }
}

const ZERO: Transfer =
    Transfer { z11: Complex::ZERO, z12: Complex::ZERO, z21: Complex::ZERO, z22: Complex::ZERO };

fn sum(a: Transfer, b: Transfer) -> Transfer {
    Transfer { z11: a.z11 + b.z11, z12: a.z12 + b.z12, z21: a.z21 + b.z21, z22: a.z22 + b.z22 }
}

/// A layer's transfer and its derivative by `s`, both divided by the exponential of the number given with them.
fn layer_with_slope(layer: &ConductionLayer, s: Complex) -> (Transfer, Transfer, f64) {
    let (r, c) = (layer.resistance_m2k_w(), layer.capacity_j_m2k());
    if c == 0.0 {
        return (Transfer::resistance(r), ZERO, 0.0);
    }
    let rc = r * c;
    let x = s.scale(rc);
    let (cosh, sinhc, depth) = scaled_cosh_sinhc(x);
    let dcosh = sinhc.scale(0.5 * rc);
    let dsinhc = if x.norm_sqr() < 0.01 {
        // Derivative of the series of sinhc; the quotient would lose digits.
        [6.0 / 6_227_020_800.0, 5.0 / 39_916_800.0, 4.0 / 362_880.0, 3.0 / 5_040.0, 2.0 / 120.0, 1.0 / 6.0]
            .iter()
            .fold(Complex::ZERO, |sum, &f| sum * x + Complex::real(f))
    } else {
        (cosh - sinhc) / x.scale(2.0)
    };
    let z = Transfer { z11: cosh, z12: -sinhc.scale(r), z21: -(s * sinhc).scale(c), z22: cosh };
    let dz =
        Transfer { z11: dcosh, z12: -dsinhc.scale(r * rc), z21: -(sinhc + x * dsinhc).scale(c), z22: dcosh };
    (z, dz, depth)
}

/// Projects the element onto the fields and diagonalises what comes out.
fn project(statics: &Statics, fields: &[Field]) -> Result<ModalElement, FabricError> {
    let basis = Basis::of(fields);
    let n = basis.len;
    let mut modes = Vec::with_capacity(n);
    let turn = basis.orthonormal();
    let kept = turn.len();
    if kept > 0 {
        let mut a = vec![0.0; kept * kept];
        for i in 0..kept {
            for j in i..kept {
                a[i * kept + j] = basis.form(&basis.stiffness, &turn[i], &turn[j]);
            }
        }
        let inside: Vec<f64> = turn.iter().map(|t| dot(t, &basis.inside)).collect();
        let outside: Vec<f64> = turn.iter().map(|t| dot(t, &basis.outside)).collect();
        let eigen = numeric::dense::symmetric_eigen(kept, &a).map_err(|e| FabricError::Numerical {
            what: "reduction to modes".into(),
            detail: format!("{e}; the layers are too extreme"),
        })?;
        for (rate, vector) in eigen.values.iter().zip(&eigen.vectors) {
            if !(*rate > 0.0 && rate.is_finite()) {
                return Err(FabricError::Numerical {
                    what: "reduction to modes".into(),
                    detail: format!("a decay rate came out as {rate} 1/s; the layers are too extreme"),
                });
            }
            let mode =
                Mode { rate_per_s: *rate, inside: dot(vector, &inside), outside: dot(vector, &outside) };
            modes.push(mode);
        }
    }
    // A field that adds nothing new leaves a mode that is never excited, so that the count holds for all samples.
    let idle = modes.last().map_or(1.0, |m: &Mode| m.rate_per_s);
    modes.resize(n, Mode { rate_per_s: idle, inside: 0.0, outside: 0.0 });
    Ok(with_residuals(statics, modes))
}

/// Gives the faces what the modes leave of the heat stored.
///
/// The remainder `D = H(0) − Σ m mᵀ/λ` has no negative eigenvalue, because a projection never stores too much. Its
/// cross part would spoil a transmittance at short periods that is millions of times smaller than it, so it goes
/// to the faces, as far as they take it: face capacities and their sum stay exact, and r stays non-negative.
fn with_residuals(statics: &Statics, modes: Vec<Mode>) -> ModalElement {
    let mut left = statics.storage;
    for mode in &modes {
        left.inside -= mode.inside * mode.inside / mode.rate_per_s;
        left.cross -= mode.inside * mode.outside / mode.rate_per_s;
        left.outside -= mode.outside * mode.outside / mode.rate_per_s;
    }
    let (inside_residual, outside_residual, cross_residual) = if modes.is_empty() {
        (left.inside, left.outside, left.cross)
    } else {
        let (inside, outside) = (left.inside + left.cross, left.outside + left.cross);
        let whole = (inside + outside).max(0.0);
        // One face may owe heat to the other; the sum is never negative beyond rounding.
        if inside < 0.0 {
            (0.0, whole, 0.0)
        } else if outside < 0.0 {
            (whole, 0.0, 0.0)
        } else {
            (inside, outside, 0.0)
        }
    };
    ModalElement {
        conductance_w_m2k: statics.conductance,
        modes,
        inside_residual,
        outside_residual,
        cross_residual,
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).fold(0.0, |sum, (x, y)| sum + x * y)
}

/// Gram matrix, stiffness and face couplings of the real and imaginary parts of the fields.
struct Basis {
    len: usize,
    gram: Vec<f64>,
    stiffness: Vec<f64>,
    inside: Vec<f64>,
    outside: Vec<f64>,
}

impl Basis {
    fn of(fields: &[Field]) -> Self {
        let n = fields.iter().map(Field::len).sum();
        let mut basis = Self {
            len: n,
            gram: vec![0.0; n * n],
            stiffness: vec![0.0; n * n],
            inside: Vec::with_capacity(n),
            outside: Vec::with_capacity(n),
        };
        let mut row = 0;
        for (i, a) in fields.iter().enumerate() {
            let (h_in, h_out) = (a.h.between(a.along, INSIDE), a.h.between(a.along, OUTSIDE));
            basis.inside.push(h_in.re);
            basis.outside.push(h_out.re);
            if a.paired {
                basis.inside.push(h_in.im);
                basis.outside.push(h_out.im);
            }
            let mut column = row;
            for b in &fields[i..] {
                let (p, pl) = a.products(b, false);
                let (q, ql) = if b.paired || a.paired { a.products(b, true) } else { (p, pl) };
                basis.set(row, column, (a.paired, b.paired), (p, q), (pl, ql));
                column += b.len();
            }
            row += a.len();
        }
        basis
    }

    /// Splits products of complex fields into products of their real and imaginary parts.
    fn set(
        &mut self,
        row: usize,
        column: usize,
        paired: (bool, bool),
        gram: (Complex, Complex),
        stiffness: (Complex, Complex),
    ) {
        let n = self.len;
        for (matrix, (p, q)) in [(&mut self.gram, gram), (&mut self.stiffness, stiffness)] {
            let mut put = |i: usize, j: usize, value: f64| {
                matrix[i * n + j] = value;
                matrix[j * n + i] = value;
            };
            put(row, column, 0.5 * (p.re + q.re));
            if paired.1 {
                put(row, column + 1, 0.5 * (p.im - q.im));
            }
            if paired.0 {
                put(row + 1, column, 0.5 * (p.im + q.im));
            }
            if paired.0 && paired.1 {
                put(row + 1, column + 1, 0.5 * (q.re - p.re));
            }
        }
    }

    fn form(&self, matrix: &[f64], a: &[f64], b: &[f64]) -> f64 {
        let n = self.len;
        (0..n).fold(
            0.0,
            |sum, i| {
                if a[i] == 0.0 { sum } else { sum + a[i] * dot(&matrix[i * n..(i + 1) * n], b) }
            },
        )
    }

    /// Returns combinations of the fields that are orthonormal in the Gram matrix; dependent fields drop out.
    fn orthonormal(&self) -> Vec<Vec<f64>> {
        let n = self.len;
        let mut kept: Vec<Vec<f64>> = Vec::with_capacity(n);
        for k in 0..n {
            let own = self.gram[k * n + k];
            // No field stores nothing, unless it underflowed.
            if own <= 0.0 {
                continue;
            }
            let mut t = vec![0.0; n];
            t[k] = 1.0;
            // Twice is enough to keep orthogonality to rounding.
            for _ in 0..2 {
                for other in &kept {
                    let share = self.form(&self.gram, other, &t);
                    for (x, y) in t.iter_mut().zip(other) {
                        *x -= share * y;
                    }
                }
            }
            let norm = self.form(&self.gram, &t, &t);
            // Inner products carry about twelve digits; less than this is rounding, not a direction.
            if norm > 1e-10 * own {
                let scale = 1.0 / norm.sqrt();
                t.iter_mut().for_each(|x| *x *= scale);
                kept.push(t);
            }
        }
        kept
    }
}

/// One exact response that the reduced element must meet.
struct Probe {
    s: Complex,
    exact: Admittance,
    allowed: Pair<f64>,
}

const RSI: f64 = 0.13;
const RSE: f64 = 0.04;

impl Probe {
    fn all(layers: &[ConductionLayer], tolerance: &Tolerance) -> Result<Vec<Self>, FabricError> {
        let mut probes = Vec::with_capacity(10);
        let steady = 1.0 / layers.iter().fold(RSI + RSE, |sum, l| sum + l.resistance_m2k_w());
        // (period, share of the way from the daily to the two-hour tolerance, whether the transmittance counts)
        for (hours, share, through) in
            [(24.0, 0.0, true), (12.0, 0.28, false), (6.0, 0.56, false), (3.5, 0.77, false), (2.0, 1.0, true)]
        {
            let s = Complex::new(0.0, 2.0 * PI / (hours * 3600.0));
            let exact = between_films(periodic::admittance(layers, s));
            let relative = tolerance.daily + share * (tolerance.two_hours - tolerance.daily);
            let allowed = Pair {
                inside: relative * exact.inside.abs(),
                outside: relative * tolerance.outside * exact.outside.abs(),
                cross: if through {
                    relative * exact.cross.abs() + tolerance.unfelt * steady
                } else {
                    f64::INFINITY
                },
            };
            probes.push(Self { s, exact, allowed });
        }
        // A surface temperature at time t after a step follows the response at rates about 1/t.
        for minutes in [3.0, 15.0, 90.0, 700.0, 6000.0] {
            let s = Complex::real(1.0 / (minutes * 60.0));
            let exact = between_films(periodic::admittance(layers, s));
            // Errors in time are some three times those at a rate, as seen on the demonstration's assemblies.
            let allowed = Pair {
                inside: 0.3 * tolerance.step / RSI,
                outside: tolerance.outside * 0.3 * tolerance.step / RSE,
                cross: 0.3 * tolerance.step / RSI,
            };
            probes.push(Self { s, exact, allowed });
        }
        for probe in &probes {
            followed(probe.exact.inside)?;
            followed(probe.exact.outside)?;
        }
        Ok(probes)
    }
}

/// Checks that a response is a number: layers of absurd sizes overflow.
fn followed(value: Complex) -> Result<(), FabricError> {
    if value.re.is_finite() && value.im.is_finite() {
        return Ok(());
    }
    Err(FabricError::Numerical {
        what: "reduction to modes".into(),
        detail: "the layers are too extreme to be followed in double precision".into(),
    })
}

/// Returns the admittance between the air on both sides: (1 + Y R)⁻¹ Y.
fn between_films(y: Admittance) -> Admittance {
    let one = Complex::ONE;
    let det =
        (one + y.inside.scale(RSI)) * (one + y.outside.scale(RSE)) - (y.cross * y.cross).scale(RSI * RSE);
    let own = y.inside * y.outside - y.cross * y.cross;
    Admittance {
        inside: (y.inside + own.scale(RSE)) / det,
        outside: (y.outside + own.scale(RSI)) / det,
        cross: y.cross / det,
    }
}

/// Returns the largest error in units of what is allowed, with the meeting that removes it; none when all fit.
fn worst_error(element: &ModalElement, probes: &[Probe], plan: &Plan) -> Option<(f64, Option<Meeting>)> {
    let mut worst: Option<(f64, Option<Meeting>)> = None;
    for probe in probes {
        let reduced = between_films(element.admittance(probe.s));
        let errors = [
            ((reduced.inside - probe.exact.inside).abs() / probe.allowed.inside, Face::Inside),
            ((reduced.outside - probe.exact.outside).abs() / probe.allowed.outside, Face::Outside),
            ((reduced.cross - probe.exact.cross).abs() / probe.allowed.cross, Face::Both),
        ];
        for (error, face) in errors {
            if error > 1.0 && worst.is_none_or(|(w, _)| error > w) {
                worst = Some((error, remedy(probe.s, face, plan)));
            }
        }
    }
    worst
}

/// Returns a meeting at this rate that the plan does not hold yet.
fn remedy(s: Complex, face: Face, plan: &Plan) -> Option<Meeting> {
    let faces: &[Face] = match face {
        Face::Inside => &[Face::Inside],
        Face::Outside => &[Face::Outside],
        // The transmittance is met from either face.
        Face::Both => &[Face::Inside, Face::Outside],
    };
    faces
        .iter()
        .map(
            |&face| {
                if s.im == 0.0 { Meeting::Rate(s.re, face) } else { Meeting::Period(2.0 * PI / s.im, face) }
            },
        )
        .find(|m| !plan.meetings.contains(m))
}
