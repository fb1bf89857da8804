//! Reading rules of days and hours as a builder writes them.

use super::{MONTH_LENGTHS, MonthDay, Nth, Rule, TimeSpan, Weekday};

/// A rule that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}; {help}")]
pub struct CalendarError {
    /// Byte span in the text.
    pub span: (usize, usize),
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Word {
    Weekday(Weekday),
    Weekdays,
    Weekend,
    EveryDay,
    Nth(Nth),
    Month(u8),
    Number(u8),
    Time(u16),
    Dash,
    Except,
}

const HELP: &str = "write it like \"Mon–Fri 9:00–20:30\", \"1st and 3rd Fri, 19:00–20:45\", \"last Thu\", \"Jul\", \
                    \"24 Dec – 1 Jan\" or \"every day\"";

impl Rule {
    /// Reads a rule.
    ///
    /// # Errors
    /// [`CalendarError`] with the span of the first word that does not fit: an unknown word, a time past 24:00 or
    /// not on a quarter-hour, an end before its start, a date that no month has, a rule that says nothing.
    ///
    /// # Example
    /// ```
    /// use building::calendar::{Calendar, CalendarPlan, Rule, Weekday};
    /// let year = Calendar::new(&CalendarPlan { first_weekday: Some(Weekday::Thu), ..Default::default() });
    /// let recital = Rule::read("1st and 3rd Fri, 19:00–20:45").unwrap();
    /// assert_eq!(year.open_days(&recital).len(), 24);
    /// ```
    pub fn read(text: &str) -> Result<Self, CalendarError> {
        let words = words(text)?;
        if words.is_empty() {
            return Err(error((0, text.len()), "no day and no hour is named".to_owned()));
        }
        let split = words.iter().position(|(word, _)| *word == Word::Except);
        let mut rule = read_words(&words[..split.unwrap_or(words.len())])?;
        if let Some(at) = split {
            let rest = &words[at + 1..];
            if rest.is_empty() || rest.iter().any(|(word, _)| *word == Word::Except) {
                return Err(error(
                    words[at].1,
                    "\"except\" must be followed by the days left out, once".to_owned(),
                ));
            }
            let except = read_words(rest)?;
            if !except.spans.is_empty() {
                return Err(error(words[at].1, "days can be left out, hours cannot".to_owned()));
            }
            rule.except = Some(Box::new(except));
        }
        Ok(rule)
    }
}

impl TimeSpan {
    /// Reads `9:00–14:00`.
    ///
    /// # Errors
    /// As [`Rule::read`]; also when anything but one span of hours is written.
    pub fn read(text: &str) -> Result<Self, CalendarError> {
        let rule = Rule::read(text)?;
        match rule.spans.as_slice() {
            [span] if (Rule { spans: Vec::new(), ..rule.clone() }) == Rule::default() => Ok(*span),
            _ => Err(CalendarError {
                span: (0, text.len()),
                message: format!("\"{text}\" is not one span of hours"),
                help: "write it like \"14:00–20:30\"".to_owned(),
            }),
        }
    }

