//! `/v1/configuration-drawings`: pictures of configurations.

use crate::kinds::{asked, told};
use crate::vocabulary::{Effect, Site, Thickness};

/// Which configurations to draw, and how.
#[asked]
pub struct DrawingQuery {
    /// A configuration, such as `0.20 1RL`; 1 to 24 of them.
    #[schemars(length(min = 1, max = 24), inner(length(min = 1, max = 120)), extend("examples" = [["0.20 1RL", "0.30 3RL"]]))]
    pub label: Vec<String>,
    /// `svg` or `png`; absent: what `Accept` asks for, else `svg`.
    pub format: Option<PictureFormat>,
    /// Width in pixels, 240 to 3000; 960 if absent.
    #[schemars(range(min = 240, max = 3000))]
    pub width: Option<u32>,
    /// From where they are seen; `tips` if absent. `side` shows one or two,
    /// `passes` up to four.
    pub view: Option<DrawingView>,
    /// For `side` and `passes`: the skin; `brow` if absent.
    pub site: Option<Site>,
    /// For `side` and `passes`: depth of the tips in millimetres, 0.05 to 3.0;
    /// what is usual at the site if absent.
    #[schemars(range(min = 0.05, max = 3.0))]
    pub depth_mm: Option<f64>,
    /// For `side`: age of the client in whole years, 0 to 120; nothing is taken
    /// off the thickness for age if absent.
    #[schemars(range(max = 120))]
    pub age_years: Option<u8>,
    /// For `side`: judged thickness of her skin.
    pub thickness: Option<Thickness>,
    /// For `passes`, which needs it: what is worked. Points that are set one by
    /// one know no pass.
    pub effect: Option<Effect>,
    /// For `passes`: how many columns, 1 to 6; 3 if absent.
    #[schemars(range(min = 1, max = 6))]
    pub passes: Option<u8>,
    /// For `passes`: full travel of the needle in millimetres, 0.5 to 6.0; what
    /// is usual at the site if absent.
    #[schemars(range(min = 0.5, max = 6.0))]
    pub stroke_mm: Option<f64>,
    /// For `passes`: strokes per second, 10 to 300; what is usual at the site if
    /// absent.
    #[schemars(range(min = 10.0, max = 300.0))]
    pub rate_hz: Option<f64>,
    /// For `passes`: speed of the hand along the skin in millimetres per second,
    /// 0.5 to 300; what is usual at the site if absent.
    #[schemars(range(min = 0.5, max = 300.0))]
    pub hand_speed_mm_s: Option<f64>,
}

/// From where configurations are drawn.
#[told(Copy, Eq)]
#[serde(rename_all = "snake_case")]
pub enum DrawingView {
    /// Face on, side by side.
    Tips,
    /// One or two from the side, at work in the layers of the skin.
    Side,
    /// What one to four leave in the skin after one pass, two, three: a row for
    /// each configuration, a column for each pass, all fields to one scale.
    Passes,
}

/// A format of pictures.
#[told(Copy, Eq)]
#[serde(rename_all = "snake_case")]
pub enum PictureFormat {
    /// Scalable, text.
    Svg,
    /// Pixels.
    Png,
}
