//! Plans of treatments as calendars.

use std::time::{Duration, Instant};

use etui_schema::problem::ErrorCode;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::reminders::House;

#[test]
fn a_treatment_has_a_plan_and_a_calendar_that_agree() {
    let house = House::open();
    let id = house.treat("c-1", "scalp", "2027-03-16T07:00:00Z");
    let path = format!("/v1/treatments/{id}/aftercare");
    let plan = house.running.call(&Request::get(&path));
    assert_eq!(plan.status, 200, "{}", plan.text());
    let plan = plan.json();
    let answer = house.running.call(&Request::get(format!("{path}.ics")));
    assert_eq!((answer.status, answer.media()), (200, "text/calendar"));
    let calendar = answer.text().replace("\r\n ", "");
    let steps = plan["steps"].as_array().expect("steps");
    for step in steps.iter().filter(|step| step["message"] == true) {
        let text = |name: &str| step[name].as_str().expect("a text");
        let at = text("at").replace(['-', ':'], "").replace(".000", "");
        assert!(!calendar.contains(text("key")), "keys may tell of health");
        assert!(calendar.contains(&format!("DTSTART:{at}\r\n")), "{at}");
        assert!(!calendar.contains(text("text")), "neutral");
    }
    let review = plan["milestones"]["review_window"]["from"].as_str().expect("a day");
    let review = format!("DTSTART;VALUE=DATE:{}\r\n", review.replace('-', ""));
    assert!(calendar.contains(&review));
    assert!(!calendar.contains("STATUS:CANCELLED"));
    for reminder in house.list("limit=200").items {
        assert!(calendar.contains(&format!("UID:{}@etui\r\n", reminder.id)), "{}", reminder.key);
    }
    let tag = answer.header("etag").expect("a tag").to_owned();
    let same = Request::get(format!("{path}.ics")).header("If-None-Match", tag);
    assert_eq!(house.running.call(&same).status, 304);
    let told = house.running.call(&Request::get(format!("{path}.ics?detail=true"))).text();
    assert!(told.contains("Touch-up possible"));

    house.running.set_clock("2027-04-20T08:00:00Z");
    house.treat("c-1", "scalp", "2027-04-20T07:00:00Z");
    let after = house.running.call(&Request::get(format!("{path}.ics"))).text();
    assert!(after.contains("STATUS:CANCELLED") && after.contains("SEQUENCE:1"));
    assert!(after.contains("STATUS:CONFIRMED"), "what had been stays");
}

#[test]
fn a_calendar_is_read_by_its_path_until_it_is_closed() {
    let house = House::open();
    let id = house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    house.treat("c-2", "lips", "2027-03-16T07:00:00Z");
    let open = |body: &Value| house.running.call(&Request::post("/v1/calendars", body));
    let own =
        house.running.call(&Request::get(format!("/v1/treatments/{id}/aftercare.ics"))).text();
    let feed = |body: Value| {
        let answer = open(&body);
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    };
    let read = |path: &str| Request::get(path).send(house.running.address());
    let client = feed(json!({ "of": "client", "reference": "c-1" }));
    let path = client["path"].as_str().expect("a path");
    assert!(60 < path.len(), "{path}");
    let answer = read(path);
    assert_eq!((answer.status, answer.media()), (200, "text/calendar"));
    assert_eq!(answer.text(), own);
    let everybody = feed(json!({ "of": "studio" }));
    let everybody = read(everybody["path"].as_str().expect("a path")).text();
    let artist = feed(json!({ "of": "artist", "reference": "artist-07" }));
    assert_eq!(read(artist["path"].as_str().expect("a path")).text(), everybody);
    assert!(own.matches("BEGIN:VEVENT").count() < everybody.matches("BEGIN:VEVENT").count());
    let other = feed(json!({ "of": "artist", "reference": "artist-99" }));
    assert!(!read(other["path"].as_str().expect("a path")).text().contains("VEVENT"));

    let listed = house.running.call(&Request::get("/v1/calendars")).json();
    assert_eq!(listed["items"].as_array().expect("a list").len(), 4);
    assert!(listed["items"][0].get("path").is_none());
    let close = Request::new("DELETE", format!("/v1/calendars/{}", client["id"].as_str().unwrap()));
    assert_eq!(house.running.call(&close).status, 200);
    assert_eq!(read(path).status, 404);
    assert_eq!(house.running.call(&close).status, 404);
    for body in [json!({ "of": "artist" }), json!({ "of": "studio", "reference": "artist-07" })] {
        assert_eq!(open(&body).problem().errors[0].pointer, "#/reference");
    }
}

