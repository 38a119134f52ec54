//! Backups: made by themselves, or on demand.

use crate::kinds::told;
use crate::vocabulary::Instant;

/// A backup in the folder of the backups.
#[told(Eq)]
pub struct Backup {
    /// The name of its file; its keys lie beside it, in the file with `.keys` at the end.
    pub name: String,
    /// When it was made.
    pub made_at: Instant,
    /// Its size in bytes.
    pub bytes: u64,
}

/// A backup that was made now.
#[told(Eq)]
pub struct BackupMade {
    /// The backup.
    pub backup: Backup,
    /// How many records it holds.
    pub records: u64,
    /// SHA-256 of what it holds, in hexadecimal digits; the same content has the same.
    pub content_sha256: String,
}
