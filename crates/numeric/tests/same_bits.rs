//! The same bytes on the baseline and the wide path, for 1, 8 and 16 lanes and for 1, 2 and 7 threads.

use numeric::dispatch::{self, Kernel, Path};
use numeric::{block_tridiagonal, dense, lanes, sum, tridiagonal};

/// Buildings in the study; a multiple of every lane count.
const SAMPLES: usize = 64;
const CELLS: usize = 9;

/// A little study that uses everything an inner loop may use.
struct Study<const L: usize> {
    first: usize,
}

impl<const L: usize> Kernel for Study<L> {
    type Output = [f64; L];

    #[inline(always)]
    fn run(self) -> [f64; L] {
        let id: [f64; L] = std::array::from_fn(|l| (self.first + l) as f64);
        let mut state = [[0.0; L]; CELLS];
        for (i, cell) in state.iter_mut().enumerate() {
            *cell = lanes::map(&id, |s| 280.0 + 0.37 * s + i as f64);
        }
        let mut scratch = [[0.0; L]; CELLS];
        for _ in 0..20 {
            let vapour = lanes::exp(&lanes::map(&state[0], |t| 23.6 - 4000.0 / (t - 38.0)));
            let film = lanes::pow(&lanes::map(&state[1], |t| (t - 270.0).abs()), &[1.0 / 3.0; L]);
            let low = [lanes::map(&film, |f| -f); CELLS];
            let diagonal = [lanes::map(&film, |f| 2.0 * f + 1.0); CELLS];
            tridiagonal::solve_lanes(&low, &diagonal, &low, &mut state, &mut scratch);
            let log = lanes::ln(&lanes::map(&vapour, |v| 1.0 + v));
            for i in 0..CELLS {
                lanes::add_product(&mut state[i], &log, &[11.0 + i as f64; L]);
                state[i] = lanes::add(&state[i], &[200.0; L]);
            }
        }
        let mut a = [[[0.1; L]; 3]; 3];
        let mut b = [state[0], state[4], state[8]];
        for i in 0..3 {
            a[i][i] = lanes::map(&state[i], |t| 1.0 + t);
        }
        dense::solve_lanes(&mut a, &mut b);
        let block = [[[2.0; L], b[0]], [b[1], [3.0; L]]];
        let mut diagonal = [block; 4];
        let mut upper = [[[[0.3; L]; 2]; 2]; 4];
        let lower = upper;
        let mut x = [[state[2], state[3]]; 4];
        block_tridiagonal::solve_lanes(&lower, &mut diagonal, &mut upper, &mut x);
        lanes::add(&x[0][0], &lanes::mul(&x[3][1], &b[2]))
    }
}

fn results<const L: usize>(path: Path) -> Vec<u64> {
    (0..SAMPLES / L)
        .flat_map(|c| dispatch::run_on(path, Study::<L> { first: c * L }))
        .map(f64::to_bits)
        .collect()
}

#[test]
fn paths_and_lanes_agree_to_the_bit() {
    let reference = results::<1>(Path::Baseline);
    assert!(reference.iter().all(|b| f64::from_bits(*b).is_finite()));
    let distinct: std::collections::BTreeSet<_> = reference.iter().collect();
    assert_eq!(distinct.len(), SAMPLES, "the samples must differ, or the comparison says nothing");
    for path in [Path::Baseline, Path::Wide, Path::Widest] {
        assert_eq!(results::<1>(path), reference, "{path:?}, 1 lane");
        assert_eq!(results::<8>(path), reference, "{path:?}, 8 lanes");
        assert_eq!(results::<16>(path), reference, "{path:?}, 16 lanes");
    }
}

#[test]
fn functions_agree_over_their_whole_range() {
    struct Functions<'a, const L: usize>(&'a [[f64; L]]);
    impl<const L: usize> Kernel for Functions<'_, L> {
        type Output = Vec<u64>;
        #[inline(always)]
        fn run(self) -> Vec<u64> {
            let mut out = Vec::with_capacity(3 * L * self.0.len());
            for x in self.0 {
                let e = lanes::exp(&lanes::map(x, |v| v.clamp(-800.0, 800.0)));
                let l = lanes::ln(&lanes::map(x, f64::abs));
                let p = lanes::pow(&lanes::map(x, f64::abs), &lanes::map(x, |v| 0.001 * v + 0.3));
                out.extend(e.iter().chain(&l).chain(&p).map(|v| v.to_bits()));
            }
            out
        }
    }
    let x: Vec<[f64; 8]> = (0..4_000)
        .map(|i| {
            std::array::from_fn(|l| {
                let k = (8 * i + l) as f64;
                numeric::scalar::sin(k) * numeric::exp(0.001 * k - 10.0)
            })
        })
        .collect();
    let a = dispatch::run_on(Path::Baseline, Functions(&x));
    assert_eq!(a, dispatch::run_on(Path::Wide, Functions(&x)));
    assert_eq!(a, dispatch::run_on(Path::Widest, Functions(&x)));
    for (i, v) in x.iter().enumerate() {
        for l in 0..8 {
            assert_eq!(a[24 * i + l], numeric::exp(v[l].clamp(-800.0, 800.0)).to_bits());
            assert_eq!(a[24 * i + 8 + l], numeric::ln(v[l].abs()).to_bits());
            assert_eq!(a[24 * i + 16 + l], numeric::pow(v[l].abs(), 0.001 * v[l] + 0.3).to_bits());
        }
    }
}

#[test]
fn threads_change_no_bit() {
    let lane_study = |i: usize| dispatch::run(Study::<8> { first: 8 * i }).iter().sum::<f64>();
    let sums: Vec<u64> = [1, 2, 7]
        .into_iter()
        .map(|threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
            pool.install(|| sum::parallel(100, 3, lane_study)).to_bits()
        })
        .collect();
    assert_eq!(sums[0], sums[1]);
    assert_eq!(sums[0], sums[2]);
}
