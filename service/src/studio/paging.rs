//! Walking an index page by page.
//!
//! A page ends after its limit of rows and says where the next one begins: at
//! the key after its last row. Rows that nobody touched are neither repeated
//! nor skipped while others write.

use std::collections::VecDeque;
use std::ops::Range;

use etui_schema::problem::FaultCode;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use crate::store::key::after;
use crate::store::{Bytes, Order, Read, Space, cursor};

/// Rows a page if the caller names no number.
const USUAL_LIMIT: u16 = 50;
/// Most rows a page.
pub const MOST_ROWS: u16 = 200;
/// Fewest rows fetched at a time, where filters leave rows out.
const FEWEST: usize = 32;

/// A walk over one page of an index, ascending.
pub struct Walk {
    name: String,
    secret: crate::store::record::HashKey,
    space: Space,
    range: Range<Bytes>,
    left: usize,
    fetched: VecDeque<(Bytes, Bytes)>,
    exhausted: bool,
    last: Option<Bytes>,
}

impl Walk {
    /// Begins a page. `name` is all that decides what is listed and in which
    /// order; a cursor of another list is refused.
    ///
    /// # Errors
    /// [`Error::Refused`] for a limit or a cursor that is not one.
    pub fn begin(
        studio: &Studio,
        name: String,
        space: Space,
        mut range: Range<Bytes>,
        limit: Option<u16>,
        given: Option<&str>,
    ) -> Result<Self, Error> {
        let left = limit_of(limit)?;
        if let Some(text) = given {
            let last =
                cursor::decode(&studio.cursor_key, &name, text).map_err(|_| foreign_cursor())?;
            range.start = after(&last);
        }
        Ok(Self {
            name,
            secret: studio.cursor_key.clone(),
            space,
            range,
            left,
            fetched: VecDeque::new(),
            exhausted: false,
            last: None,
        })
    }

    /// The key of the next row of this page.
    ///
    /// # Errors
    /// What the store met.
    pub async fn next(&mut self, snap: &mut Snap) -> Result<Option<Bytes>, Error> {
        Ok(self.next_row(snap).await?.map(|(key, _)| key))
    }

    /// Key and value of the next row of this page.
    ///
    /// # Errors
    /// What the store met.
    pub async fn next_row(&mut self, snap: &mut Snap) -> Result<Option<(Bytes, Bytes)>, Error> {
        if self.left == 0 {
            return Ok(None);
        }
        let Some(row) = self.step(snap).await? else { return Ok(None) };
        self.left -= 1;
        Ok(Some(row))
    }

    /// The row just given does not count for the page: a filter left it out.
    pub fn skip(&mut self) {
        self.left += 1;
    }

    async fn step(&mut self, snap: &mut Snap) -> Result<Option<(Bytes, Bytes)>, Error> {
        if self.fetched.is_empty() && !self.exhausted {
            // One more than the page needs tells whether there is a next one.
            let most = (self.left + 1).max(FEWEST);
            let rows = snap.scan(self.space, self.range.clone(), Order::Ascending, most).await?;
            self.exhausted = rows.len() < most;
            if let Some((key, _)) = rows.last() {
                self.range.start = after(key);
            }
            self.fetched.extend(rows);
        }
        let row = self.fetched.pop_front();
        if let Some((key, _)) = &row {
            self.last = Some(key.clone());
        }
        Ok(row)
    }

    /// Where the next page begins; `None` if this is surely the last.
    #[must_use]
    pub fn cursor(&self) -> Option<String> {
        if self.fetched.is_empty() && self.exhausted {
            return None;
        }
        self.last.as_ref().map(|last| cursor::encode(&self.secret, &self.name, last))
    }
}

/// A cursor that was not given for the list it came with.
#[must_use]
pub fn foreign_cursor() -> Error {
    Error::at("query:cursor", FaultCode::WrongFormat, "this cursor was not given for this list")
}

/// How many rows a page is to have.
///
/// # Errors
/// [`Error::Refused`] for a number that is not between 1 and 200.
pub fn limit_of(limit: Option<u16>) -> Result<usize, Error> {
    match limit.unwrap_or(USUAL_LIMIT) {
        limit @ 1..=MOST_ROWS => Ok(limit.into()),
        other => Err(Error::at(
            "query:limit",
            FaultCode::OutOfRange,
            format!("{other} is not between 1 and {MOST_ROWS}"),
        )),
    }
}

/// An index row that does not have the form it was written in.
#[must_use]
pub fn broken(space: Space) -> Error {
    Error::Unreadable(format!("a row of {space} does not have its form"))
}
