//! Practice sheets measured from a picture.

use crate::drills::DrillRequest;
use crate::kinds::{sent, told};
use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::{DrillKey, Quantity, QuantityFault, SheetFault, Travel};

/// A picture of a practice sheet, and what lies on the sheet: `drills` or `card`.
#[sent(free)]
pub struct SheetReadingRequest {
    /// What the printed sheet was made from.
    #[garde(dive)]
    pub drills: Option<DrillRequest>,
    /// A frame of one's own, and where its panels lie.
    #[garde(dive)]
    pub card: Option<PracticeCard>,
    /// The printed bar of 100 mm as a ruler has it, 90 to 110; printers scale. 100 if
    /// absent.
    #[garde(range(min = 90.0, max = 110.0))]
    pub bar_mm: Option<f64>,
    /// A PNG or a JPEG of the sheet in base64 (RFC 4648, padded): grey or RGB, 8 bits, at
    /// most 8,000 pixels a side and 40 million in all. Nothing else is read of it, and
    /// nothing of it is kept.
    #[garde(length(chars, min = 8, max = 33_600_000))]
    pub picture: String,
}

/// A card with six marks around a window.
#[sent(free)]
pub struct PracticeCard {
    /// Its width, in mm: marks stand 5 mm from the edges, two in the middle of the sides
    /// along it.
    #[garde(range(min = 40.0, max = 420.0))]
    pub width_mm: f64,
    /// Its height, in mm.
    #[garde(range(min = 30.0, max = 300.0))]
    pub height_mm: f64,
    /// The panels in the window, which begins 10 mm from the edges. The first single row
    /// of dots tells what one mark looks like.
    #[garde(length(min = 1, max = 60), dive)]
    pub panels: Vec<CardPanel>,
}

/// One panel of a card.
#[sent(free)]
pub struct CardPanel {
    /// What was drilled.
    pub drill: DrillKey,
    /// Its left edge on the card, in mm.
    #[garde(range(min = 0.0, max = 420.0))]
    pub left_mm: f64,
    /// Its upper edge on the card, in mm.
    #[garde(range(min = 0.0, max = 300.0))]
    pub top_mm: f64,
    /// Its width, in mm.
    #[garde(range(min = 1.0, max = 420.0))]
    pub width_mm: f64,
    /// Its height, in mm.
    #[garde(range(min = 1.0, max = 300.0))]
    pub height_mm: f64,
    /// The distance that was asked of dots or strokes, in mm; needed for rows of dots and
    /// for strokes. A panel of rows that is a whole number of them wide asks for a dot in the
    /// middle of each: there a missing first or last one is a skip.
    #[garde(range(min = 0.3, max = 20.0))]
    pub spacing_mm: Option<f64>,
    /// Rows of dots; 1 for `single_dots` and 3 for `dot_rows` if absent.
    #[garde(range(min = 1, max = 20))]
    pub rows: Option<u8>,
    /// The length of a stroke or line, in mm; needed for these.
    #[garde(range(min = 2.0, max = 400.0))]
    pub length_mm: Option<f64>,
    /// The width that a stroke is to have, in mm; 0.3 if absent. Lanes within it are one
    /// stroke.
    #[garde(range(min = 0.05, max = 5.0))]
    pub line_mm: Option<f64>,
    /// How strokes run; `down` if absent, and `across` for a long line.
    pub runs: Option<Travel>,
}

/// A practice sheet as it was read. Experimental: it was tried on drawn sheets alone.
#[told]
pub struct SheetReading {
    /// That the method was tried on drawn sheets alone, and on no real skin, printer or
    /// scanner.
    pub experimental: bool,
    /// How good the picture is; absent where that could not be told.
    pub quality: Option<PictureQuality>,
    /// One mark on this skin with this pigment; absent where no row tells it.
    pub mark: Option<PictureMark>,
    /// Why the picture cannot be measured: every reason that holds. Nothing is measured of
    /// it then.
    pub cannot: Vec<SheetCannot>,
    /// The panels, in their order.
    pub panels: Vec<PanelReading>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// How good a picture is.
#[told(Copy)]
pub struct PictureQuality {
    /// Pixels an inch on the card.
    pub dpi: f64,
    /// Standard deviation of its blur, in mm.
    pub blur_mm: f64,
    /// Standard deviation of its noise over paper minus ink.
    pub noise: f64,
    /// How far a middle mark lies from where a flat card has it, in mm.
    pub flatness_mm: f64,
    /// Paper minus ink, of full.
    pub contrast: f64,
    /// Quality of a JPEG, 1 to 100, by the tables it was made with; absent of a PNG.
    pub jpeg_quality: Option<u8>,
}

/// What one mark looks like.
#[told(Copy)]
pub struct PictureMark {
    /// Its diameter, in mm.
    pub diameter_mm: f64,
    /// How dark it is against the skin, 0 to 1.
    pub darkness: f64,
}

/// Why a picture cannot be measured.
#[told(Eq)]
pub struct SheetCannot {
    /// The word.
    pub why: Open<SheetFault>,
    /// In words, with what helps.
    pub text: String,
}

/// What was read of a panel.
#[told]
pub struct PanelReading {
    /// Its number, from 1.
    pub number: u8,
    /// What was drilled.
    pub drill: DrillKey,
    /// Each quantity that is judged of it.
    pub quantities: Vec<QuantityReading>,
    /// Places on the card that are worth a look.
    pub places: Vec<PanelPlace>,
}

/// One quantity: a number, or why there is none.
#[told]
pub struct QuantityReading {
    /// Which.
    pub quantity: Quantity,
    /// What was got.
    pub got: Option<f64>,
    /// Why it cannot be said.
    pub cannot: Option<Open<QuantityFault>>,
    /// Why, in words.
    pub text: Option<String>,
}

/// A place on the card.
#[told(Copy)]
pub struct PanelPlace {
    /// What is there: `skipped`, `gaps` or `overworked`.
    pub what: Quantity,
    /// From its left edge, in mm.
    pub x_mm: f64,
    /// From its upper edge, in mm.
    pub y_mm: f64,
}
