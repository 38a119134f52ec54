//! Stored form of one value.
//!
//! ```text
//! 00 | check(4) | bytes                      up to 16 KiB
//! 01 | check(4) | length(u64) | part id(12)  longer: the bytes lie in parts of 16 KiB
//! ```
//!
//! `check` is the start of SHA-256 over space, key and bytes, so a value that
//! changed or came to lie under another key is never answered.
//!
//! Long values are cut because the engine puts pages that outgrow a quarter of
//! a log segment into files of their own, which it does not sync. A page holds
//! at most 20 rows here: 20 × 16 KiB stays under a quarter of [`SEGMENT_BYTES`].

use sha2::{Digest, Sha256};

use crate::store::Bytes;

/// Bytes of a value that lie together.
pub(super) const PART_BYTES: usize = 16 << 10;
/// Size of a log segment; fixed when the store is made.
pub(super) const SEGMENT_BYTES: usize = 2 << 20;

const INLINE: u8 = 0;
const PARTED: u8 = 1;
const CHECK_BYTES: usize = 4;
const ID_BYTES: usize = 12;

/// Where the parts of a long value lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Parts {
    check: [u8; CHECK_BYTES],
    bytes: u64,
    id: [u8; ID_BYTES],
}

/// A stored value taken apart.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Stored<'a> {
    Inline { check: [u8; CHECK_BYTES], bytes: &'a [u8] },
    Parted(Parts),
}

impl Parts {
    /// A fresh place for parts: `sequence` of the batch and `op` within it are never used twice.
    pub(super) fn new(space: &str, key: &[u8], value: &[u8], sequence: u64, op: u32) -> Self {
        let mut id = [0; ID_BYTES];
        id[..8].copy_from_slice(&sequence.to_be_bytes());
        id[8..].copy_from_slice(&op.to_be_bytes());
        Self { check: check(space, key, value), bytes: value.len() as u64, id }
    }

    /// The keys of the parts, in order.
    pub(super) fn keys(&self) -> impl Iterator<Item = [u8; ID_BYTES + 4]> + use<> {
        let id = self.id;
        let parts = self.bytes.div_ceil(PART_BYTES as u64);
        (0..u32::try_from(parts).unwrap_or(u32::MAX)).map(move |part| {
            let mut key = [0; ID_BYTES + 4];
            key[..ID_BYTES].copy_from_slice(&id);
            key[ID_BYTES..].copy_from_slice(&part.to_be_bytes());
            key
        })
    }

    pub(super) fn encode(&self) -> Bytes {
        let mut out = vec![PARTED];
        out.extend_from_slice(&self.check);
        out.extend_from_slice(&self.bytes.to_be_bytes());
        out.extend_from_slice(&self.id);
        out
    }

    /// Whether `value`, put together from the parts, is what was stored.
    pub(super) fn holds(&self, space: &str, key: &[u8], value: &[u8]) -> bool {
        self.bytes == value.len() as u64 && self.check == check(space, key, value)
    }
}

/// The stored form of a short value.
pub(super) fn encode_inline(space: &str, key: &[u8], value: &[u8]) -> Bytes {
    let mut out = Bytes::with_capacity(1 + CHECK_BYTES + value.len());
    out.push(INLINE);
    out.extend_from_slice(&check(space, key, value));
    out.extend_from_slice(value);
    out
}

/// Takes a stored value apart; `None` when it has no such form.
pub(super) fn decode(stored: &[u8]) -> Option<Stored<'_>> {
    let (&tag, rest) = stored.split_first()?;
    let (&check, rest) = rest.split_first_chunk::<CHECK_BYTES>()?;
    match tag {
        INLINE => Some(Stored::Inline { check, bytes: rest }),
        PARTED => {
            let (&bytes, rest) = rest.split_first_chunk::<8>()?;
            let id = rest.try_into().ok()?;
            Some(Stored::Parted(Parts { check, bytes: u64::from_be_bytes(bytes), id }))
        }
        _ => None,
    }
}

/// The check of a value under a key of a space.
pub(super) fn check(space: &str, key: &[u8], value: &[u8]) -> [u8; CHECK_BYTES] {
    let mut hasher = Sha256::new();
    for part in [space.as_bytes(), key] {
        hasher.update((part.len() as u64).to_be_bytes());
        hasher.update(part);
    }
    let digest = hasher.chain_update(value).finalize();
    [digest[0], digest[1], digest[2], digest[3]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_are_read_back() {
        let stored = encode_inline("lots", b"k", b"value");
        let want = Stored::Inline { check: check("lots", b"k", b"value"), bytes: b"value" };
        assert_eq!(decode(&stored), Some(want));

        let long = vec![7; 2 * PART_BYTES + 1];
        let parts = Parts::new("lots", b"k", &long, 9, 2);
        assert_eq!(decode(&parts.encode()), Some(Stored::Parted(parts)));
        assert_eq!(parts.keys().count(), 3);
        assert!(parts.holds("lots", b"k", &long));
        assert!(!parts.holds("lots", b"j", &long), "another key");
        assert!(!parts.holds("lots", b"k", &long[1..]), "a part missing");
    }

    #[test]
    fn other_bytes_are_refused() {
        for stored in [&[][..], &[0], &[0, 1, 2, 3], &[2, 0, 0, 0, 0, 0], &[1, 0, 0, 0, 0, 0]] {
            assert_eq!(decode(stored), None, "stored {stored:?}");
        }
    }
}
