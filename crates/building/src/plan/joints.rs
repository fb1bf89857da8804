//! Who carries the control layers across: joints, the products they are made with, drainage, penetrations.

use crate::control::ControlKind;
use crate::stated::ValueKey;

/// Who carries the control layers across where two things meet: one entry for a kind, others for places that differ.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JointPlan {
    /// First, by assembly; or `opening` for the edges of windows and doors, or one of `head`, `jamb`, `sill`,
    /// `threshold` (a threshold is never meant by `opening`).
    pub first: String,
    /// Second, by assembly.
    pub second: String,
    /// What carries each control layer across.
    pub carries: Vec<Carrier>,
    /// Materials that are really joined, when they are not those of the two layers: `plywood`, `soft-brick`, `frame`.
    pub joins: Vec<String>,
    /// Trade.
    pub trade: Option<String>,
    /// Stage in which it is made; the one of the barrier when left out.
    pub stage: Option<String>,
    /// Class of work.
    pub work: WorkClass,
    /// Proof wanted.
    pub proof: Vec<String>,
    /// What to photograph, in the builder's words.
    pub photograph: Vec<String>,
    /// Leak at the reference pressure, m³/(h·m), when measured or stated.
    pub leak: Option<ValueKey>,
    /// Tested system meant for a fire- or sound-rated element. A record must still name the one that was built.
    pub tested_system: Option<String>,
    /// Only at this place (`N`, `W2`); the whole kind when left out.
    pub at: Option<String>,
}

impl JointPlan {
    /// What carries a control layer across, if somebody said so.
    pub fn carrier(&self, control: ControlKind) -> Option<&Carrier> {
        self.carries.iter().find(|c| c.control == control && !c.how.trim().is_empty())
    }

    /// Name of the pair, as the book writes it.
    pub fn pair(&self) -> String {
        format!("{} / {}", self.first, self.second)
    }
}

/// What carries one control layer across a joint.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Carrier {
    /// Which layer.
    pub control: ControlKind,
    /// How, in words: the method.
    pub how: String,
    /// Product it is made with, by name.
    pub product: Option<String>,
    /// Which piece lies over which, where water runs over it.
    pub lap: Option<Lap>,
    /// Trade, where it is another than the joint's.
    pub trade: Option<String>,
}

impl Carrier {
    /// A carrier that is only described.
    pub fn words(control: ControlKind, how: impl Into<String>) -> Self {
        Self { control, how: how.into(), ..Self::default() }
    }
}

/// Which piece lies over which where rain water runs across a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lap {
    /// The upper piece laps over the lower one: water is shed.
    Over,
    /// The upper piece ends behind the lower one: water is led in.
    Under,
    /// One piece runs past without a lap.
    Through,
}

impl Lap {
    /// All with their words in the book.
    pub const ALL: [(&'static str, Self); 3] =
        [("over", Self::Over), ("under", Self::Under), ("through", Self::Through)];

    /// Its word in the book.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, lap)| *lap == self).map_or("over", |(word, _)| word)
    }
}

/// Class of work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WorkClass {
    /// Watched, tested as it is done.
    Careful,
    /// As usual.
    Ordinary,
    /// Not known.
    #[default]
    Unknown,
}

/// Kind of a joining product: how it holds decides what must be asked of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ProductKind {
    /// Tape.
    #[default]
    Tape,
    /// Sealant from a tube or sausage.
    Sealant,
    /// Coating that cures in place.
    Liquid,
    /// Sheet, glued or taped.
    Membrane,
    /// Foam from a can, or foamed strip that is glued.
    Foam,
    /// Held by being pressed.
    Gasket,
    /// Bent metal or stiff sheet, held mechanically.
    Flashing,
}

impl ProductKind {
    /// All with their words in the book.
    pub const ALL: [(&'static str, Self); 7] = [
        ("tape", Self::Tape),
        ("sealant", Self::Sealant),
        ("liquid", Self::Liquid),
        ("membrane", Self::Membrane),
        ("foam", Self::Foam),
        ("gasket", Self::Gasket),
        ("flashing", Self::Flashing),
    ];

    /// Its word in the book.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, kind)| *kind == self).map_or("tape", |(word, _)| word)
    }

