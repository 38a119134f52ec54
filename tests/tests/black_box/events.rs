//! Events: told in their order, followed as they happen, and never with
//! anything of a client's health.

use std::collections::BTreeSet;
use std::io::Read;
use std::time::Duration;

use etui_schema::events::Event;
use etui_schema::problem::ErrorCode;
use etui_tests::happenings::{page, put_client, receive_lot, record_treatment, subscribe, until};
use etui_tests::receiver::{Manner, Receiver};
use etui_tests::running::Running;
use etui_tests::wire::{Request, connect};
use serde_json::{Value, json};

/// Words that a client may say of her health; they must stand in no event.
const PLANTED: &str = "planted-isotretinoin-phrase";

fn kinds(events: &[Event]) -> Vec<&str> {
    events.iter().map(|event| event.kind.as_str()).collect()
}

/// What was done by somebody: the first message of a treatment is due at once, and the
/// clock may tell of it in between.
fn done(events: Vec<Event>) -> Vec<Event> {
    events.into_iter().filter(|event| event.kind.as_str() != "reminder.due").collect()
}

#[test]
fn what_is_done_is_told_in_its_order_and_nothing_of_health() {
    let service = Running::start();
    let receiver = Receiver::start(Manner::Answers(204));
    subscribe(&service, &receiver);
    let lot = receive_lot(&service, "B4412", "2029-06-30");
    put_client(&service, "client-1");
    let check = json!({
        "booking_ref": "booking-1",
        "client_ref": "client-1",
        "treatment": "lips",
        "effect": "soft_shading",
        "born_on": "1988-02-29",
        "starts_at": "2027-04-01T09:00:00Z",
        "born_on": "1991-04-02",
        "answers": {},
        "candidates": "usual",
    });
    let answer = service.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let treatment = record_treatment(&service, "client-1", &lot);
    let note = json!({ "signs": ["weeping"], "note": PLANTED });
    let path = format!("/v1/treatments/{treatment}/observations");
    assert_eq!(service.call(&Request::post(path, &note)).status, 201);
    let recall = json!({ "reason": "notice" });
    let path = format!("/v1/lots/{lot}/recalls");
    assert_eq!(service.call(&Request::post(path.as_str(), &recall)).status, 201);
    // A lot that is called back a second time is not told of again.
    assert_eq!(service.call(&Request::post(path, &recall)).status, 201);
    let erased = Request::new("DELETE", "/v1/clients/client-1").header("If-Match", "*");
    assert_eq!(service.call(&erased).status, 200);

    let told = page(&service, 0, 100);
    let want = [
        "client.changed",
        // The first date of birth that is told of her is kept with her.
        "client.changed",
        "check.completed",
        "treatment.recorded",
        "treatment.flagged",
        "lot.recalled",
        "client.changed",
    ];
    let sequences: Vec<u64> = told.items.iter().map(|event| event.sequence.0).collect();
    assert!(sequences.iter().copied().eq(1..=told.next_after.0), "{sequences:?}");
    assert!(!told.more);
    let told = done(told.items);
    assert_eq!(kinds(&told), want);
    assert_eq!(told[5].data.lot_id.map(|id| id.to_string()), Some(lot));
    assert_eq!(told[3].subject, format!("treatments/{treatment}"));

    let heard = receiver.wait_for(7);
    let raw = service.call(&Request::get("/v1/events")).text();
    let bodies: String = heard.iter().map(|one| String::from_utf8_lossy(&one.body)).collect();
    let stream = service.call(&Request::get("/v1/events/stream?after=0&for_seconds=0")).text();
    for (place, text) in [("pulled", &raw), ("delivered", &bodies), ("streamed", &stream)] {
        for word in [PLANTED, "weeping", "lip\"", "verdict", "answers", "proceed", "notice"] {
            assert!(!text.contains(word), "{word} was {place}: {text}");
        }
    }
    // What an event may hold at all.
    let allowed = BTreeSet::from([
        "specversion",
        "id",
        "source",
        "type",
        "subject",
        "time",
        "datacontenttype",
        "sequence",
        "data",
    ]);
    for event in
        serde_json::from_str::<Value>(&raw).expect("JSON")["items"].as_array().expect("a list")
    {
        let members = event.as_object().expect("an object").keys().map(String::as_str);
        assert_eq!(members.collect::<BTreeSet<_>>(), allowed);
        let source = event["source"].as_str().expect("a source");
        assert!(source.starts_with("/studios/") && source.len() == 25, "{source}");
        for (name, _) in event["data"].as_object().expect("an object") {
            let reference = name.ends_with("_id") || name.ends_with("_ref") || name == "pack";
            assert!(reference, "{name} is no reference");
        }
    }
}

