//! What one assessment costs, in process: reading the answers, the gate, the
//! score. `cargo bench -p etui-craft --bench screening`

use std::error::Error;
use std::hint::black_box;
use std::time::Instant;

use etui_craft::evidence::Register;
use etui_craft::screening::answers::{Answers, Given};
use etui_craft::screening::gate::{Case, Visit};
use etui_craft::screening::rulebook::Rulebook;
use etui_schema::vocabulary::{Language, Treatment};
use jiff::civil::date;

const ROUNDS: u32 = 20_000;

fn main() -> Result<(), Box<dyn Error>> {
    let loaded = Instant::now();
    let book = Rulebook::builtin(&Register::builtin()?)?;
    println!("load the rules: {:.2} ms", loaded.elapsed().as_secs_f64() * 1e3);
    let none = vec!["none_of_these".to_owned()];
    let several = vec!["acids".to_owned(), "tan".to_owned()];
    for (name, risks) in [("nothing speaks", false), ("eight rules speak", true)] {
        let on = date(2027, 3, 18);
        let visit = Visit {
            treatment: Treatment::Lips,
            on,
            on_in_studio: on,
            as_of: on,
            born_on: date(1985, 5, 5),
            country: None,
        };
        let mut given: Vec<(&str, Given<'_>)> = book
            .questions(visit.treatment, on, on)
            .filter(|question| question.follows.is_none())
            .map(|question| (&*question.id, clear(question.kind.as_str(), &question.id, &none)))
            .collect();
        if risks {
            risky(&mut given, &several);
        }
        let begun = Instant::now();
        for _ in 0..ROUNDS {
            let answers = Answers::read(&book, &visit, black_box(&given).iter().copied())
                .map_err(|faults| format!("{faults:?}"))?;
            let case = Case { visit, answers: &answers, skin: None, overrides: &[] };
            black_box(book.assess(&case).map_err(|faults| format!("{faults:?}"))?);
        }
        println!("an assessment, {name}: {:.2} µs", micros(begun, ROUNDS));
        let answers = Answers::read(&book, &visit, given.iter().copied())
            .map_err(|faults| format!("{faults:?}"))?;
        let case = Case { visit, answers: &answers, skin: None, overrides: &[] };
        let found = book.assess(&case).map_err(|faults| format!("{faults:?}"))?;
        let begun = Instant::now();
        for _ in 0..ROUNDS {
            for finding in &found.findings {
                black_box(book.condition(finding, on, Language::En));
            }
        }
        let count = found.findings.len();
        println!("its {count} findings in words, {name}: {:.2} µs", micros(begun, ROUNDS));
    }
    Ok(())
}

fn micros(begun: Instant, rounds: u32) -> f64 {
    begun.elapsed().as_secs_f64() * 1e6 / f64::from(rounds)
}

fn clear<'a>(kind: &str, id: &str, none: &'a [String]) -> Given<'a> {
    match (kind, id) {
        ("choices", _) => Given::Choices(none),
        ("choice", "numbing_cream") => Given::Text("none"),
        ("choice", _) => Given::Text("never"),
        _ => Given::YesNo(false),
    }
}

fn risky<'a>(given: &mut Vec<(&'a str, Given<'a>)>, several: &'a [String]) {
    for (id, answer) in given.iter_mut() {
        match *id {
            "cold_sore_history" | "warfarin" | "nickel_allergy" | "fish_oil" | "mole_in_area" => {
                *answer = Given::YesNo(true);
            }
            "recent_on_area" => *answer = Given::Choices(several),
            "isotretinoin" => *answer = Given::Text("stopped"),
            _ => {}
        }
    }
    given.push(("isotretinoin_stopped_on", Given::Text("2026-12-01")));
    given.push(("nickel_allergy_severe", Given::YesNo(false)));
}
