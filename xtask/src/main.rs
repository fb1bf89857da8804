//! Repository chores. `cargo xtask test` runs every test and first fetches what they need, by package name.
#![forbid(unsafe_code)]

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

const USAGE: &str = "usage: cargo xtask <chore>
  test      fetch what the tests need, then run all of them
  browser   only fetch the browser, and print where it is
  tour      make the pictures of docs/tour.md anew, from pages a test walks through
  lint      formatting and clippy, warnings are errors";

fn main() -> ExitCode {
    let chore = std::env::args().nth(1);
    let result = match chore.as_deref() {
        Some("test") => test(),
        Some("browser") => browser().map(|path| println!("{}", path.display())),
        Some("tour") => tour(),
        Some("lint") => lint(),
        _ => Err(USAGE.to_owned()),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::FAILURE
        }
    }
}

/// Runs the whole test suite with the browser at hand.
fn test() -> Result<(), String> {
    let browser = browser()?;
    run(cargo().args(["test", "--workspace"]).env("WINDTIGHT_CHROMIUM", browser).env("INSTA_UPDATE", "no"))
}

/// Pictures that the tour shows, of those the browser test leaves.
const TOUR: [&str; 7] = [
    "index-1440",
    "why-of-heating-demand-1440",
    "book-broken-1440",
    "log-shot-360",
    "log-cut-360",
    "test-day-typed-360",
    "talk-at-1-1440",
];

/// Walks the pages in the browser and keeps the tour's pictures.
fn tour() -> Result<(), String> {
    let browser = browser()?;
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let shots = root.join("target/tour");
    run(cargo()
        .current_dir(&root)
        .args(["test", "-p", "workbench", "--test", "browser"])
        .env("WINDTIGHT_CHROMIUM", browser)
        .env("WINDTIGHT_SHOTS", &shots))?;
    let folder = root.join("docs/tour");
    std::fs::create_dir_all(&folder).map_err(|e| format!("making {}: {e}", folder.display()))?;
    for name in TOUR {
        let file = format!("{name}.png");
        std::fs::copy(shots.join(&file), folder.join(&file)).map_err(|e| format!("keeping {file}: {e}"))?;
    }
    Ok(())
}

fn lint() -> Result<(), String> {
    run(cargo().args(["fmt", "--all", "--check"]))?;
    run(cargo().args(["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
}

/// Finds a Chromium, or installs it with the system's package manager.
fn browser() -> Result<PathBuf, String> {
    if let Some(path) = found_browser() {
        return Ok(path);
    }
    install_browser()?;
    found_browser().ok_or_else(|| "the browser was installed but is not where it is looked for".to_owned())
}

fn found_browser() -> Option<PathBuf> {
    let named = std::env::var_os("WINDTIGHT_CHROMIUM").map(PathBuf::from);
    let on_path = std::env::var_os("PATH").into_iter().flat_map(|paths| {
        let folders: Vec<PathBuf> = std::env::split_paths(&paths).collect();
        folders
            .into_iter()
            .flat_map(|folder| ["chromium", "chromium-browser", "chromium.exe"].map(|name| folder.join(name)))
    });
    let usual = ["/usr/bin/chromium", "/opt/homebrew/bin/chromium"].map(PathBuf::from);
    named.into_iter().chain(on_path).chain(usual).find(|path| path.is_file())
}

fn install_browser() -> Result<(), String> {
    let by_hand = "the page tests need Chromium: install the package `chromium` with your system's package manager, \
                   or name its program in WINDTIGHT_CHROMIUM";
    if Path::new("/usr/bin/apt-get").exists() {
        apt(&["update", "-q"])?;
        return apt(&["install", "-y", "-q", "--no-install-recommends", "chromium"]);
    }
    if Path::new("/opt/homebrew/bin/brew").exists() {
        return run(Command::new("/opt/homebrew/bin/brew").args(["install", "--cask", "chromium"]));
    }
    Err(by_hand.to_owned())
}

/// Calls apt-get, through sudo where the user is not root (root has no need of sudo, and may not have it).
fn apt(arguments: &[&str]) -> Result<(), String> {
    let root = Command::new("id").arg("-u").output().is_ok_and(|out| out.stdout.trim_ascii() == b"0");
    let mut command = if root { Command::new("apt-get") } else { Command::new("sudo") };
    if !root {
        command.arg("apt-get");
    }
    run(command.args(arguments).env("DEBIAN_FRONTEND", "noninteractive"))
}

fn cargo() -> Command {
    Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

fn run(command: &mut Command) -> Result<(), String> {
    let status = command.status().map_err(|error| format!("cannot start {command:?}: {error}"))?;
    if status.success() { Ok(()) } else { Err(format!("failed ({status}): {command:?}")) }
}
