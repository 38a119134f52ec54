//! Drawn sheets are read as they were drawn; what cannot be read says so; what is no
//! picture is refused, and nothing panics.

mod bent;
mod drawn;
mod folder;
mod grain;
mod hostile;
mod mutated;
mod skips;
mod unfit;

use etui_schema::vocabulary::{Quantity, QuantityFault, SheetFault};

use self::drawn::{Drawing, Row, SCAN, Shot, png};
use super::{Bend, Layout, Limits, Measured, PanelKind, Place, ReadError, Reading, read};

/// Card of the tests, small so that drawing it is quick.
const CARD_MM: (f64, f64) = (58.0, 52.0);
const MARK_MM: f64 = 0.20;

/// What lies on the drawn sheet.
struct Truth {
    drawing: Drawing,
    layout: Layout,
    first: Row,
    second: Row,
    covers: [f64; 2],
}

fn strokes(spacing_mm: f64, width_mm: f64, is_bent: bool, runs_down: bool) -> PanelKind {
    let bend = if is_bent { Bend::Either } else { Bend::None };
    PanelKind::Strokes { spacing_mm, length_mm: 9.0, width_mm, bend, runs_down }
}

const fn row(spacing_mm: f64) -> PanelKind {
    PanelKind::Rows { rows: 1, spacing_mm, dots: None }
}

/// Two rows, strokes each way, bent ones, ones of three lanes, two fields.
fn sheet(seed: u64) -> Truth {
    let mut drawing = Drawing::new(CARD_MM, seed);
    let first = drawing.row((13.0, 12.0), (17, 2.0, 0.04), MARK_MM, (&[], &[]));
    let second = drawing.row((13.0, 14.5), (33, 1.0, 0.06), 0.18, (&[7, 20], &[12]));
    for at in 0..6_u8 {
        drawing.stroke((12.5, 18.0 + 1.5 * f64::from(at)), 9.0, (0.24, &[0.0]), (0.0, false));
        drawing.stroke((25.0 + f64::from(at), 17.5), 9.0, (0.18, &[0.0]), (0.0, true));
        let three = [-0.145, 0.0, 0.145];
        drawing.stroke((34.5, 18.0 + 1.5 * f64::from(at)), 9.0, (0.10, &three), (0.0, false));
    }
    for at in 0..4_u8 {
        drawing.stroke((13.0, 30.0 + 2.0 * f64::from(at)), 9.0, (0.22, &[0.0]), (1.0, false));
    }
    let fields = [[25.0, 29.0, 33.0, 37.0], [36.0, 29.0, 44.0, 37.0]];
    let low = drawing.field(fields[0], (0.25, MARK_MM), &[]);
    let high = drawing.field(fields[1], (0.5, MARK_MM), &[(39.0, 32.0, 0.5)]);
    let place = |kind, box_mm| Place { kind, box_mm };
    let panels = vec![
        place(row(2.0), [12.0, 11.0, 46.0, 13.0]),
        place(row(1.0), [12.5, 14.0, 45.5, 15.0]),
        place(strokes(1.5, 0.25, false, false), [11.5, 17.2, 22.5, 26.3]),
        place(strokes(1.0, 0.2, false, true), [24.4, 16.5, 30.6, 27.5]),
        place(strokes(1.5, 0.4, false, false), [33.5, 17.2, 44.5, 26.3]),
        place(strokes(2.0, 0.25, true, false), [12.0, 29.2, 23.0, 37.6]),
        place(PanelKind::Field, fields[0]),
        place(PanelKind::Field, fields[1]),
    ];
    let layout = Layout { card_mm: CARD_MM, panels };
    Truth { drawing, layout, first, second, covers: [low, high] }
}

fn value(measured: &Measured, quantity: Quantity) -> Result<f64, QuantityFault> {
    let found = measured.values.iter().find(|(one, _)| *one == quantity);
    found.unwrap_or_else(|| panic!("{quantity} is not measured")).1
}

