//! Whatever a text says, reading it, deriving a model from it and drawing its problems never panics.

use proptest::prelude::*;

fn swallow(text: &str) {
    project::swallow(text);
}

/// Pieces that a slip of the pen, a paste or a bad merge may leave behind.
const PIECES: [&str; 24] = [
    "\"",
    "'",
    "\"\"\"",
    "[",
    "]",
    "{",
    "}",
    "=",
    ".",
    "..",
    ",",
    "#",
    "\n",
    "\r\n",
    "\t",
    "\u{0}",
    "°",
    "×/÷",
    "-1",
    "1e309",
    "nan",
    "true",
    "[[opening]]",
    "[storey.upper]\n",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mutations_of_the_demonstration(cuts in prop::collection::vec((any::<prop::sample::Index>(), 0usize..40, 0usize..24), 1..6)) {
        let mut text: Vec<char> = project::demo::MUSIC_SCHOOL.files[0].text.chars().collect();
        for (at, length, piece) in cuts {
            let at = at.index(text.len());
            let end = (at + length).min(text.len());
            text.splice(at..end, PIECES[piece].chars());
        }
        swallow(&text.into_iter().collect::<String>());
    }

    #[test]
    fn lines_of_the_small_example_shuffled(order in Just((0..project::demo::NARROW_HOUSE.files[0].text.lines().count()).collect::<Vec<_>>()).prop_shuffle(), keep in 0usize..120) {
        let lines: Vec<&str> = project::demo::NARROW_HOUSE.files[0].text.lines().collect();
        let text: String = order.into_iter().take(keep).map(|i| format!("{}\n", lines[i])).collect();
        swallow(&text);
    }

    #[test]
    fn values_of_the_small_example_replaced(which in any::<prop::sample::Index>(), value in "[\"\\[{]?[-0-9a-zµ°²/·%. ]{0,12}[\"\\]}]?") {
        let mut lines: Vec<String> = project::demo::NARROW_HOUSE.files[0].text.lines().map(str::to_owned).collect();
        let at = which.index(lines.len());
        if let Some((key, _)) = lines[at].clone().split_once('=') {
            lines[at] = format!("{key}= {value}");
        }
        swallow(&lines.join("\n"));
    }

    #[test]
    fn arbitrary_text(text in "\\PC{0,200}") {
        swallow(&text);
    }
}
