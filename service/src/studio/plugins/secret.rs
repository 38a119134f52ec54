//! The text of a token and the hash under which it is known.

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};

use crate::studio::error::Error;
use crate::studio::moment::Moment;

/// Every token starts with this, so that leaked ones can be searched for.
const PREFIX: &str = "etui_";

/// SHA-256 of a token's text.
pub type TokenDigest = [u8; 32];

/// Makes the text of a token from 32 random bytes.
#[must_use]
pub fn text_of(secret: &[u8; 32]) -> String {
    format!("{PREFIX}{}", BASE64_URL_SAFE_NO_PAD.encode(secret))
}

/// The digest under which a token is known. No salt and no slow hash: 256
/// random bits cannot be guessed, and the digest has to be looked up.
#[must_use]
pub fn digest_of(token: &str) -> TokenDigest {
    Sha256::digest(token.as_bytes()).into()
}

/// Draws a new token.
///
/// # Errors
/// [`Error::Internal`] if there are no random bytes.
pub fn draw(moment: &Moment) -> Result<String, Error> {
    let mut secret = [0; 32];
    moment.sources.fill(&mut secret).map_err(|e| Error::Internal(e.to_string()))?;
    Ok(text_of(&secret))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::record::hex;

    #[test]
    fn a_token_is_its_256_bits_and_is_known_by_their_hash() {
        let text = text_of(&[0xFF; 32]);
        assert_eq!(text, "etui___________________________________________8");
        let digest = hex(&digest_of("abc"));
        // FIPS 180-4, the one-block example of SHA-256.
        assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
