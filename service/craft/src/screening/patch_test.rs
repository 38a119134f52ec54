//! Whether a studio's skin test counts for an appointment, and what it shows.
//!
//! A test 24 to 48 hours before catches immediate and gross reactions only:
//! about a third of late reactions appear on day 3 or later. Nor can any patch
//! test show an allergy to tattoo ink reliably (Schubert et al. 2023). So a
//! test that counts always comes with a caution, and *a clear test does not
//! rule out an allergy* is said every time. How long a test counts is common
//! practice; that another batch or brand of pigment wants a new one, too. A test
//! that was looked at sooner than a test may be made at all, or on a day that
//! nobody told, has not been looked at.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::typing::PatchTestLimits;
use crate::words::words;
pub use etui_schema::check_materials::{PatchTestResult as Result, PatchTestStanding as Standing};

/// One skin test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PatchTest {
    /// When it was put on.
    pub made_at: Timestamp,
    /// When it was read, if that is known.
    pub read_at: Option<Timestamp>,
    /// What was seen.
    pub result: Result,
    /// Batch of the pigment tested, if it was recorded.
    pub pigment_batch: Option<String>,
}

/// The appointment a test should count for.
#[derive(Debug, Clone)]
pub struct Appointment<'a> {
    /// Its beginning.
    pub starts_at: Timestamp,
    /// The studio's time zone, in which validity is counted.
    pub zone: &'a TimeZone,
    /// Batch of the pigment that will be used, if it is known.
    pub pigment_batch: Option<&'a str>,
}

words! {
    /// What must be said with a test.
    Caution {
        /// A clear test does not rule out an allergy. Said with every test.
        DoesNotRuleOut = "does_not_rule_out",
        /// Made 24 to 48 hours before: late reactions are missed.
        EarlyTest = "early_test",
        /// Read before day 2.
        EarlyReading = "early_reading",
        /// The batch tested or the batch to be used is not known.
        BatchUnknown = "batch_unknown",
    }
}

/// Whether a test counts, what is said with it, and the days for a new one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    /// Whether it counts.
    pub standing: Standing,
    /// What must be said with it.
    pub cautions: Vec<Caution>,
    /// The first day on which a test for this appointment counts.
    pub not_before: Date,
    /// The latest instant for a test that counts.
    pub not_after: Timestamp,
    /// The day of that instant.
    pub by: Date,
    /// The latest day that also leaves time for a reading on day 2.
    pub better_by: Date,
    /// The first day on which the test that was made can be read: day 2.
    pub look_from: Option<Date>,
    /// The last day to look at a test: that of the appointment.
    pub look_by: Date,
}

/// Judges a test against an appointment.
#[must_use]
pub fn judge(
    limits: &PatchTestLimits,
    test: Option<&PatchTest>,
    appointment: &Appointment<'_>,
) -> Judgement {
    let starts_at = appointment.starts_at;
    let day = |at: Timestamp| appointment.zone.to_datetime(at).date();
    let hours_before = |hours: i64| {
        let span = jiff::SignedDuration::from_hours(hours);
        starts_at.checked_sub(span).unwrap_or(Timestamp::MIN)
    };
    let not_before = limits.validity.before(day(starts_at));
    let not_after = hours_before(limits.at_least_h);
    let late_but_early = hours_before(limits.early_until_h);
    let mut cautions = vec![Caution::DoesNotRuleOut];
    let standing = match test {
        None => Standing::Missing,
        Some(test) => {
            if late_but_early < test.made_at {
                cautions.push(Caution::EarlyTest);
            }
            let reads_from = jiff::SignedDuration::from_hours(limits.reads_from_h);
            if test.read_at.is_some_and(|read| read.duration_since(test.made_at) < reads_from) {
                cautions.push(Caution::EarlyReading);
            }
            if test.pigment_batch.is_none() || appointment.pigment_batch.is_none() {
                cautions.push(Caution::BatchUnknown);
            }
            let least = jiff::SignedDuration::from_hours(limits.at_least_h);
            standing(test, appointment, day(test.made_at) < not_before, (not_after, least))
        }
    };
    Judgement {
        standing,
        cautions,
        not_before,
        not_after,
        by: day(not_after),
        better_by: day(late_but_early),
        look_from: test.map(|test| {
            let readable = jiff::SignedDuration::from_hours(limits.reads_from_h);
            day(test.made_at.checked_add(readable).unwrap_or(Timestamp::MAX))
        }),
        look_by: day(starts_at),
    }
}

