//! Events as they happen: the stream of `GET /v1/events/stream`, read.

use etui_schema::endpoints;
use etui_schema::events::{Event, EventStreamQuery};

use crate::builder::Client;
use crate::error::Error;
use crate::send::Chunks;

/// Events as they arrive, until the service ends the stream.
///
/// A stream ends after an hour at the latest and whenever the service stops.
/// Whoever wants to go on opens the next one behind the last sequence;
/// [`Client::follow_events`] does the same by asking, and needs no open
/// connection.
pub struct EventStream {
    chunks: Chunks,
    held: Vec<u8>,
}

impl Client {
    /// `GET /v1/events/stream`: follows events as they happen.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 503 if too many follow already.
    pub async fn stream_events(&self, query: &EventStreamQuery) -> Result<EventStream, Error> {
        let asked = self.to(endpoints::stream_events().at, &[]).query_of(query)?;
        let chunks = asked.open().await?;
        Ok(EventStream { chunks, held: Vec::new() })
    }
}

impl EventStream {
    /// The next event; `None` when the stream has come to its end.
    ///
    /// # Errors
    /// [`Error::Transport`] if the connection breaks; [`Error::Unexpected`] for
    /// what is no event.
    pub async fn next(&mut self) -> Result<Option<Event>, Error> {
        loop {
            while let Some(block) = self.block() {
                if let Some(event) = read(&block)? {
                    return Ok(Some(event));
                }
            }
            match self.chunks.next().await? {
                Some(chunk) => self.held.extend_from_slice(&chunk),
                None => return Ok(None),
            }
        }
    }

    /// The next whole block, up to its empty line.
    fn block(&mut self) -> Option<Vec<u8>> {
        let end = self.held.windows(2).position(|pair| pair == b"\n\n")?;
        let rest = self.held.split_off(end + 2);
        Some(std::mem::replace(&mut self.held, rest))
    }
}

/// The event of a block; a block of comments has none.
fn read(block: &[u8]) -> Result<Option<Event>, Error> {
    let unexpected = |detail: String| Error::Unexpected { status: 200, detail };
    let text = std::str::from_utf8(block).map_err(|e| unexpected(e.to_string()))?;
    let Some(data) = text.lines().find_map(|line| line.strip_prefix("data: ")) else {
        return Ok(None);
    };
    serde_json::from_slice(data.as_bytes()).map(Some).map_err(|e| unexpected(e.to_string()))
}
