//! The keys that travel beside an export or a backup: `NAME.keys`.
//!
//! The clients' sealed values are copied as they are; what opens them lies in
//! this small file, sealed under the studio's key. So erasing a client means
//! taking one key out of each such file, and the copies themselves, large and
//! perhaps on another disk, need not be touched. The receipt of the erasure takes
//! its place, so that a restored store knows why the client's values do not open.

use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{
    Read,
    keyring::{CLIENT_KEYS, Keyring, KeyringError},
    receipts::Receipt,
    record::hex,
    rows::Rows,
    seal::{ClientId, ClientKey, Entropy},
    sealed_file::{self, SealedFileError},
    studio_key::{StudioKey, unhex},
};

const KIND: &str = "etui-copy-keys";

/// Keys beside a copy. All fields are hexadecimal; has no `Debug`.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Companion {
    /// Opens the copy itself, where that is sealed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    stream: Option<String>,
    index: String,
    clients: BTreeMap<String, String>,
    /// When their keys were issued, in milliseconds; former keys do not know.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    issued: BTreeMap<String, i64>,
    /// Whose keys were taken out since.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    forgotten: Vec<Receipt>,
}

/// The companion of a copy.
pub(super) fn path_of(copy: &Path) -> PathBuf {
    let mut name = copy.file_name().unwrap_or_default().to_os_string();
    name.push(".keys");
    copy.with_file_name(name)
}

impl Companion {
    /// The keys of all clients in a view. One that does not open is left out, and noted: it must
    /// not cost the others their copy.
    pub(super) async fn collect<R: Read>(
        snap: &mut R,
        keyring: &Keyring,
        stream: Option<[u8; 32]>,
    ) -> Result<Self, KeyringError> {
        let (mut clients, mut issued) = (BTreeMap::new(), BTreeMap::new());
        // That of the view: what it shows stays, whatever others do meanwhile.
        let own = keyring.of_view(snap).await?;
        let own = own.as_ref().map_or(keyring, |(ring, _)| ring);
        let mut rows = Rows::all(CLIENT_KEYS);
        while let Some((key, wrapped)) = rows.next(snap).await? {
            let Ok(id) = key.as_slice().try_into() else { continue };
            let client = ClientId::new(id);
            let Ok(key) = own.unwrap(&client, &wrapped) else {
                keyring.note_lost(&client);
                continue;
            };
            clients.insert(client.hex(), hex(key.bytes()));
            if let Some(at) = key.issued_at() {
                issued.insert(client.hex(), at.as_millisecond());
            }
        }
        let stream = stream.map(|key| hex(&key));
        let index = hex(&keyring.index_root());
        Ok(Self { stream, index, clients, issued, forgotten: Vec::new() })
    }

    pub(super) fn write(
        &self,
        path: &Path,
        studio: &StudioKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), SealedFileError> {
        sealed_file::write(path, KIND, studio, self, entropy)
    }

    pub(super) fn read(path: &Path, studio: &StudioKey) -> Result<Option<Self>, SealedFileError> {
        sealed_file::read(path, KIND, studio)
    }

    /// Takes the key of an erased client out; whether it was there.
    pub(super) fn remove(&mut self, receipt: &Receipt) -> bool {
        self.issued.remove(&receipt.client);
        let held = self.clients.remove(&receipt.client).is_some();
        if held {
            let backups = Vec::new();
            self.forgotten.push(Receipt { complete: true, backups, ..receipt.clone() });
        }
        held
    }

    /// The receipts of those whose keys were taken out.
    pub(super) fn forgotten(&self) -> &[Receipt] {
        &self.forgotten
    }

    pub(super) fn stream_key(&self) -> Option<[u8; 32]> {
        self.stream.as_deref().and_then(unhex)
    }

    pub(super) fn index_root(&self) -> Option<[u8; 32]> {
        unhex(&self.index)
    }

    /// Every client's key; an entry that is none is left out.
    pub(super) fn clients(&self) -> impl Iterator<Item = (ClientId, ClientKey)> {
        self.clients.iter().filter_map(|(id, key)| {
            let issued = self.issued.get(id).copied();
            let issued = issued.and_then(|millis| Timestamp::from_millisecond(millis).ok());
            Some((ClientId::new(unhex(id)?), ClientKey::new(unhex(key)?, issued)))
        })
    }
}
