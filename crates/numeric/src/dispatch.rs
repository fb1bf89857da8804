//! The one place where code is compiled for more than one instruction set.
//!
//! A [`Kernel`] is a loop with its data. [`run`] compiles its body twice, for the machine's baseline and for
//! wider vectors, and picks one when the program runs. Fused multiply-add is never switched on, so both give
//! the same bits: vector width only changes how many lanes are done at once.
//!
//! Mark every implementation `#[inline(always)]`, and what it calls in its inner loop too: a function that is
//! not inlined stays compiled for the baseline.

/// A computation worth compiling for several vector widths.
pub trait Kernel {
    /// What it returns.
    type Output;
    /// Does it. Implementations carry `#[inline(always)]`.
    fn run(self) -> Self::Output;
}

/// A way of compiling a kernel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Path {
    /// The target's own baseline (SSE2 on x86-64, NEON on 64-bit ARM).
    Baseline,
    /// Vectors of 256 bits where the machine has them (AVX2 on x86-64); else the baseline.
    Wide,
    /// Vectors of 512 bits where the machine has them (AVX-512F on x86-64); else as [`Path::Wide`].
    Widest,
}

/// Runs a kernel on the widest path of this machine.
#[inline]
pub fn run<K: Kernel>(kernel: K) -> K::Output {
    run_on(Path::Widest, kernel)
}

/// Runs a kernel on a chosen path; tests compare the bytes of both.
#[inline]
pub fn run_on<K: Kernel>(path: Path, kernel: K) -> K::Output {
    match path {
        Path::Widest if widest_available() => run_widest(kernel),
        Path::Wide | Path::Widest if wide_available() => run_wide(kernel),
        _ => kernel.run(),
    }
}

/// Says whether [`Path::Wide`] differs from the baseline here.
#[inline]
pub fn wide_available() -> bool {
    #[cfg(target_arch = "x86_64")]
    {
        std::arch::is_x86_feature_detected!("avx2")
    }
    #[cfg(not(target_arch = "x86_64"))]
    {
        false
    }
}

/// Says whether [`Path::Widest`] differs from [`Path::Wide`] here.
#[inline]
pub fn widest_available() -> bool {
    #[cfg(target_arch = "x86_64")]
    {
        std::arch::is_x86_feature_detected!("avx512f")
    }
    #[cfg(not(target_arch = "x86_64"))]
    {
        false
    }
}

#[cfg(target_arch = "x86_64")]
#[inline]
fn run_widest<K: Kernel>(kernel: K) -> K::Output {
    #[target_feature(enable = "avx512f")]
    fn with_avx512<K: Kernel>(kernel: K) -> K::Output {
        kernel.run()
    }
    assert!(widest_available());
    // SAFETY: `with_avx512` needs AVX-512F, which `widest_available` has confirmed on this processor.
    unsafe { with_avx512(kernel) }
}

#[cfg(not(target_arch = "x86_64"))]
#[inline]
fn run_widest<K: Kernel>(kernel: K) -> K::Output {
    kernel.run()
}

#[cfg(target_arch = "x86_64")]
#[inline]
fn run_wide<K: Kernel>(kernel: K) -> K::Output {
    #[target_feature(enable = "avx2")]
    fn with_avx2<K: Kernel>(kernel: K) -> K::Output {
        kernel.run()
    }
    // The only caller has just asked the processor; asking again costs one load and keeps this function
    // sound.
    assert!(wide_available());
    // SAFETY: `with_avx2` needs AVX2, which `wide_available` has confirmed on this processor.
    unsafe { with_avx2(kernel) }
}

#[cfg(not(target_arch = "x86_64"))]
#[inline]
fn run_wide<K: Kernel>(kernel: K) -> K::Output {
    kernel.run()
}
