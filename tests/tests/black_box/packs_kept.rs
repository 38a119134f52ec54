//! Packs beside what is kept: two changes at once, and how much rests on a pack.

use etui_schema::packs::{AftercarePack, LabelSpellingsPack, RulesPack};
use etui_schema::vocabulary::Reference;
use etui_service::http::boot::open_studio;
use etui_service::http::clock::{Sources, System};
use etui_service::store::{Serve, Store, StoreError, harden_sync};
use etui_service::studio::moment::{Mandate, Moment};
use etui_service::studio::packs::{self, Change};
use etui_service::studio::plan::Precondition;
use etui_service::studio::{Error, Studio};
use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Map, Value, json};

use crate::packs::{AFTERCARE, ON, RULES, SPELLINGS, created, healthy, own_rule};
use crate::reminders::House;

/// A change of a pack: what is put under a path, or that it is taken away.
type Wanted = (&'static str, &'static str, Option<Value>);

async fn plan(studio: &Studio, (kind, name, body): &Wanted) -> Result<Change, Error> {
    let now = System.now();
    let today = studio.zone.rules().to_datetime(now).date();
    let moment = Moment {
        now,
        dated: now,
        today,
        holder: "owner".to_owned(),
        mandate: Mandate::default(),
        event_source: studio.event_source.clone(),
        sources: std::sync::Arc::new(System),
    };
    let mut snap = studio.engine.snapshot().await.expect("a view");
    let name: Reference = name.parse().expect("a name");
    let whatever = Precondition { if_match: Some("*".to_owned()), only_new: false };
    let new = Precondition::default();
    let Some(body) = body.clone() else {
        let kind = kind.parse().expect("a kind");
        return packs::remove(studio, &mut snap, &moment, kind, &name, &whatever).await;
    };
    match *kind {
        "rules" => {
            let pack: RulesPack = serde_json::from_value(body).expect("a pack");
            packs::put(studio, &mut snap, &moment, &name, (&pack, &Map::new()), &new).await
        }
        "label-spellings" => {
            let pack: LabelSpellingsPack = serde_json::from_value(body).expect("a pack");
            packs::put(studio, &mut snap, &moment, &name, (&pack, &Map::new()), &new).await
        }
        _ => {
            let pack: AftercarePack = serde_json::from_value(body).expect("a pack");
            packs::put(studio, &mut snap, &moment, &name, (&pack, &Map::new()), &new).await
        }
    }
}

fn step(text: &str) -> Value {
    json!({ "step": [{
        "key": "house_balm", "kind": "do", "from_day": 0, "to_day": 7, "message": true,
        "text": { "en": text }, "sources": { "days": "common-practice", "text": "common-practice" },
    }]})
}

/// Each of two changes is sound by itself, and not beside the other. Both are
/// planned before either is written; one of them has to be planned again.
#[tokio::test]
async fn two_packs_that_are_sound_alone_and_not_together_are_not_both_kept() {
    let code = |grouping: &str| json!({ "code": [{ "text": "ZZ", "grouping": grouping }] });
    let tighter = json!({ "tighten": [{ "rule": "race", "verdict": "decline" }] });
    let cases: [(&str, Option<Wanted>, Wanted, Wanted); 4] = [
        (
            "the same rule in both",
            None,
            ("rules", "a", Some(own_rule("race"))),
            ("rules", "b", Some(own_rule("race"))),
        ),
        (
            "one takes away what the other needs",
            Some(("rules", "a", Some(own_rule("race")))),
            ("rules", "a", None),
            ("rules", "b", Some(tighter)),
        ),
        (
            "two meanings of one code",
            None,
            ("label-spellings", "a", Some(code("flat"))),
            ("label-spellings", "b", Some(code("round_liner"))),
        ),
        (
            "two sentences of one step",
            None,
            ("aftercare", "a", Some(step("Use the balm."))),
            ("aftercare", "b", Some(step("Use the other balm."))),
        ),
    ];
    for (case, before, one, other) in cases {
        for (first, second) in [(&one, &other), (&other, &one)] {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let config = engine::settings(folder.path());
            let opened = open_studio(&config, &System, harden_sync()).await;
            let mut studio = opened.expect("the studio opens").0;
            if let Some(before) = &before {
                let made = plan(&studio, before).await.ok().unwrap_or_else(|| panic!("{case}"));
                studio.engine.commit(made.planned.batch).await.expect("written");
                studio = studio.with_craft(made.craft);
            }
            let made = plan(&studio, first).await.ok().unwrap_or_else(|| panic!("{case}"));
            let late = plan(&studio, second).await.ok().unwrap_or_else(|| panic!("{case}"));
            studio.engine.commit(made.planned.batch).await.expect("written");
            let met = studio.engine.commit(late.planned.batch).await;
            assert!(matches!(met, Err(StoreError::Conflict { .. })), "{case}: {met:?}");
            let again = plan(&studio, second).await.err();
            let refused = matches!(again, Some(Error::Refused(_) | Error::Conflict(..)));
            assert!(refused, "{case}: {again:?}");
            studio.engine.close().await.expect("closed");
        }
    }
}

