//! Figures as the project wants them read: in its system, with a limit written in SI keeping its own figure.

use project::standing::Finding;
use quantity::{Dimension, Qualifier, System};

/// Display of one project.
#[derive(Clone, Copy, Debug)]
pub struct Figures {
    system: System,
}

impl Figures {
    /// Reads the project line's system.
    pub fn new(units: &str) -> Self {
        Self { system: if units == "si" { System::Si } else { System::Us } }
    }

    /// Shows a value that comes with its unit.
    pub fn value(&self, value: f64, unit: &str, dimension: &str) -> String {
        let Some((canonical, dimension)) = canonical(value, unit, dimension) else {
            return plain(value, unit);
        };
        quantity::show_as(canonical, dimension, self.system, qualifier(unit, dimension))
    }

    /// Shows a threshold as a bare figure (its unit stands beside the value), with its own figure in brackets where the
    /// display differs.
    pub fn threshold(&self, value: f64, unit: &str, dimension: &str) -> String {
        let first = |text: &str| text.split(' ').next().unwrap_or("").to_owned();
        let (shown, own) = (first(&self.value(value, unit, dimension)), first(&plain(value, unit)));
        if self.system == System::Si || shown == own { shown } else { format!("{shown} ({own})") }
    }

    /// Shows a finding's value.
    pub fn of(&self, finding: &Finding) -> String {
        finding
            .value
            .map_or_else(|| "not known yet".to_owned(), |v| self.value(v, &finding.unit, &finding.dimension))
    }
}

/// Turns a value with its unit into its dimension's canonical unit.
fn canonical(value: f64, unit: &str, dimension: &str) -> Option<(f64, Dimension)> {
    let dimension = Dimension::ALL.into_iter().find(|d| d.name() == dimension)?;
    if unit == dimension.canonical_unit() {
        return Some((value, dimension));
    }
    quantity::read(&format!("{value} {unit}"), dimension).ok().map(|r| (r.value, dimension))
}

fn qualifier(unit: &str, dimension: Dimension) -> Qualifier {
    if dimension == Dimension::AirChange {
        return Qualifier::At50Pa;
    }
    let yearly = ["·a)", "/a", "·yr)", "/yr"].iter().any(|end| unit.ends_with(end));
    if yearly { Qualifier::PerYear } else { Qualifier::Plain }
}

/// Shows a value in its own unit with three significant digits.
fn plain(value: f64, unit: &str) -> String {
    let size = value.abs();
    let places = match size {
        s if s >= 100.0 || s == 0.0 => 0,
        s if s >= 10.0 => 1,
        s if s >= 1.0 => 2,
        _ => 3,
    };
    let text = format!("{value:.places$}");
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_in_si_keep_their_figure() {
        let us = Figures::new("us");
        assert_eq!(us.threshold(15.0, "kWh/(m²·a)", "energy per area"), "4.75 (15)");
        assert_eq!(us.threshold(0.6, "1/h", "air change rate"), "0.6");
        assert_eq!(Figures::new("si").threshold(15.0, "kWh/(m²·a)", "energy per area"), "15");
        assert_eq!(us.value(10.0, "%", "ratio"), "10 %");
    }
}
