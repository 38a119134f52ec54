//! Laws of the drawer: nothing becomes usable by being forgotten.

use etui_schema::vocabulary::Configuration;
use etui_schema::vocabulary::chair::{LotQuestion, LotState};
use jiff::civil::{Date, date};
use proptest::prelude::*;

use super::*;
use crate::label::{FitnessReason, Lineage, Reader, Whose};

const DAY: Date = date(2026, 11, 25);

/// A lot of which everything is known and nothing speaks against.
const GOOD: Known<'static> = Known {
    recalled: false,
    packs: 5,
    expires_on: Some(date(2028, 1, 31)),
    sterile: Some(true),
    complete: true,
    held: &[],
    printed_until: None,
};

/// Every reason that may stand with a lot.
fn reasons() -> Vec<String> {
    let mut all: Vec<String> =
        FitnessReason::ALL.iter().map(|reason| reason.as_str().to_owned()).collect();
    let own = [CONFIGURATION_OPEN, HELD_BY_HAND, RECALL_POSSIBLE, EXPIRY_DIFFERS, CODE_HELD];
    all.extend(own.map(str::to_owned));
    all
}

fn any_held() -> impl Strategy<Value = Vec<String>> {
    prop_oneof![
        3 => Just(Vec::new()),
        2 => proptest::sample::subsequence(reasons(), 0..4),
    ]
}

fn any_day() -> impl Strategy<Value = Option<Date>> {
    prop_oneof![
        Just(None),
        (2024i16..2032, 1i8..13).prop_map(|(year, month)| Some(date(year, month, 1)))
    ]
}

prop_compose! {
    fn any_lot()(
        recalled in proptest::bool::weighted(0.1),
        packs in 0u32..3,
        expires_on in any_day(),
        sterile in proptest::option::of(proptest::bool::weighted(0.8)),
        complete in proptest::bool::weighted(0.8),
        held in any_held(),
        printed_until in any_day(),
    ) -> (Vec<String>, Known<'static>) {
        (held, Known { recalled, packs, expires_on, sterile, complete, held: &[], printed_until })
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    /// Law: taking a known fact away never makes a lot usable.
    #[test]
    fn forgetting_never_makes_a_lot_usable((held, lot) in any_lot()) {
        let lot = Known { held: &held, ..lot };
        let usable = |known: &Known<'_>| standing(known, DAY).state == LotState::Usable;
        let before = usable(&lot);
        for less in [
            Known { expires_on: None, ..lot },
            Known { sterile: None, ..lot },
            Known { complete: false, ..lot },
            Known { expires_on: None, sterile: None, complete: false, ..lot },
        ] {
            prop_assert!(before || !usable(&less), "{:?} -> {:?}", lot, less);
            prop_assert!(!usable(&less), "{:?}", less);
        }
    }

    /// Law: to know less of a lot frees it no more, whatever it is asked because of another.
    #[test]
    fn less_that_is_known_beside_another_frees_nothing(
        (held, lot) in any_lot(),
        (its, other) in any_lot(),
    ) {
        let (lot, other) = (Known { held: &held, ..lot }, Known { held: &its, ..other });
        let usable = |lot: &Known<'_>| {
            let asked = asked_beside((lot, None), (&other, None));
            let held: Vec<String> =
                lot.held.iter().cloned().chain(asked.into_iter().map(str::to_owned)).collect();
            standing(&Known { held: &held, ..*lot }, DAY).state == LotState::Usable
        };
        for less in [
            Known { expires_on: None, ..lot },
            Known { sterile: None, ..lot },
            Known { complete: false, ..lot },
        ] {
            prop_assert!(usable(&lot) || !usable(&less), "{:?} {:?}", lot, other);
        }
        let out = other.sterile == Some(false) || its.iter().any(|it| it == HELD_BY_HAND);
        prop_assert!(!out || !usable(&lot), "{:?} {:?}", lot, other);
    }

    /// Law: a word with less in it never settles more.
    #[test]
    fn saying_less_never_settles_more(
        (held, lot) in any_lot(),
        day in any_day(),
        sterile in proptest::option::of(any::<bool>()),
        flags in any::<[bool; 5]>(),
    ) {
        let lot = Known { held: &held, ..lot };
        let [named, complete, code, print, looked] = flags;
        let said = Said { named, expires_on: day, sterile, complete, code, print, looked };
        let left = |said: &Said| settle(&lot, said).map(|settled| settled.left.len());
        for less in [
            Said { named: false, ..said },
            Said { expires_on: None, ..said },
            Said { sterile: None, ..said },
            Said { complete: false, ..said },
            Said { code: false, ..said },
            Said { print: false, ..said },
            Said { looked: false, ..said },
        ] {
            if let (Ok(more), Ok(less)) = (left(&said), left(&less)) {
                prop_assert!(more <= less, "{:?} {:?}", lot, said);
            }
        }
    }

    /// Law: what forbids the use is settled by nobody, and a recall by nothing.
    #[test]
    fn what_forbids_the_use_is_settled_by_nobody((held, lot) in any_lot()) {
        let lot = Known { held: &held, ..lot };
        let said = Said {
            named: true,
            expires_on: Some(date(2024, 1, 1)),
            sterile: Some(true),
            complete: true,
            code: true,
            print: true,
            looked: true,
        };
        let unfit = ["not_sterile", "damaged", "reusable", "expired"];
        let forbidden = lot.recalled
            || lot.sterile == Some(false)
            || held.iter().any(|reason| unfit.contains(&reason.as_str()));
        prop_assert_eq!(settle(&lot, &said).is_err(), forbidden);
    }
}

