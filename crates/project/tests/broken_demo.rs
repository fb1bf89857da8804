//! The demonstration with ten mistakes made in it, told in ten messages.

use project::diagnostic::{Severity, Style};
use project::source::Folder;

/// Each slip: what the book says, what it says instead.
const SLIPS: [(&str, &str); 10] = [
    ("terrain   = \"suburb\"", "terain    = \"suburb\""),
    ("conductivity = \"0.039 W/(m·K) ± 6 %\"", "conductivity = \"0,039 W/(m·K) ± 6 %\""),
    (
        "{ material = \"dense-cellulose\", thickness = \"38 mm ± 8 mm\"",
        "{ material = \"dens-cellulose\", thickness = \"38 mm ± 8 mm\"",
    ),
    (
        "{ material = \"mineral-wool\",    thickness = \"175 mm\" }",
        "{ material = \"mineral-wool\",    thickness = 175 }",
    ),
    ("assembly = \"party-floor\", over = \"pottery\"", "assembly = \"party-floor\", over = \"potery\""),
    ("glazing = { g = \"0.50 ± 0.03\" }", "glazing = { g = \"1.50 ± 0.03\" }"),
    (
        "name = \"E1..E2\"\nstorey = \"upper\"\nside = \"E\"",
        "name = \"E1..E2\"\nstorey = \"uper\"\nside = \"E\"",
    ),
    ("exponent = \"0.65 ± 0.05\"", "exponent = \"65 Pa ± 0.05\""),
    ("when   = \"Sat 9:00–13:00\"", "when   = \"Sat 9:00–25:00\""),
    ("kind = \"heat-pump water heater\"", "kind = \"heat pump water heater\""),
];

#[test]
fn ten_mistakes_get_ten_messages() {
    let mut text = project::demo::MUSIC_SCHOOL.files[0].text.to_owned();
    for (said, slip) in SLIPS {
        assert_eq!(text.matches(said).count(), 1, "the demonstration no longer says {said:?} once");
        text = text.replace(said, slip);
    }
    let dir = tempfile::tempdir().expect("a temporary folder");
    project::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
    std::fs::write(dir.path().join("building.toml"), text).expect("written");
    let report = project::check(&Folder::open(dir.path()).expect("opened")).report;
    let errors = report.diagnostics().iter().filter(|d| d.severity == Severity::Error).count();
    let drawn = report.render(Style { width: 90, ..Style::default() });
    assert_eq!(errors, 10, "{drawn}");
    insta::assert_snapshot!(drawn);
}
