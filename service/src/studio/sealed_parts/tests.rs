//! Documents of every build are read.
//!
//! What a build of 0.1 said stands in `tests/data/folder-0.1.json`; what today's
//! says, in `openapi/examples.json`; what a release knew, in `openapi/released`.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};

use super::FIRST;

/// Where documents of each kind stand: the operation of the example and the place in
/// it, the place in what 0.1 answered, and what the type was called in releases.
const WHERE: &[(&str, &str, &str, &str, &str)] = &[
    ("client_record", "get_client", "/answer", "/client", "Client"),
    ("check_input", "get_dossier", "/answer/checks/0/made_from", "/checks/*/made_from", ""),
    ("check_answer", "create_appointment_check", "/answer", "/checks/*/check", "AppointmentCheck"),
    ("treatment_input", "record_treatment", "/request", "", "TreatmentRequest"),
    ("treatment_answer", "record_treatment", "/answer", "/treatments/*", "TreatmentRecord"),
    ("settlement_input", "settle_symptom_report", "/request", "", "SettlementRequest"),
    ("settlement_answer", "settle_symptom_report", "/answer", "", "Settlement"),
    ("practice_sheet_input", "make_practice_sheet", "/request", "", "PracticeSheetRequest"),
    ("practice_sheet_answer", "make_practice_sheet", "/answer", "", "PracticeSheet"),
    ("hand_in_input", "hand_in_practice_sheet", "/request", "", "HandInRequest"),
    ("hand_in_answer", "hand_in_practice_sheet", "/answer", "", "HandedIn"),
    ("sheet_marks_input", "mark_practice_sheet", "/request", "", "SheetMarksRequest"),
    ("sheet_marks_answer", "mark_practice_sheet", "/answer", "", "SheetMarked"),
    ("sign_off_words", "give_sign_off", "/request", "", ""),
];

/// Those of a row of [`etui_schema::entries`](mod@etui_schema::entries).
macro_rules! of_entries {
    ([] $($(#[$doc:meta])* $member:ident $name:ident($request:ty => $answer:ty)
        [$make:ident $get:ident $list:ident] $more:tt)*) => { &[$(
        (concat!(stringify!($name), "_input"), stringify!($make), "/request", "", stringify!($request)),
        (
            concat!(stringify!($name), "_answer"),
            stringify!($make),
            "/answer",
            concat!("/treatments/*/", stringify!($member), "/*"),
            stringify!($answer),
        ),
    )*] };
}
const OF_ENTRIES: &[(&str, &str, &str, &str, &str)] = etui_schema::entries!(of_entries);

fn file(path: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    let text = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).expect("JSON")
}

fn releases() -> BTreeMap<String, Value> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../openapi/released");
    let names = fs::read_dir(folder).expect("the releases").map(|entry| entry.unwrap().file_name());
    let names = names.map(|name| name.into_string().unwrap()).filter(|n| n.ends_with(".json"));
    names.map(|name| (name.clone(), file(&format!("openapi/released/{name}")))).collect()
}

/// What stands at a path, `*` for every item.
fn at<'v>(value: &'v Value, path: &str) -> Vec<&'v Value> {
    let names = path.split('/').skip(1);
    names.fold(vec![value], |found, name| {
        let inner = found.into_iter().flat_map(|value| match name {
            "*" => value.as_array().into_iter().flatten().collect::<Vec<_>>(),
            name => value.get(name).into_iter().collect(),
        });
        inner.collect()
    })
}

/// A type of a release. What a check was made from has none there: its members in 0.1
/// are told here.
fn known(kind: &str, name: &str, release: &Value) -> Value {
    if kind != "check_input" {
        return release["components"]["schemas"][name].clone();
    }
    let of = |name: &str| json!({ "$ref": format!("#/components/schemas/{name}") });
    json!({ "properties": {
        "request": of("AppointmentCheckRequest"), "zone": {}, "on": {}, "born_on": {},
        "answers": {}, "skin": of("Skin"), "setting": of("Setting"),
        "practice": { "items": of("Practice") },
    }, "required": ["request", "zone", "on", "born_on", "answers", "setting"] })
}

/// A type with everything it may also be.
fn alternatives<'s>(release: &'s Value, schema: &'s Value) -> Vec<&'s Value> {
    let target = schema["$ref"].as_str().and_then(|to| release.pointer(to.trim_start_matches('#')));
    let all = ["allOf", "anyOf", "oneOf"].iter().filter_map(|key| schema[key].as_array()).flatten();
    let more = target.into_iter().chain(all).flat_map(|one| alternatives(release, one));
    std::iter::once(schema).chain(more).collect()
}

