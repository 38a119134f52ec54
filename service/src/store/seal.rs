//! Sealing of health data: XChaCha20-Poly1305 under a key of the client.
//!
//! ```text
//! sealed = 02 | name of the key (8) | nonce (24) | ciphertext and tag
//! former = 01 | nonce (24) | ciphertext and tag
//! ```
//!
//! The associated data are the name of the key and the [`Identity`] of the
//! value: client, space, key and field. A sealed value that was moved to another
//! record, another field or another client does not open. Nonces are random; 24
//! bytes make a repetition unthinkable.
//!
//! # Whose key it was
//!
//! A client who was erased may come back under the same reference, and gets a
//! new key. What was sealed under the destroyed one must then be told as erased,
//! and not as damaged: so each value carries the name of its key, a keyed hash
//! from which the key cannot be told ([`SealError::OtherKey`]). Former values
//! carry none. One of them that does not open was sealed under a destroyed key
//! if it is older than the present one ([`ClientKey::is_after_former`]); else it
//! is damaged.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use jiff::Timestamp;

use super::{
    Bytes, Space,
    record::{HashKey, hex},
};

const FORMER: u8 = 1;
const NAMED: u8 = 2;
const NAME_BYTES: usize = 8;
const NONCE_BYTES: usize = etui_cipher::NONCE;

/// The source of random bytes could not give any.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("no random bytes to be had")]
pub struct NoEntropy;

/// Fills a buffer with unpredictable bytes. Nothing in the store draws any by itself.
pub type Entropy<'a> = dyn FnMut(&mut [u8]) -> Result<(), NoEntropy> + Send + 'a;

/// Draws `N` bytes.
///
/// # Errors
/// [`NoEntropy`].
pub fn draw<const N: usize>(entropy: &mut Entropy<'_>) -> Result<[u8; N], NoEntropy> {
    let mut bytes = [0; N];
    entropy(&mut bytes)?;
    Ok(bytes)
}

/// Why something was not sealed or opened. Says nothing of the value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// It was sealed under another key of the client: one that was destroyed.
    #[error("sealed value belongs to another key")]
    OtherKey,
    /// The bytes are no sealed value, were altered, belong elsewhere or to another key.
    #[error("sealed value does not open: altered, moved, or sealed under another key")]
    Unopened,
    /// The value is too long.
    #[error("value cannot be sealed")]
    Unsealable,
    /// No random bytes.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
}

/// A client's pseudonym inside the store: the keyed hash of the caller's reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClientId([u8; 32]);

impl ClientId {
    /// The pseudonym of these bytes; see
    /// [`Keyring::client_id`](super::keyring::Keyring::client_id).
    #[must_use]
    pub const fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Its bytes, for keys.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Its hexadecimal form, for records and receipts.
    #[must_use]
    pub fn hex(&self) -> String {
        hex(&self.0)
    }
}

/// Which value it is: what a sealed value is bound to.
#[derive(Debug, Clone, Copy)]
pub struct Identity<'a> {
    /// Whose it is.
    pub client: &'a ClientId,
    /// The space of its record.
    pub space: Space,
    /// The key of its record.
    pub key: &'a [u8],
    /// Its field in the record.
    pub field: &'a str,
}

impl Identity<'_> {
    fn bytes(&self) -> Bytes {
        let Self { client, space, key, field } = self;
        let mut out = Bytes::new();
        for part in [client.bytes().as_slice(), space.name().as_bytes(), key, field.as_bytes()] {
            out.extend_from_slice(&(part.len() as u64).to_be_bytes());
            out.extend_from_slice(part);
        }
        out
    }
}

/// A sealed value; in JSON a base64url text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed(Bytes);

impl Sealed {
    /// The sealed bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// Takes bytes for a sealed value; whether they are one shows when it is opened.
    #[must_use]
    pub fn from_bytes(bytes: Bytes) -> Self {
        Self(bytes)
    }

    /// Whether it lies in the form that does not name its key.
    #[must_use]
    pub fn is_former(&self) -> bool {
        self.0.first() == Some(&FORMER)
    }
}

impl Serialize for Sealed {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&URL_SAFE_NO_PAD.encode(&self.0))
    }
}

impl<'de> Deserialize<'de> for Sealed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let bytes = URL_SAFE_NO_PAD.decode(text);
        bytes.map(Self).map_err(|_| serde::de::Error::custom("sealed value is not base64url"))
    }
}

/// The key under which one client's values are sealed. Has no `Debug`, so that it cannot be logged.
#[derive(Clone)]
pub struct ClientKey {
    bytes: [u8; 32],
    issued_at: Option<Timestamp>,
    /// Of a key of a former build: when the client was erased last, which was before it was issued.
    after: Option<Timestamp>,
}

