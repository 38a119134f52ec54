//! A side view: tips in the skin of a site, depth and layers to scale.

use etui_schema::vocabulary::Language;

use super::super::circumstances::Circumstances;
use super::super::complete::Complete;
use super::super::holes::tip_levels_mm;
use super::super::layout::Layout;
use super::super::model::Model;
use super::super::skin::Tolerance;
use super::super::wording::decimal;
use super::svg::{Anchor, Canvas, Face, Fine, GREY, INK, STEEL, Short, text_width};
use super::tips::BANDS;
use super::{COMPOSED_PX, Picture, Sheet};

/// Most configurations side by side in one skin.
pub const BESIDE_MAX: usize = 2;

const MARGIN: f64 = 24.0;
const NOTE: f64 = 12.0;
/// Room on the left for the ruler.
const RULER: f64 = 68.0;
/// Skin shown beside the tips, in mm, and needle shown above it.
const BESIDE_MM: f64 = 0.25;
const ABOVE_MM: f64 = 0.55;
/// Names of layers stand under the picture where they would leave it less than
/// this share of the width.
const LEAST_SHARE: f64 = 0.4;

/// One layer of skin, from the surface downwards.
struct Layer {
    from_mm: f64,
    to_mm: f64,
    words: String,
}

/// One configuration with its place across the skin.
struct Group<'a> {
    configuration: &'a Complete,
    layout: &'a Layout,
    /// The middle of its tips, from the left edge of the skin.
    middle_mm: f64,
}

/// Draws one configuration, or two side by side, at work, from the side.
///
/// Points are drawn as straight cones of the taper's length; the skin has the
/// thickness that the measures reckon with. A tip that comes out below the skin
/// has a ring around it. Further configurations are left out. The width is
/// brought into 240 to 3000 pixels; the height follows.
#[must_use]
pub fn draw_side(
    model: &Model,
    configurations: &[Complete],
    circumstances: &Circumstances,
    width_px: u32,
    language: Language,
) -> Picture {
    let sheet = Sheet::of(width_px, COMPOSED_PX);
    let tolerance =
        model.skin().tolerance(circumstances.site, &circumstances.skin, model.parameters());
    let layers = layers(model, circumstances, &tolerance, language);
    let legend = layers.iter().map(|l| text_width(&l.words, NOTE)).fold(0.0, f64::max) + 24.0;
    let (groups, across_mm) = groups(model, configurations);
    let below_mm = tolerance.total_mm.max(circumstances.depth_mm) + 0.12;
    let whole = sheet.width - 2.0 * MARGIN - RULER;
    let names_below = whole - legend < LEAST_SHARE * sheet.width;
    let room = if names_below { whole - 20.0 } else { whole - legend };
    let scale = (room / across_mm).min(460.0 / (ABOVE_MM + below_mm)).min(320.0);
    let mut canvas = Canvas::default();
    let words = |key: &str| model.wording().word(language, key);
    let names: Vec<String> = groups.iter().map(|g| g.configuration.canonical()).collect();
    let title = format!("{}, {}", names.join(" | "), words("draw_side_title"));
    let note = note(model, &groups, circumstances, &tolerance, language);
    let top = canvas.heading(MARGIN, sheet.width, &title, &note);
    let view = View {
        left: MARGIN + RULER,
        right: MARGIN + RULER + room.min((across_mm * scale).max(220.0)),
        surface: top + 6.0 + ABOVE_MM * scale,
        scale,
        skin_mm: tolerance.total_mm,
    };
    view.skin(&mut canvas, &layers, below_mm, names_below);
    let left = 0.5 * (view.left + view.right - across_mm * scale);
    for group in &groups {
        let Group { configuration, layout, middle_mm } = group;
        let d = configuration.diameter_mm;
        let taper_mm = model.taper_mm(configuration);
        let levels =
            tip_levels_mm(configuration, layout, circumstances.depth_mm, model.parameters());
        for (tip, depth) in layout.tips.iter().zip(levels) {
            let x = left + (middle_mm + tip.x * d) * scale;
            view.needle(&mut canvas, x, depth.max(-ABOVE_MM + 0.1), d, taper_mm);
        }
    }
    let depth_words = format!("{} mm", decimal(language, circumstances.depth_mm, 2));
    view.ruler(&mut canvas, circumstances.depth_mm, below_mm, &depth_words, language);
    let mut under = view.y(below_mm) + 24.0;
    if names_below {
        for (i, layer) in layers.iter().enumerate() {
            let line = format!("{}: {}", i + 1, layer.words);
            let room = sheet.width - 2.0 * MARGIN;
            under = canvas.lines((MARGIN, under), room, Face::plain(NOTE), &line);
        }
    }
    let bottom = canvas.bar((view.left, under), scale, whole - 70.0, language);
    let described = layers.iter().map(|l| l.words.as_str()).collect::<Vec<_>>().join("; ");
    let described = format!("{}. {depth_words}; {described}", note.trim_end_matches('.'));
    sheet.picture(canvas, bottom + MARGIN, scale, (&title, &described))
}

