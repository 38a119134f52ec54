//! A student never signs; what she did without a trainer there is told of.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::practice::{PLANTED, Studio, as_asked, marks, token};

/// A student never signs: not a sheet, not a sign-off, not a treatment, in no way.
#[test]
fn a_student_never_signs_in_any_way() {
    let studio = Studio::start();
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
    let handed = studio
        .send(&studio.anna, &Request::post(format!("{path}/attempts"), &as_asked(&sheet, true)));
    assert_eq!(handed.status, 201, "{}", handed.text());
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let body = json!({
        "client_ref": "client-1", "artist_ref": "anna", "treatment": "brows", "effect": "soft_shading",
        "performed_at": "2027-03-16T07:30:00Z", "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
    });
    let treated = studio.service.call(&Request::post("/v1/treatments", &body));
    assert_eq!(treated.status, 201, "{}", treated.text());
    let treatment = format!("/v1/treatments/{}", treated.json()["id"].as_str().expect("an id"));
    let read = |service: &Running| service.call(&Request::get(treatment.clone())).json();
    assert_eq!(read(&studio.service)["unsupervised"], true);
    let sign = json!({
        "artist_ref": "dora",
        "covers": { "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.3, "to": 0.3 },
                    "effect": "soft_shading", "site": "brow" },
        "rung": "alone", "valid_until": "2027-12-31",
    });
    let with_admin = json!(["admin"]);
    let holders = [
        ("a student", studio.anna.clone()),
        ("another student", studio.dora.clone()),
        ("a student with admin", token(&studio.service, "root", &with_admin, Some("anna"))),
    ];
    let pack = json!({ "name": "signs", "sign_offs": [sign] });
    let kansas = include_str!("../../../openapi/examples/packs/training-kansas.json");
    let kansas: Value = serde_json::from_str(kansas).expect("the example");
    let three = json!({ "diameter_mm": 0.3, "count": 3, "grouping": "round_shader" });
    for (who, holder) in &holders {
        for (way, request) in [
            ("a sign-off", Request::post("/v1/sign-offs", &sign)),
            ("with a name in the body", Request::post("/v1/sign-offs", &forged(&sign))),
            ("a replay", Request::post("/v1/sign-offs", &sign).header("Idempotency-Key", "\"k\"")),
            ("a pack", Request::put("/v1/packs/rules/signs", &pack)),
            ("a pack that is one", Request::put("/v1/packs/rules/training-kansas", &kansas)),
            ("marks", Request::post(format!("{path}/marks"), &marks(&sheet))),
            (
                "a countersignature",
                Request::post(format!("{treatment}/countersignatures"), &json!({})),
            ),
            (
                "an import of the old field",
                Request::merge(
                    "/v1/artists/anna",
                    &json!({ "practice": [{ "configuration": three, "on": "2027-03-01",
                                            "signed_off_by": "berta" }], "standing": "artist" }),
                )
                .header("If-Match", "*"),
            ),
            ("an import", Request::post("/v1/imports", &json!({ "sign_offs": [sign] }))),
            ("an override", check_of_anna(holder == &studio.dora)),
            (
                "a merge patch",
                Request::merge("/v1/artists/anna", &json!({ "standing": "artist" }))
                    .header("If-Match", "*"),
            ),
            (
                "a patch to be trainer",
                Request::merge("/v1/artists/anna", &json!({ "trainer": true }))
                    .header("If-Match", "*"),
            ),
        ] {
            let answer = studio.send(holder, &request);
            // Another student may be nobody's trainer; an admin who acts for one says nothing of herself.
            let refused = [403, 404, 422].contains(&answer.status);
            assert!(refused, "{who}, {way}: {} {}", answer.status, answer.text());
        }
        assert_eq!(read(&studio.service)["unsupervised"], true, "{who}");
    }
    let signed = studio.service.call(&Request::get("/v1/sign-offs")).json();
    assert_eq!(signed["items"], json!([]), "{signed}");
    let note = json!({ "note": PLANTED });
    let there = Request::post(format!("{treatment}/countersignatures"), &note);
    let answer = studio.send(&studio.berta, &there);
    assert_eq!(answer.status, 201, "{}", answer.text());
    let record = read(&studio.service);
    assert!(record.get("unsupervised").is_none(), "{record}");
    assert_eq!(record["countersignatures"][0]["signed_by"], "berta", "{record}");
    // Her practice is forgotten: the treatment still says who signed.
    let forgotten = Request::new("DELETE", "/v1/artists/anna/practice");
    assert_eq!(studio.service.call(&forgotten).status, 200);
    assert_eq!(read(&studio.service), record, "after her practice was forgotten");
    // The client is forgotten: nothing of her is shown, and who signed stays in the trace.
    let erase = Request::new("DELETE", "/v1/clients/client-1");
    let receipt = studio.service.call(&erase);
    assert_eq!(receipt.status, 200, "{}", receipt.text());
    let receipt = receipt.json();
    let kept = receipt["kept_records"].as_array().expect("records").clone();
    let signed = kept.iter().find(|one| one["kind"] == "countersignature").expect("kept");
    let members = signed["members"].as_array().expect("members");
    assert!(members.contains(&json!("signed_by")), "{receipt}");
    assert_eq!(studio.service.call(&Request::get(treatment.clone())).status, 404);
}

