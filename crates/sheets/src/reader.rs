//! Figures in the reader's units.
//!
//! Results come in SI; a reader of US units sees those first, and a limit written in SI keeps its own figure in
//! brackets. Conversion is the quantity crate's; here is only which form goes where.

use quantity::{Dimension, Qualifier, System, read, show, show_as, show_in, value_in};

use crate::draw::scale::{clock, day_and_month};
use crate::svg::decimal;

/// How a reader wants figures and words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reader {
    /// System that leads.
    pub system: System,
    /// British words instead of American ones.
    pub british: bool,
    /// True where a server answers `why?of=NAME`: figures lead to their workings.
    pub served: bool,
}

impl Reader {
    /// Reads the settings of a standing's project line: anything but `si` is US, anything but `uk` American.
    pub fn new(units: &str, words: &str) -> Self {
        Self {
            system: if units == "si" { System::Si } else { System::Us },
            british: words == "uk",
            served: false,
        }
    }

    /// Language tag of the page.
    pub fn language(self) -> &'static str {
        if self.british { "en-GB" } else { "en-US" }
    }

    /// Shows a canonical value.
    pub fn show(self, value: f64, dimension: Dimension) -> String {
        show(value, dimension, self.system)
    }

    /// Shows a layer's thickness, m: what is thinner than an eighth of an inch is told in mils in US units.
    pub fn thickness(self, metres: f64) -> String {
        let thin = self.system == System::Us && metres < 0.003;
        let mils = thin.then(|| show_in(metres, Dimension::Length, "mil")).flatten();
        mils.unwrap_or_else(|| self.show(metres, Dimension::Length))
    }

    /// Shows a year's energy, J.
    pub fn energy_a_year(self, joules: f64) -> String {
        show_as(joules, Dimension::Energy, self.system, Qualifier::PerYear)
    }

    /// Makes an amount of a figure that came with its unit.
    ///
    /// `at_50_pa` names air flows after the pressure of the test. A unit the quantity crate does not know is
    /// shown as it stands.
    pub fn amount(self, value: f64, unit: &str, dimension: &str, at_50_pa: bool) -> Amount {
        let written = plain(value, unit);
        let full = format!("{} {unit}", decimal(value, 5)).trim_end().to_owned();
        let Some(dimension) = named(dimension) else {
            return Amount { written, full, known: None, reader: self };
        };
        let canonical = if unit == dimension.canonical_unit() {
            Some(value)
        } else {
            read(&format!("{value} {unit}"), dimension).ok().map(|reading| reading.value)
        };
        let yearly = ["·a)", "/a", "·yr)", "/yr"].iter().any(|end| unit.ends_with(end));
        let qualifier = match (at_50_pa, yearly) {
            (true, _) => Qualifier::At50Pa,
            (false, true) => Qualifier::PerYear,
            (false, false) => Qualifier::Plain,
        };
        Amount {
            written,
            full,
            known: canonical.map(|value| Known { value, dimension, qualifier }),
            reader: self,
        }
    }

    /// Day of the model year, from 0, as the reader writes dates: `July 4` or `4 July`.
    pub fn day(self, day_of_year: usize) -> String {
        match day_and_month(day_of_year) {
            Some((day, month)) if self.british => format!("{day} {month}"),
            Some((day, month)) => format!("{month} {day}"),
            None => "after the year's end".to_owned(),
        }
    }

    /// Hour of the model year, from 0, as a date with its clock time.
    pub fn moment(self, hour_of_year: usize) -> String {
        format!("{}, {}", self.day(hour_of_year / 24), clock((hour_of_year % 24) as f64))
    }

    /// Temperature in the reader's scale, for a chart.
    pub fn temperature(self, celsius: f64) -> f64 {
        match self.system {
            System::Us => value_in(celsius, Dimension::Temperature, "°F").unwrap_or(celsius),
            System::Si => celsius,
        }
    }

    /// Sign of that scale.
    pub fn temperature_unit(self) -> &'static str {
        match self.system {
            System::Us => "°F",
            System::Si => "°C",
        }
    }

    /// Energy in the reader's unit for rows of figures, and that unit's name.
    pub fn energy(self, joules: f64) -> f64 {
        value_in(joules, Dimension::Energy, self.energy_unit()).unwrap_or(joules)
    }

    /// Unit of [`Self::energy`].
    pub fn energy_unit(self) -> &'static str {
        match self.system {
            System::Us => "kBtu",
            System::Si => "kWh",
        }
    }
}

