//! Several configurations, pass by pass: a row for each, a column for each pass.
//!
//! All fields have one scale, one hand and one seed, so that a field holds what
//! the one before it held and one pass more.

use etui_schema::vocabulary::{Effect, Language};

use super::super::circumstances::Circumstances;
use super::super::complete::Complete;
use super::super::model::Model;
use super::super::pattern::{
    Ground, Jitter, PUNCTURES_MAX, Pattern, PatternError, PatternRequest, Place, Statistics,
};
use super::super::wording::decimal;
use super::dots::Frame;
use super::svg::{Anchor, Canvas, Face, cut_to, text_width};
use super::{COMPOSED_PX, Picture, Sheet};
use crate::text::capital;

/// Most configurations in one picture.
pub const ROWS_MAX: usize = 4;
/// Most passes in one picture.
pub const PASSES_MAX: u8 = 6;

const MARGIN: f64 = 24.0;
const GAP: f64 = 12.0;
const NAME: f64 = 14.0;
const NOTE: f64 = 12.0;
/// The same hand in every field.
const SEED: u64 = 1;

/// What is laid side by side.
#[derive(Debug, Clone, Copy)]
pub struct Grid<'a> {
    /// A row each.
    pub configurations: &'a [Complete],
    /// Under which circumstances; their passes do not count.
    pub circumstances: &'a Circumstances,
    /// So many columns.
    pub passes: u8,
    /// What is worked.
    pub ground: Ground,
    /// What the effect is called.
    pub effect: &'a str,
}

/// The piece of skin that shows an effect: some millimetres of a stroke, or of a
/// filled area. `None` for points that are set one by one: there the hand makes
/// no pass.
#[must_use]
pub const fn sample(effect: Effect) -> Option<Ground> {
    match effect {
        Effect::HairStrokes => Some(Ground::Hair { length_mm: 6.0, bend_deg: 30.0 }),
        Effect::FineLine | Effect::BoldLine => Some(Ground::Straight { length_mm: 6.0 }),
        Effect::Pixelated | Effect::SoftShading | Effect::DenseFill | Effect::AreolaShading => {
            Some(Ground::Area { width_mm: 4.0, height_mm: 2.5 })
        }
        Effect::ScalpDots => None,
    }
}

/// One field.
struct Field {
    pattern: Pattern,
    statistics: Statistics,
    places: Vec<Place>,
}

/// Draws patterns of 1 to [`ROWS_MAX`] configurations after 1, 2 … passes.
///
/// Further ones are left out. The width is brought into 240 to 3000 pixels; the
/// height follows.
///
/// # Errors
/// [`PatternError`] if all fields together would have more than
/// [`PUNCTURES_MAX`] punctures.
pub fn draw_passes(
    model: &Model,
    grid: &Grid<'_>,
    width_px: u32,
    language: Language,
) -> Result<Picture, PatternError> {
    let passes = grid.passes.clamp(1, PASSES_MAX);
    let shown = grid.configurations.iter().take(ROWS_MAX);
    let rows = shown.clone().map(|one| row(model, grid, *one, passes));
    let rows = rows.collect::<Result<Vec<_>, _>>()?;
    let punctures: u32 = rows.iter().flatten().map(|field| field.statistics.punctures).sum();
    if PUNCTURES_MAX < punctures {
        return Err(PatternError::TooMany { found: f64::from(punctures), most: PUNCTURES_MAX });
    }
    let names: Vec<String> = shown.map(Complete::canonical).collect();
    let sheet = Sheet::of(width_px, COMPOSED_PX);
    let title = capital(grid.effect);
    let note = note(model, grid, passes, language);
    let mut canvas = Canvas::default();
    let top = canvas.heading(MARGIN, sheet.width, &title, &note);
    let (bottom, scale) = fields(&mut canvas, model, &rows, &names, (top, sheet.width, language));
    let room = sheet.width - 2.0 * MARGIN - 70.0;
    let bottom = canvas.bar((MARGIN, bottom), scale, room, language);
    let title = format!("{title}: {}", names.join(", "));
    Ok(sheet.picture(canvas, bottom + MARGIN, scale, (&title, &note)))
}

fn row(
    model: &Model,
    grid: &Grid<'_>,
    configuration: Complete,
    passes: u8,
) -> Result<Vec<Field>, PatternError> {
    let field = |passes: u8| {
        let request = PatternRequest {
            configuration,
            circumstances: Circumstances { passes, ..grid.circumstances.clone() },
            ground: grid.ground,
            jitter: Jitter::default(),
            seed: SEED,
        };
        let pattern = model.pattern(&request)?;
        let statistics = pattern.statistics(SEED);
        let places = pattern.dots.iter().map(|dot| pattern.place(dot)).collect();
        Ok(Field { pattern, statistics, places })
    };
    (1..=passes).map(field).collect()
}

fn note(model: &Model, grid: &Grid<'_>, passes: u8, language: Language) -> String {
    let at = grid.circumstances;
    let values = [
        ("stroke", &*decimal(language, at.stroke_mm, 1)),
        ("rate", &decimal(language, at.rate_hz, 0)),
        ("speed", &decimal(language, at.hand_speed_mm_s, 0)),
        ("n", &passes.to_string()),
    ];
    model.wording().filled(language, "draw_passes_note", &values)
}

