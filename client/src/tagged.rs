//! A record with its entity tag.

use std::ops::Deref;

/// A stored record as it was read, with the `ETag` that a change of it needs.
///
/// ```
/// use etui_client::Tagged;
/// let read = Tagged { value: 3, etag: "\"a\"".to_owned() };
/// assert_eq!(*read + 1, 4);
/// assert_eq!(read.etag, "\"a\"");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tagged<T> {
    /// The record.
    pub value: T,
    /// Its entity tag, quotes included; hand it back as `if_match`.
    pub etag: String,
}

impl<T> Deref for Tagged<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}