/// A figure that can be shown in the reader's units and as it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    written: String,
    full: String,
    known: Option<Known>,
    reader: Reader,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Known {
    value: f64,
    dimension: Dimension,
    qualifier: Qualifier,
}

impl Amount {
    /// The figure in the reader's units.
    pub fn lead(&self) -> String {
        match self.known {
            Some(known) => show_as(known.value, known.dimension, self.reader.system, known.qualifier),
            None => self.written.clone(),
        }
    }

    /// The figure with its own form in brackets, where the two differ.
    pub fn with_own(&self) -> String {
        let lead = self.lead();
        let same_number = lead.split(' ').next() == self.written.split(' ').next();
        let bare = self.known.is_some_and(|k| k.dimension.canonical_unit().is_empty());
        if same_number || bare { lead } else { format!("{lead} ({})", self.written) }
    }

    /// As it was written.
    pub fn written(&self) -> &str {
        &self.written
    }

    /// As it was written, with five decimals.
    pub fn full(&self) -> &str {
        &self.full
    }

    /// Bare number in the unit [`Self::lead`] uses, for a drawing; `None` when that unit is no plain scale.
    pub fn number(&self) -> Option<f64> {
        let known = self.known?;
        let lead = self.lead();
        let (_, unit) = lead.split_once(' ')?;
        match unit {
            "ACH50" => Some(known.value),
            _ => value_in(known.value, known.dimension, unit),
        }
    }
}

/// Finds a dimension by its plain name (`air change rate`) or by its name in code (`AirChange`).
fn named(dimension: &str) -> Option<Dimension> {
    let bare = |text: &str| text.to_lowercase().replace([' ', '-', '_'], "");
    Dimension::ALL.into_iter().find(|d| d.name() == dimension || bare(&format!("{d:?}")) == bare(dimension))
}

/// Writes a value with three significant digits and its unit.
pub fn plain(value: f64, unit: &str) -> String {
    let size = value.abs();
    let places = if size >= 100.0 || size == 0.0 {
        0
    } else if size >= 10.0 {
        1
    } else if size >= 1.0 {
        2
    } else {
        3
    };
    let figure = if value.is_finite() { decimal(value, places) } else { "not known".to_owned() };
    if unit.is_empty() { figure } else { format!("{figure} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    const US: Reader = Reader { system: System::Us, british: false, served: false };
    const SI: Reader = Reader { system: System::Si, british: true, served: false };

    #[test]
    fn a_limit_in_si_keeps_its_own_figure() {
        let limit = US.amount(15.0, "kWh/(m²·a)", "energy per area", false);
        assert_eq!(limit.with_own(), "4.75 kBtu/(ft²·yr) (15 kWh/(m²·a))");
        assert!((limit.number().unwrap() - 4.755).abs() < 0.001);
        let limit = SI.amount(15.0, "kWh/(m²·a)", "EnergyPerArea", false);
        assert_eq!(limit.with_own(), "15 kWh/(m²·a)");
    }

    #[test]
    fn dates_follow_the_words() {
        assert_eq!(US.moment(24 * 184 + 15), "July 4, 15:00");
        assert_eq!(SI.moment(24 * 184 + 15), "4 July, 15:00");
        assert_eq!(SI.day(365), "after the year's end");
    }

    #[test]
    fn sheets_are_told_in_mils() {
        assert_eq!(US.thickness(0.0015), "59.1 mil");
        assert_eq!(US.thickness(0.0127), "1/2 in");
        assert_eq!(SI.thickness(0.0015), "1.5 mm");
    }

    #[test]
    fn the_us_trade_says_ach50() {
        let reading = US.amount(0.63, "1/h", "air change rate", true);
        assert_eq!(reading.with_own(), "0.63 ACH50");
        assert_eq!(reading.number(), Some(0.63));
    }

    #[test]
    fn an_unknown_dimension_is_shown_as_it_stands() {
        let odd = US.amount(3.0, "pints", "", false);
        assert_eq!(odd.lead(), "3 pints");
        assert_eq!(odd.number(), None);
    }

    #[test]
    fn plain_figures_have_three_digits() {
        for (value, written) in
            [(1234.5, "1234"), (56.78, "56.8"), (5.678, "5.68"), (0.05678, "0.057"), (0.0, "0")]
        {
            assert_eq!(plain(value, ""), written);
        }
        assert_eq!(plain(f64::NAN, "W"), "not known W");
    }
}
