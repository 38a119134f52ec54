//! Treatment records: what was used on whom.
//!
//! A record is made once. Its trace (who by reference, when, which lots) stays
//! for as long as the law wants; the rest is sealed under the client's key.
//! The packs leave the drawer in the same batch, so no pack is used twice and
//! none is lost; the reminders of its aftercare are written in it too.
//!
//! | space | key | value |
//! |---|---|---|
//! | `treatments` | id | trace, sealed input, sealed answer |
//! | `treatments-by-client` | client's pseudonym, performed at, id | – |
//! | `treatments-by-lot` | lot id, performed at, id | the exposure row |
//! | `packs-by-serial` | lot code, serial | treatment id |

pub(super) mod draw;
pub(in crate::studio) mod flags;
mod list;
mod place;
mod trace;

pub use list::{first_id, latest_of_client, list, of_area, of_client};
pub use trace::{TracedPack, TreatmentTrace, is_reached, whose};

use etui_craft::drawer::FlagCode;
use etui_craft::refusal::Refusal;
use etui_schema::clients::ClientRecord;
use etui_schema::endpoints;
use etui_schema::events::EventType;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::treatments::{Flag, OpenedPack, TreatmentRecord, TreatmentRequest};
use etui_schema::vocabulary::{Instant, Language, Treatment, Zone};
use jiff::Timestamp;
use uuid::Uuid;

use self::draw::Drawn;
use self::flags::{Looked, flag};
use self::place::Place;
use super::Studio;
use super::appointment_checks::{self, check_pair};
use super::artists;
use super::branches;
use super::clients;
use super::countersignatures;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Planned, Repeat, to_json};
use super::reminders;
use super::sealed::{self, Trace};
use super::vault::{self, Subject};
use crate::store::index::Index;
use crate::store::seal::ClientId;
use crate::store::{Batch, Bytes, Space};

/// Ids by client, in the order of their dates.
pub const BY_CLIENT: Index<(ClientId, Timestamp, Uuid)> = Index::new("treatments-by-client");
/// Exposure rows by lot, in the order of the treatments' dates.
pub const BY_LOT: Index<(Uuid, Timestamp, Uuid)> = Index::new("treatments-by-lot");
/// Serial numbers that were used, by lot code.
pub const BY_SERIAL: Index<(String, String)> = Index::new("packs-by-serial");

/// Plans to record a treatment and to take its packs out of the drawer. What
/// wants a second look is said in `language`.
///
/// # Errors
/// [`Error::Refused`] for packs that may not be used, an effect that the
/// treatment does not have, a date before the client's birth or in the future;
/// [`Error::Conflict`] if a lot has no pack left.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    request: &TreatmentRequest,
) -> Result<Planned, Error> {
    let place = place::of(studio, snap, request).await?;
    let at = (place.branch.as_ref(), "#/branch_ref");
    let (here, held) = branches::there(studio, snap, at).await?;
    let zone = request.zone.clone().unwrap_or_else(|| here.zone.clone());
    let zones = [&zone, &here.zone];
    let days = branches::Days::judging(studio, snap, request.performed_at.0, zones).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let client = clients::find(studio, snap, &request.client_ref).await?;
    check_date(moment, request.performed_at, &zone, client.as_ref()).map_err(|(why, means)| {
        Error::at("#/performed_at", FaultCode::OutOfRange, why).means(means)
    })?;
    if let Some(effect) = request.effect {
        check_pair(studio, request.treatment, effect)?;
    }
    artists::own_work(studio, snap, moment, (&request.artist_ref, "#/artist_ref")).await?;
    let packs = ("#/packs", &*request.packs);
    let drawn = draw::from_drawer(studio, snap, (days, &moment.mandate), packs).await?;
    let id = moment.id()?;
    let asked = Looked::told(request, &zone);
    let seen = appointment_checks::seen(studio, snap, request.check_id).await?;
    let looked = flags::of(studio, snap, moment, &asked, (seen.as_ref(), client.as_ref())).await?;
    let sites = site_flags(studio, request.treatment, (&drawn.opened(), 0));
    let looked = place.flags().into_iter().chain(sites).chain(looked).collect();
    let mut record = record_of(id, moment, (zone, place), request, (&drawn, looked));
    record.flags = flags::say(&studio.craft.drawer, language, record.flags);
    let answer = to_json(&record)?;
    let trace = TreatmentTrace::of(&record);
    let subject = Subject::Client(request.client_ref.clone());
    let access = vault::for_write(studio, snap, moment, &subject).await?;
    let mut batch = drawn.leave(held)?;
    let keys = (&*studio.keyring, &access);
    batch = sealed::add(batch, keys, moment, (id, trace.clone()), request, &answer)?;
    batch = index(studio, batch, id, &trace)?;
    let known = reminders::known_with(studio, &record.client_ref, seen, client.as_ref());
    let known = (&record, known.as_ref());
    batch = reminders::schedule(studio, snap, moment, batch, known, &access).await?;
    batch = countersignatures::to_ask(studio, snap, batch, &record, moment.now).await?;
    let client_ref = request.client_ref.clone();
    let happened = Happened::treatment(EventType::TreatmentRecorded, id, client_ref.clone());
    batch = outbox::add(batch, moment, happened)?;
    // Whatever wants a second look is told of; the owner looks at the record.
    if !record.flags.is_empty() {
        let happened = Happened::treatment(EventType::TreatmentFlagged, id, client_ref);
        batch = outbox::add(batch, moment, happened)?;
    }
    batch = batch.audit(moment.entry("treatment.record", &format!("treatments/{id}"), 1));
    Ok(Planned {
        created: true,
        answer,
        location: Some(endpoints::get_treatment().at.filled(&[&id])),
        batch: access.guard(batch),
        repeat: Repeat::Record(TreatmentTrace::SPACE, id.as_bytes().to_vec()),
    })
}

