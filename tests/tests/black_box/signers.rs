//! A sign-off is written only while whoever signs it still may, and so is a check for which a
//! trainer answers.

use std::sync::Arc;

use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::artists::ArtistRecord;
use etui_schema::sign_offs::{SignOffRequest, WithdrawalRequest};
use etui_schema::vocabulary::{Language, Reference};
use etui_service::http::boot::open_studio;
use etui_service::http::clock::{Sources, System};
use etui_service::store::{Serve, Store, StoreError, harden_sync};
use etui_service::studio::artists::StoredArtist;
use etui_service::studio::engine::Snap;
use etui_service::studio::moment::{Mandate, Moment};
use etui_service::studio::plan::{Planned, Precondition};
use etui_service::studio::{Error, Studio, appointment_checks, documents, sign_offs};
use etui_tests::engine;
use jiff::ToSpan;
use serde_json::{Value, json};
use uuid::Uuid;

fn moment(studio: &Studio, acts_for: Option<&str>, is_admin: bool) -> Moment {
    let now = System.now();
    Moment {
        now,
        dated: now,
        today: studio.zone.rules().to_datetime(now).date(),
        holder: acts_for.map_or("owner".to_owned(), |_| "plugin".to_owned()),
        mandate: Mandate {
            acts_for: acts_for.map(|artist| artist.parse().expect("a reference")),
            artists: None,
            branches: None,
            signs: true,
            is_admin,
        },
        event_source: studio.event_source.clone(),
        sources: Arc::new(System),
    }
}

async fn view(studio: &Studio) -> Snap {
    studio.engine.snapshot().await.expect("a view")
}

async fn put(studio: &Studio, artist: &str, body: &Value) -> Planned {
    let reference: Reference = artist.parse().expect("a reference");
    let request: ArtistRecord = serde_json::from_value(body.clone()).expect("an artist");
    let whatever = Precondition { if_match: Some("*".to_owned()), only_new: false };
    let moment = moment(studio, None, true);
    let mut snap = view(studio).await;
    let held =
        documents::find::<StoredArtist, _>(studio, &mut snap, &reference).await.expect("read");
    let known = if held.is_some() { whatever } else { Precondition::default() };
    documents::put::<StoredArtist, _>(studio, &mut snap, &moment, &reference, &request, &known)
        .await
        .expect("planned")
}

async fn sign(studio: &Studio, signer: Option<&str>, artist: &str) -> Result<Planned, Error> {
    let moment = moment(studio, signer, false);
    let until = moment.today.saturating_add(30.days());
    let request: SignOffRequest = serde_json::from_value(json!({
        "artist_ref": artist, "rung": "alone", "valid_until": until.to_string(),
        "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading", "site": "brow",
                    "diameter_mm": { "from": 0.3, "to": 0.3 } },
    }))
    .expect("a sign-off");
    let none_counted = Default::default();
    sign_offs::give(studio, &mut view(studio).await, &moment, &request, none_counted).await
}

/// Each change comes between the plan of a sign-off and its writing. The sign-off is not
/// written, and planned again it is refused.
#[tokio::test]
async fn whoever_may_no_longer_sign_in_between_has_signed_nothing() {
    for case in [
        "made a student",
        "no longer trainer",
        "her own word taken back",
        "she who is signed off is gone",
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let config = engine::settings(folder.path());
        let studio =
            open_studio(&config, &System, harden_sync()).await.expect("the studio opens").0;
        let commit = async |planned: Planned| studio.engine.commit(planned.batch).await;
        for (artist, body) in [
            ("anna", json!({ "hand": "light", "standing": "student" })),
            ("berta", json!({ "hand": "medium", "trainer": true })),
            ("clara", json!({ "hand": "medium" })),
        ] {
            commit(put(&studio, artist, &body).await).await.expect("written");
        }
        let own = sign(&studio, None, "clara").await.expect("planned");
        let own_id: Value = serde_json::from_slice(&own.answer).expect("JSON");
        let own_id: Uuid = own_id["id"].as_str().expect("an id").parse().expect("an id");
        commit(own).await.expect("written");
        let signer = if case == "her own word taken back" { "clara" } else { "berta" };
        let late = sign(&studio, Some(signer), "anna").await.expect("planned");
        let between = match case {
            "made a student" => {
                let body = json!({ "hand": "medium", "trainer": false, "standing": "student" });
                put(&studio, "berta", &body).await
            }
            "no longer trainer" => {
                put(&studio, "berta", &json!({ "hand": "medium", "trainer": false })).await
            }
            "her own word taken back" => {
                let reason = WithdrawalRequest { reason: "not steady".to_owned() };
                let owner = moment(&studio, None, true);
                let mut snap = view(&studio).await;
                sign_offs::withdraw(&studio, &mut snap, &owner, own_id, &reason)
                    .await
                    .expect("planned")
            }
            _ => {
                let owner = moment(&studio, None, true);
                let whatever = Precondition { if_match: Some("*".to_owned()), only_new: false };
                let anna: Reference = "anna".parse().expect("a reference");
                let mut snap = view(&studio).await;
                documents::remove::<StoredArtist, _>(&studio, &mut snap, &owner, &anna, &whatever)
                    .await
                    .expect("planned")
            }
        };
        commit(between).await.expect("written");
        let met = commit(late).await;
        assert!(matches!(met, Err(StoreError::Conflict { .. })), "{case}: {met:?}");
        let again = sign(&studio, Some(signer), "anna").await.err();
        assert!(matches!(again, Some(Error::Refused(_))), "{case}: {again:?}");
        studio.engine.close().await.expect("closed");
    }
}

async fn answered_for(studio: &Studio) -> Result<Planned, Error> {
    let moment = moment(studio, Some("berta"), false);
    let starts_at = moment.now + 240.hours();
    let request: AppointmentCheckRequest = serde_json::from_value(json!({
        "booking_ref": "booking-1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": starts_at.to_string(), "born_on": "1990-06-15", "artist_ref": "anna",
        "candidates": ["0.30 3RS"],
        "overrides": [{ "rule": "training.not_practised", "reason": "I stand beside her",
                        "by_ref": "berta" }],
    }))
    .expect("a check");
    let snap = &mut view(studio).await;
    appointment_checks::create(studio, snap, &moment, Language::En, &request).await
}

#[tokio::test]
async fn whoever_is_trainer_no_longer_in_between_answers_for_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let config = engine::settings(folder.path());
    let studio = open_studio(&config, &System, harden_sync()).await.expect("the studio opens").0;
    for (artist, body) in [
        ("anna", json!({ "hand": "light", "standing": "student" })),
        ("berta", json!({ "hand": "medium", "trainer": true })),
    ] {
        studio.engine.commit(put(&studio, artist, &body).await.batch).await.expect("written");
    }
    let late = answered_for(&studio).await.expect("planned");
    let between = put(&studio, "berta", &json!({ "hand": "medium", "trainer": false })).await;
    studio.engine.commit(between.batch).await.expect("written");
    let met = studio.engine.commit(late.batch).await;
    assert!(matches!(met, Err(StoreError::Conflict { .. })), "{met:?}");
    let again = answered_for(&studio).await.err();
    assert!(matches!(again, Some(Error::Refused(_))), "{again:?}");
    studio.engine.close().await.expect("closed");
}
