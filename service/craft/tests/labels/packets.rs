//! Packet fields, dates, print against symbol, fitness.

use crate::READER;
use etui_craft::label::{
    FitnessReason, FitnessState, MonthRule, Outcome, Policy, Printed, Reading,
};
use etui_schema::vocabulary::Language;
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 11, 25);

fn both(text: Option<&str>, symbol: Option<&str>) -> Reading {
    READER.read(&Printed { text, symbol }, AS_OF, Policy::default())
}

fn read(text: &str) -> Reading {
    both(Some(text), None)
}

fn reasons(reading: &Reading) -> Vec<&'static str> {
    reading.fitness.reasons().map(|r| r.as_str()).collect()
}

/// A recall of either lot is meant for a packet that names two (ISO 15223-1, 5.1.5: one batch code).
#[test]
fn two_lots_in_print_are_asked_about() {
    for (text, asked) in [
        ("3RL 0.30 LOT A123 STERILE EO EXP 2028-05", false),
        ("3RL 0.30 LOT A123 LOT A123 STERILE EO EXP 2028-05", false),
        ("3RL 0.30 LOT A-123 Ch.-B.: A123 STERILE EO EXP 2028-05", false),
        ("3RL 0.30 LOT A123 LOT B456 STERILE EO EXP 2028-05", true),
        ("LOT: A123\n3RL 0.30 STERILE EO EXP 2028-05\nCh.-B.: B456", true),
    ] {
        let reading = read(text);
        assert_eq!(reading.packet.lot.as_ref().unwrap().value.replace('-', ""), "A123", "{text}");
        assert_eq!(reasons(&reading).contains(&"label_conflict"), asked, "{text}");
        assert_eq!(reading.fitness.state() == FitnessState::Fit, !asked, "{text}");
    }
}

/// What was written on a packet speaks wherever it stands: our own.
#[test]
fn a_ban_or_damage_counts_wherever_it_stands() {
    for word in [
        "cracked",
        "kaputt",
        "eingerissen",
        "ouvert",
        "rotto",
        "aberto",
        "rusty",
        "Wasserschaden",
        "unversiegelt",
        "seal loose",
        "QC hold",
        "Sperrbestand",
        "vernichten",
        "display only",
        "for test only",
        "veterinary use only",
        "replica",
        "durchgestrichen",
        "练习针",
        "연습용",
    ] {
        for text in [
            format!("{word} 0.30 3RL LT STERILE EO LOT 23A114 EXP 2029-08"),
            format!("0.30 3RL LT STERILE EO LOT 23A114 EXP 2029-08 {word}"),
            format!("0.30 3RL LT LOT 23A114 EXP 2029-08 STERILE EO 5 pcs {word}"),
        ] {
            assert_ne!(read(&text).fitness.state(), FitnessState::Fit, "{text}");
        }
    }
}

