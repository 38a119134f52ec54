//! Putting a treatment record right, with its history kept.
//!
//! An amendment is numbered, and its number is a precondition: two that were
//! planned from the same state cannot both be made. Packs that are added leave
//! the drawer like any other; packs that are struck go back. The exposure rows
//! of a recall follow in the same batch, so it reaches those who were exposed
//! and nobody else.
//!
//! When the date is put right, everything that is found or reckoned by it moves
//! in the same batch: the row under the client, the exposure rows, the
//! reminders, the review. The reminders and the zone follow the branch, too. The sealed record stays as it was written.
//!
//! A record of which every pack is struck stands for no work on this client: it has no messages and
//! counts in no interval, until a pack is named again.

use etui_craft::drawer::FlagCode;
use etui_craft::refusal::Refusal;
use etui_schema::amendments::{AmendedValues, Amendment, AmendmentRequest};
use etui_schema::clients::ClientRecord;
use etui_schema::events::EventType;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::recalls::Exposure;
use etui_schema::treatments::{Flag, OpenedPack, TreatmentRecord};
use etui_schema::vocabulary::{Instant, Language, Reference, Zone};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::appointment_checks::{self, check_pair_at};
use super::branches::Days;
use super::engine::Snap;
use super::entries::{self, Added, Entry, EntryKind};
use super::error::{Error, readable};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Planned, to_json};
use super::treatments::flags::Looked;
use super::treatments::{self, BY_LOT, TracedPack, TreatmentTrace, draw, flags};
use super::{
    Studio, artists, branches, clients, countersignatures, history, lots, reminders, reviews,
    sealed, sign_offs,
};
use crate::store::key::KeyWriter;
use crate::store::keyring::Keyring;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Space};

/// What stays of an amendment beside that there was one.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Own {
    /// Its place in the history, from 1.
    pub number: u32,
    /// When the treatment was; part of the exposure rows of what was added.
    pub performed_at: Instant,
    /// Packs that were added.
    pub added: Vec<TracedPack>,
    /// Places of the packs that were struck.
    pub struck: Vec<u8>,
    /// Whether the date of the treatment was put right.
    #[serde(default)]
    pub moved: bool,
    /// Whether it changed what a trainer confirms; absent in what former builds kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    other_work: Option<bool>,
}

impl Own {
    /// Whether what was done is told otherwise since: its effect, packs, day or artist. Where that is
    /// not known, it is.
    pub(super) fn is_other_work(&self) -> bool {
        self.other_work.unwrap_or(true)
    }
}

/// What of a treatment a trainer confirms by being there.
fn confirms(record: &TreatmentRecord) -> impl PartialEq + '_ {
    let packs: Vec<Option<u32>> = record.packs.iter().map(|pack| pack.struck_in).collect();
    let who = (&record.client_ref, &record.artist_ref);
    (who, record.treatment, record.effect, record.performed_at, &record.zone, packs)
}

impl EntryKind for Own {
    const SPACE: Space = Space::new("amendments");
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(Space::new("amendments-by-treatment"))];
    const WHAT: &'static str = "amendment";
    type Input = AmendmentRequest;
    type Answer = Amendment;

    fn place(entry: &Entry<Self>, _: Uuid, treatment: KeyWriter) -> KeyWriter {
        treatment.u32(entry.own.number)
    }

    /// Those of what was added: exposures, serial numbers.
    fn more_rows(entry: &Entry<Self>, _: &Keyring, _: Uuid) -> Vec<(Space, Bytes)> {
        let (at, id) = (entry.own.performed_at.0, entry.treatment_id);
        let exposed = entry.own.added.iter().map(|pack| BY_LOT.row(&(pack.lot_id, at, id)));
        exposed.chain(treatments::serial_rows(&entry.own.added)).collect()
    }
}

