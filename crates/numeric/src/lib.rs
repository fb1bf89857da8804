//! Lanes, exact-bit functions, small solves, distributions, statistics. Knows no physics.

#![deny(clippy::disallowed_methods)]
