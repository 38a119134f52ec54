//! Tips face on, to scale, side by side.

use etui_schema::vocabulary::Language;

use super::super::complete::Complete;
use super::super::layout::Layout;
use super::super::model::Model;
use super::svg::{Anchor, Canvas, Face, Fine, GREY, INK, PALE, STEEL, Short, cut_to, text_width};
use super::{Picture, width_of};

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
/// Room under the tips for dimension, name, note and caption.
const BELOW: f64 = 84.0;

/// One specimen with its place.
struct Cell<'a> {
    specimen: &'a Specimen,
    layout: &'a Layout,
    name: String,
    note: String,
    height_mm: f64,
}

impl Cell<'_> {
    fn d(&self) -> f64 {
        self.specimen.configuration.diameter_mm
    }

    fn band_mm(&self) -> f64 {
        self.layout.band_width * self.d()
    }

    fn width_px(&self, scale: f64) -> f64 {
        let caption =
            self.specimen.caption.as_ref().map_or(0.0, |c| text_width(c, NOTE).min(CAPTION_ROOM));
        (self.band_mm() * scale)
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
    let width = width_of(width_px);
    let words = |key: &str| model.wording().word(language, key);
    let cells: Vec<Cell<'_>> = specimens
        .iter()
        .take(super::super::COMPARED_MAX)
        .map(|specimen| cell(model, specimen, &words("draw_wide"), language))
        .collect();
    let scale = scale_of(&cells, width);
    let rows = break_rows(&cells, scale, width);
    let mut canvas = Canvas::default();
    let title = words("draw_tips_title");
    let mut top = canvas.heading(MARGIN, width, &title, &words("draw_tips_note"));
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
    let bottom = canvas.bar(MARGIN, top, scale, width - 2.0 * MARGIN - 70.0);
    travel_arrow(&mut canvas, width - MARGIN, top + 8.0, &words("draw_travel"));
    let names: Vec<&str> = cells.iter().map(|c| c.name.as_str()).collect();
    let described = format!("{} {}", words("draw_tips_note"), names.join(", "));
    let height = bottom + MARGIN;
    Picture {
        svg: canvas.finish(width, height, &format!("{title}: {}", names.join(", ")), &described),
        width_px: width,
        height_px: height,
        px_per_mm: scale,
    }
}

fn cell<'a>(model: &'a Model, specimen: &'a Specimen, wide: &str, language: Language) -> Cell<'a> {
    let Complete { diameter_mm, count, grouping, .. } = specimen.configuration;
    let layout = model.layout(grouping, count);
    let (low, high) = layout
        .tips
        .iter()
        .fold((f64::MAX, f64::MIN), |(low, high), tip| (low.min(tip.y), high.max(tip.y)));
    let band = super::super::wording::decimal(language, layout.band_width * diameter_mm, 2);
    Cell {
        specimen,
        layout,
        name: specimen.configuration.canonical(),
        note: format!("{band} mm {wide}"),
        height_mm: (high - low + 1.0) * diameter_mm,
    }
}

/// The largest scale at which the widest and the tallest still fit.
fn scale_of(cells: &[Cell<'_>], width: f64) -> f64 {
    let most = |of: fn(&Cell<'_>) -> f64| cells.iter().map(of).fold(0.05, f64::max);
    let by_width = (width - 2.0 * MARGIN) / most(|c| c.band_mm());
    let by_height = 420.0 / most(|c| c.height_mm);
    by_width.min(by_height).min(170.0)
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
        // On a slope the tips that stand back are drawn with a lighter point.
        let back = cell.layout.set_back.get(i).copied().unwrap_or(0.0);
        let point = if 0.0 < back { GREY } else { INK };
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
    let half = 0.5 * cell.band_mm() * scale;
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
pub(super) const BANDS: [&str; 3] = ["#d8d2c4", PALE, "#f6f3ec"];
