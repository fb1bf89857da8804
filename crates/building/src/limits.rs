//! Limits as data: what must be met, under which use, counting rule and method.
//!
//! A [`LimitSet`] is a TOML file of rows. Rows sharing a `group` form one finding: `any of` or `all of` them. Shipped
//! sets are common practice for very-low-energy buildings; nothing judged by them is "certified". A row's `value` is
//! text with a unit, read to the canonical unit by [`LimitSet::read`]. Judging is done one floor up (`year::judge`).

use quantity::Dimension;
use serde::Deserialize;

/// A set of limits.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitSet {
    /// Name, such as `new-build`.
    pub name: String,
    /// What it is, one sentence.
    pub about: String,
    /// Said beside every finding of the set.
    pub caveat: String,
    /// Rows, as listed.
    pub rows: Vec<Limit>,
}

/// One limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Stable id within the set, such as `heating-demand`.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Result it looks at.
    pub result: LimitResult,
    /// Assumptions about use.
    pub use_case: UseCase,
    /// Counting rule, by its id in `data/counting_rules.toml`; empty when none is involved.
    pub rule: String,
    /// How the result is found.
    pub method: Method,
    /// Direction.
    pub comparison: Comparison,
    /// Threshold, canonical unit of [`Self::dimension`].
    pub value: f64,
    /// Unit the set writes it in, for showing.
    pub unit: String,
    /// Dimension of the threshold.
    pub dimension: Dimension,
    /// What the result is divided by, or taken over.
    pub normalisation: Normalisation,
    /// Where the number comes from, with how it was seen.
    pub source: String,
    /// Group and how its rows join.
    pub group: Option<Group>,
    /// Climate class it is for; `None`: any.
    pub climate_class: Option<String>,
    /// Computed allowance added to the threshold.
    pub allowance: Allowance,
    /// A recommendation rather than a limit: shown, never counted as missed.
    pub advisory: bool,
}

/// Rows judged together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// Name shared by the rows.
    pub name: String,
    /// How they join.
    pub join: Join,
}

/// Declares the words of an enum that limit files use.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $name { $($(#[$vdoc])* $variant),* }

        impl $name {
            /// Every one with its word.
            pub const ALL: &'static [(Self, &'static str)] = &[$((Self::$variant, $word)),*];

            /// Its word in limit files and in findings.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }

            /// Reads its word.
            ///
            /// # Errors
            /// Lists the words there are.
            pub fn read(text: &str) -> Result<Self, String> {
                Self::ALL.iter().find(|(_, word)| *word == text).map(|(it, _)| *it).ok_or_else(|| {
                    let words: Vec<&str> = Self::ALL.iter().map(|(_, word)| *word).collect();
                    format!("\"{text}\" is none of: {}", words.join(", "))
                })
            }
        }
    };
}

words!(
    /// What a limit looks at.
    LimitResult {
        /// Useful heat of a year.
        HeatingDemand = "heating demand",
        /// Highest daily-mean heat load of the design spells.
        HeatingLoad = "heating load",
        /// Sensible and latent cold of a year.
        CoolingDemand = "cooling demand",
        /// Highest cooling load.
        CoolingLoad = "cooling load",
        /// Air change at the reference pressure.
        AirChange50 = "air change at 50 Pa",
        /// Leakage per enclosure area at the reference pressure.
        AirPermeability50 = "air permeability at 50 Pa",
        /// Share of hours warmer than the warm threshold.
        WarmHours = "warm hours",
        /// Share of hours more humid than 12 g/kg.
        HumidHours = "humid hours",
        /// Primary energy of a year.
        PrimaryEnergy = "primary energy",
        /// Renewable primary energy of a year.
        RenewablePrimaryEnergy = "renewable primary energy",
        /// Lowest surface temperature factor of any junction.
        SurfaceTemperatureFactor = "surface temperature factor",
        /// Recovery ratio of temperature.
        RecoveryRatio = "recovery ratio",
        /// Fan energy of the ventilation.
        FanPower = "fan power",
        /// Difference of outdoor and exhaust flow over the larger.
        FlowImbalance = "flow imbalance",
        /// Outdoor air supplied over outdoor air required.
        OutdoorAirRate = "outdoor-air rate",
    }
);

