//! Indexes: spaces whose keys are made of typed parts.
//!
//! An [`Index`] knows how its keys are written and read, so nobody takes one
//! apart by hand, and the parts by which it is searched can only be those with
//! which its keys begin.

use std::marker::PhantomData;
use std::ops::Range;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::key::{KeyReader, KeyWriter, after};
use super::rows::Rows;
use super::seal::ClientId;
use super::{Bytes, Order, Read, Space, StoreError};

/// One part of a key. Its order is that of its bytes.
pub trait Part: Sized {
    /// Writes it.
    fn write(&self, key: KeyWriter) -> KeyWriter;
    /// Reads it; `None` if the bytes do not hold one.
    fn read(key: &mut KeyReader<'_>) -> Option<Self>;
}

macro_rules! parts {
    ($($part:ty: |$value:ident, $key:ident| $write:expr, $read:expr);+ $(;)?) => {
        $(impl Part for $part {
            fn write(&self, $key: KeyWriter) -> KeyWriter {
                let $value = self;
                $write
            }

            fn read($key: &mut KeyReader<'_>) -> Option<Self> {
                $read
            }
        })+
    };
}

parts! {
    Uuid: |id, key| key.uuid(*id), key.uuid();
    Timestamp: |at, key| key.instant(*at), key.instant();
    // A keyed hash.
    [u8; 32]: |hash, key| key.fixed(hash), key.fixed();
    ClientId: |client, key| key.fixed(client.bytes()), key.fixed().map(Self::new);
    String: |text, key| key.text(text), key.text();
    // As text.
    Date: |day, key| key.text(&day.to_string()), key.text()?.parse().ok();
}

/// All parts of a key, or the first of them.
pub trait Key: Sized {
    /// Writes them.
    fn write(&self) -> KeyWriter;
    /// Reads them and nothing else.
    fn read(key: &mut KeyReader<'_>) -> Option<Self>;
}

macro_rules! keys {
    ($(($($part:ident $place:tt),+)),+) => {
        $(impl<$($part: Part),+> Key for ($($part,)+) {
            fn write(&self) -> KeyWriter {
                let key = KeyWriter::new();
                $(let key = self.$place.write(key);)+
                key
            }

            fn read(key: &mut KeyReader<'_>) -> Option<Self> {
                Some(($($part::read(key)?,)+))
            }
        })+
    };
}

keys!((A 0), (A 0, B 1), (A 0, B 1, C 2));

/// The parts with which the keys `K` begin.
pub trait Begins<K>: Key {}

impl<A: Part, B: Part> Begins<(A, B)> for (A,) {}
impl<A: Part, B: Part, C: Part> Begins<(A, B, C)> for (A,) {}
impl<A: Part, B: Part, C: Part> Begins<(A, B, C)> for (A, B) {}

/// Why rows of an index cannot be had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IndexError {
    /// What the store met.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A row does not have the form it was written in.
    #[error("a row of {0} does not have its form")]
    Broken(Space),
}

/// A space whose keys are `K`.
#[derive(Debug)]
pub struct Index<K> {
    space: Space,
    key: PhantomData<fn() -> K>,
}

impl<K: Key> Index<K> {
    /// An index of this name.
    #[must_use]
    pub const fn new(name: &'static str) -> Self {
        Self::in_space(Space::new(name))
    }

    /// The keys of a space.
    #[must_use]
    pub const fn in_space(space: Space) -> Self {
        Self { space, key: PhantomData }
    }

    /// Where its rows lie.
    #[must_use]
    pub const fn space(&self) -> Space {
        self.space
    }

    /// The row of a key.
    #[must_use]
    pub fn row(&self, key: &K) -> (Space, Bytes) {
        (self.space, key.write().finish())
    }

    /// A key as it was written.
    ///
    /// # Errors
    /// [`IndexError::Broken`].
    pub fn read(&self, row: &[u8]) -> Result<K, IndexError> {
        let mut reader = KeyReader::new(row);
        let key = K::read(&mut reader).filter(|_| reader.is_at_end());
        key.ok_or(IndexError::Broken(self.space))
    }

    /// The rows that begin with these parts.
    #[must_use]
    pub fn under(&self, parts: &impl Begins<K>) -> Keys<K> {
        self.keys(Rows::of(self.space, parts.write().prefix_range()))
    }

