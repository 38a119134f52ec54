//! What the law of a place asks of training: a rules pack brings it, and it only adds.

use std::cell::Cell;

use etui_tests::happenings::receive_lot;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

use crate::practice;

/// The worked example, as a studio in Kansas would put it.
const KANSAS: &str = include_str!("../../../openapi/examples/packs/training-kansas.json");
const PLACE: &str = "training.place";

fn token(service: &Running, name: &str, acts_for: &str) -> String {
    let scopes = json!(["sign-offs", "checks:write", "treatments:write"]);
    practice::token(service, name, &scopes, Some(acts_for))
}

fn kansas() -> Value {
    serde_json::from_str(KANSAS).expect("the example")
}

/// The example with so few treatments that a test can record them.
fn with(training: &Value) -> Value {
    let mut pack = kansas();
    let own = pack["training"].as_object_mut().expect("what it asks");
    own.extend(training.as_object().cloned().unwrap_or_default());
    own.retain(|_, value| !value.is_null());
    pack
}

fn put_pack(service: &Running, pack: &Value) -> Answer {
    let path = "/v1/packs/rules/training-kansas";
    let held = service.call(&Request::get(path));
    let mut request = Request::put(path, pack);
    if held.status == 200 {
        request = request.header("If-Match", held.header("etag").unwrap_or("*"));
    }
    service.call(&request)
}

struct Studio {
    service: Running,
    berta: String,
    lot: Value,
    /// How many treatments were recorded: each lies a day before the last.
    treated: Cell<u8>,
}

