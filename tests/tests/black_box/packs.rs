//! Packs: what a studio adds to the built-in data, over HTTP.

use std::sync::atomic::{AtomicBool, Ordering};

use etui_schema::problem::{ErrorCode, FaultCode};
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

pub(crate) const RULES: &str = "/v1/packs/rules";
pub(crate) const SPELLINGS: &str = "/v1/packs/label-spellings";
pub(crate) const AFTERCARE: &str = "/v1/packs/aftercare";
/// The clock of a test stands on 16 March 2027.
pub(crate) const ON: &str = "2027-04-06";

pub(crate) fn put(running: &Running, path: &str, body: &Value) -> Answer {
    running.call(&Request::put(path, body))
}

pub(crate) fn created(running: &Running, path: &str, body: &Value) -> Answer {
    let answer = put(running, path, body);
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer
}

pub(crate) fn healthy(running: &Running, treatment: &str, but: &Value) -> Value {
    let asked = format!("/v1/screening-questions?treatment={treatment}&on={ON}");
    let asked = running.call(&Request::get(asked)).json();
    let first = asked["questions"].as_array().expect("questions").iter();
    let mut answers: Map<String, Value> = first
        .filter(|question| question.get("ask_if").is_none() && question["optional"] != true)
        .filter_map(|question| {
            Some((question["id"].as_str()?.to_owned(), question.get("clear_answer")?.clone()))
        })
        .collect();
    answers.extend(but.as_object().cloned().unwrap_or_default());
    Value::Object(answers)
}

pub(crate) fn case(running: &Running, but: &Value) -> Value {
    json!({
        "treatment": "lips", "on": ON, "born_on": "1990-06-15",
        "answers": healthy(running, "lips", but),
    })
}

pub(crate) fn assess(running: &Running, case: &Value) -> Value {
    let answer = running.call(&Request::post("/v1/skin-assessments", case));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()
}

pub(crate) fn grounds() -> Value {
    json!({ "sources": ["common-practice"], "evidence": "common_practice", "confidence": "low" })
}

pub(crate) fn own_rule(id: &str) -> Value {
    json!({
        "question": [{ "id": format!("{id}_asked"), "kind": "yes_no" }],
        "rule": [{
            "id": id, "when": [{ "yes": format!("{id}_asked") }],
            "verdict": "proceed_with_conditions", "basis": { "condition": grounds() },
        }],
        "texts": {
            format!("question.{id}_asked.ask"): { "en": "Do you run a long race soon?" },
            format!("question.{id}_asked.why"): { "en": "Sweat disturbs healing." },
            format!("rule.{id}.because"): { "en": "Sweat disturbs healing." },
            format!("rule.{id}.say"): { "en": "Plan the visit after the race." },
        },
    })
}

#[test]
fn a_rules_pack_is_applied_at_once_named_and_taken_back() {
    let running = Running::start();
    let before = assess(&running, &case(&running, &json!({ "fish_oil": true })));
    assert_eq!(before["verdict"], "proceed");
    let mut pack = own_rule("race");
    pack["tighten"] = json!([{ "rule": "fish_oil", "verdict": "proceed_with_conditions" }]);
    let kept = created(&running, &format!("{RULES}/house"), &pack);
    assert_eq!(
        (kept.json()["applied"].clone(), kept.json()["revision"].clone()),
        (json!(true), json!(1))
    );
    assert_eq!(kept.json()["digest"].as_str().map(str::len), Some(64));
    let after = assess(&running, &case(&running, &json!({ "fish_oil": true, "race_asked": true })));
    assert_eq!(after["verdict"], "proceed_with_conditions");
    let findings = after["findings"].as_array().expect("findings");
    assert_eq!(findings.len(), 2, "{findings:?}");
    assert!(findings.iter().all(|finding| finding["pack"] == "house"), "{findings:?}");
    assert_eq!(after["rulebook"]["packs"], json!(["house"]));
    assert_ne!(after["rulebook"]["digest"], before["rulebook"]["digest"]);
    let asked = format!("/v1/screening-questions?treatment=lips&on={ON}");
    let asked = running.call(&Request::get(asked)).json();
    let question = asked["questions"].as_array().expect("questions").iter();
    let question = question.rev().find(|question| question["id"] == "race_asked").expect("asked");
    assert_eq!(question["pack"], "house");
    // Switched off, it is kept and not applied; taken away, it is gone.
    pack["enabled"] = json!(false);
    let path = format!("{RULES}/house");
    let tag = kept.header("etag").expect("a tag").to_owned();
    let off = running.call(&Request::put(&*path, &pack).header("If-Match", tag.clone()));
    assert_eq!((off.status, off.json()["applied"].clone()), (200, json!(false)), "{}", off.text());
    assert_eq!(
        assess(&running, &case(&running, &json!({ "fish_oil": true })))["verdict"],
        "proceed"
    );
    for (if_match, status) in [(None, 428), (Some(tag), 412)] {
        let mut request = Request::new("DELETE", &*path);
        if let Some(tag) = if_match {
            request = request.header("If-Match", tag);
        }
        assert_eq!(running.call(&request).status, status);
    }
    let gone =
        Request::new("DELETE", &*path).header("If-Match", off.header("etag").expect("a tag"));
    assert_eq!(running.call(&gone).status, 200);
    assert_eq!(running.call(&Request::get(&*path)).status, 404);
    let again = assess(&running, &case(&running, &json!({ "fish_oil": true })));
    assert_eq!(again, before, "nothing of the pack stays");
}

