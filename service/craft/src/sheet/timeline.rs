//! Days as a picture: what lasts until when, and what comes then.
//!
//! Each row is a line of words and under it a bar on one axis of days, so that no two words can
//! meet whatever is long. It is composed as narrow as a phone, in black and grey, and says
//! nothing that does not stand on its page in words.

use etui_schema::vocabulary::Language;
use jiff::ToSpan;
use jiff::civil::Date;

use super::Sheets;
use crate::configuration::draw::svg::{Canvas, Face, GREY, INK, STEEL, Short};
use crate::text::day;

/// Width in pixels, that of a phone's page.
const WIDTH: f64 = 340.0;
/// Left and right of the axis.
const MARGIN: f64 = 6.0;
/// Size of the letters.
const LETTERS: f64 = 13.5;
/// Height of a bar.
const BAR: f64 = 7.0;

/// One thing on the axis: a day, or from the first to the last of several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Days {
    pub(super) from: Date,
    pub(super) until: Date,
    /// When, and what.
    pub(super) says: String,
}

impl Sheets {
    /// A row of the picture: `key` says when, with its last day.
    pub(super) fn days(
        &self,
        (from, until): (Date, Date),
        (language, key): (Language, &str),
        what: &str,
    ) -> Days {
        let values = [("day", &*day(language, until)), ("what", what)];
        Days { from, until, says: self.texts.fill(language, key, &values) }
    }

    /// The picture of rows; nothing where they would be of one day.
    pub(super) fn timeline(&self, language: Language, rows: &[Days]) -> Option<String> {
        let first = rows.iter().map(|row| row.from).min()?;
        let last = rows.iter().map(|row| row.until).max().filter(|last| first < *last)?;
        let count = |to: Date| f64::from(first.until(to).map_or(0, |span| span.get_days()));
        let scale = (WIDTH - 2.0 * MARGIN) / (count(last) + 1.0);
        let at = |on: Date| MARGIN + scale * count(on);
        let mut canvas = Canvas::default();
        let (mut y, mut bars) = (MARGIN + LETTERS, Vec::new());
        for row in rows {
            y = canvas.lines((MARGIN, y), WIDTH - 2.0 * MARGIN, Face::plain(LETTERS), &row.says);
            bars.push((at(row.from), at(row.until) + scale, y - 9.0));
            y += BAR + 12.0;
        }
        let note = self.word(language, "days.week");
        let bottom = canvas.lines((MARGIN, y), WIDTH - 2.0 * MARGIN, Face::plain(11.5), note);
        for (from, until, y) in bars {
            axis(&mut canvas, (first, last), &at, y);
            // One day of many would not be seen.
            let width = (until - from).max(5.0);
            canvas.raw(format_args!(
                r#"<rect x="{}" y="{}" width="{}" height="{BAR}" fill="{INK}"/>"#,
                Short(from.min(WIDTH - MARGIN - width)),
                Short(y),
                Short(width)
            ));
        }
        let title = self.word(language, "days.title");
        let told: Vec<&str> = rows.iter().map(|row| &*row.says).collect();
        let size = (WIDTH, bottom - 8.0);
        let shown = (1.25 * size.0, 1.25 * size.1);
        Some(canvas.closed(size, shown, ("", "#fff"), (title, &told.join(" "))).svg)
    }
}

/// The axis under a row, with a mark for each week.
fn axis(canvas: &mut Canvas, (first, last): (Date, Date), at: &impl Fn(Date) -> f64, y: f64) {
    canvas.raw(format_args!(
        r#"<rect x="{MARGIN}" y="{}" width="{}" height="{BAR}" fill="{STEEL}"/>"#,
        Short(y),
        Short(WIDTH - 2.0 * MARGIN)
    ));
    let mut week = first;
    while let Ok(next) = week.checked_add(7.days())
        && next <= last
    {
        canvas.line((at(next), y), (at(next), y + BAR + 3.0), GREY, 1.0);
        week = next;
    }
}
