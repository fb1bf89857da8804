//! Width, colour, signs, progress, and a pipe that may close.

use crate::failure::Failure;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use project::diagnostic::{Style, wrap};
use std::io::{ErrorKind, IsTerminal as _, Write as _};
use std::time::Duration;
use unicode_width::UnicodeWidthStr as _;

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Colour {
    /// On a terminal, unless NO_COLOR is set.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// Narrowest width laid out for.
const NARROWEST: usize = 60;
/// Lines longer than this are hard to read.
const WIDEST: usize = 110;
/// Width when output is not a terminal.
const UNKNOWN: usize = 100;

/// What we are writing to.
#[derive(Clone, Copy, Debug)]
pub struct Terminal {
    width: usize,
    colour_out: bool,
    colour_err: bool,
    ascii: bool,
}

impl Terminal {
    /// Looks at the surroundings once.
    pub fn new(colour: Colour, ascii: bool) -> Self {
        let wanted = |on_terminal: bool| match colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => {
                let off = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
                on_terminal && !off && std::env::var_os("TERM").is_none_or(|t| t != "dumb")
            }
        };
        let width = match console::Term::stdout().size_checked() {
            Some((_, columns)) => usize::from(columns),
            None => std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok()).unwrap_or(UNKNOWN),
        };
        Self {
            width: width.clamp(NARROWEST, WIDEST),
            colour_out: wanted(std::io::stdout().is_terminal()),
            colour_err: wanted(std::io::stderr().is_terminal()),
            ascii: ascii || plain_locale(),
        }
    }

    /// Columns to stay within.
    pub fn width(&self) -> usize {
        self.width
    }

    /// How reports are drawn on standard error.
    pub fn style(&self) -> Style {
        Style { width: self.width, ascii: self.ascii, colour: self.colour_err }
    }

    /// Makes text strong on standard output; the words say the same without it.
    pub fn strong(&self, text: &str) -> String {
        if self.colour_out && !text.is_empty() {
            format!("\u{1b}[1m{text}\u{1b}[0m")
        } else {
            text.to_owned()
        }
    }

    /// Makes text quiet on standard output.
    pub fn quiet(&self, text: &str) -> String {
        if self.colour_out && !text.is_empty() {
            format!("\u{1b}[2m{text}\u{1b}[0m")
        } else {
            text.to_owned()
        }
    }

    /// Writes data to standard output.
    ///
    /// # Errors
    /// [`Failure::ClosedPipe`] when the reader went away, else the system's error.
    pub fn print(&self, text: &str) -> Result<(), Failure> {
        let mut out = std::io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => Ok(()),
            Err(e) if e.kind() == ErrorKind::BrokenPipe => Err(Failure::ClosedPipe),
            Err(error) => {
                Err(Failure::Surroundings { doing: "writing to standard output".to_owned(), error })
            }
        }
    }

    /// Talks on standard error. That nobody listens is no failure.
    pub fn say(&self, text: &str) {
        let _ = std::io::stderr().lock().write_all(text.as_bytes());
    }

    /// Breaks a paragraph to the width, with an indent.
    pub fn paragraph(&self, text: &str, indent: &str) -> String {
        let room = self.width.saturating_sub(indent.width()).max(20);
        wrap(text, room, "").into_iter().fold(String::new(), |out, line| out + indent + &line + "\n")
    }

    /// Says whether somebody watches the talk: first findings are then worth showing.
    pub fn is_watched(&self) -> bool {
        std::io::stderr().is_terminal()
    }

    /// Runs something that may take over a second, showing that it is alive: on a terminal only, on standard error.
    pub fn busy<T>(&self, words: &str, work: impl FnOnce(&ProgressBar) -> T) -> T {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        if std::io::stderr().is_terminal() {
            bar.set_draw_target(ProgressDrawTarget::stderr());
            let template = ProgressStyle::with_template("  {spinner} {msg} {elapsed}");
            bar.set_style(template.unwrap_or_else(|_| ProgressStyle::default_spinner()));
            bar.set_message(words.to_owned());
            // The first tick comes after the first second, so that quick work shows nothing.
            bar.enable_steady_tick(Duration::from_secs(1));
        }
        let done = work(&bar);
        bar.finish_and_clear();
        done
    }
}

/// A locale that is stated and is not UTF-8.
fn plain_locale() -> bool {
    let stated =
        ["LC_ALL", "LC_CTYPE", "LANG"].iter().find_map(|k| std::env::var(k).ok().filter(|v| !v.is_empty()));
    stated.is_some_and(|v| {
        let v = v.to_lowercase();
        !v.contains("utf-8") && !v.contains("utf8")
    })
}

/// Least room in which a last column reads well beside the others.
const LAST_COLUMN: usize = 26;

/// Lays out rows in aligned columns, each row within the width: the last column wraps under itself.
pub fn columns(rows: &[Vec<String>], width: usize, indent: usize) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let mut widths = vec![0; count];
    for row in rows {
        for (at, cell) in row.iter().enumerate() {
            widths[at] = widths[at].max(cell.width());
        }
    }
    let fixed: usize = indent + widths.iter().take(count.saturating_sub(1)).map(|w| w + 2).sum::<usize>();
    let mut out = String::new();
    if fixed > width + 2 {
        return stacked(rows, width, indent);
    }
    for row in rows {
        let mut line = " ".repeat(indent);
        for (at, cell) in row.iter().enumerate() {
            if at + 1 == count {
                break;
            }
            line.push_str(cell);
            line.push_str(&" ".repeat(widths[at] + 2 - cell.width()));
        }
        let last = if row.len() == count { row.last().map_or("", String::as_str) } else { "" };
        let room = width.saturating_sub(fixed);
        // Too narrow for a last column: it goes on a line of its own.
        let (lead, room) =
            if room >= LAST_COLUMN { (fixed, room) } else { (indent + 2, width.saturating_sub(indent + 2)) };
        let mut parts = wrap(last, room, "").into_iter();
        if room != width.saturating_sub(fixed) && !last.is_empty() {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(lead);
        }
        line.push_str(&parts.next().unwrap_or_default());
        out.push_str(line.trim_end());
        out.push('\n');
        for part in parts {
            out.push_str(&format!("{}{part}\n", " ".repeat(lead)));
        }
    }
    out
}

/// Rows too wide for their columns: the first cell leads, the others follow below it.
fn stacked(rows: &[Vec<String>], width: usize, indent: usize) -> String {
    let mut out = String::new();
    let mut put = |text: &str, indent: usize| {
        for line in wrap(text, width.saturating_sub(indent), "") {
            out.push_str(&format!("{}{line}\n", " ".repeat(indent)));
        }
    };
    for row in rows {
        let cells: Vec<&str> = row.iter().map(String::as_str).filter(|c| !c.is_empty()).collect();
        if let Some((first, rest)) = cells.split_first() {
            put(first, indent);
            if !rest.is_empty() {
                put(&rest.join(", "), indent + 2);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_align_and_wrap_under_themselves() {
        let rows = vec![
            vec![
                "heating demand".to_owned(),
                "3.7 kBtu".to_owned(),
                "window SHGC and the cold glass in the north".to_owned(),
            ],
            vec!["air".to_owned(), "0.63 ACH50".to_owned(), "blow holes to come".to_owned()],
        ];
        let text = columns(&rows, 60, 2);
        assert!(text.lines().all(|l| l.width() <= 60), "{text}");
        insta::assert_snapshot!(text);
    }
}
