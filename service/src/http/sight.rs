//! By which record each operation is held where a token is limited to some artists.
//!
//! What is not told here is closed to such a token: an operation that is added later opens
//! nothing by being forgotten. Whose a record is decides `studio::sight`.

use actix_web::HttpRequest;
use actix_web::http::Method;
use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;
use etui_schema::vocabulary::Reference;
use serde_json::Value;
use uuid::Uuid;

use super::failure::Failure;
use super::operation::Operation;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Mandate;
use crate::studio::sight::{Held, look, named, named_booking, named_check};
use crate::studio::{plugins, reminders, treatments};

/// What an operation is held by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    /// It concerns nobody's work.
    Nothing,
    /// Its rows: the list leaves out what is beyond.
    Rows,
    /// The artist whom its body has to name.
    Body,
    /// The record of the id in its path.
    Record(Held),
    /// The message of the id in its path.
    Reminder,
    /// The artist in its path.
    Artist,
}

/// What an operation is held by; `None` where it tells of everybody's work.
fn by(operation: &Operation) -> Option<By> {
    if operation.scope.is_some_and(plugins::is_of_everybody) {
        return None;
    }
    let mut parts = operation.path.trim_start_matches("/v1/").split('/');
    let (what, under, below) = (parts.next()?, parts.next(), parts.next());
    let record = |held| match under {
        Some(_) => By::Record(held),
        None if operation.method == Method::GET => By::Rows,
        None => By::Body,
    };
    Some(match (what, below) {
        ("treatments", _) => record(Held::Treatment),
        ("appointment-checks", _) => record(Held::Check),
        ("practice-sheets", _) => record(Held::Sheet),
        ("sign-offs", _) => record(Held::SignOff),
        ("reminders", _) => under.map_or(By::Rows, |_| By::Reminder),
        ("reminder-claims" | "day-sheets", _) => By::Rows,
        ("artists" | "hand-profiles", _) => under.map_or(By::Rows, |_| By::Artist),
        ("lots", Some("recalls" | "exposures")) => return None,
        ("plugins", None) if under == Some("me") => By::Nothing,
        (shared, _) if SHARED.contains(&shared) => By::Nothing,
        _ => return None,
    })
}

/// What the studio has in common, and what is only computed.
const SHARED: [&str; 21] = [
    "aftercare-plans",
    "clients",
    "configuration-comparisons",
    "configuration-drawings",
    "deliveries",
    "drill-grades",
    "drills",
    "label-readings",
    "lot-confirmations",
    "lots",
    "machines",
    "needle-selections",
    "phototype-scores",
    "puncture-patterns",
    "screening-questions",
    "sheet-readings",
    "skin-assessments",
    "skin-colours",
    "supplier-habits",
    "symptom-questions",
    "symptom-reports",
];

/// Refuses an operation that a limited token does not reach, before anything is read.
pub(super) fn admit(operation: &Operation, mandate: &Mandate) -> Result<(), Failure> {
    if mandate.artists.is_none() || by(operation).is_some() {
        return Ok(());
    }
    let why = "the token is limited to some artists, and this operation reaches everybody's work";
    Err(Failure::new(ErrorCode::InsufficientScope, why))
}

/// Holds a request against what its token reaches, in the view that it is answered from.
pub(super) async fn enter(
    (req, operation): (&HttpRequest, Option<&Operation>),
    mandate: &Mandate,
    (studio, snap): (&Studio, &mut Snap),
    body: &[u8],
) -> Result<(), Error> {
    let operation = operation.filter(|_| mandate.artists.is_some());
    let Some(by) = operation.and_then(by) else { return Ok(()) };
    let place = |name: &str| req.match_info().query(name);
    match by {
        By::Nothing | By::Rows => Ok(()),
        By::Body => {
            told(snap, mandate, body, true).await?;
            let is_check =
                operation.is_some_and(|it| it.path == endpoints::list_appointment_checks().at.path);
            let told: Value = serde_json::from_slice(body).unwrap_or_default();
            let booking = told["booking_ref"].as_str().and_then(|text| text.parse().ok());
            match booking.filter(|_| is_check) {
                Some(booking) => {
                    named_booking((studio, snap), mandate, (&booking, "#/booking_ref")).await
                }
                None => Ok(()),
            }
        }
        By::Record(held) => {
            // What is no id is refused where it is read.
            let Ok(id) = Uuid::try_parse(place("id")) else { return Ok(()) };
            look(snap, mandate, held, id).await?;
            if held == Held::Treatment { told(snap, mandate, body, false).await } else { Ok(()) }
        }
        By::Reminder => {
            let Ok(id) = Uuid::try_parse(place("id")) else { return Ok(()) };
            let treatment = reminders::treatment_of(snap, id).await?;
            if treatments::is_reached(snap, mandate, treatment).await? {
                return Ok(());
            }
            Err(Error::NotFound { what: "reminder", id: id.to_string() })
        }
        By::Artist => {
            let Ok(artist) = place("artist_ref").parse::<Reference>() else { return Ok(()) };
            if req.method() == Method::PUT {
                return named(mandate, Some(&artist), "path:artist_ref");
            }
            if mandate.reaches(Some(&artist)) {
                return Ok(());
            }
            Err(Error::NotFound { what: "artist", id: artist.to_string() })
        }
    }
}

/// Whom a body names, and which check it goes by.
async fn told(snap: &mut Snap, mandate: &Mandate, body: &[u8], has_to: bool) -> Result<(), Error> {
    // It held to its schema before it came here.
    let told: Value = serde_json::from_slice(body).unwrap_or_default();
    let text = |pointer: &str| told.pointer(pointer).and_then(Value::as_str);
    for (pointer, has_to) in [("/artist_ref", has_to), ("/values/artist_ref", false)] {
        let artist: Option<Reference> = text(pointer).and_then(|text| text.parse().ok());
        if has_to || told.pointer(pointer).is_some() {
            named(mandate, artist.as_ref(), &format!("#{pointer}"))?;
        }
    }
    match text("/check_id").and_then(|text| Uuid::try_parse(text).ok()) {
        Some(id) => named_check(snap, mandate, (id, "#/check_id")).await,
        None => Ok(()),
    }
}
