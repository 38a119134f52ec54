//! Dots that are missing, within a row and at its ends.

use etui_schema::vocabulary::Quantity;

use super::super::{Layout, Limits, PanelKind, Place, Reading, read};
use super::drawn::{Drawing, SCAN, Shot, png};
use super::{CARD_MM, MARK_MM, near};

/// Dots at these places of a panel from 12 to 46 mm, 17 distances wide.
fn reading(places_mm: &[f64], dots: Option<usize>) -> Reading {
    let mut drawing = Drawing::new(CARD_MM, 95);
    for x in places_mm {
        let _ = drawing.row((*x, 14.0), (1, 2.0, 0.0), MARK_MM, (&[], &[]));
    }
    let kind = PanelKind::Rows { rows: 1, spacing_mm: 2.0, dots };
    let panels = vec![Place { kind, box_mm: [12.0, 13.0, 46.0, 15.0] }];
    let bytes = png(&drawing.shoot(&Shot { dpi: 300.0, ..SCAN }));
    read(&bytes, &Layout { card_mm: CARD_MM, panels }, &Limits::default()).unwrap()
}

fn all_but(missing: &[u8]) -> Vec<f64> {
    let all = (0..17).filter(|at| !missing.contains(at));
    all.map(|at| 13.0 + 2.0 * f64::from(at)).collect()
}

/// Our own rule: a panel that is a whole number of distances wide was laid for a dot in the
/// middle of each, as long as no end of the row is bare for more than one of them.
#[test]
fn a_missing_first_or_last_dot_is_a_skip() {
    for (missing, skipped, places) in [
        (&[][..], 0.0, &[][..]),
        (&[0], 1.0, &[13.0]),
        (&[16], 1.0, &[45.0]),
        (&[0, 16], 2.0, &[13.0, 45.0]),
        (&[0, 7], 2.0, &[13.0, 27.0]),
        // A row that was begun late says nothing of what was asked.
        (&[0, 1, 2], 0.0, &[]),
    ] {
        let reading = reading(&all_but(missing), None);
        let case = format!("without {missing:?}");
        near(&reading, 0, Quantity::Count, 17.0 - missing.len() as f64, 0.0, &case);
        near(&reading, 0, Quantity::Skipped, skipped, 0.0, &case);
        let mut found: Vec<f64> = reading.panels[0].gaps_mm.iter().map(|place| place.0).collect();
        found.sort_by(f64::total_cmp);
        assert_eq!(found.len(), places.len(), "{case}: {found:?}");
        for (found, place) in found.iter().zip(places) {
            assert!((found - place).abs() < 0.1, "{case}: {found} instead of {place}");
        }
    }
}

/// What was asked is known: whatever is short of it is missing, wherever that is.
#[test]
fn what_a_drill_asked_is_held_against_the_row() {
    for (missing, asked, skipped) in
        [(&[0, 1, 2][..], 17, 3.0), (&[], 17, 0.0), (&[4], 17, 1.0), (&[16], 16, 0.0)]
    {
        let reading = reading(&all_but(missing), Some(asked));
        let case = format!("without {missing:?} of {asked}");
        near(&reading, 0, Quantity::Skipped, skipped, 0.0, &case);
    }
}

/// A dot that stands far from its neighbour leaves a wide gap, and nothing is missing where
/// as many lie as were asked.
#[test]
fn a_wide_gap_is_no_skip_where_none_is_missing() {
    let mut places = all_but(&[]);
    places[8] += 1.1;
    near(&reading(&places, None), 0, Quantity::Skipped, 0.0, 0.0, "a dot moved");
    places.remove(12);
    near(&reading(&places, None), 0, Quantity::Skipped, 1.0, 0.0, "and one missing");
}
