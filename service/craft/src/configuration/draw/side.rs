//! A side view: tips in the skin of a site, depth and layers to scale.

use etui_schema::vocabulary::Language;

use super::super::circumstances::Circumstances;
use super::super::complete::Complete;
use super::super::holes::tip_levels_mm;
use super::super::model::Model;
use super::super::skin::Tolerance;
use super::super::wording::decimal;
use super::svg::{Anchor, Canvas, Face, Fine, GREY, INK, STEEL, Short, text_width};
use super::tips::BANDS;
use super::{Picture, width_of};

const MARGIN: f64 = 24.0;
const NOTE: f64 = 12.0;
/// Room on the left for the ruler.
const RULER: f64 = 68.0;
/// Skin shown beside the tips, in mm, and needle shown above it.
const BESIDE_MM: f64 = 0.25;
const ABOVE_MM: f64 = 0.55;

/// One layer of skin, from the surface downwards.
struct Layer {
    from_mm: f64,
    to_mm: f64,
    words: String,
}

/// Draws one configuration from the side, at work.
///
/// Points are drawn as straight cones of the taper's length; the skin has the
/// thickness that the measures reckon with. The width is brought into 240 to
/// 3000 pixels; the height follows.
#[must_use]
pub fn draw_side(
    model: &Model,
    configuration: &Complete,
    circumstances: &Circumstances,
    width_px: u32,
    language: Language,
) -> Picture {
    let width = width_of(width_px);
    let tolerance =
        model.skin().tolerance(circumstances.site, &circumstances.skin, model.parameters());
    let layers = layers(model, circumstances, &tolerance, language);
    let legend = layers.iter().map(|l| text_width(&l.words, NOTE)).fold(0.0, f64::max) + 24.0;
    let layout = model.layout(configuration.grouping, configuration.count);
    let d = configuration.diameter_mm;
    let below_mm = tolerance.total_mm.max(circumstances.depth_mm) + 0.12;
    let across_mm = layout.band_width * d + 2.0 * BESIDE_MM;
    let room = (width - 2.0 * MARGIN - RULER - legend).max(60.0);
    let scale = (room / across_mm).min(460.0 / (ABOVE_MM + below_mm)).min(320.0);
    let mut canvas = Canvas::default();
    let words = |key: &str| model.wording().word(language, key);
    let name = configuration.canonical();
    let title = format!("{name}, {}", words("draw_side_title"));
    let taper = decimal(language, model.taper_mm(configuration), 1);
    let note = format!(
        "{}: {}; {} {taper} mm",
        words("draw_site"),
        words(&format!("site_{}", circumstances.site)),
        words("draw_taper")
    );
    let top = canvas.heading(MARGIN, width, &title, &note);
    let view = View {
        left: MARGIN + RULER,
        right: MARGIN + RULER + room.min((across_mm * scale).max(220.0).min(room)),
        surface: top + 6.0 + ABOVE_MM * scale,
        scale,
    };
    view.skin(&mut canvas, &layers, below_mm);
    let levels = tip_levels_mm(configuration, layout, circumstances.depth_mm, model.parameters());
    let taper_mm = model.taper_mm(configuration);
    for (tip, depth) in layout.tips.iter().zip(levels) {
        view.needle(&mut canvas, tip.x * d, depth.max(-ABOVE_MM + 0.1), d, taper_mm);
    }
    let depth_words = format!("{} mm", decimal(language, circumstances.depth_mm, 2));
    view.ruler(&mut canvas, circumstances.depth_mm, below_mm, &depth_words);
    let under = view.y(below_mm) + 24.0;
    let bottom = canvas.bar(view.left, under, scale, width - view.left - MARGIN - 70.0);
    let height = bottom + MARGIN;
    let described = layers.iter().map(|l| l.words.as_str()).collect::<Vec<_>>().join("; ");
    let described = format!("{note}; {depth_words}; {described}");
    Picture {
        svg: canvas.finish(width, height, &title, &described),
        width_px: width,
        height_px: height,
        px_per_mm: scale,
    }
}

fn layers(
    model: &Model,
    circumstances: &Circumstances,
    tolerance: &Tolerance,
    language: Language,
) -> Vec<Layer> {
    let words = |key: &str| model.wording().word(language, key);
    let measured = model.skin().site(circumstances.site).total_mm.source.id();
    let kind =
        if **measured == *crate::evidence::MODEL { "draw_assumed" } else { "draw_histology" };
    let epidermis = tolerance.epidermis_mm.min(0.5 * tolerance.total_mm);
    let dermis = tolerance.total_mm - epidermis;
    let papillary = epidermis + dermis * model.skin().papillary().0;
    let until = |mm: f64| decimal(language, mm, 2);
    let layer = |from_mm: f64, to_mm: f64, key: &str, more: &str| Layer {
        from_mm,
        to_mm,
        words: format!("{} {} {} mm{more}", words(key), words("draw_to"), until(to_mm)),
    };
    vec![
        layer(0.0, epidermis, "draw_epidermis", ""),
        layer(epidermis, papillary, "draw_papillary", ""),
        layer(papillary, tolerance.total_mm, "draw_dermis", &format!(" ({})", words(kind))),
        Layer { from_mm: tolerance.total_mm, to_mm: f64::MAX, words: words("draw_below") },
    ]
}

