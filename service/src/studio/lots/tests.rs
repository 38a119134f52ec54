//! Lots as former builds stored them, and the law of the drawer over what is
//! stored.

use etui_craft::selection::Candidate;
use etui_schema::lots::{Confirmed, LotQuestion, LotState};
use etui_schema::vocabulary::CivilDate;
use jiff::civil::date;
use proptest::prelude::*;

use super::{Notices, StoredLot, StoredRecall};
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

/// Names and codes in few spellings, so that they meet.
fn told(all: &'static [&'static str]) -> impl Strategy<Value = Option<String>> {
    prop::option::of(prop::sample::select(all).prop_map(str::to_owned))
}

fn notice() -> impl Strategy<Value = StoredRecall> {
    let names =
        (told(&["B7", "b-7", "C9"]), told(&["north", "North", "south"]), told(&["K1", "K2"]));
    (names, any::<u128>()).prop_map(|((lot, maker, reference), id)| StoredRecall {
        id: uuid::Uuid::from_u128(id),
        at: former(None, None, false).received_at,
        reason: "notice".to_owned(),
        by: "owner".to_owned(),
        lot,
        maker,
        reference,
        lot_ids: Vec::new(),
    })
}

proptest! {
    /// Law: of packs that come after a notice nothing that is not known makes better: what a code, a
    /// maker or an article that somebody might still tell would call back is called back or held.
    #[test]
    fn packs_of_which_less_is_known_are_no_freer(
        told_of in prop::collection::vec(notice(), 0..4),
        (lot, maker, reference) in
            (told(&["B 7", "C9", "D1"]), told(&["north", "south"]), told(&["K1", "K2"])),
        unreadable: bool,
    ) {
        let notices = Notices::of(told_of, unreadable);
        let is_free = |lot: &StoredLot| {
            let back = lot.lot.as_ref().and_then(|code| notices.of_code(lot, code));
            back.is_none() && !notices.may_mean(lot)
        };
        let packs = StoredLot { lot, maker, reference, ..former(None, None, false) };
        for less in [
            StoredLot { lot: None, ..packs.clone() },
            StoredLot { maker: None, ..packs.clone() },
            StoredLot { reference: None, ..packs.clone() },
            StoredLot { lot: None, maker: None, reference: None, ..packs.clone() },
        ] {
            prop_assert!(is_free(&packs) || !is_free(&less), "{packs:?} {less:?}");
        }
        prop_assert!(!unreadable || !is_free(&packs));
    }
}
