//! `windtight serve`.

use crate::Ended;
use crate::args::Serve;
use crate::failure::Failure;
use crate::terminal::Terminal;
use std::process::{Command, Stdio};
use workbench::access::Role;
use workbench::{ServeError, Server};

/// Serves a project's pages until asked to stop.
pub fn run(options: &Serve, terminal: &Terminal) -> Result<Ended, Failure> {
    if !options.folder.exists() {
        std::fs::create_dir_all(&options.folder)
            .map_err(Failure::while_doing(format!("making the folder {}", options.folder.display())))?;
    }
    let server = Server::start(&options.folder, options.port).map_err(|error| match error {
        ServeError::Port { port, .. } => Failure::CommandLine {
            message: error.to_string(),
            hint: format!("another program may have it; try: --port {}", port.wrapping_add(1).max(1024)),
        },
        other => Failure::Surroundings {
            doing: "starting the server".to_owned(),
            error: std::io::Error::other(other),
        },
    })?;
    let url = server.url(Role::Edit);
    terminal.print(&format!("{url}\n"))?;
    terminal.say(
        "The address holds the key to the project and works on this machine only. Stop with Ctrl-C; nothing is lost by that.\n",
    );
    if options.open && !opened(&url) {
        terminal.say("No browser could be started; open the address by hand.\n");
    }
    server.wait();
    Ok(Ended::Well)
}

/// Asks the system to open an address.
fn opened(url: &str) -> bool {
    let mut command = if cfg!(target_os = "macos") {
        Command::new("open")
    } else if cfg!(target_os = "windows") {
        let mut command = Command::new("rundll32");
        command.arg("url.dll,FileProtocolHandler");
        command
    } else {
        Command::new("xdg-open")
    };
    command.arg(url).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().is_ok()
}
