//! Symbols: the official GS1 cases, packets, and HIBC.

use std::collections::BTreeMap;

use etui_craft::label::{Outcome, Policy, Printed, Reader, Reading};
use jiff::civil::{Date, date};
use serde::Deserialize;

const AS_OF: Date = date(2026, 11, 25);

fn scan(reader: &Reader, symbol: &str) -> Reading {
    reader.read(&Printed { text: None, symbol: Some(symbol) }, AS_OF, Policy::default())
}

#[derive(Deserialize)]
struct Case {
    kind: String,
    input: String,
    ok: bool,
    expected: String,
    source: String,
}

/// Where we read otherwise than the official engine, by its place in the
/// engine's own tests, and why.
const ON_PURPOSE: &[(&str, &str)] = &[
    (
        "dl.c:1454",
        "GTIN of 13 digits in an address: padded, as older editions of the standard allowed",
    ),
    ("dl.c:1474", "GTIN of 8 digits in an address: padded (the engine has a switch for it)"),
    ("dl.c:1489", "GTIN of 13 digits in the query: padded"),
    (
        "dl.c:1767",
        "an identifier that no table knows is refused by name (the engine has a switch for it)",
    ),
];

/// Faults that concern the pairing of elements and not their data: parsing
/// alone, which some cases ask for, does not look at them.
const PAIRING: &[&str] = &["missing_companion", "forbidden_companion", "different_repeat"];

/// The elements as one string in the engine's notation.
fn joined(reader: &Reader, reading: &Reading) -> String {
    let symbol = reading.symbol.as_ref().unwrap();
    let mut out = String::from("^");
    for (i, element) in symbol.elements.iter().enumerate() {
        out.push_str(&element.key);
        out.push_str(&element.value);
        let last = i + 1 == symbol.elements.len();
        if !last && !fixed(reader, &element.key) {
            out.push('^');
        }
    }
    out
}

/// Whether an identifier needs no separator: a second element right behind a
/// value of this identifier is then an element of its own.
fn fixed(_: &Reader, key: &str) -> bool {
    // GS1 General Specifications, figure 7.8.5-2: by the first two digits.
    let two: u32 = key[..2].parse().unwrap();
    matches!(two, 0..=4 | 11..=20 | 31..=36 | 41)
}

/// The engine's caret is the separator; in scans and lists it is sent as such.
fn sent(case: &Case) -> String {
    match case.kind.as_str() {
        "processAIdata" => case.input.replace('^', "\u{1d}"),
        _ => case.input.clone(),
    }
}

