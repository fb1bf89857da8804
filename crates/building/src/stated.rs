//! Stated values: every number of the model with how it is known.
//!
//! A [`Stated`] is a value in the canonical unit of its dimension, its distribution, its basis and where it was
//! said. [`StatedValues`] keeps them densely, so that one sample of all of them is a [`Resolved`]: a plain vector
//! indexed by [`ValueKey`]. The `id` is a stable path such as
//! `assembly.upper-wall.layer[dense-cellulose].thickness`; it survives reordering of the book.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Index;

use numeric::distribution::Distribution;
use quantity::{Dimension, Spread};
use serde::{Deserialize, Serialize};

use crate::spreads;

/// Place of a stated value in [`StatedValues`] and of its number in a [`Resolved`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ValueKey(pub u32);

/// How a number is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Nobody looked: a guess, a table value for its kind, a habit of the trade.
    Assumed,
    /// Taken from a drawing or an order.
    Drawn,
    /// From the maker's sheet, with its rating.
    ProductSheet,
    /// From the label or sheet of what arrived on site.
    Delivered,
    /// Measured on this job.
    Measured,
}

impl Basis {
    /// All bases, weakest first.
    pub const ALL: [Self; 5] =
        [Self::Assumed, Self::Drawn, Self::ProductSheet, Self::Delivered, Self::Measured];

    /// Reads the builder's words for a basis.
    ///
    /// # Errors
    /// Names the five bases when `text` is none of them.
    pub fn read(text: &str) -> Result<Self, String> {
        let plain = text.trim().to_lowercase().replace('-', " ");
        Self::ALL.into_iter().find(|basis| basis.to_string() == plain).ok_or_else(|| {
            format!("\"{text}\" is no basis; write assumed, drawn, product sheet, delivered or measured")
        })
    }
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Assumed => "assumed",
            Self::Drawn => "drawn",
            Self::ProductSheet => "product sheet",
            Self::Delivered => "delivered",
            Self::Measured => "measured",
        })
    }
}

/// Under which procedure a product figure was found. Figures of unlike ratings are not compared unconverted.
#[derive(Clone, Debug, PartialEq)]
pub enum Rating {
    /// United States whole-product fenestration rating (NFRC procedures).
    Nfrc,
    /// EN ISO 10077 for U and EN 410 for g.
    Iso10077En410,
    /// Conductivity or resistance at a mean temperature, °C.
    MeanTemperatureC(f64),
    /// Permeance by the dry cup.
    DryCup,
    /// Permeance by the wet cup.
    WetCup,
    /// Recovery ratio on the supply side, without the fans' heat.
    SupplySide,
    /// Recovery ratio on the extract side.
    ExtractSide,
    /// Design value as tabulated or converted by EN ISO 10456.
    Iso10456Design,
    /// Another procedure, in the builder's words; comparable only with itself.
    Other(String),
}

impl Rating {
    /// Reads a rating as written in the book. Unknown words are kept as [`Rating::Other`], which compares equal only
    /// to the same words.
    pub fn read(text: &str) -> Self {
        let plain = text.trim().to_lowercase();
        if let Some(rest) = plain.strip_prefix("mean temperature")
            && let Ok(t) = rest.trim().trim_end_matches("°c").trim().parse::<f64>()
        {
            return Self::MeanTemperatureC(t);
        }
        match plain.as_str() {
            "nfrc" => Self::Nfrc,
            "iso 10077" | "en iso 10077" | "en 410" | "iso 10077 / en 410" | "iso 10077/en 410" => {
                Self::Iso10077En410
            }
            "dry cup" => Self::DryCup,
            "wet cup" => Self::WetCup,
            p if p.starts_with("supply side") => Self::SupplySide,
            p if p.starts_with("extract side") => Self::ExtractSide,
            "iso 10456" | "design value" => Self::Iso10456Design,
            _ => Self::Other(text.trim().to_owned()),
        }
    }
}

impl Rating {
    /// Says whether two figures may be compared or combined as they are. A mean temperature may differ by one kelvin.
    pub fn comparable(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::MeanTemperatureC(a), Self::MeanTemperatureC(b)) => (a - b).abs() <= 1.0,
            _ => self == other,
        }
    }
}

