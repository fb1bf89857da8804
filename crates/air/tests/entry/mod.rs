//! What the property tests and the fuzz target `pressure_test_file` both run.

use air::fan_test::{Fit, Standard, evaluate};
use air::readings::{Format, parse, parse_as};

/// Reads any text in both formats; whatever is read must be usable, whatever is refused must say why.
pub fn read_anything(text: &str) {
    for outcome in [parse(text), parse_as(text, Format::Csv), parse_as(text, Format::Toml)] {
        match outcome {
            Ok(file) => {
                for series in &file.series {
                    for reading in &series.readings {
                        assert!(reading.pressure_pa.is_finite() && reading.flow_m3_h.is_finite(), "{text:?}");
                    }
                    // An evaluation may fail, in words; it may not panic.
                    if let Err(error) = evaluate(series, file.conditions, Fit::Unweighted, Standard::Iso9972)
                    {
                        assert!(!error.to_string().is_empty());
                    }
                }
            }
            Err(problems) => {
                assert!(!problems.is_empty(), "{text:?} refused without a word");
                for problem in problems {
                    assert!(
                        problem.line.is_none_or(|l| l >= 1 && l <= text.lines().count().max(1)),
                        "{problem}"
                    );
                }
            }
        }
    }
}
