//! What is known of one uncertain number: a distribution with its quantile, probability, density and moments.
//!
//! Start at [`Distribution`]; the constructors [`Distribution::half_width95`], [`Distribution::factor95`],
//! [`Distribution::range`] and [`Distribution::tolerance`] make one from a stated spread. Samples are drawn
//! by quantile, so one uniform number gives one value.

use crate::error::require;
use crate::quadrature::{gauss_legendre, integrate};
use crate::{NumericError, beta, exp, ln, normal};

/// The normal quantile at 0.975: half of the middle 95 % in standard deviations.
pub const Z95: f64 = 1.959_963_984_540_054;

/// The distribution of one uncertain number.
///
/// Fields are open; [`Distribution::check`] says what is wrong with them. Methods of a distribution that does
/// not pass the check return NaN or nonsense, never panic.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Distribution {
    /// A known number.
    Point {
        /// The number.
        value: f64,
    },
    /// A bell curve.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, not below zero.
        sd: f64,
    },
    /// A number whose logarithm is normal: known to within a factor.
    LogNormal {
        /// Median, above zero.
        median: f64,
        /// 95 % lies between median / factor and median · factor; at least 1.
        factor95: f64,
    },
    /// Every value between two ends is as good as any other.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end, above the lower.
        high: f64,
    },
    /// Rises straight from the lower end to the mode and falls straight to the upper end.
    Triangular {
        /// Lower end.
        low: f64,
        /// Likeliest value, between the ends.
        mode: f64,
        /// Upper end.
        high: f64,
    },
    /// A bell curve cut at two ends.
    TruncatedNormal {
        /// Mean of the uncut curve.
        mean: f64,
        /// Standard deviation of the uncut curve, above zero.
        sd: f64,
        /// Lower end; may be −∞.
        low: f64,
        /// Upper end, above the lower; may be +∞.
        high: f64,
    },
    /// A beta distribution stretched over an interval.
    Beta {
        /// First shape, above zero: large pulls to the upper end.
        alpha: f64,
        /// Second shape, above zero: large pulls to the lower end.
        beta: f64,
        /// Lower end.
        low: f64,
        /// Upper end, above the lower.
        high: f64,
    },
    /// One of a few values, each with a weight.
    Discrete {
        /// (value, weight) in rising order of value; weights not below zero, not all zero.
        values: Vec<(f64, f64)>,
    },
}

/// Standardised ends of a cut bell curve, turned so that the nearer side to the mean comes first.
struct Cut {
    /// Lower end in standard deviations from the mean, after a possible reflection.
    a: f64,
    b: f64,
    /// Was the curve reflected to keep the digits of the upper tail?
    flipped: bool,
    /// Probability below `a`, and between `a` and `b`.
    below: f64,
    mass: f64,
}

impl Cut {
    fn new(mean: f64, sd: f64, low: f64, high: f64) -> Self {
        let (a, b) = ((low - mean) / sd, (high - mean) / sd);
        // The probability function keeps its digits in the lower tail only.
        let flipped = a > 0.0;
        let (a, b) = if flipped { (-b, -a) } else { (a, b) };
        let below = normal::cdf(a);
        Self { a, b, flipped, below, mass: normal::cdf(b) - below }
    }

    fn quantile(&self, p: f64) -> f64 {
        let p = if self.flipped { 1.0 - p } else { p };
        let z = normal::quantile(self.below + p * self.mass).clamp(self.a, self.b);
        if self.flipped { -z } else { z }
    }

    /// Mean and variance of the standardised cut curve.
    fn moments(&self) -> (f64, f64) {
        let (a, b) = (self.a, self.b);
        let (m, v) = if b - a < 1.0 {
            // The closed form loses its digits on a narrow window; the integral is smooth there.
            let rule = gauss_legendre(20);
            // Scaled by the density at the end nearer the mean, so that far tails do not vanish.
            let nearest = 0.0_f64.clamp(a, b);
            let weight = |x: f64| exp(0.5 * (nearest * nearest - x * x));
            let mass = integrate(&rule, weight, a, b, 1);
            let m = integrate(&rule, |x| x * weight(x), a, b, 1) / mass;
            let v = integrate(&rule, |x| (x - m) * (x - m) * weight(x), a, b, 1) / mass;
            (m, v)
        } else {
            let (fa, fb) = (normal::pdf(a) / self.mass, normal::pdf(b) / self.mass);
            let edge = |x: f64, f: f64| if x.is_finite() { x * f } else { 0.0 };
            let m = fa - fb;
            (m, 1.0 + edge(a, fa) - edge(b, fb) - m * m)
        };
        (if self.flipped { -m } else { m }, v)
    }
}

