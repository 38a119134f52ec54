//! Backups that make themselves.
//!
//! A thread of its own looks now and then whether a backup is due, makes it,
//! and removes those that are kept no longer. Of several processes on one store one
//! does, in its own folder. It reads from a snapshot, which
//! holds up nobody, and writes to disk where no request waits for it. What it
//! did last stands in [`Watch`], for `/health/ready`.

use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

use jiff::SignedDuration;

use crate::config::SHORTEST_BETWEEN_BACKUPS;
use crate::store::backup::{self, Backup, BackupError};
use crate::store::dump::ExportReport;
use crate::store::{Serve, seal};
use crate::studio::Studio;
use crate::studio::moment::Sources;
use crate::studio::watch::Watch;

/// How often it is looked whether a backup is due, unless they follow each
/// other faster. Half a minute late is on time for something that is made once a
/// day.
const LOOK: Duration = Duration::from_secs(30);

/// The thread; dropping it ends it after what it is doing.
pub struct Clockwork {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Clockwork {
    /// Starts the thread; `studio` gives it a hold on the studio. Without a time
    /// between backups there is none.
    pub fn start<H>(hold: H, sources: Arc<dyn Sources>) -> Self
    where
        H: AsRef<Studio> + Send + 'static,
    {
        if hold.as_ref().watch.config.every.is_zero() {
            return Self { stop: None, thread: None };
        }
        let look = hold.as_ref().watch.config.every.clamp(SHORTEST_BETWEEN_BACKUPS, LOOK);
        let (stop, stopped) = mpsc::channel();
        let work = move || {
            let studio = hold.as_ref();
            let runtime = match tokio::runtime::Builder::new_current_thread().build() {
                Ok(runtime) => runtime,
                Err(error) => return studio.watch.note(Some(error.to_string())),
            };
            loop {
                let done = runtime.block_on(make_if_due(studio, sources.as_ref()));
                if let Err(error) = &done {
                    tracing::error!(reason = %error, "no backup could be made");
                }
                studio.watch.note(done.err().map(|error| error.to_string()));
                match stopped.recv_timeout(look) {
                    Err(RecvTimeoutError::Timeout) => {}
                    Ok(()) | Err(RecvTimeoutError::Disconnected) => return,
                }
            }
        };
        let thread = std::thread::Builder::new().name("backups".to_owned()).spawn(work).ok();
        Self { stop: Some(stop), thread }
    }
}

impl Drop for Clockwork {
    fn drop(&mut self) {
        self.stop.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Makes a backup now, on a thread of its own: once begun it goes on to its end.
///
/// # Errors
/// Any [`BackupError`]; then no backup is left behind.
pub(crate) async fn make_now(
    studio: Arc<Studio>,
    sources: Arc<dyn Sources>,
) -> Result<(Backup, ExportReport), BackupError> {
    let work = move || {
        let runtime = tokio::runtime::Builder::new_current_thread().build()?;
        let mut entropy = |bytes: &mut [u8]| sources.fill(bytes).map_err(|_| seal::NoEntropy);
        let folder = &studio.watch.folder;
        let (store, keyring, now) = (&studio.engine, &studio.keyring, sources.now());
        let made = runtime.block_on(backup::make(store, keyring, folder, now, &mut entropy))?;
        tracing::info!(backup.bytes = made.0.bytes, "a backup was made");
        studio.watch.note(None);
        Ok(made)
    };
    let stopped = |_| BackupError::Io(std::io::Error::other("the work was stopped"));
    tokio::task::spawn_blocking(work).await.map_err(stopped)?
}

/// Makes a backup if one is due, and removes those that are kept no longer.
async fn make_if_due(studio: &Studio, sources: &dyn Sources) -> Result<(), BackupError> {
    if studio.engine.damaged().is_some() || !studio.engine.leads() {
        return Ok(());
    }
    let Watch { folder, config, .. } = &studio.watch;
    let every = SignedDuration::try_from(config.every).unwrap_or(SignedDuration::MAX);
    let now = sources.now();
    if !backup::is_due(folder, now, every)? {
        return Ok(());
    }
    let mut entropy = |bytes: &mut [u8]| sources.fill(bytes).map_err(|_| seal::NoEntropy);
    let (made, _) =
        backup::make(&studio.engine, &studio.keyring, folder, now, &mut entropy).await?;
    tracing::info!(backup.bytes = made.bytes, "a backup was made");
    if studio.clock.look(sources).is_some() {
        return Ok(());
    }
    for old in backup::expired(folder, now, studio.watch.retention())? {
        backup::remove(&old)?;
    }
    Ok(())
}
