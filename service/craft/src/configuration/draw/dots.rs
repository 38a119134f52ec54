//! A picture of a puncture pattern.

use etui_schema::vocabulary::Language;

use super::super::circumstances::Circumstances;
use super::super::complete::Complete;
use super::super::model::Model;
use super::super::pattern::{Ground, Pattern, Place, Statistics};
use super::super::wording::decimal;
use super::svg::{Canvas, Fine, GREY, INK, Short};
use super::{COMPOSED_PX, Picture, Sheet};

const MARGIN: f64 = 24.0;

/// Marks are drawn in layers of this many, so that places hit twice are darker.
const LAYERS: usize = 24;

/// Draws a pattern to scale: marks in grey, places hit more than once darker,
/// the border of an area as a thin line.
///
/// The width is brought into 240 to 3000 pixels; the height follows.
#[must_use]
pub fn draw_pattern(
    model: &Model,
    configuration: &Complete,
    pattern: &Pattern,
    statistics: &Statistics,
    (circumstances, width_px): (&Circumstances, u32),
    language: Language,
) -> Picture {
    let sheet = Sheet::of(width_px, COMPOSED_PX);
    let width = sheet.width;
    let places: Vec<Place> = pattern.dots.iter().map(|dot| pattern.place(dot)).collect();
    let words = |key: &str| model.wording().word(language, key);
    let title = format!("{}, {}", configuration.canonical(), words("draw_pattern_title"));
    let number = |value: f64, digits: usize| decimal(language, value, digits);
    let percent = |share: f64| number(100.0 * share, 0);
    let note = model.wording().filled(
        language,
        "draw_pattern_note",
        &[
            ("stroke", &number(circumstances.stroke_mm, 1)),
            ("rate", &number(circumstances.rate_hz, 0)),
            ("speed", &number(circumstances.hand_speed_mm_s, 0)),
            ("passes", &circumstances.passes.to_string()),
            ("punctures", &number(statistics.punctures_per_mm2, 1)),
            ("cover", &percent(statistics.coverage.simulated)),
            ("repeat", &percent(statistics.repeat_hits.simulated)),
        ],
    );
    let mut canvas = Canvas::default();
    let top = canvas.heading(MARGIN, width, &title, &note) + 2.0;
    let frame = Frame::around(pattern, &places, width, top);
    frame.border(&mut canvas, pattern.ground, "within");
    frame.marks(&mut canvas, pattern, &places, "within");
    let (from, room) = ((MARGIN, frame.bottom + 18.0), width - 2.0 * MARGIN - 70.0);
    let bottom = canvas.bar(from, frame.scale, room, language);
    sheet.picture(canvas, bottom + MARGIN, frame.scale, (&title, &note))
}

/// Where the plane of a pattern lies on the picture.
pub(super) struct Frame {
    /// The corner of the plane that is shown, in millimetres.
    pub(super) corner_mm: (f64, f64),
    /// Where that corner lies, in pixels.
    pub(super) corner: (f64, f64),
    /// Pixels for one millimetre.
    pub(super) scale: f64,
    bottom: f64,
}

impl Frame {
    fn around(pattern: &Pattern, places: &[Place], width: f64, top: f64) -> Self {
        let (mut low, mut high): ((f64, f64), (f64, f64)) = match pattern.ground {
            Ground::Straight { length_mm } | Ground::Hair { length_mm, .. } => {
                let half = 0.5 * pattern.band_width_mm;
                ((0.0, -half), (0.5 * length_mm, half))
            }
            Ground::Area { width_mm, height_mm } => ((0.0, 0.0), (width_mm, height_mm)),
        };
        // What lies over the border of an area is cut off at it.
        let area = matches!(pattern.ground, Ground::Area { .. });
        for (place, dot) in places.iter().zip(&pattern.dots).filter(|_| !area) {
            low = (low.0.min(place.x_mm - dot.radius_mm), low.1.min(place.y_mm - dot.radius_mm));
            high = (high.0.max(place.x_mm + dot.radius_mm), high.1.max(place.y_mm + dot.radius_mm));
        }
        let across = width - 2.0 * MARGIN;
        let scale = (across / (high.0 - low.0)).min(900.0 / (high.1 - low.1)).min(220.0);
        Self::at_corner(low, (MARGIN, top), scale, (high.1 - low.1) * scale)
    }

    /// A frame whose corner is known.
    pub(super) fn at_corner(
        corner_mm: (f64, f64),
        corner: (f64, f64),
        scale: f64,
        height: f64,
    ) -> Self {
        Self { corner_mm, corner, scale, bottom: corner.1 + height }
    }

    fn at(&self, place: Place) -> (f64, f64) {
        let x = self.corner.0 + (place.x_mm - self.corner_mm.0) * self.scale;
        (x, self.corner.1 + (place.y_mm - self.corner_mm.1) * self.scale)
    }

    /// The border of an area; what lies over it is cut off under the name `clip`.
    pub(super) fn border(&self, canvas: &mut Canvas, ground: Ground, clip: &str) {
        if let Ground::Area { width_mm, height_mm } = ground {
            let (x, y) = self.at(Place { x_mm: 0.0, y_mm: 0.0 });
            canvas.raw(format_args!(
                r#"<clipPath id="{clip}"><rect x="{}" y="{}" width="{}" height="{}"/></clipPath>"#,
                Short(x),
                Short(y),
                Fine(width_mm * self.scale),
                Fine(height_mm * self.scale)
            ));
            canvas.raw(format_args!(
                r#"<rect class="ground" x="{}" y="{}" width="{}" height="{}" fill="none" stroke="{GREY}" stroke-width="1"/>"#,
                Short(x),
                Short(y),
                Fine(width_mm * self.scale),
                Fine(height_mm * self.scale)
            ));
        }
    }

    /// Dots as round caps of lines without length: a few bytes each.
    pub(super) fn marks(
        &self,
        canvas: &mut Canvas,
        pattern: &Pattern,
        places: &[Place],
        clip: &str,
    ) {
        let mut layers: Vec<(f64, String)> = Vec::new();
        for (i, (place, dot)) in places.iter().zip(&pattern.dots).enumerate() {
            // To a hundredth of a pixel, so that equal marks share a layer.
            let wide = (2.0 * dot.radius_mm * self.scale * 10.0).round() / 10.0;
            let layer = i % LAYERS;
            let path = match layers.iter_mut().skip(layer).step_by(LAYERS).find(|l| same(l.0, wide))
            {
                Some((_, path)) => path,
                None => push_layers(&mut layers, wide, layer),
            };
            let (x, y) = self.at(*place);
            path.push_str(&format!("M{} {}h0", Short(x), Short(y)));
        }
        let clip = match pattern.ground {
            Ground::Area { .. } => format!(r#" clip-path="url(#{clip})""#),
            Ground::Straight { .. } | Ground::Hair { .. } => String::new(),
        };
        for (wide, path) in layers.iter().filter(|(_, path)| !path.is_empty()) {
            canvas.raw(format_args!(
                r#"<path class="marks" d="{path}" fill="none" stroke="{INK}" stroke-opacity="0.5" stroke-linecap="round" stroke-width="{}"{clip}/>"#,
                Short(*wide)
            ));
        }
    }
}

/// Adds a set of empty layers for marks of one width and gives one of them.
fn push_layers(layers: &mut Vec<(f64, String)>, wide: f64, layer: usize) -> &mut String {
    let start = layers.len();
    layers.extend((0..LAYERS).map(|_| (wide, String::new())));
    &mut layers[start + layer].1
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}
