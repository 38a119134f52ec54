//! The sheet to be printed: a frame laid over practice skin, each panel cut out along its line
//! (or all of its window, which takes the words with it).
//!
//! Everything is in millimetres. Six marks, a ring of 3 and 2 mm around a dot of 1 mm
//! (radii), stand 5 mm from the edges: one in each corner, one in the middle of each
//! long side. A numbered sheet carries its code at the lower edge ([`super::code`]).
//! A bar behind the first mark says which way is up. A bar of 100 mm is held
//! against a ruler once, since printers scale. The words of the panels and their
//! outlines stand outside what is judged.

use etui_schema::drills::{Drills, Panel};
use etui_schema::vocabulary::{Language, Paper};
use jiff::civil::Date;

use super::Training;
use super::code::{HALF_MM, black_mm};
use super::picture::AROUND_MM;
use crate::configuration::draw::svg::{Anchor, Canvas, Face, Fine, text_width};
use crate::text;

/// Why a sheet is not drawn.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    /// The panels need more room.
    #[error(
        "{fit} of the {panels} panels fit on {paper}: choose a larger paper, or name one effect"
    )]
    TooSmall {
        /// The paper.
        paper: Paper,
        /// How many panels fit.
        fit: usize,
        /// How many there are.
        panels: usize,
    },
    /// There is nothing to practise.
    #[error("there are no panels: the configuration is set aside for every effect that was asked")]
    Nothing,
}

/// Where a mark's middle stands from the edges.
pub(super) const MARK_MM: f64 = 5.0;
/// Width of the frame.
const FRAME_MM: f64 = 10.0;
const RULER_MM: f64 = 100.0;
const BLACK: &str = "#000";
const HAIR: &str = "#ccc";
/// The outline of a panel stands so far outside of it: farther than anything of the panel is
/// looked at, so that neither the line nor the paper behind it is.
const OUTLINE_MM: f64 = 0.8;
const _: () = assert!(AROUND_MM < OUTLINE_MM);
/// Room of a panel's words, their size, and how many lines of it there are.
pub(super) const WORDS_MM: f64 = 13.2;
const WORD_MM: f64 = 2.0;
const LINE_MM: f64 = 2.4;
const LINES: usize = 5;
const NARROWEST_MM: f64 = 34.0;
pub(super) const GAP_MM: f64 = 2.0;

/// A paper's width and height, laid across.
pub(super) const fn size_mm(paper: Paper) -> (f64, f64) {
    match paper {
        Paper::A6 => (148.0, 105.0),
        Paper::A5 => (210.0, 148.0),
        Paper::A4 => (297.0, 210.0),
    }
}

/// The middles of the marks: from the upper left, row by row.
pub(super) fn marks_mm(paper: Paper) -> [(f64, f64); 6] {
    let (width, height) = size_mm(paper);
    let (right, low, middle) = (width - MARK_MM, height - MARK_MM, 0.5 * width);
    [
        (MARK_MM, MARK_MM),
        (middle, MARK_MM),
        (right, MARK_MM),
        (MARK_MM, low),
        (middle, low),
        (right, low),
    ]
}

/// A panel and where its upper left corner stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed<'a> {
    pub(super) panel: &'a Panel,
    pub(super) x: f64,
    pub(super) y: f64,
}

/// Which of an artist's sheets it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbered<'a> {
    /// Its number.
    pub number: u32,
    /// Whose, by the studio's reference.
    pub artist: &'a str,
    /// The last day on which it may be handed in.
    pub hand_in_until: Date,
    /// What its frame carries for the reader; the lower 24 bits count.
    pub code: u32,
}

