//! Keys whose byte order is the order that is meant.
//!
//! A key is a row of segments: [`KeyWriter`] writes them, [`KeyReader`] reads
//! them back. Grammar:
//!
//! ```text
//! text      bytes with 00 written as 00 FF, closed by 00 00
//! u64, u32  big-endian
//! i64       big-endian with the top bit turned over
//! instant   i64 of milliseconds since 1970-01-01T00:00:00Z
//! uuid      16 bytes
//! ```
//!
//! The text form keeps the order of the texts (a shorter text comes before its
//! extensions) and no text can imitate the segment that follows it.

use std::ops::{Bound, Range};

use uuid::Uuid;

use super::Bytes;

/// Puts a key together, segment by segment.
///
/// ```
/// use etui_service::store::key::{KeyReader, KeyWriter};
/// let key = KeyWriter::new().text("lips").u64(7).finish();
/// let mut reader = KeyReader::new(&key);
/// assert_eq!(reader.text().as_deref(), Some("lips"));
/// assert_eq!(reader.u64(), Some(7));
/// assert!(reader.is_at_end());
/// ```
#[derive(Debug, Clone, Default)]
#[must_use]
pub struct KeyWriter {
    bytes: Bytes,
}

impl KeyWriter {
    /// An empty key.
    pub fn new() -> Self {
        Self::default()
    }

    /// A text of any length and content.
    pub fn text(self, text: &str) -> Self {
        self.blob(text.as_bytes())
    }

    /// Bytes of any length and content, in the form of a text segment.
    pub fn blob(mut self, bytes: &[u8]) -> Self {
        for &byte in bytes {
            self.bytes.push(byte);
            if byte == 0 {
                self.bytes.push(0xFF);
            }
        }
        self.bytes.extend_from_slice(&[0, 0]);
        self
    }

    /// Bytes of a fixed length, such as a keyed hash, as they are.
    pub fn fixed<const N: usize>(mut self, bytes: &[u8; N]) -> Self {
        self.bytes.extend_from_slice(bytes);
        self
    }

    /// A whole number.
    pub fn u64(self, number: u64) -> Self {
        self.fixed(&number.to_be_bytes())
    }

    /// A whole number.
    pub fn u32(self, number: u32) -> Self {
        self.fixed(&number.to_be_bytes())
    }

    /// A signed number; negative ones come first.
    pub fn i64(self, number: i64) -> Self {
        self.fixed(&(number ^ i64::MIN).to_be_bytes())
    }

    /// An instant, to the millisecond; earlier ones come first.
    pub fn instant(self, instant: jiff::Timestamp) -> Self {
        self.i64(instant.as_millisecond())
    }

    /// A UUID; version 7 sorts by time.
    pub fn uuid(self, id: Uuid) -> Self {
        self.fixed(id.as_bytes())
    }

    /// The key.
    #[must_use]
    pub fn finish(self) -> Bytes {
        self.bytes
    }

    /// The range of all keys that begin with what was written so far.
    #[must_use]
    pub fn prefix_range(self) -> Range<Bytes> {
        prefix_range(&self.bytes)
    }
}

/// Lower and upper end of a range of keys.
type Bounds<'a> = (Bound<&'a [u8]>, Bound<&'a [u8]>);

/// The bounds of a range with an empty end for "no upper end"; `None` when nothing lies in it.
pub(super) fn bounds(range: &Range<Bytes>) -> Option<Bounds<'_>> {
    let start = Bound::Included(range.start.as_slice());
    if range.end.is_empty() {
        return Some((start, Bound::Unbounded));
    }
    (range.start < range.end).then_some((start, Bound::Excluded(range.end.as_slice())))
}

/// Takes a key apart. Each call answers `None` when the bytes do not hold such a segment.
#[derive(Debug, Clone)]
pub struct KeyReader<'a> {
    rest: &'a [u8],
}

impl<'a> KeyReader<'a> {
    /// A reader at the start of `key`.
    #[must_use]
    pub fn new(key: &'a [u8]) -> Self {
        Self { rest: key }
    }

    /// A text segment; `None` also when it is not UTF-8.
    pub fn text(&mut self) -> Option<String> {
        String::from_utf8(self.blob()?).ok()
    }

