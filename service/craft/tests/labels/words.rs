//! Dates and sterility as printed: recorded cases, and laws over stained packs.

use crate::{READER, laws};
use etui_craft::label::{FitnessReason, FitnessState, Policy, Printed, Reading};
use jiff::civil::{Date, date};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde::Deserialize;

const AS_OF: Date = date(2026, 11, 25);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

fn has(reading: &Reading, reason: FitnessReason) -> bool {
    reading.fitness.reasons().any(|r| r == reason)
}

#[derive(Deserialize)]
struct Cases<T> {
    cases: Vec<T>,
}

#[derive(Deserialize)]
struct DateCase {
    id: String,
    text: String,
    want: String,
    value: Option<Date>,
    precision: Option<String>,
    not_later_than: Option<Date>,
    made_on: Option<Date>,
}

#[derive(Deserialize)]
struct SterileCase {
    id: String,
    text: String,
    want: String,
    method: Option<String>,
}

fn dates() -> Vec<DateCase> {
    let text = include_str!("../data/labels/printed_dates.json");
    serde_json::from_str::<Cases<DateCase>>(text).unwrap().cases
}

/// What is wrong with a reading of a recorded date; the meaning of each `want`
/// stands at the head of the data.
fn fault(case: &DateCase, reading: &Reading) -> Option<String> {
    let expiry = reading.packet.expires_on.as_ref();
    let held = !reading.fitness.usable();
    let unproven = has(reading, FitnessReason::ExpiryWordUnproven);
    let asks = unproven || expiry.is_some_and(|e| e.doubtful || !e.also.is_empty());
    let latest = case.not_later_than.or(case.value);
    let late = expiry.is_some_and(|e| latest.is_some_and(|day| day < e.date));
    let exact = expiry.is_some_and(|e| {
        !asks
            && Some(e.date) == case.value
            && case.precision.as_deref() == Some(e.precision.as_str())
    });
    let made = reading.packet.made_on.as_ref().map(|m| m.date);
    let right = match case.want.as_str() {
        "date" => exact,
        "date_or_confirm" => exact || expiry.map_or(held, |_| asks && held && !late),
        "confirm" => expiry.map_or(held, |_| asks && held && !late),
        "no_expiry" => expiry.is_none() && held,
        other => panic!("{other}"),
    };
    let past = expiry.is_some_and(|e| e.date < AS_OF) && !held;
    let said = (right && !late && !past && case.made_on == made.filter(|_| case.made_on.is_some()))
        .then_some(());
    match said {
        Some(()) => None,
        None => Some(format!(
            "{} {:?} want {}: {expiry:?} {:?}",
            case.id,
            case.text,
            case.want,
            reading.fitness.reasons().map(|r| r.as_str()).collect::<Vec<_>>()
        )),
    }
}