/// Only what cannot wait is told of, and of it neither what nor how urgent it is.
#[test]
fn a_report_that_cannot_wait_and_a_changed_pack_are_told_of() {
    let service = Running::start();
    let lot = receive_lot(&service, "B4412", "2029-06-30");
    let treatment = record_treatment(&service, "client-1", &lot);
    let path = format!("/v1/treatments/{treatment}/symptom-reports");
    let calm =
        json!({ "symptoms": [{ "kind": "swelling", "severity": "mild", "trend": "better" }] });
    let grave = json!({ "symptoms": [{ "kind": "breathing_trouble" }] });
    for body in [&calm, &grave] {
        let answer = service.call(&Request::post(path.as_str(), body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let pack = json!({ "about": "How the supplier writes.", "code": [{ "text": "LN", "grouping": "round_liner" }] });
    let put = service.call(&Request::put("/v1/packs/label-spellings/supplier-1", &pack));
    assert_eq!(put.status, 201, "{}", put.text());
    let told = done(page(&service, 0, 100).items);
    assert_eq!(
        kinds(&told),
        ["treatment.recorded", "treatment.flagged", "symptom.escalated", "pack.changed"]
    );
    assert_eq!(told[2].subject, format!("treatments/{treatment}"));
    assert_eq!(told[3].subject, "packs/label-spellings/supplier-1");
    let text = service.call(&Request::get("/v1/events")).text();
    assert!(!text.contains("breathing") && !text.contains("emergency"), "{text}");
}

/// Many write at once; whoever follows by number sees each once, in order, and
/// no number is ever filled in behind her.
#[test]
fn a_poller_misses_nothing_among_many_writers() {
    const WRITERS: usize = 8;
    const EACH: usize = 25;
    let service = Running::start();
    let seen = std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let service = &service;
            scope.spawn(move || {
                for n in 0..EACH {
                    put_client(service, &format!("client-{writer}-{n}"));
                }
            });
        }
        let (mut seen, mut last) = (Vec::new(), 0);
        until("all events", || {
            let told = page(&service, last, 7);
            for event in &told.items {
                assert_eq!(event.sequence.0, last + 1, "a gap that may be filled in later");
                last = event.sequence.0;
            }
            seen.extend(told.items);
            (WRITERS * EACH <= seen.len()).then_some(())
        });
        seen
    });
    let subjects: BTreeSet<&str> = seen.iter().map(|event| event.subject.as_str()).collect();
    assert_eq!((seen.len(), subjects.len()), (WRITERS * EACH, WRITERS * EACH));
}

#[test]
fn what_falls_due_is_told_once() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let service = Running::start_at(folder.path());
    let lot = receive_lot(&service, "B4412", "2029-06-30");
    let soon = receive_lot(&service, "C1180", "2027-05-10");
    record_treatment(&service, "client-1", &lot);
    let listed = |service: &Running, kind: &str| {
        let all = page(service, 0, 500).items;
        all.into_iter().filter(|event| event.kind.as_str() == kind).collect::<Vec<_>>()
    };
    // Not yet: the lot ends in 55 days.
    service.set_clock("2027-03-16T20:00:00Z");
    until("a reminder", || (!listed(&service, "reminder.due").is_empty()).then_some(()));
    assert!(listed(&service, "lot.expiring").is_empty());
    service.set_clock("2027-04-12T08:00:00Z");
    let expiring = until("a lot", || listed(&service, "lot.expiring").pop());
    assert_eq!(expiring.data.lot_id.map(|id| id.to_string()), Some(soon));
    service.set_clock("2027-05-10T08:00:00Z");
    let review = until("a review", || listed(&service, "review.due").pop());
    assert_eq!(review.data.client_ref.map(|held| held.to_string()).as_deref(), Some("client-1"));
    service.stop();
    // Nothing of it is told again after a restart.
    let again = Running::start_at(folder.path());
    let before = page(&again, 0, 500).items.len();
    again.set_clock("2027-05-10T12:00:00Z");
    receive_lot(&again, "D1", "2027-05-20");
    again.set_clock("2027-05-10T13:00:00Z");
    until("the other lot", || (listed(&again, "lot.expiring").len() == 2).then_some(()));
    let all = page(&again, 0, 500).items;
    let told: BTreeSet<(String, String)> =
        all.iter().map(|event| (event.kind.to_string(), event.subject.clone())).collect();
    let late = all.len().saturating_sub(before);
    assert_eq!(listed(&again, "review.due").len(), 1);
    assert_eq!(told.len(), all.len(), "something was told twice; {late} since the restart");
    again.stop();
}