/// What stands against a date.
pub(super) fn check_date(
    moment: &Moment,
    performed_at: Instant,
    zone: &Zone,
    client: Option<&ClientRecord>,
) -> Result<(), (&'static str, Refusal)> {
    if moment.now < performed_at.0 {
        return Err(("the treatment lies in the future", Refusal::InFuture));
    }
    let born_on = client.and_then(|client| client.born_on);
    let day = zone.rules().to_datetime(performed_at.0).date();
    if born_on.is_some_and(|born| day < born.0) {
        return Err(("the treatment lies before the client's date of birth", Refusal::BeforeBirth));
    }
    Ok(())
}

/// Adds to a batch what finds a treatment: its trace and its row under the
/// client follow what was put right.
///
/// # Errors
/// What the store met.
pub(super) async fn follow(
    studio: &Studio,
    snap: &mut Snap,
    batch: Batch,
    (before, after): (&TreatmentRecord, &TreatmentRecord),
) -> Result<Batch, Error> {
    let change = |trace: &mut TreatmentTrace| {
        trace.performed_at = after.performed_at;
        trace.artist_ref = after.artist_ref.clone();
        trace.branch_ref = after.branch_ref.clone();
        trace.pigment_batches =
            after.pigments.iter().map(|pigment| pigment.batch.clone()).collect();
    };
    let batch = sealed::retrace(&studio.keyring, snap, batch, after.id, change).await?;
    let client = studio.keyring.client_id(after.client_ref.as_str());
    let row = |record: &TreatmentRecord| BY_CLIENT.row(&(client, record.performed_at.0, record.id));
    let mut batch = batch.without(row(before)).with(row(after), Vec::new());
    // The exposure rows of the right date are written with the amendment.
    for pack in &before.packs {
        batch = batch.without(BY_LOT.row(&(pack.lot_id, before.performed_at.0, before.id)));
    }
    Ok(batch)
}

fn record_of(
    id: Uuid,
    moment: &Moment,
    (zone, place): (Zone, Place),
    request: &TreatmentRequest,
    (drawn, looked): (&Drawn, Vec<Flag>),
) -> TreatmentRecord {
    let TreatmentRequest {
        client_ref,
        artist_ref,
        machine_ref,
        treatment,
        effect,
        performed_at,
        branch_ref: _,
        zone: _,
        check_id,
        packs: _,
        pigments,
        worked,
    } = request.clone();
    let mut flags = drawn.flags(0, place.branch.as_ref());
    flags.extend(pigment_flags(&pigments, drawn.days().least()));
    flags.extend(looked);
    etui_schema::entries! { [etui_schema::recorded]
        id,
        client_ref,
        artist_ref,
        machine_ref,
        treatment,
        effect,
        performed_at,
        zone,
        check_id,
        packs: drawn.opened(),
        pigments,
        worked,
        flags,
        recorded_at: Instant(moment.now),
        branch_ref: place.branch,
        branch_from: place.from.map(Into::into),
    }
}

