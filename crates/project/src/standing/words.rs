//! Figures inside sentences, in the book's display units.

use building::Building;
use quantity::{Dimension, Qualifier, System, show_as};

/// Shows figures for one book.
#[derive(Clone, Copy, Debug)]
pub(super) struct Words {
    system: System,
}

impl Words {
    pub(super) fn of(building: &Building) -> Self {
        Self { system: building.project.units }
    }

    /// Shows a value of its dimension's canonical unit.
    pub(super) fn show(&self, value: f64, dimension: Dimension) -> String {
        show_as(value, dimension, self.system, qualifier(dimension))
    }

    /// Shows a flow read in the fan test, at the reference pressure.
    pub(super) fn test_flow(&self, m3_h: f64) -> String {
        show_as(m3_h / 3600.0, Dimension::VolumeFlow, self.system, Qualifier::At50Pa)
    }
}

/// Demands are sums of a year; air changes of a limit are at the reference pressure.
pub(super) fn qualifier(dimension: Dimension) -> Qualifier {
    match dimension {
        Dimension::EnergyPerArea => Qualifier::PerYear,
        Dimension::AirChange => Qualifier::At50Pa,
        _ => Qualifier::Plain,
    }
}

/// Returns a sentence's first letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

/// Returns a name of the book as words: dashes become blanks.
pub(crate) fn plain(name: &str) -> String {
    name.replace('-', " ")
}