#[track_caller]
fn near(reading: &Reading, at: usize, quantity: Quantity, want: f64, within: f64, case: &str) {
    let found = value(&reading.panels[at], quantity);
    let found = found.unwrap_or_else(|why| panic!("{case}, panel {at}: no {quantity}: {why}"));
    assert!(
        (found - want).abs() <= within,
        "{case}, panel {at}: {quantity} {found} instead of {want}"
    );
}

fn holds(truth: &Truth, reading: &Reading, case: &str, width: f64) {
    for (at, row, many, skipped, doubled) in
        [(0, &truth.first, 17.0, 0.0, 0.0), (1, &truth.second, 31.0, 2.0, 1.0)]
    {
        near(reading, at, Quantity::Count, many, 0.0, case);
        near(reading, at, Quantity::Skipped, skipped, 0.0, case);
        near(reading, at, Quantity::Doubled, doubled, 0.0, case);
        near(reading, at, Quantity::SpacingMm, row.spacing_mm, 0.005 * row.spacing_mm, case);
        near(reading, at, Quantity::SpacingCv, row.cv, 0.01, case);
    }
    near(reading, 0, Quantity::MarkMm, MARK_MM, 0.02, case);
    // Straight strokes are as wide as the drawing has them in whole pixels.
    for (at, many, spacing, wide) in
        [(2, 6.0, 1.5, 0.25), (3, 6.0, 1.0, 8.0 / 48.0), (4, 6.0, 1.5, 0.375), (5, 4.0, 2.0, 0.22)]
    {
        near(reading, at, Quantity::Count, many, 0.0, case);
        near(reading, at, Quantity::SpacingMm, spacing, 0.005 * spacing, case);
        near(reading, at, Quantity::SpacingCv, 0.0, 0.015, case);
        near(reading, at, Quantity::WidthMm, wide, width, case);
        near(reading, at, Quantity::Gaps, 0.0, 0.0, case);
    }
    near(reading, 5, Quantity::BowMm, 1.0, 0.05, case);
    for (at, cover) in [(6, truth.covers[0]), (7, truth.covers[1])] {
        near(reading, at, Quantity::Cover, cover, 0.06, case);
    }
    near(reading, 6, Quantity::Overworked, 0.0, 0.0, case);
    near(reading, 7, Quantity::Overworked, 1.0, 0.0, case);
    let [(x, y)] = reading.panels[7].spots_mm[..] else { panic!("{case}: no one spot") };
    assert!((x - 39.0).hypot(y - 32.0) < 0.5, "{case}: the spot lies at {x}, {y}");
}

#[test]
fn a_drawn_sheet_is_read_as_it_was_drawn() {
    let photo = Shot { dpi: 500.0, tilt: 0.10, is_turned: true, noise: 0.01, ..SCAN };
    let shots = [
        ("600", SCAN, 0.015),
        ("400", Shot { dpi: 400.0, ..SCAN }, 0.015),
        ("half the light", Shot { exposure: 0.5, ..SCAN }, 0.015),
        ("noise", Shot { noise: 0.02, ..SCAN }, 0.015),
        ("tilted, upside down", photo, 0.015),
    ];
    for (nth, (case, shot, width)) in (0..).zip(shots) {
        let mut truth = sheet(40 + nth);
        let bytes = png(&truth.drawing.shoot(&shot));
        let reading = read(&bytes, &truth.layout, &Limits::default());
        let reading = reading.unwrap_or_else(|why| panic!("{case}: {why:?}"));
        assert!((reading.quality.dpi / shot.dpi - 1.0).abs() < 0.15, "{case}: {reading:?}");
        holds(&truth, &reading, case, width);
        assert_eq!(read(&bytes, &truth.layout, &Limits::default()), Ok(reading), "{case}: again");
    }
}

fn jpeg(truth: &mut Truth, shot: &Shot, quality: u8) -> Vec<u8> {
    let (width, height, bytes) = truth.drawing.shoot(shot);
    let mut jpeg = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut jpeg, quality);
    let (w, h) = (u16::try_from(width).unwrap(), u16::try_from(height).unwrap());
    encoder.encode(&bytes, w, h, jpeg_encoder::ColorType::Luma).unwrap();
    jpeg
}

