//! Starting and stopping the server.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use actix_web::dev::{Server as ActixServer, ServerHandle};
use actix_web::middleware::from_fn;
use actix_web::{App, HttpServer, rt, web};
use tokio::sync::watch;

use super::aside::Aside;
use super::clock::Sources;
use super::event_stream::Followers;
use super::frame::frame;
use super::hosts::Hosts;
use super::routes;
use super::state::{Followed, State};
use super::tokens::Tokens;
use super::uses;
use crate::backups::Clockwork;
use crate::config::Config;
use crate::store::{Bytes, Serve, StoreError, SyncPath};
use crate::studio::Studio;
use crate::studio::engine::Engine;

/// In-flight requests get this long to finish after a stop was asked for.
const GRACE_S: u64 = 4;
/// A request head must arrive within this time.
const HEAD_PATIENCE: Duration = Duration::from_secs(5);
/// An idle connection is kept this long.
const KEEP_ALIVE: Duration = Duration::from_secs(75);

/// Why the server could not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// The address that was asked for.
        address: SocketAddr,
        /// What the system said.
        #[source]
        source: std::io::Error,
    },
    /// A public address without the flag that allows it.
    #[error(
        "{0} is not a loopback address; add --allow-public if a proxy with TLS stands before it"
    )]
    Public(SocketAddr),
    /// No thread for what runs beside the answers.
    #[error("no thread for deliveries can be started")]
    Aside(#[source] std::io::Error),
}

/// Why the server ended in disorder.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The event loop.
    #[error("the event loop failed")]
    Loop(#[from] std::io::Error),
    /// The store.
    #[error("the store did not close in order")]
    Store(#[from] StoreError),
}

/// A server that is listening.
pub struct Server {
    inner: ActixServer,
    address: SocketAddr,
    engine: Engine,
    state: web::Data<State>,
    backups: Clockwork,
    aside: Aside,
    stopping: watch::Sender<bool>,
}

/// Stops a server, from anywhere.
#[derive(Clone)]
pub struct Stopper {
    inner: ServerHandle,
    stopping: watch::Sender<bool>,
}

impl Stopper {
    /// Stops the server; the order is given by the call itself, its future only
    /// waits. `graceful`: what is in flight finishes. Streams end at once.
    pub fn stop(&self, graceful: bool) -> impl Future<Output = ()> + use<> {
        self.stopping.send_replace(true);
        self.inner.stop(graceful)
    }
}

impl Server {
    /// Binds and prepares; nothing is answered before [`Server::run`].
    ///
    /// # Errors
    /// [`StartError`] if the address cannot be used.
    pub(crate) fn bind(
        config: &Config,
        studio: Studio,
        (tokens, settings): (Tokens, Option<Bytes>),
        sources: Arc<dyn Sources>,
    ) -> Result<Self, StartError> {
        if !config.listen.ip().is_loopback() && !config.allow_public {
            return Err(StartError::Public(config.listen));
        }
        let failed = |source| StartError::Listen { address: config.listen, source };
        let listener = TcpListener::bind(config.listen).map_err(failed)?;
        let address = listener.local_addr().map_err(failed)?;
        let engine = studio.engine.clone();
        let (stopping, stopped) = watch::channel(false);
        let hosts = Hosts::new(&config.hosts, &config.origins);
        let followers = Followers::new(stopped);
        let state = web::Data::new(State::new(
            studio,
            (tokens, Followed::new(settings)),
            hosts,
            followers,
            sources,
        ));
        let backups = Clockwork::start(state.studio(), state.sources.clone());
        let aside =
            Aside::start(state.studio(), state.sources.clone()).map_err(StartError::Aside)?;
        let shared = state.clone();
        let inner = HttpServer::new(move || {
            App::new().wrap(from_fn(frame)).app_data(shared.clone()).configure(routes::configure)
        })
        .workers(config.workers.into())
        .client_request_timeout(HEAD_PATIENCE)
        .client_disconnect_timeout(Duration::from_secs(2))
        .keep_alive(KEEP_ALIVE)
        .max_connections(4096)
        // An answer of more than one write would wait for the caller's delayed word that the first came:
        // 44 ms for 38 kB.
        .tcp_nodelay(true)
        .shutdown_timeout(GRACE_S)
        .disable_signals()
        .listen(listener)
        .map_err(failed)?
        .run();
        Ok(Self { inner, address, engine, state, backups, aside, stopping })
    }

    /// Where it listens; the real port when 0 was asked for.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Whether what it acknowledges survives a power cut, and why.
    #[must_use]
    pub fn durability(&self, path: &SyncPath) -> (bool, String) {
        self.engine.durability(path)
    }

    /// A handle that can stop it.
    #[must_use]
    pub fn handle(&self) -> Stopper {
        Stopper { inner: self.inner.handle(), stopping: self.stopping.clone() }
    }

    /// Answers until it is stopped, then closes the store in order.
    ///
    /// # Errors
    /// What the event loop met, or what kept the store from an orderly end.
    pub async fn run(self) -> Result<(), RunError> {
        let state = self.state.clone();
        let keeping = rt::spawn(async move { uses::keep(&state).await });
        let served = self.inner.await;
        keeping.abort();
        self.aside.stop();
        uses::save(&self.state).await;
        // A backup that is under way is finished first; it needs the store.
        let backups = self.backups;
        let _ = tokio::task::spawn_blocking(move || drop(backups)).await;
        self.engine.close().await?;
        Ok(served?)
    }
}
