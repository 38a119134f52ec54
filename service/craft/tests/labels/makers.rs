//! Packets as makers print them, with where they are and how they are reached: every number beside the
//! needle's is read as what it is or passed over, and nobody is asked. Makers, streets and numbers are
//! invented; what stands on a packet is common practice, no source.

use etui_craft::label::{FitnessReason, FitnessState, Outcome, Policy, Printed, Reading};
use jiff::civil::{Date, date};
use proptest::prelude::*;
use serde::Deserialize;

use crate::{READER, laws};

const AS_OF: Date = date(2026, 11, 30);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

#[derive(Debug, Deserialize, PartialEq)]
struct Packet {
    text: String,
    configuration: String,
    lot: String,
    expires_on: Date,
    quantity: Option<u32>,
    method: String,
}

fn packets() -> Vec<Packet> {
    serde_json::from_str(include_str!("../data/labels/makers.json")).unwrap()
}

/// What is read of a packet, in the form of the table; none where it is asked about.
fn told(text: &str) -> Option<Packet> {
    let reading = read(text);
    let [candidate] = reading.candidates.as_slice() else { return None };
    let fit = reading.outcome == Outcome::Clear && reading.fitness.usable();
    let packet = reading.packet;
    Some(Packet {
        text: text.to_owned(),
        configuration: candidate.canonical(),
        lot: packet.lot.filter(|_| fit && packet.other_lots.is_empty())?.value,
        expires_on: packet.expires_on.filter(|said| !said.doubtful && said.also.is_empty())?.date,
        quantity: packet.quantity.map(|said| said.value),
        method: packet.sterilised_by?.value.as_str().to_owned(),
    })
}

