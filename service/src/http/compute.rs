//! Long computing, away from the threads that answer.
//!
//! A worker answers many callers; while it computes, none of them. What may
//! take long is therefore done on a thread of its own, as many at a time as the
//! machine has cores; the others wait in the order in which they came. What is
//! small is done at once: handing it over would cost more than doing it. Reading a long body is
//! computing, too.

use std::num::NonZero;
use std::sync::Arc;

use etui_schema::problem::ErrorCode;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, oneshot};
use tokio::task::spawn_blocking;

use super::call::Call;
use super::failure::Failure;
use crate::panics;
use crate::studio::Studio;

/// Bodies below this many bytes are computed at once.
pub(crate) const SMALL: usize = 4 * 1024;

/// Pictures that are read at the same time: each takes some hundred megabytes.
const MOST_PICTURES: usize = 2;

/// How many may compute at the same time, and how many of them with a picture.
pub(crate) struct Computing {
    all: Arc<Semaphore>,
    pictures: Arc<Semaphore>,
}

impl Default for Computing {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
        let all = Arc::new(Semaphore::new(cores));
        Self { all, pictures: Arc::new(Semaphore::new(MOST_PICTURES)) }
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
    let place = place(&call.state.computing.all).await?;
    elsewhere(place, with_studio(call, work)).await
}

/// Does what needs no studio; elsewhere if it may take `long`.
///
/// # Errors
/// As [`compute`].
pub(super) async fn read<T, W>(computing: &Computing, long: bool, work: W) -> Result<T, Failure>
where
    T: Send + 'static,
    W: FnOnce() -> Result<T, Failure> + Send + 'static,
{
    if !long {
        return work();
    }
    elsewhere(place(&computing.all).await?, work).await
}

/// The same with a picture: two at a time on the whole machine.
///
/// # Errors
/// As [`compute`].
pub(crate) async fn compute_picture<T, W>(call: &Call, work: W) -> Result<T, Failure>
where
    T: Send + 'static,
    W: FnOnce(&Studio) -> Result<T, Failure> + Send + 'static,
{
    let Computing { all, pictures } = &call.state.computing;
    let places = (place(pictures).await?, place(all).await?);
    elsewhere(places, with_studio(call, work)).await
}

fn with_studio<T, W>(call: &Call, work: W) -> impl FnOnce() -> Result<T, Failure> + Send + 'static
where
    T: Send + 'static,
    W: FnOnce(&Studio) -> Result<T, Failure> + Send + 'static,
{
    let studio = Arc::clone(&call.state.studio);
    move || work(&studio)
}

pub(super) fn internal() -> Failure {
    Failure::new(ErrorCode::Internal, "internal error")
}

async fn place(free: &Arc<Semaphore>) -> Result<OwnedSemaphorePermit, Failure> {
    Arc::clone(free).acquire_owned().await.map_err(|_| internal())
}

async fn elsewhere<P, T, W>(place: P, work: W) -> Result<T, Failure>
where
    P: Send + 'static,
    T: Send + 'static,
    W: FnOnce() -> Result<T, Failure> + Send + 'static,
{
    let (tell, told) = oneshot::channel();
    on_a_thread(Box::new(move || {
        let done = work();
        // Held by the thread until here and not by the caller, who may have gone and is not told then.
        drop(place);
        let _ = tell.send(done);
    }));
    told.await.map_err(|_| internal())?
}

/// What a thread does is one type to the runtime, whatever it is.
fn on_a_thread(work: Box<dyn FnOnce() + Send>) {
    spawn_blocking(move || panics::caught(work));
}
