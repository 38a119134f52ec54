//! iCalendar, written by RFC 5545 and RFC 7986.
//!
//! ```text
//! content line  name *(";" param) ":" value CRLF
//! folding       no line over 75 octets; the rest goes on after CRLF and a space
//! TEXT          "\" -> "\\"   ";" -> "\;"   "," -> "\,"   newline -> "\n"
//! DATE-TIME     form 2, UTC: 20270328T070000Z
//! DATE          20270328
//! ```
//!
//! Folding never cuts a character of UTF-8 in two. Instants are written in UTC
//! (form 2), so that no VTIMEZONE is needed; days are written as DATE, whose
//! end is the day after the last. A control character has no place in TEXT and
//! is dropped.
//!
//! Nothing here reads a clock: DTSTAMP, LAST-MODIFIED and SEQUENCE are told. An
//! event keeps its UID for good; what changes raises its SEQUENCE, and what
//! falls away is written once more as cancelled.

use std::fmt::Write;

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};

/// Longest line in octets, without its CRLF (RFC 5545 section 3.1).
const LINE_OCTETS: usize = 75;

/// A calendar object.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calendar {
    /// Who made it: PRODID.
    pub product: String,
    /// Its name for people (RFC 7986 NAME).
    pub name: String,
    /// How long a reader may wait before asking again (RFC 7986
    /// REFRESH-INTERVAL); whole minutes.
    pub refresh: Option<SignedDuration>,
    /// Its events, in the order in which they are written.
    pub events: Vec<Event>,
}

/// When an event is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// An instant and how long it lasts.
    Instant {
        /// Start.
        from: Timestamp,
        /// Length; not negative, whole seconds.
        lasts: SignedDuration,
    },
    /// Whole days.
    Days {
        /// First day.
        from: Date,
        /// Last day.
        until: Date,
    },
}

/// Whether an event still holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// It holds.
    Confirmed,
    /// It does not any more; readers take it out.
    Cancelled,
}

/// One event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// Stable, globally unique.
    pub uid: String,
    /// When this state of it was written down.
    pub stamp: Timestamp,
    /// When it last changed.
    pub modified: Option<Timestamp>,
    /// How often it has changed.
    pub sequence: u32,
    /// When it is.
    pub when: When,
    /// Its title; neutral unless the studio says otherwise.
    pub summary: String,
    /// More about it.
    pub description: Option<String>,
    /// Whether it holds.
    pub status: Status,
    /// A display alarm this long before its start.
    pub alarm_before: Option<SignedDuration>,
}

impl Calendar {
    /// The calendar as a stream of content lines.
    ///
    /// ```
    /// use etui_craft::aftercare::calendar::Calendar;
    /// let empty = Calendar { product: "-//etui//EN".into(), name: "a, b".into(), refresh: None, events: vec![] };
    /// assert!(empty.write().contains("NAME:a\\, b\r\n"));
    /// ```
    #[must_use]
    pub fn write(&self) -> String {
        let mut out = String::with_capacity(256 + 320 * self.events.len());
        line(&mut out, "BEGIN:VCALENDAR");
        line(&mut out, "VERSION:2.0");
        line(&mut out, &format!("PRODID:{}", escape(&self.product)));
        line(&mut out, "CALSCALE:GREGORIAN");
        line(&mut out, "METHOD:PUBLISH");
        let name = escape(&self.name);
        line(&mut out, &format!("NAME:{name}"));
        // Readers that are older than RFC 7986 know the name by this.
        line(&mut out, &format!("X-WR-CALNAME:{name}"));
        if let Some(refresh) = self.refresh {
            line(&mut out, &format!("REFRESH-INTERVAL;VALUE=DURATION:{}", duration(refresh)));
            line(&mut out, &format!("X-PUBLISHED-TTL:{}", duration(refresh)));
        }
        for event in &self.events {
            event.write(&mut out);
        }
        line(&mut out, "END:VCALENDAR");
        out
    }
}

