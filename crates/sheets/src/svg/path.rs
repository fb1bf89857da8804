//! Path data, built step by step.

use super::{Node, number};

/// The `d` of a path element.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    data: String,
}

impl Path {
    /// Starts an empty path.
    pub fn new() -> Self {
        Self::default()
    }

    fn command(mut self, letter: char, numbers: &[f64]) -> Self {
        self.data.push(letter);
        for (index, value) in numbers.iter().enumerate() {
            let written = number(*value);
            if index > 0 && !written.starts_with('-') {
                self.data.push(' ');
            }
            self.data.push_str(&written);
        }
        self
    }

    /// Lifts the pen and sets it down at a point.
    #[must_use]
    pub fn to(self, x: f64, y: f64) -> Self {
        self.command('M', &[x, y])
    }

    /// Draws a straight line to a point.
    #[must_use]
    pub fn line(self, x: f64, y: f64) -> Self {
        self.command('L', &[x, y])
    }

    /// Draws a quadratic curve to a point.
    #[must_use]
    pub fn curve(self, cx: f64, cy: f64, x: f64, y: f64) -> Self {
        self.command('Q', &[cx, cy, x, y])
    }

    /// Draws a circular arc of a radius to a point.
    #[must_use]
    pub fn arc(self, radius: f64, clockwise: bool, x: f64, y: f64) -> Self {
        let sweep = if clockwise { 1.0 } else { 0.0 };
        self.command('A', &[radius, radius, 0.0, 0.0, sweep, x, y])
    }

    /// Draws back to where the pen was set down.
    #[must_use]
    pub fn close(mut self) -> Self {
        self.data.push('Z');
        self
    }

    /// Path through points, left open.
    pub fn through(points: &[[f64; 2]]) -> Self {
        let mut path = Self::new();
        for (index, [x, y]) in points.iter().enumerate() {
            path = if index == 0 { path.to(*x, *y) } else { path.line(*x, *y) };
        }
        path
    }

    /// Whether nothing was drawn.
    pub fn is_empty(&self) -> bool {
        self.data.is_empty()
    }

    /// Makes the element.
    pub fn node(self, class: &'static str) -> Node {
        Node::new("path").with("d", self.data).class(class)
    }
}