    /// The rows from these parts on.
    #[must_use]
    pub fn since(&self, parts: &impl Begins<K>) -> Keys<K> {
        self.keys(Rows::of(self.space, parts.write().finish()..Bytes::new()))
    }

    /// The rows before these parts.
    #[must_use]
    pub fn before(&self, parts: &impl Begins<K>) -> Keys<K> {
        self.keys(Rows::of(self.space, Bytes::new()..parts.write().finish()))
    }

    /// The last key that begins with each of these parts.
    ///
    /// # Errors
    /// [`IndexError`].
    pub async fn last_of_many<R: Read>(
        &self,
        snap: &mut R,
        parts: impl IntoIterator<Item = impl Begins<K>>,
    ) -> Result<Vec<Option<K>>, IndexError> {
        let ranges = parts.into_iter().map(|parts| parts.write().prefix_range());
        let ranges: Vec<Range<Bytes>> = ranges.collect();
        let found = snap.scan_many(self.space, &ranges, Order::Descending, 1).await?;
        let last = |rows: Vec<(Bytes, Bytes)>| rows.first().map(|(key, _)| self.read(key));
        found.into_iter().map(|rows| last(rows).transpose()).collect()
    }

    /// The rows of a walk, their keys taken apart.
    #[must_use]
    pub fn keys(&self, rows: Rows) -> Keys<K> {
        Keys { index: Self::in_space(self.space), rows }
    }
}

/// What lies after every key that begins with these parts and ends in an id.
#[must_use]
pub fn behind(parts: &impl Key) -> Bytes {
    after(&parts.write().fixed(&[0xff; 16]).finish())
}

/// Rows of an index, their keys taken apart.
#[derive(Debug)]
pub struct Keys<K> {
    index: Index<K>,
    rows: Rows,
}

impl<K: Key> Keys<K> {
    /// The same, largest key first.
    #[must_use]
    pub fn backwards(self) -> Self {
        Self { rows: self.rows.backwards(), ..self }
    }

    /// The next row: its key, and what lies under it.
    ///
    /// # Errors
    /// [`IndexError`].
    pub async fn next<R: Read>(&mut self, snap: &mut R) -> Result<Option<(K, Bytes)>, IndexError> {
        let Some((key, value)) = self.rows.next(snap).await? else { return Ok(None) };
        Ok(Some((self.index.read(&key)?, value)))
    }

    /// The first row of them.
    ///
    /// # Errors
    /// [`IndexError`].
    pub async fn first<R: Read>(self, snap: &mut R) -> Result<Option<K>, IndexError> {
        Ok(self.most(snap, 1).await?.pop())
    }

    /// Every key.
    ///
    /// # Errors
    /// [`IndexError`].
    pub async fn every<R: Read>(mut self, snap: &mut R) -> Result<Vec<K>, IndexError> {
        let mut keys = Vec::new();
        while let Some((key, _)) = self.next(snap).await? {
            keys.push(key);
        }
        Ok(keys)
    }

    /// The keys of the first rows, at most so many.
    ///
    /// # Errors
    /// [`IndexError`].
    pub async fn most<R: Read>(self, snap: &mut R, most: usize) -> Result<Vec<K>, IndexError> {
        let rows = self.rows.by(most).take(snap, most).await?;
        rows.iter().map(|(key, _)| self.index.read(key)).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const INDEX: Index<(String, Timestamp, Uuid)> = Index::new("some");

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        // Law: a key is read as it was written, and whatever is more or less than one is refused.
        #[test]
        fn keys_round_trip(text in ".*", at in 0_i64..4_000_000_000_000, id: u128) {
            let key = (text, Timestamp::from_millisecond(at).unwrap(), Uuid::from_u128(id));
            let (space, mut row) = INDEX.row(&key);
            prop_assert_eq!(space.name(), "some");
            prop_assert_eq!(INDEX.read(&row), Ok(key.clone()));
            prop_assert!(row.starts_with(&(key.0.clone(), key.1).write().finish()));
            prop_assert!(row < behind(&(key.0, key.1)));
            prop_assert!(INDEX.read(&row[..row.len() - 1]).is_err());
            row.push(0);
            prop_assert_eq!(INDEX.read(&row), Err(IndexError::Broken(Space::new("some"))));
        }
    }
}