#[test]
fn a_lot_is_worth_what_is_known_of_it() {
    let held = |reasons: &[&str]| reasons.iter().map(|r| (*r).to_owned()).collect::<Vec<_>>();
    let ambiguous = held(&["ambiguous_expiry"]);
    let aside = held(&[HELD_BY_HAND]);
    let broken = held(&["damaged", "ambiguous_expiry"]);
    for (case, lot, state, reasons, questions) in [
        ("everything known", GOOD, LotState::Usable, vec![], vec![]),
        (
            "no date",
            Known { expires_on: None, ..GOOD },
            LotState::Held,
            vec!["expiry_unknown"],
            vec![LotQuestion::Expiry],
        ),
        (
            "no word on sterility",
            Known { sterile: None, ..GOOD },
            LotState::Held,
            vec!["sterility_unknown"],
            vec![LotQuestion::Sterility],
        ),
        (
            "nothing but a configuration",
            Known { expires_on: None, sterile: None, ..GOOD },
            LotState::Held,
            vec!["expiry_unknown", "sterility_unknown"],
            vec![LotQuestion::Expiry, LotQuestion::Sterility],
        ),
        (
            "a date that can be read in two ways",
            Known { held: &ambiguous, ..GOOD },
            LotState::Held,
            vec!["ambiguous_expiry"],
            vec![LotQuestion::Expiry],
        ),
        (
            "put aside",
            Known { held: &aside, ..GOOD },
            LotState::Held,
            vec!["held_by_hand"],
            vec![LotQuestion::Hand],
        ),
        (
            "not sterile",
            Known { sterile: Some(false), ..GOOD },
            LotState::Held,
            vec!["not_sterile"],
            vec![],
        ),
        (
            "damaged, and a date in doubt: nothing is asked",
            Known { held: &broken, ..GOOD },
            LotState::Held,
            vec!["damaged", "ambiguous_expiry"],
            vec![],
        ),
        (
            "past its date",
            Known { expires_on: Some(date(2026, 11, 24)), ..GOOD },
            LotState::Expired,
            vec!["expired"],
            vec![],
        ),
        ("its last day", Known { expires_on: Some(DAY), ..GOOD }, LotState::Usable, vec![], vec![]),
        ("none left", Known { packs: 0, ..GOOD }, LotState::Empty, vec!["empty"], vec![]),
        (
            "called back, whatever else",
            Known { recalled: true, packs: 0, expires_on: None, ..GOOD },
            LotState::Recalled,
            vec!["recalled"],
            vec![],
        ),
    ] {
        let found = standing(&lot, DAY);
        assert_eq!(found.state, state, "{case}");
        assert_eq!(found.reasons, reasons, "{case}");
        assert_eq!(found.questions, questions, "{case}");
    }
}

