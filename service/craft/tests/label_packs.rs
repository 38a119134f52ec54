//! What packs of spellings may change in the reading of labels, and what not.

use etui_craft::label::{Outcome, Policy, Printed, Reader, Reading, Spellings};

fn spellings(name: &str, text: &str) -> Spellings {
    Spellings::from_toml(text).expect("a sound pack").named(name)
}

fn read(reader: &Reader, text: &str) -> Reading {
    let day = jiff::civil::date(2026, 11, 25);
    reader.read(&Printed { text: Some(text), symbol: None }, day, Policy::default())
}

fn canonical(reading: &Reading) -> Vec<String> {
    reading.candidates.iter().map(|candidate| candidate.canonical()).collect()
}

/// A slip in a pack never passes for what is printed.
#[test]
fn what_is_read_clearly_without_a_pack_is_asked_about_where_a_pack_differs() {
    let builtin = Reader::builtin().unwrap();
    for (pack, label, built_in) in [
        ("[[size]]\nnumber = 10\nmm = 0.6", "1005RL", "0.30 5RL"),
        ("[[size]]\nnumber = 12\nmm = 0.15", "1205RL", "0.35 5RL"),
        ("[[code]]\ntext = \"RL\"\ngrouping = \"woven_magnum\"", "0.30 5-RL", "0.30 5RL"),
        ("noise = [\"RS\"]", "0.30 5 RS", "0.30 5RS"),
    ] {
        let plain = read(&builtin, label);
        let reader = builtin.with_spellings(&[spellings("slip", pack)]).unwrap();
        let packed = read(&reader, label);
        assert_eq!((plain.outcome, canonical(&plain)), (Outcome::Clear, vec![built_in.to_owned()]));
        assert_ne!(packed.outcome, Outcome::Clear, "{pack}: {label}: {:?}", canonical(&packed));
        assert!(canonical(&packed).iter().any(|one| one == built_in), "{pack}: {label}");
    }
}

#[test]
fn what_is_open_without_a_pack_may_be_settled_by_one() {
    let builtin = Reader::builtin().unwrap();
    let pack = spellings("north", "[[code]]\ntext = \"LN\"\ngrouping = \"round_liner\"");
    let reader = builtin.with_spellings(&[pack]).unwrap();
    assert_ne!(read(&builtin, "0.30 3LN").outcome, Outcome::Clear);
    assert_eq!(canonical(&read(&reader, "0.30 3LN"))[0], "0.30 3RL");
    assert_eq!(read(&reader, "0.30 3LN").outcome, Outcome::Clear);
    // And nothing else is read otherwise.
    for label in ["0.30 3RL", "1205RS", "0.25 7F LOT B7", "nonsense"] {
        assert_eq!(canonical(&read(&reader, label)), canonical(&read(&builtin, label)), "{label}");
    }
}

#[test]
fn two_packs_do_not_say_different_things() {
    let code = |name, grouping: &str| {
        spellings(name, &format!("[[code]]\ntext = \"ZZ\"\ngrouping = \"{grouping}\""))
    };
    let size = |name, mm: &str| spellings(name, &format!("[[size]]\nnumber = 9\nmm = {mm}"));
    let told = code("b", "round_liner").contradictions(&code("a", "flat"));
    assert_eq!(told.len(), 1);
    assert!(told[0].why.contains("`a`") && told[0].pointer == "/code/0/text", "{told:?}");
    assert_eq!(size("b", "0.35").contradictions(&size("a", "0.27")).len(), 1);
    assert_eq!(size("b", "0.27").contradictions(&size("a", "0.27")).len(), 0);
    assert_eq!(code("b", "flat").contradictions(&code("a", "flat")).len(), 0);
    let twice = "[[code]]\ntext = \"Z Z\"\ngrouping = \"flat\"\n[[code]]\ntext = \"ZZ\"\ngrouping = \"flat\"";
    assert!(Spellings::from_toml(twice).is_err(), "a blank tells no two texts apart");
}

#[test]
fn no_pack_touches_words_of_dates_lots_and_sterility() {
    let builtin = Reader::builtin().unwrap();
    for word in ["EXP", "LOT", "NOT", "NON", "NO", "NICHT", "UNSTERIL", "STERILE", "STERIL"] {
        let pack = Spellings { noise: vec![word.to_owned()], ..Spellings::default() };
        assert!(!builtin.spelling_faults(&pack).is_empty(), "{word} was taken");
    }
    for word in ["LN", "ZETA", "LINER PLUS", "QQ"] {
        let pack = Spellings { noise: vec![word.to_owned()], ..Spellings::default() };
        assert_eq!(builtin.spelling_faults(&pack), [], "{word}");
    }
}