impl ClientKey {
    /// A key of these bytes, which must be secret and random, and when it was issued, to the
    /// millisecond; keys of former builds do not know.
    #[must_use]
    pub fn new(bytes: [u8; 32], issued_at: Option<Timestamp>) -> Self {
        Self { bytes, issued_at, after: None }
    }

    /// A key of a former build, issued after an erasure if there was one.
    #[must_use]
    pub fn former(bytes: [u8; 32], after: Option<Timestamp>) -> Self {
        Self { bytes, issued_at: None, after }
    }

    pub(crate) fn bytes(&self) -> &[u8; 32] {
        &self.bytes
    }

    pub(super) fn issued_at(&self) -> Option<Timestamp> {
        self.issued_at
    }

    /// Whether it was issued when a value of that time was sealed already; such a value was
    /// sealed under an earlier key.
    #[must_use]
    pub fn is_younger_than(&self, sealed_at: Timestamp) -> bool {
        let from = self.issued_at.or(self.after);
        from.is_some_and(|from| sealed_at.as_millisecond() <= from.as_millisecond())
    }

    /// Whether a [`Sealed::is_former`] value of that time was sealed under an earlier key. Whatever
    /// the clock said: a build that notes when a key is issued has every value name it.
    #[must_use]
    pub fn is_after_former(&self, sealed_at: Timestamp) -> bool {
        self.issued_at.is_some() || self.is_younger_than(sealed_at)
    }

    /// Tells the keys of one client apart, and nothing of the key.
    fn name(&self) -> [u8; NAME_BYTES] {
        let hash = HashKey::new(self.bytes).hash("client-key-name", &[]);
        std::array::from_fn(|at| hash[at])
    }

    /// Seals a value.
    ///
    /// # Errors
    /// [`SealError::NoEntropy`], [`SealError::Unsealable`].
    pub fn seal(
        &self,
        identity: &Identity<'_>,
        value: &[u8],
        entropy: &mut Entropy<'_>,
    ) -> Result<Sealed, SealError> {
        let name = self.name();
        let nonce = draw(entropy)?;
        let sealed = encrypt(&self.bytes, &nonce, &named(&name, identity), value)?;
        Ok(Sealed([&[NAMED][..], &name, &nonce, &sealed].concat()))
    }

    /// Opens a value.
    ///
    /// # Errors
    /// [`SealError::OtherKey`], [`SealError::Unopened`].
    pub fn open(&self, identity: &Identity<'_>, sealed: &Sealed) -> Result<Bytes, SealError> {
        let [NAMED, rest @ ..] = sealed.bytes() else {
            return open(&self.bytes, &identity.bytes(), sealed.bytes());
        };
        let (name, rest) = rest.split_first_chunk().ok_or(SealError::Unopened)?;
        let (nonce, sealed) = rest.split_first_chunk().ok_or(SealError::Unopened)?;
        if *name != self.name() {
            return Err(SealError::OtherKey);
        }
        decrypt(&self.bytes, nonce, &named(name, identity), sealed)
    }
}

/// The associated data of a value that names its key.
fn named(name: &[u8; NAME_BYTES], identity: &Identity<'_>) -> Bytes {
    [&name[..], &identity.bytes()].concat()
}

/// Seals bytes under any key, bound to `bound`.
pub(super) fn seal(
    key: &[u8; 32],
    bound: &[u8],
    value: &[u8],
    entropy: &mut Entropy<'_>,
) -> Result<Bytes, SealError> {
    let nonce = draw(entropy)?;
    let sealed = encrypt(key, &nonce, bound, value)?;
    Ok([&[FORMER][..], &nonce, &sealed].concat())
}

/// Opens what [`seal`] sealed.
pub(super) fn open(key: &[u8; 32], bound: &[u8], sealed: &[u8]) -> Result<Bytes, SealError> {
    let [FORMER, rest @ ..] = sealed else { return Err(SealError::Unopened) };
    let (nonce, sealed) = rest.split_first_chunk().ok_or(SealError::Unopened)?;
    decrypt(key, nonce, bound, sealed)
}

/// Seals bytes under a key and a nonce that are used together once.
pub(super) fn encrypt(
    key: &[u8; 32],
    nonce: &[u8; NONCE_BYTES],
    bound: &[u8],
    value: &[u8],
) -> Result<Bytes, SealError> {
    etui_cipher::encrypt(key, nonce, bound, value).ok_or(SealError::Unsealable)
}

