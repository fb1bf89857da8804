//! Control layers as topology: which layer of each element keeps out rain, air, vapour and heat, who meets whom, and
//! where nobody has said how the layer is carried across.

use serde::{Deserialize, Serialize};

/// What a layer keeps out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ControlKind {
    /// Rain water.
    Rain,
    /// Air.
    #[default]
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

/// A place where a control layer is not closed, or where nobody can say that it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// Stable id: `air.roof edge.upper-wall / deck-roof`.
    pub id: String,
    /// Which layer.
    pub control: ControlKind,
    /// Other layers that are open there with it, when nobody has said anything about the place.
    pub also: Vec<ControlKind>,
    /// What kind of gap.
    pub kind: GapKind,
    /// Plan item that would close it: `joint."opening / lobby-wall"`, `assembly.x.layers`, `penetration.y`.
    pub item: String,
    /// One sentence.
    pub sentence: String,
    /// What to write in the book, or put on record, to close it.
    pub close: String,
    /// Junctions, openings or penetrations it lies at, by name.
    pub places: Vec<String>,
    /// How many there are of it: 1 but for things that pass through several times.
    pub count: u32,
    /// Length, m, for joints; 0 for others.
    pub length_m: f64,
    /// Where it is, m, for drawing: each a line from end to end.
    pub lines_m: Vec<Vec<[f64; 3]>>,
    /// Faces it lies in, m, for drawing, when it has no line of its own.
    pub outlines_m: Vec<Vec<[f64; 3]>>,
}

/// Kind of gap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GapKind {
    /// An assembly names no such layer.
    NoLayer,
    /// Two elements meet and nobody said what carries the layer across.
    NoJoint,
    /// Something passes through and nobody said how it is sealed.
    NoSeal,
    /// A fire- or sound-rated element is joined or pierced, and only a record of a tested system closes it.
    NoTestedSystem,
    /// An upper piece ends behind a lower one.
    ReversedLap,
    /// Water gets in and has no way out.
    DeadEnd,
    /// Nobody has said which piece laps over which, or how water gets out.
    DrainageUnknown,
    /// Two things are joined that are said not to bond.
    NotCompatible,
    /// Nobody has stated that what is joined bonds.
    CompatibilityUnknown,
    /// What spans the joint is far tighter or looser to vapour than the panels beside it.
    VapourMismatch,
    /// Elements of a plain list: their edges are not drawn, so nothing can be said about them.
    EdgesUnknown,
}

impl GapKind {
    /// Whether nobody has said anything yet, as against something that is known to be wrong.
    pub fn is_question(self) -> bool {
        matches!(self, Self::DrainageUnknown | Self::CompatibilityUnknown | Self::EdgesUnknown)
    }

    /// Whether the line of the layer is broken there, so that it is drawn as a break.
    pub fn breaks_line(self) -> bool {
        matches!(self, Self::NoJoint | Self::NoSeal)
    }

    /// Its word in ids.
    pub fn word(self) -> &'static str {
        match self {
            Self::NoLayer => "layer",
            Self::NoJoint => "joint",
            Self::NoSeal => "penetration",
            Self::NoTestedSystem => "rated",
            Self::ReversedLap => "lap",
            Self::DeadEnd => "dead-end",
            Self::DrainageUnknown => "drainage",
            Self::NotCompatible => "not-compatible",
            Self::CompatibilityUnknown => "compatible",
            Self::VapourMismatch => "permeance",
            Self::EdgesUnknown => "edges",
        }
    }
}
