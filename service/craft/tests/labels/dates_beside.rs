//! A date beside an expiry whose own word was not read is no day of manufacture, a shelf life beside
//! an expiry is held against it, and what ends on a day need not be the pack. Common practice, no
//! source; words of limits as labels and food carry them.

use etui_craft::label::{FitnessReason, FitnessState, Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

/// None is usable before a person has looked, and the day shown, if one is, is no later than the
/// one given.
fn asked_about(rows: &[(&str, Date)]) {
    let mut faults = Vec::new();
    for (text, latest) in rows {
        let reading = read(text);
        let day = reading.packet.expires_on.as_ref().map(|expiry| expiry.date);
        if reading.fitness.usable() || day.is_some_and(|day| *latest < day) {
            faults.push(format!("{text:?}: {day:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn a_date_with_a_word_that_was_not_read_is_no_manufacture() {
    asked_about(&[
        ("0.30 3RL LOT A1 USE UNTIL 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 UNTIL 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 THRU 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 TO 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 END 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 EOL 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 bis 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 gültig bis 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 tot 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 gebruiken tot 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 jusqu'au 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 fino al 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 hasta 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 usar hasta 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 até 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 do 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 Ważne do 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 до 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 Срок 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 până la 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 kadar 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 DDM 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 TGT 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 RETEST 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 SELL BY 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 OPEN 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 XP 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 EX 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 EX P 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 E.X.P 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 E 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 3XP 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 EKP 07/2026 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 限用日期 2026-07 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 期限 2026-07 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 2026-07まで EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 2026-07-14까지 EXP 2028-07 STERILE EO", date(2026, 7, 14)),
        ("0.30 3RL LOT A1 07/2026 kadar EXP 2028-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 2026-10=EXP 2028-10 STERILE EO", date(2026, 10, 31)),
        ("0.30 3RL LOT A1EXP2026-10 STERILE EO EXP 2028-07", date(2026, 10, 31)),
        ("0.30 3RL LOT A1-EXP-2026-10 STERILE EO EXP 2028-07", date(2026, 10, 31)),
        ("0.30 3RL LOT A1 EXP 2028-07 LOT A2 2026-07 STERILE EO", date(2026, 7, 31)),
        ("0.30 3RL LOT A1 MFG 2024-05 tot 2026-07 EXP 2028-07 STERILE EO", date(2026, 7, 31)),
    ]);
}

/// Torn print: nothing says which of two dates is which.
#[test]
fn of_two_dates_with_torn_words_none_is_placed() {
    asked_about(&[
        ("0.35 5RM STERILE R LOT K7\nVerwendbar\nLOT K8\nbis 10/2026\n2029-03", date(2026, 10, 31)),
        ("0.30 1RL  07/2028 E%P 2026-07-14 STÉRILE EO", date(2026, 7, 31)),
        ("0.35 5RM Годен 07.2028 до: 14 октября 2026 г. STERILE R", date(2026, 7, 31)),
        ("0.35 5RM STERILE R Houdbaar \n2028-07\ntot okt 2026", date(2026, 7, 31)),
    ]);
}

#[test]
fn what_ends_on_a_day_need_not_be_the_pack() {
    asked_about(&[
        ("0.30 3RL LOT A1 MFG 2024-05 CERT 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 MFG 2024-05 WARRANTY 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 MFG 2024-05 RETEST 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 MFG 2024-05 NEXT AUDIT 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 MFG 2024-05 Garantie bis 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 PO 2025-03 invoice 2029-03 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 RECEIVED 2026-07 REORDER 2028-07 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 CE cert until 2029-03, made 2025-03 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 IFU 2025-03 V2 2029-03 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 WARRANTY EXPIRES 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 OFFER EXPIRES 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 CERTIFICATE VALID UNTIL 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 CE VALID UNTIL 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 CARD EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 LICENSE EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 GLUE EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 BATTERY EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 PRINTER INK EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 PIGMENT EXP 2028-05 STERILE EO", Date::MAX),
        ("0.30 3RL LOT A1 NO EXP 2028-05 STERILE EO", Date::MAX),
    ]);
}

#[test]
fn a_shelf_life_is_held_against_the_expiry() {
    asked_about(&[
        (
            "0.30 3RL LOT A1 MFG 2020-01 SHELF LIFE: 60 MONTHS EXP 2028-05 STERILE EO",
            date(2025, 1, 1),
        ),
        (
            "0.30 3RL LOT A1 MFG 2021-10 Shelf life 5 years EXP 2029-03 STERILE EO",
            date(2026, 10, 1),
        ),
        ("0.30 3RL LOT A1 保质期5年 生产日期 2020年1月 EXP 2028-05 STERILE EO", date(2025, 1, 1)),
        ("0.30 3RL LOT A1 有效期3年 生产日期2022-01 EXP 2028-05 STERILE EO", date(2025, 1, 1)),
        (
            "0.30 3RL LOT A1 Haltbarkeit 3 Jahre Herst.-Datum 2022-01 EXP 2028-05 STERILE EO",
            date(2025, 1, 1),
        ),
        (
            "0.30 3RL LOT A1 срок годности 3 года дата изготовления 01.2022 EXP 2028-05 STERILE EO",
            date(2025, 1, 1),
        ),
        (
            "0.30 3RL LOT A1 USE WITHIN 3 YEARS OF MFG DATE 2022-01 EXP 2028-05 STERILE EO",
            date(2025, 1, 1),
        ),
    ]);
}

/// A number with its sign and a dot behind a month is its day.
#[test]
fn a_dotted_number_is_the_day() {
    asked_about(&[
        ("0.30 3RL LOT A1 EXP 2026. 11. #14. STERILE EO", date(2026, 11, 14)),
        ("0.30 3RL LOT A1 EXP 2026. 11 #01. STERILE EO", date(2026, 11, 1)),
        ("0.30 LOT A1 유효기한 2026. 11. #10. 3RL 멸균 EO", date(2026, 11, 10)),
        ("0.30 3RL LOT A1 유효기한 2028. 7. #14. STERILE EO", date(2028, 7, 14)),
    ]);
}

/// Nothing here is asked about, and its expiry is the day given.
#[test]
fn honest_print_stays_fit() {
    let july = date(2028, 7, 14);
    let mut faults = Vec::new();
    for (text, day) in [
        ("STERILE EO 2024-07 EXP 2028-07-14", july),
        ("cartridges 2024-07 EXP 2028-07-14 STERILE EO", july),
        ("MFG 2024-05 SHELF LIFE 5 YEARS EXP 2029-04 STERILE EO", date(2029, 4, 30)),
        ("MFG 2024-05 SHELF LIFE 5 YEARS EXP 2029-05 STERILE EO", date(2029, 5, 31)),
        ("Строк придатності 14 липня 2028 р. STERILE EO", july),
        ("사용기한: 2028-07-14 까지 STERILE EO", july),
        ("Exp. Dt.: JUL.2028 STERILE EO", date(2028, 7, 31)),
    ] {
        let reading = read(&format!("0.30 3RL LOT A1 {text}"));
        let found = reading.packet.expires_on.as_ref().map(|expiry| expiry.date);
        if !reading.fitness.usable() || found != Some(day) {
            faults.push(format!("{text:?}: {found:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// The day of sterilising, of packing, of import or of a revision, in words that packs have for it.
#[test]
fn a_date_of_something_else_leaves_the_expiry_as_it_is() {
    let want = date(2028, 3, 15);
    let mut faults = Vec::new();
    for said in [
        "Sterilisationsdatum 2023-01-15",
        "packed 2023-01-15",
        "packaged 2023-01-15",
        "Verpackungsdatum 15.01.2023",
        "verpackt am 15.01.2023",
        "Sterilization date 2023-01-15",
        "date of sterilisation 2023-01-15",
        "sterilisiert am 15.01.2023",
        "Import date 2023-01-15",
        "Rev. 2021-05",
        "Date de stérilisation 15/01/2023",
        "Data di sterilizzazione 15.01.2023",
        "Fecha de esterilización 15.01.2023",
        "Sterilisatiedatum 15-01-2023",
        "Data sterylizacji 15.01.2023",
        "Дата стерилизации 15.01.2023",
        "Steriliseringsdatum 2023-01-15",
        "Sterilizasyon tarihi 15.01.2023",
        "灭菌日期 2023-01-15",
        "滅菌年月日 2023-01-15",
        "멸균일 2023-01-15",
    ] {
        for text in [
            format!("0.30 3RL STERILE EO LOT A1\n{said}\nEXP 2028-03-15"),
            format!("0.30 3RL LOT A1 {said} Verfalldatum 2028-03-15\nSTERILE EO"),
            format!("0.30 3RL STERILE EO LOT A1 EXP 2028-03-15\n{said}"),
        ] {
            let reading = read(&text);
            let found = reading.packet.expires_on.as_ref().map(|expiry| expiry.date);
            let unfit = reading.fitness.state() == FitnessState::Unfit;
            if unfit || found != Some(want) {
                faults.push(format!("{text:?}: {found:?} {:?}", reading.fitness));
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// None of them is an expiry, whatever it is.
#[test]
fn a_date_of_something_else_is_no_expiry() {
    for said in ["packed", "Sterilization date", "Import date", "Rev.", "Verpackungsdatum"] {
        let reading = read(&format!("0.30 3RL LOT A1 STERILE EO {said} 2028-03-15"));
        assert!(!reading.fitness.usable(), "{said} {:?}", reading.fitness);
        assert_eq!(reading.packet.expires_on, None, "{said}");
    }
}

/// A word that nobody knows at a day that has passed: asked about with both days, and no reason to
/// throw the pack away.
#[test]
fn a_past_day_under_an_unknown_word_is_asked_about() {
    for word in ["Fabulazione", "Kontrolldatum", "Freigegeben", "Validated"] {
        let reading = read(&format!("0.30 3RL LOT A1 {word} 2023-01-15 EXP 2028-03-15 STERILE EO"));
        assert_eq!(
            reading.fitness.state(),
            FitnessState::ToConfirm,
            "{word} {:?}",
            reading.fitness
        );
        let expiry = reading.packet.expires_on.unwrap();
        let mut days = expiry.also;
        days.push(expiry.date);
        days.sort_unstable();
        assert_eq!(days, [date(2023, 1, 15), date(2028, 3, 15)], "{word}");
    }
}

/// A negation or a *before* inside a date denies nothing but the date.
#[test]
fn words_inside_a_date_accuse_of_nothing() {
    let accused = [FitnessReason::NotSterile, FitnessReason::NotForUse, FitnessReason::Expired];
    for text in [
        "0.30 3RL LOT A1 STERILE EO EXP Mitte 2027",
        "0.30 3RL LOT A1 EXP Mitte 2027 STERILE EO",
        "0.30 3RL LOT A1 STERILE EO EXP vor dem 1. Juni 2027",
        "0.30 3RL LOT A1 EXP vor dem 1. Juni 2027 STERILE EO",
        "0.30 3RL LOT A1 STERILE EO EXP not after 05/2027",
        "0.30 3RL LOT A1 EXP not after 05/2027 STERILE EO",
        "0.30 3RL LOT A1 STERILE EO EXP nicht nach 05/2027",
    ] {
        let reading = read(text);
        let reasons: Vec<_> = reading.fitness.reasons().collect();
        assert!(!reasons.iter().any(|reason| accused.contains(reason)), "{text} {reasons:?}");
        assert!(!reading.fitness.usable(), "{text}");
        let day = reading.packet.expires_on.map(|expiry| expiry.date);
        assert!(day.is_none_or(|day| day <= date(2027, 5, 31)), "{text} {day:?}");
    }
    for text in [
        "0.30 3RL LOT A1 EXP 2027-05 not sterile",
        "0.30 3RL LOT A1 EXP 2027-05 nicht steril",
        "0.30 3RL LOT A1 EXP not sterile 2027-05",
    ] {
        let denied = read(text).fitness.reasons().any(|r| r == FitnessReason::NotSterile);
        assert!(denied, "{text}");
    }
}

/// A month of one digit is one as much as of two, and is asked about.
#[test]
fn a_month_of_one_digit_with_a_short_year_is_read_and_asked_about() {
    for (said, day) in
        [("6/27", date(2027, 6, 30)), ("6.27", date(2027, 6, 30)), ("27/6", date(2027, 6, 30))]
    {
        let reading = read(&format!("0.30 3RL LOT A1 EXP {said} STERILE EO"));
        let found = reading.packet.expires_on.as_ref().map(|expiry| expiry.date);
        assert_eq!(found, Some(day), "{said}");
        assert!(!reading.fitness.usable(), "{said}");
    }
}