/// The places of members that a document of a release may lack: those that it did not
/// know, and those that it did not always have.
fn lacking(
    release: &Value,
    schema: &Value,
    document: &Value,
    place: &str,
    found: &mut Vec<String>,
) {
    let all = alternatives(release, schema);
    if let Value::Array(items) = document {
        let Some(schema) = all.iter().find_map(|s| s.get("items")) else { return };
        for (n, item) in items.iter().enumerate() {
            lacking(release, schema, item, &format!("{place}/{n}"), found);
        }
    } else if let Value::Object(members) = document
        && all.iter().any(|s| s["properties"].is_object())
    {
        for (name, member) in members {
            let place = format!("{place}/{}", name.replace('~', "~0").replace('/', "~1"));
            let always =
                |s: &&Value| s["required"].as_array().is_some_and(|r| r.contains(&json!(name)));
            if !all.iter().any(always) {
                found.push(place.clone());
            }
            if let Some(schema) = all.iter().find_map(|s| s["properties"].get(name)) {
                lacking(release, schema, member, &place, found);
            }
        }
    }
}

fn without(document: &Value, place: &str) -> Value {
    let mut document = document.clone();
    let (parent, name) = place.rsplit_once('/').expect("a place inside");
    let name = name.replace("~1", "/").replace("~0", "~");
    let members = document.pointer_mut(parent).and_then(Value::as_object_mut);
    members.expect("an object").remove(&name).expect("a member");
    document
}

#[test]
fn documents_of_every_build_are_read() {
    let (examples, answers) = (file("openapi/examples.json"), file("tests/data/folder-0.1.json"));
    let dossiers: Vec<&Value> = answers
        .as_object()
        .into_iter()
        .flatten()
        .filter_map(|(path, answer)| path.ends_with("/dossier").then_some(answer))
        .collect();
    assert_eq!(
        FIRST.iter().map(|(kind, _)| *kind).collect::<Vec<_>>(),
        [WHERE, OF_ENTRIES].concat().iter().map(|(kind, ..)| *kind).collect::<Vec<_>>(),
        "every kind has documents here",
    );
    let (mut faults, mut looked) = (Vec::new(), 0);
    for ((kind, read), (_, operation, here, then, path)) in
        FIRST.iter().zip([WHERE, OF_ENTRIES].concat())
    {
        let name = path.rsplit(':').next().unwrap_or(path).trim();
        let mut look = |document: &Value, what: String| {
            looked += 1;
            if let Err(error) = read(&document.to_string()) {
                faults.push(format!("{kind}: {what}: {error}"));
            }
        };
        let old: Vec<&Value> =
            dossiers.iter().filter(|_| !then.is_empty()).flat_map(|all| at(all, then)).collect();
        let is_new = !name.is_empty() && known(kind, name, &releases()["0.1.0.json"]).is_null();
        assert!(then.is_empty() || is_new || !old.is_empty(), "0.1 said nothing at {then}");
        old.iter().for_each(|document| look(document, "one of 0.1".to_owned()));
        let today = examples[operation].pointer(here).expect(operation);
        look(today, "one of today".to_owned());
        for (release, document) in releases() {
            let schema = known(kind, name, &document);
            let mut new = Vec::new();
            lacking(&document, &schema, today, "", &mut new);
            for place in &new {
                look(
                    &without(today, place),
                    format!("without {place}, as {release} may have written; say what it was"),
                );
            }
            look(
                &new.iter().rev().fold(today.clone(), |document, place| without(&document, place)),
                format!("the least that {release} has written"),
            );
        }
    }
    assert!(faults.is_empty(), "{} of {looked}:\n{}", faults.len(), faults.join("\n"));
    assert!(200 < looked, "only {looked} documents");
}

/// The judge finds what it looks for, at any depth.
#[test]
fn what_a_release_may_lack_is_found() {
    let release = json!({ "components": { "schemas": {
        "A": { "properties": { "b": { "items": { "$ref": "#/components/schemas/B" } }, "free": {} },
               "required": ["b"] },
        "B": { "oneOf": [{ "properties": { "kind": {} }, "required": ["kind"] },
                         { "properties": { "n": {} } }] },
    } } });
    let document =
        json!({ "b": [{ "kind": 1, "n": 2 }, { "x/y": 3 }], "free": { "z": 1 }, "c": [] });
    let mut found = Vec::new();
    lacking(&release, &release["components"]["schemas"]["A"], &document, "", &mut found);
    found.sort();
    assert_eq!(found, ["/b/0/n", "/b/1/x~1y", "/c", "/free"]);
    assert_eq!(without(&document, "/b/1/x~1y")["b"], json!([{ "kind": 1, "n": 2 }, {}]));
}
