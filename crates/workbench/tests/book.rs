//! The book and the first book, over a real connection.

mod common;

use common::{Bench, between};
use workbench::access::Role;

fn book(bench: &Bench) -> String {
    std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book")
}

#[test]
fn a_broken_book_is_told_line_by_line_and_mended() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    let page = client.get("/book").text();
    let good = book(&bench);
    let begun = between(&page, "name=\"begun\" value=\"", "\"").expect("a hash").to_owned();
    assert_eq!(begun, workbench::save::hash(&good));

    let broken = good.replacen("°C\"", "°Q\"", 1);
    assert_ne!(broken, good);
    let line = broken.lines().position(|l| l.contains("°Q")).expect("there") + 1;
    let told = client.form("/book/check", &[("token", &client.token), ("text", &broken)]);
    assert!(told.text().contains(&format!("data-line=\"{line}\"")), "{}", told.text());
    assert_eq!(book(&bench), good, "checking writes nothing");

    let saved = client.form("/book", &[("token", &client.token), ("begun", &begun), ("text", &broken)]);
    assert_eq!(saved.status, 303);
    bench.until("the error", |view| view.stale && view.report.errors() > 0);
    let sheet = client.get("/index.html").text();
    assert!(sheet.contains("Stale: the book has 1 error"), "the sheet says it is stale");
    assert!(sheet.contains("Limits, nearest to failing first"), "the last good sheet is shown");

    let begun = workbench::save::hash(&broken);
    let mended = client.form("/book", &[("token", &client.token), ("begun", &begun), ("text", &good)]);
    assert_eq!(mended.status, 303);
    bench.settled();
    assert!(client.get("/index.html").text().contains("Up to date"));
}

#[test]
fn a_change_shows_what_it_changed() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    let old = book(&bench);
    let new = old.replacen("thickness = \"100 mm\"", "thickness = \"40 mm\"", 1);
    assert_ne!(new, old, "the walls have 100 mm of wood fibre");
    let hash = workbench::save::hash(&old);
    client.form("/book", &[("token", &client.token), ("begun", &hash), ("text", &new)]);
    bench.until("new results", |view| view.before.is_some() && view.running.is_none());
    let page = client.get("/book").text();
    assert!(page.contains("What the last change did"), "a thinner wall needs more heat");
    assert!(bench.dir.path().join(workbench::save::VERSIONS).read_dir().expect("kept").count() == 1);
}

#[test]
fn a_book_changed_elsewhere_is_not_overwritten_and_no_word_is_lost() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Edit);
    let begun = workbench::save::hash(&book(&bench));
    let elsewhere = format!("{}# changed elsewhere\n", book(&bench));
    std::fs::write(bench.dir.path().join("building.toml"), &elsewhere).expect("written");
    let mine = "# mine </textarea><script>alert(1)</script>\n";
    let answer = client.form("/book", &[("token", &client.token), ("begun", &begun), ("text", mine)]);
    assert_eq!(answer.status, 409);
    assert_eq!(book(&bench), elsewhere);
    let page = answer.text();
    assert!(page.contains("changed since this page was opened"));
    assert!(page.contains("# changed elsewhere"), "the other text is there to compare");
    assert!(
        page.contains("# mine &lt;/textarea&gt;&lt;script&gt;"),
        "what was typed is still there, as text"
    );
    assert!(!page.contains("<script>alert"));
}

#[test]
fn the_open_form_makes_a_first_book_with_a_result() {
    let bench = Bench::start(|_| {});
    let client = bench.client(Role::Edit);
    bench.until("a look at the folder", |view| view.generation > 0);
    let way = client.get("/index.html");
    assert_eq!((way.status, way.header("location")), (303, Some("/new")));
    let missing = client.form(
        "/new",
        &[("token", &client.token), ("storeys", "2"), ("windows", "2"), ("panes", "2"), ("people", "4")],
    );
    assert_eq!(missing.status, 422);
    assert!(missing.text().contains("size on plan"));
    assert!(!bench.dir.path().join("building.toml").exists());
    let fields = [
        ("token", client.token.as_str()),
        ("name", "Mill <b>& Co</b> \"\u{1F3E0}\""),
        ("footprint", "30 ft x 24 ft"),
        ("storeys", "2"),
        ("height", "2.5 m"),
        ("wall_thickness", "330 mm"),
        ("side_e", "yes"),
        ("windows", "2"),
        ("window_size", "1.2 m × 1.3 m"),
        ("panes", "2"),
        ("north", "0 deg"),
        ("people", "4"),
        ("climate", "embedded: Greensboro"),
        ("units", "us"),
    ];
    let bad = client.form("/new", &[&fields[..2], &[("footprint", "wide")], &fields[3..]].concat());
    assert_eq!(bad.status, 422);
    assert!(bad.text().contains("data-line="), "{}", bad.text());
    assert_eq!(client.form("/new", &fields).status, 303);
    bench.settled();
    let page = client.get("/index.html").text();
    assert!(page.contains("Mill &lt;b&gt;&amp; Co&lt;/b&gt;"));
    assert!(!page.contains("<b>& Co"));
    // A second first book is refused by the book that is there.
    assert_eq!(client.get("/new").header("location"), Some("/book"));
}

#[test]
fn every_number_opens_its_working() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Look);
    let view = bench.server().bench().view();
    let good = view.good.clone().expect("results");
    let names = project::working::names(&good.project, &good.standing);
    assert!(names.len() > 50);
    for name in names.iter().step_by(names.len() / 25) {
        let page = client.get(&format!("/why?of={}", common::encoded(name)));
        assert_eq!(page.status, 200, "{name}");
        assert!(page.text().contains("<tbody>"), "{name}");
    }
    for finding in good.standing.limits() {
        let id = finding.id.trim_start_matches("limit.");
        assert!(client.get("/index.html").text().contains(&format!("why?of={id}")), "{id}");
    }
    let lost = client.get("/why?of=heating-demnd");
    assert_eq!(lost.status, 404);
    assert!(lost.text().contains("heating-demand"));
    let hostile = client.get("/why?of=%3Cscript%3Ealert(1)%3C/script%3E").text();
    assert!(!hostile.contains("<script>alert"));
}
