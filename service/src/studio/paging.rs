//! Walking an index page by page.
//!
//! A page ends after its limit of rows, or when it has looked at very many that its
//! filters leave out, and says where the next one begins: at the key after its last row. Rows that nobody touched are neither repeated
//! nor skipped while others write.

use std::ops::Range;

use etui_schema::page::{Page, PageQuery};
use etui_schema::problem::FaultCode;
use serde::Serialize;
use serde_json::Value;

use super::Studio;
use super::engine::Snap;
use super::error::{Error, Found, or_unreadable};
use crate::store::key::after;
use crate::store::record::{HashKey, Record, decode};
use crate::store::rows::Rows;
use crate::store::{Bytes, Read, Space, cursor};

/// Rows a page if the caller names no number.
const USUAL_LIMIT: u16 = 50;
/// Most rows a page.
pub const MOST_ROWS: u16 = 200;
/// Fewest rows fetched at a time, where filters leave rows out.
const FEWEST: usize = 32;
/// Most rows that one page looks at: where filters leave nearly all of them out, a
/// page ends early and says where the next one begins.
const MOST_LOOKED_AT: usize = 2000;

/// What a list makes of one row: nothing if it does not belong to it.
pub type Row<T> = Result<Option<T>, Error>;

/// The name of a list by its query: all but how much is shown and from where. A filter that is
/// added later is in it by itself.
///
/// # Errors
/// [`Error::Internal`] for what is no JSON.
pub fn named(list: &str, query: &impl Serialize) -> Result<String, Error> {
    let told = serde_json::to_value(query).map_err(|error| Error::Internal(error.to_string()))?;
    let Value::Object(mut filters) = told else { return Ok(list.to_owned()) };
    for shown in ["limit", "cursor", "short"] {
        filters.remove(shown);
    }
    Ok(format!("{list} {}", Value::Object(filters)))
}

/// A walk over one page of an index, ascending.
pub struct Walk {
    name: String,
    secret: HashKey,
    rows: Rows,
    left: usize,
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
        // One more than the page needs tells whether there is a next one.
        let rows = Rows::of(space, range).by((left + 1).max(FEWEST));
        Ok(Self { name, secret: studio.cursor_key.clone(), rows, left, last: None })
    }

    /// A page of all rows of a space, in the order of their keys.
    ///
    /// # Errors
    /// As [`Walk::begin`].
    pub fn over(studio: &Studio, space: Space, query: &PageQuery) -> Result<Self, Error> {
        let PageQuery { limit, cursor } = query;
        let all = Bytes::new()..Bytes::new();
        Self::begin(studio, space.to_string(), space, all, *limit, cursor.as_deref())
    }

    /// The key of the next row of this page.
    ///
    /// # Errors
    /// What the store met.
    pub async fn next(&mut self, snap: &mut Snap) -> Result<Option<Bytes>, Error> {
        Ok(self.take(snap, 1).await?.pop().map(|(key, _)| key))
    }

    async fn take(&mut self, snap: &mut Snap, most: usize) -> Result<Vec<(Bytes, Bytes)>, Error> {
        let rows = self.rows.take(snap, most.min(self.left)).await?;
        self.left -= rows.len();
        if let Some((key, _)) = rows.last() {
            self.last = Some(key.clone());
        }
        Ok(rows)
    }

    /// The page: what `items` makes of many rows at once. Left out is what it makes
    /// nothing of and what was erased; what cannot be read is counted.
    ///
    /// # Errors
    /// What the store met, or `items`.
    pub async fn page<T>(
        mut self,
        snap: &mut Snap,
        items: impl AsyncFn(&mut Snap, Vec<(Bytes, Bytes)>) -> Result<Vec<Row<T>>, Error>,
    ) -> Result<Page<T>, Error> {
        let (limit, mut found, mut unreadable) = (self.left, Vec::new(), 0_u32);
        let mut looked_at = 0;
        while found.len() < limit && looked_at < MOST_LOOKED_AT {
            self.left = limit - found.len();
            let rows = self.take(snap, self.left).await?;
            if rows.is_empty() {
                break;
            }
            looked_at += rows.len();
            for row in items(snap, rows).await? {
                match or_unreadable(row)? {
                    Found::Read(row) => found.extend(row),
                    Found::Unreadable => unreadable += 1,
                }
            }
        }
        let unreadable = (0 < unreadable).then_some(unreadable);
        Ok(Page { items: found, next_cursor: self.cursor(), unreadable })
    }

    /// The page of rows that are records themselves, those of which `shown` makes something;
    /// what cannot be read is counted.
    ///
    /// # Errors
    /// What the store met.
    pub async fn of_records<T: Record, R>(
        self,
        snap: &mut Snap,
        shown: impl Fn(T) -> Option<R>,
    ) -> Result<Page<R>, Error> {
        let read = |stored: &[u8]| Ok(shown(decode::<T>(stored)?));
        self.page(snap, async |_, rows| Ok(rows.iter().map(|(_, stored)| read(stored)).collect()))
            .await
    }

    /// Where the next page begins; `None` if this is surely the last.
    #[must_use]
    pub fn cursor(&self) -> Option<String> {
        if self.rows.is_over() {
            return None;
        }
        self.last.as_ref().map(|last| cursor::encode(&self.secret, &self.name, last))
    }
}

/// A page of what is at hand as a whole, each with the key by which it is in its order.
///
/// # Errors
/// As [`Walk::begin`].
pub fn of_all<T>(
    studio: &Studio,
    name: &str,
    mut all: Vec<T>,
    key: impl Fn(&T) -> Bytes,
    query: &PageQuery,
) -> Result<Page<T>, Error> {
    let limit = limit_of(query.limit)?;
    all.sort_by_key(&key);
    if let Some(text) = &query.cursor {
        let last = cursor::decode(&studio.cursor_key, name, text).map_err(|_| foreign_cursor())?;
        all.retain(|one| last < key(one));
    }
    let more = limit < all.len();
    all.truncate(limit);
    let next = all.last().filter(|_| more).map(key);
    let next_cursor = next.map(|key| cursor::encode(&studio.cursor_key, name, &key));
    Ok(Page { items: all, next_cursor, unreadable: None })
}

/// The records under these keys, in their order and with one question: each as
/// it can be read, or why it cannot.
///
/// # Errors
/// What the store met.
pub async fn records<T: Record>(
    snap: &mut Snap,
    space: Space,
    keys: &[Bytes],
) -> Result<Vec<Result<T, Error>>, Error> {
    let read = |held: Option<Bytes>| match held {
        Some(bytes) => Ok(decode(&bytes)?),
        None => Err(Error::NotFound { what: T::KIND, id: String::new() }),
    };
    Ok(snap.get_many(space, keys).await?.into_iter().map(read).collect())
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

#[cfg(test)]
mod tests {
    use etui_schema::treatments::TreatmentQuery;
    use serde_json::{Value, json};

    use super::named;

    #[test]
    fn every_filter_names_its_list_and_the_size_of_a_page_does_not() {
        let name = |query: Value| {
            let query: TreatmentQuery = serde_json::from_value(query).expect("a query");
            named("treatments", &query).expect("a name")
        };
        let whole = name(json!({}));
        for (filter, value) in [("artist_ref", "ada"), ("maker", "own"), ("from", "2027-03-18")] {
            assert_ne!(name(json!({ filter: value })), whole, "{filter}");
        }
        assert_eq!(name(json!({ "limit": 7, "cursor": "x" })), whole);
    }
}
