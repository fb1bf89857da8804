//! Where the cells lie.
//!
//! [`Cells::graded`] starts from a rule: fine at interfaces, coarser inwards. [`Cells::placed`] improves on it by an
//! error estimate from a trial run: cells go where profiles bend.

use super::{Options, Simulation, Start};
use crate::drive::Drive;
use crate::error::{MoistureError, within};
use crate::wall::{Wall, inconsistent};

/// Cell widths of every layer, inside to outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Cells {
    /// Widths, m; those of a layer add up to its thickness.
    pub widths_m: Vec<Vec<f64>>,
}

/// How fine a graded grid is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resolution {
    /// Width beside an interface that rain reaches, in layers that move liquid, m.
    pub first_rain_m: f64,
    /// Width beside other interfaces in layers that move liquid, m.
    pub first_m: f64,
    /// Width beside an interface in other layers, m.
    pub first_dry_m: f64,
    /// Each cell is at most this many times as wide as the one before it.
    pub growth: f64,
    /// Widest cell of layers that move liquid, m: fronts of rain pass through all of it.
    pub widest_m: f64,
}

impl Default for Resolution {
    fn default() -> Self {
        Self { first_rain_m: 1e-3, first_m: 0.003, first_dry_m: 0.005, growth: 1.8, widest_m: 0.009 }
    }
}

impl Cells {
    /// Returns cells that begin at `first` beside every interface and grow inwards.
    pub fn graded(wall: &Wall, resolution: Resolution) -> Self {
        let rained = |interface: usize| wall.rain.iter().any(|r| r.interface == interface && r.share > 0.0);
        let widths_m = wall
            .layers
            .iter()
            .enumerate()
            .map(|(k, l)| {
                let first = |interface: usize| match (l.material.capillary, rained(interface)) {
                    (true, true) => resolution.first_rain_m,
                    (true, false) => resolution.first_m,
                    (false, _) => resolution.first_dry_m,
                };
                let widest = if l.material.capillary { resolution.widest_m } else { f64::INFINITY };
                graded(l.thickness_m, first(k), first(k + 1), resolution.growth, widest)
            })
            .collect();
        Self { widths_m }
    }

    /// Returns cells of one layer that grow from its inner face on (for half-spaces), as many as asked.
    pub fn one_sided(thickness_m: f64, first_m: f64, count: usize) -> Self {
        let growth = growth_for(thickness_m / first_m, count);
        let mut widths = Vec::with_capacity(count);
        let mut width = first_m;
        for _ in 0..count {
            widths.push(width);
            width *= growth;
        }
        scale(&mut widths, thickness_m);
        Self { widths_m: vec![widths] }
    }

    /// Returns every cell split in two.
    pub fn halved(&self) -> Self {
        let split = |w: &Vec<f64>| w.iter().flat_map(|x| [0.5 * x, 0.5 * x]).collect();
        Self { widths_m: self.widths_m.iter().map(split).collect() }
    }

    /// Number of cells.
    pub fn count(&self) -> usize {
        self.widths_m.iter().map(Vec::len).sum()
    }

    /// Returns about `count` cells placed where a trial run on this grid found profiles to bend most.
    ///
    /// The trial runs through `drive` for `duration_s`. A cell's indicator is the root mean square over the trial of
    /// what a straight profile across it misses: relative humidity (in hundredths), temperature (in half kelvins) and
    /// water (in tens of grams a square metre). Finite volumes miss with the square of the width, so widths are
    /// shared out by the root of the indicator. Neighbours differ at most three-fold.
    ///
    /// # Errors
    /// Those of the trial run.
    pub fn placed(
        &self,
        wall: &Wall,
        options: Options,
        start: (f64, &[Start]),
        drive: &Drive,
        duration_s: f64,
        count: usize,
    ) -> Result<Self, Vec<MoistureError>> {
        let mut trial = Simulation::new(wall, self, options)?;
        trial.start(start.0, start.1)?;
        self.placed_by(trial, drive, duration_s, count)
    }