/// ISO 15223-1, 5.1.4: after the end of the year, month or day shown. Printed
/// forms of 2027-08-31 and their other readings.
#[test]
fn printed_dates_have_every_reading_and_the_earliest_counts() {
    for (text, day, also) in [
        ("EXP 2027-08-31", "2027-08-31", ""),
        ("EXP: 2027/08/31", "2027-08-31", ""),
        ("EXP 2027.08.31", "2027-08-31", ""),
        ("EXP 20270831", "2027-08-31", ""),
        ("EXP 2027-08", "2027-08-31", ""),
        ("EXP2027/08", "2027-08-31", ""),
        ("EXP. 2027.08", "2027-08-31", ""),
        ("EXP 202708", "2027-08-31", ""),
        ("EXP 08/2027", "2027-08-31", ""),
        ("EXP 08-2027", "2027-08-31", ""),
        ("EXPIRY DATE 08.2027", "2027-08-31", ""),
        ("EXP AUG 2027", "2027-08-31", ""),
        ("EXP 2027 AUG", "2027-08-31", ""),
        ("exp aug27", "2027-08-31", "?"),
        ("EXP 31/08/2027", "2027-08-31", ""),
        ("EXP 31.08.2027", "2027-08-31", ""),
        ("EXP 08/09/2027", "2027-08-09", "2027-09-08"),
        ("EXP 27/08", "2027-08-31", "?"),
        ("EXP 08/27", "2027-08-31", "?"),
        ("EXP 08/09", "2008-09-30", "2009-08-31"),
        ("EXP 270831", "2027-08-31", "2031-08-27"),
        ("EXP 310827", "2027-08-31", "2031-08-27"),
        // The reading that lies near the day counts before one that does not.
        ("EXP 201208", "2020-12-08", "2012-08-31"),
        ("EXP 06 MAR 04", "2004-03-06", "2006-03-04"),
        ("EXP 2027", "2027-12-31", "?"),
        ("EXP 2O27-O8", "2027-08-31", "?"),
        ("USE BY 2027-08", "2027-07-31", "2027-08-31"),
        ("USE BEFORE 08/2027", "2027-07-31", "2027-08-31"),
        ("USE BY 2027-08-31", "2027-08-31", ""),
        ("⌛ 2027-08", "2027-08-31", ""),
        ("有效期至 2027.08", "2027-08-31", ""),
        ("失效期 2027-08", "2027-07-31", ""),
        ("VERWENDBAR BIS 08/2027", "2027-08-31", ""),
    ] {
        let reading = read(text);
        let expiry = reading.packet.expires_on.as_ref().unwrap_or_else(|| panic!("{text}"));
        assert_eq!(expiry.date.to_string(), day, "{text}");
        if also == "?" {
            assert!(expiry.doubtful, "{text}");
        } else {
            let others: Vec<String> = expiry.also.iter().map(Date::to_string).collect();
            assert_eq!(others.join(" "), also, "{text}");
        }
        let asks = reasons(&reading).contains(&"ambiguous_expiry");
        assert_eq!(asks, !also.is_empty(), "{text}");
    }
}

#[test]
fn words_with_a_month_follow_the_policy() {
    let printed = Printed { text: Some("USE BY 2027-08"), symbol: None };
    for (rule, day) in [
        (MonthRule::Earlier, "2027-07-31"),
        (MonthRule::EndOfMonth, "2027-08-31"),
        (MonthRule::EndOfMonthBefore, "2027-07-31"),
    ] {
        let reading = READER.read(&printed, AS_OF, Policy { words_month: rule });
        assert_eq!(reading.packet.expires_on.unwrap().date.to_string(), day, "{rule:?}");
    }
}

#[test]
fn two_dates_without_words_are_told_apart() {
    for text in ["2024-08 2027-08", "2027-08 2024-08", "2024-08-01\n2027-08-31"] {
        let packet = read(text).packet;
        assert_eq!(packet.made_on.unwrap().date.to_string(), "2024-08-01", "{text}");
        assert_eq!(packet.expires_on.unwrap().date.to_string(), "2027-08-31", "{text}");
    }
    // More than ten years apart, or one alone: not guessed.
    for text in ["2010-08 2027-08", "2027-08"] {
        let reading = read(text);
        assert!(reading.packet.expires_on.is_none(), "{text}");
        assert!(!reading.unread.is_empty(), "{text}");
    }
    // One that has passed may be the expiry (our rule; no source): the pack is held.
    for (text, held) in [
        ("1003RL STERILE R 2026-10", true),
        ("1003RL STERILE R 2026-11-24", true),
        ("1003RL STERILE R 2010-08 2027-08", true),
        ("1003RL STERILE R 2026-11", false),
        ("1003RL STERILE R 2026-11-25", false),
        ("1003RL STERILE R MFG 2024-08 EXP 2027-08 2025-01", false),
    ] {
        let reading = read(text);
        let told = reasons(&reading).contains(&"date_without_word");
        assert_eq!(told, held, "{text}");
        // One that has not passed is no expiry either before somebody says so.
        let known = reading.packet.expires_on.is_some();
        assert_eq!(reading.fitness.usable(), known && !held, "{text}");
    }
    let packet = read("MFG 2024-08 2027-08").packet;
    assert_eq!(packet.expires_on.unwrap().date.to_string(), "2027-08-31");
}

