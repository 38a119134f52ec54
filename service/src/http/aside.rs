//! What runs beside the answering of requests: deliveries and the sweep, on a
//! thread and a runtime of their own, so that nothing they wait for is waited
//! for by a caller.

use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use tokio::sync::watch;

use super::clock::Sources;
use crate::events::deliverer;
use crate::events::lane::Shared;
use crate::events::post::Poster;
use crate::panics::caught_in;
use crate::store::{Serve, erasure, seal};
use crate::studio::{Error, Studio, sweep};

/// How often what is due is looked for, by the service's clock.
const SWEEP_EVERY: SignedDuration = SignedDuration::from_secs(30);
/// How often it is looked whether another process erased somebody.
const HEAR_EVERY: Duration = Duration::from_secs(2);
/// How often that clock is looked at.
const TICK: Duration = Duration::from_millis(200);

/// The thread; it ends when this is dropped.
pub(crate) struct Aside {
    stop: watch::Sender<bool>,
    thread: Option<JoinHandle<()>>,
}

impl Aside {
    /// Starts it; the first whole sweep comes with the first tick.
    ///
    /// # Errors
    /// If the system gives no thread or no runtime.
    pub(crate) fn start(studio: Arc<Studio>, sources: Arc<dyn Sources>) -> std::io::Result<Self> {
        let (stop, mut stopped) = watch::channel(false);
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let thread = std::thread::Builder::new().name("aside".into()).spawn(move || {
            runtime.block_on(async {
                tokio::select! {
                    _ = stopped.wait_for(|stop| *stop) => {}
                    () = work(&studio, &sources) => {}
                    () = hear(&studio, sources.as_ref()) => {}
                }
            });
            // A name that is being looked up cannot be called off; it is not waited for.
            runtime.shutdown_background();
        })?;
        Ok(Self { stop, thread: Some(thread) })
    }

    /// Stops it and waits for its end. What was in flight is sent again after
    /// the next start, under the same id.
    pub(crate) fn stop(mut self) {
        self.end();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }

    fn end(&self) {
        self.stop.send_replace(true);
    }
}

impl Drop for Aside {
    fn drop(&mut self) {
        self.end();
    }
}

/// Does what one process does at a time, whenever it is this one.
async fn work(studio: &Studio, sources: &Arc<dyn Sources>) {
    if studio.engine.damaged().is_some() {
        return std::future::pending().await;
    }
    loop {
        let engine = studio.engine.lead().await;
        let mine = Arc::new(studio.on(engine.clone()));
        tokio::select! {
            () = engine.over() => {}
            () = deliver(Arc::clone(&mine), Arc::clone(sources)) => return,
            () = sweep_on(&mine, sources.as_ref()) => return,
        }
    }
}

/// Lets the backups of this process hear of erasures that others did.
async fn hear(studio: &Studio, sources: &dyn Sources) {
    if !studio.engine.is_shared() {
        return std::future::pending().await;
    }
    let mut entropy = |bytes: &mut [u8]| sources.fill(bytes).map_err(|_| seal::NoEntropy);
    let (store, keyring) = (&studio.engine, &studio.keyring);
    loop {
        tokio::time::sleep(HEAR_EVERY).await;
        let heard = erasure::catch_up(store, keyring, &studio.backups, &mut entropy).await;
        if let Err(error) = heard {
            tracing::warn!(reason = %error, "erasures have not reached the backups yet");
        }
    }
}

async fn deliver(studio: Arc<Studio>, sources: Arc<dyn Sources>) {
    let (clock, wall) = (Arc::clone(&studio.clock), Arc::clone(&sources));
    let shared = Shared {
        store: studio.engine.clone(),
        seal: studio.keyring.studio_seal(),
        now: Arc::new(move || clock.cautious(sources.now(), sources.as_ref())),
        wall: Arc::new(move || wall.now()),
        post: Poster::new(studio.targets),
    };
    let grown = studio.engine.grown();
    drop(studio);
    deliverer::run(Arc::new(shared), grown).await;
}

async fn sweep_on(studio: &Studio, sources: &dyn Sources) {
    let mut swept: Option<Timestamp> = None;
    loop {
        tokio::time::sleep(TICK).await;
        // A doubt is noticed here even when nobody asks; what is due waits for its end.
        if studio.engine.damaged().is_some() || studio.clock.look(sources).is_some() {
            continue;
        }
        let now = sources.now();
        // A clock that was set back is no reason to wait until it has caught up.
        if swept.is_some_and(|at| at <= now && now.duration_since(at) < SWEEP_EVERY) {
            continue;
        }
        swept = Some(now);
        match caught_in(sweep::run(studio, now, sweep::MOST_BATCHES)).await {
            // A panic is in the log already; the next sweep goes on.
            None | Some(Ok(())) => {}
            Some(Err(error)) => {
                tracing::warn!(reason = reason_of(&error), "what is due cannot be looked for now");
            }
        }
    }
}

/// What of an error may stand in the log: no reference of anybody.
pub(crate) fn reason_of(error: &Error) -> String {
    match error {
        Error::Store(error) => error.to_string(),
        Error::Unreadable(why) | Error::Internal(why) => why.clone(),
        Error::NotFound { what, .. } => format!("a {what} is missing"),
        Error::Held(why) => why.clone(),
        Error::Refused(_)
        | Error::Beyond(_)
        | Error::Conflict(..)
        | Error::Gone(_)
        | Error::Erased
        | Error::Changed
        | Error::NeedsVersion => "refused".to_owned(),
    }
}