impl Training {
    /// Draws the sheet of some drills, all of its words in one language. The same drills
    /// give the same sheet, byte for byte.
    ///
    /// # Errors
    /// [`SheetError`] if there is nothing to draw or no room for it.
    pub fn sheet(
        &self,
        drills: &Drills,
        paper: Paper,
        numbered: Option<Numbered<'_>>,
        language: Language,
    ) -> Result<String, SheetError> {
        let placed = placed(drills, paper)?;
        let (width, height) = size_mm(paper);
        let seed = drills.seed.to_string();
        let level = format!("level_{}", drills.level);
        let level = self.texts.get(language, &level);
        let values =
            [("needle", drills.canonical.as_str()), ("level", level), ("seed", seed.as_str())];
        let title = self.title(numbered, &seed, language);
        let needle = self.fill(language, "sheet_needle", &values);
        let print = self.texts.get(language, "sheet_print");
        let mut canvas = Canvas::default();
        frame(&mut canvas, paper);
        let (left, right) = (18.0, 0.5 * width + MARK_MM);
        let (left_room, right_room) = (0.5 * width - MARK_MM - left, width - 2.0 * MARK_MM - right);
        fitted(&mut canvas, (left, 4.4), left_room, Face::plain(2.6).bold(), &title);
        fitted(&mut canvas, (left, 8.0), left_room, Face::plain(2.2), &needle);
        if let Some(Numbered { artist, code, .. }) = numbered {
            coded(&mut canvas, code, (width, height));
            let artist = self.fill(language, "sheet_artist", &[("artist", artist)]);
            fitted(&mut canvas, (right, 4.4), right_room, Face::plain(2.6), &artist);
        }
        fitted(&mut canvas, (right, 8.0), right_room, Face::plain(2.2), print);
        let ruler = Face::plain(2.0).at(Anchor::Middle);
        let bar = self.texts.get(language, "sheet_bar");
        canvas.text(0.5 * width - 28.0, height - 5.0, ruler, bar);
        for one in &placed {
            let number = one.panel.number.to_string();
            let asks = self.asks(one.panel, drills.seed, language);
            let values = [("number", number.as_str()), ("asks", asks.as_str())];
            outlined(&mut canvas, *one, &self.fill(language, "sheet_panel", &values));
        }
        let description = self.fill(language, "sheet_description", &values);
        Ok(canvas.finish_mm((width, height), &title, &description).svg)
    }

    /// Which sheet it is, and until when it is handed in.
    fn title(&self, numbered: Option<Numbered<'_>>, seed: &str, language: Language) -> String {
        let Some(Numbered { number, hand_in_until, .. }) = numbered else {
            return self.fill(language, "sheet_not_numbered", &[("seed", seed)]);
        };
        let (number, until) = (number.to_string(), text::day(language, hand_in_until));
        self.fill(language, "sheet_numbered", &[("number", &number), ("until", &until)])
    }
}

/// Letters of a printer's own font may be wider than reckoned by so much, bold ones above
/// all: what stands beside a mark must not run into it.
const WIDER: f64 = 1.25;

/// A text on one line, made smaller where it has no room.
fn fitted(canvas: &mut Canvas, (x, y): (f64, f64), room: f64, face: Face, text: &str) {
    let wide = WIDER * text_width(text, face.size());
    canvas.text(x, y, face.scaled((room / wide.max(1e-6)).min(1.0)), text);
}

/// Marks, the bar that says which way is up, and the ruler.
fn frame(canvas: &mut Canvas, paper: Paper) {
    let (width, height) = size_mm(paper);
    for (x, y) in marks_mm(paper) {
        canvas.raw(format_args!(
            r#"<circle class="ring" cx="{x}" cy="{y}" r="2.5" fill="none" stroke="{BLACK}" stroke-width="1"/><circle class="mark" cx="{x}" cy="{y}" r="1" fill="{BLACK}"/>"#
        ));
    }
    let (bar_x, bar_y) = (Fine(MARK_MM + 4.0), Fine(MARK_MM - 1.0));
    canvas.raw(format_args!(
        r#"<rect class="up" x="{bar_x}" y="{bar_y}" width="5" height="2" fill="{BLACK}"/>"#
    ));
    let (x, y) = (Fine(0.5 * (width - RULER_MM)), Fine(height - FRAME_MM + 0.6));
    canvas.raw(format_args!(
        r#"<rect class="ruler" x="{x}" y="{y}" width="{RULER_MM}" height="0.4" fill="{BLACK}"/>"#
    ));
}

