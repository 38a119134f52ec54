//! The published schemas have the fields that the loaders read, no more and no
//! fewer. The loaders name their fields when they refuse one.

use std::collections::BTreeSet;

use etui_schema::packs as wire;
use etui_schema::vocabulary::Address;
use serde_json::{Value, json};

use super::apply::apply;
use super::stored::StoredPack;
use crate::http::document::PARTS;
use crate::studio::craft::Craft;

/// Members that only concern the keeping; no loader sees them.
const KEEPING: [&str; 4] = ["version", "about", "read_by", "enabled"];

/// What the loader reads in built-in rules only: the published schemas refuse it in packs.
const BUILT_IN: [&str; 8] =
    ["also", "country", "denied", "firm", "release", "rests", "stays", "unless"];

fn pack(kind: wire::PackKind, pack: Value) -> StoredPack {
    StoredPack {
        kind,
        name: "house".parse().unwrap(),
        enabled: true,
        revision: 1,
        digest: String::new(),
        updated_at: etui_schema::vocabulary::Instant(jiff::Timestamp::UNIX_EPOCH),
        updated_by: "owner".to_owned(),
        pack,
    }
}

/// The fields that the loader would have accepted beside `zzz`.
fn read(builtin: &Craft, kind: wire::PackKind, mut content: Value, at: &str) -> BTreeSet<String> {
    let object = content.pointer_mut(at).unwrap().as_object_mut().unwrap();
    object.insert("zzz".to_owned(), json!(0));
    let faults = apply(&mut builtin.clone(), builtin, &pack(kind, content)).unwrap_err();
    let told = &faults[0].message;
    let listed = told.split("expected ").nth(1).unwrap_or_else(|| panic!("{told}"));
    let listed = listed.split('`').skip(1).step_by(2);
    let in_packs = |name: &&str| kind != wire::PackKind::Rules || !BUILT_IN.contains(name);
    listed.filter(in_packs).map(str::to_owned).collect()
}

fn published(name: &str) -> BTreeSet<String> {
    let schema = PARTS.schema(name).unwrap();
    let members = schema["properties"].as_object().unwrap();
    members.keys().filter(|name| !KEEPING.contains(&name.as_str())).cloned().collect()
}

#[test]
fn the_published_schemas_have_the_fields_the_loaders_read() {
    let builtin = Craft::load(Address::Sie).unwrap();
    let grounds = json!({ "sources": ["x"], "evidence": "study", "confidence": "low" });
    let rules = json!({
        "source": [{ "id": "x", "cite": "x", "kind": "study", "read": "page" }],
        "texts": { "a": { "en": "a" } },
        "question": [{
            "id": "q", "kind": "choice", "ask_if": { "question": "r" }, "options": [{ "id": "o" }],
        }],
        "rule": [{
            "id": "r", "when": [{ "yes": "q" }], "verdict": "hold", "basis": { "condition": grounds },
            "time": { "after": "treatment", "period": "P1D" }, "todo": { "who": "client" },
        }],
        "tighten": [{ "rule": "keloid" }],
    });
    let spellings = json!({
        "size": [{ "number": 7, "mm": 0.3 }],
        "code": [{ "text": "LN", "grouping": "flat" }],
        "taper": [{ "text": "LN", "taper": "long" }],
    });
    let sources = json!({ "days": "x", "text": "x" });
    let aftercare = json!({
        "step": [{ "key": "k", "kind": "do", "from_day": 0, "text": { "en": "a" }, "sources": sources }],
    });
    let check = |kind, content: &Value, at: &str, want: BTreeSet<String>| {
        assert_eq!(read(&builtin, kind, content.clone(), at), want, "{kind}{at}");
    };
    let rule = |at: &str, want| check(wire::PackKind::Rules, &rules, at, want);
    // What a place asks of training is read before, by a loader that answers in the wire's type.
    let mut screened = published("RulesPack");
    assert!(screened.remove("training"));
    rule("", screened);
    rule("/source/0", published("PackSource"));
    rule("/texts/a", published("PackText"));
    rule("/question/0", published("PackQuestion"));
    rule("/question/0/ask_if", published("PackAskIf"));
    rule("/question/0/options/0", published("PackOption"));
    rule("/rule/0", published("PackRule"));
    rule("/rule/0/when/0", published("PackClause"));
    rule("/rule/0/time", published("PackTime"));
    rule("/rule/0/todo", published("PackTodo"));
    rule("/rule/0/basis", published("PackBasis"));
    rule("/rule/0/basis/condition", published("PackGrounds"));
    rule("/tighten/0", published("PackTightening"));
    let spelling = |at: &str, want| check(wire::PackKind::LabelSpellings, &spellings, at, want);
    spelling("", published("LabelSpellingsPack"));
    spelling("/size/0", published("PackSize"));
    spelling("/code/0", published("PackCode"));
    spelling("/taper/0", published("PackTaper"));
    let step = |at: &str, want| check(wire::PackKind::Aftercare, &aftercare, at, want);
    step("", published("AftercarePack"));
    step("/step/0", published("PackStep"));
    step("/step/0/text", published("PackText"));
    step("/step/0/sources", published("PackStepSources"));
}

/// Every word of the wire is one the loader knows.
#[test]
fn the_words_of_the_wire_are_those_of_the_loaders() {
    let builtin = Craft::load(Address::Sie).unwrap();
    let takes = |kind, content: Value| {
        let told = apply(&mut builtin.clone(), &builtin, &pack(kind, content.clone())).err();
        let told = told.map(|faults| faults[0].message.clone()).unwrap_or_default();
        assert!(!told.contains("unknown variant"), "{content}: {told}");
    };
    for read in wire::SourceRead::ALL {
        let source = json!({ "id": "x", "cite": "x", "kind": "study", "read": read });
        takes(wire::PackKind::Rules, json!({ "source": [source] }));
    }
    let question = |change: Value| {
        let mut question = json!({ "id": "q", "kind": "yes_no" });
        question.as_object_mut().unwrap().extend(change.as_object().cloned().unwrap());
        takes(wire::PackKind::Rules, json!({ "question": [question] }));
    };
    wire::PackQuestionKind::ALL.iter().for_each(|kind| question(json!({ "kind": kind })));
    wire::QuestionStage::ALL.iter().for_each(|stage| question(json!({ "stage": stage })));
    wire::PackWho::ALL.iter().for_each(|who| question(json!({ "asked_of": who })));
    wire::QuestionLatest::ALL.iter().for_each(|latest| question(json!({ "latest": latest })));
    for mode in wire::PackTimeMode::ALL {
        let grounds = json!({ "sources": ["x"], "evidence": "study", "confidence": "low" });
        let time = json!({ "after": "treatment", "period": "P1D", "mode": mode });
        let rule = json!({
            "id": "r", "when": [], "verdict": "hold", "time": time, "basis": { "condition": grounds },
        });
        takes(wire::PackKind::Rules, json!({ "rule": [rule] }));
    }
    for note in wire::PackCodeNote::ALL {
        let code = json!({ "text": "LN", "grouping": "flat", "note": note });
        takes(wire::PackKind::LabelSpellings, json!({ "code": [code] }));
    }
    for (when, anchor) in wire::StepWhen::ALL.iter().zip(wire::StepAnchor::ALL) {
        let step = json!({
            "key": "k", "kind": "do", "from_day": 0, "when": when, "anchor": anchor,
            "text": { "en": "a" }, "sources": { "days": "x", "text": "x" },
        });
        takes(wire::PackKind::Aftercare, json!({ "step": [step] }));
    }
}
