//! A practice sheet, measured from a picture.
//!
//! # What it is for, and what it is not
//!
//! A picture tells spacing, count, straightness, width and cover far better than an
//! eye. It sees nothing of depth, stretch, torn skin or hygiene, and these hurt
//! people: what comes out here are values for a grade, never a grade, and a
//! trainer's three marks stay wanted. It was tried on drawn sheets alone; until real
//! ones were compared with a calliper it is experimental and says so.
//!
//! # The way
//!
//! 1. [`decode`]: the header is read and refused before anything is inflated;
//!    metadata is skipped. What is kept is one byte a pixel; light is reckoned from
//!    it as (v/255)^2.2, our assumption.
//! 2. [`marks`]: six bull's-eyes are found by what a ring and its dot have in
//!    common; their middles are centroids of darkness.
//! 3. [`card`]: four corners give a homography, a dark bar which way is up, the two
//!    marks in the middle how flat the card lies. The blur is fitted to the edge of
//!    the dots: moments of the slope would take noise for blur.
//! 4. [`panel`]: each panel is drawn anew at a whole number of pixels a millimetre,
//!    square to the card, as darkness 1 − I/background. Geometry is done in
//!    darkness: it adds up under blur, density does not.
//! 5. [`dots`] and [`rows`] of what [`peaks`] finds, [`strokes`], [`fields`] measure it. Bent strokes are brought upright
//!    together ([`lean`]) and each is straightened ([`strip`]). What blur takes from a
//!    width is given back by the table of a bar under a Gaussian.
//!
//! # What cannot be said
//!
//! A picture that cannot be trusted as a whole is refused with every word that holds
//! ([`SheetFault`]); of a panel each quantity is a number or a word
//! ([`QuantityFault`]). Never a guess, never half a row in silence. What a number may be
//! off by is told by [`doubt`]; who judges it asks for it. The same bytes
//! give the same numbers, and no bytes make it panic.

mod card;
mod cover;
mod decode;
mod dots;
mod doubt;
mod fields;
mod fit;
mod lean;
mod marks;
mod panel;
mod peaks;
mod plane;
mod rows;
mod strip;
mod strokes;
#[cfg(test)]
mod tests;

pub(crate) use decode::Limits;
pub use decode::PictureError;
pub(crate) use doubt::{doubt, would_do_dpi};
pub(super) use panel::AROUND_MM;

use std::cell::OnceCell;

use etui_schema::vocabulary::{Quantity, QuantityFault, SheetFault};

use card::Card;
use cover::Correction;
use decode::Page;
use panel::Panel;

/// What lies on the card, in millimetres from its upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    /// Width and height of the card.
    pub(crate) card_mm: (f64, f64),
    /// Its panels. The first row of dots tells what one mark looks like.
    pub(crate) panels: Vec<Place>,
}

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    /// What is to be measured of it.
    pub(crate) kind: PanelKind,
    /// Left, top, right, bottom.
    pub(crate) box_mm: [f64; 4],
}

/// What a panel holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum PanelKind {
    /// Rows of dots along x.
    Rows {
        /// How many rows.
        rows: usize,
        /// The distance that was asked.
        spacing_mm: f64,
        /// Dots of one row that were asked, if that was told.
        dots: Option<usize>,
    },
    /// Dots in no rows.
    Scattered,
    /// Strokes side by side.
    Strokes {
        /// The distance that was asked.
        spacing_mm: f64,
        /// Their length.
        length_mm: f64,
        /// The width that one of them is to have; lanes within it are one stroke.
        width_mm: f64,
        /// Whether they are bent, and to which side.
        bend: Bend,
        /// Whether they run down the panel instead of along it.
        runs_down: bool,
    },
    /// A field.
    Field,
    /// What is not measured from pictures.
    Unmeasured,
}

/// How strokes are bent: the side on which their belly lies, of strokes that run down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bend {
    /// Straight.
    None,
    /// To a side that nobody asked for.
    Either,
    /// To the left.
    Left,
    /// To the right.
    Right,
}

/// How good the picture is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Quality {
    /// Pixels an inch, on the card.
    pub(crate) dpi: f64,
    /// Standard deviation of the blur, in mm.
    pub(crate) blur_mm: f64,
    /// Standard deviation of the noise, over paper minus ink.
    pub(crate) noise: f64,
    /// How far a middle mark lies from where a flat card has it, in mm.
    pub(crate) flatness_mm: f64,
    /// Paper minus ink, of full.
    pub(crate) contrast: f64,
    /// Of a JPEG, how much its tables kept, 1 to 100.
    pub(crate) jpeg: Option<u8>,
}

/// What one mark looks like on this skin with this pigment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Mark {
    /// Its diameter, in mm.
    pub(crate) diameter_mm: f64,
    /// Its darkness.
    pub(crate) darkness: f64,
}

/// A sheet as it was read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reading {
    /// How good the picture is.
    pub(crate) quality: Quality,
    /// One mark, from the first row of dots.
    pub(crate) mark: Option<Mark>,
    /// The panels, in the order of the layout.
    pub(crate) panels: Vec<Measured>,
    /// The code on the frame, if every bit of one is there.
    pub(crate) code: Option<u32>,
}

