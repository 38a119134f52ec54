//! A reaction of the studio's own skin test, over several checks. A patient who
//! reacts once may react again (Schubert et al. 2023): a skin doctor looks first.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use super::packs::healthy;

const CLIENT: &str = "/v1/clients/client-1";

fn check(running: &Running, client: &str, treatment: &str, members: &Value) -> Value {
    let mut body = json!({
        "booking_ref": format!("booking-{treatment}"), "client_ref": client,
        "treatment": treatment, "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z",
        "born_on": "1990-06-15", "candidates": "usual", "answers": healthy(running, treatment, &json!({})),
    });
    let more = members.as_object().cloned().unwrap_or_default();
    body.as_object_mut().expect("an object").extend(more);
    let answer = running.call(&Request::post("/v1/appointment-checks", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn test_of(result: &str) -> Value {
    json!({ "patch_test": {
        "made_at": "2027-03-10T09:00:00Z", "read_at": "2027-03-13T09:00:00Z", "result": result,
    } })
}

fn changed(running: &Running, how: impl Fn(String) -> Request) -> Answer {
    let tag = running.call(&Request::get(CLIENT)).header("etag").expect("a tag").to_owned();
    let answer = running.call(&how(tag));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer
}

#[test]
fn a_reaction_is_kept_for_the_next_check() {
    let running = Running::start();
    let verdict = |check: &Value| check["verdict"].as_str().expect("a verdict").to_owned();
    assert_eq!(
        verdict(&check(&running, "client-2", "lips", &json!({}))),
        "proceed_with_conditions"
    );
    let first = check(&running, "client-1", "brows", &test_of("reacted"));
    assert_eq!(verdict(&first), "refer");
    let about = |check: &Value| {
        let todo = check["todo"].as_array().expect("a list").clone();
        let test = |item: &&Value| item["key"].as_str().is_some_and(|key| key.contains("_test"));
        todo.iter().filter(test).cloned().collect::<Vec<_>>()
    };
    assert_eq!(about(&first).len(), 1, "said once: {}", first["todo"]);
    let kept = running.call(&Request::get(CLIENT)).json();
    assert_eq!(kept["answers"], json!({ "skin_test_reacted": true }));
    let told = json!({ "on": "2027-03-13", "treatment": "brows", "asked_by": "owner" });
    assert_eq!(kept["answered"]["skin_test_reacted"], told);

    // Silence, a clear test and a no beside it are no better; nor is another area.
    let no = healthy(&running, "lips", &json!({ "skin_test_reacted": false }));
    for members in [json!({}), test_of("clear"), json!({ "answers": no })] {
        assert_eq!(verdict(&check(&running, "client-1", "lips", &members)), "refer", "{members}");
    }
    // Who keeps her form knows nothing of the test and takes nothing away.
    let form = json!({ "born_on": "1990-06-15", "answers": { "pregnant": false } });
    let kept = changed(&running, |tag| Request::put(CLIENT, &form).header("If-Match", tag)).json();
    assert_eq!(kept["answered"]["skin_test_reacted"], told);
    assert_eq!(verdict(&check(&running, "client-1", "lips", &json!({}))), "refer");

    // Settled by a no in the record, until it reacts again.
    let settled = json!({ "answers": { "skin_test_reacted": false } });
    let patch = |tag| Request::merge(CLIENT, &settled).header("If-Match", tag);
    changed(&running, patch);
    let after = check(&running, "client-1", "lips", &json!({}));
    assert_eq!(verdict(&after), "proceed_with_conditions", "{}", after["findings"]);
    assert_eq!(verdict(&check(&running, "client-1", "lips", &test_of("reacted"))), "refer");
    assert_eq!(verdict(&check(&running, "client-1", "lips", &json!({}))), "refer");
}
