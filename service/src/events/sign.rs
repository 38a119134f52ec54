//! Signatures of deliveries (Standard Webhooks 1.0).
//!
//! Signed is `id.timestamp.body` with HMAC-SHA-256 under the secret's bytes; the
//! header is `v1,` and the base64 of it. While two secrets are good, both sign,
//! separated by a space.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use uuid::Uuid;

/// Begins the text of every secret.
const PREFIX: &str = "whsec_";
/// Random bytes of a secret; the standard asks for 24 to 64.
pub const SECRET_BYTES: usize = 32;

/// The text of a secret, as its receiver gets it.
#[must_use]
pub fn text_of(secret: &[u8]) -> String {
    format!("{PREFIX}{}", BASE64_STANDARD.encode(secret))
}

/// The value of `webhook-signature` under every secret that is good.
#[must_use]
pub fn signatures(secrets: &[Vec<u8>], id: Uuid, timestamp: i64, body: &[u8]) -> String {
    let id = id.to_string();
    let one = |secret: &Vec<u8>| signature(secret, &id, timestamp, body);
    secrets.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn signature(secret: &[u8], id: &str, timestamp: i64, body: &[u8]) -> String {
    // Every length is a good key for HMAC (RFC 2104, 3): there is no error to meet.
    let Ok(mut mac) = <Hmac<Sha256> as KeyInit>::new_from_slice(secret) else {
        return String::new();
    };
    mac.update(id.as_bytes());
    mac.update(b".");
    mac.update(timestamp.to_string().as_bytes());
    mac.update(b".");
    mac.update(body);
    format!("v1,{}", BASE64_STANDARD.encode(mac.finalize().into_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The vector of the reference libraries of Standard Webhooks (their tests of `sign`).
    #[test]
    fn the_reference_vector_is_signed_as_published() {
        let text = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
        let secret = BASE64_STANDARD.decode(&text[PREFIX.len()..]).unwrap();
        let id = "msg_p5jXN8AQM9LWM0D4loKWxJek";
        let signed = signature(&secret, id, 1_614_265_330, br#"{"test": 2432232314}"#);
        assert_eq!(signed, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=");
        assert_eq!(text_of(&secret), text);
    }

    #[test]
    fn every_good_secret_signs() {
        let (first, second) = (vec![1; 32], vec![2; 32]);
        let one = |secrets: &[Vec<u8>]| signatures(secrets, Uuid::nil(), 1, b"{}");
        let both = one(&[first.clone(), second.clone()]);
        assert_eq!(both, format!("{} {}", one(&[first]), one(&[second])));
    }
}
