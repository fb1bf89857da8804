//! What can be wrong with a weather file, said so that the reader can mend it.

use std::fmt;

/// The sort of a problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WeatherProblemKind {
    /// The text is none of the formats known.
    UnknownFormat,
    /// A heading, a place or a column that is needed is not there or not understood.
    Header,
    /// A cell is no number or an impossible one.
    Value,
    /// A date is impossible, repeated or out of order.
    Time,
    /// Hours or readings are missing.
    Gap,
}

/// One problem of a weather file.
#[derive(Clone, Debug, PartialEq)]
pub struct WeatherProblem {
    /// What sort it is.
    pub kind: WeatherProblemKind,
    /// Row of the text, from 1, where there is one.
    pub row: Option<usize>,
    /// Column heading, where there is one.
    pub column: Option<String>,
    /// What is wrong.
    pub what: String,
    /// What to do instead.
    pub help: String,
}

impl fmt::Display for WeatherProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.row, &self.column) {
            (Some(row), Some(column)) => write!(f, "row {row}, column \"{column}\": ")?,
            (Some(row), None) => write!(f, "row {row}: ")?,
            (None, Some(column)) => write!(f, "column \"{column}\": ")?,
            (None, None) => {}
        }
        write!(f, "{}; {}", self.what, self.help)
    }
}

impl std::error::Error for WeatherProblem {}

/// Problems as they are found; repeats of one kind in one column are counted, not listed without end.
#[derive(Default)]
pub(crate) struct Problems {
    list: Vec<WeatherProblem>,
    hidden: Vec<(WeatherProblemKind, Option<String>, usize)>,
}

impl Problems {
    /// Problems of one kind and column that are listed one by one.
    const LISTED: usize = 5;

    pub(crate) fn push(
        &mut self,
        kind: WeatherProblemKind,
        row: Option<usize>,
        column: Option<&str>,
        what: impl Into<String>,
        help: impl Into<String>,
    ) {
        let alike = |p: &&WeatherProblem| p.kind == kind && p.column.as_deref() == column;
        if self.list.iter().filter(alike).count() >= Self::LISTED {
            match self.hidden.iter_mut().find(|(k, c, _)| *k == kind && c.as_deref() == column) {
                Some((_, _, count)) => *count += 1,
                None => self.hidden.push((kind, column.map(str::to_owned), 1)),
            }
            return;
        }
        let column = column.map(str::to_owned);
        self.list.push(WeatherProblem { kind, row, column, what: what.into(), help: help.into() });
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// True when a problem of this row and column is listed.
    pub(crate) fn named(&self, row: usize, column: &str) -> bool {
        self.list.iter().any(|p| p.row == Some(row) && p.column.as_deref() == Some(column))
    }

    /// Number of problems so far.
    pub(crate) fn count(&self) -> usize {
        self.list.len() + self.hidden.iter().map(|(_, _, count)| count).sum::<usize>()
    }

    pub(crate) fn into_list(mut self) -> Vec<WeatherProblem> {
        for (kind, column, count) in self.hidden {
            self.list.push(WeatherProblem {
                kind,
                row: None,
                column,
                what: format!("{count} more problems of this kind"),
                help: "mend the ones listed first".to_owned(),
            });
        }
        self.list
    }
}
