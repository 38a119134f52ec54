//! By which day a pack is judged in a chain, and what follows a treatment to another branch.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::branches::{chain, get, lot, post, text, treatment};
use crate::reach::{rows, send};

/// A lot whose last day is 16 March 2027.
fn ends(service: &Running, branch: Option<&str>) -> String {
    let mut body =
        json!({ "text": "0.30 mm 3RS Long Taper\nLOT Z1\nEXP 2027-03-16\nSTERILE EO", "packs": 9 });
    if let Some(branch) = branch {
        body["branch_ref"] = branch.into();
    }
    text(&post(service, "/v1/lots", &body)["id"])
}

fn codes(record: &Value) -> Vec<String> {
    record["flags"].as_array().into_iter().flatten().map(|flag| text(&flag["code"])).collect()
}

/// Half past twelve in Berlin, half past midnight of the next day in Auckland.
const NOON: &str = "2027-03-16T11:30:00Z";
/// A little later.
const LATER: &str = "2027-03-16T11:45:00Z";

/// A pack that is past its date where it lies is so whatever is told of the treatment.
#[test]
fn of_all_calendars_the_latest_judges_a_pack() {
    let service = chain();
    let lots = [None, Some("mitte"), Some("auckland")].map(|branch| ends(&service, branch));
    service.set_clock(LATER);
    let (los_angeles, auckland) = ("America/Los_Angeles", "Pacific/Auckland");
    for (more, refused) in [
        (json!({}), [false, false, true]),
        (json!({ "branch_ref": "unassigned" }), [false, false, true]),
        (json!({ "zone": los_angeles }), [false, false, true]),
        (json!({ "branch_ref": "unassigned", "zone": los_angeles }), [false, false, true]),
        (json!({ "branch_ref": "lisbon", "zone": los_angeles }), [false, false, true]),
        (json!({ "zone": auckland }), [true, true, true]),
        (json!({ "branch_ref": "auckland" }), [true, true, true]),
        (json!({ "branch_ref": "auckland", "zone": los_angeles }), [true, true, true]),
    ] {
        for (lot, refused) in lots.iter().zip(refused) {
            let mut body = treatment(&[lot], &more);
            body["performed_at"] = NOON.into();
            let answer = service.call(&Request::post("/v1/treatments", &body));
            let status = if refused { 422 } else { 201 };
            assert_eq!(answer.status, status, "{more} {lot}: {}", answer.text());
        }
    }
    let fresh = lot(&service, "L9", Some("mitte"), 9);
    let at = json!({ "performed_at": NOON, "branch_ref": "mitte" });
    let made = post(&service, "/v1/treatments", &treatment(&[&fresh], &at));
    for (lot, status) in lots.iter().zip([201, 201, 422]) {
        let body = json!({ "reason": "a slip", "add_packs": [{ "lot_id": lot, "intact": true }] });
        let path = format!("/v1/treatments/{}/amendments", text(&made["id"]));
        let answer = service.call(&Request::post(path, &body));
        assert_eq!(answer.status, status, "{lot}: {}", answer.text());
    }
}

/// A choice of the whole chain offers a pack by the day of where it lies.
#[test]
fn a_choice_of_the_whole_chain_offers_no_pack_past_its_date() {
    let service = chain();
    let [here, there] = [Some("mitte"), Some("auckland")].map(|branch| ends(&service, branch));
    service.set_clock(NOON);
    let check = json!({ "booking_ref": "b1", "client_ref": "client-1", "born_on": "1990-05-02",
        "treatment": "lips", "effect": "soft_shading", "starts_at": "2027-03-16T11:45:00Z",
        "candidates": "drawer" });
    let check = post(&service, "/v1/appointment-checks", &check);
    assert!(!check["needles"].to_string().contains(&format!("\"lot_id\":\"{there}\"")), "{check}");
    let asked = json!({ "treatment": "lips", "effect": "soft_shading", "candidates": "drawer" });
    let request = Request::post("/v1/needle-selections", &asked);
    let told = send(&service, service.token(), request).json();
    let offered = format!("{} {}", told["ranked"], told["set_aside"]);
    assert!(offered.contains(&here) && !offered.contains(&there), "{told}");
}

/// What its messages say, and the calendar of the record, follow a treatment to its branch.
#[test]
fn messages_and_days_follow_to_the_branch() {
    let service = chain();
    for (branch, zone, artist) in
        [("hill", "Europe/Berlin", "030 1111"), ("auckland", "Pacific/Auckland", "09 2222")]
    {
        let numbers = json!({ "doctor": artist, "artist": artist, "same_day": artist });
        let body = json!({ "name": branch, "zone": zone, "numbers": numbers });
        let put = Request::put(format!("/v1/branches/{branch}"), &body).header("If-Match", "*");
        assert_eq!(service.call(&put).status, 200);
    }
    let held = ends(&service, None);
    service.set_clock(LATER);
    let at = json!({ "performed_at": NOON });
    let made = post(&service, "/v1/treatments", &treatment(&[&held], &at));
    let path = format!("/v1/treatments/{}", text(&made["id"]));
    assert_eq!(made["zone"], "Europe/Berlin");
    for (branch, zone, says, never, expired) in [
        ("hill", "Europe/Berlin", "030 1111", "09 2222", false),
        ("auckland", "Pacific/Auckland", "09 2222", "030 1111", true),
        ("hill", "Europe/Berlin", "030 1111", "09 2222", false),
        ("unassigned", "Europe/Berlin", "", "030 1111", false),
        ("auckland", "Pacific/Auckland", "09 2222", "030 1111", true),
    ] {
        let right = json!({ "reason": "a slip", "values": { "branch_ref": branch } });
        let amended = post(&service, &format!("{path}/amendments"), &right);
        assert_eq!(codes(&amended).contains(&"pack_expired".to_owned()), expired, "{amended}");
        assert_eq!(get(&service, &path)["zone"], zone, "{branch}");
        let list = format!("/v1/reminders?branch_ref={branch}&limit=100");
        let told: String =
            rows(&service, service.token(), &list).iter().map(ToString::to_string).collect();
        assert!(!told.is_empty() && told.contains(says) && !told.contains(never), "{told}");
    }
}

/// The sheet of a day shows what is on that day where it takes place, at its time there.
#[test]
fn a_day_sheet_goes_by_the_day_of_each_place() {
    let service = chain();
    for (branch, at) in [("auckland", "2027-02-09T21:00:00Z"), ("mitte", "2027-02-09T08:00:00Z")] {
        let check = json!({ "booking_ref": branch, "born_on": "1990-05-02", "treatment": "lips",
            "effect": "soft_shading", "starts_at": at, "branch_ref": branch, "candidates": "usual" });
        post(&service, "/v1/appointment-checks", &check);
    }
    for (day, shows) in [("08", ""), ("09", "09:00  mitte"), ("10", "10:00  auckland"), ("11", "")]
    {
        let page = service.call(&Request::get(format!("/v1/day-sheets/2027-02-{day}")));
        let page = page.text();
        for place in ["09:00  mitte", "10:00  auckland"] {
            assert_eq!(page.contains(place), place == shows, "{day} {place}: {page}");
        }
    }
}
