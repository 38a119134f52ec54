//! Lots as former builds stored them, and the law of the drawer over what is
//! stored.

use etui_craft::selection::Candidate;
use etui_schema::lots::{Confirmed, LotQuestion, LotState};
use etui_schema::vocabulary::CivilDate;
use jiff::civil::date;
use proptest::prelude::*;

use super::StoredLot;
use crate::store::record::{decode, encode};
use crate::studio::branches::Days;
use crate::studio::needle_selections::{Drawer, from_drawer};

/// A lot in the form of the first version.
pub(super) fn former(text: Option<&str>, expires_on: Option<&str>, released: bool) -> StoredLot {
    let adjustments = if released {
        r#"[{"at":"2026-01-05T09:00:00Z","change":0,"reason":"released"}]"#
    } else {
        "[]"
    };
    let text = text.map_or("null".to_owned(), |text| format!("{text:?}"));
    let expires_on = expires_on.map_or("null".to_owned(), |day| format!("\"{day}\""));
    let bytes = format!(
        r#"{{"v":1,"kind":"lot","data":{{"id":"0198c6a2-7d5e-7000-8000-000000000001",
        "configuration":{{"diameter_mm":0.25,"count":5,"grouping":"round_shader"}},"lot":"B7",
        "expires_on":{expires_on},"reference":null,"gtin":null,"maker":"north","packs":5,
        "text":{text},"symbol":null,"received_at":"2026-01-04T09:00:00Z",
        "adjustments":{adjustments},"held":[],"recalled":null,"version":3}}}}"#
    );
    decode(bytes.as_bytes()).unwrap()
}

#[test]
fn a_former_lot_is_read_again_and_is_no_better_for_what_it_left_out() {
    use LotQuestion::{Expiry, Sterility};
    let day = date(2026, 11, 25);
    let good = "0.25 5RS LOT B7 EXP 2028-01-31 STERILE EO";
    for (case, lot, state, questions) in [
        ("all known", former(Some(good), Some("2028-01-31"), false), LotState::Usable, vec![]),
        (
            "no word on sterility",
            former(Some("0.25 5RS LOT B7 EXP 2028-01-31"), Some("2028-01-31"), false),
            LotState::Held,
            vec![Sterility],
        ),
        (
            "nothing but a configuration",
            former(Some("0.25 5RS LOT B7"), None, false),
            LotState::Held,
            vec![Expiry, Sterility],
        ),
        (
            "released then, but never asked for a date or sterility",
            former(Some("0.25 5RS LOT B7"), None, true),
            LotState::Held,
            vec![Expiry, Sterility],
        ),
        (
            "typed, without print",
            former(None, Some("2028-01-31"), false),
            LotState::Held,
            vec![Sterility],
        ),
        (
            "not sterile, in words that were not known then",
            former(Some("0.25 5RS LOT B7 EXP 2028-01-31 NON-STERILE"), Some("2028-01-31"), true),
            LotState::Held,
            vec![],
        ),
        (
            "a day later than the print allows",
            former(Some(good), Some("2029-12-31"), false),
            LotState::Held,
            vec![Expiry],
        ),
    ] {
        let found = lot.standing(day);
        assert_eq!((found.state, found.questions), (state, questions), "{case}: {lot:?}");
        let again: StoredLot = decode(&encode(&lot).unwrap()).unwrap();
        assert_eq!(again, lot, "{case}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    /// Law: taking a known fact of a lot away never makes it offered, and a
    /// confirmation that says less never releases more.
    #[test]
    fn forgetting_a_fact_never_gets_a_lot_offered(
        facts in any::<[bool; 4]>(),
        named in any::<bool>(),
    ) {
        let [expires, sterile, count, said] = facts;
        let day = date(2026, 11, 25);
        let mut lot = former(None, expires.then_some("2028-01-31"), false);
        lot.sterile = sterile.then_some(true);
        if !count && let Some(configuration) = &mut lot.configuration {
            configuration.count = None;
        }
        if said {
            let confirmed = Confirmed {
                expires_on: Some(CivilDate(date(2028, 1, 31))),
                sterile: Some(true),
                by: if named { "artist-1".parse().ok() } else { None },
                ..Confirmed::default()
            };
            let at = (lot.received_at, "owner");
            let _ = lot.settle(&confirmed, false, at);
        }
        let offered = |lot: &StoredLot| -> Vec<Candidate> {
            let drawer = Drawer::on(Days::only(day), vec![lot.clone()], None);
            if drawer.usable() == 0 { Vec::new() } else { from_drawer(std::slice::from_ref(lot)) }
        };
        let before = offered(&lot).len();
        prop_assert_eq!(before, usize::from(count && (expires && sterile || said && named)));
        for less in [
            StoredLot { expires_on: None, ..lot.clone() },
            StoredLot { sterile: None, ..lot.clone() },
            StoredLot { configuration: None, ..lot.clone() },
        ] {
            prop_assert!(offered(&less).is_empty(), "{:?}", less);
        }
    }
}
