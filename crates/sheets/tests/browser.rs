//! The pages in a browser: nothing runs off the side, nothing is too small to read or to touch.
//!
//! Needs Chromium, by `WINDTIGHT_CHROMIUM` or where packages put it; `cargo xtask test` installs it. A missing
//! browser fails the test: pages that nobody looked at are not known to be right.

#[allow(dead_code, reason = "parts are looked at elsewhere")]
mod specimen;

use std::path::{Path, PathBuf};
use std::process::Command;

/// Measures pages inside frames of given widths and writes what it found into the document.
///
/// A headless window cannot be made as narrow as a phone everywhere; a frame can.
const PROBE: &str = r#"
function measure(frame, WIDTH) {
  const doc = frame.contentDocument, view = frame.contentWindow, phone = WIDTH < 700;
  const out = [];
  const root = doc.documentElement;
  if (root.scrollWidth > WIDTH) {
    out.push('page is ' + root.scrollWidth + ' wide');
    for (const e of doc.querySelectorAll('body *')) {
      const r = e.getBoundingClientRect();
      if (r.right > WIDTH + 1 && !e.closest('.pan,.wide,.stages')) out.push('  runs out: ' + e.tagName + '.' + e.getAttribute('class'));
    }
  }
  for (const d of doc.querySelectorAll('details')) d.open = true;
  if (root.scrollWidth > WIDTH) out.push('page is ' + root.scrollWidth + ' wide with every working open');
  const seen = e => e.getClientRects().length > 0 && !e.closest('.unseen,.skip');
  if (phone) {
    const walker = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const text = walker.currentNode, e = text.parentElement;
      if (!text.data.trim() || !e || !seen(e) || ['style', 'script', 'title', 'desc'].includes(e.tagName.toLowerCase())) continue;
      let size = parseFloat(view.getComputedStyle(e).fontSize);
      const svg = e.closest('svg');
      if (svg) size *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
      if (size < 12.95) out.push('small text ' + size.toFixed(1) + ': ' + text.data.trim().slice(0, 40));
    }
    for (const e of doc.querySelectorAll('a, summary, label, button')) {
      if (!seen(e) || e.closest('svg')) continue;
      const r = e.getBoundingClientRect();
      if (r.height < 43.5) out.push('small target ' + r.height.toFixed(0) + ': ' + e.textContent.trim().slice(0, 40));
    }
    const now = doc.querySelector('.stages .now');
    if (now) {
      const r = now.getBoundingClientRect();
      if (r.left < 0 || r.right > WIDTH) out.push('the present stage is not in view');
    }
  }
  return out.length ? [...new Set(out)].slice(0, 30).join('\n') : 'nothing found';
}
const found = [];
let next = 0;
function step() {
  if (next === PAGES.length) { document.getElementById('out').textContent = found.join('\n'); return; }
  const [name, width, page] = PAGES[next++];
  const frame = document.createElement('iframe');
  frame.width = width; frame.height = 800; frame.style.border = 0;
  frame.onload = () => { found.push(name + ' at ' + width + ': ' + measure(frame, width)); frame.remove(); step(); };
  frame.srcdoc = page;
  document.body.append(frame);
}
step();
"#;

fn browser() -> PathBuf {
    let named = std::env::var_os("WINDTIGHT_CHROMIUM").map(PathBuf::from);
    let usual =
        ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/opt/homebrew/bin/chromium"].map(PathBuf::from);
    named.into_iter().chain(usual).find(|path| path.is_file()).unwrap_or_else(|| {
        panic!("the page tests need Chromium: `cargo xtask test` installs it, or name its program in WINDTIGHT_CHROMIUM")
    })
}

/// A folder of this test's own, taken away when it goes out of scope.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("windtight-sheets-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // The browser may still be writing its profile; what is left is in the system's temporary folder.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn dump(browser: &Path, folder: &Folder, page: &Path) -> String {
    let output = Command::new(browser)
        .args([
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            "--window-size=1600,1200",
            "--virtual-time-budget=60000",
            "--dump-dom",
        ])
        .arg(format!("--user-data-dir={}", folder.0.join("profile").display()))
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("the browser starts");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Text as a JavaScript string that cannot end the script around it.
fn script_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '<' => out.push_str("\\x3c"),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Measures `(name, width, page)` one after the other and returns one finding a line or more.
fn probe(folder: &str, pages: &[(&str, u32, &str)]) -> String {
    let browser = browser();
    let folder = Folder::new(folder);
    let page = folder.0.join("probe.html");
    let list: Vec<String> = pages
        .iter()
        .map(|(name, width, html)| format!("[{},{width},{}]", script_string(name), script_string(html)))
        .collect();
    let text = format!(
        "<!doctype html><meta charset=utf-8><body><pre id=out>not measured</pre><script>const PAGES=[{}];{PROBE}</script>",
        list.join(",")
    );
    std::fs::write(&page, text).expect("the probe is written");
    let dom = dump(&browser, &folder, &page);
    let found = dom.split("<pre id=\"out\">").nth(1).and_then(|rest| rest.split("</pre>").next());
    found.unwrap_or("the browser wrote no document").to_owned()
}

#[test]
fn pages_fit_a_phone_and_a_desk() {
    let pages = specimen::pages::pages("us");
    let all: Vec<(&str, u32, &str)> = pages
        .iter()
        .flat_map(|(file, html)| [360, 390, 820, 1440].map(|width| (*file, width, html.as_str())))
        .collect();
    let found = probe("fit", &all);
    let good: Vec<String> =
        all.iter().map(|(file, width, _)| format!("{file} at {width}: nothing found")).collect();
    assert_eq!(found, good.join("\n"));
}

/// The probe itself must be able to complain.
#[test]
fn the_probe_sees_what_is_wrong() {
    let wrong = "<!doctype html><meta name=viewport content=\"width=device-width\"><body style=\"margin:0\">\
                 <div style=\"width:500px\">wide</div><p style=\"font-size:9px\">tiny</p><button>b</button>";
    let found = probe("wrong", &[("wrong", 360, wrong)]);
    for complaint in ["page is 500 wide", "small text 9.0: tiny", "small target"] {
        assert!(found.contains(complaint), "{complaint} not in:\n{found}");
    }
}

#[test]
fn pages_fetch_nothing_and_are_the_same_twice() {
    let (first, second) = (specimen::pages::pages("us"), specimen::pages::pages("us"));
    assert_eq!(first, second);
    for (file, page) in first {
        let plain = page.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
        for outside in ["http://", "https://", "@import", "src=\"", "url(//"] {
            assert!(!plain.contains(outside), "{file} names something outside: {outside}");
        }
        let mut ids: Vec<&str> =
            page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        ids.sort_unstable();
        let twice: Vec<&str> = ids.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| pair[0]).collect();
        assert!(twice.is_empty(), "{file} uses ids twice: {twice:?}");
    }
}