#[test]
fn a_jpeg_is_read_as_the_png_is() {
    let mut truth = sheet(50);
    let bytes = jpeg(&mut truth, &SCAN, 85);
    let reading = read(&bytes, &truth.layout, &Limits::default()).unwrap();
    holds(&truth, &reading, "jpeg", 0.015);
}

/// What saves room smooths the bare skin between marks away first: of a coarse JPEG no cover
/// is told, of the same picture as a PNG it is.
#[test]
fn a_coarse_jpeg_tells_no_cover() {
    let shot = Shot { dpi: 300.0, ..SCAN };
    let mut truth = sheet(51);
    let bytes = jpeg(&mut truth, &shot, 75);
    let reading = read(&bytes, &truth.layout, &Limits::default()).unwrap();
    assert_eq!(value(&reading.panels[6], Quantity::Cover), Err(QuantityFault::TooFine));
    near(&reading, 1, Quantity::Count, 31.0, 0.0, "a coarse jpeg");
    let bytes = png(&sheet(51).drawing.shoot(&shot));
    let reading = read(&bytes, &truth.layout, &Limits::default()).unwrap();
    near(&reading, 6, Quantity::Cover, truth.covers[0], 0.06, "a coarse png");
}

/// Two dots that nearly touch are two, and what lies between them is a distance.
#[test]
fn a_very_uneven_row_is_measured_whole() {
    let mut drawing = Drawing::new(CARD_MM, 90);
    for x in [13.0, 13.5] {
        let _ = drawing.row((x, 12.0), (9, 3.4, 0.0), MARK_MM, (&[], &[]));
    }
    let kind = row(2.0);
    let panels = vec![Place { kind, box_mm: [12.0, 11.0, 46.0, 13.0] }];
    let bytes = png(&drawing.shoot(&SCAN));
    let layout = Layout { card_mm: CARD_MM, panels };
    let reading = read(&bytes, &layout, &Limits::default()).unwrap();
    near(&reading, 0, Quantity::Count, 18.0, 0.0, "pairs");
    near(&reading, 0, Quantity::SpacingMm, (9.0 * 0.5 + 8.0 * 2.9) / 17.0, 0.008, "pairs");
}

/// What is finer than the picture shows is not guessed.
#[test]
fn a_coarse_picture_counts_and_says_that_it_cannot_tell_widths() {
    let mut truth = sheet(60);
    let bytes = png(&truth.drawing.shoot(&Shot { dpi: 200.0, ..SCAN }));
    let reading = read(&bytes, &truth.layout, &Limits::default()).unwrap();
    near(&reading, 0, Quantity::Count, 17.0, 0.0, "200");
    near(&reading, 2, Quantity::Count, 6.0, 0.0, "200");
    for (at, quantity) in [
        (0, Quantity::MarkMm),
        (2, Quantity::WidthMm),
        (2, Quantity::WidthCv),
        (6, Quantity::Cover),
        (6, Quantity::Evenness),
    ] {
        let found = value(&reading.panels[at], quantity);
        assert_eq!(found, Err(QuantityFault::TooFine), "panel {at}, {quantity}");
    }
}