/// What was measured of a panel; each quantity that its kind has is here.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Measured {
    /// Quantities.
    pub(crate) values: Vec<(Quantity, Result<f64, QuantityFault>)>,
    /// Middles of overworked spots on the card, in mm.
    pub(crate) spots_mm: Vec<(f64, f64)>,
    /// Where dots are missing or gaps lie, on the card, in mm.
    pub(crate) gaps_mm: Vec<(f64, f64)>,
}

/// Why there is no reading.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum ReadError {
    /// The bytes are no picture that is read.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// The picture is none that can be measured: every word that holds.
    #[error("the picture cannot be measured")]
    Sheet(Vec<SheetFault>, Option<Quality>),
    /// The marks are those of a card of about this width and height, in mm.
    #[error("the marks are those of a card of another size")]
    Size(f64, f64),
}

/// Widths and cover need so many pixels an inch.
const LEAST_DPI: f64 = 250.0;
/// A field in a JPEG needs more: what is bare between marks is smoothed away first.
const LEAST_DPI_LOSSY: f64 = 350.0;

/// A mark is so many times as wide as the blur's standard deviation, and in a JPEG so many
/// pixels across, if its diameter can be told: below that drawn ones were off by more than
/// 0.03 mm.
const MARK_OVER_BLUR: f64 = 2.1;
const MARK_LOSSY_PIXELS: f64 = 2.4;

/// Measures a sheet.
///
/// # Errors
/// [`ReadError`].
pub(crate) fn read(bytes: &[u8], layout: &Layout, limits: &Limits) -> Result<Reading, ReadError> {
    let page = decode::decode(bytes, limits)?;
    measure(&page, layout)
}

fn measure(page: &Page, layout: &Layout) -> Result<Reading, ReadError> {
    let (card, quality) = Card::find(page, layout.card_mm)?;
    let panels: Vec<Panel> = (0..layout.panels.len()).map(|at| Panel::place(layout, at)).collect();
    let mark = layout.panels.iter().zip(&panels).find_map(|(place, panel)| match place.kind {
        PanelKind::Rows { rows: 1, spacing_mm, .. } => {
            dots::mark(&panel.draw(page, &card), spacing_mm, &quality)
        }
        PanelKind::Rows { .. }
        | PanelKind::Scattered
        | PanelKind::Strokes { .. }
        | PanelKind::Field
        | PanelKind::Unmeasured => None,
    });
    let correction = OnceCell::new();
    let seen = Seen { quality, mark, correction };
    let panels = layout.panels.iter().zip(&panels).map(|(place, panel)| match place.kind {
        PanelKind::Rows { rows, spacing_mm, dots } => {
            let wanted = rows::Wanted { rows, spacing_mm, dots };
            rows::measure(&panel.draw(page, &card), &wanted, &seen)
        }
        PanelKind::Scattered => dots::scattered(&panel.draw(page, &card), &seen),
        PanelKind::Strokes { spacing_mm, length_mm, width_mm, bend, runs_down } => {
            let wanted = strokes::Wanted { spacing_mm, length_mm, width_mm, bend, runs_down };
            strokes::measure(&panel.draw(page, &card), &wanted, &seen)
        }
        PanelKind::Field => fields::measure(&panel.draw_field(page, &card), &seen),
        PanelKind::Unmeasured => Measured::default(),
    });
    let panels = panels.collect();
    let code = card.code(page, quality.contrast);
    Ok(Reading { quality, mark, panels, code })
}

/// What is known of the picture when a panel is measured.
struct Seen {
    quality: Quality,
    mark: Option<Mark>,
    /// What the blur does to a cover, drawn for the first field.
    correction: OnceCell<Correction>,
}

impl Seen {
    fn correction(&self, mark: Mark) -> &Correction {
        self.correction.get_or_init(|| Correction::of(mark, self.quality.blur_mm))
    }

    /// Whether the cover of a field of such marks can be told.
    fn sees_cover(&self, mark: Mark) -> bool {
        let least = if self.quality.jpeg.is_some() { LEAST_DPI_LOSSY } else { LEAST_DPI };
        least <= self.quality.dpi && fields::WIDE * self.quality.blur_mm <= mark.diameter_mm
    }

    /// Whether a mark, seen so wide, can be measured for its diameter: what is hardly wider than
    /// blur and pixels make it looks alike whatever it is.
    fn sees_mark(&self, mark: Mark, seen_mm: f64) -> bool {
        let across = mark.diameter_mm * self.quality.dpi / 25.4;
        self.sees_width(mark.diameter_mm.max(seen_mm))
            && !self.is_lost(mark)
            && (self.quality.jpeg.is_none() || MARK_LOSSY_PIXELS <= across)
    }

    /// Whether the blur alone says what a mark looks like.
    fn is_lost(&self, mark: Mark) -> bool {
        mark.diameter_mm < MARK_OVER_BLUR * self.quality.blur_mm
    }

    /// Whether something of this width can be measured for its width.
    fn sees_width(&self, width_mm: f64) -> bool {
        LEAST_DPI <= self.quality.dpi && 1.12 * 2.355 * self.quality.blur_mm <= width_mm
    }
}