impl Event {
    fn write(&self, out: &mut String) {
        line(out, "BEGIN:VEVENT");
        line(out, &format!("UID:{}", escape(&self.uid)));
        line(out, &format!("DTSTAMP:{}", utc(self.stamp)));
        match self.when {
            When::Instant { from, lasts } => {
                line(out, &format!("DTSTART:{}", utc(from)));
                line(out, &format!("DURATION:{}", duration(lasts)));
            }
            When::Days { from, until } => {
                line(out, &format!("DTSTART;VALUE=DATE:{}", date(from)));
                // DTEND is not included; a day at the very end of the calendar
                // goes without it and lasts its one day.
                if let Ok(after) = until.tomorrow() {
                    line(out, &format!("DTEND;VALUE=DATE:{}", date(after)));
                }
            }
        }
        line(out, &format!("SEQUENCE:{}", self.sequence));
        if let Some(modified) = self.modified {
            line(out, &format!("LAST-MODIFIED:{}", utc(modified)));
        }
        line(out, &format!("SUMMARY:{}", escape(&self.summary)));
        if let Some(description) = &self.description {
            line(out, &format!("DESCRIPTION:{}", escape(description)));
        }
        line(out, "CLASS:PRIVATE");
        line(out, "TRANSP:TRANSPARENT");
        match self.status {
            Status::Confirmed => line(out, "STATUS:CONFIRMED"),
            Status::Cancelled => line(out, "STATUS:CANCELLED"),
        }
        if let (Some(before), Status::Confirmed) = (self.alarm_before, self.status) {
            self.write_alarm(out, before);
        }
        line(out, "END:VEVENT");
    }

    fn write_alarm(&self, out: &mut String, before: SignedDuration) {
        line(out, "BEGIN:VALARM");
        line(out, "ACTION:DISPLAY");
        line(out, &format!("DESCRIPTION:{}", escape(&self.summary)));
        line(out, &format!("TRIGGER:-{}", duration(before)));
        line(out, "END:VALARM");
    }
}

/// A value of type TEXT (RFC 5545 section 3.3.11).
#[must_use]
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '\\' => out.push_str("\\\\"),
            ';' => out.push_str("\\;"),
            ',' => out.push_str("\\,"),
            '\r' => {
                if chars.peek() != Some(&'\n') {
                    out.push_str("\\n");
                }
            }
            '\n' => out.push_str("\\n"),
            '\t' => out.push('\t'),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Folds one content line and ends it (RFC 5545 section 3.1).
#[must_use]
pub fn fold(content: &str) -> String {
    let mut out = String::with_capacity(content.len() + 2 + content.len() / 24);
    let mut octets = 0;
    for c in content.chars() {
        if LINE_OCTETS < octets + c.len_utf8() {
            out.push_str("\r\n ");
            octets = 1;
        }
        out.push(c);
        octets += c.len_utf8();
    }
    out.push_str("\r\n");
    out
}

fn line(out: &mut String, content: &str) {
    out.push_str(&fold(content));
}

/// A DATE-TIME of form 2, UTC (RFC 5545 section 3.3.5); parts of a second are
/// cut off.
#[must_use]
pub fn utc(at: Timestamp) -> String {
    let local = jiff::tz::Offset::UTC.to_datetime(at);
    let time = local.time();
    format!("{}T{:02}{:02}{:02}Z", date(local.date()), time.hour(), time.minute(), time.second())
}

/// A DATE (RFC 5545 section 3.3.4).
#[must_use]
pub fn date(day: Date) -> String {
    format!("{:04}{:02}{:02}", day.year(), day.month(), day.day())
}

/// A DURATION (RFC 5545 section 3.3.6); negative lengths count as none.
#[must_use]
pub fn duration(lasts: SignedDuration) -> String {
    let seconds = lasts.as_secs().max(0);
    let (days, hours, minutes) = (seconds / 86_400, seconds / 3_600 % 24, seconds / 60 % 60);
    let mut out = String::from("P");
    // Writing to a String cannot fail; the results are dropped knowingly.
    if 0 < days {
        let _ = write!(out, "{days}D");
    }
    if 0 < seconds % 86_400 || days == 0 {
        out.push('T');
        let parts = [(hours, 'H'), (minutes, 'M'), (seconds % 60, 'S')];
        let first = parts.iter().position(|(n, _)| 0 < *n).unwrap_or(2);
        let last = parts.iter().rposition(|(n, _)| 0 < *n).unwrap_or(2);
        // The grammar has no hours followed by seconds without minutes.
        for (number, unit) in parts.iter().take(last + 1).skip(first) {
            let _ = write!(out, "{number}{unit}");
        }
    }
    out
}