    /// Reads one time of day, `19:00`, as minutes.
    ///
    /// # Errors
    /// As [`Rule::read`].
    pub fn read_time(text: &str) -> Result<u16, CalendarError> {
        match words(text)?.as_slice() {
            [(Word::Time(minute), _)] => Ok(*minute),
            _ => Err(CalendarError {
                span: (0, text.len()),
                message: format!("\"{text}\" is not a time of day"),
                help: "write it like \"19:00\"".to_owned(),
            }),
        }
    }
}

fn error(span: (usize, usize), message: String) -> CalendarError {
    CalendarError { span, message, help: HELP.to_owned() }
}

type Spanned = (Word, (usize, usize));

fn words(text: &str) -> Result<Vec<Spanned>, CalendarError> {
    let mut out = Vec::new();
    let mut start = None;
    let flush =
        |start: &mut Option<usize>, end: usize, out: &mut Vec<Spanned>| -> Result<(), CalendarError> {
            if let Some(from) = start.take()
                && let Some(word) = word(&text[from..end], (from, end))?
            {
                out.push((word, (from, end)));
            }
            Ok(())
        };
    for (at, c) in text.char_indices() {
        match c {
            '-' | '–' | '—' => {
                flush(&mut start, at, &mut out)?;
                out.push((Word::Dash, (at, at + c.len_utf8())));
            }
            ',' | ';' | '&' => flush(&mut start, at, &mut out)?,
            c if c.is_whitespace() => flush(&mut start, at, &mut out)?,
            _ => {
                start.get_or_insert(at);
            }
        }
    }
    flush(&mut start, text.len(), &mut out)?;
    Ok(out)
}

/// Reads one word; `None` for words that only join.
fn word(text: &str, span: (usize, usize)) -> Result<Option<Word>, CalendarError> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let plain = text.trim_end_matches('.').to_lowercase();
    if let Some((hours, minutes)) = plain.split_once(':') {
        return time(hours, minutes, text, span).map(Some);
    }
    if let Ok(number) = plain.parse::<u8>() {
        return Ok(Some(Word::Number(number)));
    }
    let stem = plain.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    if let Ok(n) = stem.parse::<u8>()
        && ["st", "nd", "rd", "th"].contains(&&plain[stem.len()..])
    {
        if !(1..=5).contains(&n) {
            return Err(error(span, format!("no month has a {text} weekday")));
        }
        return Ok(Some(Word::Nth(Nth::From(n))));
    }
    Ok(Some(match plain.as_str() {
        "and" | "in" | "of" | "the" | "on" | "from" | "day" | "days" => return Ok(None),
        "to" | "until" => Word::Dash,
        "first" => Word::Nth(Nth::From(1)),
        "second" => Word::Nth(Nth::From(2)),
        "third" => Word::Nth(Nth::From(3)),
        "fourth" => Word::Nth(Nth::From(4)),
        "last" => Word::Nth(Nth::Last),
        "every" | "daily" | "always" | "all" => Word::EveryDay,
        "weekday" | "weekdays" => Word::Weekdays,
        "weekend" | "weekends" => Word::Weekend,
        "except" | "not" | "without" => Word::Except,
        _ => {
            if let Some(weekday) = Weekday::read(&plain) {
                Word::Weekday(weekday)
            } else if let Some(month) = MONTHS.iter().position(|m| plain.len() >= 3 && m.starts_with(&plain))
            {
                Word::Month(month as u8 + 1)
            } else {
                return Err(error(span, format!("\"{text}\" is no day, month or hour")));
            }
        }
    }))
}

fn time(hours: &str, minutes: &str, text: &str, span: (usize, usize)) -> Result<Word, CalendarError> {
    let parsed = hours.parse::<u16>().ok().zip(minutes.parse::<u16>().ok());
    match parsed {
        Some((h, m)) if m < 60 && h * 60 + m <= 1440 && minutes.len() == 2 => {
            if m % 15 != 0 {
                let message = format!("\"{text}\" is not on a quarter-hour");
                let help = "the year is stepped by quarter-hours: write :00, :15, :30 or :45".to_owned();
                return Err(CalendarError { span, message, help });
            }
            Ok(Word::Time(h * 60 + m))
        }
        _ => Err(error(span, format!("\"{text}\" is no time of a day of 24 hours"))),
    }
}

fn read_words(words: &[Spanned]) -> Result<Rule, CalendarError> {
    let mut rule = Rule::default();
    let mut at = 0;
    while at < words.len() {
        let (word, span) = words[at];
        let rest = &words[at + 1..];
        at += 1 + match word {
            Word::EveryDay => 0,
            Word::Weekdays => {
                rule.weekdays.extend(&Weekday::ALL[..5]);
                0
            }
            Word::Weekend => {
                rule.weekdays.extend(&Weekday::ALL[5..]);
                0
            }
            Word::Weekday(first) => read_weekdays(&mut rule, first, rest),
            Word::Nth(first) => read_nth(&mut rule, first, span, rest)?,
            Word::Month(first) => read_months(&mut rule, first, rest),
            Word::Number(day) => read_dates(&mut rule, day, span, rest)?,
            Word::Time(from) => read_span(&mut rule, from, span, rest)?,
            Word::Dash => return Err(error(span, "a dash needs something before and after it".to_owned())),
            // Split off by the caller.
            Word::Except => return Err(error(span, "\"except\" out of place".to_owned())),
        };
    }
    Ok(rule)
}

