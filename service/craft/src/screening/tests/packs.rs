//! Packs: what a studio may add or tighten, and what is refused.

use etui_schema::vocabulary::{EvidenceKind, Language, Treatment, Verdict};
use serde_json::{Value, json};

use super::support::{book, day, visit, with};
use crate::screening::gate::severity;

fn grounds() -> Value {
    json!({ "sources": ["common-practice"], "evidence": "common_practice", "confidence": "low" })
}

/// Why a pack is refused.
fn refusal(pack: &Value) -> String {
    match book().with_pack("bad", pack) {
        Ok(_) => panic!("{pack} was accepted"),
        Err(faults) => faults.to_string(),
    }
}

/// A pack that adds one question and one rule.
fn own_rule() -> Value {
    json!({
        "question": [{ "id": "marathon_soon", "kind": "yes_no" }],
        "rule": [{
            "id": "marathon",
            "when": [{ "yes": "marathon_soon" }],
            "verdict": "proceed_with_conditions",
            "basis": { "condition": grounds() },
        }],
        "texts": {
            "question.marathon_soon.ask": { "en": "Do you run a marathon soon?" },
            "question.marathon_soon.why": { "en": "Sweat disturbs healing." },
            "rule.marathon.because": { "en": "Sweat disturbs healing." },
            "rule.marathon.say": { "en": "Plan the visit after the race.", "de": "Den Termin nach dem Lauf planen." },
        },
    })
}

#[test]
fn a_pack_adds_questions_and_rules_and_is_named() {
    let packed = book().with_pack("house", &own_rule()).unwrap();
    assert_ne!(packed.digest, book().digest);
    assert_eq!(packed.packs.len(), 1);
    let visit = visit(Treatment::Brows);
    let found = with(&packed, visit, &json!({"marathon_soon": true})).unwrap();
    assert_eq!(found.verdict, Verdict::ProceedWithConditions);
    assert_eq!(found.findings[0].rule.pack.as_deref(), Some("house"));
    let say = |language| packed.condition(&found.findings[0], visit.on, language);
    assert_eq!(say(Language::De), "Den Termin nach dem Lauf planen.");
    assert_eq!(packed.because(&found.findings[0], Language::De), "Sweat disturbs healing.");
    assert!(with(book(), visit, &json!({"marathon_soon": true})).is_err());
    assert!(packed.with_pack("house", &json!({})).is_err(), "one name twice");
    assert!(packed.with_pack("other", &own_rule()).is_err(), "one rule twice");
}

#[test]
fn a_pack_tightens_a_wait_and_a_verdict() {
    let pack = json!({ "tighten": [
        { "rule": "isotretinoin_recent", "period": "P12M" },
        { "rule": "fish_oil", "verdict": "proceed_with_conditions" },
        { "rule": "keloid", "verdict": "decline" },
        { "rule": "diabetes", "verdict": "refer", "refer_to": "diabetes_team", "points": 3 },
    ]});
    let packed = book().with_pack("strict", &pack).unwrap();
    let visit = visit(Treatment::Brows);
    let found = with(&packed, visit, &json!({
        "isotretinoin": "stopped", "isotretinoin_stopped_on": "2026-03-19", "fish_oil": true,
        "skin_history": ["keloid"], "long_term_conditions": ["diabetes"], "diabetes_out_of_range": false,
    })).unwrap();
    assert_eq!(found.verdict, Verdict::Decline);
    assert_eq!((found.hold_until, found.not_before), (None, Some(day("2027-03-19"))));
    for finding in &found.findings {
        assert_eq!(finding.rule.pack.as_deref(), Some("strict"), "{}", finding.rule.id);
    }
    let wait = found.findings.iter().find(|f| &*f.rule.id == "isotretinoin_recent").unwrap();
    let grounds = wait.rule.grounds.last().unwrap();
    assert_eq!((grounds.field.as_str(), grounds.evidence), ("wait", EvidenceKind::CommonPractice));
    for finding in &found.findings {
        for language in Language::ALL {
            assert!(!packed.condition(finding, visit.on, *language).contains('{'));
        }
    }
}

