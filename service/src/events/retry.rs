//! When to try again.
//!
//! Waits double from 5 s to 6 h and vary by a fifth either way, so that many
//! deliveries to a receiver that comes back do not arrive at once. After three
//! days of trying a delivery is dead. The numbers are of the order that Standard
//! Webhooks 1.0 recommends (5 s at first, a few days in all).
//!
//! The jitter comes from a hash of delivery and attempt: it is spread like
//! chance, and the same in every run.

use jiff::{SignedDuration, Timestamp};
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// Wait after the first failure.
const FIRST: SignedDuration = SignedDuration::from_secs(5);
/// Longest wait.
const LONGEST: SignedDuration = SignedDuration::from_hours(6);
/// No attempt is put off for longer, its jitter included.
const FARTHEST: SignedDuration = SignedDuration::from_hours(8);
/// How long one delivery is tried, from its first attempt.
const TRIED_FOR: SignedDuration = SignedDuration::from_hours(72);
/// Waits vary by up to this many thousandths either way.
const JITTER_THOUSANDTHS: i64 = 200;

/// When the next attempt is due; `None` if it would be beyond three days.
///
/// `failed` counts the attempts so far, from 1; `asked` is what the receiver
/// asked for with `Retry-After`, honoured up to the longest wait.
#[must_use]
pub fn next(
    id: Uuid,
    failed: u32,
    first_at: Timestamp,
    now: Timestamp,
    asked: Option<SignedDuration>,
) -> Option<Timestamp> {
    let wait = wait(id, failed).max(asked.unwrap_or_default().min(LONGEST));
    let due = now.checked_add(wait).ok()?;
    let end = first_at.checked_add(TRIED_FOR).ok()?;
    (due <= end).then_some(due)
}

/// Whether an attempt is to be made now. One that lies farther ahead than any
/// wait was put off by a clock that ran ahead.
#[must_use]
pub fn is_due(due: Timestamp, now: Timestamp) -> bool {
    due <= now || FARTHEST < due.duration_since(now)
}

fn wait(id: Uuid, failed: u32) -> SignedDuration {
    let doublings = failed.saturating_sub(1).min(16);
    let plain = (FIRST.as_secs() << doublings).min(LONGEST.as_secs());
    let digest = Sha256::new().chain_update(id).chain_update(failed.to_be_bytes()).finalize();
    let spread =
        i64::from(u16::from_be_bytes([digest[0], digest[1]])) % (2 * JITTER_THOUSANDTHS + 1);
    // In milliseconds, so that seconds times thousandths need no division.
    SignedDuration::from_millis(plain * (1000 - JITTER_THOUSANDTHS + spread))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_within_their_jitter_up_to_the_longest() {
        let mut differing = 0;
        for n in 0..200_u128 {
            let id = Uuid::from_u128(n);
            for (failed, plain_s) in
                [(1, 5), (2, 10), (5, 80), (12, 10_240), (13, 20_480), (14, 21_600), (40, 21_600)]
            {
                let got = wait(id, failed).as_millis();
                let (low, high) = (i128::from(plain_s) * 800, i128::from(plain_s) * 1200);
                assert!((low..=high).contains(&got), "{failed}: {got} ms");
                differing += u32::from(got != i128::from(plain_s) * 1000);
            }
        }
        assert!(1300 < differing, "the jitter does not vary: {differing}");
    }

    #[test]
    fn a_clock_that_ran_ahead_puts_nothing_off_for_good() {
        let now: Timestamp = "2027-03-16T08:00:00Z".parse().unwrap();
        for (due, want) in [
            ("2027-03-16T08:00:00Z", true),
            ("2027-03-16T08:00:01Z", false),
            ("2027-03-16T15:12:00Z", false),
            ("2030-03-16T08:00:00Z", true),
        ] {
            assert_eq!(is_due(due.parse().unwrap(), now), want, "{due}");
        }
    }

    #[test]
    fn trying_ends_after_three_days() {
        let begin: Timestamp = "2027-03-16T08:00:00Z".parse().unwrap();
        let id = Uuid::from_u128(7);
        let (mut now, mut failed) = (begin, 1);
        while let Some(due) = next(id, failed, begin, now, None) {
            (now, failed) = (due, failed + 1);
        }
        let hours = now.duration_since(begin).as_hours();
        assert!((64..=72).contains(&hours), "{hours} h");
        assert!((20..=26).contains(&failed), "{failed} attempts");
    }

    #[test]
    fn a_receiver_may_ask_for_a_longer_wait_within_bounds() {
        let begin: Timestamp = "2027-03-16T08:00:00Z".parse().unwrap();
        for (asked_s, want_s) in [(60, 60), (100_000, 21_600)] {
            let asked = Some(SignedDuration::from_secs(asked_s));
            let due = next(Uuid::nil(), 1, begin, begin, asked).unwrap();
            assert_eq!(due.duration_since(begin).as_secs(), want_s, "asked for {asked_s} s");
        }
    }
}
