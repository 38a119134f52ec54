//! What packs of spellings may change in the reading of labels, and what not.

use etui_craft::label::{Lineage, Outcome, Policy, Printed, Reader, Reading, Spellings};

fn spellings(name: &str, text: &str) -> Spellings {
    let pack = written(text);
    assert_eq!(pack.faults(), [], "a sound pack");
    pack.named(name)
}

fn written(text: &str) -> Spellings {
    let pack = toml::from_str(text).expect("TOML");
    Spellings::from_json(&pack).expect("a pack of its shape")
}

fn read(reader: &Reader, text: &str) -> Reading {
    let day = jiff::civil::date(2026, 11, 25);
    reader.read(&Printed { text: Some(text), symbol: None }, day, Policy::default())
}

fn read_from(reader: &Reader, told: Lineage<'_>, text: &str, symbol: Option<&str>) -> Reading {
    let day = jiff::civil::date(2026, 11, 25);
    reader.read_from(&told, &Printed { text: Some(text), symbol }, day, Policy::default())
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
        assert_eq!((plain.outcome, canonical(&plain)), (Outcome::Clear, vec![built_in.to_owned()]));
        // Whoever's pack it is.
        let whose = format!("maker = \"North\"\n{pack}");
        let north = Lineage { maker: Some("North"), ..Lineage::default() };
        for pack in [pack, &whose] {
            let reader = builtin.with_spellings(&[spellings("slip", pack)]).unwrap();
            let packed = read_from(&reader, north, label, None);
            assert_ne!(packed.outcome, Outcome::Clear, "{pack}: {label}: {:?}", canonical(&packed));
            assert!(canonical(&packed).iter().any(|one| one == built_in), "{pack}: {label}");
        }
    }
}

/// "A pack cannot be limited to a supplier, so two suppliers who write differently
/// cannot both be served."
#[test]
fn a_pack_that_names_whose_labels_it_reads_is_used_for_those_alone() {
    let builtin = Reader::builtin().unwrap();
    let code = "[[code]]\ntext = \"LN\"\ngrouping = \"round_liner\"";
    let gtin = "0104012345000016";
    let north = Lineage { maker: Some("north"), gtin: None, reference: None };
    let nr = Lineage { maker: None, gtin: None, reference: Some("nr-7") };
    let label = "0.30 3LN";
    for (whose, told, text, symbol, used) in [
        ("maker = \"North\"", north, label, None, true),
        ("maker = \"North\"", Lineage::default(), label, None, false),
        ("maker = \"South\"", north, label, None, false),
        ("reference_prefix = \"NR-\"", nr, label, None, true),
        ("reference_prefix = \"NR-\"", Lineage::default(), label, None, false),
        // What stands on the label counts, too.
        ("reference_prefix = \"NR-\"", Lineage::default(), "0.30 3LN REF NR-0305", None, true),
        ("reference_prefix = \"SR-\"", Lineage::default(), "0.30 3LN REF NR-0305", None, false),
        ("gtin_prefix = \"0401234\"", Lineage::default(), label, Some(gtin), true),
        ("gtin_prefix = \"0401235\"", Lineage::default(), label, Some(gtin), false),
        // Told one thing and printed another: neither is believed.
        ("reference_prefix = \"NR-\"", nr, "0.30 3LN REF SR-0305", None, false),
        ("reference_prefix = \"NR-\"", nr, "0.30 3LN REF NR-0305", None, false),
        // All that is named must be known.
        ("maker = \"North\"\nreference_prefix = \"NR-\"", north, label, None, false),
        ("maker = \"North\"\nreference_prefix = \"NR-\"", north, "0.30 3LN REF NR-1", None, true),
    ] {
        let pack = spellings("own", &format!("{whose}\n{code}"));
        let reader = builtin.with_spellings(&[pack]).unwrap();
        let found = read_from(&reader, told, text, symbol);
        let case = format!("{whose}, {told:?}, {text}, {symbol:?}: {:?}", canonical(&found));
        let clear = found.outcome == Outcome::Clear && canonical(&found) == ["0.30 3RL"];
        assert_eq!(clear, used, "{case}");
        let named = found.candidates.iter().flat_map(|one| reader.packs_of(one)).count();
        assert_eq!(0 < named, used, "{case}");
        if !used {
            assert_eq!(found, read_from(&builtin, told, text, symbol), "{case}");
        }
    }
}