#[test]
fn a_person_settles_what_is_open_and_nothing_else() {
    let bare = Known { expires_on: None, sterile: None, ..GOOD };
    let printed = Known { printed_until: Some(date(2027, 8, 31)), ..bare };
    let said = Said {
        named: true,
        expires_on: Some(date(2027, 6, 30)),
        sterile: Some(true),
        complete: true,
        code: true,
        print: true,
        looked: true,
    };
    let open = |left: &[&str]| left.iter().map(|r| (*r).to_owned()).collect::<Vec<_>>();
    let both = vec![LotQuestion::Expiry, LotQuestion::Sterility];
    for (case, lot, said, expected) in [
        ("both", bare, said, Ok((both.clone(), open(&[])))),
        (
            "the date alone",
            bare,
            Said { sterile: None, ..said },
            Ok((vec![LotQuestion::Expiry], open(&[STERILITY_UNKNOWN]))),
        ),
        (
            "nobody named",
            bare,
            Said { named: false, ..said },
            Err(Unsettled::Unnamed(both.clone())),
        ),
        ("a day that the print allows", printed, said, Ok((both, open(&[])))),
        (
            "a day later than the print",
            printed,
            Said { expires_on: Some(date(2027, 9, 1)), ..said },
            Err(Unsettled::LaterThanPrinted(date(2027, 8, 31))),
        ),
        (
            "not sterile before",
            Known { sterile: Some(false), ..bare },
            said,
            Err(Unsettled::Forbidden(NOT_STERILE.to_owned())),
        ),
        (
            "not sterile, said now: nothing of sterility is settled",
            Known { sterile: None, ..GOOD },
            Said { sterile: Some(false), ..said },
            Ok((vec![], open(&[STERILITY_UNKNOWN]))),
        ),
        ("called back", Known { recalled: true, ..bare }, said, Err(Unsettled::Recalled)),
    ] {
        let expected = expected.map(|(settled, left)| Settled { settled, left });
        assert_eq!(settle(&lot, &said), expected, "{case}");
    }
}

#[test]
fn a_habit_speaks_of_what_it_names_and_of_nothing_unknown() {
    let habit = |maker, gtin_prefix, reference_prefix| Habit {
        whose: Whose { maker, gtin_prefix, reference_prefix },
        month: None,
        sterile: Some(true),
    };
    let lot =
        Lineage { maker: Some("North"), gtin: Some("04012345000017"), reference: Some("NR-0305") };
    for (case, habit, lot, speaks) in [
        ("its maker", habit(Some("north"), None, None), lot, true),
        ("another maker", habit(Some("south"), None, None), lot, false),
        ("its article numbers", habit(None, Some("0401234"), None), lot, true),
        ("others' article numbers", habit(None, Some("0401235"), None), lot, false),
        ("its catalogue numbers", habit(None, None, Some("nr-")), lot, true),
        ("maker and article", habit(Some("north"), Some("0401"), None), lot, true),
        (
            "a maker nobody told",
            habit(Some("north"), None, None),
            Lineage { maker: None, ..lot },
            false,
        ),
        ("nothing named", habit(None, None, None), lot, false),
    ] {
        assert_eq!(habit.whose.speaks_of(&lot), speaks, "{case}");
    }
}

#[test]
fn a_pack_is_held_against_its_lot() {
    let lot = PackSays {
        lot: Some("A1"),
        gtin: None,
        reference: Some("R7"),
        expires_on: Some(date(2028, 1, 31)),
    };
    assert!(misfits(&PackSays { lot: Some("a1"), ..PackSays::default() }, &lot).is_empty());
    assert!(misfits(&PackSays { gtin: Some("1"), ..PackSays::default() }, &lot).is_empty());
    let other = PackSays { lot: Some("A2"), expires_on: Some(date(2029, 1, 31)), ..lot };
    let what: Vec<_> = misfits(&other, &lot).into_iter().map(|misfit| misfit.what).collect();
    assert_eq!(what, ["lot", "expiry date"]);
    assert!(meant(Some("North"), None, (Some("north"), Some("R7"))));
    assert!(meant(None, Some("r7"), (None, Some("R7"))));
    for maker in ["Nädelwerk ", "NÄDELWERK", "Na\u{308}delwerk", "Nädel\u{2010}werk", "Ｎädelwerk"]
    {
        assert!(meant(Some("Nädelwerk"), None, (Some(maker), None)), "{maker}");
    }
    for reference in ["AB 12", "AB12", "ab-12 "] {
        assert!(meant(None, Some("AB-12"), (None, Some(reference))), "{reference}");
    }
    assert!(!meant(Some("north"), Some("R8"), (Some("north"), Some("R7"))));
    for maker in
        ["Nadelwerk AG", "Nadelwerk GmbH & Co. KG", "Nadelwerk S.p.A.", "Nadelwerke", "Nadelw."]
    {
        assert!(meant(Some("Nadelwerk"), None, (Some(maker), None)), "{maker}");
        assert!(meant(Some(maker), None, (Some("nadelwerk"), None)), "{maker}");
    }
    for maker in ["Na", "Nagelwerk", "Werk Nadel", "AG"] {
        assert!(!meant(Some("Nadelwerk"), None, (Some(maker), None)), "{maker}");
    }
}

