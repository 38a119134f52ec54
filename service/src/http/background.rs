//! The service on a thread of its own, for programs that hold it inside them:
//! the tests, the demo.

use std::net::SocketAddr;
use std::sync::{Arc, OnceLock, mpsc};
use std::thread::JoinHandle;

use super::boot::{BootError, boot};
use super::clock::Sources;
use super::server::Stopper;
use crate::config::Config;
use crate::store::{SyncPath, harden_sync};

/// A running service. Dropping it stops it at once; [`Background::stop`] lets
/// what is in flight finish.
pub struct Background {
    address: SocketAddr,
    handle: Stopper,
    thread: Option<JoinHandle<()>>,
}

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum StartFailed {
    /// Something that it needs is missing or unsound.
    #[error(transparent)]
    Boot(#[from] BootError),
    /// Its thread ended before it was listening.
    #[error("the service's thread ended before it was listening")]
    Gone,
}

/// Starts the service and returns when it is listening.
///
/// # Errors
/// Why it could not start: the address, the data folder, the rule data.
pub fn start(config: Config, sources: Arc<dyn Sources>) -> Result<Background, StartFailed> {
    let sync_path = hardened_once();
    let (tell, told) = mpsc::channel();
    let thread = std::thread::spawn(move || {
        actix_web::rt::System::new().block_on(async move {
            match boot(&config, sources, sync_path).await {
                Ok((server, _)) => {
                    let _ = tell.send(Ok((server.address(), server.handle())));
                    if let Err(error) = server.run().await {
                        tracing::error!(reason = %error, "the server ended");
                    }
                }
                Err(error) => {
                    let _ = tell.send(Err(error));
                }
            }
        });
    });
    let (address, handle) = told.recv().map_err(|_| StartFailed::Gone)??;
    Ok(Background { address, handle, thread: Some(thread) })
}

/// The rule for every thread of the process is set once, however many
/// services the process starts.
fn hardened_once() -> SyncPath {
    static PATH: OnceLock<SyncPath> = OnceLock::new();
    PATH.get_or_init(harden_sync).clone()
}

impl Background {
    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Stops it: what is in flight finishes, the store is closed.
    pub fn stop(mut self) {
        self.end(true);
    }

    fn end(&mut self, graceful: bool) {
        let Some(thread) = self.thread.take() else { return };
        // The order is given by the call itself; its future only waits.
        drop(self.handle.stop(graceful));
        let _ = thread.join();
    }
}

impl Drop for Background {
    fn drop(&mut self) {
        self.end(false);
    }
}
