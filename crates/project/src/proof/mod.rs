//! Proof: what stands behind the figures, what may be covered, what was made otherwise.
//!
//! [`matrix`] holds each stated value and joint that a limit rests on against the log: proof had, missing, or in
//! conflict. [`penetrations`] is the register of holes, with the permission to make each; [`holds`] what waits for
//! something; [`deviations`] what is not as the book says. All read the log up to the day the book speaks of.

mod deviations;
mod holds;
mod matrix;
mod register;

pub use deviations::{Deviation, deviations};
pub use holds::{Hold, holds};
pub use matrix::{ProofRow, ProofState, matrix};
pub use register::{Hole, penetrations};

#[cfg(test)]
mod tests;
