//! Small files of key material, sealed under the studio's key.
//!
//! ```text
//! {"kind": "etui-keyring", "v": 1, "studio_key": "name of the key", "sealed": "base64url"}
//! ```
//!
//! They are replaced whole, and the old content is overwritten where it lay.

use std::{fs, io, path::Path};

use serde::{Deserialize, Serialize, de::DeserializeOwned};

use super::{
    Bytes, files,
    seal::{self, Entropy, NoEntropy, SealError, Sealed},
    studio_key::StudioKey,
};

const VERSION: u32 = 1;

/// Why a file of key material could not be used.
#[derive(Debug, thiserror::Error)]
pub enum SealedFileError {
    /// The file system refuses.
    #[error("{file} cannot be read or written")]
    Io {
        /// The file's name.
        file: String,
        /// What the file system said.
        #[source]
        source: io::Error,
    },
    /// Not such a file, or damaged.
    #[error("{file} is unreadable or damaged; put back the newest copy of it")]
    Form {
        /// The file's name.
        file: String,
    },
    /// A newer program wrote it.
    #[error("{file} has version {found}; this program knows version {VERSION}")]
    Newer {
        /// The file's name.
        file: String,
        /// Its version.
        found: u32,
    },
    /// It was sealed under another studio key.
    #[error("{file} was sealed under the studio key named {found}; the one given is {given}")]
    OtherKey {
        /// The file's name.
        file: String,
        /// Name of the key it was sealed under.
        found: String,
        /// Name of the key given.
        given: String,
    },
    /// No random bytes.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Outer {
    kind: String,
    v: u32,
    studio_key: String,
    sealed: Sealed,
}

/// Seals `content` and replaces the file.
pub(super) fn write<T: Serialize>(
    path: &Path,
    kind: &str,
    studio: &StudioKey,
    content: &T,
    entropy: &mut Entropy<'_>,
) -> Result<(), SealedFileError> {
    let text = seal_row(&name_of(path), kind, studio, content, entropy)?;
    files::replace_secret(path, &text)
        .map_err(|source| SealedFileError::Io { file: name_of(path), source })
}

/// Seals `content` into what a file of that name, or a row of the store, holds.
pub(super) fn seal_row<T: Serialize>(
    name: &str,
    kind: &str,
    studio: &StudioKey,
    content: &T,
    entropy: &mut Entropy<'_>,
) -> Result<Bytes, SealedFileError> {
    let form = || SealedFileError::Form { file: name.to_owned() };
    let json = serde_json::to_vec(content).map_err(|_| form())?;
    let sealed =
        seal::seal(&studio.purpose(kind), kind.as_bytes(), &json, entropy).map_err(|error| {
            match error {
                SealError::NoEntropy(error) => error.into(),
                SealError::OtherKey | SealError::Unopened | SealError::Unsealable => form(),
            }
        })?;
    let outer = Outer {
        kind: kind.to_owned(),
        v: VERSION,
        studio_key: studio.name(),
        sealed: Sealed::from_bytes(sealed),
    };
    serde_json::to_vec(&outer).map_err(|_| form())
}

/// Reads and opens a file; `None` when it is not there.
pub(super) fn read<T: DeserializeOwned>(
    path: &Path,
    kind: &str,
    studio: &StudioKey,
) -> Result<Option<T>, SealedFileError> {
    let name = name_of(path);
    let text = match fs::read(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        text => text.map_err(|source| SealedFileError::Io { file: name.clone(), source })?,
    };
    open_row(&name, kind, studio, &text).map(Some)
}

/// Opens what [`seal_row`] sealed.
pub(super) fn open_row<T: DeserializeOwned>(
    name: &str,
    kind: &str,
    studio: &StudioKey,
    text: &[u8],
) -> Result<T, SealedFileError> {
    let file = || name.to_owned();
    let form = || SealedFileError::Form { file: file() };
    let Outer { kind: found, v, studio_key, sealed } =
        serde_json::from_slice(text).map_err(|_| form())?;
    if found != kind {
        return Err(form());
    }
    if v != VERSION {
        return Err(SealedFileError::Newer { file: file(), found: v });
    }
    if studio_key != studio.name() {
        let given = studio.name();
        return Err(SealedFileError::OtherKey { file: file(), found: studio_key, given });
    }
    let json =
        seal::open(&studio.purpose(kind), kind.as_bytes(), sealed.bytes()).map_err(|_| form())?;
    serde_json::from_slice(&json).map_err(|_| form())
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
