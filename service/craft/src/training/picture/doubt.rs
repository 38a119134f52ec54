//! How far off a number read from a picture may be.
//!
//! Held against drawn sheets with known truth: rows, strokes and fields of marks of 0.12 to
//! 0.20 mm, 250 to 600 pixels an inch, JPEGs of quality 70 to 90. What is said here was not
//! exceeded there but for single cells of fields. It grows with the pixel, and JPEGs lose
//! as much as pixels half as large again would.

use etui_schema::vocabulary::Quantity;

use super::Quality;

/// What a JPEG does to the size of a pixel.
const LOSSY: f64 = 1.5;
/// Pixels that something needs across to be measured for its width.
const ACROSS: f64 = 2.2;
/// Pixels across from which on one width can be told from another.
const APART: f64 = 1.9;

/// How far off a value may be, in its own unit; 0 of what is counted.
pub(crate) fn doubt(quantity: Quantity, value: f64, quality: &Quality) -> f64 {
    of(quantity, value, quality.dpi, quality.jpeg.is_some())
}

/// The least usual resolution of a PNG that tells more than this picture and a value to so
/// much; `None` if none does.
pub(crate) fn would_do_dpi(
    (quantity, value): (Quantity, f64),
    to: f64,
    quality: &Quality,
) -> Option<u16> {
    let finer = if quality.jpeg.is_some() { 0.9 } else { 1.1 };
    [300_u16, 400, 600].into_iter().find(|dpi| {
        let dpi = f64::from(*dpi);
        finer * quality.dpi < dpi && of(quantity, value, dpi, false) <= to
    })
}

/// Whether widths of such strokes can be told from each other.
pub(super) fn tells_widths_apart(width_mm: f64, quality: &Quality) -> bool {
    APART * pixel_mm(quality.dpi, quality.jpeg.is_some()) <= width_mm
}

fn pixel_mm(dpi: f64, is_lossy: bool) -> f64 {
    25.4 / dpi.max(1.0) * if is_lossy { LOSSY } else { 1.0 }
}

fn of(quantity: Quantity, value: f64, dpi: f64, is_lossy: bool) -> f64 {
    let pixel_mm = pixel_mm(dpi, is_lossy);
    // What a thin thing is off by beside.
    let thin = 0.4 * value.abs() * (ACROSS - value.abs() / pixel_mm).max(0.0);
    match quantity {
        Quantity::Count
        | Quantity::Doubled
        | Quantity::Skipped
        | Quantity::Gaps
        | Quantity::Overworked
        | Quantity::PerCm2
        | Quantity::RadiusSdMm
        | Quantity::ClosureMm => 0.0,
        Quantity::SpacingMm => 0.002 * value.abs(),
        Quantity::SpacingCv => 0.003,
        Quantity::Regularity => 0.01,
        Quantity::OffLineMm | Quantity::StraightnessMm => 0.10 * pixel_mm,
        Quantity::MarkMm => value.abs() * 0.06 + thin,
        Quantity::WidthMm => 0.004 + 0.12 * pixel_mm + thin,
        Quantity::WidthCv => 0.01,
        Quantity::LiftOff => pixel_mm,
        Quantity::BowMm => 0.02,
        Quantity::Cover => 0.8 * pixel_mm,
        Quantity::Evenness | Quantity::Stripes => 0.2 * pixel_mm,
        Quantity::TrendPerMm => 0.025 * pixel_mm,
        Quantity::BareSquareMm => 0.5 * pixel_mm,
    }
}
