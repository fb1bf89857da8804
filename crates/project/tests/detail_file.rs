//! Detail files: what a mistake is told as, and what a sound file gives.

use project::detail_file::{read, solve};
use proptest::prelude::*;

const CORNER: &str = include_str!("../../../docs/examples/corner.toml");
const BALCONY: &str = include_str!("../../../docs/examples/balcony-slab.toml");
const PORCH: &str = include_str!("../../../docs/examples/roof-edge-over-porch.toml");

fn codes(text: &str) -> Vec<(String, usize)> {
    match read("d.toml", text) {
        Ok((_, report)) => report.to_json().into_iter().map(|l| (l.code.to_owned(), l.line)).collect(),
        Err(report) => report.to_json().into_iter().map(|l| (l.code.to_owned(), l.line)).collect(),
    }
}

#[test]
fn the_shipped_examples_are_sound_and_close() {
    for text in [CORNER, BALCONY, PORCH] {
        let (drawn, report) =
            read("d.toml", text).unwrap_or_else(|r| panic!("{}", r.render(Default::default())));
        assert_eq!(report.errors(), 0);
        let a = solve(&drawn).expect("solved").answer;
        assert!(a.balance < 1e-8 && a.residual < 1e-8, "{a:?}");
        assert!((0.3..1.0).contains(&a.f_rsi), "{a:?}");
        let sum: f64 = a.weights.values().sum();
        assert!((sum - 1.0).abs() < 1e-9, "{a:?}");
    }
}

#[test]
fn a_corner_by_inside_and_outside_dimensions() {
    let (drawn, _) = read("d.toml", CORNER).expect("sound");
    let a = solve(&drawn).expect("solved").answer;
    let (inside, outside) = (a.psi_inside.expect("planes"), a.psi_outside.expect("planes"));
    // U of the wall: 0.13 + 0.016/0.21 + 0.14/0.045 + 0.22/0.7 + 0.04.
    let u = 1.0 / (0.17 + 0.016 / 0.21 + 0.14 / 0.045 + 0.22 / 0.7);
    assert!((inside - outside - 2.0 * 0.376 * u).abs() < 1e-9, "{inside} {outside}");
    assert!(inside > 0.0 && outside < 0.0 && a.chi.is_none());
}

#[test]
fn a_balcony_slab_costs_and_a_cavity_settles() {
    let (drawn, _) = read("d.toml", BALCONY).expect("sound");
    let a = solve(&drawn).expect("solved").answer;
    assert!((0.4..1.2).contains(&a.psi_inside.expect("planes")), "{a:?}");
    let (drawn, _) = read("d.toml", PORCH).expect("sound");
    let a = solve(&drawn).expect("solved").answer;
    assert_eq!(a.couplings.len(), 3);
    let k = a.cavities.values().next().copied().expect("one cavity");
    assert!((0.06..0.4).contains(&k), "{a:?}");
}

#[test]
fn every_mistake_is_told_at_once_with_its_line() {
    let text = "\
[detail]
name = \"wrong\"

[environment.room]
temperature = \"20 °C\"
film = \"0.13 m²·K/W\"

[environment.street]
temperature = \"0 °C\"
film = \"0.04\"

[[piece]]
air = \"room\"
x = \"0 mm .. 0 mm\"
y = \"0 mm .. 1 m\"

[[piece]]
material = \"brik\"
x = \"0 mm .. 200 mm\"
y = \"0 mm .. 1 m\"

[[piece]]
material = \"concrete\"
x = \"100 mm .. 300 mm\"
y = \"0 mm .. 1 m\"
colour = \"red\"

[[piece]]
air = \"streat\"
x = \"300 mm .. 400 mm\"
y = \"0 mm .. 1 m\"
";
    let found = codes(text);
    let has = |code: &str, line: usize| found.iter().any(|(c, l)| c == code && *l == line);
    assert!(has("unit", 10), "{found:?}");
    assert!(has("width", 14), "{found:?}");
    assert!(has("name", 18), "{found:?}");
    assert!(has("key", 26), "{found:?}");
    assert!(has("name", 29), "{found:?}");
}

#[test]
fn shapes_that_do_not_close_are_told() {
    let overlap = CORNER.replacen("over = true\n", "", 1);
    assert!(codes(&overlap).iter().any(|(c, _)| c == "overlap"));
    let open = CORNER.replace("cuts     = [\"right\", \"top\"]", "cuts = [\"right\"]");
    assert!(codes(&open).iter().any(|(c, _)| c == "boundary"));
    let hole = BALCONY.replace("x = \"160 mm .. 360 mm\"", "x = \"161 mm .. 360 mm\"");
    assert!(codes(&hole).iter().any(|(c, _)| c == "hole"), "{:?}", codes(&hole));
    let same = BALCONY.replace("[[plane]]", "[[plane]]\nu = \"0.2 W/(m²·K)\"");
    assert!(codes(&same).iter().any(|(c, _)| c == "missing"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn no_text_makes_anything_panic(cut in 0..1800usize, insert in "[ -~]{0,12}") {
        let at = CORNER.char_indices().map(|(i, _)| i).nth(cut).unwrap_or(0);
        let mut text = CORNER.to_owned();
        text.insert_str(at, &insert);
        project::detail_file::swallow(&text);
        project::detail_file::swallow(&CORNER[..at]);
    }
}