/// Tattooing of Minors Act 1969; what is built in stays as hard as it is.
#[test]
fn a_pack_never_loosens_and_every_fault_has_its_place() {
    let running = Running::start();
    let mut pack = own_rule("warfarin");
    pack["tighten"] = json!([
        { "rule": "under_18", "verdict": "refer", "refer_to": "doctor" },
        { "rule": "tumour_scar_in_area", "verdict": "proceed" },
        { "rule": "isotretinoin_recent", "period": "P5M" },
        { "rule": "no_such_rule", "points": 1 },
    ]);
    pack["texts"]["rule.warfarin.say"] = json!({ "en": "Stop your tablets a day before." });
    let answer = put(&running, &format!("{RULES}/soft"), &pack);
    assert_eq!(answer.status, 422, "{}", answer.text());
    let problem = answer.problem();
    for (pointer, code) in [
        ("#/tighten/0/verdict", FaultCode::NotAllowed),
        ("#/tighten/1/verdict", FaultCode::NotAllowed),
        ("#/tighten/2/period", FaultCode::NotAllowed),
        ("#/tighten/3/rule", FaultCode::UnknownReference),
        ("#/rule/0/id", FaultCode::Duplicate),
        ("#/texts/rule.warfarin.say", FaultCode::Duplicate),
    ] {
        let found = problem.errors.iter().any(|f| f.pointer == pointer && f.code == code);
        assert!(found, "{pointer}: {problem}");
    }
    assert_eq!(running.call(&Request::get(format!("{RULES}/soft"))).status, 404);
    // What the schema refuses is told with its place, too.
    let shape = json!({ "rule": [{ "id": "x", "verdict": "never" }], "tighten": [{ "rule": "keloid", "period": "6 months" }] });
    let problem = put(&running, &format!("{RULES}/soft"), &shape).problem();
    for pointer in ["#/rule/0/when", "#/rule/0/basis", "#/rule/0/verdict", "#/tighten/0/period"] {
        assert!(problem.errors.iter().any(|f| f.pointer == pointer), "{pointer}: {problem}");
    }
    let young = json!({ "treatment": "lips", "on": ON, "born_on": "2010-01-01", "answers": {} });
    assert_eq!(assess(&running, &young)["verdict"], "decline");
}