words!(
    /// Assumptions about how the building is used.
    UseCase {
        /// The limit's standard assumption.
        Standard = "standard",
        /// As it will really be used.
        Real = "real",
        /// Not a matter of use.
        None = "none",
    }
);

words!(
    /// How a result is found.
    Method {
        /// Hourly balance.
        Hourly = "hourly",
        /// Monthly balance with utilisation factor (EN ISO 52016-1).
        Monthly = "monthly",
        /// A pressure test (ISO 9972).
        PressureTest = "pressure test",
        /// A reading at commissioning.
        Commissioning = "commissioning",
        /// A maker's sheet.
        ProductSheet = "product sheet",
        /// A detail computed in two or three dimensions (EN ISO 10211).
        Detail = "detail",
        /// Computed from rooms and people (ASHRAE 62.1).
        VentilationRate = "ventilation rate",
    }
);

words!(
    /// Direction of a limit.
    Comparison {
        /// The result must not be above.
        AtMost = "at most",
        /// The result must not be below.
        AtLeast = "at least",
    }
);

words!(
    /// What a result is divided by or taken over.
    Normalisation {
        /// Per m² of reference floor area.
        FloorArea = "floor area",
        /// Per m³ of counted volume.
        Volume = "volume",
        /// Per m² of enclosure.
        Enclosure = "enclosure",
        /// Share of all hours of the year.
        HoursOfYear = "hours of the year",
        /// Share of hours with people.
        OccupiedHours = "occupied hours",
        /// As it is.
        None = "none",
    }
);

words!(
    /// A computed addition to a threshold.
    Allowance {
        /// Nothing.
        None = "none",
        /// The yearly cold for drying the air to the set point at the required outdoor-air rate, no heat recovered.
        Drying = "drying",
    }
);

words!(
    /// How rows of a group join.
    Join {
        /// One of them is enough.
        AnyOf = "any of",
        /// All of them are needed.
        AllOf = "all of",
    }
);

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileSet {
    name: String,
    about: String,
    caveat: String,
    row: Vec<FileRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct FileRow {
    id: String,
    title: String,
    result: String,
    #[serde(rename = "use")]
    use_case: String,
    #[serde(default)]
    rule: String,
    method: String,
    comparison: String,
    value: String,
    unit: String,
    #[serde(default)]
    normalisation: Option<String>,
    source: String,
    #[serde(default)]
    group: Option<String>,
    #[serde(default)]
    join: Option<String>,
    #[serde(default)]
    climate_class: Option<String>,
    #[serde(default)]
    allowance: Option<String>,
    #[serde(default)]
    advisory: bool,
}

/// A limit file that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LimitError {
    /// Not TOML, or not of the shape of a limit file.
    #[error("{message}")]
    Shape {
        /// Byte span, when known.
        span: Option<(usize, usize)>,
        /// What is wrong.
        message: String,
    },
    /// A row with a word or number that does not fit.
    #[error("limit \"{id}\", {key}: {message}")]
    Row {
        /// Row.
        id: String,
        /// Key in it.
        key: &'static str,
        /// What is wrong and what there is.
        message: String,
    },
    /// Two rows under one id for the same climate.
    #[error("limit \"{id}\" appears twice for the same climate class")]
    Duplicate {
        /// Row.
        id: String,
    },
}

impl LimitResult {
    /// Dimension of its threshold.
    pub fn dimension(self) -> Dimension {
        match self {
            Self::HeatingDemand
            | Self::CoolingDemand
            | Self::PrimaryEnergy
            | Self::RenewablePrimaryEnergy => Dimension::EnergyPerArea,
            Self::HeatingLoad | Self::CoolingLoad => Dimension::PowerPerArea,
            Self::AirChange50 => Dimension::AirChange,
            Self::AirPermeability50 => Dimension::AirPermeability,
            Self::FanPower => Dimension::SpecificFanPower,
            Self::WarmHours
            | Self::HumidHours
            | Self::SurfaceTemperatureFactor
            | Self::RecoveryRatio
            | Self::FlowImbalance
            | Self::OutdoorAirRate => Dimension::Ratio,
        }
    }
}