impl Distribution {
    /// `value ± a`: normal with `a` as the 95 % half-width, that is two standard deviations (coverage factor
    /// k = 2 of ISO/IEC Guide 98-3).
    pub fn half_width95(value: f64, a: f64) -> Self {
        Self::Normal { mean: value, sd: 0.5 * a }
    }

    /// `value ×/÷ factor`: lognormal with 95 % inside.
    pub fn factor95(median: f64, factor: f64) -> Self {
        Self::LogNormal { median, factor95: factor }
    }

    /// `low..high`: uniform.
    pub fn range(low: f64, high: f64) -> Self {
        Self::Uniform { low, high }
    }

    /// `value, tolerance ± a`: uniform.
    pub fn tolerance(value: f64, a: f64) -> Self {
        Self::Uniform { low: value - a, high: value + a }
    }

    /// Says what is wrong with the parameters, if anything.
    ///
    /// # Errors
    /// [`NumericError::Parameter`] naming the first bad parameter.
    pub fn check(&self) -> Result<(), NumericError> {
        let finite = |name, x: f64| require(x.is_finite(), name, x, "a finite number");
        let ends = |low: f64, high: f64| {
            finite("low", low)?;
            require(high > low && high.is_finite(), "high", high, "above the lower end")
        };
        match self {
            Self::Point { value } => finite("value", *value),
            Self::Normal { mean, sd } => {
                finite("mean", *mean)?;
                require(*sd >= 0.0 && sd.is_finite(), "sd", *sd, "zero or more")
            }
            Self::LogNormal { median, factor95 } => {
                require(*median > 0.0 && median.is_finite(), "median", *median, "above zero")?;
                require(*factor95 >= 1.0 && factor95.is_finite(), "factor", *factor95, "1 or more")
            }
            Self::Uniform { low, high } => ends(*low, *high),
            Self::Triangular { low, mode, high } => {
                ends(*low, *high)?;
                require((low..=high).contains(&mode), "mode", *mode, "between the ends")
            }
            Self::TruncatedNormal { mean, sd, low, high } => {
                finite("mean", *mean)?;
                require(*sd > 0.0 && sd.is_finite(), "sd", *sd, "above zero")?;
                require(high > low, "high", *high, "above the lower end")?;
                let mass = Cut::new(*mean, *sd, *low, *high).mass;
                require(
                    mass > 0.0,
                    "share inside the ends",
                    mass,
                    "above zero: the ends lie too far from the mean",
                )
            }
            Self::Beta { alpha, beta, low, high } => {
                require(*alpha > 0.0 && alpha.is_finite(), "alpha", *alpha, "above zero")?;
                require(*beta > 0.0 && beta.is_finite(), "beta", *beta, "above zero")?;
                ends(*low, *high)
            }
            Self::Discrete { values } => check_discrete(values),
        }
    }

