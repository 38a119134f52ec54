//! Packs move from branch to branch: none is made or lost, and a recall finds them all.

use etui_tests::happenings::page;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::branch_tokens::limited;
use crate::branches::{ALL, chain, get, lot, moved, post, text, treatment};
use crate::reach::{rows, send};

/// Packs go to another branch before the rush: they are there, a recall finds both, and it is on record.
#[test]
fn packs_move_and_a_recall_finds_them() {
    let service = chain();
    let first = lot(&service, "B4412", Some("mitte"), 20);
    let went = moved(&service, &first, "harbour", Some(8));
    let second = text(&went["lot"]["id"]);
    assert_ne!(first, second);
    assert_eq!((&went["lot"]["packs"], &went["left"]["packs"]), (&json!(8), &json!(12)));
    assert_eq!((&went["lot"]["lot"], &went["lot"]["state"]), (&json!("B4412"), &json!("usable")));
    let moves = &went["left"]["moves"][0];
    assert_eq!(
        (&moves["from"], &moves["to"], &moves["packs"]),
        (&json!("mitte"), &json!("harbour"), &json!(8))
    );
    let all = moved(&service, &second, "hill", None);
    assert_eq!((&all["lot"]["id"], &all["left"]), (&json!(second), &Value::Null));
    moved(&service, &second, "harbour", Some(3));
    let events = page(&service, 0, 500);
    let told = events.items.iter().filter(|event| event.kind.to_string() == "lot.moved").count();
    assert_eq!(told, 3);
    for (body, pointer) in [
        (json!({ "branch_ref": "mitte" }), "#/branch_ref"),
        (json!({ "branch_ref": "unassigned" }), "#/branch_ref"),
        (json!({ "branch_ref": "hill", "packs": 13 }), "#/packs"),
    ] {
        let refused = service.call(&Request::post(format!("/v1/lots/{first}/moves"), &body));
        assert_eq!(refused.status, 422, "{}", refused.text());
        assert_eq!(refused.problem().errors[0].pointer, pointer, "{}", refused.text());
    }
    let repeat = || {
        let body = json!({ "branch_ref": "hill", "packs": 2 });
        let request = Request::post(format!("/v1/lots/{first}/moves"), &body);
        service.call(&request.header("Idempotency-Key", "\"once\"")).json()
    };
    assert_eq!(repeat(), repeat());
    let here = |branch: &str| {
        let found = rows(&service, service.token(), &format!("/v1/lots?branch_ref={branch}"));
        found.iter().map(|lot| lot["packs"].as_u64().unwrap_or(0)).sum::<u64>()
    };
    assert_eq!((here("mitte"), here("harbour"), here("hill")), (10, 3, 7));

    let done: Vec<Value> = ["mitte", "hill"]
        .iter()
        .map(|branch| {
            let lots = rows(&service, service.token(), &format!("/v1/lots?branch_ref={branch}"));
            let id = text(&lots[0]["id"]);
            post(&service, "/v1/treatments", &treatment(&[&id], &json!({})))
        })
        .collect();
    let notice = json!({ "lot": "B4412", "reason": "sterility not shown" });
    let report = post(&service, "/v1/recalls", &notice);
    let branches = report["exposures"]["branches"].as_array().expect("branches").clone();
    let names: Vec<String> = branches.iter().map(|one| text(&one["branch_ref"])).collect();
    assert_eq!(names, ["harbour", "hill", "mitte"], "{report}");
    let left: u64 = branches.iter().filter_map(|one| one["packs"].as_u64()).sum();
    assert_eq!(left, 18, "{report}");
    let exposed = report["exposures"]["treatments"].as_array().expect("rows");
    for made in &done {
        let row = exposed.iter().find(|row| row["treatment_id"] == made["id"]).expect("its row");
        assert_eq!(row["branch_ref"], made["branch_ref"], "{row}");
    }
    let lots = rows(&service, service.token(), "/v1/lots?lot=B4412");
    assert!(4 == lots.len() && lots.iter().all(|lot| lot["state"] == "recalled"), "{lots:?}");
    let table = service.call(&Request::get("/v1/exposures?lot=B4412").header("Accept", "text/csv"));
    assert!(
        table.text().lines().next().is_some_and(|head| head.ends_with(",branch")),
        "{}",
        table.text()
    );

    for (branch, count) in [("mitte", 1), ("harbour", 0), ("hill", 1), ("auckland", 0)] {
        let token = limited(&service, &format!("desk-{branch}"), &[branch]);
        let seen = send(&service, &token, Request::get("/v1/exposures?lot=B4412")).json();
        assert_eq!(seen["treatments"].as_array().map(Vec::len), Some(count), "{branch}: {seen}");
        let groups = seen["branches"].as_array().map(Vec::len).unwrap_or_default();
        assert_eq!(groups, usize::from(branch != "auckland"), "{branch}: {seen}");
        let recalls = rows(&service, &token, "/v1/recalls");
        assert_eq!(recalls.is_empty(), branch == "auckland", "{branch}: {recalls:?}");
    }
}