/// Words of ISO 15223-1, in any order and as OCR returns them.
#[test]
fn fields_are_read_in_any_order() {
    let parts = [
        "1203RLST",
        "LOT 23A114",
        "REF AB-1203",
        "SN S0001",
        "EXP 2027-08",
        "MFG 2024-08-01",
        "STERILE EO",
        "DO NOT REUSE",
        "20 PCS",
        "DO NOT USE IF PACKAGE IS DAMAGED",
    ];
    for turn in 0..parts.len() {
        let mut turned = parts;
        turned.rotate_left(turn);
        for glue in [" ", "\n", "  "] {
            let text = turned.join(glue);
            let reading = read(&text);
            assert_eq!(reading.outcome, Outcome::Clear, "{text} {:?}", reading.candidates);
            assert_eq!(reading.candidates[0].canonical(), "0.35 3RL ST", "{text}");
            let packet = &reading.packet;
            assert_eq!(packet.lot.as_ref().unwrap().value, "23A114", "{text}");
            assert_eq!(packet.reference.as_ref().unwrap().value, "AB-1203", "{text}");
            assert_eq!(packet.serial.as_ref().unwrap().value, "S0001", "{text}");
            assert_eq!(packet.quantity.as_ref().unwrap().value, 20, "{text}");
            assert_eq!(packet.sterilised_by.as_ref().unwrap().value.as_str(), "ethylene_oxide");
            assert!(packet.single_use.as_ref().unwrap().value);
            assert_eq!(packet.made_on.as_ref().unwrap().date.to_string(), "2024-08-01");
            assert_eq!(packet.expires_on.as_ref().unwrap().date.to_string(), "2027-08-31");
            assert_eq!(reasons(&reading), ["check_pack"], "{text}");
            assert!(reading.unread.is_empty(), "{text} {:?}", reading.unread);
        }
    }
}

#[test]
fn ocr_variants_of_the_words_are_read() {
    for (text, lot) in [
        ("L0T 23A114", "23A114"),
        ("IOT 23A114", "23A114"),
        ("LOT:23A114", "23A114"),
        ("LOT23A114", "23A114"),
        ("Lot No. 23a114", "23a114"),
        ("BATCH 23A114", "23A114"),
        ("批号 23A114", "23A114"),
        ("1003RLLOT23A114", "23A114"),
    ] {
        assert_eq!(read(text).packet.lot.unwrap().value, lot, "{text}");
    }
    assert_eq!(read("RFF AB1").packet.reference.unwrap().value, "AB1");
    for (text, method) in [
        ("STERILE EO", "ethylene_oxide"),
        ("STERILEEO", "ethylene_oxide"),
        ("STERILE | EO", "ethylene_oxide"),
        ("STERILE E0", "ethylene_oxide"),
        ("STERILE EtO", "ethylene_oxide"),
        ("STERILE [R]", "irradiation"),
        ("STERILE R", "irradiation"),
        ("STERILE A", "aseptic"),
        ("STERILE", "not_told"),
        ("1003RLSTERILE EO", "ethylene_oxide"),
    ] {
        let reading = read(text);
        assert_eq!(reading.packet.sterilised_by.unwrap().value.as_str(), method, "{text}");
    }
}

