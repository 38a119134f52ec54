//! Checking what arrives at a webhook (Standard Webhooks 1.0).
//!
//! The receiver keeps the secret that the subscription was given, checks every
//! request with [`verify_webhook`] *before* it reads anything else of it, and
//! answers 2xx once it has taken the event. An event may arrive twice; its id is
//! then the same.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use etui_schema::events::Event;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

/// How far the clocks of sender and receiver may differ, as Standard Webhooks
/// recommends; older requests are taken for replayed ones.
pub const TOLERANCE: Duration = Duration::from_secs(5 * 60);

/// Why a request is not to be believed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WebhookError {
    /// A header is missing, stands twice or is not readable.
    #[error("the header `{0}` is missing or unreadable")]
    Header(&'static str),
    /// A secret is not of the form `whsec_…`.
    #[error("a secret is `whsec_` and base64 of 24 to 64 bytes")]
    Secret,
    /// It was sent too long ago: perhaps somebody sends it again.
    #[error("it was sent too long ago")]
    TooOld,
    /// It was sent in the future.
    #[error("it was sent in the future")]
    TooNew,
    /// No signature is that of a secret we know.
    #[error("no signature is good")]
    Signature,
    /// The signature is good, but the body is no event that this crate knows.
    #[error("the body is no event: {0}")]
    Body(String),
}

/// Checks a request and gives the event in it.
///
/// `secrets`: the secret of the subscription, or several while it is being
/// changed over. `headers`: those of the request, names in any case. `body`: the
/// bytes as they came. `now` and `tolerance`: the receiver's clock and
/// [`TOLERANCE`]. Signatures are compared in constant time.
///
/// # Errors
/// [`WebhookError`]: answer 401 or 400 and do nothing else.
///
/// ```
/// use std::time::{Duration, UNIX_EPOCH};
/// use etui_client::webhook::{TOLERANCE, WebhookError, verify_webhook};
///
/// // The example of the reference libraries: the signature is good, but it is no event of ours.
/// let headers = [
///     ("webhook-id", "msg_p5jXN8AQM9LWM0D4loKWxJek"),
///     ("webhook-timestamp", "1614265330"),
///     ("webhook-signature", "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="),
/// ];
/// let now = UNIX_EPOCH + Duration::from_secs(1_614_265_340);
/// let secret = ["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"];
/// let body = br#"{"test": 2432232314}"#;
/// let found = verify_webhook(&secret, headers, body, now, TOLERANCE);
/// assert!(matches!(found, Err(WebhookError::Body(_))));
/// let other = verify_webhook(&secret, headers, b"{}", now, TOLERANCE);
/// assert_eq!(other, Err(WebhookError::Signature));
/// ```
pub fn verify_webhook<'h>(
    secrets: &[impl AsRef<str>],
    headers: impl IntoIterator<Item = (&'h str, &'h str)>,
    body: &[u8],
    now: SystemTime,
    tolerance: Duration,
) -> Result<Event, WebhookError> {
    verify_signature(secrets, headers, body, now, tolerance)?;
    serde_json::from_slice(body).map_err(|error| WebhookError::Body(error.to_string()))
}

/// Checks a request without reading its body, for whoever reads it otherwise.
///
/// # Errors
/// As [`verify_webhook`], [`WebhookError::Body`] aside.
pub fn verify_signature<'h>(
    secrets: &[impl AsRef<str>],
    headers: impl IntoIterator<Item = (&'h str, &'h str)>,
    body: &[u8],
    now: SystemTime,
    tolerance: Duration,
) -> Result<(), WebhookError> {
    let Headers { id, timestamp, signatures } = Headers::of(headers)?;
    let sent = timestamp
        .parse()
        .ok()
        .and_then(|seconds| UNIX_EPOCH.checked_add(Duration::from_secs(seconds)))
        .ok_or(WebhookError::Header(TIMESTAMP))?;
    if now.duration_since(sent).is_ok_and(|age| tolerance < age) {
        return Err(WebhookError::TooOld);
    }
    if sent.duration_since(now).is_ok_and(|ahead| tolerance < ahead) {
        return Err(WebhookError::TooNew);
    }
    let mut good = false;
    for secret in secrets {
        let mac = signed(&bytes_of(secret.as_ref())?, (id, timestamp), body)?;
        for signature in signatures.split(' ').filter_map(|one| one.strip_prefix("v1,")) {
            let Ok(claimed) = BASE64_STANDARD.decode(signature) else { continue };
            // In constant time; and every one is looked at, whichever is good.
            good |= mac.clone().verify_slice(&claimed).is_ok();
        }
    }
    if good { Ok(()) } else { Err(WebhookError::Signature) }
}

const ID: &str = "webhook-id";
const TIMESTAMP: &str = "webhook-timestamp";
const SIGNATURE: &str = "webhook-signature";

struct Headers<'h> {
    id: &'h str,
    timestamp: &'h str,
    signatures: &'h str,
}

impl<'h> Headers<'h> {
    fn of(headers: impl IntoIterator<Item = (&'h str, &'h str)>) -> Result<Self, WebhookError> {
        let (mut id, mut timestamp, mut signatures) = (None, None, None);
        for (name, value) in headers {
            for (wanted, place) in
                [(ID, &mut id), (TIMESTAMP, &mut timestamp), (SIGNATURE, &mut signatures)]
            {
                if name.eq_ignore_ascii_case(wanted) && place.replace(value).is_some() {
                    return Err(WebhookError::Header(wanted));
                }
            }
        }
        Ok(Self {
            id: id.ok_or(WebhookError::Header(ID))?,
            timestamp: timestamp.ok_or(WebhookError::Header(TIMESTAMP))?,
            signatures: signatures.ok_or(WebhookError::Header(SIGNATURE))?,
        })
    }
}

