//! Pictures and panels that are unfit, each told as what it is.

use etui_schema::vocabulary::{Quantity, QuantityFault, SheetFault};

use super::super::{Layout, Limits, PanelKind, Place, ReadError, read};
use super::drawn::{Drawing, SCAN, Shot, png};
use super::{CARD_MM, MARK_MM, jpeg, row, sheet, value};

const FIELD: [Quantity; 6] = [
    Quantity::Cover,
    Quantity::Evenness,
    Quantity::TrendPerMm,
    Quantity::Stripes,
    Quantity::BareSquareMm,
    Quantity::Overworked,
];

/// Bare skin is as even as can be, and nobody's work: with a mark beside it and without.
#[test]
fn an_empty_field_is_no_even_one() {
    let field = Place { kind: PanelKind::Field, box_mm: [14.0, 20.0, 22.0, 28.0] };
    let row = Place { kind: row(2.0), box_mm: [12.0, 11.0, 46.0, 13.0] };
    for (panels, at) in [(vec![row, field.clone()], 1), (vec![field], 0)] {
        for dpi in [200.0, 600.0] {
            let mut drawing = Drawing::new(CARD_MM, 21);
            let _ = drawing.row((13.0, 12.0), (17, 2.0, 0.03), MARK_MM, (&[], &[]));
            let shot = Shot { dpi, noise: 0.02, ..SCAN };
            let bytes = png(&drawing.shoot(&shot));
            let layout = Layout { card_mm: CARD_MM, panels: panels.clone() };
            let reading = read(&bytes, &layout, &Limits::default()).unwrap();
            for quantity in FIELD {
                let found = value(&reading.panels[at], quantity);
                assert_eq!(found, Err(QuantityFault::TooFaint), "{dpi}, {at}: {quantity}");
            }
        }
    }
}

/// Noise is not counted with the dots: they are as many as they are, or nothing is said.
#[test]
fn fine_dots_are_counted_or_not_told() {
    for dpi in [150.0, 200.0, 300.0, 400.0, 600.0] {
        for diameter in [0.10, 0.12] {
            let mut drawing = Drawing::new(CARD_MM, 22);
            let _ = drawing.row((13.0, 14.0), (16, 2.0, 0.0), diameter, (&[], &[]));
            let kind = row(2.0);
            let panels = vec![Place { kind, box_mm: [11.0, 11.0, 47.0, 17.0] }];
            let shot = Shot { dpi, noise: 0.015, blur_mm: 0.02, ..SCAN };
            let bytes = png(&drawing.shoot(&shot));
            let layout = Layout { card_mm: CARD_MM, panels };
            let reading = read(&bytes, &layout, &Limits::default()).unwrap();
            match value(&reading.panels[0], Quantity::Count) {
                Ok(count) => assert!((count - 16.0).abs() < 0.5, "{dpi}, {diameter}: {count}"),
                Err(why) => assert!(dpi < 400.0, "{dpi}, {diameter}: {why}"),
            }
        }
    }
}

/// The tables of a JPEG say how much it kept; one that kept little is refused.
#[test]
fn a_picture_that_was_saved_too_small_is_refused() {
    let shot = Shot { dpi: 400.0, ..SCAN };
    for quality in [10, 30, 60, 75, 90] {
        let mut truth = sheet(52);
        let bytes = jpeg(&mut truth, &shot, quality);
        let read = read(&bytes, &truth.layout, &Limits::default());
        let (kept, refused) = match read {
            Ok(reading) => (reading.quality.jpeg, false),
            Err(ReadError::Sheet(why, found)) => {
                assert!(why.contains(&SheetFault::TooCompressed), "{quality}: {why:?}");
                (found.unwrap().jpeg, true)
            }
            Err(other) => panic!("{quality}: {other:?}"),
        };
        assert_eq!(refused, quality < 70, "{quality}");
        // Where steps reach the end of their scale, the coarsest tables look less coarse.
        let within = if quality < 20 { 10 } else { 1 };
        assert!(kept.unwrap().abs_diff(quality) <= within, "{quality}: {kept:?}");
    }
}

/// A card that is told to be of another size than it is: which size it is comes from its
/// marks, upright, upside down and tilted.
#[test]
fn a_card_of_another_size_is_named_and_not_called_blurred() {
    let tilted = Shot { tilt: 0.08, is_turned: true, dpi: 400.0, ..SCAN };
    for (told, shot) in
        [((84.0, 75.0), SCAN), ((41.0, 37.0), SCAN), ((70.0, 52.0), SCAN), ((84.0, 75.0), tilted)]
    {
        let mut truth = sheet(53);
        let bytes = png(&truth.drawing.shoot(&shot));
        let layout = Layout { card_mm: told, panels: Vec::new() };
        match read(&bytes, &layout, &Limits::default()) {
            Err(ReadError::Size(width, height)) => {
                let near = |found: f64, want: f64| (found / want - 1.0).abs() < 0.04;
                assert!(near(width, CARD_MM.0) && near(height, CARD_MM.1), "{width} × {height}");
            }
            other => panic!("{told:?}: {other:?}"),
        }
    }
}