/// What is open holds the pack as what forbids it does: our rule, no source.
#[test]
fn a_pack_is_fit_only_if_nothing_forbids_it_and_nothing_is_open() {
    for (text, state, want) in [
        ("1003RL EXP 2027-08 STERILE EO", "fit", vec![]),
        ("1003RL EXP 2026-11-25 STERILE EO", "fit", vec![]),
        ("1003RL EXP 2026-11-24 STERILE EO", "unfit", vec!["expired"]),
        ("1003RL EXP 2026-10 STERILE EO", "unfit", vec!["expired"]),
        ("1003RL EXP 2026-11 STERILE EO", "fit", vec![]),
        ("1003RL", "to_confirm", vec!["expiry_unknown", "sterility_unknown"]),
        ("1003RL STERILE EO", "to_confirm", vec!["expiry_unknown"]),
        ("1003RL EXP 2027-08", "to_confirm", vec!["sterility_unknown"]),
        ("1003RL EXP ?? STERILE R", "to_confirm", vec!["expiry_unknown", "expiry_unreadable"]),
        ("1003RL EXP 2027-08 NON-STERILE", "unfit", vec!["not_sterile"]),
        ("1003RL EXP 2027-08 NON STERILE", "unfit", vec!["not_sterile"]),
        ("1003RL EXP 2027-08 STERILE R REUSABLE", "unfit", vec!["reusable"]),
        ("1003RL EXP 2027-08 STERILE R pack damaged", "unfit", vec!["damaged"]),
        ("1003RL EXP 2025-08 MFG 2026-01 STERILE R", "unfit", vec!["expired", "dates_contradict"]),
        ("1003RL EXP 08/09/2027 STERILE R", "to_confirm", vec!["ambiguous_expiry"]),
        // Regulation (EU) 2017/745, Annex I, 23.3: at least year and month.
        ("1003RL EXP 2027 STERILE EO", "to_confirm", vec!["ambiguous_expiry"]),
        ("1003RL USE BY 2027 STERILE EO", "to_confirm", vec!["ambiguous_expiry"]),
        // 12 Oct or 10 Dec 2026: the earlier is over.
        ("1003RL EXP 10/12/2026 STERILE R", "unfit", vec!["expired", "ambiguous_expiry"]),
    ] {
        let reading = read(text);
        assert_eq!(reading.fitness.state().as_str(), state, "{text}");
        assert_eq!(reading.fitness.usable(), state == "fit", "{text}");
        assert_eq!(reasons(&reading), want, "{text}");
    }
}

#[test]
fn whatever_is_to_be_confirmed_has_its_question_in_both_languages() {
    for reason in FitnessReason::ALL {
        let open = reason.state() == FitnessState::ToConfirm;
        assert_eq!(reason.question().is_some(), open, "{reason}");
        let Some(key) = reason.question() else { continue };
        for language in [Language::En, Language::De] {
            let question = READER.texts().get(language, key);
            assert!(question.contains('?'), "{reason}: {question}");
        }
    }
}

#[test]
fn print_and_symbol_are_held_against_each_other() {
    let symbol = "]d20109521234543213172708311023A114";
    // Agreement raises certainty; the symbol settles what print left open.
    let alone = read("1003RL LOT 23A114 EXP 270831");
    let agreed = both(Some("1003RL LOT 23AII4 EXP 270831 STERILE R"), Some(symbol));
    assert_eq!(agreed.outcome, Outcome::Clear);
    assert!(agreed.conflicts.is_empty() && agreed.fitness.usable());
    assert!(alone.candidates[0].certainty < agreed.candidates[0].certainty);
    assert_eq!(agreed.packet.lot.as_ref().unwrap().value, "23A114");
    assert_eq!(agreed.packet.lot.as_ref().unwrap().from.as_str(), "symbol");
    assert!(!agreed.packet.expires_on.unwrap().doubtful);
    // Day 00 and a printed month agree.
    let month = both(Some("1003RL EXP 2027-08"), Some("]d20109521234543213172708001023A114"));
    assert!(month.conflicts.is_empty(), "{:?}", month.conflicts);
    // A conflict: the earlier expiry counts and the lot is held.
    for (text, field, counts) in [
        ("1003RL EXP 2027-07", "expires_on", "2027-07-31"),
        ("1003RL EXP 2028-07", "expires_on", "2027-08-31"),
        ("1003RL LOT 23B999", "lot", "2027-08-31"),
    ] {
        let reading = both(Some(text), Some(symbol));
        assert!(!reading.fitness.usable(), "{text}");
        assert!(reasons(&reading).contains(&"label_conflict"), "{text}");
        assert_eq!(reading.conflicts[0].field, field, "{text}");
        assert_eq!(reading.packet.expires_on.unwrap().date.to_string(), counts, "{text}");
    }
}

#[test]
fn a_swallowed_separator_is_caught() {
    // Both public parsers accept this lot; only print or plausibility tells.
    let swallowed = "]d201095212345432131023A11417270831";
    let alone = both(None, Some(swallowed));
    assert_eq!(reasons(&alone), ["swallowed_separator", "ambiguous_expiry", "sterility_unknown"]);
    assert!(!alone.fitness.usable());
    assert_eq!(alone.packet.lot.as_ref().unwrap().value, "23A114");
    assert_eq!(alone.packet.expires_on.as_ref().unwrap().date.to_string(), "2027-08-31");
    let printed = both(Some("1003RL LOT 23A114"), Some(swallowed));
    assert!(reasons(&printed).contains(&"label_conflict"));
    // The print carries the long lot: nothing was swallowed.
    let long = both(Some("1003RL LOT 23A11417270831 STERILE R"), Some(swallowed));
    assert_eq!(reasons(&long), ["expiry_unknown"]);
}

