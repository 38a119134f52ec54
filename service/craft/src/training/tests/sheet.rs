//! The printed sheet: true to the millimetre, nothing over anything else.

use etui_schema::drills::{DrillRequest, Drills};
use etui_schema::vocabulary::{Effect, Language, Paper};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::super::sheet::{marks_mm, placed, size_mm};
use super::super::{SheetError, SheetOf};
use super::drills::request;
use super::{near, tools, training};

fn drills(effect: Option<Effect>) -> Drills {
    let (model, selector) = tools();
    let asked = DrillRequest { effect, ..request() };
    training().drills((model, selector), &asked, Language::En).unwrap()
}

/// Rendered at 600 dots an inch, each mark's dot is where it should be.
#[test]
fn marks_are_found_where_they_were_asked() {
    const PER_MM: f32 = 600.0 / 25.4;
    let svg = training().sheet(&drills(None), Paper::A6, Language::En);
    let svg = svg
        .or_else(|_| training().sheet(&drills(Some(Effect::HairStrokes)), Paper::A6, Language::En))
        .unwrap();
    assert!(
        svg.contains(r#"width="148mm" height="105mm" viewBox="0 0 148 105""#),
        "{}",
        &svg[..200]
    );
    let tree = Tree::from_str(&svg, &Options::default()).unwrap();
    let scale = PER_MM * 148.0 / tree.size().width();
    let (width, height) = ((148.0 * PER_MM).ceil(), (105.0 * PER_MM).ceil());
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few thousand pixels"
    )]
    let mut picture = Pixmap::new(width as u32, height as u32).unwrap();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    let per_mm = f64::from(PER_MM);
    for (x, y) in marks_mm(Paper::A6) {
        // The weighted middle of what is dark within 1.5 mm: the dot, not its ring.
        let (mut sum, mut at_x, mut at_y) = (0.0, 0.0, 0.0);
        for row in 0..picture.height() {
            let from = (f64::from(row) + 0.5) / per_mm - y;
            if 1.5 < from.abs() {
                continue;
            }
            for column in 0..picture.width() {
                let across = (f64::from(column) + 0.5) / per_mm - x;
                if across.hypot(from) <= 1.5 {
                    let pixel = picture.pixel(column, row).unwrap();
                    let dark = 1.0 - f64::from(pixel.red()) / 255.0;
                    (sum, at_x, at_y) = (sum + dark, at_x + dark * across, at_y + dark * from);
                }
            }
        }
        near(at_x / sum, 0.0, 0.02, "across");
        near(at_y / sum, 0.0, 0.02, "along");
        near(sum / per_mm / per_mm, std::f64::consts::PI, 0.05, "area of the dot");
    }
}

/// The printed sheet at 600 dots an inch, skin in its window, is read back: its marks lie
/// where they were asked, and what is bare says so.
#[test]
fn the_printed_sheet_is_read_back() {
    let asked = drills(Some(Effect::HairStrokes));
    let svg = training().sheet(&asked, Paper::A5, Language::En).unwrap();
    let tree = Tree::from_str(&svg, &Options::default()).unwrap();
    let scale = 600.0 / 25.4 * 210.0 / tree.size().width();
    let mut picture = Pixmap::new(4_961, 3_496).unwrap();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    let per_mm = 600.0 / 25.4;
    let mut grey = Vec::new();
    for y in 0..picture.height() {
        for x in 0..picture.width() {
            let (across, down) = (f64::from(x) / per_mm, f64::from(y) / per_mm);
            let in_window = (10.0..200.0).contains(&across) && (10.0..138.0).contains(&down);
            let value = picture.pixel(x, y).unwrap().red();
            grey.push(if in_window { 200 } else { value.clamp(40, 245) });
        }
    }
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, picture.width(), picture.height());
    encoder.set_color(png::ColorType::Grayscale);
    encoder.write_header().unwrap().write_image_data(&grey).unwrap();
    let sheet = SheetOf::Printed(&asked, Paper::A5);
    let read = training().reading(sheet, &png, None, Language::En).unwrap();
    assert!(read.cannot.is_empty(), "{:?}", read.cannot);
    let quality = read.quality.unwrap();
    // The marks of two corners are 200 mm apart.
    near(quality.dpi, 600.0, 600.0 * 0.02 / 200.0, "the scale");
    near(quality.flatness_mm, 0.0, 0.02, "the marks in the middle");
    assert_eq!(read.panels.len(), asked.panels.len());
    for panel in &read.panels {
        assert!(panel.quantities.iter().all(|one| one.got.is_none() && one.text.is_some()));
    }
}

#[test]
fn panels_lie_inside_the_window_and_over_nothing() {
    for paper in Paper::ALL {
        let (width, height) = size_mm(*paper);
        for effect in [None, Some(Effect::HairStrokes), Some(Effect::SoftShading)] {
            let drills = drills(effect);
            let all = match placed(&drills, *paper) {
                Ok(all) => all,
                Err(SheetError::TooSmall { fit, panels, .. }) => {
                    assert!(fit < panels && *paper != Paper::A4, "{paper} {effect:?}");
                    continue;
                }
                Err(SheetError::Nothing) => {
                    assert!(drills.panels.is_empty(), "{paper} {effect:?}");
                    continue;
                }
            };
            assert_eq!(all.len(), drills.panels.len());
            for (at, one) in all.iter().enumerate() {
                let (right, low) = (one.x + one.panel.width_mm, one.y + one.panel.height_mm);
                assert!(10.0 <= one.x && 10.0 <= one.y, "{paper} {one:?}");
                assert!(right <= width - 10.0 && low + 7.6 <= height - 10.0, "{paper} {one:?}");
                for other in &all[..at] {
                    let beside = other.x + other.panel.width_mm < one.x || right < other.x;
                    let apart =
                        other.y + other.panel.height_mm + 7.6 <= one.y || low + 7.6 <= other.y;
                    assert!(beside || apart, "{paper}: {one:?} over {other:?}");
                }
            }
        }
    }
}

#[test]
fn the_same_drills_give_the_same_sheet() {
    let sheet = |language| training().sheet(&drills(None), Paper::A4, language).unwrap();
    assert_eq!(sheet(Language::En), sheet(Language::En));
    assert_ne!(sheet(Language::En), sheet(Language::De));
    let svg = sheet(Language::De);
    assert_eq!(svg.matches(r#"class="mark""#).count(), 6);
    assert!(svg.contains(r#"class="ruler" x="98.5""#) && svg.contains(r#"width="100""#));
}
