//! The receipts of erasures: that a client's key was destroyed, and what that
//! reached. They stay, in the store and beside its copies, so that everybody knows
//! why what was sealed does not open.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{
    Order, Read, Space, StoreError,
    record::{self, Record},
    seal::ClientId,
    studio_key::unhex,
};

/// The receipts, by their id.
pub const ERASURES: Space = Space::new("erasures");

/// Says that a client's key was destroyed, and what that reached.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Receipt {
    /// Its id.
    pub id: String,
    /// When it was asked for, or the newest moment that the store knew then; RFC 3339.
    pub at: String,
    /// Pseudonym of the client, hexadecimal.
    pub client: String,
    /// Whether there was a key to destroy. Without one nothing of the client was sealed.
    pub had_key: bool,
    /// Whether every step is done.
    pub complete: bool,
    /// The backups from which the client's key was taken, by file name. Copies of their `.keys`
    /// files kept elsewhere must be replaced by the owner.
    pub backups: Vec<String>,
    /// The backups whose `.keys` file could not be read or written, so that the key may still lie
    /// there. It is tried again at each start.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unreached: Vec<String>,
}

impl Record for Receipt {
    const KIND: &'static str = "erasure";
}

impl Receipt {
    /// Whose key was destroyed, and when; `None` if that cannot be read.
    #[must_use]
    pub fn names(&self) -> Option<(ClientId, Timestamp)> {
        Some((ClientId::new(unhex(&self.client)?), self.at.parse().ok()?))
    }
}

/// Every receipt of a view. One that cannot be read must not keep the studio from working.
///
/// # Errors
/// What the store met.
pub async fn all<R: Read>(snap: &mut R) -> Result<Vec<Receipt>, StoreError> {
    let rows = snap.scan(ERASURES, vec![]..vec![], Order::Ascending, usize::MAX).await?;
    Ok(rows.iter().filter_map(|(_, value)| record::decode(value).ok()).collect())
}
