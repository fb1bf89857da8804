//! What any text may do to the weather reader: give a whole year or problems, never a panic or an empty list.

use climate::{HOURS, ReadOptions, read_with};

/// Reads a text with and without filling gaps and checks what comes back.
pub fn read_any(text: &str) {
    for fill_gaps in [false, true] {
        let rows = text.lines().count();
        match read_with(text, &ReadOptions { fill_gaps, ..ReadOptions::default() }) {
            Ok(year) => {
                assert_eq!(year.hours.len(), HOURS);
                assert!(year.hours.iter().all(|h| h.dry_bulb_c.is_finite() && h.humidity_ratio > 0.0));
                assert!(year.hours.iter().all(|h| h.beam_normal_w_m2 >= 0.0 && h.longwave_down_w_m2 > 0.0));
            }
            Err(problems) => {
                assert!(!problems.is_empty());
                assert!(problems.iter().all(|p| p.row.is_none_or(|row| row >= 1 && row <= rows)));
                assert!(problems.iter().all(|p| !p.what.is_empty() && !p.help.is_empty()));
            }
        }
    }
}