    /// The same as [`Self::placed`], the trial beginning where another run of the wall stands.
    ///
    /// # Errors
    /// Those of the trial run.
    pub fn placed_after(
        &self,
        other: &Simulation,
        options: Options,
        drive: &Drive,
        duration_s: f64,
        count: usize,
    ) -> Result<Self, Vec<MoistureError>> {
        let mut trial = Simulation::new(other.wall(), self, options)?;
        trial.continue_from(other).map_err(|e| vec![e])?;
        self.placed_by(trial, drive, duration_s, count)
    }

    fn placed_by(
        &self,
        mut trial: Simulation,
        drive: &Drive,
        duration_s: f64,
        count: usize,
    ) -> Result<Self, Vec<MoistureError>> {
        let mut sums: Vec<Vec<f64>> = self.widths_m.iter().map(|w| vec![0.0; w.len()]).collect();
        trial.run(drive, duration_s, |s| {
            for (layer, sum) in sums.iter_mut().enumerate() {
                bending(s, layer, &self.widths_m[layer], sum);
            }
        })?;
        let total: f64 = sums.iter().flatten().map(|e| density_share(*e)).sum();
        let widths_m = self
            .widths_m
            .iter()
            .zip(&sums)
            .map(|(w, e)| {
                let share: f64 = e.iter().map(|e| density_share(*e)).sum();
                let cells = ((count as f64 * share / total).round() as usize).max(3);
                equidistribute(w, e, cells)
            })
            .collect();
        Ok(Self { widths_m })
    }

