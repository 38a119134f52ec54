//! Tips face on, to scale, side by side.

use etui_schema::vocabulary::Language;

use super::super::complete::Complete;
use super::super::holes::tip_levels_mm;
use super::super::hull::Point;
use super::super::layout::{Layout, Stand};
use super::super::model::Model;
use super::super::wording::decimal;
use super::svg::{Anchor, Canvas, Face, Fine, GREY, INK, STEEL, Short, cut_to, text_width};
use super::{Picture, Sheet};

/// One configuration to draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Specimen {
    /// The configuration.
    pub configuration: Complete,
    /// A line of the caller's own under the canonical text, such as the label
    /// as it was printed; cut where it does not fit.
    pub caption: Option<String>,
}

const MARGIN: f64 = 24.0;
const GAP: f64 = 28.0;
const NAME: f64 = 15.0;
const NOTE: f64 = 12.0;
const CAPTION_ROOM: f64 = 170.0;
/// Scale below which many configurations are rather broken into rows, and most
/// that a single one is enlarged to, in pixels for a millimetre.
const SCALES: (f64, f64) = (170.0, 480.0);
/// Room under the tips for dimension, name, note and caption.
const BELOW: f64 = 84.0;

/// One specimen with its place.
struct Cell<'a> {
    specimen: &'a Specimen,
    layout: &'a Layout,
    name: String,
    note: String,
    /// How far each tip stands back behind the foremost, as a share of the most.
    back: Vec<f64>,
    width_mm: f64,
    height_mm: f64,
    /// Whether a circle around the tips shows the width.
    is_round: bool,
}

impl Cell<'_> {
    fn d(&self) -> f64 {
        self.specimen.configuration.diameter_mm
    }

    fn width_px(&self, scale: f64) -> f64 {
        let caption =
            self.specimen.caption.as_ref().map_or(0.0, |c| text_width(c, NOTE).min(CAPTION_ROOM));
        (self.width_mm * scale)
            .max(text_width(&self.name, NAME) * 1.06)
            .max(text_width(&self.note, NOTE))
            .max(caption)
    }
}

/// Draws the tips of 1 to 24 configurations, as the skin sees them.
///
/// Outlines are shafts; the dark points are the tips. Further ones are left
/// out. The width is brought into 240 to 3000 pixels; the height follows.
#[must_use]
pub fn draw_tips(
    model: &Model,
    specimens: &[Specimen],
    width_px: u32,
    language: Language,
) -> Picture {
    let words = |key: &str| model.wording().word(language, key);
    let cells: Vec<Cell<'_>> = specimens
        .iter()
        .take(super::super::COMPARED_MAX)
        .map(|specimen| cell(model, specimen, &words("draw_wide"), language))
        .collect();
    let sheet = Sheet::of(width_px, one_row(&cells, SCALES.0) + 2.0 * MARGIN);
    let width = sheet.width;
    let scale = scale_of(&cells, width);
    let rows = break_rows(&cells, scale, width);
    let mut canvas = Canvas::default();
    let title = words("draw_tips_title");
    let note = note(&cells, words);
    let mut top = canvas.heading(MARGIN, width, &title, &note);
    for row in &rows {
        let height = row.iter().map(|c| c.height_mm).fold(0.0, f64::max) * scale;
        let mut left = MARGIN;
        for cell in row {
            let room = cell.width_px(scale);
            draw_cell(&mut canvas, cell, left + 0.5 * room, top + 0.5 * height, height, scale);
            left += room + GAP;
        }
        top += height + BELOW;
    }
    let travel = words("draw_travel");
    let beside = 70.0 + text_width(&travel, NOTE) + 16.0;
    let bottom = canvas.bar((MARGIN, top), scale, width - 2.0 * MARGIN - beside, language);
    travel_arrow(&mut canvas, width - MARGIN, top + 8.0, &travel);
    let names: Vec<&str> = cells.iter().map(|c| c.name.as_str()).collect();
    let described = format!("{note} {}", names.join(", "));
    let title = format!("{title}: {}", names.join(", "));
    sheet.picture(canvas, bottom + MARGIN, scale, (&title, &described))
}

