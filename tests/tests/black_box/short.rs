//! `short=true`: of every operation that has it a part of what it answers, and never a kinder one.

use etui_schema::needle_selections::NeedleSelectionRequest;
use etui_schema::short::MEDIA_TYPE;
use etui_tests::document::{Document, Operation, members};
use etui_tests::happenings::{receive_lot, record_treatment};
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// The operations whose answer has a short view.
fn with_short() -> Vec<Operation> {
    let all = Document::of_this_build().operations().into_iter();
    let has = |one: &Operation| one.answers.values().flatten().any(|media| media == MEDIA_TYPE);
    all.filter(has).collect()
}

fn shortly(request: &Request) -> Request {
    let mut short = request.clone();
    let joint = if short.target.contains('?') { '&' } else { '?' };
    short.target = format!("{}{joint}short=true", short.target);
    short
}

/// Whether one is a part of the other: of an object some members, of a list the first rows.
fn is_part(short: &Value, whole: &Value) -> bool {
    match (short, whole) {
        (Value::Object(short), Value::Object(whole)) => {
            short.iter().all(|(name, one)| whole.get(name).is_some_and(|other| is_part(one, other)))
        }
        (Value::Array(short), Value::Array(whole)) => {
            short.len() <= whole.len()
                && short.iter().zip(whole).all(|(one, other)| is_part(one, other))
        }
        (one, other) => one == other,
    }
}

/// The whole of what was answered shortly: as it was asked, or as it is read where it was made.
fn whole_of(tour: &Tour, request: &Request, short: &Answer) -> Value {
    match short.header("location") {
        Some(place) if place.starts_with("/v1/appointment-checks/") => {
            tour.running.call(&Request::get(format!("{place}/summary"))).json()
        }
        Some(place) => tour.running.call(&Request::get(place)).json(),
        None if request.path().starts_with("/v1/appointment-checks/") => {
            tour.running.call(&Request::get(format!("{}/summary", request.path()))).json()
        }
        None => tour.running.call(request).json(),
    }
}

#[test]
fn a_short_view_is_a_part_of_the_whole() {
    let (tour, document) = (Tour::make(), Document::of_this_build());
    let all = with_short();
    assert!(9 <= all.len(), "{} operations have one", all.len());
    for operation in all {
        let id = &operation.id;
        assert!(operation.query.iter().any(|name| name == "short"), "{id}");
        let heard = tour.example(id);
        let short = tour.running.call(&shortly(&heard.request));
        assert_eq!(short.status, heard.answer.status, "{id}: {}", short.text());
        assert_eq!(short.media(), MEDIA_TYPE, "{id}");
        let schema = &operation.object["responses"][short.status.to_string()]["content"]
            [MEDIA_TYPE]["schema"];
        let body = short.json();
        let faults: Vec<String> =
            document.validator(schema).iter_errors(&body).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{id}: {}", faults.join("\n"));
        let whole = whole_of(&tour, &heard.request, &short);
        assert!(is_part(&body, &whole), "{id}: {body:#} is no part of {whole:#}");
        // No caution is left out.
        let cautions = |value: &Value| value["cautions"].as_array().map_or(0, Vec::len);
        assert_eq!(cautions(&body), cautions(&whole), "{id}");
        assert!(short.body.len() < heard.answer.body.len(), "{id}: {}", short.body.len());
    }
}

/// A short view of what is kept has its own tag, which fits, and a repeat is as short.
#[test]
fn a_short_view_has_its_tag_and_its_repeat() {
    let tour = Tour::make();
    let plan = shortly(&tour.example("get_treatment_aftercare").request);
    let first = tour.running.call(&plan);
    let tag = first.header("etag").expect("a tag").to_owned();
    assert!(tag.ends_with(".short\""), "{tag}");
    let head = Request { method: "HEAD".to_owned(), ..plan.clone() };
    assert_eq!(tour.running.call(&head).header("etag"), Some(&*tag), "as of GET");
    let again = tour.running.call(&plan.clone().header("If-None-Match", tag));
    assert_eq!(again.status, 304, "{}", again.text());
    let check = shortly(&tour.example("create_appointment_check").request);
    let check = check.header("Idempotency-Key", "\"short\"");
    let (made, repeated) = (tour.running.call(&check), tour.running.call(&check));
    assert_eq!(repeated.header("idempotent-replayed"), Some("true"));
    assert_eq!((made.status, made.text()), (repeated.status, repeated.text()));
    assert_eq!(made.media(), MEDIA_TYPE);
}

/// Everything else is as it is without: a refusal is one, and `false` is the whole.
#[test]
fn only_true_makes_it_short() {
    let tour = Tour::make();
    for operation in with_short() {
        let id = &operation.id;
        let heard = tour.example(id);
        let with = |value: &str| {
            let mut sent = heard.request.clone();
            sent.target = format!("{}?short={value}", sent.target);
            tour.running.call(&sent)
        };
        let whole = with("false");
        assert_eq!(whole.media(), "application/json", "{id}");
        assert!(members(&whole.json()).count() > 3, "{id}");
        let wrong = with("perhaps");
        assert_eq!((wrong.status, wrong.media()), (400, "application/problem+json"), "{id}");
        if operation.takes_body {
            let mut refused = shortly(&heard.request);
            refused.body = Some(b"{}".to_vec());
            let answer = tour.running.call(&refused);
            assert_eq!(answer.media(), "application/problem+json", "{id}: {}", answer.text());
        }
    }
}

/// The client asks for them by the request alone.
#[tokio::test]
async fn the_client_reads_short_views() {
    let service = Running::start();
    let client = service.client();
    let asked = json!({ "treatment": "brows", "effect": "hair_strokes" });
    let asked: NeedleSelectionRequest = serde_json::from_value(asked).expect("a request");
    let (short, whole) = (client.short(&asked).await, client.select_needles(&asked).await);
    let (short, whole) = (short.expect("the short view"), whole.expect("the whole"));
    let first = |n: usize| whole.ranked.get(n).map(|needle| needle.canonical.as_str());
    for (n, needle) in short.ranked.iter().enumerate() {
        assert_eq!(Some(needle.canonical.as_str()), first(n));
    }
    assert_eq!(short.ranked.len(), 3);
    let lot = receive_lot(&service, "L1", "2029-01-31");
    let id = record_treatment(&service, "client-1", &lot).parse().expect("an id");
    let plan = client.short_aftercare(id).await.expect("a plan");
    let whole = client.get_treatment_aftercare(id).await.expect("a plan").value;
    assert_eq!(plan.steps.len(), whole.steps.len());
    let seen = serde_json::from_value(json!({ "signs": ["weeping"] })).expect("a request");
    let told = client.short_observation(id, &seen).await.expect("an observation");
    assert!(told.stop && told.treatment_id == id, "{told:?}");
}
