//! The audit trail: who did what to which record, each entry chained to the one
//! before by its hash.
//!
//! An entry travels in [`Batch::audit`](super::Batch::audit); the committer, of
//! which there is one, gives it the next number and the hash of its
//! predecessor, in the same transaction as the change itself. So the chain
//! needs no precondition and no writer ever collides on it.
//!
//! Stored form: key = number (`u64`, big-endian, from 1); value = JSON with the
//! fields of [`Link`]. `hash` = SHA-256 over the previous hash and the JSON of
//! the entry with its number. The head (number and hash of the newest link)
//! lies in [`AUDIT_HEAD`], so a trail that was cut short is noticed too.
//!
//! An entry holds references, never health data and never free text of a
//! client.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::{Bytes, Space};

/// The trail.
pub const AUDIT: Space = Space::new("audit");
/// Holds the [`Head`] under [`HEAD_KEY`]; only the committer and an import write it.
pub const AUDIT_HEAD: Space = Space::new("_audit-head");
/// The key of the head.
pub const HEAD_KEY: &[u8] = b"head";

/// One thing that was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AuditEntry {
    /// When, RFC 3339, as the caller's clock says.
    pub at: String,
    /// Who: the token's name or id, never the token.
    pub who: String,
    /// What was done, for example `client.put` or `lot.recall`.
    pub what: String,
    /// The record it was done to, for example `treatments/0198…`.
    pub record: String,
    /// The version that the record has now; 0 when it is gone.
    pub version: u64,
}

/// An entry in its place in the chain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Link {
    /// Place in the trail, from 1.
    pub number: u64,
    /// The entry.
    pub entry: AuditEntry,
    /// Hash of the link before, hexadecimal; 64 zeros for the first.
    pub previous: String,
    /// Hash of this link, hexadecimal.
    pub hash: String,
}

/// The newest link: what the next one is chained to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// Number of the newest link; 0 while the trail is empty.
    pub number: u64,
    /// Its hash, hexadecimal; 64 zeros while the trail is empty.
    pub hash: String,
}

impl Default for Head {
    fn default() -> Self {
        Self { number: 0, hash: "0".repeat(64) }
    }
}

impl Head {
    /// Chains an entry: gives the link to store and moves the head on to it.
    pub fn link(&mut self, entry: AuditEntry) -> Link {
        let number = self.number + 1;
        let hash = hash(number, &self.hash, &entry);
        let previous = std::mem::replace(&mut self.hash, hash.clone());
        self.number = number;
        Link { number, entry, previous, hash }
    }

    /// Checks that `link` is the one that must follow, and moves on to it.
    ///
    /// # Errors
    /// [`ChainError`] with the number at which the chain is broken.
    pub fn follow(&mut self, link: &Link) -> Result<(), ChainError> {
        let number = self.number + 1;
        if link.number != number {
            return Err(ChainError::Gap { expected: number, found: link.number });
        }
        if link.previous != self.hash || link.hash != hash(number, &self.hash, &link.entry) {
            return Err(ChainError::Altered { number });
        }
        self.number = number;
        self.hash.clone_from(&link.hash);
        Ok(())
    }
}

/// Where the trail does not hold together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChainError {
    /// Links are missing.
    #[error("audit trail: link {expected} is missing, {found} comes next")]
    Gap {
        /// The number that should come.
        expected: u64,
        /// The number that came.
        found: u64,
    },
    /// A link is not what was written.
    #[error("audit trail: link {number} was altered")]
    Altered {
        /// Its number.
        number: u64,
    },
}

/// The key of a link.
#[must_use]
pub fn key(number: u64) -> Bytes {
    number.to_be_bytes().to_vec()
}

fn hash(number: u64, previous: &str, entry: &AuditEntry) -> String {
    let AuditEntry { at, who, what, record, version } = entry;
    let mut hasher = Sha256::new();
    hasher.update(number.to_be_bytes());
    hasher.update(version.to_be_bytes());
    for text in [previous, at, who, what, record] {
        // The length first, so that no text can run over into the next.
        hasher.update((text.len() as u64).to_be_bytes());
        hasher.update(text.as_bytes());
    }
    super::record::hex(&hasher.finalize())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(what: &str) -> AuditEntry {
        AuditEntry {
            at: "2026-03-01T10:00:00Z".into(),
            who: "owner".into(),
            what: what.into(),
            record: "lots/1".into(),
            version: 1,
        }
    }

    #[test]
    fn a_chain_follows_itself_and_notices_every_change() {
        let mut head = Head::default();
        let links: Vec<Link> =
            ["lot.receive", "lot.adjust", "lot.recall"].map(|w| head.link(entry(w))).into();
        let walk = |links: &[Link]| {
            let mut at = Head::default();
            links.iter().try_for_each(|link| at.follow(link)).map(|()| at)
        };
        assert_eq!(walk(&links), Ok(head));

        let mut altered = links.clone();
        altered[1].entry.version = 2;
        assert_eq!(walk(&altered), Err(ChainError::Altered { number: 2 }));
        let mut moved = links.clone();
        moved[1].entry.who = "own".into();
        moved[1].entry.what = "erlot.adjust".into();
        assert_eq!(walk(&moved), Err(ChainError::Altered { number: 2 }), "text moved over");
        let cut = [links[0].clone(), links[2].clone()];
        assert_eq!(walk(&cut), Err(ChainError::Gap { expected: 2, found: 3 }));
    }
}
