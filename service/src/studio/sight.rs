//! Whose work a token reaches: the one place where it is decided.
//!
//! A token that is limited to some artists reads and writes what is theirs and nothing of
//! anybody else's. `http::sight` says of each operation by which record it is held, and comes here with
//! it before the use case begins; a list leaves out what [`Mandate::reaches`] denies. What belongs
//! to a treatment is of the artist whose treatment it is today: put right to another's, it is hers no
//! longer. What names nobody, or cannot be read, is of nobody.
//!
//! What is computed is computed with everything that is on record, whoever did it: a limited
//! token is told less, and never something kinder.

use etui_craft::refusal::Refusal;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Reference;
use uuid::Uuid;

use super::Studio;
use super::appointment_checks::{self, CheckTrace};
use super::engine::Snap;
use super::error::{Error, readable};
use super::moment::Mandate;
use super::practice::SheetTrace;
use super::sealed::{self, Trace};
use super::sign_offs;
use super::treatments::{self, TreatmentTrace};

/// What an id in a path is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// A treatment, and all that hangs on it.
    Treatment,
    /// A check.
    Check,
    /// A practice sheet.
    Sheet,
    /// A sign-off.
    SignOff,
}

/// Refuses a record that is beyond the token: to it, it is not there.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn look(snap: &mut Snap, mandate: &Mandate, held: Held, id: Uuid) -> Result<(), Error> {
    if mandate.artists.is_none() {
        return Ok(());
    }
    let (what, artist) = match held {
        Held::Treatment => (TreatmentTrace::WHAT, treatments::whose(snap, id).await?),
        Held::Check => (CheckTrace::WHAT, of_check(snap, id).await?),
        Held::Sheet => {
            let sheet = readable(sealed::load::<SheetTrace>(snap, id).await)?;
            (SheetTrace::WHAT, sheet.map(|sheet| sheet.trace.artist_ref))
        }
        Held::SignOff => ("sign-off", readable(sign_offs::whose(snap, id).await)?),
    };
    if mandate.reaches(artist.as_ref()) {
        return Ok(());
    }
    Err(Error::NotFound { what, id: id.to_string() })
}

async fn of_check(snap: &mut Snap, id: Uuid) -> Result<Option<Reference>, Error> {
    Ok(readable(sealed::load::<CheckTrace>(snap, id).await)?
        .and_then(|found| found.trace.artist_ref))
}

/// Refuses a body, or a path, that names somebody beyond the token, or nobody.
///
/// # Errors
/// [`Error::Beyond`].
pub fn named(mandate: &Mandate, artist: Option<&Reference>, pointer: &str) -> Result<(), Error> {
    if mandate.reaches(artist) {
        return Ok(());
    }
    Err(beyond(mandate, pointer))
}

/// Refuses a check that is told of, if it is beyond the token; one that is not kept may be.
///
/// # Errors
/// [`Error::Beyond`], or what the store met.
pub async fn named_check(
    snap: &mut Snap,
    mandate: &Mandate,
    (id, pointer): (Uuid, &str),
) -> Result<(), Error> {
    named(mandate, of_check(snap, id).await?.as_ref(), pointer)
}

/// Refuses a booking that another's check is for: the newest check of a booking is the one that
/// counts, and hers would count no more.
///
/// # Errors
/// [`Error::Beyond`], or what the store met.
pub async fn named_booking(
    (studio, snap): (&Studio, &mut Snap),
    mandate: &Mandate,
    (booking_ref, pointer): (&Reference, &str),
) -> Result<(), Error> {
    match appointment_checks::newest(studio, snap, booking_ref).await? {
        Some(id) => named_check(snap, mandate, (id, pointer)).await,
        None => Ok(()),
    }
}

fn beyond(mandate: &Mandate, pointer: &str) -> Error {
    let all = mandate.artists.iter().flat_map(|all| all.iter());
    let all = all.map(|artist| format!("`{artist}`")).collect::<Vec<_>>().join(", ");
    let why = if all.is_empty() {
        "this token reaches nobody's work any more; make a new one".to_owned()
    } else {
        format!("this token reaches only what is of {all}")
    };
    Error::Beyond(Fault::new(pointer, FaultCode::NotAllowed, why).means(Refusal::OnlySome))
}
