//! From what is known today to chances: evidence, sampling, causes, and what the next step is worth.
//!
//! The way through, in the order things are done:
//!
//! 1. [`cause`]: the uncertain causes behind the stated values, each with its own stream of numbers;
//! 2. [`evidence`]: readings on inputs absorbed into a [`evidence::Belief`] ([`gaussian`] exactly, [`smc`] otherwise);
//!    forward models of readings in [`site`]; the leak through the job in [`leak`]; meters and loggers in [`outcome`];
//! 3. [`sample`]: samples of the belief as columns, and the years run on them;
//! 4. [`digits`]: chances with no more digits than the samples allow; [`chances`] over groups of limits;
//! 5. [`matters`]: which cause a result hangs on; [`next`]: what a step is worth before it is taken; [`levers`].
//!
//! Scores are standard normal; samples are numbered from 0 and each is found by its number alone, so no result depends
//! on threads or lanes. Nothing here reads a file or a clock.
#![forbid(unsafe_code)]
#![deny(clippy::disallowed_methods)]

pub mod cause;
pub mod chances;
pub mod digits;
mod error;
pub mod evidence;
pub mod gaussian;
pub mod judgement;
pub mod leak;
pub mod levers;
pub mod matters;
pub mod next;
pub mod outcome;
pub mod sample;
pub mod site;
pub mod smc;

pub use cause::{Cause, Causes, Chance};
pub use digits::Odds;
pub use error::OddsError;