    /// Returns the value not exceeded with probability `p` in [0, 1]; NaN outside.
    pub fn quantile(&self, p: f64) -> f64 {
        if !(0.0..=1.0).contains(&p) {
            return f64::NAN;
        }
        match self {
            Self::Point { value } => *value,
            Self::Normal { mean, sd } if *sd == 0.0 => *mean,
            Self::Normal { mean, sd } => mean + sd * normal::quantile(p),
            Self::LogNormal { median, factor95 } if *factor95 == 1.0 => *median,
            Self::LogNormal { median, factor95 } => median * exp(ln(*factor95) / Z95 * normal::quantile(p)),
            Self::Uniform { low, high } => low + p * (high - low),
            Self::Triangular { low, mode, high } => {
                let width = high - low;
                if p * width <= mode - low {
                    low + (p * width * (mode - low)).sqrt()
                } else {
                    high - ((1.0 - p) * width * (high - mode)).sqrt()
                }
            }
            Self::TruncatedNormal { mean, sd, low, high } => {
                (mean + sd * Cut::new(*mean, *sd, *low, *high).quantile(p)).clamp(*low, *high)
            }
            Self::Beta { alpha, beta: b, low, high } => {
                low + (high - low) * beta::quantile(p, *alpha, *b).unwrap_or(f64::NAN)
            }
            Self::Discrete { values } => discrete_quantile(values, p),
        }
    }

    /// Returns the probability of a value at or below `x`.
    pub fn cdf(&self, x: f64) -> f64 {
        match self {
            Self::Point { value } => f64::from(u8::from(x >= *value)),
            Self::Normal { mean, sd } if *sd == 0.0 => f64::from(u8::from(x >= *mean)),
            Self::Normal { mean, sd } => normal::cdf((x - mean) / sd),
            Self::LogNormal { median, factor95 } if *factor95 == 1.0 => f64::from(u8::from(x >= *median)),
            Self::LogNormal { .. } if x <= 0.0 => 0.0,
            Self::LogNormal { median, factor95 } => normal::cdf(ln(x / median) * Z95 / ln(*factor95)),
            Self::Uniform { low, high } => ((x - low) / (high - low)).clamp(0.0, 1.0),
            Self::Triangular { low, mode, high } => triangular_cdf(x, *low, *mode, *high),
            Self::TruncatedNormal { mean, sd, low, high } => {
                if x <= *low {
                    return 0.0;
                }
                if x >= *high {
                    return 1.0;
                }
                let cut = Cut::new(*mean, *sd, *low, *high);
                let z = (x - mean) / sd;
                let z = if cut.flipped { -z } else { z };
                let p = (normal::cdf(z) - cut.below) / cut.mass;
                if cut.flipped { 1.0 - p } else { p }
            }
            Self::Beta { alpha, beta: b, low, high } => {
                beta::regularised((x - low) / (high - low), *alpha, *b)
            }
            Self::Discrete { values } => {
                let total: f64 = values.iter().map(|(_, w)| w).sum();
                values.iter().filter(|(v, _)| *v <= x).map(|(_, w)| w).sum::<f64>() / total
            }
        }
    }

    /// Returns the density at `x`; `None` where there is none (a point, a few values, no spread).
    pub fn pdf(&self, x: f64) -> Option<f64> {
        match self {
            Self::Point { .. } | Self::Discrete { .. } => None,
            Self::Normal { mean, sd } => (*sd > 0.0).then(|| normal::pdf((x - mean) / sd) / sd),
            Self::LogNormal { median, factor95 } => {
                let sigma = ln(*factor95) / Z95;
                (sigma > 0.0)
                    .then(|| if x <= 0.0 { 0.0 } else { normal::pdf(ln(x / median) / sigma) / (sigma * x) })
            }
            Self::Uniform { low, high } => {
                Some(if (low..=high).contains(&&x) { 1.0 / (high - low) } else { 0.0 })
            }
            Self::Triangular { low, mode, high } => {
                let top = 2.0 / (high - low);
                Some(if x < *low || x > *high {
                    0.0
                } else if x < *mode {
                    top * (x - low) / (mode - low)
                } else if x > *mode {
                    top * (high - x) / (high - mode)
                } else {
                    top
                })
            }
            Self::TruncatedNormal { mean, sd, low, high } => {
                let inside = x >= *low && x <= *high;
                let mass = Cut::new(*mean, *sd, *low, *high).mass;
                Some(if inside { normal::pdf((x - mean) / sd) / (sd * mass) } else { 0.0 })
            }
            Self::Beta { alpha, beta: b, low, high } => {
                let u = (x - low) / (high - low);
                if !(0.0..=1.0).contains(&u) {
                    return Some(0.0);
                }
                let front = exp(-beta::ln_beta(*alpha, *b)) / (high - low);
                Some(front * crate::pow(u, alpha - 1.0) * crate::pow(1.0 - u, b - 1.0))
            }
        }
    }

