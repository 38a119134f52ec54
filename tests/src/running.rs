//! The service inside the test's own process, with a clock that the test sets.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use etui_client::{Client, Retries};
use etui_service::background::{self, Background};
use etui_service::config::Config;
use etui_service::http::clock::Scripted;
use jiff::Timestamp;
use tempfile::TempDir;

use crate::engine;
use crate::wire::{Answer, Request};

/// The moment at which every test's clock stands unless it is moved: a Tuesday
/// morning in Berlin.
pub const NOW: &str = "2027-03-16T08:00:00Z";
/// The studio's zone in tests.
pub const ZONE: &str = "Europe/Berlin";

/// A running service.
pub struct Running {
    service: Option<Background>,
    address: SocketAddr,
    token: String,
    clock: Arc<Scripted>,
    folder: Folder,
}

/// A data folder that is ours to remove, or somebody else's.
enum Folder {
    Own(TempDir),
    Lent(PathBuf),
}

impl Running {
    /// Starts on an empty folder.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        Self::begin(Folder::Own(folder), |_| {})
    }

    /// Starts with other settings than the usual.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start_with(change: impl FnOnce(&mut Config)) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        Self::begin(Folder::Own(folder), change)
    }

    /// Starts on a folder that may hold data already.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start_at(folder: &Path) -> Self {
        Self::begin(Folder::Lent(folder.to_owned()), |_| {})
    }

    /// The same with other settings than the usual.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start_at_with(folder: &Path, change: impl FnOnce(&mut Config)) -> Self {
        Self::begin(Folder::Lent(folder.to_owned()), change)
    }

    /// One service for all tests of the process that leave nothing behind.
    #[must_use]
    pub fn shared() -> &'static Self {
        static SHARED: OnceLock<Running> = OnceLock::new();
        SHARED.get_or_init(Self::start)
    }

    /// Starts on a folder that may hold data already, with the clock at a moment.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start_when(folder: &Path, now: &str) -> Self {
        Self::begin_at(Folder::Lent(folder.to_owned()), now, |_| {})
    }

    fn begin(folder: Folder, change: impl FnOnce(&mut Config)) -> Self {
        Self::begin_at(folder, NOW, change)
    }

    fn begin_at(folder: Folder, now: &str, change: impl FnOnce(&mut Config)) -> Self {
        let path = folder.path().to_owned();
        let clock = Arc::new(Scripted::at(moment(now)));
        let mut config = engine::settings(&path);
        // Receivers of the tests listen on this machine.
        config.allow_private_targets = true;
        change(&mut config);
        let service = match background::start(config, clock.clone()) {
            Ok(service) => service,
            Err(error) => panic!("the service did not start: {error}"),
        };
        let address = service.address();
        Self { service: Some(service), address, token: owner_token(&path), clock, folder }
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The owner's token.
    #[must_use]
    pub fn token(&self) -> &str {
        &self.token
    }

    /// Its data folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Sets its clock without any time passing.
    pub fn leap_clock(&self, now: &str) {
        self.clock.leap(moment(now));
    }

    /// Lets time pass until a moment.
    pub fn set_clock(&self, now: &str) {
        self.clock.set(moment(now));
    }

    /// A client with the owner's token that tries once.
    ///
    /// # Panics
    /// If the client refuses the address.
    #[must_use]
    pub fn client(&self) -> Client {
        client_of(self.address, &self.token)
    }

    /// Sends a request with the owner's token unless it carries one.
    #[must_use]
    pub fn call(&self, request: &Request) -> Answer {
        with_token(request, &self.token).send(self.address)
    }

    /// Stops it as an operator would: what is in flight finishes.
    pub fn stop(mut self) {
        if let Some(service) = self.service.take() {
            service.stop();
        }
    }
}

impl Folder {
    fn path(&self) -> &Path {
        match self {
            Self::Own(folder) => folder.path(),
            Self::Lent(path) => path,
        }
    }
}

/// A client of any service that tries once.
///
/// # Panics
/// If the client refuses the address.
#[must_use]
pub fn client_of(address: SocketAddr, token: &str) -> Client {
    Client::builder(format!("http://{address}"))
        .token(token)
        .retries(Retries::none())
        .build()
        .expect("a client")
}

/// Adds the token unless the request has its own `Authorization`.
#[must_use]
pub fn with_token(request: &Request, token: &str) -> Request {
    let has = request.headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("authorization"));
    if has { request.clone() } else { request.clone().token(token) }
}

/// A moment out of its RFC 3339 text.
///
/// # Panics
/// If it is none.
#[must_use]
pub fn moment(text: &str) -> Timestamp {
    text.parse().expect("a moment in RFC 3339")
}

/// The token that the first start of a service wrote into its data folder.
///
/// # Panics
/// If there is none.
#[must_use]
pub fn owner_token(folder: &Path) -> String {
    std::fs::read_to_string(folder.join("owner-token"))
        .map_or_else(|_| "etui_none".to_owned(), |text| text.trim().to_owned())
}