    /// Whether it holds by sticking, so that someone must say what it sticks to.
    pub fn bonds(self) -> bool {
        !matches!(self, Self::Gasket | Self::Flashing)
    }

    /// Whether it spans the joint as a sheet, so that vapour passes it as it passes the panel beside it.
    pub fn spans(self) -> bool {
        matches!(self, Self::Tape | Self::Membrane | Self::Liquid)
    }
}

/// A product that joins, with what its sheet asks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ProductPlan {
    /// Name the joints use.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Kind.
    pub kind: ProductKind,
    /// What its sheet says it bonds to: materials of the book or the library, `frame`, other products.
    pub bonds_to: Vec<String>,
    /// What its sheet, or a trial on site, says it does not bond to.
    pub not_on: Vec<String>,
    /// Of those it bonds to, the ones that need a primer.
    pub primer_on: Vec<String>,
    /// The primer.
    pub primer: Option<String>,
    /// What the surface must be like.
    pub surface: Option<String>,
    /// How dry it must be.
    pub dryness: Option<String>,
    /// Lowest temperature of the surface, °C.
    pub lowest_temperature: Option<ValueKey>,
    /// Time before it may be covered, s.
    pub cure: Option<ValueKey>,
    /// Vapour permeance, kg/(m²·s·Pa).
    pub permeance: Option<ValueKey>,
    /// Where that is written.
    pub source: Option<String>,
}

/// How rain water leaves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrainagePlan {
    /// Sills of windows; the first without a place is the kind, others are places that differ.
    pub sills: Vec<SillPlan>,
    /// Thresholds of doors, likewise.
    pub thresholds: Vec<SillPlan>,
    /// Drained gaps, by assembly.
    pub gaps: Vec<DrainedGapPlan>,
    /// Flat roofs behind a parapet: the way out of the water, by assembly of the roof.
    pub roofs: Vec<(String, Way)>,
}

/// What a sill has to lead water out again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SillPlan {
    /// Opening, when it differs from its kind.
    pub at: Option<String>,
    /// Pan: what it is made of.
    pub pan: Option<Way>,
    /// Whether its ends are turned up.
    pub end_dams: Option<bool>,
    /// Fall to the outside, degrees; negative leads in.
    pub slope: Option<ValueKey>,
    /// Where the water leaves.
    pub out: Option<Way>,
}

/// A thing that is there, in words, or said not to be there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// There, and what it is.
    Is(String),
    /// Said to be missing.
    Missing,
}

/// Ends of a drained gap.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrainedGapPlan {
    /// Assembly that has the gap.
    pub assembly: String,
    /// Where it ends below, and how water leaves.
    pub bottom: Option<Way>,
    /// Where it ends above.
    pub top: Option<Way>,
}

/// What passes through an element.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PenetrationPlan {
    /// What.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Assembly it passes through.
    pub through: String,
    /// Side of a storey or room where it passes, when known.
    pub at: Option<String>,
    /// How it is sealed for air; `None`: nobody said.
    pub seal: Option<String>,
    /// How rain and heat are kept where it passes.
    pub carries: Vec<Carrier>,
    /// Product it is sealed with.
    pub product: Option<String>,
    /// Trade.
    pub trade: Option<String>,
    /// Timber that ends in the wall.
    pub embedded_timber: bool,
    /// Width and height of what passes through, m, as drawn.
    pub section_m: Option<[f64; 2]>,
    /// Leak of each at the reference pressure, m³/h.
    pub leak: Option<ValueKey>,
    /// Point transmittance of each, W/K.
    pub chi: Option<ValueKey>,
    /// Tested system meant for a fire- or sound-rated element. A record must still name the one that was built.
    pub tested_system: Option<String>,
}