    /// Returns the mean.
    pub fn mean(&self) -> f64 {
        match self {
            Self::Point { value } => *value,
            Self::Normal { mean, .. } => *mean,
            Self::LogNormal { median, factor95 } => {
                let sigma = ln(*factor95) / Z95;
                median * exp(0.5 * sigma * sigma)
            }
            Self::Uniform { low, high } => 0.5 * (low + high),
            Self::Triangular { low, mode, high } => (low + mode + high) / 3.0,
            Self::TruncatedNormal { mean, sd, low, high } => {
                mean + sd * Cut::new(*mean, *sd, *low, *high).moments().0
            }
            Self::Beta { alpha, beta, low, high } => low + (high - low) * alpha / (alpha + beta),
            Self::Discrete { values } => {
                let total: f64 = values.iter().map(|(_, w)| w).sum();
                values.iter().map(|(v, w)| v * w).sum::<f64>() / total
            }
        }
    }

    /// Returns the standard deviation.
    pub fn sd(&self) -> f64 {
        match self {
            Self::Point { .. } => 0.0,
            Self::Normal { sd, .. } => *sd,
            Self::LogNormal { factor95, .. } => {
                let sigma = ln(*factor95) / Z95;
                self.mean() * crate::scalar::exp_m1(sigma * sigma).sqrt()
            }
            Self::Uniform { low, high } => (high - low) / 12.0_f64.sqrt(),
            Self::Triangular { low, mode, high } => {
                let (a, b, c) = (mode - low, high - mode, high - low);
                ((a * a + b * b + c * c) / 36.0).sqrt()
            }
            Self::TruncatedNormal { mean, sd, low, high } => {
                sd * Cut::new(*mean, *sd, *low, *high).moments().1.sqrt()
            }
            Self::Beta { alpha, beta, low, high } => {
                let s = alpha + beta;
                (high - low) / s * (alpha * beta / (s + 1.0)).sqrt()
            }
            Self::Discrete { values } => {
                let total: f64 = values.iter().map(|(_, w)| w).sum();
                let m = self.mean();
                (values.iter().map(|(v, w)| w * (v - m) * (v - m)).sum::<f64>() / total).sqrt()
            }
        }
    }

    /// Returns the median.
    pub fn median(&self) -> f64 {
        self.quantile(0.5)
    }

    /// Returns the middle 95 %: the quantiles at 0.025 and 0.975.
    pub fn interval95(&self) -> (f64, f64) {
        (self.quantile(0.025), self.quantile(0.975))
    }
}

fn check_discrete(values: &[(f64, f64)]) -> Result<(), NumericError> {
    let mut total = 0.0;
    for (i, (v, w)) in values.iter().enumerate() {
        require(v.is_finite(), "value", *v, "a finite number")?;
        require(*w >= 0.0 && w.is_finite(), "weight", *w, "zero or more")?;
        require(i == 0 || values[i - 1].0 < *v, "value", *v, "above the one before")?;
        total += w;
    }
    require(total > 0.0, "sum of weights", total, "above zero")
}

fn discrete_quantile(values: &[(f64, f64)], p: f64) -> f64 {
    let total: f64 = values.iter().map(|(_, w)| w).sum();
    let mut below = 0.0;
    let mut last = f64::NAN;
    for (v, w) in values.iter().filter(|(_, w)| *w > 0.0) {
        below += w;
        last = *v;
        if p * total <= below {
            break;
        }
    }
    last
}

fn triangular_cdf(x: f64, low: f64, mode: f64, high: f64) -> f64 {
    if x <= low {
        0.0
    } else if x >= high {
        1.0
    } else if x <= mode {
        (x - low) * (x - low) / ((high - low) * (mode - low))
    } else {
        1.0 - (high - x) * (high - x) / ((high - low) * (high - mode))
    }
}

#[cfg(test)]
#[path = "distribution_tests.rs"]
mod tests;
