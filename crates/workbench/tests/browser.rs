//! The whole way through a real browser: walk the sheets, break and mend the book, a delivery with a photo from a phone
//! while the connection is cut, a test day. Each page is looked at by a checker on the way.
//!
//! With `WINDTIGHT_SHOTS=FOLDER` pictures are left there for people to look at; `cargo xtask tour` uses them.

mod common;

use common::Bench;
use common::chromium::Chromium;
use std::path::Path;
use workbench::Server;
use workbench::access::Role;

const CHECKER: &str = include_str!("common/checker.js");

fn school() -> Bench {
    let bench = Bench::start(|path| {
        project::demo::MUSIC_SCHOOL.write(path).expect("written");
    });
    bench.settled();
    bench
}

/// Looks at the page that is open. A page too wide for a phone makes the phone's window wider, so the width is said.
fn checked(browser: &mut Chromium, width: u32) -> String {
    browser.text(&CHECKER.replace("WIDTH", &width.to_string()))
}

fn check(browser: &mut Chromium, page: &str, width: u32, found: &mut Vec<String>) {
    let said = checked(browser, width);
    found.extend(said.lines().map(|line| format!("{page} at {width}: {line}")));
}

/// Pages by the words in the index.
const PAGES: [&str; 9] = [
    "index.html",
    "fabric.html",
    "joints.html",
    "gatherings.html",
    "warm-and-cool.html",
    "log",
    "test-day",
    "talk",
    "book",
];

