//! What the short views of answers are made of.

use etui_schema::appointment_checks::AppointmentCheck;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::document::SchemaOf;
use crate::studio::Studio;

/// How the short view of an answer is made of its bytes; nothing of bytes that are no such answer.
type Make = fn(&Studio, &[u8]) -> Option<Vec<u8>>;

/// The short view of an operation's answer.
#[derive(Clone, Copy)]
pub(crate) struct Short {
    pub(crate) schema: SchemaOf,
    pub(crate) make: Make,
}

/// The members that the short view has of the whole.
pub(crate) fn part<S: DeserializeOwned + Serialize>(_: &Studio, whole: &[u8]) -> Option<Vec<u8>> {
    serde_json::to_vec(&serde_json::from_slice::<S>(whole).ok()?).ok()
}

/// A check in its few lines.
pub(crate) fn summary(studio: &Studio, whole: &[u8]) -> Option<Vec<u8>> {
    let check: AppointmentCheck = serde_json::from_slice(whole).ok()?;
    serde_json::to_vec(&studio.craft.sheets.summary(&check)).ok()
}