/// A check for which a student answers, in her own name or the trainer's.
fn check_of_anna(in_her_own_name: bool) -> Request {
    let by = if in_her_own_name { "dora" } else { "berta" };
    let body = json!({
        "booking_ref": "booking-1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15", "artist_ref": "anna",
        "candidates": ["0.30 3RS"],
        "overrides": [{ "rule": "training.not_practised", "reason": "I can", "by_ref": by }],
    });
    Request::post("/v1/appointment-checks", &body)
}

fn forged(sign: &Value) -> Value {
    let mut forged = sign.clone();
    forged["signed_by"] = "berta".into();
    forged
}

/// Who is not on record may be a student, where there are students.
#[test]
fn work_of_somebody_who_is_not_on_record_is_no_better_than_a_students() {
    let treat = |service: &Running, artist: &str| {
        let lot = etui_tests::happenings::receive_lot(service, "L1", "2029-01-31");
        let body = json!({
            "client_ref": "client-1", "artist_ref": artist, "treatment": "brows",
            "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
            "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
        });
        let made = service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        let id = made.json()["id"].as_str().expect("an id").to_owned();
        (service.call(&Request::get(format!("/v1/treatments/{id}"))).json(), id)
    };
    let studio = Studio::start();
    for (artist, unsupervised) in [("anna", true), ("nobody-knows", true), ("berta", false)] {
        let (record, _) = treat(&studio.service, artist);
        assert_eq!(record["unsupervised"] == true, unsupervised, "{artist}: {record}");
    }
    let without_students = Running::start();
    let (record, _) = treat(&without_students, "nobody-knows");
    assert!(record.get("unsupervised").is_none(), "{record}");
}

/// A trainer confirms what she saw: what tells it otherwise makes her word wanting again, and what
/// does not leaves it.
#[test]
fn what_is_told_otherwise_is_confirmed_no_longer() {
    let studio = Studio::start();
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let pack = json!({ "lot_id": lot, "intact": true, "site": "brow" });
    let body = json!({
        "client_ref": "client-1", "artist_ref": "anna", "treatment": "brows", "effect": "soft_shading",
        "performed_at": "2027-03-16T07:30:00Z", "packs": [pack],
    });
    let made = studio.service.call(&Request::post("/v1/treatments", &body));
    assert_eq!(made.status, 201, "{}", made.text());
    let path = format!("/v1/treatments/{}", made.json()["id"].as_str().expect("an id"));
    let confirm = || {
        let there = Request::post(format!("{path}/countersignatures"), &json!({}));
        assert_eq!(studio.send(&studio.berta, &there).status, 201);
    };
    confirm();
    for (case, what, wanting) in [
        ("the hand", json!({ "values": { "worked": { "hand": "light" } } }), false),
        ("the same effect", json!({ "values": { "effect": "soft_shading" } }), false),
        ("another effect", json!({ "values": { "effect": "dense_fill" } }), true),
        ("a pack more", json!({ "add_packs": [pack] }), true),
        ("a pack less", json!({ "strike_packs": [1] }), true),
        ("another day", json!({ "values": { "performed_at": "2027-03-12T07:30:00Z" } }), true),
        ("back again", json!({ "values": { "performed_at": "2027-03-16T07:30:00Z" } }), true),
    ] {
        let mut body = what.clone();
        body["reason"] = json!("mistyped");
        let amended = studio.service.call(&Request::post(format!("{path}/amendments"), &body));
        assert_eq!(amended.status, 201, "{case}: {}", amended.text());
        let read = || studio.service.call(&Request::get(&*path)).json();
        assert_eq!(read()["unsupervised"] == true, wanting, "{case}: {}", read());
        if wanting {
            confirm();
            assert!(read().get("unsupervised").is_none(), "{case}: {}", read());
        }
    }
}