fn standing(
    test: &PatchTest,
    appointment: &Appointment<'_>,
    is_too_old: bool,
    (not_after, least): (Timestamp, jiff::SignedDuration),
) -> Standing {
    // A look after less than the shortest time is none, and a look on a day that nobody knows may
    // have been one.
    let was_seen = test.read_at.is_some_and(|read| least <= read.duration_since(test.made_at));
    let batches = test.pigment_batch.as_deref().zip(appointment.pigment_batch);
    // A reaction counts however the test was made.
    if test.result == Result::Reacted {
        Standing::Reacted
    } else if is_too_old {
        Standing::Expired
    } else if not_after < test.made_at {
        Standing::TooLate
    } else if batches.is_some_and(|(tested, used)| tested != used) {
        Standing::OtherBatch
    } else if test.result == Result::NotRead || !was_seen {
        Standing::Unread
    } else if batches.is_none() {
        Standing::ToCompare
    } else {
        Standing::Met
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;
    use crate::screening::typing::Typing;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn judged(made: &str, read: Option<&str>, result: Result, batch: Option<&str>) -> Judgement {
        let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().patch_test;
        let test = PatchTest {
            made_at: at(made),
            read_at: read.map(at),
            result,
            pigment_batch: batch.map(str::to_owned),
        };
        let appointment = Appointment {
            starts_at: at("2027-03-18T14:00:00Z"),
            zone: &TimeZone::UTC,
            pigment_batch: Some("B1"),
        };
        judge(&limits, Some(&test), &appointment)
    }

    #[test]
    fn a_test_counts_from_24_hours_to_half_a_year() {
        // Hospital leaflets on areola tattooing (24 h); validity: common practice, no source.
        use Caution::{BatchUnknown, DoesNotRuleOut, EarlyReading, EarlyTest};
        let clear = Result::Clear;
        for (made, read, result, batch, standing, cautions) in [
            (
                "2027-03-17T14:00:01Z",
                None,
                clear,
                Some("B1"),
                "too_late",
                vec![DoesNotRuleOut, EarlyTest],
            ),
            (
                "2027-03-17T14:00:00Z",
                Some("2027-03-18T14:00:00Z"),
                clear,
                Some("B1"),
                "met",
                vec![DoesNotRuleOut, EarlyTest, EarlyReading],
            ),
            (
                "2027-03-16T14:00:01Z",
                Some("2027-03-18T14:00:01Z"),
                clear,
                Some("B1"),
                "met",
                vec![DoesNotRuleOut, EarlyTest],
            ),
            // Nobody said when it was looked at, or it was after five minutes.
            ("2027-03-16T14:00:00Z", None, clear, Some("B1"), "unread", vec![DoesNotRuleOut]),
            (
                "2027-03-16T14:00:00Z",
                Some("2027-03-16T14:05:00Z"),
                clear,
                Some("B1"),
                "unread",
                vec![DoesNotRuleOut, EarlyReading],
            ),
            (
                "2027-03-01T14:00:00Z",
                Some("2027-03-03T13:59:00Z"),
                clear,
                Some("B1"),
                "met",
                vec![DoesNotRuleOut, EarlyReading],
            ),
            (
                "2027-03-01T14:00:00Z",
                Some("2027-03-03T14:00:00Z"),
                clear,
                Some("B1"),
                "met",
                vec![DoesNotRuleOut],
            ),
            (
                "2026-09-18T08:00:00Z",
                Some("2027-03-03T14:00:00Z"),
                clear,
                Some("B1"),
                "met",
                vec![DoesNotRuleOut],
            ),
            ("2026-09-17T23:59:00Z", None, clear, Some("B1"), "expired", vec![DoesNotRuleOut]),
            ("2027-03-01T14:00:00Z", None, clear, Some("B2"), "other_batch", vec![DoesNotRuleOut]),
            (
                "2027-03-01T14:00:00Z",
                Some("2027-03-03T14:00:00Z"),
                clear,
                None,
                "to_compare",
                vec![DoesNotRuleOut, BatchUnknown],
            ),
            (
                "2027-03-01T14:00:00Z",
                None,
                Result::NotRead,
                Some("B1"),
                "unread",
                vec![DoesNotRuleOut],
            ),
            (
                "2026-01-01T14:00:00Z",
                None,
                Result::Reacted,
                Some("B2"),
                "reacted",
                vec![DoesNotRuleOut],
            ),
        ] {
            let found = judged(made, read, result, batch);
            assert_eq!(found.standing.as_str(), standing, "{made}");
            assert_eq!(found.cautions, cautions, "{made}");
        }
    }

    #[test]
    fn the_days_for_a_test_are_counted_back() {
        let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().patch_test;
        let zone = TimeZone::get("Europe/Berlin").unwrap();
        // The clocks go forward on 28 March 2027: 24 hours are not a calendar day.
        let starts_at = at("2027-03-28T22:30:00Z");
        let appointment = Appointment { starts_at, zone: &zone, pigment_batch: None };
        let found = judge(&limits, None, &appointment);
        assert_eq!(found.standing, Standing::Missing);
        assert_eq!(found.not_before, jiff::civil::date(2026, 9, 29));
        assert_eq!(found.not_after, at("2027-03-27T22:30:00Z"));
        assert_eq!(found.better_by, jiff::civil::date(2027, 3, 26));
    }
}
