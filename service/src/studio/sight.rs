//! Whose work a token reaches, and of which branches: the one place where it is decided.
//!
//! A token that is limited to some artists reads and writes what is theirs and nothing of
//! anybody else's. `http::sight` says of each operation by which record it is held, and comes here with
//! it before the use case begins; a list leaves out what [`Mandate::reaches`] denies. What belongs
//! to a treatment is of the artist whose treatment it is today: put right to another's, it is hers no
//! longer. What names nobody, or cannot be read, is of nobody.
//!
//! A token that is limited to some branches reaches what is of them, and neither what is of another
//! nor what names none. Clients are the whole chain's: what a client told must be seen at whichever
//! branch she comes to, or a stop at one would be none at the next. So are suppliers' habits, which
//! it reads, and what is only computed. How an artist trains is hers wherever she works, and closed to
//! it.
//!
//! What is computed is computed with everything that is on record, whoever did it: a limited
//! token is told less, and never something kinder.

use etui_craft::refusal::Refusal;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Reference;
use serde_json::Value;
use uuid::Uuid;

use super::Studio;
use super::appointment_checks::{self, CheckTrace};
use super::documents::{self, Document};
use super::engine::Snap;
use super::error::{Error, readable};
use super::lots;
use super::moment::Mandate;
use super::practice::SheetTrace;
use super::sealed::{self, Trace};
use super::sign_offs;
use super::treatments::{self, TreatmentTrace};
use super::whose::Whose;

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
    /// A lot.
    Lot,
}

/// Refuses a record that is beyond the token: to it, it is not there.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn look(snap: &mut Snap, mandate: &Mandate, held: Held, id: Uuid) -> Result<(), Error> {
    if !mandate.is_limited() {
        return Ok(());
    }
    let hers = |artist| Whose { artist, branch: None };
    let (what, whose) = match held {
        Held::Treatment => (TreatmentTrace::WHAT, treatments::whose(snap, id).await?),
        Held::Check => (CheckTrace::WHAT, of_check(snap, id).await?),
        Held::Sheet => {
            let sheet = readable(sealed::load::<SheetTrace>(snap, id).await)?;
            (SheetTrace::WHAT, hers(sheet.map(|sheet| sheet.trace.artist_ref)))
        }
        Held::SignOff => ("sign-off", hers(readable(sign_offs::whose(snap, id).await)?)),
        Held::Lot => {
            return match has_lot(snap, mandate, id).await? {
                true => Ok(()),
                false => Err(Error::NotFound { what: "lot", id: id.to_string() }),
            };
        }
    };
    if whose.is_reached(mandate) {
        return Ok(());
    }
    Err(Error::NotFound { what, id: id.to_string() })
}

/// Whether a lot is of a branch within reach. The drawer is everybody's whom only artists limit; to
/// whom branches limit, one that cannot be read is of none.
async fn has_lot(snap: &mut Snap, mandate: &Mandate, id: Uuid) -> Result<bool, Error> {
    if mandate.branches.is_none() {
        return Ok(true);
    }
    let lot = readable(lots::load(snap, id).await)?;
    Ok(lot.is_some_and(|(lot, _)| mandate.reaches_branch(lot.branch_ref.as_ref())))
}

/// Refuses a lot that is told of, if it is beyond the token, as one that is not there.
///
/// # Errors
/// [`Error::Beyond`], or what the store met.
pub async fn named_lot(
    snap: &mut Snap,
    mandate: &Mandate,
    (id, pointer): (Uuid, &str),
) -> Result<(), Error> {
    if has_lot(snap, mandate, id).await? { Ok(()) } else { Err(beyond(mandate, pointer)) }
}

async fn of_check(snap: &mut Snap, id: Uuid) -> Result<Whose, Error> {
    let found = readable(sealed::load::<CheckTrace>(snap, id).await)?;
    Ok(found.map(|found| found.trace.whose()).unwrap_or_default())
}

/// Refuses a branch that is told of, if it is beyond the token; none is.
///
/// # Errors
/// [`Error::Beyond`].
pub fn named_branch(
    mandate: &Mandate,
    branch: Option<&Reference>,
    pointer: &str,
) -> Result<(), Error> {
    if mandate.reaches_branch(branch) { Ok(()) } else { Err(beyond(mandate, pointer)) }
}

