//! By which record each operation is held where a token is limited to some artists or branches.
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
use crate::studio::artists::StoredArtist;
use crate::studio::documents::Document;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::machines::StoredMachine;
use crate::studio::moment::Mandate;
use crate::studio::sight::{
    Held, look, look_document, named, named_booking, named_branch, named_check, named_document,
    named_lot,
};
use crate::studio::{plugins, reminders, treatments};

/// What an operation is held by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    /// It concerns nobody's work.
    Nothing,
    /// Its rows: the list leaves out what is beyond.
    Rows,
    /// The artist and the branch that its body has to name.
    Body,
    /// The record of the id in its path.
    Record(Held),
    /// The message of the id in its path.
    Reminder,
    /// The artist in its path.
    Artist,
    /// The machine in its path.
    Machine,
    /// The branch in its path.
    Branch,
    /// The lots that its body names, or brings.
    Lots,
}

/// What an operation is held by; `None` where it tells of everybody's work, or of every branch's.
fn by(operation: &Operation, mandate: &Mandate) -> Option<By> {
    if operation.scope.is_some_and(plugins::is_of_everybody) {
        return None;
    }
    let mut parts = operation.path.trim_start_matches("/v1/").split('/');
    let (what, under, below) = (parts.next()?, parts.next(), parts.next());
    let is_get = operation.method == Method::GET;
    let record = |held| match under {
        Some(_) => By::Record(held),
        None if is_get => By::Rows,
        None => By::Body,
    };
    let (artists, branches) = (mandate.artists.is_some(), mandate.branches.is_some());
    Some(match (what, below) {
        ("treatments", _) => record(Held::Treatment),
        ("appointment-checks", _) => record(Held::Check),
        ("practice-sheets" | "sign-offs" | "hand-profiles", _) if branches => return None,
        ("practice-sheets", _) => record(Held::Sheet),
        ("sign-offs", _) => record(Held::SignOff),
        ("reminders", _) => under.map_or(By::Rows, |_| By::Reminder),
        ("reminder-claims" | "day-sheets", _) => By::Rows,
        ("artists" | "hand-profiles", _) => under.map_or(By::Rows, |_| By::Artist),
        ("branches", _) => under.map_or(By::Rows, |_| By::Branch),
        ("lots", Some("recalls")) => return None,
        ("lots", Some("exposures")) if artists => return None,
        ("exposures" | "recalls", _) if branches && !artists && is_get => By::Rows,
        ("lots", _) if branches => record(Held::Lot),
        ("deliveries" | "lot-confirmations", _) if branches => By::Lots,
        ("machines", _) if branches => under.map_or(By::Rows, |_| By::Machine),
        ("supplier-habits", _) if branches && !is_get => return None,
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
    if !mandate.is_limited() || by(operation, mandate).is_some() {
        return Ok(());
    }
    let why = match mandate.artists {
        Some(_) => {
            "the token is limited to some artists, and this operation reaches everybody's work"
        }
        None => "the token is limited to some branches, and this operation reaches all of them",
    };
    Err(Failure::new(ErrorCode::InsufficientScope, why))
}

/// Holds a request against what its token reaches, in the view that it is answered from.
pub(super) async fn enter(
    (req, operation): (&HttpRequest, Option<&Operation>),
    mandate: &Mandate,
    (studio, snap): (&Studio, &mut Snap),
    body: &[u8],
) -> Result<(), Error> {
    let operation = operation.filter(|_| mandate.is_limited());
    let Some(by) = operation.and_then(|operation| by(operation, mandate)) else { return Ok(()) };
    let place = |name: &str| req.match_info().query(name);
    // What is sent held to its schema before it came here; nothing is where nothing is sent.
    let told: Value = serde_json::from_slice(body).unwrap_or_default();
    let is_put = req.method() == Method::PUT;
    match by {
        By::Nothing | By::Rows => branch(mandate, &told, false),
        By::Lots => lots(snap, mandate, &told).await,
        By::Body => {
            let is_check =
                operation.is_some_and(|it| it.path == endpoints::list_appointment_checks().at.path);
            let is_lot = operation.is_some_and(|it| it.path == endpoints::list_lots().at.path);
            named_in(snap, mandate, &told, !is_lot).await?;
            branch(mandate, &told, true)?;
            if is_check { check((studio, snap), mandate, &told).await } else { Ok(()) }
        }
        By::Record(held) => {
            // What is no id is refused where it is read.
            let Ok(id) = Uuid::try_parse(place("id")) else { return Ok(()) };
            look(snap, mandate, held, id).await?;
            branch(mandate, &told, false)?;
            if held == Held::Treatment {
                named_in(snap, mandate, &told, false).await
            } else {
                Ok(())
            }
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
            if !mandate.reaches(Some(&artist)) {
                return match is_put {
                    true => named(mandate, Some(&artist), "path:artist_ref"),
                    false => Err(Error::NotFound { what: "artist", id: artist.to_string() }),
                };
            }
            document::<StoredArtist>((studio, snap), mandate, (&artist, is_put), &told).await
        }
        By::Machine => {
            let Ok(machine) = place("machine_ref").parse::<Reference>() else { return Ok(()) };
            document::<StoredMachine>((studio, snap), mandate, (&machine, is_put), &told).await
        }
        By::Branch => {
            let Ok(branch) = place("branch_ref").parse::<Reference>() else { return Ok(()) };
            if mandate.reaches_branch(Some(&branch)) {
                return Ok(());
            }
            Err(Error::NotFound { what: "branch", id: branch.to_string() })
        }
    }
}

/// Holds an artist or a machine against the branches of a token: the one that is kept, and where it is
/// put to.
async fn document<D: Document>(
    (studio, snap): (&Studio, &mut Snap),
    mandate: &Mandate,
    (reference, is_put): (&Reference, bool),
    told: &Value,
) -> Result<(), Error> {
    if mandate.branches.is_none() {
        return Ok(());
    }
    look_document::<D>((studio, snap), mandate, (reference, is_put)).await?;
    branch(mandate, told, is_put)
}

/// Which branch a body names.
fn branch(mandate: &Mandate, told: &Value, has_to: bool) -> Result<(), Error> {
    for (pointer, has_to) in [("/branch_ref", has_to), ("/values/branch_ref", false)] {
        if mandate.branches.is_some() && (has_to || told.pointer(pointer).is_some()) {
            named_branch(mandate, reference(told, pointer).as_ref(), &format!("#{pointer}"))?;
        }
    }
    Ok(())
}

/// Which lots a body names, and to which branch it brings them.
async fn lots(snap: &mut Snap, mandate: &Mandate, told: &Value) -> Result<(), Error> {
    for (at, lot) in told["lots"].as_array().into_iter().flatten().enumerate() {
        match lot["lot_id"].as_str().and_then(|text| Uuid::try_parse(text).ok()) {
            Some(id) => named_lot(snap, mandate, (id, &format!("#/lots/{at}/lot_id"))).await?,
            None => {
                let branch = reference(lot, "/branch_ref");
                named_branch(mandate, branch.as_ref(), &format!("#/lots/{at}/branch_ref"))?;
            }
        }
    }
    Ok(())
}

/// Which booking, artist and machine a check names.
async fn check(
    (studio, snap): (&Studio, &mut Snap),
    mandate: &Mandate,
    told: &Value,
) -> Result<(), Error> {
    if let Some(booking) = reference(told, "/booking_ref") {
        named_booking((studio, snap), mandate, (&booking, "#/booking_ref")).await?;
    }
    if mandate.branches.is_none() {
        return Ok(());
    }
    if let Some(artist) = reference(told, "/artist_ref") {
        let at = (&artist, "#/artist_ref");
        named_document::<StoredArtist>((studio, snap), mandate, at).await?;
    }
    if let Some(machine) = reference(told, "/machine_ref") {
        let at = (&machine, "#/machine_ref");
        named_document::<StoredMachine>((studio, snap), mandate, at).await?;
    }
    Ok(())
}

/// Whom a body names, and which check it goes by.
async fn named_in(
    snap: &mut Snap,
    mandate: &Mandate,
    told: &Value,
    has_to: bool,
) -> Result<(), Error> {
    for (pointer, has_to) in [("/artist_ref", has_to), ("/values/artist_ref", false)] {
        if has_to || told.pointer(pointer).is_some() {
            named(mandate, reference(told, pointer).as_ref(), &format!("#{pointer}"))?;
        }
    }
    match told["check_id"].as_str().and_then(|text| Uuid::try_parse(text).ok()) {
        Some(id) => named_check(snap, mandate, (id, "#/check_id")).await,
        None => Ok(()),
    }
}

fn reference(told: &Value, pointer: &str) -> Option<Reference> {
    told.pointer(pointer).and_then(Value::as_str).and_then(|text| text.parse().ok())
}