/// A day later a countersignature that is wanting is told of, and 30 days before its end a
/// sign-off; each once.
#[test]
fn what_is_wanting_and_what_ends_is_told_once() {
    let studio = Studio::start();
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let treat = |artist: &str, confirmed: bool| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": artist, "treatment": "brows",
            "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
            "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
        });
        let made = studio.service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        let path = format!("/v1/treatments/{}", made.json()["id"].as_str().expect("an id"));
        if confirmed {
            let there = Request::post(format!("{path}/countersignatures"), &json!({}));
            assert_eq!(studio.send(&studio.berta, &there).status, 201);
        }
    };
    treat("anna", false);
    treat("anna", true);
    treat("berta", false);
    treat("nobody-knows", false);
    let sign = |until: &str| {
        let body = json!({
            "artist_ref": "anna", "rung": "under_eye", "valid_until": until,
            "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading",
                        "site": "brow", "diameter_mm": { "from": 0.3, "to": 0.3 } },
        });
        let given = studio.send(&studio.berta, &Request::post("/v1/sign-offs", &body));
        assert_eq!(given.status, 201, "{}", given.text());
        format!("/v1/sign-offs/{}", given.json()["id"].as_str().expect("an id"))
    };
    sign("2027-05-10");
    sign("2027-05-20");
    let back = sign("2027-05-10");
    let reason = json!({ "reason": "not steady yet" });
    let answer = studio.send(&studio.berta, &Request::post(format!("{back}/withdrawals"), &reason));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let told = |kind: &str, many: usize, at: &str| {
        studio.service.set_clock(at);
        let begun = std::time::Instant::now();
        while studio.events(kind) != many && begun.elapsed().as_secs() < 20 {
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        assert_eq!(studio.events(kind), many, "{kind}, {at}");
    };
    assert_eq!(studio.events("countersignature.due"), 0);
    told("countersignature.due", 2, "2027-03-17T09:00:00Z");
    told("sign_off.lapsing", 0, "2027-04-09T08:00:00Z");
    told("sign_off.lapsing", 1, "2027-04-10T08:00:00Z");
    assert_eq!(studio.events("countersignature.due"), 2);
    told("sign_off.lapsing", 2, "2027-04-20T08:00:00Z");
}

/// A record whose packs were all struck counts for nothing: nothing is wanting, since nothing of it
/// would be confirmed, until there is a pack again.
#[test]
fn a_struck_record_wants_no_trainer() {
    let studio = Studio::start();
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let pack = json!({ "lot_id": lot, "intact": true, "site": "brow" });
    let treat = || {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "anna", "treatment": "brows", "effect": "soft_shading",
            "performed_at": "2027-03-16T07:30:00Z", "packs": [pack],
        });
        let made = studio.service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        format!("/v1/treatments/{}", made.json()["id"].as_str().expect("an id"))
    };
    let (path, _) = (treat(), treat());
    let amend = |body: &Value| {
        let done = studio.service.call(&Request::post(format!("{path}/amendments"), body));
        assert_eq!(done.status, 201, "{}", done.text());
        studio.service.call(&Request::get(&*path)).json()
    };
    let told = |many: usize, at: &str| {
        studio.service.set_clock(at);
        let begun = std::time::Instant::now();
        while studio.events("countersignature.due") < many && begun.elapsed().as_secs() < 20 {
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        assert_eq!(studio.events("countersignature.due"), many, "{at}");
    };
    let struck = amend(&json!({ "reason": "twice", "strike_packs": [0] }));
    assert!(struck.get("unsupervised").is_none(), "{struck}");
    let there = Request::post(format!("{path}/countersignatures"), &json!({}));
    assert_eq!(studio.send(&studio.berta, &there).status, 422);
    told(1, "2027-03-18T09:00:00Z");
    let again = amend(&json!({ "reason": "it was", "add_packs": [pack] }));
    assert_eq!(again["unsupervised"], true, "{again}");
    told(2, "2027-03-19T10:00:00Z");
}