/// What the marks mean that are drawn.
fn note(cells: &[Cell<'_>], words: impl Fn(&str) -> String) -> String {
    let circle = cells.iter().any(|cell| cell.is_round).then(|| words("draw_tips_circle"));
    std::iter::once(words("draw_tips_note")).chain(circle).collect::<Vec<_>>().join(" ")
}

fn cell<'a>(model: &'a Model, specimen: &'a Specimen, wide: &str, language: Language) -> Cell<'a> {
    let Complete { diameter_mm, count, grouping, .. } = specimen.configuration;
    let layout = model.layout(grouping, count);
    let extent = |of: fn(&Point) -> f64| {
        let (low, high) = layout
            .tips
            .iter()
            .map(of)
            .fold((f64::MAX, f64::MIN), |(low, high), at| (low.min(at), high.max(at)));
        (high - low + 1.0) * diameter_mm
    };
    // One needle has one width, that of every other answer: of a round group the
    // circle around it, since it may lie in any way, and that circle is drawn.
    let width_mm = layout.band_width * diameter_mm;
    let is_round = Stand::of(grouping) == Stand::Round && 1 < count;
    let height_mm = if is_round { width_mm } else { extent(|tip| tip.y) };
    let wide_mm = decimal(language, width_mm, 2);
    Cell {
        specimen,
        layout,
        name: specimen.configuration.canonical(),
        note: format!("{wide_mm} mm {wide}"),
        back: set_back(model, &specimen.configuration, layout),
        width_mm,
        height_mm,
        is_round,
    }
}

/// How far each tip stands back behind the foremost: 0 for those in front, 1
/// for the hindmost.
fn set_back(model: &Model, configuration: &Complete, layout: &Layout) -> Vec<f64> {
    let levels: Vec<f64> = tip_levels_mm(configuration, layout, 0.0, model.parameters()).collect();
    let (last, first) =
        levels.iter().fold((f64::MAX, f64::MIN), |(last, first), z| (last.min(*z), first.max(*z)));
    let depth = first - last;
    let share = |z: &f64| if 1e-9 < depth { (first - z) / depth } else { 0.0 };
    levels.iter().map(share).collect()
}

/// How wide all of them are side by side.
fn one_row(cells: &[Cell<'_>], scale: f64) -> f64 {
    cells.iter().map(|cell| cell.width_px(scale) + GAP).sum::<f64>() - GAP
}

/// The largest scale at which the widest and the tallest still fit, and all of
/// them in one row if that leaves them large enough.
fn scale_of(cells: &[Cell<'_>], width: f64) -> f64 {
    let most = |of: fn(&Cell<'_>) -> f64| cells.iter().map(of).fold(0.05, f64::max);
    let by_width = (width - 2.0 * MARGIN) / most(|c| c.width_mm);
    let by_height = 420.0 / most(|c| c.height_mm);
    let (least, largest) = SCALES;
    let mut scale = largest;
    while least < scale && width - 2.0 * MARGIN < one_row(cells, scale) {
        scale *= 0.97;
    }
    by_width.min(by_height).min(scale.max(least))
}

fn break_rows<'a>(cells: &'a [Cell<'a>], scale: f64, width: f64) -> Vec<Vec<&'a Cell<'a>>> {
    let mut rows: Vec<Vec<&Cell<'_>>> = vec![Vec::new()];
    let mut left = MARGIN;
    for cell in cells {
        let room = cell.width_px(scale);
        if width - MARGIN + 0.5 < left + room && rows.last().is_some_and(|row| !row.is_empty()) {
            rows.push(Vec::new());
            left = MARGIN;
        }
        if let Some(row) = rows.last_mut() {
            row.push(cell);
        }
        left += room + GAP;
    }
    rows
}

fn draw_cell(canvas: &mut Canvas, cell: &Cell<'_>, x: f64, y: f64, height: f64, scale: f64) {
    let d = cell.d() * scale;
    canvas.raw(format_args!(r#"<g class="tips">"#));
    for (i, tip) in cell.layout.tips.iter().enumerate() {
        let (cx, cy) = (x + tip.x * d, y - tip.y * d);
        // Tips that stand back, on a slope or an arc, have a lighter point.
        let back = cell.back.get(i).copied().unwrap_or(0.0);
        let point = grey(back);
        canvas.raw(format_args!(
            concat!(
                r##"<circle class="shaft" cx="{}" cy="{}" r="{}" fill="{}" stroke="{}" "##,
                r##"stroke-width="{}"/><circle cx="{}" cy="{}" r="{}" fill="{}"/>"##
            ),
            Short(cx),
            Short(cy),
            Fine(0.5 * d),
            STEEL,
            INK,
            Short((0.03 * d).clamp(0.4, 1.2)),
            Short(cx),
            Short(cy),
            Short((0.11 * d).max(0.8)),
            point
        ));
    }
    canvas.raw(format_args!("</g>"));
    let half = 0.5 * cell.width_mm * scale;
    if cell.is_round {
        canvas.raw(format_args!(
            r#"<circle class="around" cx="{}" cy="{}" r="{}" fill="none" stroke="{GREY}" stroke-dasharray="3 3"/>"#,
            Short(x),
            Short(y),
            Fine(half)
        ));
    }
    let under = y + 0.5 * height + 14.0;
    canvas.line((x - half, under), (x + half, under), GREY, 1.0);
    for end in [x - half, x + half] {
        canvas.line((end, under - 4.0), (end, under + 4.0), GREY, 1.0);
    }
    let middle = |face: Face| face.at(Anchor::Middle);
    canvas.text(x, under + 20.0, middle(Face::plain(NAME).bold()), &cell.name);
    canvas.text(x, under + 37.0, middle(Face::plain(NOTE).grey()), &cell.note);
    if let Some(caption) = &cell.specimen.caption {
        let room = cell.width_px(scale).max(CAPTION_ROOM.min(cell.width_px(scale)));
        let caption = cut_to(caption, NOTE, room);
        canvas.text(x, under + 53.0, middle(Face::plain(NOTE).grey()), &caption);
    }
}

/// From ink to a grey that still stands out from the shaft.
fn grey(share: f64) -> String {
    const FROM: [f64; 3] = [32.0, 38.0, 45.0];
    const TO: [f64; 3] = [150.0, 157.0, 163.0];
    let mixed = |i: usize| FROM[i] + (TO[i] - FROM[i]) * share.clamp(0.0, 1.0);
    format!("rgb({:.0},{:.0},{:.0})", mixed(0), mixed(1), mixed(2))
}

/// An arrow upwards with its word to the left: which way the hand moves.
fn travel_arrow(canvas: &mut Canvas, right: f64, y: f64, word: &str) {
    canvas.line((right - 5.0, y + 4.0), (right - 5.0, y - 12.0), INK, 1.5);
    canvas.raw(format_args!(
        r#"<path d="M{} {}l5 9h-10z" fill="{INK}"/>"#,
        Short(right - 5.0),
        Short(y - 18.0)
    ));
    canvas.text(right - 16.0, y, Face::plain(NOTE).grey().at(Anchor::End), word);
}

/// Fill of the bands of skin, from the surface down, apart in greyscale.
pub(super) const BANDS: [&str; 3] = ["#c3b8a3", "#e0d8c8", "#f6f3ec"];