fn bytes_of(secret: &str) -> Result<Vec<u8>, WebhookError> {
    let text = secret.strip_prefix("whsec_").ok_or(WebhookError::Secret)?;
    let bytes = BASE64_STANDARD.decode(text).map_err(|_| WebhookError::Secret)?;
    if (24..=64).contains(&bytes.len()) { Ok(bytes) } else { Err(WebhookError::Secret) }
}

fn signed(
    secret: &[u8],
    (id, timestamp): (&str, &str),
    body: &[u8],
) -> Result<Hmac<Sha256>, WebhookError> {
    let mac = <Hmac<Sha256> as KeyInit>::new_from_slice(secret);
    let mut mac = mac.map_err(|_| WebhookError::Secret)?;
    for part in [id.as_bytes(), b".", timestamp.as_bytes(), b".", body] {
        mac.update(part);
    }
    Ok(mac)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
    const OTHER: &str = "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    const GOOD: &str = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=";
    const BODY: &[u8] = br#"{"test": 2432232314}"#;
    const SENT: u64 = 1_614_265_330;

    fn check(
        secrets: &[&str],
        (id, timestamp, signature): (&str, &str, &str),
        body: &[u8],
        now_s: u64,
    ) -> Result<(), WebhookError> {
        let headers =
            [("Webhook-Id", id), ("WEBHOOK-TIMESTAMP", timestamp), (SIGNATURE, signature)];
        let now = UNIX_EPOCH + Duration::from_secs(now_s);
        verify_signature(secrets, headers, body, now, TOLERANCE)
    }

    /// The vector of the reference libraries of Standard Webhooks (their tests of `sign` and
    /// `verify`), and what may not pass beside it.
    #[test]
    fn only_what_was_signed_just_now_is_believed() {
        const ID: &str = "msg_p5jXN8AQM9LWM0D4loKWxJek";
        let t = "1614265330";
        let (good, bad) = (Ok(()), Err(WebhookError::Signature));
        let two = format!("v1,{} {GOOD}", "A".repeat(43) + "=");
        for (what, secrets, head, body, now_s, want) in [
            ("as published", &[SECRET][..], (ID, t, GOOD), BODY, SENT, good.clone()),
            ("five minutes later", &[SECRET], (ID, t, GOOD), BODY, SENT + 300, good.clone()),
            ("expired", &[SECRET], (ID, t, GOOD), BODY, SENT + 301, Err(WebhookError::TooOld)),
            ("clock behind", &[SECRET], (ID, t, GOOD), BODY, SENT - 300, good.clone()),
            ("future", &[SECRET], (ID, t, GOOD), BODY, SENT - 301, Err(WebhookError::TooNew)),
            ("tampered body", &[SECRET], (ID, t, GOOD), b"{\"test\": 1}", SENT, bad.clone()),
            ("another id", &[SECRET], ("msg_2", t, GOOD), BODY, SENT, bad.clone()),
            ("another time", &[SECRET], (ID, "1614265331", GOOD), BODY, SENT, bad.clone()),
            ("another secret", &[OTHER], (ID, t, GOOD), BODY, SENT, bad.clone()),
            ("one of two secrets", &[OTHER, SECRET], (ID, t, GOOD), BODY, SENT, good.clone()),
            ("one of two signatures", &[SECRET], (ID, t, &two), BODY, SENT, good),
            (
                "another version",
                &[SECRET],
                (ID, t, &GOOD.replace("v1", "v2")),
                BODY,
                SENT,
                bad.clone(),
            ),
            ("cut short", &[SECRET], (ID, t, &GOOD[..20]), BODY, SENT, bad.clone()),
            ("nothing", &[SECRET], (ID, t, ""), BODY, SENT, bad.clone()),
            ("no secret", &[], (ID, t, GOOD), BODY, SENT, bad),
            (
                "no number",
                &[SECRET],
                (ID, "now", GOOD),
                BODY,
                SENT,
                Err(WebhookError::Header(TIMESTAMP)),
            ),
            (
                "a secret that is none",
                &["MfKQ"],
                (ID, t, GOOD),
                BODY,
                SENT,
                Err(WebhookError::Secret),
            ),
            (
                "a short secret",
                &["whsec_MfKQ"],
                (ID, t, GOOD),
                BODY,
                SENT,
                Err(WebhookError::Secret),
            ),
        ] {
            assert_eq!(check(secrets, head, body, now_s), want, "{what}");
        }
    }

    #[test]
    fn every_header_stands_once() {
        let now = UNIX_EPOCH + Duration::from_secs(SENT);
        let all = [(ID, "a"), (TIMESTAMP, "1614265330"), (SIGNATURE, GOOD)];
        for left_out in 0..3 {
            let some = all.iter().enumerate().filter(|(at, _)| *at != left_out).map(|(_, h)| *h);
            let got = verify_signature(&[SECRET], some, BODY, now, TOLERANCE);
            assert_eq!(got, Err(WebhookError::Header(all[left_out].0)));
            let twice = all.iter().copied().chain([all[left_out]]);
            let got = verify_signature(&[SECRET], twice, BODY, now, TOLERANCE);
            assert_eq!(got, Err(WebhookError::Header(all[left_out].0)));
        }
    }
}