/// Opens what [`encrypt`] sealed.
pub(super) fn decrypt(
    key: &[u8; 32],
    nonce: &[u8; NONCE_BYTES],
    bound: &[u8],
    sealed: &[u8],
) -> Result<Bytes, SealError> {
    etui_cipher::decrypt(key, nonce, bound, sealed).ok_or(SealError::Unopened)
}

/// Random bytes for tests: different each time, the same in each run.
#[cfg(test)]
pub(crate) fn test_entropy(seed: u8) -> impl FnMut(&mut [u8]) -> Result<(), NoEntropy> + Send {
    use sha2::{Digest, Sha256};
    let mut count = 0_u64;
    move |out| {
        for chunk in out.chunks_mut(32) {
            count += 1;
            let block = Sha256::new().chain_update([seed]).chain_update(count.to_be_bytes());
            chunk.copy_from_slice(&block.finalize()[..chunk.len()]);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLIENT: ClientId = ClientId::new([1; 32]);
    const HERE: Identity<'_> = Identity {
        client: &CLIENT,
        space: Space::new("checks"),
        key: b"check-1",
        field: "answers",
    };

    // Test vector of draft-irtf-cfrg-xchacha-03, appendix A.3.1: key, nonce, associated data and
    // the tag of the published text.
    #[test]
    fn the_cipher_is_the_published_one() {
        let key: [u8; 32] = std::array::from_fn(|i| 0x80 + u8::try_from(i).unwrap());
        let nonce: [u8; 24] = std::array::from_fn(|i| 0x40 + u8::try_from(i).unwrap());
        let aad = [0x50, 0x51, 0x52, 0x53, 0xC0, 0xC1, 0xC2, 0xC3, 0xC4, 0xC5, 0xC6, 0xC7];
        let text = b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip \
                     for the future, sunscreen would be it.";
        let sealed = seal(&key, &aad, text, &mut |out| {
            out.copy_from_slice(&nonce);
            Ok(())
        });
        let sealed = sealed.unwrap();
        assert_eq!(hex(&sealed[sealed.len() - 16..]), "c0875924c1c7987947deafd8780acf49");
        assert_eq!(hex(&sealed[25..33]), "bd6d179d3e83d43b");
    }

    #[test]
    fn a_value_opens_only_where_it_belongs() {
        let mut entropy = test_entropy(1);
        let key = ClientKey::new([9; 32], None);
        let sealed = key.seal(&HERE, b"pregnant: no", &mut entropy).unwrap();
        assert_eq!(key.open(&HERE, &sealed).unwrap(), b"pregnant: no");
        let other = ClientId::new([2; 32]);
        for (case, identity) in [
            ("another client", Identity { client: &other, ..HERE }),
            ("another space", Identity { space: Space::new("clients"), ..HERE }),
            ("another record", Identity { key: b"check-2", ..HERE }),
            ("another field", Identity { field: "answer", ..HERE }),
            ("parts run together", Identity { key: b"check-1a", field: "nswers", ..HERE }),
        ] {
            assert_eq!(key.open(&identity, &sealed), Err(SealError::Unopened), "{case}");
        }
        assert_eq!(ClientKey::new([8; 32], None).open(&HERE, &sealed), Err(SealError::OtherKey));
        let again = key.seal(&HERE, b"pregnant: no", &mut entropy).unwrap();
        assert_ne!(again, sealed, "a nonce was used twice");
        for at in 0..sealed.bytes().len() {
            let mut altered = sealed.bytes().to_vec();
            altered[at] ^= 1;
            let altered = Sealed::from_bytes(altered);
            let want = if (1..9).contains(&at) { SealError::OtherKey } else { SealError::Unopened };
            assert_eq!(key.open(&HERE, &altered), Err(want), "bit in byte {at}");
        }
        for len in 0..sealed.bytes().len() {
            let cut = Sealed::from_bytes(sealed.bytes()[..len].to_vec());
            assert_eq!(key.open(&HERE, &cut), Err(SealError::Unopened), "cut to {len}");
        }
    }

    #[test]
    fn what_is_sealed_goes_through_text_and_back() {
        let key = ClientKey::new([9; 32], None);
        let sealed = key.seal(&HERE, b"keloid", &mut test_entropy(2)).unwrap();
        let text = serde_json::to_string(&sealed).unwrap();
        assert!(!text.contains("keloid"));
        let back: Sealed = serde_json::from_str(&text).unwrap();
        assert_eq!(key.open(&HERE, &back), Ok(b"keloid".to_vec()));
    }

    #[test]
    fn without_entropy_nothing_is_sealed() {
        let refused = ClientKey::new([9; 32], None).seal(&HERE, b"x", &mut |_| Err(NoEntropy));
        assert_eq!(refused, Err(SealError::NoEntropy(NoEntropy)));
    }
}
