//! Any text given as a reading file: refused in words or read, never a panic.

mod entry;

use proptest::prelude::*;

const SOUND: &str = "test, T3\nflows, corrected\nvolume, 954.9 m³ ± 1 %\nwind near ground, 1.5 m/s\n\
    direction, pressure [Pa], flow [m³/h]\ndepress, -1.4,\ndepress, -19.5, 292\ndepress, -27.3, 363\n\
    depress, -33.9, 422\ndepress, -41.4, 468\ndepress, -47.9, 525\ndepress, -1.1,\n";
const SOUND_TOML: &str = "test = \"T3\"\nflows = \"raw\"\nvolume = \"954.9 m³\"\ninside_temperature = \"21 °C\"\n\
    columns = [\"pressure [Pa]\", \"flow [cfm]\"]\n[fan.A]\nid = \"F1\"\n[pressurisation]\n\
    rows = [[1.2], [20, 170], [30, 221], [40, 266], [50, 307], [60, 346]]\n";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn no_text_panics(text in "\\PC*") {
        entry::read_anything(&text);
    }

    #[test]
    fn no_mangled_file_panics(
        toml in prop::bool::ANY,
        cut in 0usize..400,
        drop in 0usize..6,
        insert in "[-0-9,.;=\\[\\]\"a-zäµ³ \n\t]{0,12}",
    ) {
        let mut text = if toml { SOUND_TOML } else { SOUND }.to_owned();
        let boundary = |text: &str, mut at: usize| {
            at = at.min(text.len());
            while !text.is_char_boundary(at) { at -= 1; }
            at
        };
        let from = boundary(&text, cut);
        let to = boundary(&text, cut + drop).max(from);
        text.replace_range(from..to, &insert);
        entry::read_anything(&text);
    }
}

#[test]
fn the_sound_files_are_sound() {
    for text in [SOUND, SOUND_TOML.replace("[fan.A]", "outside_temperature = \"4 °C\"\n[fan.A]").as_str()] {
        assert!(air::readings::parse(text).is_ok(), "{:?}", air::readings::parse(text));
    }
}

/// The examples of the format's description read as they stand, and say the same.
#[test]
fn the_documented_examples_read() {
    const PAGE: &str = include_str!("../../../docs/pressure-test-file.md");
    let block = |language: &str| {
        let start = PAGE.find(&format!("```{language}\n")).unwrap() + 4 + language.len();
        &PAGE[start..start + PAGE[start..].find("```").unwrap()]
    };
    let csv = air::readings::parse(block("csv")).unwrap();
    let toml = air::readings::parse(block("toml")).unwrap();
    assert_eq!(csv.series, toml.series);
    assert_eq!(csv.gauge.id, toml.gauge.id);
    assert_eq!(csv.method, Some(1));
}