/// Whoever has her reference after her is not shown behind her path.
#[test]
fn the_calendar_of_an_erased_client_is_closed() {
    let house = House::open();
    house.treat("c-1", "brows", "2027-03-16T07:00:00Z");
    let opened = json!({ "of": "client", "reference": "c-1", "detail": true });
    let opened = house.running.call(&Request::post("/v1/calendars", &opened)).json();
    let path = opened["path"].as_str().expect("a path");
    let read = || Request::get(path).send(house.running.address()).status;
    assert_eq!(read(), 200);
    let erase = Request::new("DELETE", "/v1/clients/c-1").header("If-Match", "*");
    assert_eq!(house.running.call(&erase).status, 200);
    assert_eq!(read(), 404);
    let listed = house.running.call(&Request::get("/v1/calendars")).json();
    assert_eq!(listed["items"], json!([]));
}

/// "No limit on guesses of a calendar secret (2,000 in 0.7 s)": they are answered one after the
/// other, each a while later, and whoever knows a secret does not wait behind them.
#[test]
fn guesses_at_a_secret_get_nowhere_fast() {
    const GUESSERS: usize = 16;
    const EACH: usize = 4;
    let house = House::open();
    let opened = house.running.call(&Request::post("/v1/calendars", &json!({ "of": "studio" })));
    let path = opened.json()["path"].as_str().expect("a path").to_owned();
    let address = house.running.address();
    let begun = Instant::now();
    let (mut longest, mut asked) = (Duration::ZERO, 0);
    std::thread::scope(|scope| {
        let guess = |of: usize| {
            scope.spawn(move || {
                for n in 0..EACH {
                    let wrong = format!("/v1/calendars/wrong-{of}-{n}.ics");
                    assert_eq!(Request::get(wrong).send(address).status, 404);
                }
            })
        };
        let guessing: Vec<_> = (0..GUESSERS).map(guess).collect();
        while guessing.iter().any(|one| !one.is_finished()) {
            let begun = Instant::now();
            assert_eq!(Request::get(path.as_str()).send(address).status, 200);
            longest = longest.max(begun.elapsed());
            asked += 1;
        }
    });
    let took = begun.elapsed();
    println!(
        "{} guesses in {took:?}; the calendar {asked} times, at most {longest:?}",
        GUESSERS * EACH
    );
    // 20 ms each, one behind the other: our own choice, no source.
    assert!(Duration::from_millis(20) * 64 <= took, "{took:?}");
    assert!(longest < Duration::from_millis(1200), "whoever knows it waited {longest:?}");
}

/// An empty secret is a wrong one, and no calendar that could be closed.
#[test]
fn a_calendar_without_a_secret_is_none() {
    let house = House::open();
    for path in ["/v1/calendars/.ics", "/v1/calendars/..ics", "/v1/calendars/x.ics"] {
        let answer = Request::get(path).send(house.running.address());
        assert_eq!(answer.status, 404, "{path}: {}", answer.text());
        assert_eq!(answer.media(), "application/problem+json", "{path}");
    }
}

/// The path of a client's calendar is hers: once she is erased it is not given again, and not
/// to whoever has her reference after her. One that was closed is.
#[test]
fn the_path_of_a_calendar_goes_with_its_client() {
    let running = Running::start();
    let open = |client: &str| {
        let body = json!({ "of": "client", "reference": client });
        let request = Request::post("/v1/calendars", &body);
        running
            .call(&request.header("Idempotency-Key", format!("\"of {client}\"").replace(' ', "-")))
    };
    let put = |client: &str| Request::put(format!("/v1/clients/{client}"), &json!({}));
    for client in ["known", "unknown", "closed"] {
        if client == "known" {
            assert_eq!(running.call(&put(client)).status, 201);
        }
        let opened = open(client);
        assert_eq!(opened.status, 201, "{}", opened.text());
        assert_eq!(open(client).json(), opened.json(), "{client}");
        let id = opened.json()["id"].as_str().expect("an id").to_owned();
        if client == "closed" {
            let close = Request::new("DELETE", format!("/v1/calendars/{id}"));
            assert_eq!(running.call(&close).status, 200);
            assert_eq!(open(client).json(), opened.json(), "what was closed was opened then");
            continue;
        }
        let erase = Request::new("DELETE", format!("/v1/clients/{client}"));
        let erased = running.call(&erase.header("If-Match", "*"));
        assert_eq!(erased.status, 200, "{client}: {}", erased.text());
        assert_eq!(open(client).problem().code, ErrorCode::Erased, "{client}");
        assert_eq!(running.call(&put(client)).status, 201);
        assert_eq!(open(client).problem().code, ErrorCode::Erased, "{client}");
    }
}