/// Each reader below returns how many further words it took.
fn read_weekdays(rule: &mut Rule, first: Weekday, rest: &[Spanned]) -> usize {
    if let [(Word::Dash, _), (Word::Weekday(last), _), ..] = rest {
        let mut day = first;
        rule.weekdays.push(day);
        while day != *last {
            day = day.plus(1);
            rule.weekdays.push(day);
        }
        return 2;
    }
    rule.weekdays.push(first);
    0
}

fn read_nth(
    rule: &mut Rule,
    first: Nth,
    span: (usize, usize),
    rest: &[Spanned],
) -> Result<usize, CalendarError> {
    let mut which = vec![first];
    for (taken, (word, _)) in rest.iter().enumerate() {
        match word {
            Word::Nth(n) => which.push(*n),
            Word::Weekday(day) => {
                rule.nth.extend(which.into_iter().map(|n| (n, *day)));
                return Ok(taken + 1);
            }
            _ => break,
        }
    }
    Err(error(span, "which weekday of the month is meant is not said".to_owned()))
}

fn read_months(rule: &mut Rule, first: u8, rest: &[Spanned]) -> usize {
    let (last, taken) = match rest {
        [(Word::Dash, _), (Word::Month(last), _), ..] => (*last, 2),
        _ => (first, 0),
    };
    let length = MONTH_LENGTHS[usize::from(last) - 1] as u8;
    rule.dates.push((MonthDay { month: first, day: 1 }, MonthDay { month: last, day: length }));
    taken
}

fn read_dates(
    rule: &mut Rule,
    day: u8,
    span: (usize, usize),
    rest: &[Spanned],
) -> Result<usize, CalendarError> {
    match rest {
        [
            (Word::Month(month), s),
            (Word::Dash, _),
            (Word::Number(day2), s2),
            (Word::Month(month2), s3),
            ..,
        ] => {
            let first = date(*month, day, (span.0, s.1))?;
            rule.dates.push((first, date(*month2, *day2, (s2.0, s3.1))?));
            Ok(4)
        }
        [(Word::Dash, _), (Word::Number(day2), s2), (Word::Month(month), s3), ..] => {
            rule.dates.push((date(*month, day, span)?, date(*month, *day2, (s2.0, s3.1))?));
            Ok(3)
        }
        [(Word::Month(month), s), ..] => {
            let only = date(*month, day, (span.0, s.1))?;
            rule.dates.push((only, only));
            Ok(1)
        }
        _ => Err(error(span, format!("{day} alone is no date"))),
    }
}

fn date(month: u8, day: u8, span: (usize, usize)) -> Result<MonthDay, CalendarError> {
    if day == 0 || u16::from(day) > MONTH_LENGTHS[usize::from(month) - 1] {
        return Err(error(span, format!("month {month} of a model year has no day {day}")));
    }
    Ok(MonthDay { month, day })
}

fn read_span(
    rule: &mut Rule,
    from: u16,
    span: (usize, usize),
    rest: &[Spanned],
) -> Result<usize, CalendarError> {
    let [(Word::Dash, _), (Word::Time(to), end), ..] = rest else {
        return Err(error(span, "a time alone is no span of hours".to_owned()));
    };
    if *to <= from {
        let message = "the span ends before it starts".to_owned();
        let help =
            "hours run within one day: write \"22:00–24:00\" and \"0:00–2:00\" as two spans".to_owned();
        return Err(CalendarError { span: (span.0, end.1), message, help });
    }
    rule.spans.push(TimeSpan { from_minute: from, to_minute: *to });
    Ok(2)
}
