//! Events, one after the other.

use std::collections::VecDeque;
use std::time::Duration;

use etui_schema::events::{Event, EventQuery, Sequence};

use crate::builder::Client;
use crate::error::Error;

/// Pause between two questions of [`Follow`] when nothing is new.
const PAUSE: Duration = Duration::from_secs(2);

/// What happened, for those who ask.
impl Client {
    /// Every event behind a sequence, and then each as it happens.
    #[must_use]
    pub fn follow_events(&self, after: Sequence) -> Follow {
        Follow { client: self.clone(), after, held: VecDeque::new(), pause: PAUSE }
    }
}

/// Events one after the other, for ever. Keep the sequence of the last one that
/// was dealt with: whoever begins behind it misses nothing and gets nothing
/// twice.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::events::Sequence;
///
/// let mut events = client.follow_events(Sequence(0));
/// loop {
///     let event = events.next().await?;
///     println!("{} {}", event.kind, event.subject);
///     // Here: keep `event.sequence` with what was done about it.
/// }
/// # }
/// ```
#[derive(Debug)]
pub struct Follow {
    client: Client,
    after: Sequence,
    held: VecDeque<Event>,
    pause: Duration,
}

impl Follow {
    /// Asks this often while nothing is new (every 2 s unless set).
    #[must_use]
    pub fn every(mut self, pause: Duration) -> Self {
        self.pause = pause;
        self
    }

    /// The next event; waits until there is one. After an error it may be asked
    /// again, and when the future is dropped nothing is lost.
    ///
    /// # Errors
    /// [`Error`] of the question that failed.
    pub async fn next(&mut self) -> Result<Event, Error> {
        loop {
            if let Some(event) = self.held.pop_front() {
                self.after = event.sequence;
                return Ok(event);
            }
            let query = EventQuery { after: Some(self.after), ..EventQuery::default() };
            let page = self.client.list_events(&query).await?;
            if page.items.is_empty() {
                tokio::time::sleep(self.pause).await;
            }
            self.held = page.items.into();
        }
    }

    /// The sequence of the event that was given last.
    #[must_use]
    pub fn last(&self) -> Sequence {
        self.after
    }
}