impl LimitSet {
    /// Reads a limit file.
    ///
    /// # Errors
    /// Every problem found: a wrong shape alone, or all wrong words, numbers and ids of the rows.
    pub fn read(text: &str) -> Result<Self, Vec<LimitError>> {
        let file: FileSet = toml::from_str(text).map_err(|e| {
            let span = e.span().map(|s| (s.start, s.end));
            vec![LimitError::Shape { span, message: e.message().to_owned() }]
        })?;
        let mut errors = Vec::new();
        let mut rows: Vec<Limit> = Vec::new();
        for row in file.row {
            let id = row.id.clone();
            match row.limit() {
                Ok(limit) => {
                    if rows.iter().any(|r| r.id == id && r.climate_class == limit.climate_class) {
                        errors.push(LimitError::Duplicate { id });
                    } else {
                        rows.push(limit);
                    }
                }
                Err(mut wrong) => errors.append(&mut wrong),
            }
        }
        if errors.is_empty() {
            Ok(Self { name: file.name, about: file.about, caveat: file.caveat, rows })
        } else {
            Err(errors)
        }
    }

    /// Returns the rows for a climate class: of rows under one id, the one that names the class, else the one that
    /// names none.
    pub fn for_climate(&self, class: Option<&str>) -> Vec<&Limit> {
        let mut out: Vec<&Limit> = Vec::new();
        for row in &self.rows {
            let fits = row.climate_class.is_none() || row.climate_class.as_deref() == class;
            if !fits {
                continue;
            }
            match out.iter().position(|r| r.id == row.id) {
                Some(place) if row.climate_class.is_some() => out[place] = row,
                Some(_) => {}
                None => out.push(row),
            }
        }
        out
    }

    /// Returns this set with another's rows laid over it: rows of the same id and climate class are replaced.
    #[must_use]
    pub fn overlaid(mut self, other: Self) -> Self {
        for row in other.rows {
            match self.rows.iter_mut().find(|r| r.id == row.id && r.climate_class == row.climate_class) {
                Some(old) => *old = row,
                None => self.rows.push(row),
            }
        }
        self
    }
}

impl FileRow {
    fn limit(self) -> Result<Limit, Vec<LimitError>> {
        let mut errors = Vec::new();
        let id = self.id.clone();
        let mut note = |key: &'static str, message: String| {
            errors.push(LimitError::Row { id: id.clone(), key, message });
        };
        macro_rules! word {
            ($of:ident, $key:literal, $text:expr) => {
                $of::read($text).map_err(|m| note($key, m)).ok()
            };
        }
        let result = word!(LimitResult, "result", &self.result);
        let use_case = word!(UseCase, "use", &self.use_case);
        let method = word!(Method, "method", &self.method);
        let comparison = word!(Comparison, "comparison", &self.comparison);
        let normalisation =
            word!(Normalisation, "normalisation", self.normalisation.as_deref().unwrap_or("none"));
        let allowance = word!(Allowance, "allowance", self.allowance.as_deref().unwrap_or("none"));
        let join = word!(Join, "join", self.join.as_deref().unwrap_or("any of"));
        if !self.rule.is_empty() && crate::counting::rule(&self.rule).is_none() {
            note("rule", format!("\"{}\" is no counting rule of data/counting_rules.toml", self.rule));
        }
        let value = result.and_then(|r| {
            let reading = quantity::read(&self.value, r.dimension());
            reading.map_err(|e| note("value", e.to_string())).ok().map(|reading| reading.value)
        });
        let parts = (result, use_case, method, comparison, normalisation, allowance, join, value);
        let (
            Some(result),
            Some(use_case),
            Some(method),
            Some(comparison),
            Some(normalisation),
            Some(allowance),
            ..,
        ) = parts
        else {
            return Err(errors);
        };
        let (Some(join), Some(value)) = (parts.6, parts.7) else { return Err(errors) };
        if !errors.is_empty() {
            return Err(errors);
        }
        Ok(Limit {
            id: self.id,
            title: self.title,
            result,
            use_case,
            rule: self.rule,
            method,
            comparison,
            value,
            unit: self.unit,
            dimension: result.dimension(),
            normalisation,
            source: self.source,
            group: self.group.map(|name| Group { name, join }),
            climate_class: self.climate_class,
            allowance,
            advisory: self.advisory,
        })
    }
}

