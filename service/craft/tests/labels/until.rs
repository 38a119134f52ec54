//! The latest day that a packet allows, whatever of its date was read with doubt or not at all: our
//! rule, no source.

use etui_craft::label::{Policy, Printed};
use jiff::civil::{Date, date};
use proptest::prelude::*;

use crate::{READER, laws};

const TODAY: Date = date(2026, 11, 30);

fn until(text: &str, symbol: Option<&str>) -> Option<Date> {
    let text = format!("0.25 5RS LOT B7 STERILE EO {text}");
    READER.read(&Printed { text: Some(&text), symbol }, TODAY, Policy::default()).expires_until
}

#[test]
fn the_digits_of_a_date_bound_it() {
    for (print, want) in [
        ("EXP 2026-11-29", Some(date(2026, 11, 29))),
        ("EXP 2027-08", Some(date(2027, 8, 31))),
        // Several readings: the latest of them.
        ("EXP 04/03/2026", Some(date(2026, 4, 3))),
        ("EXP 10.11.2026", Some(date(2026, 11, 10))),
        ("EXP 03/04/2027", Some(date(2027, 4, 3))),
        ("EXP 03.26", Some(date(2026, 3, 31))),
        ("EXP 0326", Some(date(2026, 3, 31))),
        ("EXP 06.27", Some(date(2027, 6, 30))),
        ("USE BY 06/2027", Some(date(2027, 6, 30))),
        // No date, and a year in it.
        ("EXP 3/26", Some(date(2026, 3, 31))),
        ("EXP 3 26", Some(date(2026, 3, 31))),
        ("EXP 2 0 2 6 - 0 3", Some(date(2026, 3, 31))),
        ("EXP 202 6-03", Some(date(2026, 3, 31))),
        ("EXP III.26", Some(date(2026, 3, 31))),
        ("EXP 6月26", Some(date(2026, 6, 30))),
        ("EXP 202G-03", Some(date(2026, 3, 31))),
        ("EXP 6/27", Some(date(2027, 6, 30))),
        ("EXP '27", Some(date(2027, 12, 31))),
        ("EXP Q1 2027", Some(date(2027, 3, 31))),
        ("EXP 2027Q3", Some(date(2027, 9, 30))),
        ("EXP 2035-13", Some(date(2035, 12, 31))),
        ("Use by end of 2026", Some(date(2026, 12, 31))),
        // A digit that is lost may be any.
        ("EXP 20?5-13", Some(date(2095, 12, 31))),
        ("EXP 2?", Some(date(2029, 12, 31))),
        // Letters read as digits: the year alone is sure.
        ("EXP 2O27-03", Some(date(2027, 12, 31))),
        ("EXP 2027-W26", Some(date(2027, 7, 31))),
        ("EXP 6/7", Some(date(2027, 6, 30))),
        // Several dates: the one behind the word, and the least where nothing says which.
        ("EXP 2026-06\nimport 2028-06", Some(date(2026, 6, 30))),
        ("EXP 2026-06\nWarranty 2028-06", Some(date(2026, 6, 30))),
        ("EXP 2026-06\nKontrolle 2028-06", Some(date(2026, 6, 30))),
        ("EXP 2028-06 recte 2026-05", Some(date(2026, 5, 31))),
        ("EXP JUN 2026\nimport JUN 2028", Some(date(2026, 6, 30))),
        ("EXP 2026-06 checked 2028", Some(date(2026, 6, 30))),
        ("EXP 2026-06-15\nimport 2028-06-15", Some(date(2026, 6, 15))),
        ("EXP 30 JUN 2026\nimport 30 JUN 2028", Some(date(2026, 6, 30))),
        ("EXP 06.26\nimport 06.28", Some(date(2026, 6, 30))),
        ("EXP 2028-06\nEXP 2026-06", Some(date(2026, 6, 30))),
        ("EXP 2027-06 2026-06", Some(date(2026, 6, 30))),
        ("Sterile until 2026-06", Some(date(2026, 6, 30))),
        ("steril bis 2026-06", Some(date(2026, 6, 30))),
        // Nothing of a year.
        ("EXP", None),
        ("EXP see lid", None),
        ("", None),
    ] {
        assert_eq!(until(print, None), want, "{print}");
    }
}