#[test]
fn recorded_dates_are_read_as_written_down() {
    let faults: Vec<String> =
        dates().iter().filter_map(|case| fault(case, &read(&case.text))).collect();
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// Further languages and shapes: what is read is right or asked about, and what is not
/// read is held.
#[test]
fn further_wordings_of_dates_are_read_or_held() {
    let text = include_str!("../data/labels/wordings.json");
    let cases = serde_json::from_str::<Cases<DateCase>>(text).unwrap().cases;
    let faults: Vec<String> =
        cases.iter().filter_map(|case| fault(case, &read(&case.text))).collect();
    let read = |case: &&DateCase| {
        let expiry = read(&case.text).packet.expires_on;
        expiry.is_some_and(|e| {
            Some(e.date) == case.value || e.also.iter().any(|d| Some(*d) == case.value)
        })
    };
    let held: Vec<&str> =
        cases.iter().filter(|case| !read(case)).map(|case| case.text.as_str()).collect();
    println!("{} of {} held: {held:#?}", held.len(), cases.len());
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

fn sterile_fault(case: &SterileCase) -> Option<String> {
    let reading = read(&case.text);
    let told = reading.packet.sterilised_by.as_ref().map(|s| s.value.as_str());
    let usable = reading.fitness.usable();
    let not = has(&reading, FitnessReason::NotSterile);
    let unfit = reading.fitness.state() == FitnessState::Unfit;
    let asked = told.is_none() && !usable && !unfit;
    let right = match case.want.as_str() {
        "not_sterile" => told.is_none() && !usable && not,
        "held" => told.is_none() && !usable,
        "sterile" => told == case.method.as_deref() && usable && !not,
        "asked" => asked,
        "damaged" => !usable && has(&reading, FitnessReason::Damaged),
        "sterile_or_asked" => asked || told == case.method.as_deref() && !unfit,
        other => panic!("{other}"),
    };
    (!right).then(|| {
        let reasons: Vec<_> = reading.fitness.reasons().map(|r| r.as_str()).collect();
        format!("{} {:?} want {}: {told:?} {reasons:?}", case.id, case.text, case.want)
    })
}

#[test]
fn recorded_wordings_of_sterility_are_read_as_written_down() {
    let text = include_str!("../data/labels/sterile_words.json");
    let cases = serde_json::from_str::<Cases<SterileCase>>(text).unwrap().cases;
    let faults: Vec<String> = cases.iter().filter_map(sterile_fault).collect();
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[derive(Deserialize)]
struct Examination {
    dates: Vec<DateCase>,
    sterility: Vec<SterileCase>,
}

/// Wordings that nobody had in mind when the reader was made: nearly all right,
/// and whatever is wrong errs to the safe side.
#[test]
fn the_examination_is_passed() {
    let text = include_str!("../data/labels/examination.json");
    let paper: Examination = serde_json::from_str(text).unwrap();
    let late = |case: &&DateCase| {
        let reading = read(&case.text);
        let latest = case.not_later_than.or(case.value);
        let day = reading.packet.expires_on.as_ref().map(|e| e.date);
        let later = day.is_some_and(|day| latest.is_none_or(|latest| latest < day));
        let over = latest.is_some_and(|latest| latest < AS_OF);
        (later || over || case.want == "no_expiry") && reading.fitness.usable()
    };
    let fit = |case: &&SterileCase| {
        !case.want.starts_with("sterile") && read(&case.text).fitness.usable()
    };
    let late: Vec<&str> = paper.dates.iter().filter(late).map(|case| case.text.as_str()).collect();
    let fit: Vec<&str> = paper.sterility.iter().filter(fit).map(|c| c.text.as_str()).collect();
    let dates = paper.dates.iter().filter_map(|case| fault(case, &read(&case.text)));
    let faults: Vec<String> =
        dates.chain(paper.sterility.iter().filter_map(sterile_fault)).collect();
    let all = paper.dates.len() + paper.sterility.len();
    println!("{} of {all} wrong\n{}", faults.len(), faults.join("\n"));
    assert!(late.is_empty(), "usable past the day that is printed: {late:#?}");
    assert!(fit.is_empty(), "usable without a word that it is sterile: {fit:#?}");
    assert!(faults.len() * 20 <= all, "{} of {all}\n{}", faults.len(), faults.join("\n"));
}

/// Words of expiry in languages that no list of the reader has.
const UNKNOWN: [&str; 14] = [
    "Defnyddiwch erbyn",
    "Iraungitze-data",
    "ວັນໝົດອາຍຸ",
    "ვარგისია",
    "Պիտանի է մինչև",
    "காலாவதி தேதி",
    "মেয়াদ",
    "Tarehe ya mwisho",
    "Petsa ng pagkasira",
    "ថ្ងៃផុតកំណត់",
    "Son istifadə tarixi",
    "Жарамдылық мерзімі",
    "የሚያበቃበት ቀን",
    "Data de caducidade",
];

/// Forms of the last day of May 2021, or of its month or year.
const OLD: [&str; 16] = [
    "2021-05-31",
    "2021/05/31",
    "2021.05.31",
    "20210531",
    "31.05.2021",
    "31/05/2021",
    "05/2021",
    "2021-05",
    "MAY 2021",
    "31 MAY 2021",
    "21-05-31",
    "210531",
    "310521",
    "2021年5月31日",
    "2021年5月",
    "2021",
];

/// The table of unknown expiry words: an old date under one is no date of a
/// pack that may be used, in whatever form it stands there.
#[test]
fn unknown_expiry_words_let_no_form_of_an_old_date_pass() {
    for (word, form) in UNKNOWN.iter().flat_map(|word| OLD.iter().map(move |form| (word, form))) {
        let reading = read(&format!("0.30 3RL LOT A1 {word} {form} STERILE EO"));
        assert!(!reading.fitness.usable(), "{word} {form}");
        let later = reading.packet.expires_on.as_ref().filter(|e| date(2021, 12, 31) < e.date);
        assert!(later.is_none(), "{word} {form}: {later:?}");
    }
}

/// A word that is none, or a sign that is no punctuation, beside a claim of
/// sterility: the pack is asked about, whatever stands there.
#[test]
fn a_stranger_beside_a_claim_makes_it_a_question() {
    let stranger = prop_oneof!["[QWXZKJV]{4,8}", "[?^~%§<>¿□◻☐]{1,3}", "[B-EGHIJ-QS-Z]"];
    let around = (stranger, prop::bool::ANY, prop::sample::select(vec!["STERILE", "STERILE EO"]));
    let outcome = TestRunner::new(Config {
        cases: laws::cases(256),
        failure_persistence: None,
        ..Config::default()
    })
    .run(&around, |(stranger, before, claim)| {
        let (first, second) = if before { (&*stranger, claim) } else { (claim, &*stranger) };
        let text = format!("0.30 3RL LOT A1 EXP 2028-07-14 {first} {second}");
        let asked = !before || !stranger.contains('?');
        prop_assert!(!read(&text).fitness.usable() || !asked, "{text:?}");
        Ok(())
    });
    outcome.unwrap();
}

/// One stray character anywhere in an exact date: equal, or not later and
/// asked about, or absent and the pack held.
#[test]
fn a_stray_character_never_makes_a_date_later_unnoticed() {
    let strays = [
        '0', '1', '4', '7', '9', 'A', 'I', 'O', 'l', 'X', '-', '/', '.', ' ', '\n', '?', '年', '*',
        ',', ':',
    ];
    let mut faults = Vec::new();
    for case in dates().iter().filter(|case| case.want == "date") {
        let letters: Vec<char> = case.text.chars().collect();
        let from = letters.windows(2).position(|w| w == ['A', '1']).unwrap() + 3;
        let to = letters.windows(9).rposition(|w| w.iter().collect::<String>() == "STERILE E");
        for at in from..to.unwrap() {
            for stray in strays {
                let mut stained = letters.clone();
                stained.insert(at, stray);
                let text: String = stained.into_iter().collect();
                let reading = read(&text);
                let right = match &reading.packet.expires_on {
                    None => !reading.fitness.usable(),
                    Some(e) if Some(e.date) == case.value => true,
                    Some(e) => {
                        Some(e.date) < case.value
                            && (e.doubtful || !e.also.is_empty())
                            && !reading.fitness.usable()
                    }
                };
                if !right {
                    faults.push(format!("{text:?} {:?}", reading.packet.expires_on));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn the_state_is_the_worst_of_the_reasons() {
    for (text, state) in [
        ("0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO", FitnessState::Fit),
        ("0.30 3RL LOT A1 EXP 2028-07-14", FitnessState::ToConfirm),
        ("0.30 3RL LOT A1 EXP 2020-07-14", FitnessState::Unfit),
    ] {
        assert_eq!(read(text).fitness.state(), state, "{text}");
    }
}

/// Ways to print a day, and words of expiry. The truth is the day itself.
fn printed(day: Date, form: usize) -> String {
    let (y, m, d) = (day.year(), day.month(), day.day());
    let names =
        ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"];
    let name = names[usize::try_from(m - 1).unwrap()];
    match form {
        0 => format!("{y}-{m:02}-{d:02}"),
        1 => format!("{y}{m:02}{d:02}"),
        2 => format!("{y}年{m}月{d}日"),
        3 => format!("{y}년 {m}월 {d}일"),
        4 => format!("{d:02} {name} {y}"),
        5 => format!("{y}. {m}. {d}."),
        6 => format!("{y}/{m:02}"),
        7 => format!("{m:02}.{y}"),
        8 => format!("{name} {y}"),
        _ => format!("{d:02}/{m:02}/{y}"),
    }
}

const EXPIRY: &[&str] =
    &["EXP", "verwendbar bis", "有效期至", "사용기한", "Scad.", "Termin ważności", "Годен до"];
const NOT_STERILE: &[&str] = &[
    "NON-STERILE",
    "NICHT STERIL",
    "NO ESTERIL",
    "non stérile",
    "Osteril",
    "未灭菌",
    "not sterilised",
    "STERILE: NO",
    "TO BE STERILIZED",
    "Niet steriel",
    "NIESTERYLNE",
    "비멸균",
    "не стерильно",
    "NO STERILE EO",
    "Non sterile R",
    "Tidak steril",
    "Steril değildir",
    "Không vô trùng\nSTERILE EO",
    "NON-STERILE\nSTERILE EO",
    "STERILE: NO STERILE EO",
];

/// Packs that have expired or are not sterile, with one stain (a stray blank,
/// sign or letter, or a letter lost outside digits): none is fit. Digits are
/// neither lost nor changed, since no reader can see that.
#[test]
fn no_stained_pack_that_is_over_or_not_sterile_is_fit() {
    let config =
        Config { cases: laws::cases(20_000), failure_persistence: None, ..Config::default() };
    let strays = prop::sample::select(vec![' ', '\n', '.', '-', '/', '*', '|', 'x', ':', ',', '?']);
    let pack = (
        0_i32..3_000,
        0_usize..10,
        prop::sample::select(EXPIRY),
        prop::bool::ANY,
        prop::sample::select(NOT_STERILE),
        prop::bool::ANY,
        any::<prop::sample::Index>(),
        strays,
    );
    let outcome =
        TestRunner::new(config).run(&pack, |(days, form, word, over, not, lose, place, stray)| {
            // Over by a month at least, so that a month's last day is over too.
            let past = AS_OF.checked_sub(jiff::Span::new().days(32 + days)).unwrap();
            let day = if over { past } else { date(2029, 3, 14) };
            let sterile = if over { "STERILE EO" } else { not };
            let text = format!("0.30 3RL LOT A1 {word} {} {sterile}", printed(day, form));
            let mut letters: Vec<char> = text.chars().collect();
            let at = place.index(letters.len());
            // A negation that has lost its letters is another word.
            let safe = over && letters[at].is_alphabetic();
            if lose && safe {
                letters.remove(at);
            } else {
                letters.insert(at, stray);
            }
            let stained: String = letters.into_iter().collect();
            prop_assert!(read(&stained).fitness.state() != FitnessState::Fit, "{stained:?}");
            Ok(())
        });
    outcome.unwrap();
}