fn change(running: &Running, path: &str, pack: Option<&Value>) -> Value {
    let held = running.call(&Request::get(path));
    let mut request = match pack {
        Some(pack) => Request::put(path, pack),
        None => Request::new("DELETE", path),
    };
    if held.status == 200 {
        request = request.header("If-Match", held.header("etag").expect("a tag"));
    }
    let answer = running.call(&request);
    assert!(matches!(answer.status, 200 | 201), "{}", answer.text());
    let read = running.call(&Request::get(path));
    if pack.is_some() {
        assert_eq!(read.header("etag"), answer.header("etag"), "the tag of what is kept");
        assert!(read.json().get("affects").is_none(), "only a change is counted for");
    }
    answer.json()["affects"].clone()
}

fn affects(clients: u32, checks: u32, reminders: u32) -> Value {
    json!({ "clients": clients, "checks": checks, "reminders": reminders, "complete": true })
}

fn check(running: &Running, n: u32, but: &Value) {
    let body = json!({
        "booking_ref": format!("booking-{n}"), "client_ref": format!("client-{n}"),
        "treatment": "lips", "effect": "soft_shading", "starts_at": format!("{ON}T08:00:00Z"),
        "born_on": "1990-06-15", "answers": healthy(running, "lips", but), "candidates": "usual",
    });
    let answer = running.call(&Request::post("/v1/appointment-checks", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
}

#[test]
fn a_change_tells_how_many_clients_and_checks_hold_answers_to_its_questions() {
    let running = Running::start();
    let path = format!("{RULES}/house");
    let mut pack = own_rule("race");
    assert_eq!(
        change(&running, &path, Some(&pack)),
        affects(0, 0, 0),
        "nothing rests on a new one"
    );
    for (client, answers) in [
        ("c-1", json!({ "race_asked": false })),
        ("c-2", json!({})),
        ("c-3", json!({ "race_asked": true })),
    ] {
        let body = json!({ "born_on": "1990-06-15", "answers": answers });
        let put = running.call(&Request::put(format!("/v1/clients/{client}"), &body));
        assert_eq!(put.status, 201, "{}", put.text());
    }
    check(&running, 0, &json!({ "race_asked": true }));
    check(&running, 1, &json!({ "race_asked": false }));
    assert_eq!(change(&running, &path, Some(&pack)), affects(2, 2, 0), "put again as it is");
    // A rule that is built in speaks in one check; a pack that tightens it touches that one.
    check(&running, 2, &json!({ "race_asked": false, "cold_sore_history": true }));
    let strict = json!({ "tighten": [{ "rule": "cold_sore_history", "verdict": "decline" }] });
    let ask = json!({ "pack": strict });
    let tried = running.call(&Request::post(format!("{RULES}/strict/dry-runs"), &ask)).json();
    assert_eq!(tried["affects"], affects(0, 1, 0), "{tried}");
    let tried = running.call(&Request::post(format!("{RULES}/house/dry-runs"), &ask)).json();
    assert_eq!(tried["affects"], affects(2, 3, 0), "as it is kept and as it would be: {tried}");
    pack["enabled"] = json!(false);
    assert_eq!(change(&running, &path, Some(&pack)), affects(2, 3, 0), "switched off");
    // Of somebody who was erased nothing is left.
    let erased = Request::new("DELETE", "/v1/clients/c-3").header("If-Match", "*");
    assert_eq!(running.call(&erased).status, 200);
    assert_eq!(change(&running, &path, None), affects(1, 3, 0), "taken away");
    assert_eq!(change(&running, &path, Some(&json!({}))), affects(0, 0, 0));
}

#[test]
fn a_change_tells_how_many_messages_of_it_are_still_open() {
    let house = House::open();
    let path = format!("{AFTERCARE}/house");
    created(&house.running, &path, &step("Use the balm for {days} days."));
    house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    house.treat("c-2", "brows", "2027-03-16T07:00:00Z");
    let other = step("Use the balm.");
    assert_eq!(change(&house.running, &path, Some(&other)), affects(0, 0, 2), "another sentence");
    assert_eq!(change(&house.running, &path, None), affects(0, 0, 2), "taken away");
    // What was read with a spelling is not kept: nothing is counted.
    let north = format!("{SPELLINGS}/north");
    let noise = json!({ "noise": ["ZETA"] });
    assert_eq!(change(&house.running, &north, Some(&noise)), Value::Null);
}

/// "A pack that was taken away goes on sending": what nobody says any more is not sent, whether
/// its pack was taken away, switched off or says something else by now.
#[test]
fn a_pack_that_was_taken_away_sends_nothing() {
    let path = format!("{AFTERCARE}/house");
    let off = || {
        let mut pack = step("Use the balm.");
        pack["enabled"] = json!(false);
        pack
    };
    for (case, next) in [
        ("taken away", None),
        ("switched off", Some(off())),
        ("another sentence", Some(step("Use the other balm."))),
    ] {
        let house = House::open();
        created(&house.running, &path, &step("Use the balm."));
        let id = house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
        change(&house.running, &path, next.as_ref());
        let plan = house.running.call(&Request::get(format!("/v1/treatments/{id}/aftercare")));
        let plan = plan.json();
        let steps = plan["steps"].as_array().expect("steps").iter();
        let promised = steps.filter(|one| one["key"] == "house_balm" && one["message"] == true);
        assert_eq!(promised.count(), 0, "{case}: the plan promises it");
        house.running.set_clock("2027-03-17T07:00:00Z");
        let claimed = house.claim(200, 600).reminders;
        assert!(!claimed.is_empty(), "{case}: what is built in goes on");
        assert!(claimed.iter().all(|one| !one.text.contains("balm.")), "{case}: {claimed:?}");
    }
}

/// "A pack added later stands in the plan of older treatments and is never sent": the plan says
/// so, and the treatments after it have the message.
#[test]
fn a_new_packs_messages_are_not_promised_to_older_treatments() {
    let house = House::open();
    let before = house.treat("c-1", "lips", "2027-03-16T07:00:00Z");
    created(&house.running, &format!("{AFTERCARE}/house"), &step("Use the balm."));
    let after = house.treat("c-2", "lips", "2027-03-16T07:00:00Z");
    let balm = |id: &str| {
        let path = format!("/v1/treatments/{id}/aftercare");
        let plan = house.running.call(&Request::get(&path)).json();
        let steps = plan["steps"].as_array().cloned().expect("steps");
        let found = steps.into_iter().find(|one| one["key"] == "house_balm").expect("the step");
        let calendar = house.running.call(&Request::get(format!("{path}.ics"))).text();
        (found["message"].clone(), calendar.matches("BEGIN:VEVENT").count())
    };
    let ((older, shown_before), (newer, shown_after)) = (balm(&before), balm(&after));
    assert_eq!((older, newer), (json!(false), json!(true)));
    assert_eq!(shown_before + 1, shown_after, "the calendar shows what is sent");
    house.running.set_clock("2027-03-17T07:00:00Z");
    let claimed = house.claim(200, 600).reminders;
    let told: Vec<&str> = claimed
        .iter()
        .filter(|one| one.text == "Use the balm.")
        .map(|one| one.client_ref.as_str())
        .collect();
    assert_eq!(told, ["c-2"]);
}

/// A sentence with a word that is not known to be plain goes to nobody until somebody in the studio
/// is named who has read it; then it does, and what may never be said is refused all the same.
#[test]
fn a_sentence_that_no_list_can_judge_is_kept_with_the_name_of_whoever_read_it() {
    let running = Running::start();
    let path = format!("{AFTERCARE}/house");
    let told = |body: &Value| running.call(&Request::put(&*path, body));
    let mut strange = step("Keep the alphorn in its case for a week.");
    let refused = told(&strange);
    assert_eq!(refused.status, 422, "{}", refused.text());
    let fault = refused.problem().errors.remove(0);
    assert_eq!(fault.pointer, "#/step/0/text/en", "{}", refused.text());
    assert!(fault.message.contains("alphorn") && fault.message.contains("read_by"));
    strange["read_by"] = json!("artist-1");
    let kept = told(&strange);
    assert_eq!(kept.status, 201, "{}", kept.text());
    assert_eq!(kept.json()["pack"]["read_by"], "artist-1", "{}", kept.text());
    let mut harmful = step("Come without having taken your tablets.");
    harmful["read_by"] = json!("artist-1");
    let refused = running.call(&Request::put(format!("{AFTERCARE}/other"), &harmful));
    assert_eq!(refused.status, 422, "{}", refused.text());
    // A rules pack is held to the same, but for what it asks.
    let mut rules = own_rule("horn");
    rules["texts"]["question.horn_asked.ask"] = json!({ "en": "Do you play the alphorn?" });
    let asked = running.call(&Request::put(format!("{RULES}/horn"), &rules));
    assert_eq!(asked.status, 201, "{}", asked.text());
    let mut rules = own_rule("brass");
    rules["texts"]["rule.brass.say"] = json!({ "en": "Plan the visit after the alphorn season." });
    let said = running.call(&Request::put(format!("{RULES}/brass"), &rules));
    assert_eq!(said.status, 422, "{}", said.text());
    let pointers: Vec<_> = said.problem().errors.into_iter().map(|fault| fault.pointer).collect();
    assert_eq!(pointers, ["#/texts/rule.brass.say/en"]);
}

/// An answer to a question of a pack that was taken away stays where it is, and keeps nobody from
/// putting the client.
#[test]
fn a_client_is_put_although_a_pack_has_gone() {
    let running = Running::start();
    let put = running.call(&Request::put(format!("{RULES}/horn"), &own_rule("horn")));
    assert_eq!(put.status, 201, "{}", put.text());
    let path = "/v1/clients/client-1";
    let told = json!({ "answers": { "horn_asked": true, "pregnant": false } });
    assert_eq!(running.call(&Request::put(path, &told)).status, 201);
    let tag = |of: &str| running.call(&Request::get(of)).header("etag").expect("a tag").to_owned();
    let pack = format!("{RULES}/horn");
    let gone = Request::new("DELETE", &*pack).header("If-Match", tag(&pack));
    assert!(running.call(&gone).status < 300);
    let change = json!({ "answers": { "pregnant": true } });
    let patched = running.call(&Request::merge(path, &change).header("If-Match", tag(path)));
    assert_eq!(patched.status, 200, "{}", patched.text());
    assert_eq!(patched.json()["answers"], json!({ "horn_asked": true, "pregnant": true }));
    let back = running.call(&Request::get(path)).json();
    let back = running.call(&Request::put(path, &back).header("If-Match", tag(path)));
    assert_eq!(back.status, 200, "{}", back.text());
    // Told otherwise, or of another client, it is an answer to no question.
    let other = json!({ "answers": { "horn_asked": false } });
    let refused = running.call(&Request::put(path, &other).header("If-Match", tag(path)));
    assert_eq!(refused.status, 422, "{}", refused.text());
    let refused = running.call(&Request::put("/v1/clients/client-2", &told));
    assert_eq!(refused.status, 422, "{}", refused.text());
}