/// Refuses a document that is told of, if it is beyond the token or not there: which of both is not
/// told.
///
/// # Errors
/// [`Error::Beyond`], or what the store met.
pub async fn named_document<D: Document>(
    (studio, snap): (&Studio, &mut Snap),
    mandate: &Mandate,
    (reference, pointer): (&Reference, &str),
) -> Result<(), Error> {
    let found = readable(documents::find::<D, _>(studio, snap, reference).await)?.flatten();
    if found.is_some_and(|found| found.is_reached(mandate)) {
        return Ok(());
    }
    Err(beyond(mandate, pointer))
}

/// Refuses a document in a path that is beyond the token: to it, it is not there. One that is to come
/// into being is not.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Beyond`] where it is put; what the store met.
pub async fn look_document<D: Document>(
    (studio, snap): (&Studio, &mut Snap),
    mandate: &Mandate,
    (reference, is_put): (&Reference, bool),
) -> Result<(), Error> {
    let Some(found) = documents::find::<D, _>(studio, snap, reference).await? else {
        return Ok(());
    };
    if found.is_reached(mandate) {
        return Ok(());
    }
    if is_put {
        return Err(beyond(mandate, &format!("path:{}", D::REFERENCE)));
    }
    Err(Error::NotFound { what: D::WHAT, id: reference.to_string() })
}

/// Refuses an artist's own results: to a token of some artists those of others, to one of some branches
/// all, since they were had wherever she worked.
///
/// # Errors
/// [`Error::Beyond`].
pub fn results(mandate: &Mandate, artist: &Reference, pointer: &str) -> Result<(), Error> {
    if mandate.branches.is_some() {
        return Err(beyond(mandate, pointer));
    }
    named(mandate, Some(artist), pointer)
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
    if of_check(snap, id).await?.is_reached(mandate) {
        return Ok(());
    }
    Err(beyond(mandate, pointer))
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

/// Refuses an answer that was kept for a repeat, if it names a branch that the token has ceased to
/// reach: what is read anew leaves that out, and what was answered is not altered.
///
/// # Errors
/// [`Error::Beyond`].
pub fn kept(mandate: &Mandate, answer: &str) -> Result<(), Error> {
    let answer: Value = match mandate.branches {
        Some(_) => serde_json::from_str(answer).unwrap_or_default(),
        None => return Ok(()),
    };
    let pointer = "header:Idempotency-Key";
    if is_within(mandate, &answer) { Ok(()) } else { Err(beyond(mandate, pointer)) }
}

/// Whether every branch that an answer names is within reach.
fn is_within(mandate: &Mandate, answer: &Value) -> bool {
    let reaches = |branch: Option<&Value>| {
        let branch = branch.and_then(Value::as_str).and_then(|branch| branch.parse().ok());
        mandate.reaches_branch(branch.as_ref())
    };
    match answer {
        Value::Object(members) => members.iter().all(|(name, value)| match name.as_str() {
            "branch_ref" => value.is_null() || reaches(Some(value)),
            "moves" => {
                let mut moves = value.as_array().into_iter().flatten();
                moves.all(|one| reaches(one.get("from")) && reaches(one.get("to")))
            }
            _ => is_within(mandate, value),
        }),
        Value::Array(items) => items.iter().all(|item| is_within(mandate, item)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => true,
    }
}

fn beyond(mandate: &Mandate, pointer: &str) -> Error {
    let artists = mandate.artists.iter().flat_map(|all| all.iter());
    let branches = mandate.branches.iter().flat_map(|all| all.iter());
    let all = artists.chain(branches);
    let all = all.map(|artist| format!("`{artist}`")).collect::<Vec<_>>().join(", ");
    let why = if all.is_empty() {
        "this token reaches nobody's work any more; make a new one".to_owned()
    } else {
        format!("this token reaches only what is of {all}")
    };
    Error::Beyond(Fault::new(pointer, FaultCode::NotAllowed, why).means(Refusal::OnlySome))
}