#[test]
fn two_suppliers_who_write_differently_are_both_served() {
    let builtin = Reader::builtin().unwrap();
    let pack = |maker: &str, grouping: &str| {
        let text =
            format!("maker = \"{maker}\"\n[[code]]\ntext = \"ZZ\"\ngrouping = \"{grouping}\"");
        spellings(maker, &text)
    };
    let (north, south) = (pack("north", "flat"), pack("south", "round_liner"));
    assert_eq!(north.contradictions(&south), []);
    let reader = builtin.with_spellings(&[north, south]).unwrap();
    for (maker, first) in [("North", Some("0.30 5F")), ("SOUTH", Some("0.30 5RL")), ("east", None)]
    {
        let told = Lineage { maker: Some(maker), ..Lineage::default() };
        let found = read_from(&reader, told, "0.30 5ZZ", None);
        let clear = (found.outcome == Outcome::Clear).then(|| canonical(&found)[0].clone());
        assert_eq!(clear.as_deref(), first, "{maker}: {:?}", canonical(&found));
    }
}

/// Two packs may read one label unless what they name keeps them apart.
#[test]
fn packs_contradict_where_they_may_meet() {
    let pack = |whose: &str, grouping: &str| {
        let row = format!("[[code]]\ntext = \"ZZ\"\ngrouping = \"{grouping}\"");
        spellings("one", &format!("{whose}\n{row}"))
    };
    for (one, other, meet) in [
        ("", "", true),
        ("maker = \"north\"", "", true),
        ("maker = \"north\"", "maker = \"NORTH\"", true),
        ("maker = \"north\"", "maker = \"south\"", false),
        ("maker = \"north\"", "reference_prefix = \"NR\"", true),
        ("reference_prefix = \"NR\"", "reference_prefix = \"nr-0\"", true),
        ("reference_prefix = \"NR\"", "reference_prefix = \"SR\"", false),
        ("gtin_prefix = \"0401\"", "gtin_prefix = \"04012345\"", true),
        ("gtin_prefix = \"0401\"", "gtin_prefix = \"0402\"", false),
        (
            "maker = \"north\"\ngtin_prefix = \"0401\"",
            "maker = \"north\"\ngtin_prefix = \"0402\"",
            false,
        ),
    ] {
        for (one, other) in [(one, other), (other, one)] {
            let told = pack(one, "flat").contradictions(&pack(other, "round_liner"));
            assert_eq!(told.len(), usize::from(meet), "{one} beside {other}: {told:?}");
        }
    }
}

