//! Lists, page by page or row by row.

use std::collections::VecDeque;
use std::marker::PhantomData;

use etui_schema::page::Page;
use serde::de::DeserializeOwned;

use crate::builder::Client;
use crate::error::Error;
use crate::send::Request;

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
    kind: PhantomData<fn() -> T>,
}

#[derive(Debug)]
enum Next {
    First,
    Cursor(String),
    End,
}

impl<T: DeserializeOwned> Pages<T> {
    pub(crate) fn new(client: &Client, path: &[&str], query: Vec<(&'static str, String)>) -> Self {
        Self {
            client: client.clone(),
            path: path.iter().map(|&part| part.to_owned()).collect(),
            query,
            held: VecDeque::new(),
            next: Next::First,
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
        let path: Vec<&str> = self.path.iter().map(String::as_str).collect();
        let mut request = self.client.get(&path).queries(&self.query);
        match &self.next {
            Next::First => {}
            Next::Cursor(cursor) => request = request.query("cursor", cursor),
            Next::End => return Ok(None),
        }
        let Page { items, next_cursor } = request.read::<Page<T>>().await?;
        self.next = next_cursor.map_or(Next::End, Next::Cursor);
        Ok(Some(items))
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

impl Request<'_> {
    fn queries(self, pairs: &[(&'static str, String)]) -> Self {
        pairs.iter().fold(self, |request, (name, value)| request.query(name, value))
    }
}
