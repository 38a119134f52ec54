//! Which lots a list asks for: by what is in the packs and by who made them.

use std::collections::BTreeSet;

use etui_craft::configuration::Complete;
use etui_craft::drawer;
use uuid::Uuid;

use super::{LOTS, StoredLot};
use crate::store::Bytes;
use crate::studio::Studio;
use crate::studio::configuration_labels::read_text;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, Found, or_unreadable};
use crate::studio::paging::records;

/// What a list of lots, or of what names lots, asks of them.
pub struct Wanted {
    configuration: Option<Complete>,
    maker: Option<String>,
}

impl Wanted {
    /// Reads the filters of a query.
    ///
    /// # Errors
    /// [`Error::Refused`] for a configuration that cannot be read.
    pub fn of(
        studio: &Studio,
        configuration: Option<&str>,
        maker: Option<&str>,
    ) -> Result<Self, Error> {
        let read = |text| read_text(&studio.craft.reader, text, "query:configuration", None);
        let configuration =
            configuration.map(read).transpose().map_err(|fault| Error::Refused(vec![fault]))?;
        Ok(Self { configuration, maker: maker.map(str::to_owned) })
    }

    /// Whether nothing is asked of lots.
    const fn is_open(&self) -> bool {
        self.configuration.is_none() && self.maker.is_none()
    }

    /// Whether a lot is asked for. Who made it has to be known, and may be spelled otherwise.
    #[must_use]
    pub fn fits(&self, lot: &StoredLot) -> bool {
        let told = || lot.configuration.and_then(|told| Complete::try_from(told).ok());
        let made = |maker: &str| {
            lot.maker.is_some() && drawer::meant(Some(maker), None, (lot.maker.as_deref(), None))
        };
        self.configuration.is_none_or(|wanted| told() == Some(wanted))
            && self.maker.as_deref().is_none_or(made)
    }

    /// Those of these lots that are asked for, and those that cannot be read: nobody knows
    /// that they are not. `None` if nothing is asked.
    ///
    /// # Errors
    /// What the store met.
    pub async fn among(
        &self,
        snap: &mut Snap,
        ids: impl Iterator<Item = Uuid>,
    ) -> Result<Option<BTreeSet<Uuid>>, Error> {
        if self.is_open() {
            return Ok(None);
        }
        let ids: BTreeSet<Uuid> = ids.collect();
        let keys: Vec<Bytes> = ids.iter().map(|id| id.as_bytes().to_vec()).collect();
        let mut fitting = BTreeSet::new();
        for (id, lot) in ids.into_iter().zip(records::<StoredLot>(snap, LOTS, &keys).await?) {
            match or_unreadable(lot.map(Some))? {
                Found::Read(lot) => fitting.extend(lot.filter(|lot| self.fits(lot)).map(|_| id)),
                Found::Unreadable => {
                    fitting.insert(id);
                }
            }
        }
        Ok(Some(fitting))
    }
}