/// A day between blanks, also one that no month has: no blank of it joins another year.
#[test]
fn no_day_between_blanks_is_bounded_by_another_year() {
    let days = (2024_i16..=2034).flat_map(|year| (1_i8..=12).map(move |month| (year, month)));
    for ((year, month), day) in days.flat_map(|of| (1_i8..=31).map(move |day| (of, day))) {
        let end = |year: i16, month: i8| date(year, month, 1).last_of_month();
        let month_of = if day <= 12 { month.max(day) } else { month };
        let latest = end(year, month_of).max(end(2000 + i16::from(day), month));
        let short = year % 100;
        for print in [format!("{day} {month} {short}"), format!("{day:02} {month:02} {short}")] {
            let found = until(&format!("EXP {print}"), None);
            assert!(found.is_some_and(|day| day <= latest), "{print}: {found:?}, {latest}");
        }
    }
}

#[test]
fn of_print_and_symbol_the_earlier_is_the_bound() {
    let symbol = |day: &str| format!("]d2010952123454321317{day}10B7");
    for (print, day, want) in [
        ("EXP 2027-08", "280831", date(2027, 8, 31)),
        ("EXP 2028-08", "270831", date(2027, 8, 31)),
        ("EXP 2028-08", "280815", date(2028, 8, 15)),
        ("EXP 03/04/2027", "270403", date(2027, 4, 3)),
        ("EXP 04/03/2027", "280831", date(2027, 4, 3)),
        ("EXP 3/26", "280831", date(2026, 3, 31)),
        ("EXP see lid", "280831", date(2028, 8, 31)),
        ("", "280831", date(2028, 8, 31)),
    ] {
        assert_eq!(until(print, Some(&symbol(day))), Some(want), "{print} {day}");
    }
}

/// A date in figures in every order, with what is between them, and the latest day it can mean.
fn printed() -> impl Strategy<Value = (String, Date)> {
    let day = (2024_i16..=2034, 1_i8..=12, 1_i8..=31);
    (day, 0_usize..10, "[-/. ]", any::<bool>()).prop_map(
        |((year, month, day), form, sign, lone)| {
            let two = |n: i8| if lone { n.to_string() } else { format!("{n:02}") };
            let (m, d, short) = (two(month), two(day), year % 100);
            let end = |year: i16, month: i8| date(year, month, 1).last_of_month();
            // What stands for a day may stand for a month, and before a year of two figures for the year.
            let swapped = end(year, if day <= 12 { month.max(day) } else { month });
            match form {
                0 => (format!("{year}{sign}{m}"), end(year, month)),
                1 => (format!("{m}{sign}{year}"), end(year, month)),
                2 => (format!("{year}{sign}{m}{sign}{d}"), swapped),
                3 => (format!("{d}{sign}{m}{sign}{year}"), swapped),
                4 => (format!("{m}{sign}{short}"), end(year, month)),
                5 => (
                    format!("{d}{sign}{m}{sign}{short}"),
                    swapped.max(end(2000 + i16::from(day), month)),
                ),
                6 => (format!("{m} / {short}"), end(year, month)),
                7 => (format!("'{short}"), date(year, 12, 31)),
                8 => (format!("{year}"), date(year, 12, 31)),
                _ => (format!("{m}\n{year}"), end(year, month)),
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(laws::cases(512)))]

    /// Law: whatever order and signs a date is printed with, there is a bound, and it is no later than
    /// the latest thing its figures can mean.
    #[test]
    fn a_printed_date_is_never_without_a_bound((print, latest) in printed()) {
        let found = until(&format!("EXP {print}"), None);
        prop_assert!(found.is_some_and(|day| day <= latest), "{print:?}: {found:?}, {latest}");
    }
}