    /// A segment written by [`KeyWriter::blob`].
    pub fn blob(&mut self) -> Option<Bytes> {
        let mut out = Bytes::new();
        let mut at = 0;
        loop {
            match (*self.rest.get(at)?, self.rest.get(at + 1)) {
                (0, Some(0xFF)) => {
                    out.push(0);
                    at += 2;
                }
                (0, Some(0)) => {
                    self.rest = &self.rest[at + 2..];
                    return Some(out);
                }
                (0, _) => return None,
                (byte, _) => {
                    out.push(byte);
                    at += 1;
                }
            }
        }
    }

    /// Bytes of a fixed length.
    pub fn fixed<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (head, rest) = self.rest.split_first_chunk::<N>()?;
        self.rest = rest;
        Some(*head)
    }

    /// A whole number.
    pub fn u64(&mut self) -> Option<u64> {
        self.fixed().map(u64::from_be_bytes)
    }

    /// A signed number.
    pub fn i64(&mut self) -> Option<i64> {
        self.fixed().map(|bytes| i64::from_be_bytes(bytes) ^ i64::MIN)
    }

    /// An instant; `None` also when it is outside what [`jiff::Timestamp`] can hold.
    pub fn instant(&mut self) -> Option<jiff::Timestamp> {
        jiff::Timestamp::from_millisecond(self.i64()?).ok()
    }

    /// A UUID.
    pub fn uuid(&mut self) -> Option<Uuid> {
        self.fixed().map(Uuid::from_bytes)
    }

    /// Whether every byte has been read.
    #[must_use]
    pub fn is_at_end(&self) -> bool {
        self.rest.is_empty()
    }
}

/// The range of all keys that begin with `prefix`. The end is empty (no upper end) when the prefix
/// is empty or all `FF`.
#[must_use]
pub fn prefix_range(prefix: &[u8]) -> Range<Bytes> {
    let mut end = prefix.to_vec();
    while end.last() == Some(&0xFF) {
        end.pop();
    }
    if let Some(last) = end.last_mut() {
        *last += 1;
    }
    prefix.to_vec()..end
}

/// The smallest key after `key`: where the next ascending page begins.
#[must_use]
pub fn after(key: &[u8]) -> Bytes {
    let mut next = Bytes::with_capacity(key.len() + 1);
    next.extend_from_slice(key);
    next.push(0);
    next
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn prefix_ranges_end_where_the_prefix_ends() {
        for (prefix, end) in
            [(&b"ab"[..], &b"ac"[..]), (&[1, 0xFF], &[2]), (&[0xFF, 0xFF], &[]), (&[], &[])]
        {
            assert_eq!(prefix_range(prefix), prefix.to_vec()..end.to_vec(), "prefix {prefix:?}");
        }
    }

    #[test]
    fn broken_keys_are_not_read() {
        for key in [&b"ab"[..], b"ab\0", b"ab\0\x01", b""] {
            assert_eq!(KeyReader::new(key).text(), None, "key {key:?}");
        }
        assert_eq!(KeyReader::new(&[1, 2, 3]).u64(), None);
        assert_eq!(KeyReader::new(b"\xFF\0\0").text(), None, "not UTF-8");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        // Law: what was written is read, whatever follows it.
        #[test]
        fn segments_round_trip(text in ".*", signed: i64, number: u64, id: u128, rest: Vec<u8>) {
            let key = KeyWriter::new().text(&text).i64(signed).u64(number)
                .uuid(Uuid::from_u128(id)).blob(&rest).finish();
            let mut reader = KeyReader::new(&key);
            prop_assert_eq!(reader.text(), Some(text));
            prop_assert_eq!(reader.i64(), Some(signed));
            prop_assert_eq!(reader.u64(), Some(number));
            prop_assert_eq!(reader.uuid(), Some(Uuid::from_u128(id)));
            prop_assert_eq!(reader.blob(), Some(rest));
            prop_assert!(reader.is_at_end());
        }

        // Law: keys sort as their parts do, first part first.
        #[test]
        fn order_is_kept(a: (Vec<u8>, i64), b: (Vec<u8>, i64)) {
            let key = |(text, number): &(Vec<u8>, i64)| {
                KeyWriter::new().blob(text).i64(*number).finish()
            };
            prop_assert_eq!(key(&a).cmp(&key(&b)), a.cmp(&b));
        }

        // Law: a key lies in the range of a prefix exactly if it begins with it.
        #[test]
        fn prefix_ranges_hold_what_they_should(prefix: Vec<u8>, key: Vec<u8>) {
            let range = prefix_range(&prefix);
            let inside = range.start <= key && (range.end.is_empty() || key < range.end);
            prop_assert_eq!(inside, key.starts_with(&prefix));
        }
    }
}
