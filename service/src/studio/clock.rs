//! Whether the clock can be believed.
//!
//! A clock that is wrong for a minute must do no harm that lasts. So it is held
//! against two things that do not jump with it: the newest moment in the store,
//! at the start, and the steady time of the process, from then on. From both
//! follows what the clock should say. If it stands behind that by more than
//! [`BEHIND`], or has leapt ahead of it by more than [`AHEAD`], it is in doubt:
//! what cannot be undone is held (messages are neither handed out nor closed as
//! overtaken, nothing is told, forgotten or cleared away by the clock), and times
//! run out by the believed clock. The doubt ends when the clock comes back, when
//! it has stood for [`STANDS`] without another leap, or when the owner says that
//! it is right.
//!
//! A week ahead, and not less: a studio that was closed, or a laptop that slept
//! over the weekend, has leapt too, and rightly.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use etui_schema::problem::FaultCode;
use etui_schema::service::{self as wire, ClockConfirmation, ClockDoubt, ClockDoubtKind};
use etui_schema::vocabulary::{CivilDate, Instant};
use jiff::{SignedDuration, Timestamp};

use super::Studio;
use super::error::Error;
use super::moment::{Moment, Sources};
use super::plan::{Planned, Repeat, to_json};
use crate::store::audit::Link;
use crate::store::{AUDIT, Batch, Bytes, Order, Read};

/// How far behind what it should say a clock is believed.
pub const BEHIND: SignedDuration = SignedDuration::from_mins(15);
/// How far ahead of what it should say a clock is believed.
pub const AHEAD: SignedDuration = SignedDuration::from_hours(7 * 24);
/// How long a clock in doubt must stand without a leap to be believed again.
pub const STANDS: SignedDuration = SignedDuration::from_mins(60);
/// How exactly an owner must name the time to confirm it.
pub const CONFIRMED_WITHIN: SignedDuration = SignedDuration::from_mins(10);

/// The clock as it is believed.
#[derive(Debug, Default)]
pub struct Clock(Mutex<Option<Belief>>);

/// A moment of the clock beside the steady time at which it was read.
#[derive(Debug, Clone, Copy)]
struct Reading {
    wall: Timestamp,
    steady: Duration,
}

#[derive(Debug, Clone, Copy)]
struct Belief {
    believed: Reading,
    /// What the clock said when the doubt began.
    doubted: Option<Reading>,
}

impl Reading {
    /// What the clock should say when so much steady time has passed.
    fn at(self, steady: Duration) -> Timestamp {
        let passed = steady.saturating_sub(self.steady);
        let passed = SignedDuration::try_from(passed).unwrap_or(SignedDuration::MAX);
        self.wall.checked_add(passed).unwrap_or(Timestamp::MAX)
    }

    fn fits(self, now: Self) -> bool {
        let off = now.wall.duration_since(self.at(now.steady));
        -BEHIND <= off && off <= AHEAD
    }

    /// What the clock has done since, apart from going on.
    fn leapt_since(self, now: Self) -> bool {
        BEHIND < now.wall.duration_since(self.at(now.steady)).abs()
    }
}

impl Clock {
    /// Begins with the newest moment that the store knows; without one the clock
    /// is believed.
    pub fn begin(&self, sources: &dyn Sources, newest: Option<Timestamp>) {
        let now = read(sources);
        let believed = Reading { wall: newest.unwrap_or(now.wall), ..now };
        // Standing still for long is no fault of a clock that stands ahead of the newest moment.
        *self.lock() = Some(Belief { believed, doubted: None });
        let _ = self.look(sources);
    }

    /// Looks at the clock; what is doubted, if anything is.
    pub fn look(&self, sources: &dyn Sources) -> Option<ClockDoubt> {
        let now = read(sources);
        let mut held = self.lock();
        let belief = held.get_or_insert(Belief { believed: now, doubted: None });
        if belief.believed.fits(now) {
            *belief = Belief { believed: now, doubted: None };
            return None;
        }
        let since = match belief.doubted {
            Some(since) if !since.leapt_since(now) => since,
            Some(_) | None => now,
        };
        let stood = SignedDuration::try_from(now.steady.saturating_sub(since.steady));
        let left = STANDS.saturating_sub(stood.unwrap_or(STANDS));
        if left <= SignedDuration::ZERO {
            *belief = Belief { believed: now, doubted: None };
            return None;
        }
        belief.doubted = Some(since);
        let should = belief.believed.at(now.steady);
        Some(ClockDoubt {
            kind: (if now.wall < should { ClockDoubtKind::Behind } else { ClockDoubtKind::Ahead })
                .into(),
            believed: Instant(should),
            until: Instant(now.wall.checked_add(left).unwrap_or(Timestamp::MAX)),
        })
    }

    /// The moment by which times run out: `now`, and never ahead of the believed clock.
    pub fn cautious(&self, now: Timestamp, sources: &dyn Sources) -> Timestamp {
        self.look(sources).map_or(now, |doubt| now.min(doubt.believed.0))
    }

    /// The moment by which packs grow old: `now`, and never behind the believed clock.
    pub fn strict(&self, now: Timestamp, sources: &dyn Sources) -> Timestamp {
        self.look(sources).map_or(now, |doubt| now.max(doubt.believed.0))
    }

    /// Refuses what cannot be undone while the clock is in doubt.
    ///
    /// # Errors
    /// [`Error::Held`].
    pub fn check(&self, sources: &dyn Sources) -> Result<(), Error> {
        self.look(sources).map_or(Ok(()), |doubt| Err(Error::Held(in_words(&doubt))))
    }

