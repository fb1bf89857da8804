//! Chances as a carpenter's tally, margins as a measuring stick.
//!
//! The tally waits for chances that were computed; until then the stick shows how far a value stands from its
//! limit. Neither says more than is known, and both come with words beside them.

use super::scale::{Scale, ticks};
use crate::svg::{Anchor, Drawing, Node, Path, decimal, line, text};

/// A hundred chances: met, missed, and the rest not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chances {
    met: u8,
    missed: u8,
}

impl Chances {
    /// Counts chances; `None` when together they are more than a hundred.
    pub fn new(met: u8, missed: u8) -> Option<Self> {
        (met.checked_add(missed)? <= 100).then_some(Self { met, missed })
    }

    /// Takes chances in a hundred as they may be said: 0 stands for fewer than 1, 100 for more than 99. The picture never
    /// shows none or all.
    pub fn said(in_hundred: u8) -> Self {
        let met = in_hundred.clamp(1, 99);
        Self { met, missed: 100 - met }
    }

    /// Chances of meeting the limit.
    pub fn met(self) -> u8 {
        self.met
    }

    /// In words: `31 chances in 100`.
    pub fn words(self) -> String {
        let unknown = 100 - self.met - self.missed;
        let chances =
            if self.met == 1 { "1 chance in 100".to_owned() } else { format!("{} chances in 100", self.met) };
        if unknown == 0 { chances } else { format!("{chances}, {unknown} not known") }
    }
}

/// Draws a hundred strokes in bundles of five: dark for met, faint for missed, absent for not known.
pub fn tally(id: &str, chances: Chances) -> Drawing {
    const PITCH: f64 = 15.4;
    let mut drawing = Drawing::new(id, chances.words(), 20.0 * PITCH + 1.0, 17.0);
    for class in ["no", "yes"] {
        let mut path = Path::new();
        for stroke in 0..chances.met + chances.missed {
            if (stroke < chances.met) != (class == "yes") {
                continue;
            }
            let left = f64::from(stroke / 5) * PITCH + 1.0;
            path = match stroke % 5 {
                4 => path.to(left - 0.6, 12.6).line(left + 11.6, 4.2),
                k => {
                    // Four strokes of a hand: not quite the same height.
                    let (top, bottom) = [(1.6, 15.4), (1.0, 15.9), (1.9, 15.6), (1.2, 15.2)][usize::from(k)];
                    let x = left + 1.0 + f64::from(k) * 3.1;
                    path.to(x, top).line(x, bottom)
                }
            };
        }
        if !path.is_empty() {
            drawing.push(path.node(class));
        }
    }
    drawing
}

/// What a measuring stick shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stick {
    /// Value, in the reader's unit.
    pub value: f64,
    /// Limit, in the same unit.
    pub limit: f64,
    /// True when the value must stay at or under the limit.
    pub at_most: bool,
    /// Decimals of tick labels at most.
    pub decimals: usize,
}