#[test]
fn a_symbol_alone_leaves_the_configuration_open() {
    for (symbol, outcome) in [
        ("]d20109521234543213172708311023A114", Outcome::Incomplete),
        ("(01)09521234543213(17) 270831(10)23A114", Outcome::Incomplete),
        ("0109521234543213172708311023A114", Outcome::Incomplete),
        ("\u{1d}0109521234543213172708311023A114", Outcome::Incomplete),
        ("https://id.gs1.org/01/09521234543213/10/23A114?17=270831", Outcome::Incomplete),
        ("]E09521234543213", Outcome::Incomplete),
        ("]E09521234543214", Outcome::Refused),
        ("9521234543213", Outcome::Incomplete),
        ("]C10109521234543213\n]C11727083110 23A114", Outcome::Refused),
        ("]C10109521234543213\n]C1172708311023A114", Outcome::Incomplete),
        ("+A123BJC5D6E71G", Outcome::Incomplete),
        ("*+A123BJC5D6E71G*", Outcome::Incomplete),
        ("+/EO523201", Outcome::Refused),
        ("+a123bjc5d6e71g", Outcome::Refused),
        ("]A3+A123BJC5D6E71", Outcome::Refused),
        ("]d10109521234543213", Outcome::Incomplete),
        ("]x9123", Outcome::Refused),
        ("991234", Outcome::Refused),
        ("]d2881234", Outcome::Refused),
    ] {
        let reading = both(None, Some(symbol));
        assert_eq!(reading.outcome, outcome, "{symbol} {:?}", reading.symbol);
        assert!(reading.candidates.is_empty());
    }
    // A space may be the check; it is printed as an underscore.
    for check in [' ', '_'] {
        let pair = format!("+A123BJCMD6E79++$$52001510X3+{check}");
        assert_eq!(both(None, Some(&pair)).packet.lot.unwrap().value, "10X3");
    }
}

#[test]
fn faults_say_where_and_why() {
    for (symbol, at, code, says) in [
        ("]d20109521234543214172708311023A114", 18, "incorrect_check_digit", "(01)"),
        ("]d201095212345432131713", 21, "value_too_short", "(17)"),
        ("]d20109521234543213172713311023A114", 23, "illegal_month", "(17)"),
        ("]d2881234", 3, "unknown_ai", "8812"),
        ("(88)1234", 0, "unknown_ai", "(88)"),
        ("]d210AB", 3, "missing_companion", "01 / 02"),
        ("+/EO523201", 1, "hibc_provider", "HIBC"),
    ] {
        let fault = both(None, Some(symbol)).symbol.unwrap().faults[0].clone();
        assert_eq!((fault.at, fault.code.as_str()), (at, code), "{symbol}");
        for language in Language::ALL {
            let said = fault.says(READER.voice(*language));
            assert!(said.contains(says), "{symbol}: {said}");
        }
    }
}

#[test]
fn the_printed_form_of_a_symbol_is_read() {
    let reading = read("1003RL (01) 09521234543213 (17) 270831 (10) 23A114 STERILE R");
    assert_eq!(reading.outcome, Outcome::Clear, "{:?}", reading.candidates);
    assert_eq!(reading.packet.gtin.unwrap().value, "09521234543213");
    assert_eq!(reading.packet.lot.unwrap().value, "23A114");
    assert_eq!(reading.packet.expires_on.unwrap().date.to_string(), "2027-08-31");
}

#[test]
fn a_catalogue_number_that_is_a_configuration_asks_to_be_confirmed() {
    let reading = read("REF 1003RL LOT 23A114 EXP 2027-08");
    assert_eq!(reading.outcome, Outcome::Ambiguous);
    assert_eq!(reading.candidates[0].canonical(), "0.30 3RL");
}