/// Greek and Cyrillic letters stand by their Unicode numbers: they look like the Latin ones.
#[test]
fn a_code_is_one_in_every_alphabet_that_draws_it_alike() {
    for (code, same) in [
        ("AB12", true),
        ("ab 12", true),
        ("AB-12", true),
        ("\u{391}\u{392}12", true),
        ("\u{410}\u{412}12", true),
        ("\u{ff21}\u{ff22}\u{ff11}\u{ff12}", true),
        ("AB13", false),
        ("AC12", false),
        ("AB1", false),
        ("", false),
    ] {
        assert_eq!(code_as_meant(code) == code_as_meant("AB12"), same, "{code}");
    }
    assert_eq!(code_as_meant("\u{39d}\u{397}\u{3a1}7"), code_as_meant("NHP7"));
    assert_ne!(code_as_meant("--"), code_as_meant("++"), "what has no letter is itself");
}

/// A serial number behind a code is told from a longer code by what stands between them, and is a
/// question all the same.
#[test]
fn a_code_with_a_serial_number_may_be_the_one_without() {
    for (one, other, may_be) in [
        ("23K8", "23K8-11", true),
        ("23k8", "23K8/0011", true),
        ("LOT 23K8", "23-K8.7", true),
        ("23K8", "23K811", false),
        ("23K8", "23K8-B", true),
        ("23K8", "23K8 3", true),
        ("23K8", "23K8_003", true),
        ("23K8", "23K8-11-4", true),
        ("23K8-11", "23K8-11-4", true),
        ("23K8", "LOT 23K8 SN 11", true),
        ("23K8", "23K8SN11", true),
        ("23K8", "23k8 serial no. x9", true),
        ("23K8", "23K8SNA", false),
        ("23K8", "23K8B", false),
        ("23K8-B", "23K8-C", false),
        ("23K8", "23K8-", false),
        ("23K8-11", "23K8-12", false),
        ("AB", "AB-12", false),
        ("23K8", "23K8", false),
    ] {
        assert_eq!(is_but_for_serial(one, other), may_be, "{one} {other}");
        assert_eq!(is_but_for_serial(other, one), may_be, "{other} {one}");
    }
}

/// What people type for a lot code, and whether it is one. Common practice, no source.
#[test]
fn what_is_typed_for_a_code_is_one_or_none() {
    use CodeFault::{Several, Unknown};
    let reader = Reader::builtin().expect("sound tables");
    for (typed, fault) in [
        ("B7", None),
        ("AB-12", None),
        ("AB-12-3", None),
        ("2023/07/15", None),
        ("23 K 811", None),
        ("K/12/3", None),
        ("12-34", None),
        ("26D7_003", None),
        ("26D7_", Some(Unknown)),
        ("26D7__3", Some(Unknown)),
        ("_26D7", Some(Unknown)),
        ("AB12-3", None),
        ("2306015A", None),
        ("B7, B8", Some(Several)),
        ("B7 & B8", Some(Several)),
        ("B7 oder B8", Some(Several)),
        ("B7 or B8", Some(Several)),
        ("B7 / B8", Some(Several)),
        ("B7 \u{2013} B9", Some(Several)),
        ("KL5\u{2013}KL9", Some(Several)),
        ("KL12-KL15", Some(Several)),
        ("KL12/KL15", Some(Several)),
        ("KL20 ff.", Some(Several)),
        ("A1 thru A9", Some(Several)),
        ("A1|A2", Some(Several)),
        ("all lots", Some(Unknown)),
        ("*", Some(Unknown)),
        ("-", Some(Unknown)),
        ("n/a", Some(Unknown)),
        ("unbekannt", Some(Unknown)),
        ("LOT", Some(Unknown)),
        ("XXXX", Some(Unknown)),
        ("n. b.", Some(Unknown)),
        ("keine Angabe", Some(Unknown)),
        ("NORDLOS", None),
        ("S", None),
        // What stands for none on a label does so where it is typed, and the other way about.
        ("NOT READABLE", Some(Unknown)),
        ("tbc", Some(Unknown)),
        ("ulæselig", Some(Unknown)),
        ("см", Some(Unknown)),
        ("不明", Some(Unknown)),
        ("see box", Some(Unknown)),
        ("WW1?0", Some(Unknown)),
        ("KK_2", Some(Unknown)),
    ] {
        assert_eq!(code_fault(&reader, typed), fault, "{typed}");
    }
}

