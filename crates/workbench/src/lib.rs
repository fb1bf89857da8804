//! The workbench: a project's sheets, book and site log as local pages.
//!
//! [`Server::start`] opens a door on this machine only and answers with pages made from `project` and `sheets`; no
//! formula lives here. [`bench`] keeps the results fresh, [`access`] says who may do what, [`guard`] stands before
//! every page, [`save`] writes the book, [`pages`] holds one file a page.
//!
//! Pages are whole without a script; the scripts in `assets` are ours, are served as files, and only shorten the way:
//! they mark errors while one types, bring fresh results in, and keep records on a phone whose connection is gone.
//! Nothing is fetched from anywhere else.
#![forbid(unsafe_code)]

pub mod access;
pub mod assets;
pub mod bench;
pub mod guard;
pub mod log;
pub mod pages;
pub mod save;

use access::{Access, NoRandom, Role};
use bench::Bench;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

/// Why no server was started.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The port cannot be had.
    #[error("port {port} cannot be opened: {reason}")]
    Port {
        /// Which; 0 for any.
        port: u16,
        /// What the system said.
        reason: String,
    },
    /// No threads or timers.
    #[error("the server cannot be started: {0}")]
    System(#[from] std::io::Error),
    /// No secrets can be made.
    #[error(transparent)]
    Random(#[from] NoRandom),
}

/// A running server.
#[derive(Debug)]
pub struct Server {
    bench: Arc<Bench>,
    address: SocketAddr,
    runtime: Option<tokio::runtime::Runtime>,
    watcher: Option<JoinHandle<()>>,
}

impl Server {
    /// Starts on the loopback address; port 0 takes any that is free.
    ///
    /// # Errors
    /// [`ServeError`].
    pub fn start(folder: &Path, port: u16) -> Result<Self, ServeError> {
        let listener = listen(port)?;
        let address = listener.local_addr()?;
        let bench = Arc::new(Bench::new(folder, Access::new(address.port())?));
        Self::run(bench, listener)
    }

    /// Starts again with a state that was stopped, on the same port: keys and sessions still hold.
    ///
    /// # Errors
    /// [`ServeError`].
    pub fn resume(bench: Arc<Bench>, address: SocketAddr) -> Result<Self, ServeError> {
        Self::run(bench, listen(address.port())?)
    }

    fn run(bench: Arc<Bench>, listener: std::net::TcpListener) -> Result<Self, ServeError> {
        let address = listener.local_addr()?;
        listener.set_nonblocking(true)?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .thread_name("pages")
            .enable_io()
            .enable_time()
            .build()?;
        let routes = pages::routes(Arc::clone(&bench));
        let listener = {
            let _inside = runtime.enter();
            tokio::net::TcpListener::from_std(listener)?
        };
        runtime.spawn(async move {
            // Ends only with the runtime; an error of one connection ends that connection.
            let _ = axum::serve(listener, routes).await;
        });
        let watching = Arc::clone(&bench);
        bench.begin();
        let watcher =
            std::thread::Builder::new().name("watching".to_owned()).spawn(move || watching.watch())?;
        Ok(Self { bench, address, runtime: Some(runtime), watcher: Some(watcher) })
    }

    /// Returns where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Returns the state behind the pages.
    pub fn bench(&self) -> &Arc<Bench> {
        &self.bench
    }

    /// Returns the address that opens the pages with the rights of a role. Whoever has it has these rights.
    pub fn url(&self, role: Role) -> String {
        format!("http://{}/start?key={}", self.address, self.bench.access.key(role))
    }

    /// Waits until the program is asked to stop.
    pub fn wait(self) {
        if let Some(runtime) = &self.runtime {
            // Without signals the server runs until it is killed; nothing is lost by that.
            if runtime.block_on(tokio::signal::ctrl_c()).is_err() {
                std::thread::park();
            }
        }
        self.stop();
    }

    /// Stops at once and returns the state.
    pub fn stop(mut self) -> Arc<Bench> {
        self.bench.end();
        if let Some(runtime) = self.runtime.take() {
            runtime.shutdown_timeout(Duration::from_secs(5));
        }
        if let Some(watcher) = self.watcher.take() {
            // It has caught its own panics.
            let _ = watcher.join();
        }
        Arc::clone(&self.bench)
    }
}

fn listen(port: u16) -> Result<std::net::TcpListener, ServeError> {
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
    std::net::TcpListener::bind(address).map_err(|e| ServeError::Port { port, reason: e.to_string() })
}