/// The first configurations side by side, and how wide they are with the skin
/// beside them, in mm.
fn groups<'a>(model: &'a Model, configurations: &'a [Complete]) -> (Vec<Group<'a>>, f64) {
    let mut across_mm = BESIDE_MM;
    let mut groups = Vec::new();
    for configuration in configurations.iter().take(BESIDE_MAX) {
        let layout = model.layout(configuration.grouping, configuration.count);
        let wide_mm = layout.band_width * configuration.diameter_mm;
        let middle_mm = across_mm + 0.5 * wide_mm;
        groups.push(Group { configuration, layout, middle_mm });
        across_mm += wide_mm + BESIDE_MM;
    }
    (groups, across_mm)
}

/// Site and tapers, and whether a tip comes out below the skin.
fn note(
    model: &Model,
    groups: &[Group<'_>],
    circumstances: &Circumstances,
    tolerance: &Tolerance,
    language: Language,
) -> String {
    let words = |key: &str| model.wording().word(language, key);
    let taper = |group: &Group<'_>| decimal(language, model.taper_mm(group.configuration), 1);
    let mut tapers: Vec<String> = groups.iter().map(taper).collect();
    tapers.dedup();
    let mut note = format!(
        "{}: {}; {} {} mm",
        words("draw_site"),
        words(&format!("site_{}", circumstances.site)),
        words("draw_taper"),
        tapers.join(" | ")
    );
    if tolerance.total_mm < circumstances.depth_mm {
        note.push_str(". ");
        note.push_str(&words("draw_through"));
    }
    note
}

fn layers(
    model: &Model,
    circumstances: &Circumstances,
    tolerance: &Tolerance,
    language: Language,
) -> Vec<Layer> {
    let words = |key: &str| model.wording().word(language, key);
    let mean = &model.skin().site(circumstances.site).total_mm;
    // What is scaled for age or thickness was measured by nobody.
    let is_scaled = 0.0 < (mean.value - tolerance.total_mm).abs();
    let kind = match is_scaled {
        _ if **mean.source.id() == *crate::evidence::MODEL => "draw_assumed",
        true => "draw_scaled",
        false => "draw_histology",
    };
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
    skin_mm: f64,
}

impl View {
    fn y(&self, depth_mm: f64) -> f64 {
        self.surface + depth_mm * self.scale
    }

    /// The layers with their names beside them, or their numbers where the names
    /// stand below.
    fn skin(&self, canvas: &mut Canvas, layers: &[Layer], below_mm: f64, numbered: bool) {
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
            text_y = middle.max(text_y + if numbered { 14.0 } else { 16.0 });
            let number = (i + 1).to_string();
            let words = if numbered { &number } else { &layer.words };
            let gap = if numbered { 12.0 } else { 20.0 };
            canvas.text(self.right + gap, text_y, Face::plain(NOTE), words);
            let (from, to) = (0.5 * (top + bottom), text_y - 4.0);
            canvas.line((self.right + 2.0, from), (self.right + gap - 4.0, to), GREY, 0.7);
        }
    }

    /// One needle: a cone up to the taper's length, the shaft above it, broken
    /// off where the picture ends.
    fn needle(&self, canvas: &mut Canvas, x: f64, tip_mm: f64, d: f64, taper_mm: f64) {
        let top_mm = -ABOVE_MM + 0.04;
        let half = |at_mm: f64| 0.5 * d * ((tip_mm - at_mm) / taper_mm).min(1.0) * self.scale;
        let shoulder_mm = (tip_mm - taper_mm).max(top_mm);
        let (shoulder, top) = (half(shoulder_mm), half(top_mm));
        let (edge, zag) = (self.y(top_mm), (0.5 * top).min(5.0));
        canvas.raw(format_args!(
            concat!(
                r##"<path class="needle" d="M{x} {}L{} {}L{} {}l{step} -{zag}l{step} {two}l{step} -{zag}"##,
                r##"L{} {}Z" fill="#8d949b" fill-opacity="0.82" stroke="{ink}" stroke-width="0.8"/>"##
            ),
            Fine(self.y(tip_mm)),
            Fine(x + shoulder),
            Fine(self.y(shoulder_mm)),
            Fine(x + top),
            Fine(edge),
            Fine(x - shoulder),
            Fine(self.y(shoulder_mm)),
            x = Fine(x),
            step = Fine(-2.0 * top / 3.0),
            zag = Short(zag),
            two = Short(2.0 * zag),
            ink = INK
        ));
        if self.skin_mm < tip_mm {
            // Neighbours lie about half a diameter apart: each ring stays by itself.
            let radius = (0.22 * d * self.scale).clamp(1.5, 6.0);
            canvas.raw(format_args!(
                r#"<circle class="through" cx="{}" cy="{}" r="{}" fill="none" stroke="{INK}" stroke-width="{}"/>"#,
                Fine(x),
                Fine(self.y(tip_mm)),
                Short(radius),
                Short((0.27 * radius).max(0.6)),
            ));
        }
    }

    /// Tenths of a millimetre down from the surface, and the depth.
    fn ruler(
        &self,
        canvas: &mut Canvas,
        depth_mm: f64,
        below_mm: f64,
        words: &str,
        language: Language,
    ) {
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
                canvas.text(x - 11.0, self.y(at) + 4.0, face, &decimal(language, at, 1));
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