#[test]
fn the_official_cases_hold() {
    let reader = Reader::builtin().unwrap();
    let cases: Vec<Case> = serde_json::from_str(include_str!("../data/labels/gs1.json")).unwrap();
    let mut wrong = Vec::new();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    // The insides of North American coupon codes are not checked: they stand on
    // no needle packet.
    let coupon = |case: &&Case| case.input.contains("8110") || case.input.contains("8112");
    for case in cases.iter().filter(|case| !coupon(case)) {
        *seen.entry(case.kind.clone()).or_default() += 1;
        let reading = scan(&reader, &sent(case));
        let symbol = reading.symbol.as_ref().unwrap();
        let parsing_only = matches!(
            case.kind.as_str(),
            "parseAIdata" | "processAIdata" | "linter" | "validateAIrepeats"
        ) || case.kind == "validateAImutex" && case.ok;
        let faults: Vec<&str> = symbol
            .faults
            .iter()
            .map(|f| f.code.as_str())
            .filter(|code| !(parsing_only && case.ok && PAIRING.contains(code)))
            .collect();
        let on_purpose = ON_PURPOSE.iter().any(|(place, _)| *place == case.source);
        if (faults.is_empty() == case.ok) == on_purpose {
            wrong.push(format!("{} {:?} ok={} got {faults:?}", case.source, case.input, case.ok));
            continue;
        }
        if on_purpose {
            continue;
        }
        if case.kind == "linter" && !case.ok {
            let want = case.expected.trim_start_matches("GS1_LINTER_").to_lowercase();
            if !faults.contains(&want.as_str()) {
                wrong.push(format!("{} {:?} want {want} got {faults:?}", case.source, case.input));
            }
        }
        let elements = matches!(case.kind.as_str(), "parseAIdata" | "dl")
            || case.kind == "scan" && case.expected.starts_with('^');
        if case.ok && elements && joined(&reader, &reading) != case.expected {
            let got = joined(&reader, &reading);
            wrong
                .push(format!("{} {:?} want {} got {got}", case.source, case.input, case.expected));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert_eq!(seen.len(), 9, "{seen:?}");
}

/// GS1 Digital Link: a qualifier that cannot stand in this path is an attribute;
/// an attribute stands once. Padding of a short GTIN is common practice of
/// older editions.
#[test]
fn attributes_of_a_link_are_placed_as_its_path_allows() {
    let reader = Reader::builtin().unwrap();
    for (link, want) in [
        ("01/09506000134352/235/TPX7?10=LOT9", None),
        ("01/09506000134352/235/TPX7?10=LOT9&17=280131", None),
        ("01/09506000134352?10=LOT9", Some("not_an_attribute")),
        ("01/09506000134352/22/2A?10=LOT9", Some("not_an_attribute")),
        ("01/09506000134352/10/LOT9?98=Y&98=Y", Some("doubled_attribute")),
        ("01/09506000134352/10/LOT9?17=280131&17=280131", Some("doubled_attribute")),
        ("01/09506000134352/10/LOT9?98=Y&99=Y", None),
        ("01/09506000134352/10/LOT9?utm=a&utm=a", None),
        ("gtin/9506000134352", None),
    ] {
        let reading = scan(&reader, &format!("https://id.gs1.org/{link}"));
        let symbol = reading.symbol.unwrap();
        let code = symbol.faults.first().map(|f| f.code.as_str());
        assert_eq!(code, want, "{link}: {:?}", symbol.faults);
    }
}

/// Not timed on a slow build; printed, so that a growth faster than the data
/// can be seen.
#[test]
fn elements_that_repeat_are_read_once_through() {
    let reader = Reader::builtin().unwrap();
    for (what, unit) in [
        ("one lot, many times", "10A\u{1d}"),
        ("one item, many times", "0109521234543213"),
        ("counts without a container", "375\u{1d}"),
        ("two dates in turn", "1727083115270831"),
        ("empty lots", "10\u{1d}"),
        (
            "many inner numbers",
            "91A\u{1d}92B\u{1d}93C\u{1d}94D\u{1d}95E\u{1d}96F\u{1d}97G\u{1d}98H\u{1d}99I\u{1d}",
        ),
    ] {
        let data = format!("]d2{}", unit.repeat(64_000 / unit.len()));
        let begin = std::time::Instant::now();
        let (elements, faults) = reader.count_elements(&data);
        println!("{what}: {elements} elements, {faults} faults, {:?}", begin.elapsed());
        assert!(begin.elapsed().as_secs() < 1, "{what}");
    }
    let conflict = format!("]d2{}", ["10A\u{1d}", "10B\u{1d}"].concat().repeat(400));
    let symbol = scan(&reader, &conflict).symbol.unwrap();
    let repeats = symbol.faults.iter().filter(|f| f.code.as_str() == "different_repeat");
    assert_eq!(repeats.count(), 1);
}

#[derive(Deserialize)]
struct Packet {
    id: String,
    scan: String,
    engine_ok: bool,
    engine: String,
    biip_ok: bool,
    biip: serde_json::Value,
}

/// Two independent verdicts on needle packets: the official engine's is ours;
/// the dates are those of the second parser.
#[test]
fn needle_packets_hold() {
    let reader = Reader::builtin().unwrap();
    let packets: Vec<Packet> =
        serde_json::from_str(include_str!("../data/labels/gs1_packets.json")).unwrap();
    for packet in packets {
        let reading = scan(&reader, &packet.scan);
        let symbol = reading.symbol.as_ref().unwrap();
        assert_eq!(
            symbol.faults.is_empty(),
            packet.engine_ok,
            "{}: {:?}",
            packet.id,
            symbol.faults
        );
        let want = if packet.engine_ok { Outcome::Incomplete } else { Outcome::Refused };
        assert_eq!(reading.outcome, want, "{}", packet.id);
        if !packet.engine_ok {
            continue;
        }
        let bracketed: String =
            symbol.elements.iter().map(|e| format!("({}){}", e.key, e.value)).collect();
        assert_eq!(bracketed, packet.engine, "{}", packet.id);
        let dates = packet.biip.as_array().filter(|_| packet.biip_ok).into_iter().flatten();
        for row in dates {
            let (key, day) = (row[0].as_str().unwrap(), row[2].as_str().unwrap());
            if matches!(key, "17" | "15" | "7003") {
                let expiry = reading.packet.expires_on.as_ref().unwrap();
                assert_eq!(expiry.date.to_string(), day, "{}", packet.id);
            }
        }
    }
}

#[derive(Deserialize)]
struct Hibc {
    valid: Vec<Valid>,
    table_f1_bodies: Vec<Body>,
    invalid_structure_without_check_char: Vec<String>,
    invalid_check_char: Vec<String>,
    charset: String,
}

#[derive(Deserialize)]
struct Valid {
    data: String,
    expected: BTreeMap<String, serde_json::Value>,
}

#[derive(Deserialize)]
struct Body {
    body: String,
    computed_check: String,
    expiry: Option<String>,
    lot: Option<String>,
    serial: Option<String>,
}

fn value<'a>(reading: &'a Reading, key: &str) -> Option<&'a str> {
    let elements = &reading.symbol.as_ref().unwrap().elements;
    elements.iter().find(|e| &*e.key == key).map(|e| e.value.as_str())
}