/// A lot without a code goes with the delivery that it came with.
#[test]
fn a_part_without_a_code_is_called_back_with_the_rest() {
    let service = chain();
    let body = json!({ "text": "0.30 mm 3RS\nEXP 2029-01-31\nSTERILE EO", "packs": 6, "branch_ref": "mitte" });
    let first = text(&post(&service, "/v1/lots", &body)["id"]);
    let second = text(&moved(&service, &first, "hill", Some(2))["lot"]["id"]);
    let reason = json!({ "reason": "sterile barrier may be broken", "same_code": false });
    post(&service, &format!("/v1/lots/{second}/recalls"), &reason);
    assert_eq!(get(&service, &format!("/v1/lots/{first}"))["state"], "recalled");
}

/// Packs are neither made nor lost, however they are moved, drawn and given back.
#[test]
fn packs_are_neither_made_nor_lost() {
    let service = chain();
    lot(&service, "K1", Some("mitte"), 30);
    let (mut seed, mut drawn, mut open) = (0x2545_f491_4f6c_dd1d_u64, 0, Vec::new());
    let mut chance = |below: usize| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        usize::try_from(seed % below.max(1) as u64).unwrap_or(0)
    };
    for step in 0..60 {
        let lots = rows(&service, service.token(), "/v1/lots?lot=K1&limit=200");
        let packs = |lot: &Value| lot["packs"].as_u64().unwrap_or(0);
        assert_eq!(lots.iter().map(packs).sum::<u64>() + drawn, 30, "step {step}");
        let one = &lots[chance(lots.len())];
        let id = text(&one["id"]);
        match chance(4) {
            0 | 1 => {
                let body = json!({ "branch_ref": ALL[chance(5)], "packs": 1 + chance(9) });
                let answer = service.call(&Request::post(format!("/v1/lots/{id}/moves"), &body));
                assert!([201, 422].contains(&answer.status), "{}", answer.text());
            }
            2 => {
                let answer =
                    service.call(&Request::post("/v1/treatments", &treatment(&[&id], &json!({}))));
                assert!([201, 409].contains(&answer.status), "{}", answer.text());
                if answer.status == 201 {
                    drawn += 1;
                    open.push(text(&answer.json()["id"]));
                }
            }
            _ => {
                let Some(back) = open.pop() else { continue };
                let body = json!({ "reason": "not opened", "strike_packs": [0] });
                post(&service, &format!("/v1/treatments/{back}/amendments"), &body);
                drawn -= 1;
            }
        }
    }
}

/// A part begins without what was changed by hand, and to a token of a branch a lot tells nothing of
/// where else it lay, nor of what was done there, in no answer that has one.
#[test]
fn a_moved_lot_tells_nothing_of_elsewhere() {
    let service = chain();
    let adjust = |token: &str, lot: &str, note: &str| {
        let body = json!({ "change": -1, "reason": "damaged", "note": note });
        send(&service, token, Request::post(format!("/v1/lots/{lot}/adjustments"), &body))
    };
    let notes = |lot: &Value| -> Vec<String> {
        let all = lot["adjustments"].as_array().cloned().unwrap_or_default();
        all.iter().map(|one| text(&one["note"])).collect()
    };
    let first = lot(&service, "B1", Some("mitte"), 20);
    assert_eq!(adjust(service.token(), &first, "secret of mitte").status, 201);
    let parted = moved(&service, &first, "hill", Some(8));
    let part = text(&parted["lot"]["id"]);
    assert_eq!((notes(&parted["lot"]).len(), notes(&parted["left"]).len()), (0, 1), "{parted}");
    assert_eq!(adjust(service.token(), &part, "secret of hill").status, 201);
    moved(&service, &part, "harbour", None);
    assert_eq!(notes(&get(&service, &format!("/v1/lots/{part}"))), ["secret of hill"]);

    let desk = limited(&service, "desk", &["harbour"]);
    let both = limited(&service, "both", &["harbour", "lisbon"]);
    let confirmed =
        json!({ "by": "anna", "lots": [{ "lot_id": part, "confirmed": { "sterile": true } }] });
    let told = [
        send(&service, &desk, Request::get(format!("/v1/lots/{part}"))),
        send(&service, &desk, Request::get("/v1/lots")),
        adjust(&desk, &part, "of harbour"),
        send(&service, &desk, Request::post("/v1/lot-confirmations", &confirmed)),
        send(
            &service,
            &both,
            Request::post(
                format!("/v1/lots/{part}/moves"),
                &json!({ "branch_ref": "lisbon", "packs": 2 }),
            ),
        ),
        send(&service, &desk, Request::get("/v1/lots")),
    ];
    for answer in &told {
        let told = answer.text();
        assert!(answer.status < 300 && told.contains(&part), "{told}");
        for secret in ["secret", "mitte", "hill", &first] {
            assert!(!told.contains(secret), "`{secret}`: {told}");
        }
    }
    assert_eq!(notes(&told[2].json()), ["of harbour"]);
    let left = &told[4].json()["left"];
    assert_eq!(left["moves"].as_array().map(Vec::len), Some(1), "{left}");
    assert_eq!(left["moves"][0]["to"], "lisbon", "{left}");
    assert_eq!(notes(&told[4].json()["lot"]).len(), 0);
    assert!(!told[5].text().contains("lisbon"), "{}", told[5].text());
    let whole = get(&service, &format!("/v1/lots/{part}"));
    assert_eq!(whole["moves"].as_array().map(Vec::len), Some(3), "{whole}");
    assert_eq!(notes(&whole), ["secret of hill", "of harbour"]);
}