/// Where millimetres lie on the picture.
struct View {
    left: f64,
    right: f64,
    surface: f64,
    scale: f64,
}

impl View {
    fn y(&self, depth_mm: f64) -> f64 {
        self.surface + depth_mm * self.scale
    }

    fn skin(&self, canvas: &mut Canvas, layers: &[Layer], below_mm: f64) {
        canvas.raw(format_args!(
            concat!(
                r##"<defs><pattern id="under" width="7" height="7" patternUnits="userSpaceOnUse" "##,
                r##"patternTransform="rotate(45)"><rect width="7" height="7" fill="#fffdf8"/>"##,
                r##"<line x1="0" y1="0" x2="0" y2="7" stroke="{}" stroke-width="1.4"/>"##,
                r##"</pattern></defs>"##
            ),
            STEEL
        ));
        let mut text_y = f64::MIN;
        for (i, layer) in layers.iter().enumerate() {
            let (top, bottom) = (self.y(layer.from_mm), self.y(layer.to_mm.min(below_mm)));
            let fill = BANDS.get(i).copied().unwrap_or("url(#under)");
            canvas.raw(format_args!(
                r#"<rect class="layer" x="{}" y="{}" width="{}" height="{}" fill="{fill}"/>"#,
                Short(self.left),
                Fine(top),
                Short(self.right - self.left),
                Fine((bottom - top).max(0.0))
            ));
            canvas.line((self.left, top), (self.right, top), GREY, if i == 0 { 1.5 } else { 0.7 });
            // Names of thin layers slide down so that none lies on another.
            let middle = 0.5 * (top + bottom) + 4.0;
            text_y = middle.max(text_y + 16.0);
            canvas.text(self.right + 20.0, text_y, Face::plain(NOTE), &layer.words);
            let (from, to) = (0.5 * (top + bottom), text_y - 4.0);
            canvas.line((self.right + 2.0, from), (self.right + 16.0, to), GREY, 0.7);
        }
    }

    /// One needle: a cone up to the taper's length, the shaft above it, cut
    /// off where the picture ends.
    fn needle(&self, canvas: &mut Canvas, x_mm: f64, depth_mm: f64, d: f64, taper_mm: f64) {
        let x = 0.5 * (self.left + self.right) + x_mm * self.scale;
        let tip_mm = depth_mm;
        let top_mm = -ABOVE_MM + 0.04;
        let half = |at_mm: f64| 0.5 * d * ((tip_mm - at_mm) / taper_mm).min(1.0) * self.scale;
        let shoulder_mm = (tip_mm - taper_mm).max(top_mm);
        let (shoulder, top) = (half(shoulder_mm), half(top_mm));
        canvas.raw(format_args!(
            concat!(
                r##"<path class="needle" d="M{x} {}L{} {}L{} {}L{} {}L{} {}Z" fill="#8d949b" "##,
                r##"fill-opacity="0.82" stroke="{ink}" stroke-width="0.8"/>"##
            ),
            Fine(self.y(tip_mm)),
            Fine(x + shoulder),
            Fine(self.y(shoulder_mm)),
            Fine(x + top),
            Fine(self.y(top_mm)),
            Fine(x - top),
            Fine(self.y(top_mm)),
            Fine(x - shoulder),
            Fine(self.y(shoulder_mm)),
            x = Fine(x),
            ink = INK
        ));
    }

    /// Tenths of a millimetre down from the surface, and the depth.
    fn ruler(&self, canvas: &mut Canvas, depth_mm: f64, below_mm: f64, words: &str) {
        let x = self.left - 8.0;
        canvas.line((x, self.y(0.0)), (x, self.y(below_mm)), GREY, 1.0);
        let mut tenth = 0_u32;
        while f64::from(tenth) * 0.1 <= below_mm {
            let at = f64::from(tenth) * 0.1;
            let long = if tenth.is_multiple_of(5) { 8.0 } else { 4.0 };
            canvas.line((x - long, self.y(at)), (x, self.y(at)), GREY, 1.0);
            let clear = 12.0 < (self.y(at) - self.y(depth_mm)).abs();
            if tenth.is_multiple_of(5) && clear {
                let face = Face::plain(11.0).grey().at(Anchor::End);
                canvas.text(x - 11.0, self.y(at) + 4.0, face, &format!("{at:.1}"));
            }
            tenth += 1;
        }
        let y = self.y(depth_mm);
        canvas.raw(format_args!(
            r#"<path d="M{} {}l-9 -4.5v9z" fill="{INK}"/>"#,
            Short(x),
            Fine(y)
        ));
        canvas.raw(format_args!(
            r#"<line x1="{}" y1="{y}" x2="{}" y2="{y}" stroke="{INK}" stroke-width="0.9" stroke-dasharray="5 4"/>"#,
            Short(self.left),
            Short(self.right),
            y = Fine(y)
        ));
        let face = Face::plain(NOTE).bold().at(Anchor::End);
        canvas.text(x - 11.0, y + 4.0, face, words);
    }
}
