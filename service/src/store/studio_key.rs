//! The studio's key: the one secret that everything sealed rests on.
//!
//! It comes from an environment variable (handed in by the caller) or lies in
//! the file `studio-key` of the data folder, mode 0600: 32 bytes, as 64
//! hexadecimal digits or as base64url. It seals nothing but the key ring and the
//! keys of backups, so a new one means rewriting those small files and no record.

use std::{fs, io, io::Write, path::Path};

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};

use super::{
    files,
    record::{HashKey, hex},
    seal::{Entropy, NoEntropy, draw},
};

/// Name of the file in the data folder.
pub const FILE: &str = "studio-key";
/// Name of the file of the key ring, which lies under this key.
pub const KEYRING_FILE: &str = "keyring";
/// Where a new key waits until everything is sealed under it.
pub(super) const NEXT_FILE: &str = "studio-key.next";

/// The studio's key. Has no `Debug`, so that it cannot be logged.
#[derive(Clone)]
pub struct StudioKey(HashKey);

/// Why there is no studio key.
#[derive(Debug, thiserror::Error)]
pub enum StudioKeyError {
    /// The text is no key.
    #[error(
        "the studio key must be 32 bytes, as 64 hexadecimal digits or as 43 characters of base64url"
    )]
    Form,
    /// There are sealed data, but no key to open them with.
    #[error(
        "the studio key is missing, and the data were sealed under one: put the file \
         `studio-key` back, or set ETUI_STUDIO_KEY"
    )]
    Missing,
    /// No random bytes for a new key.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
    /// The file system refuses.
    #[error("the studio key cannot be read or written")]
    Io(#[from] io::Error),
}

impl StudioKey {
    /// A key of these bytes, which must be secret and random.
    #[must_use]
    pub fn new(bytes: [u8; 32]) -> Self {
        Self(HashKey::new(bytes))
    }

    /// Reads 64 hexadecimal digits, or 43 characters of base64url (a `=` behind them is allowed);
    /// white space around them is allowed.
    ///
    /// # Errors
    /// [`StudioKeyError::Form`].
    pub fn parse(text: &str) -> Result<Self, StudioKeyError> {
        let text = text.trim();
        let bytes = || {
            let bytes = URL_SAFE_NO_PAD.decode(text.trim_end_matches('=')).ok()?;
            bytes.try_into().ok()
        };
        unhex(text).or_else(bytes).map(Self::new).ok_or(StudioKeyError::Form)
    }

    /// The key given from outside (`text`, of the environment variable), else the one in the data
    /// folder, else a new one, written there. A new one is made only where nothing is sealed yet.
    ///
    /// # Errors
    /// Any [`StudioKeyError`].
    pub fn find_or_make(
        dir: &Path,
        text: Option<&str>,
        entropy: &mut Entropy<'_>,
    ) -> Result<Self, StudioKeyError> {
        if let Some(text) = text {
            return Self::parse(text);
        }
        files::create_private_dir(dir)?;
        if let Some(key) = Self::read(&dir.join(FILE))? {
            return Ok(key);
        }
        if dir.join(KEYRING_FILE).exists() {
            return Err(StudioKeyError::Missing);
        }
        let key = Self::new(draw(entropy)?);
        key.write(&dir.join(FILE))?;
        Ok(key)
    }

    pub(super) fn read(path: &Path) -> Result<Option<Self>, StudioKeyError> {
        match fs::read_to_string(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            text => {
                files::make_file_private(path)?;
                Self::parse(&text?).map(Some)
            }
        }
    }

    pub(super) fn write(&self, path: &Path) -> io::Result<()> {
        let text = format!("{}\n", hex(self.0.bytes()));
        files::replace(path, |file| file.write_all(text.as_bytes()))
    }

    /// A short name of the key, from which it cannot be told: says which key sealed a file.
    #[must_use]
    pub fn name(&self) -> String {
        hex(&self.0.hash("name", &[])[..8])
    }

    /// The key for one purpose.
    pub(super) fn purpose(&self, purpose: &str) -> [u8; 32] {
        *self.0.derive(purpose).bytes()
    }
}

/// 32 bytes from 64 hexadecimal digits.
pub(super) fn unhex(text: &str) -> Option<[u8; 32]> {
    let digits: Vec<u8> = text
        .chars()
        .map(|c| c.to_digit(16).and_then(|d| u8::try_from(d).ok()))
        .collect::<Option<_>>()?;
    let bytes: Vec<u8> = digits.chunks_exact(2).map(|pair| pair[0] << 4 | pair[1]).collect();
    if digits.len() == 64 { bytes.try_into().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::{super::seal::test_entropy, *};

    #[test]
    fn a_key_is_32_bytes_in_either_form() {
        let digits = StudioKey::parse(&"ab".repeat(32)).unwrap();
        let text = format!("{}=\n", URL_SAFE_NO_PAD.encode([0xab; 32]));
        assert_eq!(StudioKey::parse(&text).unwrap().name(), digits.name());
        for (text, good) in [
            ("00".repeat(32), true),
            (format!(" {}\n", "Ab".repeat(32)), true),
            ("0".repeat(63), false),
            ("0".repeat(66), false),
            ("0g".repeat(32), false),
            (String::new(), false),
            (URL_SAFE_NO_PAD.encode([7; 31]), false),
            (URL_SAFE_NO_PAD.encode([7; 33]), false),
            ("+".repeat(43), false),
        ] {
            assert_eq!(StudioKey::parse(&text).is_ok(), good, "text {text:?}");
        }
    }

    #[test]
    fn a_key_is_made_once_and_never_where_data_are_sealed() {
        let dir = tempfile::tempdir().unwrap();
        let mut entropy = test_entropy(1);
        let mut find = |text: Option<&str>| StudioKey::find_or_make(dir.path(), text, &mut entropy);
        let made = find(None).unwrap();
        assert_eq!(find(None).unwrap().name(), made.name());
        let given = "0a".repeat(32);
        assert_ne!(find(Some(&given)).unwrap().name(), made.name());
        fs::write(dir.path().join(KEYRING_FILE), "{}").unwrap();
        fs::remove_file(dir.path().join(FILE)).unwrap();
        assert!(matches!(find(None), Err(StudioKeyError::Missing)));
    }
}
