//! Long computing, away from the threads that answer.
//!
//! A worker answers many callers; while it computes, none of them. What may
//! take long is therefore done on a thread of its own, as many at a time as the
//! machine has cores; the others wait in the order in which they came. What is
//! small is done at once: handing it over would cost more than doing it.

use std::num::NonZero;
use std::sync::Arc;

use etui_schema::problem::ErrorCode;
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use super::call::Call;
use super::failure::Failure;
use crate::panics;
use crate::studio::Studio;

/// Bodies below this many bytes are computed at once.
pub(crate) const SMALL: usize = 4 * 1024;

/// How many may compute at the same time.
pub(crate) struct Computing(Arc<Semaphore>);

impl Default for Computing {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
        Self(Arc::new(Semaphore::new(cores)))
    }
}

/// Computes with the studio of this request; elsewhere if it may take `long`.
///
/// # Errors
/// What the work said; `internal` if it panicked.
pub(crate) async fn compute<T, W>(call: &Call, long: bool, work: W) -> Result<T, Failure>
where
    T: Send + 'static,
    W: FnOnce(&Studio) -> Result<T, Failure> + Send + 'static,
{
    if !long {
        return work(&call.state.studio);
    }
    let internal = || Failure::new(ErrorCode::Internal, "internal error");
    let studio = Arc::clone(&call.state.studio);
    let free = Arc::clone(&call.state.computing.0);
    let place = free.acquire_owned().await.map_err(|_| internal())?;
    let done = spawn_blocking(move || {
        // Held by the thread and not by the caller, who may go before it is done.
        let _place = place;
        panics::caught(|| work(&studio))
    });
    done.await.ok().flatten().ok_or_else(internal)?
}