impl Added for Own {
    /// Plans to put a record right.
    ///
    /// # Errors
    /// [`Error::Refused`] for an amendment that changes nothing, for packs that may
    /// not be used, and for places that hold no pack; [`Error::Conflict`] if a lot
    /// has no pack left.
    async fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        language: Language,
        treatment_id: Uuid,
        request: &AmendmentRequest,
    ) -> Result<Planned, Error> {
        let record = history::record(studio, snap, treatment_id).await?;
        check(&record, request)?;
        if let Some(effect) = request.values.effect {
            check_pair_at("#/values/effect", studio, record.treatment, effect)?;
        }
        if let Some(artist) = &request.values.artist_ref {
            whose(studio, snap, moment, &record, artist).await?;
        }
        let client = clients::find(studio, snap, &record.client_ref).await?;
        let named = (request.values.branch_ref.as_ref(), "#/values/branch_ref");
        let held = branches::expect(studio, snap, Batch::new(), named).await?;
        let (zone, theirs) = zones(studio, snap, &record, &request.values).await?;
        let performed_at = request.values.performed_at.unwrap_or(record.performed_at);
        // A date that stays is not looked at again: what else is put right must not fail by it.
        if request.values.performed_at.is_some() {
            treatments::check_date(moment, performed_at, &zone, client.as_ref()).map_err(
                |(why, means)| {
                    Error::at("#/values/performed_at", FaultCode::OutOfRange, why).means(means)
                },
            )?;
        }
        let days = Days::judging(studio, snap, performed_at.0, [&zone, &theirs]).await?;
        let packs = ("#/add_packs", &*request.add_packs);
        let mut drawn = draw::from_drawer(studio, snap, (days, &moment.mandate), packs).await?;
        for pack in struck(&record, request) {
            drawn.give_back(snap, pack.lot_id).await?;
        }
        let id = moment.id()?;
        let mut amendment = amendment(id, moment, &record, request, &drawn);
        amendment.zone = (zone != record.zone).then_some(zone);
        if request.values.performed_at.is_some() || request.values.branch_ref.is_some() {
            amendment.flags.extend(expired(snap, drawn.days(), &record).await?);
        }
        let added = (&*amendment.added, record.packs.len());
        amendment.flags.extend(treatments::site_flags(studio, record.treatment, added));
        let values = &request.values;
        if values.performed_at.is_some()
            || values.artist_ref.is_some()
            || values.effect.is_some()
            || values.branch_ref.is_some()
        {
            let known = (&record, &amendment, client.as_ref());
            let (gone, anew) = looked_again(studio, snap, moment, known).await?;
            amendment.no_longer = gone;
            amendment.flags.extend(anew);
        }
        amendment.flags = flags::say(&studio.craft.drawer, language, amendment.flags);
        let mut amended = record.clone();
        history::apply(&mut amended, amendment.clone());
        let own = Own {
            number: amendment.number,
            performed_at,
            added: amendment.added.iter().map(TracedPack::of).collect(),
            struck: amendment.struck.clone(),
            moved: performed_at != record.performed_at,
            other_work: Some(confirms(&record) != confirms(&amended)),
        };
        let (moved, is_other_work) = (own.moved, own.is_other_work());
        let entry = Entry::of(&record, amendment.at, own);
        let mut batch = drawn.leave(held)?;
        batch = serials(batch, treatment_id, &amendment, struck(&record, request));
        let access = entry.access(studio, snap, moment).await?;
        let elsewhere = amended.branch_ref != record.branch_ref;
        let is_traced_anew = elsewhere
            || amended.artist_ref != record.artist_ref
            || amended.pigments != record.pigments;
        if moved || is_traced_anew {
            batch = treatments::follow(studio, snap, batch, (&record, &amended)).await?;
        }
        if amended.artist_ref != record.artist_ref {
            batch = reviews::follow(studio, snap, batch, treatment_id, &amended.artist_ref).await?;
        }
        if moved {
            batch = follow(studio, snap, batch, &amended).await?;
        }
        let is_turned = history::is_struck(&record) != history::is_struck(&amended);
        if moved || elsewhere || is_turned {
            let known = reminders::known_of(studio, snap, &record, client.as_ref()).await?;
            let known = (&record, &amended, known.as_ref());
            batch = reminders::reschedule(studio, snap, moment, batch, known, &access).await?;
        }
        if is_other_work {
            let told = (&record, &amended);
            batch = countersignatures::to_ask_again(studio, snap, batch, told, moment.now).await?;
        }
        batch = exposures(batch, &amended)?;
        // As when it is recorded: the owner looks at the record.
        if !amendment.flags.is_empty() {
            let client_ref = record.client_ref.clone();
            let happened =
                Happened::treatment(EventType::TreatmentFlagged, treatment_id, client_ref);
            batch = outbox::add(batch, moment, happened)?;
        }
        let version = u64::from(amendment.number) + 1;
        let (with, made) = ((studio, moment, access), (request, &amendment));
        entry.add(batch, with, id, made, ("treatment.amend", version))
    }
}

