//! Costs of the inner loops: exp, ln and pow in lanes against the standard library's scalar functions, and
//! tridiagonal systems in lanes against one by one. Every figure is for [`N`] values or systems; divide by it.
//!
//! Run with `cargo bench -p numeric`.

use divan::{Bencher, black_box};
use numeric::dispatch::{self, Kernel, Path};
use numeric::{lanes, tridiagonal};

/// Values worked on per call.
const N: usize = 4_096;

fn main() {
    divan::main();
}

fn arguments(low: f64, high: f64) -> Vec<f64> {
    (0..N).map(|i| low + (high - low) * ((i * 7_919) % N) as f64 / N as f64).collect()
}

/// Applies one lane function to a list, `L` at a time.
struct Each<'a, const L: usize, F> {
    x: &'a [f64],
    y: &'a mut [f64],
    f: F,
}

impl<const L: usize, F: Fn(&[f64; L]) -> [f64; L]> Kernel for Each<'_, L, F> {
    type Output = ();
    #[inline(always)]
    fn run(self) {
        let (x, _) = self.x.as_chunks::<L>();
        let (y, _) = self.y.as_chunks_mut::<L>();
        for (x, y) in x.iter().zip(y) {
            *y = (self.f)(x);
        }
    }
}

fn run_each<const L: usize>(
    bencher: Bencher,
    path: Path,
    low: f64,
    high: f64,
    f: impl Fn(&[f64; L]) -> [f64; L] + Copy + Sync,
) {
    let x = arguments(low, high);
    let mut y = vec![0.0; N];
    bencher.bench_local(|| {
        dispatch::run_on(path, Each { x: black_box(&x), y: &mut y, f });
        black_box(y[0])
    });
}

mod exp {
    use super::*;

    #[divan::bench]
    fn std_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, -20.0, 20.0, |x| [x[0].exp()]);
    }
    #[divan::bench]
    fn ours_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, -20.0, 20.0, |x| [numeric::exp(x[0])]);
    }
    #[divan::bench(consts = [4, 8, 16])]
    fn lanes_baseline<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Baseline, -20.0, 20.0, lanes::exp);
    }
    #[divan::bench(consts = [4, 8, 16])]
    fn lanes_wide<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Wide, -20.0, 20.0, lanes::exp);
    }
}

mod ln {
    use super::*;

    #[divan::bench]
    fn std_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, 0.1, 50.0, |x| [x[0].ln()]);
    }
    #[divan::bench]
    fn ours_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, 0.1, 50.0, |x| [numeric::ln(x[0])]);
    }
    #[divan::bench(consts = [8])]
    fn lanes_baseline<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Baseline, 0.1, 50.0, lanes::ln);
    }
    #[divan::bench(consts = [8])]
    fn lanes_wide<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Wide, 0.1, 50.0, lanes::ln);
    }
}

mod pow {
    use super::*;

    #[divan::bench]
    fn std_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, 0.1, 50.0, |x| [x[0].powf(0.65)]);
    }
    #[divan::bench]
    fn ours_scalar(bencher: Bencher) {
        run_each::<1>(bencher, Path::Baseline, 0.1, 50.0, |x| [numeric::pow(x[0], 0.65)]);
    }
    #[divan::bench(consts = [8])]
    fn lanes_baseline<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Baseline, 0.1, 50.0, |x| lanes::pow(x, &[0.65; L]));
    }
    #[divan::bench(consts = [8])]
    fn lanes_wide<const L: usize>(bencher: Bencher) {
        run_each::<L>(bencher, Path::Wide, 0.1, 50.0, |x| lanes::pow(x, &[0.65; L]));
    }
}

/// 512 systems of 24 unknowns.
mod tridiagonal_systems {
    use super::*;

    const ROWS: usize = 24;
    const SYSTEMS: usize = 512;

    #[divan::bench]
    fn plain_loops(bencher: Bencher) {
        let (low, dia, up) = (vec![-1.0; ROWS], vec![2.5; ROWS], vec![-1.0; ROWS]);
        let mut rhs = vec![1.0; ROWS];
        let mut scratch = vec![0.0; ROWS];
        bencher.bench_local(|| {
            for _ in 0..SYSTEMS {
                rhs.fill(black_box(1.0));
                let _ = black_box(tridiagonal::solve(
                    black_box(&low),
                    black_box(&dia),
                    black_box(&up),
                    &mut rhs,
                    &mut scratch,
                ));
            }
        });
    }

    struct Solve<'a, const L: usize> {
        matrix: &'a [Vec<[f64; L]>; 3],
        rhs: &'a mut [[f64; L]],
        scratch: &'a mut [[f64; L]],
    }

    impl<const L: usize> Kernel for Solve<'_, L> {
        type Output = ();
        #[inline(always)]
        fn run(self) {
            for _ in 0..SYSTEMS / L {
                self.rhs.fill(black_box([1.0; L]));
                let [low, dia, up] = black_box(self.matrix);
                tridiagonal::solve_lanes(low, dia, up, self.rhs, self.scratch);
            }
        }
    }

    #[divan::bench(consts = [8, 16])]
    fn lanes_wide<const L: usize>(bencher: Bencher) {
        let matrix = [vec![[-1.0; L]; ROWS], vec![[2.5; L]; ROWS], vec![[-1.0; L]; ROWS]];
        let mut rhs = vec![[1.0; L]; ROWS];
        let mut scratch = vec![[0.0; L]; ROWS];
        bencher.bench_local(|| {
            dispatch::run(Solve { matrix: &matrix, rhs: &mut rhs, scratch: &mut scratch });
            black_box(rhs[0][0])
        });
    }
}

/// Sampling costs, per 4 096 values.
mod sampling {
    use super::*;
    use numeric::distribution::Distribution;
    use numeric::{counter, sobol};

    fn quantiles(bencher: Bencher, d: &Distribution) {
        let p = arguments(0.001, 0.999);
        bencher.bench_local(|| black_box(&p).iter().map(|p| d.quantile(*p)).sum::<f64>());
    }

    #[divan::bench]
    fn low_discrepancy(bencher: Bencher) {
        let stream = sobol::Stream::new(1);
        bencher.bench_local(|| (0..N as u64).map(|i| stream.at(i, black_box(17))).sum::<f64>());
    }
    #[divan::bench]
    fn by_name(bencher: Bencher) {
        let stream = counter::Stream::new(1, "some.stated.value");
        bencher.bench_local(|| (0..N as u64).map(|i| black_box(stream).uniform(i)).sum::<f64>());
    }
    #[divan::bench]
    fn normal_quantile(bencher: Bencher) {
        quantiles(bencher, &Distribution::Normal { mean: 1.0, sd: 2.0 });
    }
    #[divan::bench]
    fn lognormal_quantile(bencher: Bencher) {
        quantiles(bencher, &Distribution::LogNormal { median: 1.0, factor95: 2.0 });
    }
    #[divan::bench]
    fn truncated_quantile(bencher: Bencher) {
        quantiles(bencher, &Distribution::TruncatedNormal { mean: 1.0, sd: 2.0, low: 0.0, high: 9.0 });
    }
    #[divan::bench]
    fn beta_quantile(bencher: Bencher) {
        quantiles(bencher, &Distribution::Beta { alpha: 2.0, beta: 5.0, low: 0.0, high: 1.0 });
    }
}
