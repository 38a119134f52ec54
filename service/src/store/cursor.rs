//! Page cursors: the last key of a page, bound to its query.
//!
//! ```text
//! base64url( tag(16) | last key )     tag = HMAC-SHA-256(query, last key), first 16 bytes
//! ```
//!
//! A cursor that was made up, altered, or made for another query is refused.
//! Since it names a key and not a count, a page neither repeats nor skips rows
//! that nobody touched while others write.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};

use super::{Bytes, MAX_KEY_BYTES, record::HashKey};

const TAG_BYTES: usize = 16;
const LABEL: &str = "cursor";

/// The text is no cursor of ours for this query.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("cursor does not belong to this query; take it from `next_cursor` of the page before")]
pub struct CursorError;

/// The cursor after `last_key` in a listing. `query` is everything that decides what is listed and
/// in which order (path, filters, order), but not the page size.
///
/// ```
/// use etui_service::store::{cursor, record::HashKey};
/// let secret = HashKey::new([1; 32]);
/// let text = cursor::encode(&secret, "lots?state=open", b"key");
/// assert_eq!(cursor::decode(&secret, "lots?state=open", &text), Ok(b"key".to_vec()));
/// assert!(cursor::decode(&secret, "lots", &text).is_err());
/// ```
#[must_use]
pub fn encode(secret: &HashKey, query: &str, last_key: &[u8]) -> String {
    let tag = secret.hash(LABEL, &[query.as_bytes(), last_key]);
    let mut bytes = tag[..TAG_BYTES].to_vec();
    bytes.extend_from_slice(last_key);
    URL_SAFE_NO_PAD.encode(bytes)
}

/// The last key in a cursor.
///
/// # Errors
/// [`CursorError`] when it was not made by [`encode`] with this secret and query.
pub fn decode(secret: &HashKey, query: &str, text: &str) -> Result<Bytes, CursorError> {
    // Four characters carry three bytes; longer texts cannot hold a key of ours.
    if (MAX_KEY_BYTES + TAG_BYTES) * 4 / 3 + 4 < text.len() {
        return Err(CursorError);
    }
    let bytes = URL_SAFE_NO_PAD.decode(text).map_err(|_| CursorError)?;
    let (tag, last_key) = bytes.split_at_checked(TAG_BYTES).ok_or(CursorError)?;
    if secret.verify(LABEL, &[query.as_bytes(), last_key], tag) {
        Ok(last_key.to_vec())
    } else {
        Err(CursorError)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_cursors_are_taken() {
        let secret = HashKey::new([3; 32]);
        let good = encode(&secret, "q", b"last");
        assert_eq!(decode(&secret, "q", &good), Ok(b"last".to_vec()));
        let mut other = good.clone().into_bytes();
        let end = other.len() - 2;
        other[end] = if other[end] == b'A' { b'B' } else { b'A' };
        for (case, text) in [
            ("empty", String::new()),
            ("short", "AAAA".to_owned()),
            ("not base64url", "++++".to_owned()),
            ("altered", String::from_utf8(other).unwrap()),
            ("far too long", "A".repeat(10_000)),
            ("another secret", encode(&HashKey::new([4; 32]), "q", b"last")),
            ("another query", encode(&secret, "p", b"last")),
        ] {
            assert_eq!(decode(&secret, "q", &text), Err(CursorError), "{case}");
        }
    }
}