/// "A period out of range (`P0D`, `P99Y…`) has the pointer `#`", and what else a pack is refused
/// for: each kind of pack, each with the place of the very member.
#[test]
fn what_is_out_of_range_in_a_pack_is_named_where_it_stands() {
    let running = Running::start();
    let law = json!([{ "id": "act", "cite": "An act", "kind": "law", "read": "page" }]);
    let training = |member: &str, value: u32| json!({ "source": law, "training": { "source": "act", "section": "1", member: value } });
    let step = |member: &str, value: Value| {
        let mut step = json!({
            "key": "balm", "kind": "do", "from_day": 1, "text": { "en": "Use the balm." },
            "sources": { "days": "common-practice", "text": "common-practice" },
        });
        step[member] = value;
        json!({ "step": [step] })
    };
    let mut own = own_rule("race");
    own["rule"][0]["todo"] = json!({ "who": "client", "lead": "P0D" });
    let tighten =
        |period: &str| json!({ "tighten": [{ "rule": "isotretinoin_recent", "period": period }] });
    let mut unsaid = own_rule("race");
    unsaid["texts"]["nonsense.key"] = json!({ "en": "A sentence." });
    for (path, pack, pointer) in [
        (RULES, tighten("P0D"), "#/tighten/0/period"),
        (RULES, tighten("P99Y999M"), "#/tighten/0/period"),
        (RULES, tighten("a year"), "#/tighten/0/period"),
        (RULES, own, "#/rule/0/todo/lead"),
        (RULES, unsaid, "#/texts/nonsense.key"),
        (RULES, training("least_treatments", 0), "#/training/least_treatments"),
        (RULES, training("trainer_years", 99), "#/training/trainer_years"),
        (AFTERCARE, step("from_day", json!(99_999)), "#/step/0/from_day"),
        (AFTERCARE, step("from_day", json!(-1)), "#/step/0/from_day"),
        (SPELLINGS, json!({ "noise": ["EXP"] }), "#/noise/0"),
        (SPELLINGS, json!({ "code": [{ "text": "NOT", "grouping": "flat" }] }), "#/code/0/text"),
        (SPELLINGS, json!({ "taper": [{ "text": "LOT", "taper": "long" }] }), "#/taper/0/text"),
    ] {
        let answer = put(&running, &format!("{path}/bad"), &pack);
        assert_eq!(answer.status, 422, "{pack}: {}", answer.text());
        let problem = answer.problem();
        assert!(problem.errors.iter().any(|f| f.pointer == pointer), "{pointer}: {problem}");
        assert!(problem.errors.iter().all(|f| f.pointer != "#"), "{problem}");
    }
}

#[test]
fn packs_that_need_each_other_are_not_pulled_apart() {
    let running = Running::start();
    created(&running, &format!("{RULES}/a"), &own_rule("race"));
    let tighter = json!({ "tighten": [{ "rule": "race", "verdict": "decline" }] });
    let later = created(&running, &format!("{RULES}/b"), &tighter);
    let first = running.call(&Request::get(format!("{RULES}/a")));
    let tag = first.header("etag").expect("a tag").to_owned();
    let gone = Request::new("DELETE", format!("{RULES}/a")).header("If-Match", tag.clone());
    let refused = running.call(&gone);
    assert_eq!(refused.status, 409, "{}", refused.text());
    assert_eq!(refused.problem().code, ErrorCode::Conflict);
    assert!(refused.text().contains("rules/b"), "{}", refused.text());
    let twice = put(&running, &format!("{RULES}/c"), &own_rule("race"));
    assert_eq!(twice.status, 422, "{}", twice.text());
    let found = assess(&running, &case(&running, &json!({ "race_asked": true })));
    assert_eq!(
        (found["verdict"].clone(), found["findings"][0]["pack"].clone()),
        (json!("decline"), json!("a+b"))
    );
    let tag_b = later.header("etag").expect("a tag").to_owned();
    let gone_b = Request::new("DELETE", format!("{RULES}/b")).header("If-Match", tag_b);
    assert_eq!(running.call(&gone_b).status, 200);
    assert_eq!(running.call(&gone).status, 200);
}

