//! What the service sets itself of a record, as a caller sends it back.
//!
//! What GET gives, PUT takes: a reference, a version and an instant that came with
//! the record may go back with it, and must then be what is stored. A caller who
//! believes to set them is told.

use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Instant, Reference};
use serde_json::{Map, Value};

use super::error::Error;

const SET_BY_US: &str = "the service sets this; send what was read of this record, or leave it out";

/// The members that were sent; none of them has to be.
#[derive(Debug, Clone, Copy)]
pub struct SentBack<'r> {
    /// The reference.
    pub reference: Option<&'r Reference>,
    /// How often the record was changed.
    pub version: Option<u64>,
    /// When it was last changed.
    pub updated_at: Option<Instant>,
}

impl SentBack<'_> {
    /// Holds them against what is stored (`None`: nothing). `name` is the member
    /// of the reference.
    ///
    /// # Errors
    /// [`Error::Refused`] names each that differs.
    pub fn check(
        &self,
        (name, reference): (&str, &Reference),
        stored: Option<(u64, Instant)>,
    ) -> Result<(), Error> {
        let Self { reference: named, version, updated_at } = self;
        let same = [
            (name, named.is_none_or(|sent| sent == reference)),
            ("version", version.is_none_or(|sent| stored.is_some_and(|(held, _)| held == sent))),
            ("updated_at", updated_at.is_none_or(|sent| stored.is_some_and(|(_, at)| at == sent))),
        ];
        let faults: Vec<Fault> = same
            .into_iter()
            .filter(|(_, same)| !same)
            .map(|(name, _)| Fault::new(format!("#/{name}"), FaultCode::Contradiction, SET_BY_US))
            .collect();
        if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
    }
}

/// Holds what came back beside a record against what is shown of it (`None`: there is none).
///
/// # Errors
/// [`Error::Refused`] names each member that is not what is shown.
pub fn only_shown(beside: &Map<String, Value>, shown: Option<&Value>) -> Result<(), Error> {
    let fault = |name: &String| {
        let known = shown.is_none_or(|shown| shown.get(name).is_some());
        let (code, why) = match known {
            true => (FaultCode::Contradiction, SET_BY_US),
            false => (FaultCode::UnknownField, "what is read of this record has no such member"),
        };
        Fault::new(format!("#/{name}"), code, why)
    };
    let same = |name: &String, value| shown.and_then(|shown| shown.get(name)) == Some(value);
    let others = beside.iter().filter(|(name, value)| !same(name, value));
    let faults: Vec<Fault> = others.map(|(name, _)| fault(name)).collect();
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}
