//! How much a plug-in may ask for: requests a minute and requests a day.
//!
//! The minute is a bucket of as many requests as a minute has, which fills
//! evenly: whoever has been quiet may ask for a minute's worth at once, and
//! goes on at the even rate. It is kept as the one moment at which the bucket
//! is whole again. The day is a count that begins anew at midnight of the
//! studio's zone. Both are the plug-in's and not a token's, so that more tokens
//! are not more requests. They live in memory: a restart begins anew.
//!
//! A request that is refused costs nothing. What is left is told with every
//! answer (draft-ietf-httpapi-ratelimit-headers-10): `t` is the number of
//! seconds until there is more.

use std::fmt;
use std::sync::{Arc, Mutex};

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

const POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
const LEFT: HeaderName = HeaderName::from_static("ratelimit");

const MINUTE: SignedDuration = SignedDuration::from_mins(1);
/// The usual length of a day, for the headers.
const DAY: SignedDuration = SignedDuration::from_hours(24);

/// The limits of one plug-in, and what it has used of them.
#[derive(Debug)]
pub(crate) struct Meter {
    per_minute: Option<u32>,
    per_day: Option<u32>,
    spent: Mutex<Spent>,
}

#[derive(Debug, Clone)]
struct Spent {
    /// When the minute's bucket is whole again.
    whole_at: Timestamp,
    day: Date,
    on_day: u32,
}

/// One limit as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Share {
    name: &'static str,
    quota: u32,
    window: SignedDuration,
    left: u32,
    /// Until there is more.
    more_in: SignedDuration,
}

/// How a plug-in stands with its limits after a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Standing {
    shares: Vec<Share>,
    refused: bool,
}

impl Meter {
    pub(crate) fn new(per_minute: Option<u32>, per_day: Option<u32>) -> Self {
        let spent = Spent { whole_at: Timestamp::MIN, day: Date::MIN, on_day: 0 };
        Self { per_minute, per_day, spent: Mutex::new(spent) }
    }

    /// This meter, or one of other limits that has spent what this one has.
    pub(crate) fn with(
        self: &Arc<Self>,
        per_minute: Option<u32>,
        per_day: Option<u32>,
    ) -> Arc<Self> {
        if (self.per_minute, self.per_day) == (per_minute, per_day) {
            return self.clone();
        }
        let next = Self::new(per_minute, per_day);
        if let (Ok(spent), Ok(mut carried)) = (self.spent.lock(), next.spent.lock()) {
            carried.clone_from(&spent);
        }
        Arc::new(next)
    }

    /// Takes one request off, if every limit has one left. `None` for a
    /// plug-in without limits.
    pub(crate) fn take(&self, now: Timestamp, zone: &TimeZone) -> Option<Standing> {
        if self.per_minute.is_none() && self.per_day.is_none() {
            return None;
        }
        let mut spent = self.spent.lock().ok()?;
        // What a clock that ran ahead for a while has left is no longer than the bucket is.
        spent.whole_at = spent.whole_at.min(later(now, MINUTE));
        let today = zone.to_datetime(now).date();
        if spent.day != today {
            (spent.day, spent.on_day) = (today, 0);
        }
        let before = self.shares(&spent, now, zone);
        if before.iter().any(|share| share.left == 0) {
            return Some(Standing { shares: before, refused: true });
        }
        spent.on_day += 1;
        if let Some(quota) = self.per_minute {
            spent.whole_at = later(spent.whole_at.max(now), unit(quota));
        }
        Some(Standing { shares: self.shares(&spent, now, zone), refused: false })
    }

    fn shares(&self, spent: &Spent, now: Timestamp, zone: &TimeZone) -> Vec<Share> {
        let minute = self.per_minute.map(|quota| in_minute(quota, spent.whole_at, now));
        let day = self.per_day.map(|quota| Share {
            name: "day",
            quota,
            window: DAY,
            left: quota.saturating_sub(spent.on_day),
            more_in: until_midnight(now, zone),
        });
        minute.into_iter().chain(day).collect()
    }
}

/// The time in which one request comes back.
fn unit(quota: u32) -> SignedDuration {
    MINUTE / i32::try_from(quota).unwrap_or(i32::MAX).max(1)
}

fn in_minute(quota: u32, whole_at: Timestamp, now: Timestamp) -> Share {
    let unit = unit(quota).as_nanos().max(1);
    // A clock that was put back must not make anybody wait longer than a minute.
    let debt = whole_at.duration_since(now).as_nanos().clamp(0, unit * i128::from(quota));
    let taken = (debt + unit - 1) / unit;
    let more_in = if debt == 0 { 0 } else { (debt - 1) % unit + 1 };
    Share {
        name: "minute",
        quota,
        window: MINUTE,
        left: quota.saturating_sub(u32::try_from(taken).unwrap_or(u32::MAX)),
        more_in: SignedDuration::from_nanos(i64::try_from(more_in).unwrap_or(i64::MAX)),
    }
}

fn until_midnight(now: Timestamp, zone: &TimeZone) -> SignedDuration {
    let today = zone.to_datetime(now).date();
    let midnight = today.tomorrow().map(|date| date.at(0, 0, 0, 0));
    let next = midnight.and_then(|at| zone.to_ambiguous_timestamp(at).compatible());
    next.map_or(DAY, |next| next.duration_since(now))
}

fn later(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.checked_add(by).unwrap_or(Timestamp::MAX)
}

/// Whole seconds, rounded up: who waits that long has waited long enough.
fn seconds(duration: SignedDuration) -> i64 {
    let whole = duration.as_secs();
    if 0 < duration.subsec_nanos() { whole + 1 } else { whole }
}

