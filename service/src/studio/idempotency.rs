//! Keys under which a write can be repeated safely.
//!
//! Key = hash(holder, method and path, key). The record holds a fingerprint of
//! what the body means ([`meaning`]) and how a repeat is answered. It is written
//! in the same batch as the change, so a repeat never does anything twice.
//!
//! # A repeat is what it was
//!
//! For its 24 hours a repeat has the status and the body of the first answer,
//! whatever became of the record since. So nothing is read from a record that can
//! change or go ([`Repeat`]):
//!
//! - an answer with nothing of a client in it lies here, as it was given; one
//!   with a secret that is shown once, without it;
//! - what is sealed under a client's key must not lie here open. Records that are
//!   made once and never changed (checks, treatments, their entries) are named,
//!   and the answer is the one that was sealed with them;
//! - where the record changes or is deleted (calendars, claimed reminders), a copy
//!   of it as it was written lies here: what is sealed of it stays sealed, under
//!   the same key, and what follows from the studio's key, such as the secret
//!   path of a calendar, is made anew.
//!
//! An erasure destroys the client's key and reaches every one of them at once. What
//! is asked for afterwards is [`Error::Erased`]; of a claim for many clients the
//! others' reminders are given all the same.
//!
//! | space | key | value |
//! |---|---|---|
//! | `idempotency` | hash | fingerprint, how a repeat is answered, until when |
//! | `idempotency-by-end` | until when, hash | – |

use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use serde_json::{Number, Value};

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::opener::{Opener, Verified};
use super::plan::{Planned, Repeat};
use crate::store::index::Index;
use crate::store::record::{Record, RecordError, decode, encode, of_first};
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Read, Space};

/// The records.
pub const ATTEMPTS: Space = Space::new("idempotency");
/// Hashes by the end of their time.
pub const BY_END: Index<(Timestamp, [u8; 32])> = Index::new("idempotency-by-end");
/// How long a key is remembered.
pub const KEPT: SignedDuration = SignedDuration::from_hours(24);
/// Attempts that one batch forgets.
const FORGOTTEN: usize = 100;

/// A repeatable request.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Hash of holder, operation and key.
    pub key: [u8; 32],
    /// Hash of what the body means.
    pub fingerprint: [u8; 32],
    /// Hash of its bytes, by which builds before this one told bodies apart.
    pub of_bytes: [u8; 32],
}

impl Attempt {
    /// The attempt of one caller with one key at one place.
    #[must_use]
    pub fn new(studio: &Studio, holder: &str, place: &str, key: &str, body: &[u8]) -> Self {
        let parts: [&[u8]; 3] = [holder.as_bytes(), place.as_bytes(), key.as_bytes()];
        Self {
            key: studio.index_key.hash("idempotency", &parts),
            fingerprint: studio.index_key.hash("meaning", &[&meaning(body)]),
            of_bytes: studio.index_key.hash("fingerprint", &[body]),
        }
    }
}

/// What became of an earlier attempt.
#[derive(Debug)]
pub enum Earlier {
    /// There was none, or it is too old. The stored value, for the precondition.
    None(Option<Bytes>),
    /// The same request was answered with this.
    Answered(Repeated),
    /// The key was used for another request.
    Other,
}

/// The answer to repeat.
#[derive(Debug)]
pub struct Repeated {
    /// Whether something new came to be.
    pub created: bool,
    /// Path of the record.
    pub location: Option<String>,
    /// How to get the answer.
    pub how: Kept,
}

/// Where the answer lies.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kept {
    /// Here.
    Answer(String),
    /// With a record: the name of its space and its key.
    Record(String, Bytes),
    /// In a copy of a record as it was written: the name of its space, and the copy.
    Copy(String, String),
}

/// An attempt as stored.
#[derive(Debug, Serialize, Deserialize)]
pub struct StoredAttempt {
    fingerprint: [u8; 32],
    created: bool,
    location: Option<String>,
    kept: Kept,
    until: Instant,
}

impl Record for StoredAttempt {
    const KIND: &'static str = "attempt";
    /// 2: there are copies of records.
    const VERSION: u32 = 2;

    fn upgrade(version: u32, data: Value) -> Result<Self, RecordError> {
        of_first(version, data)
    }
}

/// Looks for an earlier attempt.
///
/// # Errors
/// What the store met.
pub async fn earlier<R: Read>(
    snap: &mut R,
    attempt: &Attempt,
    now: Timestamp,
) -> Result<Earlier, Error> {
    let Some(bytes) = snap.get(ATTEMPTS, &attempt.key).await? else {
        return Ok(Earlier::None(None));
    };
    let StoredAttempt { fingerprint, created, location, kept, until } = decode(&bytes)?;
    if until.0 <= now {
        return Ok(Earlier::None(Some(bytes)));
    }
    if fingerprint != attempt.fingerprint && fingerprint != attempt.of_bytes {
        return Ok(Earlier::Other);
    }
    Ok(Earlier::Answered(Repeated { created, location, how: kept }))
}

