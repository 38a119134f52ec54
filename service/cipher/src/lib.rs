//! XChaCha20-Poly1305 without type parameters.
//!
//! The library's own functions are generic, and so compiled as its caller is: the service, for size.
//! A check seals tens of kilobytes, which took a sixth of its time so. What is not generic is
//! compiled here, for speed.

use chacha20poly1305::aead::{Aead, Payload};
use chacha20poly1305::{Key, KeyInit, XChaCha20Poly1305, XNonce};

/// Bytes of a key.
pub const KEY: usize = 32;
/// Bytes of a nonce.
pub const NONCE: usize = 24;

/// Seals bytes under a key and a nonce that are used together once, bound to `bound`; `None` if they
/// are more than the cipher can take (256 GB).
#[must_use]
pub fn encrypt(
    key: &[u8; KEY],
    nonce: &[u8; NONCE],
    bound: &[u8],
    value: &[u8],
) -> Option<Vec<u8>> {
    let payload = Payload { msg: value, aad: bound };
    cipher(key).encrypt(&XNonce::from(*nonce), payload).ok()
}

/// Opens what [`encrypt`] sealed; `None` if it was sealed otherwise or has changed.
#[must_use]
pub fn decrypt(
    key: &[u8; KEY],
    nonce: &[u8; NONCE],
    bound: &[u8],
    sealed: &[u8],
) -> Option<Vec<u8>> {
    let payload = Payload { msg: sealed, aad: bound };
    cipher(key).decrypt(&XNonce::from(*nonce), payload).ok()
}

fn cipher(key: &[u8; KEY]) -> XChaCha20Poly1305 {
    XChaCha20Poly1305::new(&Key::from(*key))
}