/// ANSI/HIBC 2.6 and its public worked examples; table F1 with the check
/// computed, since the standard prints L and C as place-holders.
#[test]
fn hibc_examples_hold() {
    let reader = Reader::builtin().unwrap();
    let data: Hibc = serde_json::from_str(include_str!("../data/labels/hibc.json")).unwrap();
    for case in &data.valid {
        let reading = scan(&reader, &case.data);
        let faults = &reading.symbol.as_ref().unwrap().faults;
        assert!(faults.is_empty(), "{}: {faults:?}", case.data);
        for (key, want) in &case.expected {
            let want = want.as_str().map_or_else(|| want.to_string(), str::to_owned);
            let packet = &reading.packet;
            let got = match key.as_str() {
                "expiry" => packet.expires_on.as_ref().map(|d| d.date.to_string()),
                "made" => packet.made_on.as_ref().map(|d| d.date.to_string()),
                "qty" => packet.quantity.as_ref().map(|q| q.value.to_string()),
                "note" => continue,
                "check" => reading
                    .symbol
                    .as_ref()
                    .and_then(|s| s.elements.iter().rfind(|e| &*e.key == "check"))
                    .map(|e| e.value.clone()),
                key => value(&reading, key).map(str::to_owned),
            };
            let got = got.unwrap_or_default();
            assert_eq!(got, want, "{} {key}", case.data);
        }
    }
    for case in &data.table_f1_bodies {
        let reading = scan(&reader, &format!("{}{}", case.body, case.computed_check));
        let packet = &reading.packet;
        assert_eq!(reading.outcome, Outcome::Incomplete, "{}", case.body);
        let lot = packet.lot.as_ref().map(|l| l.value.clone());
        let serial = packet.serial.as_ref().map(|l| l.value.clone());
        assert_eq!((lot, serial), (case.lot.clone(), case.serial.clone()), "{}", case.body);
        let day = packet.expires_on.as_ref().map(|d| d.date.to_string()).unwrap_or_default();
        let want = case.expiry.clone().unwrap_or_default();
        let want = want.split('T').next().unwrap();
        assert!(day.starts_with(want), "{}: {day} {want}", case.body);
    }
}

#[test]
fn broken_hibc_is_refused() {
    let reader = Reader::builtin().unwrap();
    let data: Hibc = serde_json::from_str(include_str!("../data/labels/hibc.json")).unwrap();
    let charset = data.charset.as_bytes();
    for body in &data.invalid_structure_without_check_char {
        // With the check that fits, so that the structure itself is refused.
        let values = body.bytes().map(|b| charset.iter().position(|c| *c == b));
        let check = values.sum::<Option<usize>>().map(|sum| char::from(charset[sum % 43]));
        let whole = format!("{body}{}", check.unwrap_or('0'));
        assert_eq!(scan(&reader, &whole).outcome, Outcome::Refused, "{whole}");
        assert_eq!(scan(&reader, body).outcome, Outcome::Refused, "{body}");
    }
    for data in &data.invalid_check_char {
        let reading = scan(&reader, data);
        let fault = &reading.symbol.as_ref().unwrap().faults[0];
        assert_eq!(fault.code.as_str(), "hibc_check", "{data}");
    }
}