impl Standing {
    /// The limit that refused the request; of two the one that does so longest.
    pub(crate) fn refusal(&self) -> Option<Refusal<'_>> {
        let spent = self.shares.iter().filter(|share| self.refused && share.left == 0);
        spent.max_by_key(|share| share.more_in).map(Refusal)
    }

    /// Says how the plug-in stands.
    pub(crate) fn tell(&self, headers: &mut HeaderMap) {
        let list = |one: fn(&Share) -> String| {
            let text = self.shares.iter().map(one).collect::<Vec<_>>().join(", ");
            HeaderValue::from_str(&text).ok()
        };
        let policy = list(|s| format!("\"{}\";q={};w={}", s.name, s.quota, seconds(s.window)));
        let left = list(|s| format!("\"{}\";r={};t={}", s.name, s.left, seconds(s.more_in)));
        for (name, value) in [(POLICY, policy), (LEFT, left)] {
            if let Some(value) = value {
                headers.insert(name, value);
            }
        }
    }
}

/// Why a request was refused.
#[derive(Debug)]
pub(crate) struct Refusal<'s>(&'s Share);

impl Refusal<'_> {
    /// Seconds after which a request will be taken.
    pub(crate) fn retry_after(&self) -> String {
        seconds(self.0.more_in).to_string()
    }
}

impl fmt::Display for Refusal<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Share { name, quota, .. } = self.0;
        write!(f, "the plug-in may ask for {quota} requests a {name}, and has")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn berlin() -> TimeZone {
        TimeZone::get("Europe/Berlin").unwrap()
    }

    fn told(standing: &Standing) -> (String, String) {
        let mut headers = HeaderMap::new();
        standing.tell(&mut headers);
        let text = |name| headers.get(&name).unwrap().to_str().unwrap().to_owned();
        (text(POLICY), text(LEFT))
    }

    #[test]
    fn without_limits_nothing_is_told() {
        assert_eq!(Meter::new(None, None).take(at("2027-03-16T08:00:00Z"), &berlin()), None);
    }

    // The forms of draft-ietf-httpapi-ratelimit-headers-10.
    #[test]
    fn a_minute_is_a_bucket_that_fills_evenly() {
        let meter = Meter::new(Some(3), None);
        let start = at("2027-03-16T08:00:00Z");
        let take = |s: i64| meter.take(start + SignedDuration::from_secs(s), &berlin()).unwrap();
        for (second, refused, left, t) in [
            (0, false, 2, 20),
            (0, false, 1, 20),
            (5, false, 0, 15),
            (5, true, 0, 15),
            (19, true, 0, 1),
            (20, false, 0, 20),
            (39, true, 0, 1),
            (70, false, 1, 10),
            (3600, false, 2, 20),
        ] {
            let standing = take(second);
            assert_eq!(standing.refusal().is_some(), refused, "at {second} s");
            let (policy, now) = told(&standing);
            assert_eq!(policy, "\"minute\";q=3;w=60", "at {second} s");
            assert_eq!(now, format!("\"minute\";r={left};t={t}"), "at {second} s");
        }
    }

    #[test]
    fn a_day_ends_at_the_studios_midnight() {
        let meter = Meter::new(None, Some(2));
        let zone = berlin();
        // 22:59:30 in Berlin in winter; midnight is at 23:00 UTC.
        let evening = at("2027-01-10T22:59:30Z");
        assert!(meter.take(evening, &zone).unwrap().refusal().is_none());
        let last = meter.take(evening, &zone).unwrap();
        assert_eq!(told(&last).1, "\"day\";r=0;t=30");
        let refused = meter.take(evening, &zone).unwrap();
        assert_eq!(refused.refusal().unwrap().retry_after(), "30");
        let next = meter.take(at("2027-01-10T23:00:00Z"), &zone).unwrap();
        assert_eq!(told(&next).1, "\"day\";r=1;t=86400");
    }

    #[test]
    fn what_one_limit_refuses_does_not_count_for_the_other() {
        let meter = Meter::new(Some(1), Some(3));
        let (zone, start) = (berlin(), at("2027-03-16T08:00:00Z"));
        assert!(meter.take(start, &zone).unwrap().refusal().is_none());
        for _ in 0..10 {
            let refused = meter.take(start, &zone).unwrap();
            assert_eq!(refused.refusal().unwrap().retry_after(), "60");
            assert!(told(&refused).1.contains("\"day\";r=2"), "{refused:?}");
        }
        // Both spent: the longer wait is told.
        for minute in 1..=2 {
            let later = start + SignedDuration::from_mins(minute);
            assert!(meter.take(later, &zone).unwrap().refusal().is_none());
        }
        let refused = meter.take(start + SignedDuration::from_mins(2), &zone).unwrap();
        let wait: i64 = refused.refusal().unwrap().retry_after().parse().unwrap();
        assert!(3600 < wait, "{refused:?}");
    }

    #[test]
    fn a_clock_that_is_put_back_makes_nobody_wait_longer() {
        let meter = Meter::new(Some(2), None);
        let (zone, start) = (berlin(), at("2027-03-16T08:00:00Z"));
        meter.take(start, &zone);
        meter.take(start, &zone);
        let back = meter.take(start - SignedDuration::from_hours(5), &zone).unwrap();
        assert_eq!(back.refusal().unwrap().retry_after(), "30");
        // Law: who waits as long as was said is let through.
        let mut now = start - SignedDuration::from_hours(5);
        now += SignedDuration::from_secs(60);
        meter.spent.lock().unwrap().whole_at = later(now, MINUTE);
        let wait = meter.take(now, &zone).unwrap().refusal().unwrap().retry_after();
        let then = now + SignedDuration::from_secs(wait.parse().unwrap());
        assert!(meter.take(then, &zone).unwrap().refusal().is_none());
    }
}