#[test]
fn a_pack_never_loosens_replaces_or_misleads() {
    let rule = |change: &Value| {
        let mut pack = own_rule();
        pack["rule"][0].as_object_mut().unwrap().extend(change.as_object().cloned().unwrap());
        pack
    };
    let tighten = |change: Value| json!({ "tighten": [change] });
    let text = |key: &str, en: &str| {
        let mut pack = own_rule();
        pack["texts"][key] = json!({ "en": en });
        pack
    };
    for (pack, says) in [
        (
            tighten(json!({"rule": "under_18", "verdict": "refer", "refer_to": "doctor"})),
            "never loosen",
        ),
        (tighten(json!({"rule": "tumour_scar_in_area", "verdict": "hold"})), "never loosen"),
        (tighten(json!({"rule": "warfarin", "verdict": "proceed"})), "never loosen"),
        (tighten(json!({"rule": "isotretinoin_recent", "period": "P5M"})), "never loosen"),
        (tighten(json!({"rule": "isotretinoin_recent", "period": "P180D"})), "never loosen"),
        (tighten(json!({"rule": "keloid", "points": 3})), "never loosen"),
        (tighten(json!({"rule": "keloid", "points": 5})), "never loosen"),
        (tighten(json!({"rule": "no_such", "points": 1})), "no rule `no_such`"),
        (tighten(json!({"rule": "keloid", "period": "P1D"})), "no period"),
        (tighten(json!({"rule": "diabetes", "verdict": "refer"})), "says to whom"),
        (tighten(json!({"rule": "diabetes", "remove": true})), "unknown field"),
        (rule(&json!({"id": "warfarin"})), "cannot be replaced"),
        (rule(&json!({"id": "Marathon"})), "1 to 48 characters"),
        (rule(&json!({"verdict": "refer"})), "says to whom"),
        (rule(&json!({"verdict": "hold"})), "needs `until`"),
        (rule(&json!({"verdict": "incomplete"})), "missing answer"),
        (rule(&json!({"when": []})), "cannot speak"),
        (rule(&json!({"when": [{"yes": "no_such"}]})), "no earlier question"),
        (rule(&json!({"when": [{"yes": "marathon_soon", "always": true}]})), "exactly one form"),
        (rule(&json!({"when": [{"chosen": "isotretinoin", "any_of": ["never"]}]})), "clear answer"),
        (
            rule(&json!({"when": [{"chosen": "isotretinoin", "any_of": ["daily"]}]})),
            "no option `daily`",
        ),
        (rule(&json!({"when": [{"number": "hba1c_percent", "at_least": 99.0}]})), "not within"),
        (
            rule(&json!({"when": [{"yes": "cold_sore_history"}], "treatments": ["brows"]})),
            "cannot speak",
        ),
        (rule(&json!({"when": [{"yes": "pregnant"}]})), "no rule uses"),
        (rule(&json!({"points": 2})), "have a group"),
        (rule(&json!({"points": 9, "group": "body"})), "out of range"),
        (rule(&json!({"law": true})), "law declines"),
        (
            rule(
                &json!({"basis": {"condition": {"sources": ["nobody"], "evidence": "law", "confidence": "high"}}}),
            ),
            "`nobody` is not registered",
        ),
        (
            rule(
                &json!({"basis": {"condition": {"sources": ["common-practice"], "evidence": "study", "confidence": "high"}}}),
            ),
            "none of the sources",
        ),
        (
            rule(&json!({"time": {"after": "scar_since", "period": "P1M"}})),
            "not asked when this rule speaks",
        ),
        (text("rule.marathon.say", "Stop your tablets a day before."), "stop a medicine"),
        (text("rule.marathon.say", "This is quite safe."), "promises safety"),
        (text("rule.marathon.say", "Have a glass of wine before."), "only to forbid it"),
        (text("rule.marathon.say", "Pregnant women are welcome."), "at risk"),
        (text("rule.marathon.say", "Gloves are unnecessary."), "slights"),
        (text("rule.marathon.say", "Wait until {date}."), "its places"),
        (text("rule.warfarin.say", "No need to ask."), "cannot be replaced"),
        (text("question.marathon_soon.ask", "Do you have HIV?"), "HIV"),
        (json!({"question": [{"id": "hiv_status", "kind": "yes_no"}]}), "HIV"),
        (json!({"rule": "all"}), "invalid type"),
        (json!([]), ""),
    ] {
        let faults = refusal(&pack);
        assert!(faults.contains(says), "{pack}: {faults}");
        assert!(faults.contains("bad"), "{faults}");
    }
}

