//! The same picture as PNG, drawn with the font that is compiled in.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::{Picture, letters};

/// Why a picture could not be turned into PNG.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RasterError {
    /// More pixels than are drawn.
    #[error(
        "the picture would have {found} pixels; at most {most} are drawn: ask for a smaller width"
    )]
    TooLarge {
        /// How many it would have.
        found: u64,
        /// How many are drawn.
        most: u64,
    },
    /// The drawing library refused.
    #[error("the picture could not be drawn: {why}")]
    Refused {
        /// What it said.
        why: String,
    },
}

/// Most pixels of one PNG.
const PIXELS_MAX: u64 = 24_000_000;

impl Picture {
    /// The picture as PNG, one pixel for each unit of the SVG.
    ///
    /// # Errors
    /// [`RasterError::TooLarge`] for more than 24 million pixels.
    pub fn png(&self) -> Result<Vec<u8>, RasterError> {
        let (width, height) = (pixels(self.width_px), pixels(self.height_px));
        let found = u64::from(width) * u64::from(height);
        if PIXELS_MAX < found {
            return Err(RasterError::TooLarge { found, most: PIXELS_MAX });
        }
        let refused = |why: String| RasterError::Refused { why };
        let svg = letters::outlined(&self.svg, &self.texts).map_err(|e| refused(e.to_string()))?;
        let tree = Tree::from_str(&svg, &Options::default()).map_err(|e| refused(e.to_string()))?;
        let mut pixmap =
            Pixmap::new(width, height).ok_or_else(|| refused("no pixels".to_owned()))?;
        resvg::render(&tree, Transform::identity(), &mut pixmap.as_mut());
        pixmap.encode_png().map_err(|e| refused(e.to_string()))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "pictures are between 1 and some thousand pixels wide and high"
)]
fn pixels(length: f64) -> u32 {
    length.ceil().max(1.0) as u32
}