/// What about the pigments wants a second look.
pub(super) fn pigment_flags(
    pigments: &[etui_schema::treatments::PigmentUse],
    day: jiff::civil::Date,
) -> Vec<Flag> {
    let mut flags = Vec::new();
    if pigments.is_empty() {
        flags.push(flag("#/pigments", FlagCode::PigmentUnknown));
    }
    for (at, pigment) in pigments.iter().enumerate() {
        let mut of = |member: &str, code: FlagCode, holds: bool| {
            if holds {
                flags.push(flag(format!("#/pigments/{at}/{member}"), code));
            }
        };
        let past = pigment.expires_on.is_some_and(|last| last.0 < day);
        of("expires_on", FlagCode::PigmentExpiryUnknown, pigment.expires_on.is_none());
        of("statement_seen", FlagCode::StatementUnknown, pigment.statement_seen.is_none());
        of("expires_on", FlagCode::PigmentExpired, past);
        of("statement_seen", FlagCode::StatementMissing, pigment.statement_seen == Some(false));
    }
    flags
}

/// Packs, the first of which has a place in the record, that were used on a site that is not the
/// treatment's.
pub(super) fn site_flags(
    studio: &Studio,
    treatment: Treatment,
    (packs, first): (&[OpenedPack], usize),
) -> Vec<Flag> {
    let sites = studio.craft.selector.sites(treatment, None);
    let is_other =
        |(_, pack): &(usize, &OpenedPack)| pack.site.is_some_and(|it| !sites.contains(&it));
    let others = (first..).zip(packs).filter(is_other);
    others.map(|(at, _)| flag(format!("#/packs/{at}/site"), FlagCode::PackOfAnotherSite)).collect()
}

/// The rows of serial numbers that packs take.
pub(super) fn serial_rows(packs: &[TracedPack]) -> impl Iterator<Item = (Space, Bytes)> + '_ {
    packs.iter().filter_map(|pack| serial_row(pack.lot.as_deref(), pack.serial.as_deref()))
}

/// The row of a serial number of a lot; `None` for a pack without one.
pub(super) fn serial_row(lot: Option<&str>, serial: Option<&str>) -> Option<(Space, Bytes)> {
    Some(BY_SERIAL.row(&(lot.unwrap_or("").to_owned(), serial?.to_owned())))
}

/// Whether two serial numbers may be of one pack: capitals or not is how somebody typed it.
fn is_serial(one: &str, other: &str) -> bool {
    one.to_lowercase() == other.to_lowercase()
}

/// Whether a pack of a lot with this serial number was used before.
async fn is_used(snap: &mut Snap, lot: Option<&str>, serial: &str) -> Result<bool, Error> {
    let used = BY_SERIAL.under(&(lot.unwrap_or("").to_owned(),)).every(snap).await?;
    Ok(used.iter().any(|(_, its)| is_serial(serial, its)))
}

fn index(
    studio: &Studio,
    mut batch: Batch,
    id: Uuid,
    trace: &TreatmentTrace,
) -> Result<Batch, Error> {
    let client = studio.keyring.client_id(trace.client_ref.as_str());
    batch = batch.with(BY_CLIENT.row(&(client, trace.performed_at.0, id)), Vec::new());
    for exposure in trace.exposures(id) {
        let row = BY_LOT.row(&(exposure.lot_id, exposure.performed_at.0, id));
        batch = batch.with(row, to_json(&exposure)?);
    }
    for pack in &trace.packs {
        batch = take_serial(batch, id, pack.lot.as_deref(), pack.serial.as_deref());
    }
    Ok(batch)
}

/// Adds to a batch that a serial number of a lot is used.
pub(super) fn take_serial(
    batch: Batch,
    id: Uuid,
    lot: Option<&str>,
    serial: Option<&str>,
) -> Batch {
    let Some((space, key)) = serial_row(lot, serial) else { return batch };
    batch.expect(space, key.clone(), None).put(space, key, id.as_bytes().to_vec())
}

/// A pack whose serial number was used before.
fn used_before(place: &str) -> Fault {
    Fault::new(
        format!("{place}/serial"),
        FaultCode::Duplicate,
        "a pack with this serial number of this lot was used before",
    )
    .means(Refusal::PackUsed)
}
