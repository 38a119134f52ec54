//! What the service sets itself of a record, as a caller sends it back.
//!
//! What GET gives, PUT takes: a reference, a version and an instant that came with
//! the record may go back with it, and must then be what is stored. A caller who
//! believes to set them is told.

use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Instant, Reference};

use super::error::Error;

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
        let why = "the service sets this; send what was read of this record, or leave it out";
        let faults: Vec<Fault> = same
            .into_iter()
            .filter(|(_, same)| !same)
            .map(|(name, _)| Fault::new(format!("#/{name}"), FaultCode::Contradiction, why))
            .collect();
        if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
    }
}
