//! Pictures: tips face on, a side view in the skin, a puncture pattern, and
//! patterns of several configurations pass by pass.
//!
//! Every picture is an SVG text of its own paper and ink, so it reads the same
//! on a dark page, in greyscale and in print; nothing is told by colour alone,
//! and no colour stands for a grouping. Each carries a title, a description and
//! a millimetre bar that is true to the picture's scale ([`Picture::px_per_mm`]).
//! [`Picture::png`] draws the same picture with a font that is compiled in.

mod dots;
mod letters;
mod passes;
mod raster;
mod side;
pub(crate) mod svg;
mod tips;

use self::svg::{Canvas, Drawn, Lettering};
pub use dots::draw_pattern;
pub use passes::{Grid, PASSES_MAX, ROWS_MAX, draw_passes, sample};

pub use raster::RasterError;
pub use side::{BESIDE_MAX, draw_side};
pub use tips::{Specimen, draw_tips};

/// Narrowest picture, in pixels.
pub const WIDTH_MIN: u32 = 240;
/// Widest picture, in pixels.
pub const WIDTH_MAX: u32 = 3000;

/// A finished picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The SVG document.
    pub svg: String,
    /// Its width in pixels.
    pub width_px: f64,
    /// Its height in pixels.
    pub height_px: f64,
    /// Scale: pixels for one millimetre of needle or skin.
    pub px_per_mm: f64,
    /// What is written in it, in the order of the document.
    texts: Vec<Lettering>,
}

/// Width at which pictures are composed; wider ones are the same picture,
/// enlarged with its letters and lines.
const COMPOSED_PX: f64 = 960.0;

/// The size at which a picture is composed, and how much it is enlarged then.
#[derive(Debug, Clone, Copy)]
struct Sheet {
    width: f64,
    zoom: f64,
}

impl Sheet {
    /// A sheet of a width that is brought into the accepted range. More room than
    /// `enough` is of no use to what stands on it.
    fn of(asked_px: u32, enough: f64) -> Self {
        let asked = f64::from(asked_px.clamp(WIDTH_MIN, WIDTH_MAX));
        let width = asked.min(enough.max(COMPOSED_PX));
        Self { width, zoom: asked / width }
    }

    /// The picture of what was drawn down to a height, at a scale.
    fn picture(
        self,
        canvas: Canvas,
        height: f64,
        scale: f64,
        (title, says): (&str, &str),
    ) -> Picture {
        let Drawn { svg, texts } = canvas.finish((self.width, height), self.zoom, title, says);
        Picture {
            svg,
            width_px: self.width * self.zoom,
            height_px: height * self.zoom,
            px_per_mm: scale * self.zoom,
            texts,
        }
    }
}
