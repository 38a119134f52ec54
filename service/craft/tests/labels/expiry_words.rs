//! Words of expiry among each other: those that found no date, several for one date, and numbers
//! around a date that may be its day. No pack is fit with a later day than is printed, and honest
//! print stays fit.

use etui_craft::label::{Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

/// A text with what every pack has: its needle and lot where it names none, and its sterility.
fn read(text: &str) -> Reading {
    let pack = if text.contains("LOT") { "0.30 3RL" } else { "0.30 3RL LOT A1" };
    let text = match text.contains("STERILE") {
        true => format!("{pack} {text}"),
        false => format!("{pack} {text} STERILE EO"),
    };
    let printed = Printed { text: Some(&text), symbol: None };
    READER.read(&printed, date(2026, 11, 25), Policy::default())
}

/// Every day that an expiry may be, the one that counts first.
fn days(reading: &Reading) -> Vec<Date> {
    let expiry = reading.packet.expires_on.iter();
    expiry.flat_map(|e| std::iter::once(e.date).chain(e.also.iter().copied())).collect()
}

/// None of these is usable before a person has looked; the day that is shown first, if one is, is
/// the one given or an earlier one.
fn asked_about(rows: &[(&str, Date)]) {
    let mut faults = Vec::new();
    for (text, latest) in rows {
        let reading = read(text);
        let found = days(&reading);
        if reading.fitness.usable() || found.first().is_some_and(|day| latest < day) {
            faults.push(format!("{text:?}: {found:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A word of expiry without a date of its own is asked about, and nothing is inferred round it.
#[test]
fn a_word_without_its_date_is_asked_about() {
    let month = date(2026, 8, 31);
    let day = date(2026, 8, 15);
    asked_about(&[
        ("EXP (ink) 2029-08 EXP (needle) 2026-08", month),
        ("EXP needle 2026-08-15 box 2029-08-15", day),
        ("EXP 2029-08-15 EXP needle 2026-08-15", day),
        ("EXP CE 0123 2026-08 2029-08", month),
        ("EXP single use 2026-08 2029-08", month),
        ("EXP needle 2026-08 copyright 2029-08", month),
        ("EXP copyright 2029-08 needle 2026-08", month),
        ("verwendbar bis Nadel 08/2026 Karton 08/2029", month),
        ("CAD aguja 08/2026 caja 08/2029", month),
        ("годен до игла 08.2026 коробка 08.2029", month),
        ("有效期至 针 2026-08 盒 2029-08", month),
        ("EXP | MFG\n2026-08 | 2029-08", month),
        ("2026-08 2029-08 EXP see box", month),
        ("USE BY needle 2026-08 EXP 2029-08", date(2026, 7, 31)),
        ("MFG 2024-08 EXP needle 2026-08", month),
        ("EXP 2029-08 USE BY ??", date(2029, 8, 31)),
        ("EXP ?? EXP 2029-08", date(2029, 8, 31)),
        ("EXP 2029-08 Verwendbar bis:", date(2029, 8, 31)),
    ]);
}

/// Of an expiry word, a word between, an earlier and a later date, the later never makes a pack fit.
#[test]
fn a_filler_word_never_leaves_the_later_date() {
    let mut faults = Vec::new();
    for word in [
        "EXP",
        "EXPIRY DATE",
        "USE BY",
        "Verwendbar bis",
        "CAD",
        "SKT",
        "Scad.",
        "Termin ważności",
        "有效期至",
        "사용기한",
    ] {
        for filler in [
            "needle", "(needle)", "ink:", "see box", "A", "n/a", "-", "...", "CE 0123", "QTY 5",
            "Nadel", "игла", "针",
        ] {
            for (early, late) in
                [("2026-08", "2029-08"), ("2026-08-15", "2029-08-15"), ("08/2026", "08/2029")]
            {
                for text in [
                    format!("{word} {filler} {early} {late}"),
                    format!("{word} {filler} {early} box {late}"),
                    format!("{word} {filler} {late} needle {early}"),
                    format!("{word} {late} {word} {filler} {early}"),
                    format!("{word} {filler} {early} {word} {late}"),
                    format!("{early} {late} {word} {filler}"),
                ] {
                    let reading = read(&text);
                    let found = days(&reading);
                    let later = found.first().is_none_or(|day| date(2026, 8, 31) < *day);
                    // A stroke or dots are no word, and the date behind them is that of its word:
                    // the earlier is then its manufacture.
                    let own = text.starts_with(&format!("{word} {late}"))
                        || text.ends_with(&format!("{word} {late}"));
                    let plain = matches!(filler, "-" | "...") && !own;
                    if reading.fitness.usable() && later && !plain {
                        faults.push(format!("{text:?}: {found:?}"));
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A number behind a month, or before the word, may be the day.
#[test]
fn a_number_beside_a_month_may_be_its_day() {
    let day = |n| date(2026, 12, n);
    asked_about(&[
        ("EXP 2026-12 (15)", day(15)),
        ("EXP 2026-12 (02)", day(2)),
        ("EXP 12/2026 (05)", day(5)),
        ("EXP DEC 2026 #5", day(5)),
        ("EXP DEC 2026 #15", day(15)),
        ("EXP Dec. 2026 1st", day(1)),
        ("EXP December 2026 the 1st", day(1)),
        ("EXP 12/2026 21st", day(21)),
        ("EXP 12/2026 31st", day(31)),
        ("EXP 12/2026\n1st", day(1)),
        ("EXP 12/2026 01st", day(1)),
        ("EXP 12/2026 1mm", day(1)),
        ("EXP 12/2026 5th", day(5)),
        ("EXP 2026-12 [15]", day(15)),
        ("EXP 2026年12月 一日", day(1)),
        ("EXP 2026年12月十五日", day(15)),
        ("15. EXP 12/2026", day(15)),
        ("15.\nEXP 12/2026", day(15)),
        ("15 EXP 12/2026", day(15)),
        ("1. Verwendbar bis / EXP 12/2026", day(1)),
        ("EXP 01 EXP 2026-12", day(31)),
        ("EXP 2027 (01)", date(2027, 1, 31)),
        ("EXP 2027 1st", date(2027, 1, 31)),
        ("03 EXP 2027", date(2027, 3, 31)),
    ]);
}

/// Several words for one date: the most careful one counts.
#[test]
fn of_two_words_for_one_date_the_careful_one_counts() {
    let before = date(2026, 10, 31);
    asked_about(&[
        ("USE BY / EXP 2026-11", before),
        ("EXP / USE BY 2026-11", before),
        ("Use by (Verwendbar bis) 11/2026", before),
        ("Verwendbar bis (Use by) 11/2026", before),
        ("Use by\nEXP 11/2026", before),
        ("EXP / Use by / Verwendbar bis 11/2026", before),
        ("Usar antes de / CAD 11/2026", before),
        ("Anvendes inden / EXP 11-2026", before),
        ("失效期/EXP 2026年11月", before),
        ("失效期（有效期至）2026-11", before),
        ("Da usare entro / Scad. 11/2026", before),
        ("USE BEFORE / EXP 2026-12-15", date(2026, 12, 14)),
    ]);
}

/// A month that two languages have for different ones, on a label with words of both: none settles
/// it (Unicode CLDR: Croatian October, Polish November).
#[test]
fn words_of_two_languages_settle_no_shared_month() {
    let october = date(2026, 10, 31);
    asked_about(&[
        ("Rok valjanosti / Termin ważności LIS 2026", october),
        ("Termin ważności / Rok valjanosti LIS 2026", october),
        ("HR: Rok valjanosti PL: Termin ważności LIS 2026", october),
        ("Serija A1 Termin ważności LIS 2026", october),
        ("Termin ważności LIS 2026 Serija A1", october),
    ]);
}

/// What is held shows the earliest day that is printed.
#[test]
fn what_is_held_shows_the_earlier_day_first() {
    let day = date(2026, 8, 15);
    asked_about(&[
        ("EXP 2029-08-15\n2026-08-15", day),
        ("EXP 2029-08-15 -> 2026-08-15", day),
        ("EXP 2029-08-15 corrected 2026-08-15", day),
        ("EXP < 2029-08", date(2029, 7, 31)),
        ("EXP <2029-08-15", date(2029, 8, 14)),
        ("EXP 10/69", date(2069, 10, 31)),
    ]);
}

/// Print as packets carry it (common practice, no source): nothing here is asked about.
#[test]
fn honest_print_stays_fit() {
    let may = date(2028, 5, 31);
    let mut faults = Vec::new();
    for (text, day) in [
        ("Verwendbar bis / Use by date / EXP 2028-05-31", may),
        ("Verwendbar bis / EXP 2028-05", may),
        ("Verwendbar bis (EXP) 05/2028", may),
        ("EXP (Verwendbar bis): 2028-05", may),
        ("EXP / Date de péremption / Scadenza: 2028-05-31", may),
        ("EXP. DATE / VERFALLSDATUM / DATE DE PÉREMPTION / FECHA DE CADUCIDAD: 2028-05", may),
        ("HR: Rok valjanosti PL: Termin ważności 05.2028", may),
        ("Rok valjanosti\nTermin ważności\n05.2028", may),
        ("Exp. (Expiry date) 2028-05", may),
        ("使用期限/有效期至 2028-05", may),
        ("有效期至/EXP 2028年5月", may),
        ("CAD. / EXP 05/2028", may),
        ("SKT / EXP 05.2028", may),
        ("⌛ EXP 2028-05", may),
        ("EXP 05/2028 QTY 20", may),
        ("EXP 05/2028 QTY 1", may),
        ("EXP 2028-05 20 pcs", may),
        ("EXP 05/2028 1 pc", may),
        ("EXP 2028-05 (20 pcs)", may),
        ("EXP 2028-05\n20 PCS", may),
        ("QTY 20 EXP 05/2028", may),
        ("20 pcs EXP 05/2028", may),
        ("LOT 22 EXP 05/2028", may),
        ("LOT A1 EXP (YYYY-MM) 2028-05", may),
        ("LOT:22/EXP:2028-05/STERILE EO", may),
        ("MFG 2026-08 EXP 2029-08", date(2029, 8, 31)),
        ("EXP 2029-08 MFG 2026-08", date(2029, 8, 31)),
        ("生产日期 2026-08 有效期至 2029-08", date(2029, 8, 31)),
        ("2026-08 2029-08", date(2029, 8, 31)),
        ("EXP 2028-05 (01)09521234543213 (17)280531 (10)A1", may),
        ("EXP 2028-05-31 CE 0123", may),
        ("EXP 05/2028 single use", may),
        ("EXP 2028-05 4mm", may),
        ("use by professionals only EXP 2028-05", may),
        ("Termin ważności LIS 2028", date(2028, 11, 30)),
        ("Rok valjanosti LIS 2028 Serija A1", date(2028, 10, 31)),
        ("Годен до: 15.08.2029 г.", date(2029, 8, 15)),
        ("Годен до 08.2029 г.", date(2029, 8, 31)),
        ("사용기한: 2029.08.15까지", date(2029, 8, 15)),
    ] {
        let reading = read(text);
        let found = days(&reading);
        if !reading.fitness.usable() || found != [day] {
            faults.push(format!("{text:?}: {found:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}