/// The rows of fields from a height down; returns the y below them and the scale.
fn fields(
    canvas: &mut Canvas,
    model: &Model,
    rows: &[Vec<Field>],
    names: &[String],
    (top, width, language): (f64, f64, Language),
) -> (f64, f64) {
    let (low, high) = extent(rows.iter().flatten());
    let columns = rows.first().map_or(1.0, |row| row.iter().map(|_| 1.0).sum());
    let wide = (width - 2.0 * MARGIN - GAP * (columns - 1.0)) / columns;
    let scale = (wide / (high.0 - low.0)).min(220.0);
    let mut y = top;
    for (at, (row, name)) in rows.iter().zip(names).enumerate() {
        let (above, below) = extent(row.iter());
        let height = (below.1 - above.1) * scale;
        canvas.text(MARGIN, y + NAME, Face::plain(NAME).bold(), name);
        y += NAME + 10.0;
        let mut x = MARGIN;
        for (n, field) in row.iter().enumerate() {
            let Field { pattern, statistics, places } = field;
            let frame = Frame::at_corner((low.0, above.1), (x, y), scale, height);
            let clip = format!("field-{at}-{n}");
            frame.border(canvas, pattern.ground, &clip);
            frame.marks(canvas, pattern, places, &clip);
            let under = caption(model, n + 1, statistics.coverage.simulated, wide, language);
            let middle = x + 0.5 * (high.0 - low.0) * scale;
            canvas.text(middle, y + height + 15.0, Face::plain(NOTE).at(Anchor::Middle), &under);
            x += wide + GAP;
        }
        y += height + 34.0;
    }
    (y, scale)
}

/// Passes and cover of a field, shorter where there is no room.
fn caption(model: &Model, pass: usize, cover: f64, wide: f64, language: Language) -> String {
    let (pass, cover) = (pass.to_string(), decimal(language, 100.0 * cover, 0));
    let values = [("n", &*pass), ("cover", &*cover)];
    let long = model.wording().filled(language, "draw_passes_field", &values);
    if text_width(&long, NOTE) <= wide {
        return long;
    }
    cut_to(&model.wording().filled(language, "draw_passes_short", &values), NOTE, wide)
}

/// The corners of what these fields need, in millimetres.
fn extent<'a>(fields: impl Iterator<Item = &'a Field>) -> ((f64, f64), (f64, f64)) {
    let (mut low, mut high) = ((0.0_f64, 0.0_f64), (1.0_f64, 0.2_f64));
    for Field { pattern, places, .. } in fields {
        if let Ground::Area { width_mm, height_mm } = pattern.ground {
            return ((0.0, 0.0), (width_mm, height_mm));
        }
        for (place, dot) in places.iter().zip(&pattern.dots) {
            low = (low.0.min(place.x_mm - dot.radius_mm), low.1.min(place.y_mm - dot.radius_mm));
            high = (high.0.max(place.x_mm + dot.radius_mm), high.1.max(place.y_mm + dot.radius_mm));
        }
    }
    (low, high)
}

#[cfg(test)]
mod tests {
    use etui_schema::vocabulary::{Grouping, Setting};

    use super::*;

    fn complete(diameter_mm: f64, count: u8, grouping: Grouping) -> Complete {
        Complete { diameter_mm, count, grouping, taper: None }
    }

    /// A field holds what the one before it held, so that cover never shrinks
    /// from left to right.
    #[test]
    fn each_field_goes_on_from_the_one_before() {
        let model = Model::builtin().unwrap();
        let circumstances = model.circumstances(&Setting::default());
        for effect in Effect::ALL {
            let Some(ground) = sample(*effect) else { continue };
            for one in
                [complete(0.25, 1, Grouping::RoundLiner), complete(0.30, 9, Grouping::WovenMagnum)]
            {
                let configurations = &[one];
                let circumstances = &circumstances;
                let effect = effect.as_str();
                let grid = Grid { configurations, circumstances, passes: 6, ground, effect };
                let fields = row(&model, &grid, one, 6).unwrap();
                assert_eq!(fields.len(), 6);
                for pair in fields.windows(2) {
                    let [less, more] = pair else { unreachable!() };
                    assert!(more.pattern.dots.starts_with(&less.pattern.dots), "{effect}");
                    assert!(less.pattern.dots.len() < more.pattern.dots.len(), "{effect}");
                }
            }
        }
    }

    /// Machine, speed and passes stand in the picture, whatever its width.
    #[test]
    fn a_picture_says_how_it_was_worked() {
        let model = Model::builtin().unwrap();
        let circumstances = model.circumstances(&Setting::default());
        let configurations = [complete(0.30, 7, Grouping::RoundShader)];
        for (width_px, under) in [(240, "3: "), (960, "3 passes: "), (3000, "3 passes: ")] {
            let grid = Grid {
                configurations: &configurations,
                circumstances: &circumstances,
                passes: 3,
                ground: sample(Effect::SoftShading).unwrap(),
                effect: "soft shading",
            };
            let svg = draw_passes(&model, &grid, width_px, Language::En).unwrap().svg;
            for part in
                ["Stroke 2.5 mm, 100 strokes a second, hand 20 mm a second", "0.30 7RS", under]
            {
                assert!(svg.contains(part), "{width_px}: no {part}");
            }
            assert_eq!(svg.matches("class=\"ground\"").count(), 3);
            assert!(svg.contains("Soft shading: 0.30 7RS"), "{svg}");
        }
    }
}