/// Whatever their names, the strictest of several packs counts.
#[test]
fn of_several_packs_the_strictest_counts_in_either_order() {
    let wait =
        |period: &str| json!({ "tighten": [{ "rule": "isotretinoin_recent", "period": period }] });
    let verdict = |verdict: &str, to: &str| json!({ "tighten": [{ "rule": "keloid", "verdict": verdict, "refer_to": to }] });
    for (mild, strict) in
        [(wait("P8M"), wait("P12M")), (verdict("refer", "doctor"), verdict("decline", "doctor"))]
    {
        let end = |first: &Value, second: &Value| {
            let packed = book().with_pack("a", first).unwrap().with_pack("b", second).unwrap();
            let found = with(
                &packed,
                visit(Treatment::Brows),
                &json!({
                    "isotretinoin": "stopped", "isotretinoin_stopped_on": "2026-03-19", "skin_history": ["keloid"],
                }),
            );
            let found = found.unwrap();
            (found.verdict, found.hold_until)
        };
        assert_eq!(end(&mild, &strict), end(&strict, &mild));
    }
}

/// Whom to ask is added to the wait, and does not take its place.
#[test]
fn a_hold_that_becomes_a_referral_keeps_its_day() {
    let changes = json!({ "isotretinoin": "stopped", "isotretinoin_stopped_on": "2026-09-19" });
    let visit = visit(Treatment::Brows);
    let before = with(book(), visit, &changes).unwrap();
    for verdict in ["refer", "decline"] {
        let pack = json!({ "tighten": [
            { "rule": "isotretinoin_recent", "verdict": verdict, "refer_to": "doctor" },
        ]});
        let packed = book().with_pack("strict", &pack).unwrap();
        let after = with(&packed, visit, &changes).unwrap();
        assert_eq!(after.verdict.as_str(), verdict);
        assert!(before.not_before.is_some(), "the wait is known");
        assert_eq!(after.not_before, before.not_before, "{verdict}");
    }
}

#[test]
fn a_sentence_that_nothing_says_is_named() {
    for key in ["nonsense.key", "rule.nope.say", "question.marathon_soon.aks"] {
        let mut pack = own_rule();
        pack["texts"][key] = json!({ "en": "A sentence." });
        let told = refusal(&pack);
        assert!(told.contains(key) && told.contains("nothing of this pack"), "{told}");
    }
}

#[test]
fn whatever_is_tightened_no_verdict_gets_softer() {
    // The strictest pack there can be: every rule that can become a decline.
    let all =
        book().all_rules().iter().map(|rule| json!({ "rule": &*rule.id, "verdict": "decline" }));
    let packed = book().with_pack("no", &json!({ "tighten": all.collect::<Vec<_>>() })).unwrap();
    for changes in [json!({}), json!({"fish_oil": true}), json!({"recent_on_area": ["acids"]})] {
        let visit = visit(Treatment::Lips);
        let before = with(book(), visit, &changes).unwrap().verdict;
        let after = with(&packed, visit, &changes).unwrap().verdict;
        assert!(severity(before) <= severity(after));
    }
}

/// "A period out of range has the pointer `#`": it is the member's own, wherever periods stand.
#[test]
fn a_period_that_is_none_is_named_where_it_stands() {
    let rule = |time: Value, lead: &str| {
        let mut pack = own_rule();
        pack["rule"][0]["time"] = time;
        pack["rule"][0]["todo"] = json!({ "who": "client", "lead": lead });
        pack
    };
    let time = |period: &str, range: [&str; 2]| json!({ "after": "treatment", "period": period, "range": range });
    let tighten = |period: &str| json!({ "tighten": [{ "rule": "keloid" }, { "rule": "isotretinoin_recent", "period": period }] });
    for (pack, pointer) in [
        (tighten("P0D"), "/tighten/1/period"),
        (tighten("P99Y999M"), "/tighten/1/period"),
        (tighten("P9999W"), "/tighten/1/period"),
        (tighten("P"), "/tighten/1/period"),
        (rule(time("P0W", ["P1D", "P9D"]), "P1D"), "/rule/0/time/period"),
        (rule(time("P2D", ["P0D", "P9D"]), "P1D"), "/rule/0/time/range/0"),
        (rule(time("P2D", ["P1D", "P99999D"]), "P1D"), "/rule/0/time/range/1"),
        (rule(time("P2D", ["P1D", "P9D"]), "P0M0D"), "/rule/0/todo/lead"),
    ] {
        let Err(faults) = book().with_pack("bad", &pack) else { panic!("{pack} was accepted") };
        assert_eq!(faults.0[0].pointer, pointer, "{pack}: {faults}");
        assert!(faults.to_string().contains("calendar period"), "{faults}");
    }
}
