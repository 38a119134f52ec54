//! What a receipt of an erasure says against what lies in the store afterwards.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use etui_tests::happenings::subscribe;
use etui_tests::receiver::{Manner, Receiver};
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::luck::etui;

/// Looks like nothing else in the store.
const CLIENT: &str = "client-7f3e-receipt";
const BOOKING: &str = "booking-7f3e-receipt";

/// Everything that can be kept of a client; the ids under which it lies.
fn live(running: &Running) -> Vec<String> {
    let made = |path: &str, body: &Value| {
        let key = format!("\"{}\"", path.trim_matches('/').replace('/', "-"));
        let answer = running.call(&Request::post(path, body).header("Idempotency-Key", key));
        assert_eq!(answer.status, 201, "{path}: {}", answer.text());
        answer.json()
    };
    let id = |made: &Value| made["id"].as_str().expect("an id").to_owned();
    let put = Request::put(format!("/v1/clients/{CLIENT}"), &json!({ "born_on": "1990-05-02" }));
    assert_eq!(running.call(&put).status, 201);
    let lot = json!({ "text": "0.30 3RS LOT Z1 EXP 2036-01 STERILE EO", "packs": 9 });
    let lot = made("/v1/lots", &lot);
    let check = json!({
        "booking_ref": BOOKING, "client_ref": CLIENT, "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-04-03T09:00:00Z",
    });
    let check = made("/v1/appointment-checks", &check);
    let treatment = json!({
        "client_ref": CLIENT, "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-01-20T09:00:00Z", "check_id": check["id"],
        "packs": [{ "lot_id": lot["id"], "intact": true, "serial": "0042" }],
    });
    let treatment = id(&made("/v1/treatments", &treatment));
    let below = |what: &str| format!("/v1/treatments/{treatment}/{what}");
    let report = json!({ "symptoms": [{ "kind": "pus" }], "reported_at": "2027-02-01T09:00:00Z" });
    let report = id(&made(&below("symptom-reports"), &report));
    let settled = json!({ "settled_by": "Ada Lind", "note": "seen" });
    made(&below(&format!("symptom-reports/{report}/settlements")), &settled);
    for (of, body) in [
        ("observations", json!({ "signs": ["weeping"], "at": "2027-01-20T09:10:00Z" })),
        ("reviews", json!({ "zones": [{ "zone": "whole", "kept": "from_75" }] })),
        ("amendments", json!({ "reason": "a slip", "values": { "worked": { "hand": "heavy" } } })),
    ] {
        made(&below(of), &body);
    }
    let calendar = json!({ "of": "client", "reference": CLIENT });
    made("/v1/calendars", &calendar);
    made("/v1/reminder-claims", &json!({ "limit": 3, "lease_seconds": 60 }));
    vec![CLIENT.to_owned(), BOOKING.to_owned(), treatment, id(&check)]
}

/// Members of a stored row that lie open, without what is sealed and what binds it.
fn open_members(space: &str, row: &Value) -> BTreeSet<String> {
    let data = &row["data"];
    let open = data.get("trace").unwrap_or(data);
    let members = open.as_object().into_iter().flatten().map(|(name, _)| name.clone());
    members.filter(|name| space != "reminders-by-due" || name != "said").collect()
}

/// "The trace kept is more than the receipt of an erasure says": every row of the store that still
/// names her, her booking, her treatment or her check is of a kind that the receipt lists with all
/// that lies open in it, or of those that its words name; and it lists nothing that is not there.
#[test]
fn a_receipt_says_everything_that_is_kept_and_nothing_else() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = folder.path().join("data");
    let running = Running::start_at(&data);
    let receiver = Receiver::start(Manner::Answers(200));
    subscribe(&running, &receiver);
    let hers = live(&running);
    let erased = Request::new("DELETE", format!("/v1/clients/{CLIENT}")).header("If-Match", "*");
    let receipt = running.call(&erased);
    assert_eq!(receipt.status, 200, "{}", receipt.text());
    let receipt = receipt.json();
    for words in ["audit trail", "this receipt", "events", "deliveries", "repeat"] {
        assert!(receipt["kept"].as_str().expect("words").contains(words), "{receipt}");
    }
    let mut listed: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut counts: BTreeMap<String, u64> = BTreeMap::new();
    for kind in receipt["kept_records"].as_array().expect("a list") {
        let name = kind["kind"].as_str().expect("a kind").to_owned();
        let members = kind["members"].as_array().expect("a list").iter();
        let members = members.map(|name| name.as_str().expect("a name").to_owned());
        listed.insert(name.clone(), members.collect());
        counts.insert(name, kind["records"].as_u64().expect("a number"));
    }
    assert!(7 < listed.len(), "{listed:?}");
    running.stop();

    let mut found: BTreeMap<String, u64> = BTreeMap::new();
    for (space, row) in rows(&data, folder.path()) {
        let text = row.to_string();
        if !hers.iter().any(|name| text.contains(name.as_str())) {
            continue;
        }
        // What the words of the receipt name; a delivery may be on its way.
        let told =
            ["audit", "events", "erasures", "deliveries", "deliveries-pending", "idempotency"]
                .contains(&space.as_str());
        if told {
            continue;
        }
        let Some(kind) = row["kind"].as_str().map(str::to_owned) else {
            // An index row repeats some of what its record says; lots are named by the words.
            let open = row.as_object().into_iter().flatten().map(|(name, _)| name);
            let of_lots = |name: &str| ["lot_id", "lot_ids"].contains(&name);
            let told =
                |name: &str| of_lots(name) || listed.values().any(|told| told.contains(name));
            let untold: Vec<_> = open.filter(|name| !told(name)).collect();
            assert!(untold.is_empty(), "{space}: {untold:?} of {row}");
            continue;
        };
        let members = listed.get(&kind);
        let members = members.unwrap_or_else(|| panic!("{space}: {kind} is not told: {row}"));
        let open = open_members(&space, &row);
        assert!(open.is_subset(members), "{kind}: {:?}", open.difference(members));
        *found.entry(kind).or_default() += 1;
    }
    for (kind, count) in &counts {
        let there = found.get(kind).copied().unwrap_or_default();
        assert!(there <= *count && 0 < there, "{kind}: {count} told, {there} found");
    }
}

/// Every row of a store whose value is JSON, with its space.
fn rows(data: &Path, beside: &Path) -> Vec<(String, Value)> {
    let dump = beside.join("dump.jsonl").display().to_string();
    etui(&["export", "--data", &data.display().to_string(), "--to", &dump]);
    let text = std::fs::read_to_string(&dump).expect("an export");
    let line = |line: &str| {
        let row: Value = serde_json::from_str(line).expect("JSON");
        Some((row.get("space")?.as_str()?.to_owned(), row.get("json")?.clone()))
    };
    text.lines().filter_map(line).collect()
}