#[test]
fn what_is_too_uneven_or_bare_says_so() {
    let mut drawing = Drawing::new(CARD_MM, 70);
    let _ = drawing.row((13.0, 12.0), (17, 2.0, 0.25), MARK_MM, (&[], &[]));
    let place = |kind, box_mm| Place { kind, box_mm };
    let panels = vec![
        place(row(2.0), [12.0, 11.0, 46.0, 13.0]),
        place(row(2.0), [12.0, 20.0, 46.0, 22.0]),
        place(strokes(1.5, 0.25, false, true), [12.0, 24.0, 30.0, 35.0]),
        place(PanelKind::Scattered, [32.0, 24.0, 42.0, 34.0]),
        place(PanelKind::Unmeasured, [12.0, 36.0, 20.0, 41.0]),
    ];
    let bytes = png(&drawing.shoot(&SCAN));
    let reading = read(&bytes, &Layout { card_mm: CARD_MM, panels }, &Limits::default()).unwrap();
    for (at, quantity, why) in [
        (0, Quantity::Skipped, QuantityFault::TooUneven),
        (1, Quantity::Count, QuantityFault::TooFaint),
        (2, Quantity::Count, QuantityFault::TooFaint),
        (3, Quantity::Regularity, QuantityFault::TooFaint),
    ] {
        assert_eq!(value(&reading.panels[at], quantity), Err(why), "panel {at}, {quantity}");
    }
    assert!(reading.panels[4].values.is_empty());
}

#[test]
fn a_picture_that_cannot_be_trusted_is_refused_with_its_word() {
    let covered = |at: usize| move |drawing: &mut Drawing| drawing.marks[at].1 = false;
    let moved = |drawing: &mut Drawing| drawing.marks[4].0.1 += 0.15;
    let asked = |_: &mut Drawing| {};
    type Change<'a> = &'a dyn Fn(&mut Drawing);
    let cases: [(&str, Change<'_>, Shot, SheetFault); 8] = [
        ("a corner is covered", &covered(2), SCAN, SheetFault::MarksMissing),
        ("a middle mark is covered", &covered(5), SCAN, SheetFault::MarksMissing),
        ("dark", &asked, Shot { exposure: 0.10, ..SCAN }, SheetFault::TooDark),
        ("bright", &asked, Shot { exposure: 1.9, ..SCAN }, SheetFault::TooBright),
        ("coarse", &asked, Shot { dpi: 120.0, ..SCAN }, SheetFault::TooCoarse),
        ("blurred", &asked, Shot { blur_mm: 0.2, ..SCAN }, SheetFault::TooBlurry),
        ("bent", &moved, SCAN, SheetFault::NotFlat),
        ("noisy", &asked, Shot { noise: 0.12, dpi: 300.0, ..SCAN }, SheetFault::TooNoisy),
    ];
    for (case, change, shot, want) in cases {
        let mut truth = sheet(80);
        change(&mut truth.drawing);
        let bytes = png(&truth.drawing.shoot(&shot));
        match read(&bytes, &truth.layout, &Limits::default()) {
            Err(ReadError::Sheet(why, _)) => assert!(why.contains(&want), "{case}: {why:?}"),
            other => panic!("{case}: {other:?}"),
        }
    }
}

/// The sheet of the examples and of the tests over HTTP, as it is drawn; `UPDATE=1` writes
/// it.
#[test]
fn the_small_sheet_is_as_it_is_drawn() {
    let mut drawing = Drawing::new((44.0, 36.0), 7);
    let _ = drawing.row((12.0, 12.5), (11, 2.0, 0.0), 0.3, (&[], &[]));
    for at in 0..6_u8 {
        drawing.stroke((13.0 + 2.0 * f64::from(at), 16.0), 8.0, (0.3, &[0.0]), (0.0, true));
    }
    let bytes = png(&drawing.shoot(&Shot { dpi: 150.0, noise: 0.0, blur_mm: 0.04, ..SCAN }));
    let text = base64(&bytes) + "\n";
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/sheets/small.png.base64");
    if std::env::var_os("UPDATE").is_some() {
        std::fs::create_dir_all(std::path::Path::new(path).parent().unwrap()).unwrap();
        std::fs::write(path, &text).unwrap();
    }
    assert!(std::fs::read_to_string(path).unwrap() == text, "`UPDATE=1` writes {path}");
}

fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let of = |at: usize| u32::from(three.get(at).copied().unwrap_or(0));
        let all = of(0) << 16 | of(1) << 8 | of(2);
        for at in 0..4 {
            let letter = LETTERS[usize::try_from(all >> (18 - 6 * at) & 63).unwrap()];
            text.push(if at <= three.len() { char::from(letter) } else { '=' });
        }
    }
    text
}