/// Returns the first two ratings that must not be compared or combined unconverted; values without a rating are left
/// out, because nothing can be said of them.
pub fn unlike<'a>(ratings: impl IntoIterator<Item = Option<&'a Rating>>) -> Option<(&'a Rating, &'a Rating)> {
    let mut first: Option<&Rating> = None;
    for rating in ratings.into_iter().flatten() {
        match first {
            Some(known) if !known.comparable(rating) => return Some((known, rating)),
            _ => first = first.or(Some(rating)),
        }
    }
    None
}

impl fmt::Display for Rating {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nfrc => f.write_str("NFRC"),
            Self::Iso10077En410 => f.write_str("ISO 10077 / EN 410"),
            Self::MeanTemperatureC(t) => write!(f, "mean temperature {t} °C"),
            Self::DryCup => f.write_str("dry cup"),
            Self::WetCup => f.write_str("wet cup"),
            Self::SupplySide => f.write_str("supply side, without fan heat"),
            Self::ExtractSide => f.write_str("extract side"),
            Self::Iso10456Design => f.write_str("ISO 10456 design value"),
            Self::Other(words) => f.write_str(words),
        }
    }
}

/// Where a value was said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A line of the book.
    File {
        /// Path inside the project folder.
        file: String,
        /// Line, from 1.
        line: u32,
    },
    /// A record of the site log, by its id.
    Record(String),
    /// A row of the material library, by its name.
    Library(String),
    /// A row of our own defaults, by its id; `data/defaults.toml` says why.
    Default(String),
    /// A joint worked out as a detail, by its title.
    Detail(String),
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File { file, line } => write!(f, "{file}:{line}"),
            Self::Record(id) => write!(f, "record {id}"),
            Self::Library(name) => write!(f, "library, {name}"),
            Self::Default(row) => write!(f, "default, {row}"),
            Self::Detail(title) => write!(f, "worked out, {title}"),
        }
    }
}

/// Which of the two chances a value's uncertainty belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Enters {
    /// The chance on paper: readings to come, open choices, substitutions, disputed rules.
    pub paper: bool,
    /// The chance in use: everything uncertain.
    pub in_use: bool,
}

impl Enters {
    /// Uncertain in use only: on paper the declared value is accepted.
    pub const IN_USE: Self = Self { paper: false, in_use: true };
    /// Uncertain on paper and in use.
    pub const BOTH: Self = Self { paper: true, in_use: true };
    /// Fixed by agreement: uncertain nowhere.
    pub const NEITHER: Self = Self { paper: false, in_use: false };
}

/// One number of the model with how it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Stated {
    /// Stable path, the only key that records, samples, causes and proof use.
    pub id: String,
    /// Nominal value in the dimension's canonical unit.
    pub value: f64,
    /// What kind of quantity it is.
    pub dimension: Dimension,
    /// What is believed about it, same unit.
    pub distribution: Distribution,
    /// How it is known.
    pub basis: Basis,
    /// Procedure behind a product figure.
    pub rating: Option<Rating>,
    /// Where it was said.
    pub source: Source,
    /// Row of `data/spreads.toml` its spread came from; `None` when the book stated the spread.
    pub default_spread: Option<String>,
    /// Shared cause (one crew, one batch, one weather): values of a group vary together.
    pub group: Option<String>,
    /// Which chances its uncertainty enters.
    pub enters: Enters,
}

/// A value about to be stated: what [`StatedValues::state`] takes.
#[derive(Clone, Debug)]
pub struct Statement {
    /// Stable path.
    pub id: String,
    /// Canonical value.
    pub value: f64,
    /// Spread as written; without one, the default of `kind` and `basis` applies.
    pub spread: Option<Spread>,
    /// Kind of quantity in the words of `data/spreads.toml` (`conductivity`, `thickness`, ...).
    pub kind: &'static str,
    /// Dimension.
    pub dimension: Dimension,
    /// How it is known.
    pub basis: Basis,
    /// Procedure behind it.
    pub rating: Option<Rating>,
    /// Where it was said.
    pub source: Source,
    /// Shared cause.
    pub group: Option<String>,
    /// Which chances it enters; [`Enters::IN_USE`] for most.
    pub enters: Enters,
}

