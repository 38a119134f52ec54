//! A new studio key: the key ring is sealed under it, and no record is touched.

use std::path::Path;

use super::content::Content;
use super::{FILE, KIND, KeyStorage, Keyring, KeyringError};
use crate::store::files;
use crate::store::seal::Entropy;
use crate::store::sealed_file;
use crate::store::shared::{RING, SHARED};
use crate::store::studio_key::{self, StudioKey, StudioKeyError};
use crate::store::{Batch, Store};

impl Keyring {
    /// Seals the key ring under a new studio key; no record is touched. With the key in a file,
    /// the new one lies beside the old one from then on, until [`Keyring::end_change`].
    pub(in crate::store) async fn begin_change<S: Store>(
        &self,
        store: &S,
        studio: StudioKey,
        storage: KeyStorage,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        let _one = self.changing.lock().await;
        if storage == KeyStorage::File {
            self.stage(&studio)?;
        }
        if self.is_in_store() {
            let held = self.follow(&mut store.snapshot().await?).await?;
            let row = self.sealed_under(&studio, entropy)?;
            store.commit(Batch::new().expect(SHARED, RING, held).put(SHARED, RING, row)).await?;
        } else {
            sealed_file::write(&self.path, KIND, &studio, &self.read().content, entropy)?;
        }
        self.write().studio = studio;
        Ok(())
    }

    /// Lays a new studio key beside the old one.
    pub(in crate::store) fn stage(&self, studio: &StudioKey) -> Result<(), KeyringError> {
        let next = self.path.with_file_name(studio_key::NEXT_FILE);
        Ok(studio.write(&next).map_err(StudioKeyError::from)?)
    }

    /// The studio's key from before a change that has not come to its end.
    pub(in crate::store) fn former(&self) -> Result<Option<StudioKey>, KeyringError> {
        if !self.path.with_file_name(studio_key::NEXT_FILE).exists() {
            return Ok(None);
        }
        Ok(StudioKey::read(&self.path.with_file_name(studio_key::FILE))?)
    }

    /// Puts the new key in the place of the old one, which is destroyed.
    pub(in crate::store) fn end_change(&self) -> Result<(), KeyringError> {
        let next = self.path.with_file_name(studio_key::NEXT_FILE);
        Ok(place(&next).map_err(StudioKeyError::from)?)
    }
}

/// A change of the studio's key writes the new key beside the old one, seals the key ring under it,
/// then the keys of the backups, and then puts it in the old one's place. Whichever key opens the
/// key ring is the one in force; one that does not open it has sealed nothing yet.
pub(super) fn in_force(dir: &Path, studio: StudioKey) -> Result<StudioKey, KeyringError> {
    let next_path = dir.join(studio_key::NEXT_FILE);
    let Some(next) = StudioKey::read(&next_path)? else { return Ok(studio) };
    if sealed_file::read::<Content>(&dir.join(FILE), KIND, &next).is_ok_and(|c| c.is_some()) {
        return Ok(next);
    }
    files::remove_secret(&next_path).map_err(StudioKeyError::from)?;
    Ok(studio)
}

/// Whether the key ring of a folder would open, if there is one; makes and changes nothing.
/// `given` is the studio's key from outside.
///
/// # Errors
/// As for [`StudioKey::find_or_make`] and [`Keyring::open`].
pub fn judge(dir: &Path, given: Option<&str>) -> Result<(), KeyringError> {
    let text = match given {
        Some(text) => Some(text.to_owned()),
        None => files::read_if_there(&dir.join(studio_key::FILE)).map_err(StudioKeyError::from)?,
    };
    let keyring = dir.join(FILE);
    let Some(text) = text else {
        return if keyring.exists() { Err(StudioKeyError::Missing.into()) } else { Ok(()) };
    };
    let studio = StudioKey::parse(&text)?;
    let next = files::read_if_there(&dir.join(studio_key::NEXT_FILE));
    let next = next.map_err(StudioKeyError::from)?.and_then(|text| StudioKey::parse(&text).ok());
    let opens = |key: &StudioKey| sealed_file::read::<Content>(&keyring, KIND, key).map(drop);
    match next.map(|next| opens(&next)) {
        Some(Ok(())) => Ok(()),
        Some(Err(_)) | None => Ok(opens(&studio)?),
    }
}

fn place(next: &Path) -> std::io::Result<()> {
    let text = std::fs::read(next)?;
    files::replace_secret(&next.with_file_name(studio_key::FILE), &text)?;
    files::remove_secret(next)
}
