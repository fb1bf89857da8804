//! Control layers as topology: which layer of each element keeps out rain, air, vapour and heat, who meets whom, and
//! where nobody has said how the layer is carried across.

use serde::{Deserialize, Serialize};

/// What a layer keeps out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ControlKind {
    /// Rain water.
    Rain,
    /// Air.
    Air,
    /// Vapour.
    Vapour,
    /// Heat.
    Heat,
}

impl ControlKind {
    /// All four, in order of how soon a failure is felt.
    pub const ALL: [Self; 4] = [Self::Rain, Self::Air, Self::Vapour, Self::Heat];

    /// Its word in the book.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rain => "rain",
            Self::Air => "air",
            Self::Vapour => "vapour",
            Self::Heat => "heat",
        }
    }

    /// Reads its word (`vapor` too).
    pub fn read(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase();
        let plain = if plain == "vapor" { "vapour".to_owned() } else { plain };
        Self::ALL.into_iter().find(|kind| kind.word() == plain)
    }
}

/// A place where a control layer is not closed.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// Stable id: `air.roof edge.upper-wall / deck-roof`.
    pub id: String,
    /// Which layer.
    pub control: ControlKind,
    /// What kind of gap.
    pub kind: GapKind,
    /// Plan item that would close it: `joint."opening / lobby-wall"`, `assembly.x.layers`, `penetration.y`.
    pub item: String,
    /// One sentence.
    pub sentence: String,
    /// Length, m, for joints; 0 for others.
    pub length_m: f64,
    /// Where it is, m, for drawing.
    pub lines_m: Vec<Vec<[f64; 3]>>,
}

/// Kind of gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GapKind {
    /// An assembly names no such layer.
    NoLayer,
    /// Two elements meet and nobody said what carries the layer across.
    NoJoint,
    /// Something passes through and nobody said how it is sealed.
    NoSeal,
    /// A fire- or sound-rated element is joined or pierced without a tested system.
    NoTestedSystem,
}