fn studio() -> Studio {
    let service = Running::start();
    for (artist, body) in [
        ("anna", json!({ "hand": "light", "standing": "student" })),
        ("clara", json!({ "hand": "medium" })),
        ("berta", json!({ "hand": "medium", "trainer": true })),
    ] {
        let answer = service.call(&Request::put(format!("/v1/artists/{artist}"), &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let berta = token(&service, "berta", "berta");
    let lot = json!(receive_lot(&service, "L1", "2029-01-31"));
    Studio { service, berta, lot, treated: Cell::new(0) }
}

impl Studio {
    fn send(&self, request: &Request) -> Answer {
        self.service.call(&request.clone().token(&self.berta))
    }

    /// A treatment of Anna's, and whether Berta confirms it.
    fn treated(&self, artist: &str, treatment: (&str, &str, &str), confirmed: bool) -> String {
        self.treated.set(self.treated.get() + 2);
        let at = format!("2027-02-{:02}T07:30:00Z", 28 - self.treated.get());
        self.treated_at(artist, treatment, confirmed, ("client-1", &at))
    }

    /// The same of a client at a moment.
    fn treated_at(
        &self,
        artist: &str,
        treatment: (&str, &str, &str),
        confirmed: bool,
        (client, at): (&str, &str),
    ) -> String {
        let (treatment, effect, site) = treatment;
        let body = json!({
            "client_ref": client, "artist_ref": artist, "treatment": treatment, "effect": effect,
            "performed_at": at,
            "packs": [{ "lot_id": self.lot, "intact": true, "site": site }],
        });
        let answer = self.service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let path = format!("/v1/treatments/{}", answer.json()["id"].as_str().expect("an id"));
        if confirmed {
            let there = Request::post(format!("{path}/countersignatures"), &json!({}));
            let answer = self.send(&there);
            assert_eq!(answer.status, 201, "{}", answer.text());
        }
        path
    }

    fn sign(&self, artist: &str, rung: &str) -> Answer {
        let body = json!({
            "artist_ref": artist, "rung": rung, "valid_until": "2027-12-31",
            "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading",
                        "site": "brow", "diameter_mm": { "from": 0.30, "to": 0.30 } },
        });
        self.send(&Request::post("/v1/sign-offs", &body))
    }

    fn check(&self, artist: &str, but: &Value) -> Answer {
        let asked = "/v1/screening-questions?treatment=brows&on=2027-04-06";
        let asked = self.service.call(&Request::get(asked)).json();
        let answers: Map<String, Value> = asked["questions"]
            .as_array()
            .expect("questions")
            .iter()
            .filter(|one| one.get("ask_if").is_none() && one["optional"] != true)
            .filter_map(|one| {
                Some((one["id"].as_str()?.to_owned(), one.get("clear_answer")?.clone()))
            })
            .collect();
        crate::sign_offs::known(&self.service, "client-2");
        let mut body = json!({
            "booking_ref": "booking-1", "client_ref": "client-2", "treatment": "brows",
            "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
            "skin": { "phototype": "II" }, "answers": answers, "candidates": ["0.30 3RS"], "artist_ref": artist,
            "patch_test": { "made_at": "2027-03-10T10:00:00Z", "read_at": "2027-03-12T10:00:00Z",
            "result": "clear", "pigment_batch": "B1" },
            "pigments": [{ "batch": "B1", "label": {
                "statement": "yes", "ingredients": "yes", "nickel_notice": "no",
                "chromium_notice": "no", "safety_instructions": "yes" } }],
        });
        body.as_object_mut()
            .expect("an object")
            .extend(but.as_object().cloned().unwrap_or_default());
        self.send(&Request::post("/v1/appointment-checks", &body))
    }

    fn verdict(&self, artist: &str) -> (Value, Option<Value>) {
        let found = self.check(artist, &json!({})).json();
        let all = found["findings"].as_array().expect("findings").clone();
        let place = all.into_iter().find(|one| one["rule"] == PLACE);
        (found["verdict"].clone(), place)
    }
}

const BROW: (&str, &str, &str) = ("brows", "soft_shading", "brow");
const LIP: (&str, &str, &str) = ("lips", "soft_shading", "lip");

#[test]
fn without_the_confirmed_treatments_nobody_is_signed_off_to_work_alone() {
    let studio = studio();
    assert_eq!(put_pack(&studio.service, &kansas()).status, 201);
    let refused = studio.sign("anna", "alone");
    assert_eq!(refused.status, 422, "{}", refused.text());
    let fault = refused.json()["errors"][0].clone();
    assert_eq!((&fault["pointer"], &fault["code"]), (&json!("#/rung"), &json!("not_allowed")));
    let message = fault["message"].as_str().expect("why");
    for told in ["K.S.A. 65-1943", "50", "training-kansas"] {
        assert!(message.contains(told), "{message}");
    }
    // Under the eye she may work; an artist is not asked.
    assert_eq!(studio.sign("anna", "under_eye").status, 201);
    assert_eq!(studio.sign("clara", "alone").status, 201);
    let (verdict, place) = studio.verdict("anna");
    let place = place.expect("the law speaks");
    assert_eq!(verdict, "proceed_with_conditions");
    assert_eq!((&place["law"], &place["pack"]), (&json!(true), &json!("training-kansas")));
    assert_eq!(place["evidence"][0]["sources"][0], "ks-65-1943");
    assert_eq!(studio.verdict("clara"), (json!("proceed"), None));
    // Nobody answers for it, not even a trainer; for what practice asks she may.
    let with = |rule: &str| json!({ "overrides": [{ "rule": rule, "reason": "I stand beside her", "by_ref": "berta" }] });
    let answer = studio.check("anna", &with(PLACE));
    assert_eq!(answer.json()["errors"][0]["pointer"], "#/overrides/0/rule", "{}", answer.text());
    let answer = studio.check("anna", &with("training.under_eye"));
    assert_eq!(
        (answer.status, &answer.json()["verdict"]),
        (201, &json!("proceed_with_conditions"))
    );
}

/// Who was signed off before is not let off; what counts is confirmed, hers, and of the
/// treatment, if the law says so.
#[test]
fn what_counts_is_confirmed_and_hers() {
    let studio = studio();
    assert_eq!(studio.sign("anna", "alone").status, 201);
    assert_eq!(studio.verdict("anna"), (json!("proceed"), None));
    let two = with(&json!({ "least_treatments": 2, "counted": "treatment" }));
    assert_eq!(put_pack(&studio.service, &two).status, 201);
    let wanting = |case: &str| {
        let (verdict, place) = studio.verdict("anna");
        assert_eq!(verdict, "proceed_with_conditions", "{case}");
        assert!(place.is_some(), "{case}");
    };
    wanting("signed off before there was a law");
    let alone = studio.treated("anna", BROW, false);
    let read = |path: &str| studio.service.call(&Request::get(path)).json();
    assert_eq!(read(&alone)["unsupervised"], true, "alone, though the law asks for an eye");
    wanting("not confirmed");
    studio.treated("anna", LIP, true);
    studio.treated("anna", LIP, true);
    wanting("another treatment");
    studio.treated("clara", BROW, true);
    wanting("another's");
    let first = studio.treated("anna", BROW, true);
    let again = Request::post(format!("{first}/countersignatures"), &json!({}));
    assert_eq!(studio.send(&again).status, 201);
    wanting("one treatment, confirmed twice");
    studio.treated("anna", BROW, true);
    assert_eq!(studio.verdict("anna"), (json!("proceed"), None), "two");
    assert_eq!(studio.sign("anna", "alone").status, 201);
    // A client who is forgotten takes no confirmation away.
    let gone = studio.service.call(&Request::new("DELETE", "/v1/clients/client-1"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    assert_eq!(studio.verdict("anna"), (json!("proceed"), None));
    // All count together where the law does not count apart.
    let five = with(&json!({ "least_treatments": 5, "counted": "all" }));
    assert_eq!(put_pack(&studio.service, &five).status, 200);
    wanting("four of five");
    studio.treated("anna", LIP, true);
    assert_eq!(studio.verdict("anna"), (json!("proceed"), None), "five");
}

/// What is written down twice is one treatment, and what is told otherwise since it was confirmed
/// is confirmed no longer.
#[test]
fn a_double_counts_once_and_what_was_told_otherwise_not_at_all() {
    let studio = studio();
    let two = with(&json!({ "least_treatments": 2, "counted": "treatment" }));
    assert_eq!(put_pack(&studio.service, &two).status, 201);
    let wanting = |case: &str| {
        let refused = studio.sign("anna", "alone");
        assert_eq!(refused.status, 422, "{case}: {}", refused.text());
    };
    let first = "2027-03-10T07:30:00Z";
    let path = studio.treated_at("anna", BROW, true, ("client-1", first));
    for (case, at) in [("the same moment", first), ("the same session", "2027-03-10T15:00:00Z")] {
        studio.treated_at("anna", BROW, true, ("client-1", at));
        wanting(case);
    }
    let amend = |values: &Value| {
        let body = json!({ "reason": "mistyped", "values": values });
        let answer = studio.service.call(&Request::post(format!("{path}/amendments"), &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    };
    amend(&json!({ "performed_at": "2027-03-01T07:30:00Z" }));
    wanting("another day than was confirmed");
    let there = Request::post(format!("{path}/countersignatures"), &json!({}));
    assert_eq!(studio.send(&there).status, 201);
    assert_eq!(studio.sign("anna", "alone").status, 201);
    amend(&json!({ "effect": "dense_fill" }));
    wanting("another effect than was confirmed");
    assert_eq!(studio.send(&there).status, 201);
    assert_eq!(studio.sign("anna", "alone").status, 201);
    // A record of which no pack is left is of no work, and nobody confirms it.
    let body = json!({ "reason": "another client", "strike_packs": [0] });
    let struck = studio.service.call(&Request::post(format!("{path}/amendments"), &body));
    assert_eq!(struck.status, 201, "{}", struck.text());
    wanting("its packs were struck");
    assert_eq!(studio.send(&there).status, 422);
    wanting("and nobody confirmed that");
    // Not even where nobody can read any more what it was.
    let gone = studio.service.call(&Request::new("DELETE", "/v1/clients/client-1"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    wanting("its client was forgotten");
}

#[test]
fn a_trainer_has_her_years_or_trains_nobody() {
    let studio = studio();
    let years =
        with(&json!({ "least_treatments": 1, "trainer_years": 5, "students_per_trainer": 1 }));
    assert_eq!(put_pack(&studio.service, &years).status, 201);
    let since = |day: &str| {
        let body = json!({ "licensed_on": day });
        let patch = Request::merge("/v1/artists/berta", &body).header("If-Match", "*");
        assert_eq!(studio.service.call(&patch).status, 200, "{day}");
    };
    let today = ("client-1", "2027-03-16T07:30:00Z");
    let path = studio.treated_at("anna", BROW, false, today);
    let there = Request::post(format!("{path}/countersignatures"), &json!({}));
    for (day, trains) in [(None, false), (Some("2022-03-17"), false), (Some("2022-03-16"), true)] {
        if let Some(day) = day {
            since(day);
        }
        let (sign, confirm) = (studio.sign("anna", "under_eye"), studio.send(&there));
        let want = if trains { 201 } else { 422 };
        assert_eq!((sign.status, confirm.status), (want, want), "{day:?}: {}", sign.text());
    }
    // Her years are those that she had when she was there, and as far as they are known now.
    assert_eq!(studio.verdict("anna").1, None);
    since("2022-03-17");
    assert!(studio.verdict("anna").1.is_some(), "a day too few");
    since("2022-03-16");
    assert_eq!(studio.verdict("anna").1, None);
    let before = studio.treated_at("anna", BROW, false, ("client-3", "2027-03-10T07:30:00Z"));
    let before = Request::post(format!("{before}/countersignatures"), &json!({}));
    assert_eq!(studio.send(&before).status, 422, "too few by then");
    // The owner is no artist with years.
    let body = json!({
        "artist_ref": "anna", "rung": "under_eye", "valid_until": "2027-12-31",
        "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading",
                    "site": "brow", "diameter_mm": { "from": 0.30, "to": 0.30 } },
    });
    assert_eq!(studio.service.call(&Request::post("/v1/sign-offs", &body)).status, 422);
    // Nobody says it of herself.
    let own = Request::merge("/v1/artists/berta", &json!({ "licensed_on": "2001-01-01" }));
    assert!([403, 422].contains(&studio.send(&own.header("If-Match", "*")).status));
}

#[test]
fn a_pack_names_a_law_and_asks_for_something() {
    let service = Running::start();
    for (case, training, pointer) in [
        ("no such source", json!({ "source": "nowhere" }), "#/training/source"),
        ("a habit is no law", json!({ "source": "common-practice" }), "#/training/source"),
        ("asks for nothing", json!({ "least_treatments": null }), "#/training"),
        ("none", json!({ "least_treatments": 0 }), "#/training/least_treatments"),
        ("loosens", json!({ "overridable": true }), "#/training/overridable"),
    ] {
        let answer = put_pack(&service, &with(&training));
        assert!([400, 422].contains(&answer.status), "{case}: {} {}", answer.status, answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{case}: {}", answer.text());
    }
    assert_eq!(put_pack(&service, &kansas()).status, 201);
    let read = service.call(&Request::get("/v1/packs/rules/training-kansas")).json();
    assert_eq!(
        (&read["applied"], &read["pack"]["training"]["least_treatments"]),
        (&json!(true), &json!(50))
    );
}