/// What a supplier's habit must not hide: words of sterility in pieces, and work still to be done.
/// Common practice, no source.
#[test]
fn a_word_about_sterility_is_left_to_a_person() {
    for word in [
        "unster",
        "STER",
        "STRILE",
        "STERLE",
        "SERILE",
        "autoclave",
        "autoklavieren",
        "disinfected",
        "desinfiziert",
        "désinfecté",
        "消毒",
    ] {
        let label = format!("0.30 3RL LOT A1 EXP 2028-07 {word}");
        assert!(!super::leaves_sterility_unsaid(&label), "{word}");
    }
    for word in ["Master Ink", "Sterling Supplies", "Made in China", "Series 5"] {
        let label = format!("0.30 3RL LOT A1 EXP 2028-07 {word}");
        assert!(super::leaves_sterility_unsaid(&label), "{word}");
    }
}

/// What a lot asks because of another of its code. Common practice, no source.
#[test]
fn what_is_known_of_a_code_is_asked_of_others() {
    let held = |reason: &str| vec![reason.to_owned()];
    let (hand, spoilt, unread) = (held(HELD_BY_HAND), held("not_for_use"), held("lot_unreadable"));
    let needle = |count| Configuration {
        diameter_mm: Some(0.3),
        count: Some(count),
        grouping: None,
        taper: None,
    };
    let (earlier, later) = (Some(date(2027, 1, 31)), Some(date(2029, 1, 31)));
    let both = vec![EXPIRY_DIFFERS, CODE_HELD];
    for (case, other, others, asked) in [
        ("the same", GOOD, None, vec![]),
        ("an earlier day", Known { expires_on: earlier, ..GOOD }, None, vec![EXPIRY_DIFFERS]),
        ("of this needle", Known { expires_on: earlier, ..GOOD }, Some(5), vec![EXPIRY_DIFFERS]),
        ("of another needle", Known { expires_on: earlier, ..GOOD }, Some(3), vec![]),
        ("a later day", Known { expires_on: later, ..GOOD }, None, vec![]),
        ("no day", Known { expires_on: None, ..GOOD }, None, vec![]),
        ("put aside", Known { held: &hand, ..GOOD }, None, vec![CODE_HELD]),
        ("put aside, another needle", Known { held: &hand, ..GOOD }, Some(3), vec![CODE_HELD]),
        ("a word against it", Known { held: &spoilt, ..GOOD }, None, vec![CODE_HELD]),
        ("its own code in doubt", Known { held: &unread, ..GOOD }, None, vec![]),
        ("no word on sterility", Known { sterile: None, ..GOOD }, None, vec![]),
        ("not sterile", Known { sterile: Some(false), packs: 0, ..GOOD }, None, vec![CODE_HELD]),
        ("both", Known { expires_on: earlier, held: &hand, ..GOOD }, None, both),
    ] {
        let others = others.map(needle);
        let found = asked_beside((&GOOD, Some(&needle(5))), (&other, others.as_ref()));
        assert_eq!(found, asked, "{case}");
    }
}

/// Somebody who looks settles what is asked because of others, by name and not in passing.
#[test]
fn what_others_have_is_settled_by_whoever_looks() {
    let held = [EXPIRY_DIFFERS, CODE_HELD].map(str::to_owned);
    let lot = Known { held: &held, ..GOOD };
    let said = Said {
        named: true,
        expires_on: GOOD.expires_on,
        sterile: None,
        complete: true,
        code: true,
        print: true,
        looked: true,
    };
    let both = vec![LotQuestion::Expiry, LotQuestion::Hand];
    assert_eq!(standing(&lot, DAY).questions, both);
    let all = Settled { settled: both.clone(), left: vec![] };
    let day = Settled { settled: vec![LotQuestion::Expiry], left: vec![CODE_HELD.to_owned()] };
    let look = Settled { settled: vec![LotQuestion::Hand], left: vec![EXPIRY_DIFFERS.to_owned()] };
    for (case, said, expected) in [
        ("all of it", said, Ok(all)),
        ("nobody named", Said { named: false, ..said }, Err(Unsettled::Unnamed(both))),
        ("the day in passing", Said { looked: false, ..said }, Ok(day)),
        ("a look without the day", Said { expires_on: None, ..said }, Ok(look)),
    ] {
        assert_eq!(settle(&lot, &said), expected, "{case}");
    }
}
