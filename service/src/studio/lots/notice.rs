//! Recall notices as they are kept, and what each means of packs that come after it.
//!
//! | space | key | value |
//! |---|---|---|
//! | `recalls` | id | the recall |
//!
//! An id begins with its time, so they are listed in the order in which they came. A notice is kept
//! whether or not a lot of its code is here yet: it calls back what comes later, and packs whose code
//! nobody told are held until somebody looked, since they may be of it ([`RECALL_POSSIBLE`]).
//!
//! [`RECALL_POSSIBLE`]: etui_craft::drawer::RECALL_POSSIBLE

use std::collections::BTreeSet;

use etui_craft::drawer;
use etui_schema::vocabulary::Instant;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{Recalled, StoredLot};
use crate::store::record::{Record, decode, encode};
use crate::store::rows::Rows;
use crate::store::{Batch, Space};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, Found, or_unreadable};
use crate::studio::opener::Verified;

/// The notices that somebody acted on.
pub const RECALLS: Space = Space::new("recalls");

/// A recall as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredRecall {
    /// Its id.
    pub id: Uuid,
    /// When the studio acted on it.
    pub at: Instant,
    /// What the notice said.
    pub reason: String,
    /// Who acted on it.
    pub by: String,
    /// The code that was called back.
    pub lot: Option<String>,
    /// The maker that was named.
    pub maker: Option<String>,
    /// The catalogue number that was named.
    pub reference: Option<String>,
    /// The lots that it took.
    pub lot_ids: Vec<Uuid>,
}

impl Record for StoredRecall {
    const KIND: &'static str = "recall";
}

impl Verified for StoredRecall {
    const SPACE: Space = RECALLS;
}

impl StoredRecall {
    /// Adds to a batch that it is kept.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be written down.
    pub fn add_to(&self, batch: Batch) -> Result<Batch, Error> {
        let key = self.id.as_bytes().to_vec();
        Ok(batch.expect(RECALLS, key.clone(), None).put(RECALLS, key, encode(self)?))
    }

    /// As the lots say it that it takes.
    #[must_use]
    pub fn told(&self) -> Recalled {
        Recalled {
            id: Some(self.id),
            at: self.at,
            reason: self.reason.clone(),
            by: Some(self.by.clone()),
        }
    }
}

/// Every notice that was acted on.
#[derive(Default)]
pub struct Notices {
    /// Those that name a code, oldest first.
    named: Vec<StoredRecall>,
    /// Whether one is there that cannot be read: nobody knows what it means.
    is_unreadable: bool,
}

impl Notices {
    #[cfg(test)]
    pub(super) fn of(told: Vec<StoredRecall>, is_unreadable: bool) -> Self {
        Self { named: told.into_iter().filter(|one| one.lot.is_some()).collect(), is_unreadable }
    }

    /// Reads them.
    ///
    /// # Errors
    /// What the store met.
    pub async fn all(snap: &mut Snap) -> Result<Self, Error> {
        let (mut found, mut rows) = (Self::default(), Rows::all(RECALLS));
        while let Some((_, bytes)) = rows.next(snap).await? {
            match or_unreadable(decode::<StoredRecall>(&bytes).map(Some).map_err(Error::from))? {
                Found::Read(notice) => found.named.extend(notice.filter(|one| one.lot.is_some())),
                Found::Unreadable => found.is_unreadable = true,
            }
        }
        Ok(found)
    }

    /// Those that mean this lot, were it of their code.
    fn of_article(&self, lot: &StoredLot) -> impl Iterator<Item = &StoredRecall> {
        let article = (lot.maker.as_deref(), lot.reference.as_deref());
        self.named.iter().filter(move |notice| {
            drawer::meant(notice.maker.as_deref(), notice.reference.as_deref(), article)
        })
    }

    /// The first that calls packs of this lot back that have this code.
    #[must_use]
    pub fn of_code(&self, lot: &StoredLot, code: &str) -> Option<Recalled> {
        let meant = drawer::code_as_meant(code);
        let names = |told: &StoredRecall| {
            told.lot.as_deref().map(drawer::code_as_meant) == Some(meant.clone())
        };
        self.of_article(lot).find(|told| names(told)).map(StoredRecall::told)
    }

    /// Whether one may mean this lot, since nobody knows its code, whether a serial number is a part of
    /// it, or what the notice says.
    #[must_use]
    pub fn may_mean(&self, lot: &StoredLot) -> bool {
        !self.asking(lot).is_empty()
    }

    /// Which may mean this lot by which of its codes; one that cannot be read has no id.
    pub(super) fn asking(&self, lot: &StoredLot) -> BTreeSet<(Option<Uuid>, String)> {
        let unread = self.is_unreadable.then_some(None);
        let uncoded = lot.lot.is_none().then(String::new);
        let by_code = |notice: Option<&StoredRecall>| -> Vec<(Option<Uuid>, String)> {
            let is_near = |own: &&String| {
                let named = notice.map(|told| told.lot.as_deref().unwrap_or_default());
                named.is_none_or(|named| drawer::is_but_for_serial(own, named))
            };
            let near = lot.codes().filter(is_near).map(|own| drawer::code_as_meant(own));
            uncoded
                .clone()
                .into_iter()
                .chain(near)
                .map(|own| (notice.map(|one| one.id), own))
                .collect()
        };
        let read = self.of_article(lot).map(Some);
        read.chain(unread).flat_map(by_code).collect()
    }
}
