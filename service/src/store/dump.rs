//! Export and import: everything that is stored, as JSON Lines.
//!
//! ```text
//! {"kind":"etui-export","v":1,"schema":1,"sequence":17,"at":"2026-03-01T10:00:00Z"}
//! {"space":"lots","key":"AZjk…","json":{"v":1,"kind":"lot","data":{…}}}
//! {"space":"lots-by-number","key":"…","bytes":"…"}
//! …
//! {"records":2,"content_sha256":"…","sha256":"…"}
//! ```
//!
//! Rows are sorted by space and key; keys are base64url. A value that is JSON
//! is written as it lies in the store, any other as base64url, so that an import
//! gives back the same bytes. `sha256` is over all lines before the footer,
//! `content_sha256` over the rows alone: two stores with the same content have
//! the same one.
//!
//! Sealed values stay sealed. The keys that open them lie beside the export, in
//! `NAME.keys`, sealed under the studio's key; the wrapped keys in the store,
//! which only this store's key ring could open, are left out.

mod read;
mod write;

pub use read::{ImportError, ImportReport, RESTORED, Target, import};
pub use write::{ExportReport, export};

pub(super) use read::{PASSES, load};
pub(super) use write::write_rows;

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::{
    StoreError,
    keyring::{CLIENT_KEYS, KEY_EPOCHS, KeyringError},
    sealed_file::SealedFileError,
    shared::SHARED,
};

const KIND: &str = "etui-export";
const VERSION: u32 = 1;

/// Spaces that an export leaves out.
fn is_left_out(space: &str) -> bool {
    [CLIENT_KEYS, KEY_EPOCHS, SHARED].iter().any(|s| s.name() == space)
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Header {
    kind: String,
    v: u32,
    pub(super) schema: u32,
    pub(super) sequence: u64,
    pub(super) at: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row<'a> {
    space: &'a str,
    key: &'a str,
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    json: Option<&'a RawValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    bytes: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Footer {
    pub(super) records: u64,
    pub(super) content_sha256: String,
    pub(super) sha256: String,
}

/// Why an export was not written.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The file system refuses.
    #[error("the export cannot be written")]
    Io(#[from] std::io::Error),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The clients' keys.
    #[error(transparent)]
    Keyring(#[from] KeyringError),
    /// The file of keys beside it.
    #[error(transparent)]
    Keys(#[from] SealedFileError),
}
