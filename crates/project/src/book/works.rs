//! `[[work]]`, and `[works]`: activities in the book or in a list.
//!
//! ```toml
//! [works]
//! file = "works.csv"      # headings activity, trade, start, days, touches, covers, after, stage; or your own: columns = { … }
//! ```

use super::{Book, listed, lists, project::date};
use crate::reader::{Fields, Word};
use crate::source::Folder;
use building::plan::WorkPlan;

const KEYS: [(&str, bool); 8] = [
    ("activity", true),
    ("trade", false),
    ("start", false),
    ("days", false),
    ("touches", false),
    ("covers", false),
    ("after", false),
    ("stage", false),
];
/// Longest an activity may take, working days: two years.
const LONGEST_DAYS: u32 = 520;

pub(super) fn read(book: &mut Book<'_>, top: &mut Fields<'_>, folder: Option<&Folder>) {
    for (item, table) in listed(book, top, "work") {
        let f = Fields::new(table, "work", item.place.clone(), format!("work.{}", book.plan.works.len()));
        work(book, f);
    }
    let Some(mut f) = top.table(&mut book.cx, "works") else { return };
    let rows = lists::rows_by_key(book, &mut f, folder, &KEYS);
    f.finish(&mut book.cx);
    for row in rows {
        let Some(activity) = row.word("activity") else { continue };
        book.cx.remember(format!("work.{}", book.plan.works.len()), &activity.place);
        let days = row.word("days").map_or(1, |w| whole(book, &w));
        let text = |key: &str| row.word(key).map(|w| w.text).unwrap_or_default();
        let several = |key: &str| {
            let cell = text(key);
            cell.split(';').map(str::trim).filter(|t| !t.is_empty()).map(str::to_owned).collect()
        };
        let work = WorkPlan {
            activity: activity.text.clone(),
            trade: text("trade"),
            start: row.word("start").and_then(|w| date(&mut book.cx, &w)),
            days,
            touches: several("touches"),
            covers: several("covers"),
            after: several("after"),
            stage: row.word("stage").map(|w| w.text),
        };
        book.plan.works.push(work);
    }
}

fn whole(book: &mut Book<'_>, word: &Word) -> u32 {
    match word.text.parse::<u32>() {
        Ok(days) if (1..=LONGEST_DAYS).contains(&days) => days,
        _ => {
            let message = format!("\"{}\" is no number of working days", word.text);
            book.cx.error("number", &word.place, message, "write a whole number from 1 to 520");
            1
        }
    }
}

fn work(book: &mut Book<'_>, mut f: Fields<'_>) {
    let cx = &mut book.cx;
    let texts = |words: Vec<Word>| words.into_iter().map(|w| w.text).collect();
    let work = WorkPlan {
        activity: f
            .need_text(cx, "activity", "activity = \"boards in the hall\"")
            .map(|w| w.text)
            .unwrap_or_default(),
        trade: f.text(cx, "trade").map(|w| w.text).unwrap_or_default(),
        start: f.text(cx, "start").and_then(|w| date(cx, &w)),
        days: f.count(cx, "days").unwrap_or(1),
        touches: texts(f.texts(cx, "touches")),
        covers: texts(f.texts(cx, "covers")),
        after: texts(f.texts(cx, "after")),
        stage: f.text(cx, "stage").map(|w| w.text),
    };
    f.finish(cx);
    book.plan.works.push(work);
}