/// Why a value could not be stated.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StateError {
    /// Two values under one id.
    #[error("\"{id}\" is stated twice, first at {first}")]
    Duplicate {
        /// The id.
        id: String,
        /// Where it was said first.
        first: Source,
    },
    /// NaN or infinite.
    #[error("\"{id}\" is not a finite number")]
    NotFinite {
        /// The id.
        id: String,
    },
    /// A spread that makes no distribution: reversed range, factor below one, value outside its range.
    #[error("\"{id}\": {why}")]
    Spread {
        /// The id.
        id: String,
        /// What is wrong with the spread.
        why: String,
    },
    /// A kind that `data/spreads.toml` does not list: a programming error of the caller, said plainly.
    #[error("\"{id}\": no default spread for the kind \"{kind}\"")]
    UnknownKind {
        /// The id.
        id: String,
        /// The kind asked for.
        kind: String,
    },
}

/// All stated values of a model, in the order they were stated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StatedValues {
    values: Vec<Stated>,
    index: BTreeMap<String, ValueKey>,
}

impl StatedValues {
    /// Returns an empty list.
    pub fn new() -> Self {
        Self::default()
    }

    /// States a value, with the default spread of its kind and basis where none is given.
    ///
    /// # Errors
    /// [`StateError`] for a second value under one id, a number that is not finite, an impossible spread.
    pub fn state(&mut self, s: Statement) -> Result<ValueKey, StateError> {
        if !s.value.is_finite() {
            return Err(StateError::NotFinite { id: s.id });
        }
        let (distribution, default_spread) = match s.spread {
            Some(spread) => {
                let made = spreads::distribution(s.value, spread);
                (made.map_err(|why| StateError::Spread { id: s.id.clone(), why })?, None)
            }
            None => {
                let row = spreads::table().find(s.kind, s.basis);
                let row =
                    row.ok_or_else(|| StateError::UnknownKind { id: s.id.clone(), kind: s.kind.to_owned() })?;
                (row.around(s.value), Some(row.id()))
            }
        };
        self.push(Stated {
            id: s.id,
            value: s.value,
            dimension: s.dimension,
            distribution,
            basis: s.basis,
            rating: s.rating,
            source: s.source,
            default_spread,
            group: s.group,
            enters: s.enters,
        })
    }

    /// Appends a finished value.
    ///
    /// # Errors
    /// [`StateError::Duplicate`] when the id is taken.
    pub fn push(&mut self, stated: Stated) -> Result<ValueKey, StateError> {
        if let Some(&first) = self.index.get(&stated.id) {
            return Err(StateError::Duplicate { id: stated.id, first: self.get(first).source.clone() });
        }
        // A model of four thousand million numbers is not a building.
        let key = ValueKey(self.values.len() as u32);
        self.index.insert(stated.id.clone(), key);
        self.values.push(stated);
        Ok(key)
    }

    /// Returns the value under a key of this list.
    ///
    /// # Panics
    /// When the key belongs to another, longer list: keys are only made by [`Self::push`].
    pub fn get(&self, key: ValueKey) -> &Stated {
        &self.values[key.0 as usize]
    }

    /// Returns the key of an id.
    pub fn key(&self, id: &str) -> Option<ValueKey> {
        self.index.get(id).copied()
    }

    /// Returns the nominal number under a key.
    pub fn nominal_of(&self, key: ValueKey) -> f64 {
        self.get(key).value
    }

    /// Returns all values with their keys, in order.
    pub fn iter(&self) -> impl Iterator<Item = (ValueKey, &Stated)> {
        self.values.iter().enumerate().map(|(i, stated)| (ValueKey(i as u32), stated))
    }

    /// Returns how many there are.
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Says whether nothing is stated.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Returns the nominal number of each value.
    pub fn nominal(&self) -> Resolved {
        Resolved(self.values.iter().map(|stated| stated.value).collect())
    }

