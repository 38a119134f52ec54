//! Making things happen, and looking at what was told of them.

use std::time::{Duration, Instant};

use etui_schema::events::EventPage;
use etui_schema::page::Page;
use etui_schema::subscriptions::{Delivery, Subscription};
use serde_json::json;
use uuid::Uuid;

use crate::receiver::Receiver;
use crate::running::Running;
use crate::wire::{PATIENCE, Request};

/// Writes a client, which is told as `client.changed`.
///
/// # Panics
/// If the service refuses.
pub fn put_client(service: &Running, name: &str) {
    let path = format!("/v1/clients/{name}");
    let held = service.call(&Request::get(path.as_str()));
    let mut request = Request::put(path, &json!({ "answers": {} }));
    if let Some(tag) = held.header("etag") {
        request = request.header("If-Match", tag);
    }
    let answer = service.call(&request);
    assert!(answer.status < 300, "{}", answer.text());
}

/// Takes a lot in; its id.
///
/// # Panics
/// If the service refuses.
pub fn receive_lot(service: &Running, code: &str, expires: &str) -> String {
    let text = format!("0.30 mm 3RS Long Taper\nLOT {code}\nEXP {expires}\nSTERILE EO");
    let answer = service.call(&Request::post("/v1/lots", &json!({ "text": text, "packs": 20 })));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().unwrap_or_default().to_owned()
}

/// Records a treatment with one pack of a lot; its id.
///
/// # Panics
/// If the service refuses.
pub fn record_treatment(service: &Running, client: &str, lot: &str) -> String {
    let body = json!({
        "client_ref": client,
        "artist_ref": "artist-07",
        "treatment": "lips",
        "performed_at": "2027-03-16T07:30:00Z",
        "packs": [{ "lot_id": lot, "intact": true, "site": "lip" }],
    });
    let answer = service.call(&Request::post("/v1/treatments", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().unwrap_or_default().to_owned()
}

/// The events behind a sequence.
///
/// # Panics
/// If the service refuses.
#[must_use]
pub fn page(service: &Running, after: u64, limit: u16) -> EventPage {
    let answer = service.call(&Request::get(format!("/v1/events?after={after}&limit={limit}")));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.read()
}

/// Has every event delivered to a receiver.
///
/// # Panics
/// If the service refuses.
pub fn subscribe(service: &Running, receiver: &Receiver) -> Subscription {
    let answer =
        service.call(&Request::post("/v1/subscriptions", &json!({ "url": receiver.url() })));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.read()
}

/// Asks again and again until something is so.
///
/// # Panics
/// If it does not come about in time.
pub fn until<T>(what: &str, mut ask: impl FnMut() -> Option<T>) -> T {
    let started = Instant::now();
    while started.elapsed() < PATIENCE {
        if let Some(found) = ask() {
            return found;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("{what} did not come about");
}

/// What became of the events of a subscription.
///
/// # Panics
/// If the service refuses.
#[must_use]
pub fn deliveries(service: &Running, id: Uuid) -> Vec<Delivery> {
    let answer =
        service.call(&Request::get(format!("/v1/subscriptions/{id}/deliveries?limit=200")));
    answer.read::<Page<Delivery>>().items
}
