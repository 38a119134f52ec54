//! Sealing of small secrets of the studio itself, such as those of webhooks.
//!
//! The key is derived from the secret in the key ring that outlives a change of
//! the studio's key; the key ring is sealed under the studio's key. So a new
//! studio key means rewriting no record, and without it nothing opens.

use super::{
    Bytes, Space,
    record::HashKey,
    seal::{self, Entropy, SealError, Sealed},
};

/// Seals and opens values of the studio. Has no `Debug`, so that it cannot be logged.
#[derive(Clone)]
pub struct StudioSeal(HashKey);

impl StudioSeal {
    /// A seal under this key, which must be secret and random.
    #[must_use]
    pub fn new(key: HashKey) -> Self {
        Self(key)
    }

    /// Seals a value for the record under `key` in `space`; it opens there and nowhere else.
    ///
    /// # Errors
    /// [`SealError::NoEntropy`], [`SealError::Unsealable`].
    pub fn seal(
        &self,
        (space, key): (Space, &[u8]),
        value: &[u8],
        entropy: &mut Entropy<'_>,
    ) -> Result<Sealed, SealError> {
        let sealed = seal::seal(self.0.bytes(), &bound(space, key), value, entropy)?;
        Ok(Sealed::from_bytes(sealed))
    }

    /// Opens a value.
    ///
    /// # Errors
    /// [`SealError::Unopened`].
    pub fn open(&self, (space, key): (Space, &[u8]), sealed: &Sealed) -> Result<Bytes, SealError> {
        seal::open(self.0.bytes(), &bound(space, key), sealed.bytes())
    }
}

fn bound(space: Space, key: &[u8]) -> Bytes {
    let mut out = Bytes::new();
    for part in [space.name().as_bytes(), key] {
        // The length first, so that no part can run over into the next.
        out.extend_from_slice(&(part.len() as u64).to_be_bytes());
        out.extend_from_slice(part);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::seal::test_entropy;

    #[test]
    fn a_sealed_value_opens_in_its_place_only() {
        const SPACE: Space = Space::new("subscriptions");
        let seal = StudioSeal::new(HashKey::new([7; 32]));
        let sealed = seal.seal((SPACE, b"a"), b"secret", &mut test_entropy(1)).unwrap();
        assert!(!sealed.bytes().windows(6).any(|w| w == b"secret"));
        assert_eq!(seal.open((SPACE, b"a"), &sealed), Ok(b"secret".to_vec()));
        for (what, seal, space, key) in [
            ("another record", seal.clone(), SPACE, b"b"),
            ("another space", seal.clone(), Space::new("other"), b"a"),
            ("another key", StudioSeal::new(HashKey::new([8; 32])), SPACE, b"a"),
        ] {
            assert_eq!(seal.open((space, key), &sealed), Err(SealError::Unopened), "{what}");
        }
    }
}