#[test]
fn a_stream_goes_on_where_its_follower_was_and_ends_with_the_service() {
    let service = Running::start();
    put_client(&service, "client-1");
    put_client(&service, "client-2");
    let text = service
        .call(&Request::get("/v1/events/stream?for_seconds=0&after=0").header("Last-Event-ID", "1"))
        .text();
    assert!(!text.contains("client-1") && text.contains("clients/client-2"), "{text}");
    assert!(text.contains("id: 000000000000000002\nevent: client.changed\ndata: {"), "{text}");
    let bad = Request::get("/v1/events/stream?for_seconds=0").header("Last-Event-ID", "x");
    assert_eq!(service.call(&bad).problem().errors[0].pointer, "header:Last-Event-ID");

    // From now on, as it happens.
    let request = Request::get("/v1/events/stream").token(service.token());
    let mut stream = connect(service.address()).expect("a connection");
    std::io::Write::write_all(&mut stream, &request.to_bytes(service.address())).expect("sent");
    let mut held = Vec::new();
    read_until(&mut stream, &mut held, b": etui\n\n");
    put_client(&service, "client-3");
    read_until(&mut stream, &mut held, b"clients/client-3");
    assert!(!held.windows(8).any(|w| w == b"client-2"), "that was before");
    service.stop();
    // The last chunk of HTTP/1.1 (RFC 9112, 7.1): a clean end.
    read_until(&mut stream, &mut held, b"0\r\n\r\n");
}

fn read_until(stream: &mut std::net::TcpStream, held: &mut Vec<u8>, words: &[u8]) {
    while !held.windows(words.len()).any(|window| window == words) {
        let mut buffer = [0; 4096];
        let read = stream.read(&mut buffer).expect("more of the stream");
        assert!(0 < read, "it ended: {}", String::from_utf8_lossy(held));
        held.extend_from_slice(&buffer[..read]);
    }
}

#[test]
fn the_client_follows_and_streams() {
    let service = Running::start();
    put_client(&service, "client-1");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("one");
    let client = service.client();
    runtime.block_on(async {
        let mut follow = client.follow_events(Default::default()).every(Duration::from_millis(20));
        assert_eq!(follow.next().await.expect("an event").subject, "clients/client-1");
        put_client(&service, "client-2");
        assert_eq!(follow.next().await.expect("an event").subject, "clients/client-2");
        assert_eq!(follow.last().0, 2);
        let query =
            serde_json::from_value(json!({ "after": "1", "for_seconds": 0 })).expect("a query");
        let mut stream = client.stream_events(&query).await.expect("a stream");
        let event = stream.next().await.expect("no error").expect("an event");
        assert_eq!((event.sequence.0, event.subject.as_str()), (2, "clients/client-2"));
        assert_eq!(stream.next().await.expect("no error"), None);
    });
}

#[test]
fn events_and_subscriptions_are_the_owners() {
    let service = Running::shared();
    for target in ["/v1/events", "/v1/events/stream?for_seconds=0", "/v1/subscriptions"] {
        let answer = Request::get(target).send(service.address());
        assert_eq!(answer.problem().code, ErrorCode::MissingToken, "{target}");
    }
    for bad in
        ["after=x", "after=-1", "after=1234567890123456789", "limit=0", "limit=501", "limit=x"]
    {
        let answer = service.call(&Request::get(format!("/v1/events?{bad}")));
        assert!(matches!(answer.status, 400 | 422), "{bad}: {}", answer.text());
    }
}

/// Two studios can be told apart; what was told of an event stays, whatever is set later.
#[test]
fn an_event_keeps_the_source_it_was_told_with() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sources = |service: &Running| -> Vec<String> {
        page(service, 0, 100).items.into_iter().map(|event| event.source).collect()
    };
    let first = Running::start_at(folder.path());
    put_client(&first, "client-1");
    let own = sources(&first);
    first.stop();
    let named = "https://studio.example/etui";
    let second =
        Running::start_at_with(folder.path(), |config| config.event_source = Some(named.into()));
    put_client(&second, "client-2");
    assert_eq!(sources(&second), [own[0].as_str(), named]);
    second.stop();
    let again = Running::start_at(folder.path());
    put_client(&again, "client-3");
    assert_eq!(sources(&again), [own[0].as_str(), named, own[0].as_str()]);
    again.stop();
}

/// "A consumer behind the 30 days goes on at the oldest event without a sign": it is told which is
/// the oldest, before the first event.
#[test]
fn whoever_comes_back_behind_the_kept_days_is_told() {
    let service = Running::start();
    for client in ["client-1", "client-2", "client-3"] {
        put_client(&service, client);
    }
    let seen = page(&service, 0, 1).next_after;
    service.set_clock("2027-05-16T08:00:00Z");
    put_client(&service, "client-4");
    let told = until("old events are cleared away", || {
        let told = page(&service, seen.0, 100);
        (told.items.len() == 1).then_some(told)
    });
    let oldest = told.oldest.expect("the oldest that is kept");
    assert!(seen.0 + 1 < oldest.0, "{told:?}");
    let follow = Request::get("/v1/events/stream?for_seconds=1");
    let stream = service.call(&follow.header("Last-Event-ID", seen.to_string())).text();
    let sign = stream.find(&format!(": oldest {oldest}\n"));
    let first = stream.find(&format!("id: {oldest}\n"));
    assert!(sign.is_some() && sign < first, "{stream}");
}