/// A pack for every label adds what is not read without it, and nothing else.
#[test]
fn what_is_read_without_a_pack_is_only_a_suppliers_own() {
    let builtin = Reader::builtin().unwrap();
    for (pack, places) in [
        (
            "[[code]]\ntext = \"LN\"\ngrouping = \"round_liner\"\n[[taper]]\ntext = \"FADE\"\ntaper = \"long\"\n[[size]]\nnumber = 77\nmm = 0.45",
            &[][..],
        ),
        ("[[size]]\nnumber = 10\nmm = 0.6", &["/size/0/number"]),
        ("[[code]]\ntext = \"RL\"\ngrouping = \"woven_magnum\"", &["/code/0/text"]),
        ("[[code]]\ntext = \"R L\"\ngrouping = \"woven_magnum\"", &["/code/0/text"]),
        ("[[code]]\ntext = \"RLLT\"\ngrouping = \"flat\"", &["/code/0/text"]),
        ("[[taper]]\ntext = \"LT\"\ntaper = \"short\"", &["/taper/0/text"]),
        ("noise = [\"ZETA\", \"RS\"]", &["/noise/1"]),
        ("count_first = true", &["/count_first"]),
    ] {
        let told = |pack: &str| -> Vec<String> {
            let faults = builtin.spelling_faults(&spellings("own", pack));
            faults.into_iter().map(|fault| fault.pointer).collect()
        };
        assert_eq!(told(pack), places, "{pack}");
        assert_eq!(told(&format!("maker = \"North\"\n{pack}")), [""; 0], "{pack}");
    }
    for (whose, place) in [
        ("maker = \" \"", "/maker"),
        ("gtin_prefix = \"12\"", "/gtin_prefix"),
        ("gtin_prefix = \"0401X\"", "/gtin_prefix"),
        ("reference_prefix = \"N\"", "/reference_prefix"),
    ] {
        let pack: Spellings = toml::from_str(whose).unwrap();
        let faults: Vec<String> = pack.faults().into_iter().map(|fault| fault.pointer).collect();
        assert_eq!(faults, [place], "{whose}");
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
    assert_ne!(written(twice).faults(), [], "a blank tells no two texts apart");
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

#[test]
fn a_pack_of_spellings_adds_words_and_order() {
    let pack = spellings(
        "",
        "count_first = true\nnoise = [\"ZETA\"]\n[[code]]\ntext = \"LN\"\ngrouping = \"round_liner\"\n",
    );
    let reader = Reader::builtin().unwrap().with_spellings(&[pack]).unwrap();
    for (text, outcome, first) in [
        ("0310LN", Outcome::Clear, "0.30 3RL"),
        ("ZETA 0.30 3LN", Outcome::Clear, "0.30 3RL"),
        ("0.30 3RL", Outcome::Clear, "0.30 3RL"),
    ] {
        let reading = read(&reader, text);
        assert_eq!(reading.outcome, outcome, "{text}");
        assert_eq!(reading.candidates[0].canonical(), first, "{text}");
    }
    assert_ne!(read(&Reader::builtin().unwrap(), "0310LN").outcome, Outcome::Clear);
}

#[test]
fn a_reading_names_the_pack_whose_spelling_it_used() {
    let north = spellings("north", "[[code]]\ntext = \"LN\"\ngrouping = \"round_liner\"\n");
    let south = spellings(
        "south",
        "count_first = true\nnoise = [\"ZETA\"]\n[[size]]\nnumber = 21\nmm = 0.45\n[[taper]]\ntext = \"FADE\"\ntaper = \"long\"\n",
    );
    let reader = Reader::builtin().unwrap().with_spellings(&[north, south]).unwrap();
    for (text, packs) in [
        ("0.30 3RL", &[][..]),
        ("10-03RL", &[]),
        ("10-03LN", &["north"]),
        ("ZETA 10-03RL", &["south"]),
        ("0310LN", &["north", "south"]),
        ("21-03RL", &["south"]),
        ("10-03RL FADE", &["south"]),
    ] {
        let reading = read(&reader, text);
        let found: Vec<&str> = reader.packs_of(&reading.candidates[0]).collect();
        assert_eq!(found, packs, "{text}: {:?}", reading.candidates[0]);
    }
}

#[test]
fn a_pack_of_spellings_is_refused_with_every_place() {
    let pack: Spellings = serde_json::from_str(
        r#"{ "code": [{ "text": "LN", "grouping": "round_liner" }, { "text": "ln", "grouping": "flat" }],
             "taper": [{ "text": "LN", "taper": "long" }], "noise": ["", "9A"],
             "size": [{ "number": 0, "mm": 0.3 }, { "number": 7, "mm": 3.0 }, { "number": 7, "mm": 0.3, "least_mm": 0.4 }] }"#,
    )
    .unwrap();
    let places: Vec<String> = pack.faults().into_iter().map(|fault| fault.pointer).collect();
    assert_eq!(
        places,
        [
            "/code/1/text",
            "/taper/0/text",
            "/noise/0",
            "/noise/1",
            "/size/0/number",
            "/size/1/mm",
            "/size/2/least_mm",
            "/size/2/number",
        ]
    );
    assert!(Reader::builtin().unwrap().with_spellings(&[pack]).is_err());
}