    /// Checks the cells against a wall.
    pub(super) fn check(&self, wall: &Wall) -> Result<(), Vec<MoistureError>> {
        let mut found = Vec::new();
        if self.widths_m.len() != wall.layers.len() {
            let detail = format!("{} lists for {} layers", self.widths_m.len(), wall.layers.len());
            return Err(vec![inconsistent("cells", detail)]);
        }
        for (w, layer) in self.widths_m.iter().zip(&wall.layers) {
            let what = format!("cells of {}", layer.name);
            let sum: f64 = w.iter().sum();
            let t = layer.thickness_m;
            if w.is_empty() {
                found.push(inconsistent(&what, "there are none".into()));
            } else {
                found.extend(
                    within(&what, "sum of widths in m", sum, t * (1.0 - 1e-6), t * (1.0 + 1e-6)).err(),
                );
            }
            for &x in w {
                found.extend(within(&what, "width in m", x, 1e-7, t * (1.0 + 1e-6)).err());
            }
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }
}

/// What a straight profile misses in each cell of a layer, squared and added up.
fn bending(s: &Simulation, layer: usize, widths: &[f64], sums: &mut [f64]) {
    let cells = s.profile(layer);
    let (a, b) = (s.interface(layer), s.interface_inner(layer + 1));
    let n = cells.len();
    for i in 0..n {
        // Neighbours' distance and state; beyond the ends those of the films.
        let (d_left, left) = match i.checked_sub(1) {
            Some(k) => (0.5 * (widths[k] + widths[i]), [cells[k][1], cells[k][2], cells[k][3]]),
            None => (0.5 * widths[0], [a.temperature_c, a.humidity, cells[0][3]]),
        };
        let (d_right, right) = match cells.get(i + 1) {
            Some(c) => (0.5 * (widths[i] + widths[i + 1]), [c[1], c[2], c[3]]),
            None => (0.5 * widths[i], [b.temperature_c, b.humidity, cells[i][3]]),
        };
        let here = [cells[i][1], cells[i][2], cells[i][3]];
        let scale = [0.5, 0.01, 0.01 / widths[i].max(1e-9)];
        let mut e = 0.0;
        for q in 0..3 {
            let bend = (right[q] - here[q]) / d_right - (here[q] - left[q]) / d_left;
            e += (bend * widths[i] / scale[q]).abs();
        }
        sums[i] += e * e;
    }
}

fn density_share(indicator: f64) -> f64 {
    // Root of the root mean square; a little is kept so that quiet layers keep cells too.
    indicator.sqrt().sqrt() + 1e-3
}

/// Shares a layer out into cells of equal indicator, by the density found on the old cells.
fn equidistribute(widths: &[f64], indicator: &[f64], cells: usize) -> Vec<f64> {
    let total_width: f64 = widths.iter().sum();
    let shares: Vec<f64> = indicator.iter().map(|e| density_share(*e)).collect();
    let mean = shares.iter().sum::<f64>() / total_width;
    // A tenth of the mean density everywhere keeps the widest cell within ten times the mean.
    let mut cumulative = vec![0.0];
    for (w, s) in widths.iter().zip(&shares) {
        let last = cumulative[cumulative.len() - 1];
        cumulative.push(last + s + 0.1 * mean * w);
    }
    let all = cumulative[widths.len()];
    let mut edges = vec![0.0];
    let (mut k, mut x) = (0, 0.0);
    for i in 1..cells {
        let target = all * i as f64 / cells as f64;
        while k + 1 < widths.len() && cumulative[k + 1] < target {
            x += widths[k];
            k += 1;
        }
        let part = (target - cumulative[k]) / (cumulative[k + 1] - cumulative[k]);
        edges.push(x + part.clamp(0.0, 1.0) * widths[k]);
    }
    edges.push(total_width);
    let mut out: Vec<f64> = edges.windows(2).map(|e| (e[1] - e[0]).max(2e-5)).collect();
    for _ in 0..3 {
        for i in 1..out.len() {
            out[i] = out[i].min(3.0 * out[i - 1]);
        }
        for i in (1..out.len()).rev() {
            out[i - 1] = out[i - 1].min(3.0 * out[i]);
        }
    }
    scale(&mut out, total_width);
    out
}

fn scale(widths: &mut [f64], total: f64) {
    let sum: f64 = widths.iter().sum();
    widths.iter_mut().for_each(|w| *w *= total / sum);
}

/// Cells from both faces inwards, each at most `growth` times the one before; the finer side goes on until it meets
/// the other.
fn graded(thickness: f64, first: f64, last: f64, growth: f64, widest: f64) -> Vec<f64> {
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let (mut a, mut b) = (first.min(thickness / 3.0), last.min(thickness / 3.0));
    let mut rest = thickness;
    let grow = |w: f64| (w * growth).min(widest.max(w));
    // Both sides together while they are equally fine, so that a symmetric layer gets symmetric cells; half a cell
    // at least is left for the middle.
    loop {
        let even = (a - b).abs() <= 1e-9 * a;
        if even && rest > 2.5 * a {
            left.push(a);
            right.push(b);
            rest -= a + b;
            (a, b) = (grow(a), grow(b));
        } else if !even && a < b && rest > 1.5 * a {
            left.push(a);
            rest -= a;
            a = grow(a);
        } else if !even && a > b && rest > 1.5 * b {
            right.push(b);
            rest -= b;
            b = grow(b);
        } else {
            break;
        }
    }
    let middle = (rest / (1.05 * a.min(b))).ceil().max(1.0);
    left.extend(std::iter::repeat_n(rest / middle, middle as usize));
    left.extend(right.iter().rev());
    left
}

/// Growth factor with which `count` cells span `ratio` times the first.
fn growth_for(ratio: f64, count: usize) -> f64 {
    let span = |q: f64| {
        let (mut sum, mut width) = (0.0, 1.0);
        for _ in 0..count {
            sum += width;
            width *= q;
        }
        sum
    };
    let (mut low, mut high) = (1.0, 4.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if span(middle) > ratio {
            high = middle;
        } else {
            low = middle;
        }
    }
    0.5 * (low + high)
}