#[test]
fn a_reading_names_the_spellings_it_used() {
    let running = Running::start();
    let read = |text: &str| {
        let body = json!({ "labels": [{ "text": text }] });
        running.call(&Request::post("/v1/label-readings", &body)).json()["readings"][0].clone()
    };
    assert_ne!(read("10-03LN")["outcome"], "clear");
    let pack = json!({ "code": [{ "text": "LN", "grouping": "round_liner" }] });
    created(&running, &format!("{SPELLINGS}/north"), &pack);
    let found = read("10-03LN");
    assert_eq!(found["outcome"], "clear", "{found}");
    assert_eq!(found["candidates"][0]["packs"], json!(["north"]));
    assert!(read("10-03RL")["candidates"][0].get("packs").is_none());
    let bad = json!({ "code": [{ "text": "ln", "grouping": "flat" }], "noise": ["9"], "size": [{ "number": 200, "mm": 0.3 }] });
    let problem = put(&running, &format!("{SPELLINGS}/bad"), &bad).problem();
    assert!(problem.errors.iter().any(|f| f.pointer == "#/size/0/number"), "{problem}");
    let bad = json!({ "code": [{ "text": "ln", "grouping": "flat" }], "noise": ["9"] });
    let places: Vec<String> = put(&running, &format!("{SPELLINGS}/bad"), &bad)
        .problem()
        .errors
        .into_iter()
        .map(|f| f.pointer)
        .collect();
    assert_eq!(places, ["#/code/0/text", "#/noise/0"]);
}

/// Two suppliers write differently; each is read with its own spellings, and a label of
/// which nobody says whose it is with neither.
#[test]
fn a_suppliers_own_spellings_are_used_for_its_labels_and_lots_alone() {
    let running = Running::start();
    let code = |maker: &str, grouping: &str| json!({ "maker": maker, "code": [{ "text": "ZZ", "grouping": grouping }] });
    created(&running, &format!("{SPELLINGS}/north"), &code("North", "flat"));
    created(&running, &format!("{SPELLINGS}/south"), &code("South", "round_liner"));
    let by_number =
        json!({ "reference_prefix": "ER-", "code": [{ "text": "QY", "grouping": "flat" }] });
    created(&running, &format!("{SPELLINGS}/east"), &by_number);
    let text = |code: &str| format!("0.30 5{code} LOT A1 EXP 2030-01-31 STERILE EO");
    for (told, code, reading) in [
        (json!({ "maker": "north" }), "ZZ", Some("0.30 5F")),
        (json!({ "maker": "SOUTH" }), "ZZ", Some("0.30 5RL")),
        (json!({ "maker": "West" }), "ZZ", None),
        (json!({}), "ZZ", None),
        (json!({ "reference": "er-7" }), "QY", Some("0.30 5F")),
        (json!({ "reference": "WR-7" }), "QY", None),
        (json!({}), "QY REF ER-0305", Some("0.30 5F")),
    ] {
        let with = |mut body: Value| {
            body.as_object_mut()
                .expect("an object")
                .extend(told.as_object().cloned().expect("one"));
            body
        };
        let label = json!({ "labels": [with(json!({ "text": text(code) }))] });
        let read = running.call(&Request::post("/v1/label-readings", &label)).json();
        let read = &read["readings"][0];
        let clear =
            (read["outcome"] == "clear").then(|| read["candidates"][0]["canonical"].clone());
        assert_eq!(clear, reading.map(|text| json!(text)), "{told} {code}: {read}");
        // The same of a lot.
        let mut lot = json!({ "text": text(code), "packs": 5 });
        if let Some(maker) = told.get("maker") {
            lot["maker"] = maker.clone();
        }
        if let Some(reference) = told.get("reference") {
            lot["confirmed"] = json!({ "reference": reference });
        }
        let lot = running.call(&Request::post("/v1/lots", &lot));
        let usable = lot.status == 201 && lot.json()["state"] == "usable";
        assert_eq!(usable, reading.is_some(), "{told} {code}: {}", lot.text());
    }
    // A pack for everybody's labels adds, and never says otherwise.
    let slip = json!({ "size": [{ "number": 10, "mm": 0.6 }] });
    let problem = put(&running, &format!("{SPELLINGS}/slip"), &slip).problem();
    assert_eq!(problem.errors[0].pointer, "#/size/0/number", "{problem}");
    assert!(problem.errors[0].message.contains("`maker`"), "{problem}");
}