/// Which sheet it is, for the reader.
fn coded(canvas: &mut Canvas, code: u32, size_mm: (f64, f64)) {
    let (wide, high) = HALF_MM;
    for (x, y) in black_mm(code, size_mm) {
        let (x, y) = (Fine(x - 0.5 * wide), Fine(y - 0.5 * high));
        canvas.raw(format_args!(
            r#"<rect class="code" x="{x}" y="{y}" width="{wide}" height="{high}" fill="{BLACK}"/>"#
        ));
    }
}

/// The outline of a panel outside of what is judged, and its words.
fn outlined(canvas: &mut Canvas, placed: Placed<'_>, words: &str) {
    let Placed { panel, x, y } = placed;
    let (width, height) = (panel.width_mm, panel.height_mm);
    canvas.raw(format_args!(
        r#"<rect class="panel" x="{}" y="{}" width="{}" height="{}" fill="none" stroke="{HAIR}" stroke-width="0.1"/>"#,
        Fine(x - OUTLINE_MM),
        Fine(y - OUTLINE_MM),
        Fine(width + 2.0 * OUTLINE_MM),
        Fine(height + 2.0 * OUTLINE_MM)
    ));
    let (size, lines) = wrapped(words, cell_mm(panel) - GAP_MM);
    for (line, text) in (1_u8..).zip(lines) {
        let below = y + height + OUTLINE_MM + 0.2 + LINE_MM * f64::from(line);
        canvas.text(x, below, Face::plain(size), &text);
    }
}

/// Words over the lines that there are, made smaller until none is left over.
pub(super) fn wrapped(words: &str, room: f64) -> (f64, Vec<String>) {
    // A number and its unit stay together.
    let words = words.replace(" mm", "\u{a0}mm");
    let mut size = WORD_MM;
    loop {
        let (mut done, mut line) = (Vec::new(), String::new());
        for word in words.split(' ') {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if text_width(&longer, size) <= room || line.is_empty() {
                line = longer;
            } else {
                done.push(std::mem::replace(&mut line, word.to_owned()));
            }
        }
        done.push(line);
        if done.len() <= LINES || size < 0.5 {
            return (size, done);
        }
        size *= 0.97;
    }
}

pub(super) fn cell_mm(panel: &Panel) -> f64 {
    panel.width_mm.max(NARROWEST_MM) + GAP_MM
}

/// Panels in rows, in their order.
pub(super) fn placed(drills: &Drills, paper: Paper) -> Result<Vec<Placed<'_>>, SheetError> {
    let (width, height) = size_mm(paper);
    let (left, right, low) = (FRAME_MM + GAP_MM, width - FRAME_MM, height - FRAME_MM);
    let (mut x, mut y, mut row) = (left, FRAME_MM + GAP_MM, 0.0_f64);
    let mut placed = Vec::with_capacity(drills.panels.len());
    for panel in &drills.panels {
        if right < x + cell_mm(panel) && left < x {
            (x, y, row) = (left, y + row, 0.0);
        }
        row = row.max(panel.height_mm + WORDS_MM + GAP_MM);
        if low < y + panel.height_mm + WORDS_MM || right < x + panel.width_mm {
            let (fit, panels) = (placed.len(), drills.panels.len());
            return Err(SheetError::TooSmall { paper, fit, panels });
        }
        placed.push(Placed { panel, x, y });
        x += cell_mm(panel);
    }
    if placed.is_empty() { Err(SheetError::Nothing) } else { Ok(placed) }
}
