//! A printed sheet, worked and laid on a scanner.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// The grey of practice skin in the window, of full, and of what pigment leaves of it.
const SKIN: f64 = 200.0;
const LEFT: f64 = 0.62;
/// What is written beside every picture, as a scanner would: to be found nowhere.
pub const COMMENT: &str = "planted-comment-77b1";
/// Width of the frame, in mm.
const FRAME_MM: f64 = 10.0;

/// A PNG of a sheet in base64. `ink` says of a place in mm how far pigment covers it.
///
/// # Panics
/// If the text is no sheet in millimetres.
#[must_use]
pub fn scanned(svg: &str, dpi: f64, ink: impl Fn((f64, f64)) -> f64) -> String {
    STANDARD.encode(png_of(svg, dpi, ink))
}

/// The same as bytes.
///
/// # Panics
/// As [`scanned`].
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "some thousand pixels, and a byte"
)]
pub fn png_of(svg: &str, dpi: f64, ink: impl Fn((f64, f64)) -> f64) -> Vec<u8> {
    let (wide, high) = (millimetres(svg, "width"), millimetres(svg, "height"));
    let per_mm = dpi / 25.4;
    let tree = Tree::from_str(svg, &Options::default()).expect("a drawing");
    let scale = (per_mm * wide) as f32 / tree.size().width();
    let (columns, rows) = ((per_mm * wide).ceil() as u32, (per_mm * high).ceil() as u32);
    let mut picture = Pixmap::new(columns, rows).expect("room for a picture");
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    let mut grey = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let at = ((f64::from(column) + 0.5) / per_mm, (f64::from(row) + 0.5) / per_mm);
            let inside = |at: f64, size: f64| (FRAME_MM..size - FRAME_MM).contains(&at);
            grey.push(if inside(at.0, wide) && inside(at.1, high) {
                (SKIN * (1.0 - (1.0 - LEFT) * ink(at).clamp(0.0, 1.0))) as u8
            } else {
                let paper = picture.pixel(column, row).map_or(255, |pixel| {
                    // What nothing is drawn on is paper.
                    pixel.red().saturating_add(255 - pixel.alpha())
                });
                paper.clamp(40, 245)
            });
        }
    }
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, columns, rows);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.add_text_chunk("Comment".to_owned(), COMMENT.to_owned()).expect("a comment");
    let mut writer = encoder.write_header().expect("a header");
    writer.write_image_data(&grey).expect("a picture");
    drop(writer);
    png
}

fn millimetres(svg: &str, side: &str) -> f64 {
    let (_, after) = svg.split_once(&format!(" {side}=\"")).expect("a size");
    let (size, _) = after.split_once("mm\"").expect("millimetres");
    size.parse().expect("a number")
}