/// Draws a stick with the limit as a stop and the value as a pencil mark.
///
/// The stretch between the two is the margin: open ticks while it is kept, a heavy accent bar once the value has
/// run past the stop. The side where the limit is kept is the side the stop's foot points to.
pub fn stick(id: &str, stick: Stick) -> Drawing {
    const WIDTH: f64 = 244.0;
    let kept = if stick.at_most { stick.value <= stick.limit } else { stick.value >= stick.limit };
    let title = if kept { "Value inside the limit" } else { "Value past the limit" };
    let mut drawing = Drawing::new(id, title, WIDTH, 44.0);
    let top = stick.value.max(stick.limit).max(0.0);
    let bottom = stick.value.min(stick.limit).min(0.0);
    let room = (top - bottom) * 0.12;
    let marks = ticks(bottom, top + room, 5);
    let last = marks.values[marks.values.len() - 1];
    let x = Scale::new(marks.values[0], last, 14.0, WIDTH - 14.0);
    let (edge, foot) = (18.0, 26.0);
    drawing.push(line(x.at(marks.values[0]), edge, x.at(last), edge, "edge"));
    drawing.push(graduations(&marks.values, x, edge));
    for value in &marks.values {
        let label = decimal(*value, marks.decimals.min(stick.decimals.max(marks.decimals)));
        drawing.push(text(x.at(*value), foot + 15.0, &label, Anchor::Middle, "ts"));
    }
    let (value_x, limit_x) = (x.at(stick.value), x.at(stick.limit));
    drawing.push(stretch(value_x, limit_x, edge, kept));
    // The stop: a post with a foot towards the side that keeps the limit.
    let side = if stick.at_most { -5.0 } else { 5.0 };
    drawing.push(Path::through(&[[limit_x + side, 3.0], [limit_x, 3.0], [limit_x, foot]]).node("cut"));
    // The pencil mark.
    drawing.push(
        Path::through(&[[value_x, edge], [value_x - 4.4, 8.0], [value_x + 4.4, 8.0]]).close().node(if kept {
            "solid"
        } else {
            "flag"
        }),
    );
    drawing
}

fn graduations(major: &[f64], x: Scale, edge: f64) -> Node {
    let mut path = Path::new();
    for (index, value) in major.iter().enumerate() {
        path = path.to(x.at(*value), edge).line(x.at(*value), edge + 8.0);
        if let Some(next) = major.get(index + 1) {
            for k in 1..5 {
                let minor = value + (next - value) * f64::from(k) / 5.0;
                path = path.to(x.at(minor), edge).line(x.at(minor), edge + 4.0);
            }
        }
    }
    path.node("thin")
}

fn stretch(value_x: f64, limit_x: f64, edge: f64, kept: bool) -> Node {
    let (from, to) = (value_x.min(limit_x), value_x.max(limit_x));
    if !kept {
        return line(from, edge, to, edge, "over").with("stroke-width", "4");
    }
    let mut path = Path::new();
    let mut at = from + 3.0;
    while at < to - 1.0 {
        path = path.to(at, edge - 1.5).line(at + 3.0, edge - 6.5);
        at += 5.0;
    }
    path.node("thin")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_picture_shows_neither_none_nor_all() {
        for (said, met) in [(0, 1), (31, 31), (100, 99)] {
            assert_eq!(Chances::said(said).met(), met, "{said}");
        }
        assert_eq!(Chances::new(60, 50), None);
    }

    #[test]
    fn words_say_what_is_not_known() {
        assert_eq!(Chances::new(1, 99).unwrap().words(), "1 chance in 100");
        assert_eq!(Chances::new(31, 49).unwrap().words(), "31 chances in 100, 20 not known");
    }

    #[test]
    fn tally_and_stick_are_stable() {
        insta::assert_snapshot!("tally", tally("t", Chances::new(7, 5).unwrap()).inline());
        insta::assert_snapshot!(
            "stick_over",
            stick("s", Stick { value: 0.63, limit: 0.6, at_most: true, decimals: 2 }).inline()
        );
    }

    proptest! {
        /// There are as many strokes as chances known.
        #[test]
        fn one_stroke_a_chance(met in 0_u8..=100, missed in 0_u8..=100) {
            if let Some(chances) = Chances::new(met, missed) {
                let picture = tally("t", chances).inline();
                let strokes = picture.matches('M').count();
                prop_assert_eq!(strokes, usize::from(met + missed));
            }
        }

        /// Whatever the figures, the marks stay on the stick.
        #[test]
        fn a_stick_holds_its_marks(value in -1e4..1e4_f64, limit in -1e4..1e4_f64, at_most: bool) {
            let picture = stick("s", Stick { value, limit, at_most, decimals: 2 });
            prop_assert!(picture.width() == 244.0);
            prop_assert!(!picture.inline().contains("NaN"));
        }
    }
}