#[test]
fn a_packet_with_its_maker_is_read_without_a_question() {
    let packets = packets();
    let faults = packets.iter().filter(|packet| told(&packet.text).as_ref() != Some(packet));
    let faults: Vec<_> = faults
        .map(|packet| {
            let reading = read(&packet.text);
            let why: Vec<_> = reading.fitness.reasons().collect();
            format!("{packet:?}: {:?} {why:?} {:?}", reading.outcome, reading.unread)
        })
        .collect();
    assert!(20 <= packets.len());
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A maker's line hides nothing that is said of the pack, wherever it says it.
#[test]
fn what_is_said_of_the_pack_is_heard_in_a_line_of_the_maker() {
    for (said, reason) in [
        ("Foobar Ltd, not sterile", FitnessReason::NotSterile),
        ("Tel 0161 555 0100 opened", FitnessReason::Damaged),
        ("Unit 5, opened 3.11.", FitnessReason::Damaged),
        ("Hauptstr. 12 abgelaufen", FitnessReason::NotForUse),
        ("Tel +44 113 496 0123 geoffn et", FitnessReason::NotForUse),
        ("Foobar Ltd, non", FitnessReason::NotSterile),
        ("Foobar GmbH, nicht", FitnessReason::NotSterile),
        ("12 Mill Lane, sterilize before use", FitnessReason::NotSterile),
    ] {
        for text in [
            format!("0.30 5RL LOT BM1 EXP 2028-01\n{said}\nSTERILE EO"),
            format!("0.30 5RL LOT BM1 EXP 2028-01\n{said} STERILE EO"),
        ] {
            let fitness = read(&text).fitness;
            let heard = fitness.reasons().any(|found| found == reason)
                || reason == FitnessReason::NotSterile && !fitness.usable();
            assert!(
                heard && !fitness.usable(),
                "{text:?} {:?}",
                fitness.reasons().collect::<Vec<_>>()
            );
        }
    }
}

/// What may be of the needle is no number of the maker's.
#[test]
fn a_number_of_the_needle_is_none_of_the_maker() {
    for said in [
        "Unit 7RS",
        "Unit 7 RS",
        "Tel 0.35",
        "Unit #12",
        "Tel 040 5550 12 RL",
        "CE 0.35",
        "CE 12",
        "Page 0,35",
        "Foobar Ltd 0.35 7RS",
        "Hauptstr. 12 7RS",
        "Berlin, Germany 12 RL",
        "Size 12 Made in China",
        "Nadel 35, Foobar GmbH",
        "Premium 12 Made in China",
        "Foobar Ltd #12",
    ] {
        let reading = read(&format!("0.30 5RL LOT X2 EXP 2028-01 STERILE EO\n{said}"));
        assert_ne!(reading.outcome, Outcome::Clear, "{said} {:?}", reading.unread);
    }
}

/// A date in a line of the maker is still a date, and one without its word holds the pack if it is over.
#[test]
fn a_date_of_a_line_of_the_maker_is_not_passed_over() {
    for said in
        ["Foobar Ltd, Tel 040 5550 123 EXP 2025-01", "Unit 5 EXP 2025-01", "Rev. 3 EXP 2025-01"]
    {
        let fitness = read(&format!("0.30 5RL LOT BM1 STERILE EO\n{said}")).fitness;
        assert_eq!(fitness.state(), FitnessState::Unfit, "{said}");
    }
    for said in ["Foobar Ltd 2025-01", "Hauptstr. 12, 2025-01-31", "Tel 040 5550 2025-01-31"] {
        let fitness = read(&format!("0.30 5RL LOT BM1 STERILE EO\n{said}")).fitness;
        assert!(!fitness.usable(), "{said}");
    }
}

/// The number of a house before its street ends the region of a date, and nothing else on the next line.
#[test]
fn a_house_number_is_no_day() {
    for (said, doubtful) in [
        ("EXP 2028-07\n14 Mill Lane", false),
        ("EXP 2028-07\n14 Foobar Street, Leeds", false),
        ("EXP 2028-07\nUnit 5, Leeds", false),
        ("EXP 2028-07\nTel 040 5550 123", false),
        ("EXP 2028-07\n14", true),
        ("EXP 2028-07\n14 Leeds", true),
        ("EXP 2028\n07 Germany", true),
    ] {
        let said = read(&format!("0.30 5RL LOT BM1 STERILE EO {said}")).packet.expires_on.unwrap();
        assert_eq!((said.doubtful, said.date <= date(2028, 12, 31)), (doubtful, true), "{said:?}");
    }
}

/// Letters with marks are of words and of no configuration.
#[test]
fn no_part_of_a_word_with_marks_is_a_grouping() {
    for said in ["Słoneczne 14", "Kartridż", "Igła Studio", "Łódź 5", "Réf"] {
        let reading = read(&format!("0.30 5RL LOT X2 EXP 2028-01 STERILE EO\n{said}"));
        let first = reading.candidates.first().map(|candidate| candidate.canonical());
        assert_eq!(first.as_deref(), Some("0.30 5RL"), "{said}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(laws::cases(2_000)))]

    /// Law: of these packets none that is over or not sterile is fit, whatever stray sign stands in it and
    /// whatever letter it has lost; a negation that has lost its letters is another word.
    #[test]
    fn no_stained_packet_of_a_maker_is_fit(
        packet in 0_usize..20,
        denied in prop::option::of(prop::sample::select(&["NON-STERILE", "NOT-STERILE", "Unsterile", "no-estéril"])),
        place in any::<prop::sample::Index>(),
        stray in prop::option::of(prop::sample::select(&[' ', '\n', '.', '-', '/', '*', 'x', ':', ',', '?', '&', '+', '@'])),
    ) {
        let packet = &packets()[packet];
        let (as_of, text) = match denied {
            None => (date(2032, 1, 31), packet.text.clone()),
            Some(denied) => {
                let words = ["STERILE ", "STERIL ", "Sterile ", "Steril "];
                let not = format!("{denied} ");
                let put = |text: String, word: &&str| text.replace(word, &not);
                (AS_OF, words.iter().fold(packet.text.clone(), put))
            }
        };
        let mut letters: Vec<char> = text.chars().collect();
        let at = place.index(letters.len());
        match stray {
            None if denied.is_none() && letters[at].is_alphabetic() => {
                letters.remove(at);
            }
            stray => letters.insert(at, stray.unwrap_or('|')),
        }
        let stained: String = letters.into_iter().collect();
        let printed = Printed { text: Some(&stained), symbol: None };
        let fitness = READER.read(&printed, as_of, Policy::default()).fitness;
        prop_assert!(!fitness.usable(), "{stained:?}");
    }
}