/// What is flagged no longer, and what is anew, by the values that are put right.
async fn looked_again(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (record, amendment, client): (&TreatmentRecord, &Amendment, Option<&ClientRecord>),
) -> Result<(Vec<Flag>, Vec<Flag>), Error> {
    let mut amended = record.clone();
    history::apply(&mut amended, amendment.clone());
    let here = branches::at(studio, snap, amended.branch_ref.as_ref()).await?;
    let (studio, moment) = (&*here, &moment.by(&here.zone));
    let seen = appointment_checks::seen(studio, snap, amended.check_id).await?;
    let now =
        flags::of(studio, snap, moment, &Looked::kept(&amended), (seen.as_ref(), client)).await?;
    Ok(flags::moved(&record.flags, now, amended.performed_at != record.performed_at))
}

/// Earlier amendments know the date of the treatment by which what they added
/// is found.
async fn follow(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    amended: &TreatmentRecord,
) -> Result<Batch, Error> {
    for id in entries::ids::<Own>(snap, amended.id).await? {
        let change = |trace: &mut Entry<Own>| {
            trace.own.performed_at = amended.performed_at;
        };
        batch = sealed::retrace(&studio.keyring, snap, batch, id, change).await?;
    }
    Ok(batch)
}

/// Whose work it was: that a student's was another's says whoever answers for her, and no
/// student says it of another's.
async fn whose(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    record: &TreatmentRecord,
    artist: &Reference,
) -> Result<(), Error> {
    let pointer = "#/values/artist_ref";
    artists::own_work(studio, snap, moment, (artist, pointer)).await?;
    if *artist == record.artist_ref
        || !artists::may_be_student(studio, snap, &record.artist_ref).await?
        || sign_offs::answers_for(studio, snap, moment, &record.artist_ref).await?
    {
        return Ok(());
    }
    let why = "that what a student did was another's work says only a token with `sign-offs` that acts for a trainer, or the owner's";
    Err(Error::at(pointer, FaultCode::NotAllowed, why).means(Refusal::NeedsTrainer))
}

/// Refuses what changes nothing, and places without a pack to strike.
fn check(record: &TreatmentRecord, request: &AmendmentRequest) -> Result<(), Error> {
    let AmendmentRequest { reason: _, values, add_packs, strike_packs } = request;
    if values.is_empty() && add_packs.is_empty() && strike_packs.is_empty() {
        let why = "nothing is put right: send `values`, `add_packs` or `strike_packs`";
        return Err(Error::at("#", FaultCode::Missing, why));
    }
    let mut faults = Vec::new();
    for (at, place) in strike_packs.iter().enumerate() {
        let pointer = format!("#/strike_packs/{at}");
        let fault = |code, why| Fault::new(pointer, code, why);
        faults.extend(match record.packs.get(usize::from(*place)) {
            None => Some(fault(FaultCode::OutOfRange, "the record has no pack at this place")),
            Some(pack) if pack.struck_in.is_some() => {
                let fault = fault(FaultCode::Duplicate, "this pack was struck before");
                Some(fault.means(Refusal::PackStruck))
            }
            Some(_) if strike_packs[..at].contains(place) => {
                Some(fault(FaultCode::Duplicate, "this place is named twice"))
            }
            Some(_) => None,
        });
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

fn struck<'a>(
    record: &'a TreatmentRecord,
    request: &'a AmendmentRequest,
) -> impl Iterator<Item = &'a OpenedPack> {
    request.strike_packs.iter().filter_map(|place| record.packs.get(usize::from(*place)))
}

fn amendment(
    id: Uuid,
    moment: &Moment,
    record: &TreatmentRecord,
    request: &AmendmentRequest,
    drawn: &draw::Drawn,
) -> Amendment {
    let AmendmentRequest { reason, values, add_packs: _, strike_packs } = request.clone();
    let number = record.amendments.len() + 1;
    Amendment {
        id,
        treatment_id: record.id,
        number: u32::try_from(number).unwrap_or(u32::MAX),
        at: Instant(moment.now),
        by: moment.holder.clone(),
        reason,
        was: before(record, &values),
        flags: flags(record, request, drawn),
        no_longer: Vec::new(),
        now: values,
        added: drawn.opened(),
        struck: strike_packs,
        zone: None,
    }
}

