//! Calendars to subscribe to, under an address that nobody can guess.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::vocabulary::{Instant, Language, Reference, words};

words! {
    /// Whose entries a calendar shows.
    CalendarOf, "kind of calendar" {
        /// Everybody's.
        Studio = "studio",
        /// Those of one artist's treatments.
        Artist = "artist",
        /// Those of one client.
        Client = "client",
    }
}

/// A calendar to be opened.
#[sent(Eq, free)]
pub struct CalendarRequest {
    /// Whose entries it shows.
    pub of: CalendarOf,
    /// Which artist or client; absent for the studio.
    pub reference: Option<Reference>,
    /// Whether titles say what each entry is about; neutral if absent.
    pub detail: Option<bool>,
    /// Language of the titles; the studio's if absent.
    pub language: Option<Language>,
}

/// An open calendar.
#[told(Eq)]
pub struct CalendarFeed {
    /// Its id, by which it is closed.
    pub id: Uuid,
    /// Whose entries it shows.
    pub of: CalendarOf,
    /// Which artist or client.
    pub reference: Option<Reference>,
    /// Whether titles say what each entry is about.
    pub detail: bool,
    /// Language of the titles.
    pub language: Language,
    /// When it was opened.
    pub opened_at: Instant,
    /// The path to subscribe to. Whoever knows it can read the calendar; it is
    /// shown once, when the calendar is opened.
    pub path: Option<String>,
}
