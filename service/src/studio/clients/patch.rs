//! Changing some of a client.
//!
//! The patch is laid over the client as she is read. Where an answer comes from
//! belongs to the answer: one that the patch tells anew is of today, or of what the
//! patch says, and not of the day on which another was given; one that it takes
//! away takes its origin along. An answer for another treatment is taken away by a list of
//! `other_answers` without it.

use etui_schema::clients::ClientRecord;
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::Reference;
use jiff::civil::Date;
use serde_json::{Value, json};

use crate::studio::Studio;
use crate::studio::documents::Sent;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::merge::read_merged;
use crate::studio::moment::Moment;
use crate::studio::plan::{Planned, Precondition, to_json};

/// Plans to lay a merge patch over a client; `read` makes a request of the whole.
///
/// # Errors
/// [`Error::NotFound`], what `read` refuses, and as [`super::put`].
pub async fn patch(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    client_ref: &Reference,
    (patch, read): (&Value, impl Fn(&Value) -> Result<ClientRecord, Error>),
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let held = super::get(studio, snap, client_ref).await?;
    precondition.check(Some(&to_json(&held)?))?;
    let held = serde_json::to_value(&held).map_err(|error| Error::Internal(error.to_string()))?;
    named(studio, &held, patch)?;
    let record = read_merged(without_origins(held, patch, moment.today), patch, read)?;
    super::write(studio, snap, moment, (client_ref, Sent::Patched), &record, precondition).await
}

/// The client without the origins of answers that the patch tells anew or takes away.
fn without_origins(mut held: Value, patch: &Value, today: Date) -> Value {
    let had_age = held.pointer("/skin/age_years").is_some_and(Value::is_u64);
    if let Some(answered) = held.get_mut("answered").and_then(Value::as_object_mut) {
        match patch.get("answers") {
            None => {}
            Some(Value::Object(told)) => answered.retain(|id, _| !told.contains_key(id)),
            // No answer stays.
            Some(_) => answered.retain(|id, _| id == super::SKIN || id == super::AGE),
        }
        // A patch that leaves type and colour alone makes them no younger.
        let is_tone = |skin: &Value| {
            !skin.is_object() || ["phototype", "lab"].iter().any(|one| skin.get(one).is_some())
        };
        let of_skin = answered.get(super::SKIN).cloned();
        let Some(skin) = patch.get("skin") else { return held };
        // The age is of the day on which it was told, whatever else is told anew.
        if !skin.is_object() || skin.get("age_years").is_some() {
            answered.remove(super::AGE);
            let is_age = skin.get("age_years").is_some_and(Value::is_u64);
            let is_dated = patch.pointer("/answered/skin").is_some();
            if is_age && of_skin.is_some() && !is_tone(skin) && !is_dated {
                let on = patch.pointer("/given/on").cloned().unwrap_or_else(|| json!(today));
                answered.insert(super::AGE.to_owned(), json!({ "on": on }));
            }
        } else if let Some(before) = of_skin.filter(|_| had_age && is_tone(skin)) {
            answered.entry(super::AGE).or_insert(before);
        }
        if is_tone(skin) {
            answered.remove(super::SKIN);
        }
    }
    held
}

/// Refuses to take away an answer to what is no question and was not kept: it may be mistyped.
fn named(studio: &Studio, held: &Value, patch: &Value) -> Result<(), Error> {
    let Some(told) = patch.get("answers").and_then(Value::as_object) else { return Ok(()) };
    let kept = |id: &str| held.get("answers").and_then(|answers| answers.get(id)).is_some();
    let strange = |id: &&String| studio.craft.rulebook.question(id).is_none() && !kept(id);
    match told.keys().find(strange) {
        None => Ok(()),
        Some(id) => {
            let why = "no question has this id; GET /v1/screening-questions lists them";
            Err(Error::at(super::check::place_of(id), FaultCode::UnknownReference, why))
        }
    }
}