    /// Believes the clock from now on: somebody says that it is right.
    pub fn believe(&self, sources: &dyn Sources) {
        *self.lock() = Some(Belief { believed: read(sources), doubted: None });
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Option<Belief>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn read(sources: &dyn Sources) -> Reading {
    Reading { wall: sources.now(), steady: sources.steady() }
}

/// The newest moment that the store knows: that of the last entry of the audit trail.
///
/// # Errors
/// What the store met.
pub async fn newest<R: Read>(snap: &mut R) -> Result<Option<Timestamp>, Error> {
    let all = Bytes::new()..Bytes::new();
    let rows = snap.scan(AUDIT, all, Order::Descending, 1).await?;
    let last = rows.first().and_then(|(_, value)| serde_json::from_slice::<Link>(value).ok());
    Ok(last.and_then(|link| link.entry.at.parse().ok()))
}

/// The clock in the words of the wire.
#[must_use]
pub fn told(studio: &Studio, moment: &Moment) -> wire::Clock {
    wire::Clock {
        now: Instant(moment.now),
        today: CivilDate(moment.today),
        doubt: studio.clock.look(moment.sources.as_ref()),
    }
}

/// Plans to note that somebody says the clock is right.
///
/// # Errors
/// [`Error::Refused`] if the time that is named is another.
pub fn confirm(
    studio: &Studio,
    moment: &Moment,
    request: &ClockConfirmation,
) -> Result<Planned, Error> {
    let ClockConfirmation { now: named } = request;
    if CONFIRMED_WITHIN < named.0.duration_since(moment.now).abs() {
        let why = format!("the service's clock says {}; set it right first", moment.now);
        return Err(Error::at("#/now", FaultCode::Contradiction, why));
    }
    let today = studio.zone.rules().to_datetime(moment.now).date();
    let clock = wire::Clock { now: Instant(moment.now), today: CivilDate(today), doubt: None };
    Ok(Planned {
        created: false,
        answer: to_json(&clock)?,
        location: None,
        // On record, so that the next start believes it too.
        batch: Batch::new().audit(moment.entry("clock.confirm", "clock", 0)),
        repeat: Repeat::Answer,
    })
}

/// A doubt in words: what is held, and what ends it.
#[must_use]
pub fn in_words(doubt: &ClockDoubt) -> String {
    let ClockDoubt { kind, believed, until } = doubt;
    let stands = match kind.known() {
        Some(ClockDoubtKind::Ahead) => "has leapt ahead",
        Some(ClockDoubtKind::Behind) => "stands behind",
        None => "is in doubt",
    };
    format!(
        "the clock {stands}: {} was expected; no message is handed out or closed, nothing is told \
         or forgotten by the clock. Set it right; or, if it is right, say so (POST \
         /v1/clock-confirmations), or wait: it is believed at {} if it does not leap again",
        believed.0, until.0
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::http::clock::Scripted;

    const NOW: &str = "2027-03-16T08:00:00Z";

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn what_is_doubted_at_the_start() {
        for (newest, want) in [
            (None, None),
            (Some("2027-03-16T08:10:00Z"), None),
            (Some("2027-03-10T08:00:00Z"), None),
            (Some("2027-03-16T08:20:00Z"), Some(ClockDoubtKind::Behind)),
            (Some("2030-01-01T00:00:00Z"), Some(ClockDoubtKind::Behind)),
            (Some("2027-03-09T07:00:00Z"), Some(ClockDoubtKind::Ahead)),
            (Some("2024-03-09T07:00:00Z"), Some(ClockDoubtKind::Ahead)),
        ] {
            let (clock, sources) = (Clock::default(), Scripted::at(at(NOW)));
            clock.begin(&sources, newest.map(at));
            assert_eq!(
                clock.look(&sources).map(|doubt| doubt.kind),
                want.map(Into::into),
                "newest {newest:?}"
            );
        }
    }

    /// A clock that goes on is believed however far; one that leaps is not, and
    /// is again when it comes back, has stood, or was confirmed.
    #[test]
    fn what_is_doubted_on_the_way() {
        let (clock, sources) = (Clock::default(), Scripted::at(at(NOW)));
        clock.begin(&sources, None);
        sources.set(at("2029-03-16T08:00:00Z"));
        assert_eq!(clock.look(&sources), None, "two years went by");
        sources.leap(at("2032-03-16T08:00:00Z"));
        let doubt = clock.look(&sources).expect("a doubt");
        assert_eq!(doubt.kind, ClockDoubtKind::Ahead);
        assert_eq!(clock.cautious(sources.now(), &sources), at("2029-03-16T08:00:00Z"));
        assert_eq!(clock.strict(sources.now(), &sources), at("2032-03-16T08:00:00Z"));
        sources.set(at("2032-03-16T08:59:00Z"));
        assert!(clock.look(&sources).is_some(), "it has stood for less than an hour");
        sources.leap(at("2033-03-16T08:59:00Z"));
        sources.set(at("2033-03-16T09:30:00Z"));
        assert!(clock.look(&sources).is_some(), "it leapt again");
        sources.leap(at("2029-03-16T09:30:00Z"));
        assert_eq!(clock.look(&sources), None, "it came back");
        sources.leap(at("2029-03-15T09:30:00Z"));
        assert_eq!(
            clock.look(&sources).map(|doubt| doubt.kind),
            Some(ClockDoubtKind::Behind.into())
        );
        assert_eq!(clock.strict(sources.now(), &sources), at("2029-03-16T09:30:00Z"));
        sources.set(at("2029-03-15T10:30:00Z"));
        assert_eq!(clock.look(&sources), None, "it has stood for an hour");
        sources.leap(at("2031-03-15T10:30:00Z"));
        assert!(clock.look(&sources).is_some());
        clock.believe(&sources);
        assert_eq!(clock.look(&sources), None, "the owner said so");
    }
}
