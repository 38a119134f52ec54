//! Branches of a chain of studios: where work is done, by which day, and whom to call there.

use crate::kinds::{asked, sent, told};
use crate::symptom_reports::Contacts;
use crate::vocabulary::aftercare::{DayOfWeek, TimeOfDay};
use crate::vocabulary::{CivilDate, Instant, Reference, Zone, words};
use crate::written::{COUNTRY, NAMED};

/// What stands in the place of a branch where none was named, and finds what names none.
pub const UNASSIGNED: &str = "unassigned";

words! {
    /// What a branch was taken from.
    BranchFrom, "source of a branch" {
        /// It was named.
        Request = "request",
        /// The check before.
        Check = "check",
        /// The lots of all packs.
        Packs = "packs",
        /// The artist.
        Artist = "artist",
    }
}

/// What is kept of a branch.
#[sent(free)]
pub struct BranchRecord {
    /// What people call it.
    #[garde(length(chars, min = 1, max = 80), pattern(NAMED))]
    pub name: String,
    /// Its time zone: "today" there is its local date; the studio's if absent.
    pub zone: Option<Zone>,
    /// Its country in two letters (ISO 3166-1); the studio's if absent.
    #[garde(length(chars, min = 2, max = 2), pattern(COUNTRY))]
    pub country: Option<String>,
    /// When it is open. Days that are not named are closed; nothing is said of any if empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 21), dive)]
    pub hours: Vec<BranchHours>,
    /// Dates on which it is closed besides.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 200))]
    pub closed_days: Vec<CivilDate>,
    /// Whom its clients are told to call, at most 25 characters each.
    #[garde(dive)]
    pub numbers: Option<Contacts>,
    /// As it was read; the path says it.
    pub branch_ref: Option<Reference>,
    /// As it was read; the service counts.
    pub version: Option<u64>,
    /// As it was read; the service sets it.
    pub updated_at: Option<Instant>,
}

/// Hours of one day of the week.
#[sent(Copy, Eq, free)]
pub struct BranchHours {
    /// The day.
    pub day: DayOfWeek,
    /// When it opens.
    pub from: TimeOfDay,
    /// When it closes, later than `from`.
    pub until: TimeOfDay,
}

/// A branch as stored.
#[told]
pub struct Branch {
    /// The studio's reference.
    pub branch_ref: Reference,
    /// What people call it.
    pub name: String,
    /// Its time zone.
    pub zone: Option<Zone>,
    /// Its country in two letters.
    pub country: Option<String>,
    /// When it is open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hours: Vec<BranchHours>,
    /// Dates on which it is closed besides.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub closed_days: Vec<CivilDate>,
    /// Whom its clients are told to call.
    pub numbers: Option<Contacts>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}

/// Which rows to list, page by page.
#[asked(Default, Eq)]
pub struct OfBranchQuery {
    /// Only of this branch, by its calendar; `unassigned`: of none.
    pub branch_ref: Option<Reference>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}
