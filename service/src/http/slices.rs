//! Bodies that are handed over piece by piece.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};

use actix_web::body::{BodySize, MessageBody};
use actix_web::web::Bytes;

/// A body that is handed over piece by piece. One that is handed over whole is
/// copied for each connection that does not read, and those may be many.
pub(crate) struct Slices(pub(crate) Bytes);

/// Bytes handed over at a time: less than what the framework gathers before it
/// waits for the reader.
const SLICE: usize = 16 * 1024;

impl MessageBody for Slices {
    type Error = Infallible;

    fn size(&self) -> BodySize {
        BodySize::Sized(self.0.len() as u64)
    }

    fn poll_next(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
    ) -> Poll<Option<Result<Bytes, Infallible>>> {
        if self.0.is_empty() {
            return Poll::Ready(None);
        }
        let next = self.0.len().min(SLICE);
        Poll::Ready(Some(Ok(self.0.split_to(next))))
    }

    fn try_into_bytes(self) -> Result<Bytes, Self> {
        if self.0.len() <= SLICE { Ok(self.0) } else { Err(self) }
    }
}
