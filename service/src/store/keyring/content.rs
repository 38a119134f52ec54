//! What the file of the key ring holds, and how a client's key is wrapped.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::KeyringError;
use crate::store::Bytes;
use crate::store::record::hex;
use crate::store::seal::{self, ClientId, ClientKey, Entropy, NoEntropy, draw};
use crate::store::studio_key::unhex;

const BUCKETS: usize = 256;
const FIRST_GENERATION: u32 = 1;

/// What the file holds.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Content {
    /// Root of the keyed hashes in index keys and cursors, hexadecimal.
    pub(super) index: String,
    pub(super) buckets: Vec<Bucket>,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Bucket {
    pub(super) current: BucketKey,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) next: Option<BucketKey>,
}

/// A key of a bucket, as one generation has it.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::store) struct BucketKey {
    pub(in crate::store) generation: u32,
    /// 64 hexadecimal digits.
    pub(in crate::store) key: String,
}

impl Content {
    pub(super) fn new(index: [u8; 32], entropy: &mut Entropy<'_>) -> Result<Self, NoEntropy> {
        let bucket = |_| {
            let key = hex(&draw::<32>(entropy)?);
            let current = BucketKey { generation: FIRST_GENERATION, key };
            Ok(Bucket { current, next: None })
        };
        let buckets = (0..BUCKETS).map(bucket).collect::<Result<_, NoEntropy>>()?;
        Ok(Self { index: hex(&index), buckets })
    }

    /// Grows with every erasure: of two rings of one studio the older has the smaller one.
    pub(super) fn age(&self) -> u64 {
        self.buckets.iter().map(|bucket| u64::from(bucket.current.generation)).sum()
    }

    pub(super) fn checked(self) -> Option<Self> {
        let keys = self.buckets.iter().flat_map(|b| [Some(&b.current), b.next.as_ref()]).flatten();
        let sound = keys.map(|k| &k.key).chain([&self.index]).all(|key| unhex(key).is_some());
        (sound && self.buckets.len() == BUCKETS).then_some(self)
    }
}

/// The data key of `client`, wrapped under a bucket key.
pub(in crate::store) fn wrap(
    bucket_key: &BucketKey,
    client: &ClientId,
    key: &ClientKey,
    entropy: &mut Entropy<'_>,
) -> Result<Bytes, KeyringError> {
    let generation = bucket_key.generation;
    let wrapping = unhex(&bucket_key.key).ok_or(KeyringError::Unopened)?;
    let mut content = key.bytes().to_vec();
    if let Some(at) = key.issued_at() {
        content.extend_from_slice(&at.as_millisecond().to_be_bytes());
    }
    let sealed = seal::seal(&wrapping, &bound(client, generation), &content, entropy)
        .map_err(|_| NoEntropy)?;
    let mut wrapped = generation.to_be_bytes().to_vec();
    wrapped.extend_from_slice(&sealed);
    Ok(wrapped)
}

/// The bucket of a client.
pub(in crate::store) fn bucket_of(client: &ClientId) -> u8 {
    client.bytes()[0]
}

/// The key of [`CLIENT_KEYS`] for a client: ids begin with their bucket.
pub(in crate::store) fn client_key_key(client: &ClientId) -> Bytes {
    client.bytes().to_vec()
}

/// The generation that a value of [`KEY_EPOCHS`] names.
pub(in crate::store) fn generation_of(epoch: Option<&[u8]>) -> u32 {
    epoch.and_then(|bytes| bytes.try_into().ok()).map_or(FIRST_GENERATION, u32::from_be_bytes)
}

/// The generation that a wrapped key was wrapped under.
pub(in crate::store) fn wrapped_under(wrapped: &[u8]) -> Option<u32> {
    wrapped.first_chunk().copied().map(u32::from_be_bytes)
}

pub(super) fn instant_of(millis: &[u8]) -> Option<Timestamp> {
    Timestamp::from_millisecond(i64::from_be_bytes(millis.try_into().ok()?)).ok()
}

pub(super) fn bound(client: &ClientId, generation: u32) -> Bytes {
    let mut bound = b"client-key".to_vec();
    bound.extend_from_slice(client.bytes());
    bound.extend_from_slice(&generation.to_be_bytes());
    bound
}
