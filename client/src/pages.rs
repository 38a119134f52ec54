//! Lists, page by page or row by row.

use std::collections::VecDeque;
use std::fmt;
use std::marker::PhantomData;
use std::pin::Pin;
use std::task::{Context, Poll};

use etui_schema::endpoints::{At, Place};
use etui_schema::page::Page;
use futures_core::Stream;
use reqwest::Method;
use serde::de::DeserializeOwned;

use crate::builder::Client;
use crate::error::Error;

/// Every row of a list, fetched page by page as they are asked for.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// let mut rows = client.treatments(&"client-0042".parse()?);
/// while let Some(row) = rows.next().await? {
///     println!("{} {}", row.performed_at, row.treatment);
/// }
/// # Ok(())
/// # }
/// ```
#[derive(Debug)]
pub struct Pages<T> {
    client: Client,
    path: Vec<String>,
    query: Vec<(&'static str, String)>,
    held: VecDeque<T>,
    next: Next,
    unreadable: u32,
    kind: PhantomData<fn() -> T>,
}

#[derive(Debug)]
enum Next {
    First,
    Cursor(String),
    End,
}

impl<T: DeserializeOwned> Pages<T> {
    pub(crate) fn new(
        client: &Client,
        at: At,
        places: &[Place<'_>],
        query: Vec<(&'static str, String)>,
    ) -> Self {
        Self {
            client: client.clone(),
            path: at.segments(places),
            query,
            held: VecDeque::new(),
            next: Next::First,
            unreadable: 0,
            kind: PhantomData,
        }
    }

    /// The next row; `None` after the last. After an error the same row may be
    /// asked for again.
    ///
    /// # Errors
    /// [`Error`] of the page that was to be fetched.
    pub async fn next(&mut self) -> Result<Option<T>, Error> {
        loop {
            if let Some(row) = self.held.pop_front() {
                return Ok(Some(row));
            }
            match self.next_page().await? {
                Some(rows) => self.held = rows.into(),
                None => return Ok(None),
            }
        }
    }

    /// The next page's rows; `None` after the last page. Rows of a page that
    /// [`Pages::next`] has begun to give are not given again.
    ///
    /// # Errors
    /// [`Error`] of the page that was to be fetched.
    pub async fn next_page(&mut self) -> Result<Option<Vec<T>>, Error> {
        if !self.held.is_empty() {
            return Ok(Some(self.held.drain(..).collect()));
        }
        let mut request = self.client.request(Method::GET, &self.path);
        for (name, value) in &self.query {
            request = request.query(name, value);
        }
        match &self.next {
            Next::First => {}
            Next::Cursor(cursor) => request = request.query("cursor", cursor),
            Next::End => return Ok(None),
        }
        let Page { items, next_cursor, unreadable } = request.read::<Page<T>>().await?;
        self.unreadable += unreadable.unwrap_or(0);
        self.next = next_cursor.map_or(Next::End, Next::Cursor);
        Ok(Some(items))
    }

    /// How many rows of the pages so far are there and cannot be read by the service.
    #[must_use]
    pub fn unreadable(&self) -> u32 {
        self.unreadable
    }

    /// The rows that are left as a [`Stream`](futures_core::Stream), for
    /// programs that combine streams. It ends after the last row or after the
    /// first error.
    #[must_use]
    pub fn into_stream(self) -> Rows<T> {
        Rows { state: State::Idle(Box::new(self)) }
    }

    /// All rows that are left, in memory.
    ///
    /// # Errors
    /// [`Error`] of the page that was to be fetched.
    pub async fn all(mut self) -> Result<Vec<T>, Error> {
        let mut all = Vec::new();
        while let Some(rows) = self.next_page().await? {
            all.extend(rows);
        }
        Ok(all)
    }
}

/// The rows of a list as a stream; see [`Pages::into_stream`].
pub struct Rows<T> {
    state: State<T>,
}

type Step<T> = (Box<Pages<T>>, Result<Option<T>, Error>);

enum State<T> {
    Idle(Box<Pages<T>>),
    Busy(Pin<Box<dyn Future<Output = Step<T>> + Send>>),
    End,
}

impl<T> fmt::Debug for Rows<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Rows").finish_non_exhaustive()
    }
}

impl<T: DeserializeOwned + Send + 'static> Stream for Rows<T> {
    type Item = Result<T, Error>;

    fn poll_next(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let this = self.get_mut();
        loop {
            match std::mem::replace(&mut this.state, State::End) {
                State::End => return Poll::Ready(None),
                State::Idle(mut pages) => {
                    this.state = State::Busy(Box::pin(async move {
                        let row = pages.next().await;
                        (pages, row)
                    }));
                }
                State::Busy(mut step) => match step.as_mut().poll(cx) {
                    Poll::Pending => {
                        this.state = State::Busy(step);
                        return Poll::Pending;
                    }
                    Poll::Ready((pages, Ok(Some(row)))) => {
                        this.state = State::Idle(pages);
                        return Poll::Ready(Some(Ok(row)));
                    }
                    Poll::Ready((_, Ok(None))) => return Poll::Ready(None),
                    Poll::Ready((_, Err(error))) => return Poll::Ready(Some(Err(error))),
                },
            }
        }
    }
}