#[test]
fn every_page_is_walked_and_lets_everyone_in() {
    let bench = school();
    let mut browser = Chromium::start();
    let mut found = Vec::new();
    browser.size(1440, 900);
    browser.go(&bench.server().url(Role::Edit));
    browser.until("the first sheet", "location.pathname === '/index.html' && document.querySelector('h1')");
    for file in PAGES {
        browser.click(&format!("footer a[href='{file}']"));
        browser
            .until(file, &format!("location.pathname === '/{file}' && document.readyState === 'complete'"));
        let name = file.trim_end_matches(".html");
        for (width, height) in [(1440, 900), (820, 1100), (360, 740)] {
            browser.size(width, height);
            browser.eval("scrollTo(0, 0); true");
            browser.shot(&format!("{name}-{width}"));
            check(&mut browser, file, width, &mut found);
        }
        browser.size(1440, 900);
    }
    for extra in [
        "why?of=heating-demand",
        "why",
        "record?kind=delivery",
        "record?kind=joint-inspection",
        "share",
        "talk?at=1",
    ] {
        browser.go(&format!("http://{}/{extra}", bench.address()));
        let name = extra.replace(['?', '='], "-");
        for (width, height) in [(1440, 900), (360, 740)] {
            browser.size(width, height);
            browser.shot(&format!("{name}-{width}"));
            check(&mut browser, extra, width, &mut found);
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.content();
}

#[test]
fn the_checker_sees_what_is_wrong() {
    let mut browser = Chromium::start();
    browser.size(360, 740);
    browser.go("data:text/html,<meta name=viewport content=width=device-width><main><h1>a</h1><h3>b</h3>\
         <p style='color:silver;font-size:9px'>pale</p><input id=x><img src='data:,'><a href='.'></a>\
         <button style='outline:none;height:20px'>b</button><div style='width:900px'>wide</div></main>");
    let said = checked(&mut browser, 360);
    for complaint in [
        "no language",
        "skips a level",
        "contrast",
        "small words",
        "no name",
        "without words",
        "focus is not seen",
        "wide in",
        "small target",
    ] {
        assert!(said.contains(complaint), "{complaint} not in:\n{said}");
    }
}

#[test]
fn the_book_is_broken_and_mended_by_keyboard_alone() {
    let bench = school();
    let mut browser = Chromium::start();
    browser.size(1440, 900);
    browser.go(&bench.server().url(Role::Edit));
    browser.until("the first sheet", "document.querySelector('h1')");
    // From the top of the page by Tab to the link, by Enter through it.
    let mut steps = 0;
    while browser.text("document.activeElement.getAttribute('href') || ''") != "book" {
        browser.press("Tab", false);
        steps += 1;
        assert!(steps < 20, "the Book is twenty steps away or more");
    }
    browser.press("Enter", false);
    browser.until("the book", "document.getElementById('text')");
    let good = std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book");
    let at = good.find("°C\"").expect("a temperature in the book");
    let units = good[..at].encode_utf16().count();
    let line = good[..at].matches('\n').count() + 1;
    browser.eval(&format!("const t = document.getElementById('text'); t.focus(); t.setSelectionRange({units}, {units} + 2); true"));
    browser.write("°Q");
    browser.until("the mark", "document.querySelector('.problems .error')");
    let marked = browser.text("document.querySelector('#lines b').textContent");
    assert_eq!(marked, line.to_string(), "the line is marked while one types");
    browser.shot("book-broken-1440");
    browser.press("s", true);
    browser.until("the stale line", "document.getElementById('state').textContent.startsWith('Stale')");
    browser
        .until("the page after saving", "location.search === '?saved=1' && document.getElementById('text')");
    // The problem leads to its line.
    browser.click(".problems .where a");
    let chosen = browser.text(
        "const t2 = document.getElementById('text'); t2.value.slice(t2.selectionStart, t2.selectionEnd)",
    );
    assert!(chosen.contains("°Q"), "{chosen}");
    browser.write(&chosen.replace("°Q", "°C"));
    browser.until("no error", "document.querySelector('#problems h2').dataset.errors === '0'");
    browser.press("s", true);
    browser.until("fresh results", "document.getElementById('state').textContent.startsWith('Up to date')");
    let now = std::fs::read_to_string(bench.dir.path().join("building.toml")).expect("a book");
    assert_eq!(now, good, "mended to the byte");
    browser.content();
}

#[test]
fn a_changed_number_changes_the_sheet_without_a_reload() {
    let bench = school();
    let mut browser = Chromium::start();
    browser.size(1440, 900);
    browser.go(&bench.server().url(Role::Edit));
    browser.until("the first sheet", "document.querySelector('.limits')");
    let before = browser.text("document.querySelector('.limits').innerText");
    browser.eval("window.__same = true; true");
    let path = bench.dir.path().join("building.toml");
    let book = std::fs::read_to_string(&path).expect("a book");
    let thinner = book.replacen("thickness = \"240 mm\"", "thickness = \"90 mm\"", 1);
    assert_ne!(thinner, book, "the roof has 240 mm of wood fibre");
    std::fs::write(&path, thinner).expect("written");
    let quoted = serde_json::json!(before);
    browser.until("another figure", &format!("document.querySelector('.limits').innerText !== {quoted}"));
    assert_eq!(
        browser.eval("window.__same === true"),
        serde_json::json!(true),
        "the page was not loaded again"
    );
    browser.content();
}

#[test]
fn a_photo_and_a_delivery_survive_a_cut_connection() {
    let mut bench = school();
    let address = bench.address();
    let photo = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/photo.jpg"));
    let records = |bench: &Bench| {
        let folder = project::source::Folder::open(bench.dir.path()).expect("opened");
        workbench::pages::log::records(&folder).records
    };
    let first = records(&bench).len();
    let mut browser = Chromium::start();
    browser.size(360, 740);
    browser.go(&bench.server().url(Role::Log));
    browser.until("the first sheet", "document.querySelector('h1')");
    browser.go(&format!("http://{address}/log?place=space.hall"));
    browser.until("the worker", "navigator.serviceWorker.controller");
    browser.click("#who");
    browser.write("T.M.");

    // With the connection: shoot, one tap, saved.
    browser.file("#photo", photo);
    browser.click("#places button");
    browser.until("the acknowledgement", "document.getElementById('told').textContent === 'In the log.'");
    assert_eq!(records(&bench).len(), first + 1);
    browser.until("the list", "document.querySelector('section[aria-label=\"To be completed\"] img')");
    browser.eval(
        "document.querySelector('section[aria-label=\"To be completed\"]').scrollIntoView({ block: 'center' }); true",
    );
    browser.until("its picture", "document.querySelector('.photos img').naturalWidth > 0");
    browser.shot("log-shot-360");

    // Cut.
    let state = bench.server.take().expect("running").stop();
    browser.file("#photo", photo);
    browser.click("#places button");
    browser.until("the queue", "document.querySelectorAll('#queue li').length === 1");
    browser.go(&format!("http://{address}/record?kind=delivery"));
    browser.until("the kept form", "document.querySelector('#f-product')");
    browser.click("#f-product");
    browser.write("wood fibre, 60 mm");
    browser.file("#files", photo);
    browser.click(".send button");
    browser
        .until("both", "location.pathname === '/log' && document.querySelectorAll('#queue li').length === 2");
    browser.shot("log-cut-360");
    let waiting = browser.text("Queue.file().then(f => f.text())");
    assert_eq!(waiting.lines().count(), 2, "what waits can be saved as a file");
    assert!(waiting.contains("wood fibre, 60 mm") && waiting.contains("base64"));
    assert_eq!(records(&bench).len(), first + 1);

    // Back: everything goes by itself, once.
    bench.server = Some(Server::resume(state, address).expect("on the same port"));
    browser.until("nothing waiting", "document.getElementById('waiting').hidden");
    let all = records(&bench);
    assert_eq!(all.len(), first + 3);
    let delivery = all
        .iter()
        .find(|r| r.body.kind() == "delivery" && r.head.name == "T.M." && r.head.attachments.len() == 1);
    assert!(delivery.is_some(), "the delivery came with its photo");
    let folder = project::source::Folder::open(bench.dir.path()).expect("opened");
    let verdict = project::log::Log::open(&folder).expect("opened").verify().expect("verified");
    assert_eq!((verdict.wrong.len(), verdict.missing.len()), (0, 0));
    browser.content();
}

#[test]
fn a_refused_record_stays_on_the_phone_and_is_mended() {
    let bench = school();
    let mut browser = Chromium::start();
    browser.size(360, 740);
    browser.go(&bench.server().url(Role::Log));
    browser.until("the first sheet", "document.querySelector('h1')");
    browser.go(&format!("http://{}/record?kind=moisture-reading", bench.address()));
    browser.click("#f-moisture");
    browser.write("18 kg");
    browser.click(".send button");
    browser.until("the refusal", "document.querySelector('#queue .act')");
    browser.click("#queue a");
    browser.until("the form again", "document.querySelector('#f-moisture')?.value === '18 kg'");
    browser.eval("const f = document.getElementById('f-moisture'); f.focus(); f.select(); true");
    browser.write("18 %");
    browser.click(".send button");
    browser.until("nothing waiting", "location.pathname === '/log' && document.getElementById('waiting').hidden && document.body.innerText.includes('18 %')");
    browser.content();
}

#[test]
fn a_test_day_is_typed_on_a_phone_and_kept() {
    let bench = school();
    let mut browser = Chromium::start();
    browser.size(360, 740);
    browser.go(&bench.server().url(Role::Log));
    browser.until("the first sheet", "document.querySelector('h1')");
    browser.go(&format!("http://{}/test-day", bench.address()));
    browser.eval("document.getElementById('unit').value = 'm3h'; true");
    browser.click("#q-pressure");
    browser.write("-1.0");
    browser.click("#q-zero");
    for (pressure, flow) in [
        ("-70", "655"),
        ("-60", "592"),
        ("-50", "527"),
        ("-40", "456"),
        ("-30", "379"),
        ("-20", "292"),
        ("-12", "210"),
    ] {
        browser.click("#q-pressure");
        browser.write(pressure);
        browser.press("Enter", false);
        browser.write(flow);
        browser.press("Enter", false);
    }
    browser.until("the number", "document.getElementById('number')?.textContent.includes('at 50 Pa')");
    browser.until("every reading", "document.querySelectorAll('#now tbody tr').length === 7");
    browser.eval("scrollTo(0, 0); true");
    browser.shot("test-day-typed-360");
    browser.size(1440, 900);
    browser.eval("scrollTo(0, 0); true");
    browser.shot("test-day-typed-1440");
    browser.click("#keep");
    browser.until("the acknowledgement", "document.getElementById('told').textContent === 'In the log.'");
    browser.content();
}