/// Names and texts of the built-in sets.
pub const BUILT_IN: [(&str, &str); 2] = [
    ("new-build", include_str!("../data/limits/new-build.toml")),
    ("retrofit", include_str!("../data/limits/retrofit.toml")),
];

/// Returns a built-in set, `None` for another name.
pub fn built_in(name: &str) -> Option<LimitSet> {
    let (_, text) = BUILT_IN.iter().find(|(set, _)| *set == name)?;
    // A test reads both built-in sets, so this is `Some` whenever the name is known.
    LimitSet::read(text).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_sets_are_read() {
        for (name, text) in BUILT_IN {
            let set = LimitSet::read(text).unwrap_or_else(|e| panic!("{name}: {e:?}"));
            assert_eq!(set.name, name);
            assert!(set.caveat.contains("check your certifying body's current edition"));
            assert!(set.rows.iter().all(|row| !row.source.is_empty()));
        }
        assert!(built_in("nothing").is_none());
    }

    #[test]
    fn numbers_are_the_common_ones() {
        let set = built_in("new-build").unwrap();
        let value = |id: &str| set.rows.iter().find(|row| row.id == id).unwrap().value;
        assert!((value("heating-demand") - 15.0 * 3.6e6).abs() < 1e-6);
        assert_eq!(value("heating-load"), 10.0);
        assert_eq!(value("air-change"), 0.6);
        assert!((value("fan-power") - 0.45).abs() < 1e-12);
        assert!((value("warm-hours") - 0.10).abs() < 1e-12);
        let groups: Vec<&str> =
            set.rows.iter().filter_map(|row| row.group.as_ref()).map(|g| g.name.as_str()).collect();
        assert_eq!(groups, ["heating", "heating"]);
    }

    #[test]
    fn the_climate_chooses_its_row() {
        let set = built_in("retrofit").unwrap();
        let heating = |class: Option<&str>| {
            let rows = set.for_climate(class);
            let found: Vec<f64> =
                rows.iter().filter(|r| r.id == "heating-demand").map(|r| r.value / 3.6e6).collect();
            assert_eq!(found.len(), 1, "{class:?}");
            found[0].round()
        };
        assert_eq!(heating(Some("cold")), 30.0);
        assert_eq!(heating(Some("warm")), 15.0);
        assert_eq!(heating(Some("warm humid")), 25.0);
        assert_eq!(heating(None), 25.0);
    }

    #[test]
    fn wrong_rows_are_all_told() {
        let text = r#"
            name = "own"
            about = "x"
            caveat = "x"
            [[row]]
            id = "a"
            title = "a"
            result = "heating demnd"
            use = "standard"
            method = "hourly"
            comparison = "at most"
            value = "15 kWh/m²"
            unit = "kWh/m²"
            source = "x"
            [[row]]
            id = "b"
            title = "b"
            result = "heating load"
            use = "sometimes"
            method = "hourly"
            comparison = "under"
            rule = "mine"
            value = "15 kg"
            unit = "W/m²"
            source = "x"
        "#;
        let errors = LimitSet::read(text).unwrap_err();
        let all: Vec<String> = errors.iter().map(ToString::to_string).collect();
        assert_eq!(all.len(), 5, "{all:?}");
        assert!(all[0].contains("heating demnd") && all[0].contains("heating demand"));
        assert!(matches!(LimitSet::read("row = 3").unwrap_err()[0], LimitError::Shape { .. }));
    }

    #[test]
    fn an_own_row_replaces_the_sets() {
        let own = r#"
            name = "own"
            about = "x"
            caveat = "x"
            [[row]]
            id = "air-change"
            title = "air change at 50 Pa"
            result = "air change at 50 Pa"
            use = "none"
            rule = "test-standard"
            method = "pressure test"
            comparison = "at most"
            value = "0.8 1/h"
            unit = "1/h"
            source = "contract, invented"
        "#;
        let base = built_in("new-build").unwrap();
        let n = base.rows.len();
        let both = base.overlaid(LimitSet::read(own).unwrap());
        assert_eq!(both.rows.len(), n);
        assert_eq!(both.rows.iter().find(|r| r.id == "air-change").unwrap().value, 0.8);
    }
}
