//! Bent strokes: to which side, how far, and whether their ends are light.

use etui_schema::vocabulary::Quantity;

use super::super::{Bend, Layout, Limits, PanelKind, Place, Reading, read};
use super::drawn::{Drawing, SCAN, Shot, png};
use super::value;

const CARD_MM: (f64, f64) = (46.0, 40.0);
const WIDTH_MM: f64 = 0.3;
const LENGTH_MM: f64 = 10.0;

/// Height of an arc over its chord.
fn bow_mm(turn_deg: f64) -> f64 {
    let half = 0.5 * turn_deg.to_radians();
    LENGTH_MM / (2.0 * half) * (1.0 - half.cos())
}

/// Eight strokes, each by its own turn, read where strokes bent to a side were asked.
fn eight(turns: [f64; 8], ends: (bool, bool), bend: Bend, shot: &Shot) -> Reading {
    let mut drawing = Drawing::new(CARD_MM, 3);
    for (at, turn) in (0_u8..).zip(turns) {
        // All of them begin where the many have room to bend.
        let x = 16.75 + 1.5 * f64::from(at) + 2.75 * turns[0].signum();
        drawing.arc((x, 13.0), (LENGTH_MM, turn), WIDTH_MM, ends);
    }
    let kind = PanelKind::Strokes {
        spacing_mm: 1.5,
        length_mm: LENGTH_MM,
        width_mm: WIDTH_MM,
        bend,
        runs_down: true,
    };
    let panels = vec![Place { kind, box_mm: [12.0, 12.0, 34.0, 24.0] }];
    let bytes = png(&drawing.shoot(shot));
    read(&bytes, &Layout { card_mm: CARD_MM, panels }, &Limits::default()).unwrap()
}

fn got(reading: &Reading, quantity: Quantity) -> f64 {
    value(&reading.panels[0], quantity).unwrap_or_else(|why| panic!("{quantity}: {why}"))
}

#[test]
fn a_bow_is_read_with_its_side_and_a_heavy_end_as_heavy() {
    for (turn, ends) in [
        (20.0, (true, false)),
        (-20.0, (false, true)),
        (-45.0, (true, false)),
        (60.0, (true, true)),
        (-60.0, (true, false)),
        (60.0, (false, false)),
        (-60.0, (false, true)),
        (70.0, (true, false)),
        (-70.0, (false, false)),
    ] {
        let reading = eight([turn; 8], ends, Bend::Right, &Shot { dpi: 500.0, ..SCAN });
        let case = format!("{turn}, {ends:?}");
        assert!((got(&reading, Quantity::Count) - 8.0).abs() < 0.5, "{case}");
        let (bow, want) = (got(&reading, Quantity::BowMm), turn.signum() * bow_mm(turn.abs()));
        assert!((bow - want).abs() < 0.06, "{case}: bow {bow} instead of {want}");
        // What an end holds that thins from its last quarter to a fifth.
        let end = if ends.1 { 1.0 - 0.8 * (0.955 - 0.75) / 0.25 } else { 1.0 };
        let lift_off = got(&reading, Quantity::LiftOff);
        assert!((lift_off - end).abs() < 0.12, "{case}: {lift_off} instead of {end}");
        let width = got(&reading, Quantity::WidthMm);
        assert!((width - WIDTH_MM).abs() < 0.02, "{case}: width {width}");
        let spacing = got(&reading, Quantity::SpacingMm);
        assert!((spacing - 1.5).abs() < 0.02, "{case}: spacing {spacing}");
    }
}

/// One stroke to the wrong side is told, also among seven that are right, and is no mean of
/// them; where no side was asked, the many say which it is.
#[test]
fn one_that_bends_the_other_way_does_not_hide_in_a_mean() {
    for (turns, bend, want) in [
        ([15.0, 15.0, 15.0, -15.0, 15.0, 15.0, 15.0, 15.0], Bend::Right, -bow_mm(15.0)),
        ([15.0, 15.0, 15.0, -15.0, 15.0, 15.0, 15.0, 15.0], Bend::Left, -bow_mm(15.0)),
        ([-15.0; 8], Bend::Left, bow_mm(15.0)),
        ([-15.0; 8], Bend::Either, -bow_mm(15.0)),
        ([15.0; 8], Bend::Either, bow_mm(15.0)),
    ] {
        let shot = Shot { dpi: 400.0, ..SCAN };
        let bow = got(&eight(turns, (true, true), bend, &shot), Quantity::BowMm);
        assert!((bow - want).abs() < 0.06, "{turns:?} {bend:?}: {bow} instead of {want}");
    }
}

/// A stroke that ends early and heavily is not light where it no longer is.
#[test]
fn a_short_heavy_stroke_has_no_light_end() {
    let mut drawing = Drawing::new(CARD_MM, 4);
    for at in 0..8_u8 {
        let x = 14.0 + 2.0 * f64::from(at);
        drawing.arc((x, 13.0), (9.4, 1e-6), WIDTH_MM, (true, false));
    }
    let kind = PanelKind::Strokes {
        spacing_mm: 2.0,
        length_mm: LENGTH_MM,
        width_mm: WIDTH_MM,
        bend: Bend::None,
        runs_down: true,
    };
    let panels = vec![Place { kind, box_mm: [12.0, 12.0, 34.0, 24.0] }];
    let bytes = png(&drawing.shoot(&SCAN));
    let reading = read(&bytes, &Layout { card_mm: CARD_MM, panels }, &Limits::default()).unwrap();
    let lift_off = got(&reading, Quantity::LiftOff);
    assert!(0.85 < lift_off, "{lift_off}");
}