    /// Returns a list in which one value is replaced (its id and key stay): how evidence narrows a value.
    #[must_use]
    pub fn with(&self, key: ValueKey, change: impl FnOnce(&mut Stated)) -> Self {
        let mut next = self.clone();
        let id = next.values[key.0 as usize].id.clone();
        change(&mut next.values[key.0 as usize]);
        next.values[key.0 as usize].id = id;
        next
    }
}

/// The numbers of one sample, by [`ValueKey`], each in its canonical unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Resolved(pub Vec<f64>);

impl Index<ValueKey> for Resolved {
    type Output = f64;

    fn index(&self, key: ValueKey) -> &f64 {
        &self.0[key.0 as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn statement(id: &str, spread: Option<Spread>) -> Statement {
        Statement {
            id: id.to_owned(),
            value: 0.040,
            spread,
            kind: "conductivity",
            dimension: Dimension::Conductivity,
            basis: Basis::ProductSheet,
            rating: None,
            source: Source::File { file: "building.toml".to_owned(), line: 12 },
            group: None,
            enters: Enters::IN_USE,
        }
    }

    #[test]
    fn a_value_without_spread_takes_its_kinds() {
        let mut values = StatedValues::new();
        let stated = values.state(statement("a", None)).unwrap();
        let written = values.state(statement("b", Some(Spread::HalfWidth95(0.002)))).unwrap();
        assert_eq!(values.get(stated).default_spread.as_deref(), Some("conductivity/product sheet"));
        assert!((values.get(stated).distribution.sd() - 0.040 * 0.07 / 2.0).abs() < 1e-12);
        assert_eq!(values.get(written).default_spread, None);
        assert!((values.get(written).distribution.sd() - 0.001).abs() < 1e-12);
        assert_eq!(values.nominal()[written], 0.040);
        assert_eq!(values.key("a"), Some(stated));
    }

    #[test]
    fn what_cannot_be_stated_says_why() {
        let mut values = StatedValues::new();
        values.state(statement("a", None)).unwrap();
        let twice = values.state(statement("a", None)).unwrap_err();
        assert_eq!(twice.to_string(), "\"a\" is stated twice, first at building.toml:12");
        let mut nan = statement("b", None);
        nan.value = f64::NAN;
        assert!(matches!(values.state(nan), Err(StateError::NotFinite { .. })));
        let mut kind = statement("c", None);
        kind.kind = "colour";
        assert!(matches!(values.state(kind), Err(StateError::UnknownKind { .. })));
        let range = Some(Spread::Range { low: 1.0, high: 2.0 });
        assert!(matches!(values.state(statement("d", range)), Err(StateError::Spread { .. })));
        assert_eq!(values.len(), 1);
    }

    #[test]
    fn evidence_changes_a_copy_and_keeps_the_id() {
        let mut values = StatedValues::new();
        let key = values.state(statement("a", None)).unwrap();
        let narrowed = values.with(key, |stated| {
            stated.value = 0.038;
            stated.id = "other".to_owned();
        });
        assert_eq!((narrowed.get(key).value, narrowed.get(key).id.as_str()), (0.038, "a"));
        assert_eq!(values.get(key).value, 0.040);
    }

    #[test]
    fn bases_and_ratings_are_read_as_they_are_shown() {
        for basis in Basis::ALL {
            assert_eq!(Basis::read(&basis.to_string()), Ok(basis));
        }
        assert!(Basis::read("guessed").unwrap_err().contains("product sheet"));
        let ratings =
            ["NFRC", "ISO 10077 / EN 410", "mean temperature 10 °C", "dry cup", "extract side", "in-house"];
        for text in ratings {
            assert_eq!(Rating::read(text).to_string(), text);
        }
    }

    #[test]
    fn unlike_ratings_are_found() {
        let (iso, nfrc) = (Rating::Iso10077En410, Rating::Nfrc);
        assert_eq!(unlike([Some(&iso), None, Some(&iso)]), None);
        assert_eq!(unlike([None, Some(&iso), Some(&nfrc)]), Some((&iso, &nfrc)));
        assert!(Rating::MeanTemperatureC(10.0).comparable(&Rating::MeanTemperatureC(10.5)));
        assert!(!Rating::MeanTemperatureC(10.0).comparable(&Rating::MeanTemperatureC(24.0)));
    }
}
