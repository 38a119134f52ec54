//! How German speaks to clients: Sie, or du where the studio says so.

use etui_schema::vocabulary::Address;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

/// Words that address somebody formally. At the beginning of a sentence they may
/// mean "they"; here they are looked for within one.
const FORMAL: [&str; 8] = ["Sie", "Ihnen", "Ihr", "Ihre", "Ihren", "Ihrem", "Ihrer", "Ihres"];
const FAMILIAR: [&str; 9] =
    ["du", "dir", "dich", "dein", "deine", "deinen", "deinem", "deiner", "deines"];

fn says(text: &str, words: &[&str]) -> bool {
    text.split(|c: char| !c.is_alphanumeric()).any(|word| words.contains(&word))
}

/// What a client reads of a studio: questions, a check's page, messages, the
/// aftercare sheet, a judged report.
fn read_by_clients(running: &Running) -> String {
    let ask = |request: Request| {
        let answer = running.call(&request.header("Accept-Language", "de"));
        assert!(answer.status < 300, "{}", answer.text());
        answer
    };
    let questions = ask(Request::get("/v1/screening-questions?treatment=lips&on=2027-04-06"));
    let mut told: Vec<String> = questions.json()["questions"]
        .as_array()
        .expect("questions")
        .iter()
        .filter(|question| question["asked_of"] == json!("client"))
        .flat_map(|question| [question["text"].clone(), question["why"].clone()])
        .map(|text| text.as_str().unwrap_or_default().to_owned())
        .collect();
    let client = json!({ "born_on": "1984-05-02", "language": "de" });
    ask(Request::put("/v1/clients/ilse", &client));
    let check = json!({
        "booking_ref": "ilse-lips", "client_ref": "ilse", "treatment": "lips", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z", "zone": "Europe/Berlin", "candidates": "usual",
        "answers": { "cold_sore_history": true, "warfarin": true, "medicines": ["antibiotics"] },
    });
    let check = ask(Request::post("/v1/appointment-checks", &check)).json();
    let id = check["id"].as_str().expect("an id");
    told.push(ask(Request::get(format!("/v1/appointment-checks/{id}/sheet"))).text());
    let lot =
        json!({ "text": "0.25 5RS LOT A EXP 2029-02-28 STERILE EO", "packs": 2, "maker": "m" });
    let lot = ask(Request::post("/v1/lots", &lot)).json();
    let treatment = json!({
        "client_ref": "ilse", "artist_ref": "juna", "treatment": "lips", "effect": "soft_shading",
        "performed_at": "2027-03-16T07:30:00Z", "zone": "Europe/Berlin",
        "packs": [{ "lot_id": lot["id"], "intact": true, "site": "lip" }],
    });
    let treatment = ask(Request::post("/v1/treatments", &treatment)).json();
    let id = treatment["id"].as_str().expect("an id");
    told.push(ask(Request::get(format!("/v1/treatments/{id}/aftercare-sheet"))).text());
    let reminders = ask(Request::get("/v1/reminders?limit=200")).json();
    let texts = reminders["items"].as_array().expect("reminders").iter();
    told.extend(texts.filter_map(|one| one["text"].as_str().map(str::to_owned)));
    let report =
        json!({ "symptoms": [{ "kind": "heat", "severity": "moderate", "trend": "worse" }] });
    let report = ask(Request::post(format!("/v1/treatments/{id}/symptom-reports"), &report)).json();
    let judged = &report["judgement"];
    told.extend(judged["do_now"].as_array().expect("what to do").iter().map(Value::to_string));
    told.push(judged["report_again"].to_string());
    told.join("\n")
}

#[test]
fn a_studio_says_sie_or_du_throughout() {
    for (address, own, other) in
        [(Address::Sie, &FORMAL[1..], &FAMILIAR[..]), (Address::Du, &FAMILIAR[..], &FORMAL[1..])]
    {
        let running = Running::start_with(|config| config.german = address);
        let capable = running.call(&Request::get("/v1/capabilities")).json();
        assert_eq!(capable["german"], json!(address.as_str()));
        let told = read_by_clients(&running);
        let wrong: Vec<&str> = told.lines().filter(|line| says(line, other)).collect();
        assert!(wrong.is_empty(), "{address}: {wrong:#?}");
        assert!(10 < told.lines().filter(|line| says(line, own)).count(), "{address}: {told}");
    }
}
