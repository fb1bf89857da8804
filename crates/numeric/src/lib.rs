//! Lanes, exact-bit functions, small solves, distributions, statistics. Knows no physics.
//!
//! Every result is the same to the bit on every machine, for any number of threads and lanes: elementary
//! functions are our own ([`exp`], [`ln`], [`pow`]) or one portable library's ([`scalar`]), sums have a fixed
//! order ([`sum`]), nothing is fused. [`dispatch`] compiles inner loops for wider vectors without changing a
//! bit.
//!
//! Reading order: [`lanes`] and [`dispatch`] for kernels; [`tridiagonal`] and [`dense`] for systems;
//! [`root`] for equations; [`distribution`] for what is uncertain,
//! [`sobol`] and [`counter`] for samples of it, [`weighted`] and [`regression`] for what they tell,
//! [`sensitivity`] for what moves a result and [`worth`] for what a reading would be worth.
#![deny(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod beta;
pub mod block_tridiagonal;
pub mod counter;
pub mod dense;
// One function with a target feature must be called from one without: the only unsafe call of the workspace.
#[allow(unsafe_code)]
pub mod dispatch;
pub mod distribution;
mod elementary;
pub mod envelope;
mod error;
pub mod lanes;
pub mod normal;
pub mod quadrature;
pub mod regression;
pub mod root;
pub mod scalar;
pub mod sensitivity;
pub mod sobol;
pub mod sum;
pub mod tridiagonal;
pub mod weighted;
pub mod worth;

pub use elementary::{exp, ln, pow};
pub use error::NumericError;
