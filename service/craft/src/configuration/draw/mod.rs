//! Pictures: tips face on, a side view in the skin, a puncture pattern.
//!
//! Every picture is an SVG text of its own paper and ink, so it reads the same
//! on a dark page, in greyscale and in print; nothing is told by colour alone,
//! and no colour stands for a grouping. Each carries a title, a description and
//! a millimetre bar that is true to the picture's scale ([`Picture::px_per_mm`]).
//! [`Picture::png`] draws the same picture with a font that is compiled in.

mod dots;
mod raster;
mod side;
pub(crate) mod svg;
mod tips;

pub use dots::draw_pattern;
pub use raster::RasterError;
pub use side::draw_side;
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
}

/// A width brought into the accepted range.
fn width_of(asked_px: u32) -> f64 {
    f64::from(asked_px.clamp(WIDTH_MIN, WIDTH_MAX))
}