/// The values that an amendment takes the place of.
fn before(record: &TreatmentRecord, values: &AmendedValues) -> AmendedValues {
    let AmendedValues {
        performed_at,
        artist_ref,
        machine_ref,
        effect,
        pigments,
        worked,
        branch_ref,
    } = values;
    AmendedValues {
        performed_at: performed_at.map(|_| record.performed_at),
        artist_ref: artist_ref.as_ref().map(|_| record.artist_ref.clone()),
        machine_ref: machine_ref.as_ref().and_then(|_| record.machine_ref.clone()),
        effect: effect.and_then(|_| record.effect),
        pigments: pigments.as_ref().map(|_| record.pigments.clone()),
        worked: worked.as_ref().and_then(|_| record.worked.clone()),
        branch_ref: branch_ref.as_ref().and_then(|_| record.branch_ref.clone()),
    }
}

/// What wants a second look, by its place in the record.
fn flags(record: &TreatmentRecord, request: &AmendmentRequest, drawn: &draw::Drawn) -> Vec<Flag> {
    let values = &request.values;
    let branch = values.branch_ref.as_ref().or(record.branch_ref.as_ref());
    let mut flags = drawn.flags(record.packs.len(), branch);
    if let Some(pigments) = &values.pigments {
        flags.extend(treatments::pigment_flags(pigments, drawn.days().least()));
    }
    let struck = struck(record, request).count();
    let left = record.packs.iter().filter(|pack| pack.struck_in.is_none()).count();
    if 0 < struck && left == struck && request.add_packs.is_empty() {
        flags.push(flags::flag(history::PACKS, FlagCode::NoPackLeft));
    }
    flags
}

/// The zone that the record's dates are counted in, and that of its branch, as they are put right. A
/// zone that was its former branch's or the studio's follows to the new branch.
async fn zones(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    values: &AmendedValues,
) -> Result<(Zone, Zone), Error> {
    let before = branches::at(studio, snap, record.branch_ref.as_ref()).await?.zone.clone();
    let Some(branch) =
        values.branch_ref.as_ref().filter(|_| values.branch_ref != record.branch_ref)
    else {
        return Ok((record.zone.clone(), before));
    };
    let after = branches::at(studio, snap, Some(branch)).await?.zone.clone();
    let follows = [&before, &studio.zone].contains(&&record.zone);
    Ok((if follows { after.clone() } else { record.zone.clone() }, after))
}

/// Packs that were past their date on the right day of the treatment.
async fn expired(
    snap: &mut Snap,
    days: &Days,
    record: &TreatmentRecord,
) -> Result<Vec<Flag>, Error> {
    let mut flags = Vec::new();
    for (at, pack) in record.packs.iter().enumerate() {
        let Some(last) = pack.expires_on.filter(|_| pack.struck_in.is_none()) else { continue };
        // Of a lot that is gone or cannot be read nobody knows where it lay.
        let lot = readable(lots::load(snap, pack.lot_id).await)?;
        if last.0 < days.of(lot.as_ref().and_then(|(lot, _)| lot.branch_ref.as_ref())) {
            flags.push(flags::flag(format!("#/packs/{at}/expires_on"), FlagCode::PackExpired));
        }
    }
    Ok(flags)
}

/// Serial numbers of packs that are struck are free again; those that are
/// added are taken.
fn serials<'a>(
    mut batch: Batch,
    treatment_id: Uuid,
    amendment: &Amendment,
    struck: impl Iterator<Item = &'a OpenedPack>,
) -> Batch {
    for pack in struck {
        let row = treatments::serial_row(pack.lot.as_deref(), pack.serial.as_deref());
        batch = row.into_iter().fold(batch, Batch::without);
    }
    for pack in &amendment.added {
        batch = treatments::take_serial(
            batch,
            treatment_id,
            pack.lot.as_deref(),
            pack.serial.as_deref(),
        );
    }
    batch
}

/// The exposure rows of every lot that the record ever named; a lot whose
/// packs were all struck keeps its row and exposes nobody.
fn exposures(mut batch: Batch, amended: &TreatmentRecord) -> Result<Batch, Error> {
    let trace = TreatmentTrace::of(amended);
    let mut rows = trace.exposures(amended.id);
    for pack in &amended.packs {
        if !rows.iter().any(|row| row.lot_id == pack.lot_id) {
            rows.push(Exposure {
                treatment_id: amended.id,
                client_ref: trace.client_ref.clone(),
                artist_ref: trace.artist_ref.clone(),
                performed_at: trace.performed_at,
                lot_id: pack.lot_id,
                packs: 0,
                lot: None,
                branch_ref: trace.branch_ref.clone(),
            });
        }
    }
    for row in rows {
        let key = BY_LOT.row(&(row.lot_id, row.performed_at.0, row.treatment_id));
        batch = batch.with(key, to_json(&row)?);
    }
    Ok(batch)
}
