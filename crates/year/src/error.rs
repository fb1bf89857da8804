//! Why a building cannot be simulated.

use fabric::FabricError;

use crate::kernel::KernelError;

/// Why a year cannot be run. Each names the item of the book it belongs to.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum YearError {
    /// A law of heat through solids refused its numbers.
    #[error("{item}: {why}")]
    Fabric {
        /// Assembly, opening or element.
        item: String,
        /// What the law says.
        why: FabricError,
    },
    /// The balance refused its input.
    #[error("the balance cannot run: {0}")]
    Kernel(#[from] KernelError),
    /// The air flow network of leaks and fans has no solution.
    #[error("the air flow network cannot be solved: {0}")]
    Air(#[from] air::network::NetworkError),
    /// More zones or rooms than a run can hold.
    #[error("{found} {what}, at most {most} can be run")]
    TooMany {
        /// Rooms or zones.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many can be.
        most: usize,
    },
    /// Something the model lacks.
    #[error("{item}: {why}")]
    Missing {
        /// Item.
        item: String,
        /// What is missing and what to write.
        why: String,
    },
    /// The sample's numbers are not this model's.
    #[error("a sample of {found} numbers, the model has {expected}")]
    Sample {
        /// Numbers given.
        found: usize,
        /// Numbers of the model.
        expected: usize,
    },
}