#[test]
fn an_aftercare_step_names_its_pack_and_nothing_is_taken_away() {
    let running = Running::start();
    let plan = || {
        let body = json!({ "treatment": "brows", "performed_at": "2027-03-16T10:00:00Z", "zone": "Europe/Berlin" });
        running.call(&Request::post("/v1/aftercare-plans", &body)).json()["steps"]
            .as_array()
            .cloned()
            .expect("steps")
    };
    let before = plan();
    let step = |key: &str, text: &str| {
        json!({ "step": [{
            "key": key, "kind": "do", "from_day": 1, "to_day": 7, "message": true,
            "text": { "en": text }, "sources": { "days": "common-practice", "text": "common-practice" },
        }]})
    };
    created(
        &running,
        &format!("{AFTERCARE}/house"),
        &step("house_balm", "Use the balm for {days} days."),
    );
    let after = plan();
    let (ours, theirs): (Vec<&Value>, Vec<&Value>) =
        after.iter().partition(|step| step["pack"] == "house");
    assert_eq!((ours.len(), ours[0]["text"].clone()), (1, json!("Use the balm for 7 days.")));
    assert_eq!(theirs, before.iter().collect::<Vec<_>>());
    for (pack, pointer) in [
        (step("no_picking", "Pick away."), "#/step/0/key"),
        (step("x", "Skip your tablets."), "#/step/0/text/en"),
        (step("x", "Go to the sauna every day."), "#/step/0/text/en"),
    ] {
        let problem = put(&running, &format!("{AFTERCARE}/bad"), &pack).problem();
        assert_eq!(problem.errors[0].pointer, pointer, "{problem}");
    }
}

#[test]
fn packs_are_there_after_a_restart_and_listed() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    created(
        &running,
        &format!("{RULES}/house"),
        &json!({ "version": "3", "tighten": [{ "rule": "fish_oil", "verdict": "decline" }] }),
    );
    created(
        &running,
        &format!("{SPELLINGS}/north"),
        &json!({ "noise": ["ZETA"], "enabled": false }),
    );
    running.stop();
    let running = Running::start_at(folder.path());
    let listed = running.call(&Request::get("/v1/packs?limit=1")).json();
    assert_eq!(listed["items"][0]["name"], "north");
    let next = listed["next_cursor"].as_str().expect("more");
    let rest = running.call(&Request::get(format!("/v1/packs?limit=1&cursor={next}"))).json();
    assert_eq!(
        (rest["items"][0]["version"].clone(), rest["items"][0]["applied"].clone()),
        (json!("3"), json!(true))
    );
    for name in ["RulesPack", "LabelSpellingsPack", "AftercarePack"] {
        let schema = running.call(&Request::get(format!("/v1/schemas/{name}")));
        assert_eq!(
            (schema.status, schema.json()["type"].clone()),
            (200, json!("object")),
            "{name}"
        );
    }
    let rules = running.call(&Request::get("/v1/packs?kind=rules")).json();
    assert_eq!(rules["items"].as_array().map(Vec::len), Some(1));
    assert_eq!(
        assess(&running, &case(&running, &json!({ "fish_oil": true })))["verdict"],
        "decline"
    );
}

/// Many ask while a pack comes and goes: each answer is of one rulebook, whole.
#[test]
fn every_answer_is_of_one_revision() {
    let running = Running::start();
    let body = case(&running, &json!({ "fish_oil": true }));
    let before = assess(&running, &body);
    let path = format!("{RULES}/house");
    let pack = json!({ "tighten": [{ "rule": "fish_oil", "verdict": "decline" }] });
    created(&running, &path, &pack);
    let with = assess(&running, &body);
    assert_ne!(before, with);
    let ended = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let asks: Vec<_> = (0..3)
            .map(|_| {
                scope.spawn(|| {
                    let mut seen = 0_u32;
                    while !ended.load(Ordering::Relaxed) {
                        let found = assess(&running, &body);
                        assert!(found == before || found == with, "{found}");
                        seen += 1;
                    }
                    seen
                })
            })
            .collect();
        for _ in 0..10 {
            let tag = running.call(&Request::get(&*path)).header("etag").expect("a tag").to_owned();
            let gone = Request::new("DELETE", &*path).header("If-Match", tag);
            assert_eq!(running.call(&gone).status, 200);
            created(&running, &path, &pack);
        }
        ended.store(true, Ordering::Relaxed);
        for ask in asks {
            assert!(0 < ask.join().expect("no panic"));
        }
    });
}