/// Adds the memory of this attempt to the batch it belongs to.
///
/// # Errors
/// [`Error::Internal`] if the record cannot be written down.
pub fn remember(
    attempt: &Attempt,
    held: Option<Bytes>,
    planned: &Planned,
    now: Timestamp,
) -> Result<Batch, Error> {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let kept = match &planned.repeat {
        Repeat::Answer => Kept::Answer(text(&planned.answer)),
        Repeat::Instead(shown) => Kept::Answer(text(shown)),
        Repeat::Record(space, key) => Kept::Record(space.name().to_owned(), key.clone()),
        Repeat::Copy(space, record) => Kept::Copy(space.name().to_owned(), text(record)),
    };
    let stored = StoredAttempt {
        fingerprint: attempt.fingerprint,
        created: planned.created,
        location: planned.location.clone(),
        kept,
        until: Instant(now.checked_add(KEPT).unwrap_or(Timestamp::MAX)),
    };
    let mut batch = planned.batch.clone();
    if let Some(old) = &held {
        // Its time is over, and the key is used anew.
        batch = batch.without(row(&attempt.key, &decode(old)?));
    }
    let batch = batch.with(row(&attempt.key, &stored), Vec::new());
    Ok(batch.expect(ATTEMPTS, attempt.key, held).put(ATTEMPTS, attempt.key, encode(&stored)?))
}

impl Verified for StoredAttempt {
    const SPACE: Space = ATTEMPTS;
    // Keys from before they were forgotten have no row.
    const INDEXES: &'static [Indexed] = &[Indexed::Part(BY_END.space())];

    fn rows(&self, key: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        let key = key.try_into().map_err(|_| "its key is not a hash".to_owned())?;
        Ok(vec![row(key, self)])
    }
}

/// The index row of an attempt.
fn row(key: &[u8; 32], stored: &StoredAttempt) -> (Space, Bytes) {
    BY_END.row(&(stored.until.0, *key))
}

/// A batch that forgets attempts whose time is over; `None` if there is none.
///
/// # Errors
/// What the store met.
pub async fn forget(snap: &mut Snap, now: Timestamp) -> Result<Option<Batch>, Error> {
    let over = BY_END.before(&(now,)).most(snap, FORGOTTEN).await?;
    if over.is_empty() {
        return Ok(None);
    }
    let keys: Vec<Bytes> = over.iter().map(|(_, key)| key.to_vec()).collect();
    let held = snap.get_many(ATTEMPTS, &keys).await?;
    let mut batch = Batch::new();
    for (row, held) in over.iter().zip(held) {
        batch = batch.expect(ATTEMPTS, row.1, held).del(ATTEMPTS, row.1);
        batch = batch.without(BY_END.row(row));
    }
    Ok(Some(batch))
}

/// What a JSON body means: its members in one order, its numbers in one form, no
/// white space. What is no JSON means its bytes.
fn meaning(body: &[u8]) -> Bytes {
    match serde_json::from_slice(body) {
        Ok(value) => plain(value).to_string().into_bytes(),
        Err(_) => body.to_vec(),
    }
}

/// A value with its members in one order and its numbers in one form.
#[must_use]
pub fn plain(value: Value) -> Value {
    match value {
        Value::Object(members) => {
            let mut members: serde_json::Map<String, Value> =
                members.into_iter().map(|(name, member)| (name, plain(member))).collect();
            members.sort_keys();
            Value::Object(members)
        }
        Value::Array(items) => Value::Array(items.into_iter().map(plain).collect()),
        Value::Number(number) => number_of(number),
        other @ (Value::Null | Value::Bool(_) | Value::String(_)) => other,
    }
}

/// `1.0` and `1e0` are 1.
fn number_of(number: Number) -> Value {
    let whole = number.as_f64().filter(|float| number.is_f64() && float.fract() == 0.0);
    // Adding nothing makes 0 of -0.
    let digits = whole.map(|whole| format!("{:.0}", whole + 0.0));
    let read = digits.and_then(|digits| digits.parse::<Number>().ok());
    Value::Number(read.unwrap_or(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bodies_are_told_apart_by_what_they_mean() {
        let body = r#"{"a":1,"b":[1,2.5,{"c":null,"d":"x"}]}"#;
        for (other, same) in [
            (body, true),
            (" {\n\"a\" : 1, \"b\":[1, 2.5, {\"c\":null,\"d\":\"x\"}]}\n", true),
            (r#"{"b":[1,2.5,{"d":"x","c":null}],"a":1}"#, true),
            (r#"{"a":1.0,"b":[1e0,25e-1,{"c":null,"d":"\u0078"}]}"#, true),
            (r#"{"a":"1","b":[1,2.5,{"c":null,"d":"x"}]}"#, false),
            (r#"{"a":["1"],"b":[1,2.5,{"c":null,"d":"x"}]}"#, false),
            (r#"{"a":1,"b":[2.5,1,{"c":null,"d":"x"}]}"#, false),
            (r#"{"a":1,"b":[1,2.5,{"d":"x"}]}"#, false),
            (r#"{"a":1,"b":[1,2.5000001,{"c":null,"d":"x"}]}"#, false),
            (r#"{"a":1,"b":[1,2.5,{"c":null,"d":"X"}]}"#, false),
            ("", false),
        ] {
            assert_eq!(meaning(body.as_bytes()) == meaning(other.as_bytes()), same, "{other}");
        }
        let sames = [("0", "-0.0"), ("100000000000000000000", "1e20"), ("-3", "-3.00")];
        for (one, other) in sames {
            assert_eq!(meaning(one.as_bytes()), meaning(other.as_bytes()), "{one}, {other}");
        }
        assert_ne!(meaning(b"9007199254740993"), meaning(b"9007199254740992"));
        assert_ne!(meaning(b"not json"), meaning(b" not json"));
    }

    #[test]
    fn attempts_of_former_builds_are_read() {
        let old = br#"{"v":1,"kind":"attempt","data":{"fingerprint":[0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0],"created":true,"location":null,"kept":{"record":["checks",[1,2]]},"until":"2027-03-17T08:00:00Z"}}"#;
        let read: StoredAttempt = decode(old).expect("an attempt");
        assert!(
            matches!(read.kept, Kept::Record(space, key) if space == "checks" && key == [1, 2])
        );
    }
}
