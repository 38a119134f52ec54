//! What is seen on the skin while working, and what to do about it.
//!
//! How far to stop and what is gentler for the rest is told by `craft::trauma`;
//! here record, client and drawer are put together for it. Where packs lie that
//! are to be confirmed first, they are not named.

use etui_craft::configuration::Complete;
use etui_craft::refusal::Refusal;
use etui_craft::selection::{Request, Selector, Trauma};
use etui_craft::trauma::{Advice, Earlier, SESSION};
use etui_schema::problem::FaultCode;
use etui_schema::treatments::{
    Observation, ObservationRequest, OpenedPack, StopScope, TraumaSign, TreatmentRecord, Worked,
};
use etui_schema::vocabulary::aftercare::ReviewZone;
use etui_schema::vocabulary::{Effect, Instant, Language, Reference, Setting, Treatment};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::entries::{self, Added, Entry, EntryKind};
use super::error::{Error, readable};
use super::lots;
use super::machines::StoredMachine;
use super::moment::Moment;
use super::plan::Planned;
use super::{
    Studio, branches, clients, documents, history, needle_selections, reminders, treatments,
};
use crate::store::verify::Indexed;
use crate::store::{Batch, Space};

/// Of an observation nothing stays but that there was one.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Own {}

impl EntryKind for Own {
    const SPACE: Space = Space::new("observations");
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(Space::new("observations-by-treatment"))];
    const WHAT: &'static str = "observation";
    type Input = ObservationRequest;
    type Answer = Observation;
}

impl Added for Own {
    /// Plans to keep an observation, with what to do about it.
    ///
    /// # Errors
    /// [`Error::Refused`] for a pack that the record does not have, a place that
    /// does not belong to the treatment, or a moment before the treatment or in the
    /// future.
    async fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        language: Language,
        treatment_id: Uuid,
        request: &ObservationRequest,
    ) -> Result<Planned, Error> {
        let record = history::record(studio, snap, treatment_id).await?;
        let at = seen_at(request, &record, moment)?;
        let pack = pack_in_use(request, &record)?;
        let place = place(studio, request, &record)?;
        // What is done next is done now, whenever the record says that it was begun.
        let moments = [record.performed_at.0, at.0, moment.now];
        let session = (&record.client_ref, record.treatment, &moments[..]);
        let before = of_session(studio, snap, session, None).await?;
        let (spot, earlier) = still(&studio.craft.selector, request, &before);
        let earlier = earlier.as_ref().map(|(signs, place)| Earlier { signs, place: *place });
        let signs = &request.signs;
        let seen = Seen { record: &record, pack, language, signs, place: spot, earlier };
        let Advice { stop, scope, steps, cautions } = advise(studio, snap, &seen, moment).await?;
        let id = moment.id()?;
        let observation = Observation {
            id,
            treatment_id,
            at,
            signs: request.signs.clone(),
            place,
            in_use: pack.and_then(|pack| pack.configuration),
            note: request.note.clone(),
            stop,
            stop_scope: scope.map(Into::into),
            steps: steps.into_iter().map(needle_selections::step).collect(),
            cautions,
        };
        let entry = Entry::of(&record, at, Own {});
        let access = entry.access(studio, snap, moment).await?;
        let mut batch = Batch::new();
        if reminders::stopped_for_bleeding(&observation) {
            batch = reminders::pause(studio, snap, batch, &record).await?;
        }
        let (with, made) = ((studio, moment, access), (request, &observation));
        entry.add(batch, with, id, made, ("observation.record", 1))
    }
}

/// Signs of before that still stand, and where they stand together with what is seen now.
type Standing = (Vec<TraumaSign>, Option<ReviewZone>);

/// What was seen in the session of these moments so far, in the order in which it was recorded: on
/// every record of this client's area but one. What was seen or told by then is of it whenever its
/// record was begun, and whatever that is put right to since.
async fn of_session(
    studio: &Studio,
    snap: &mut Snap,
    (client_ref, treatment, moments): (&Reference, Treatment, &[Timestamp]),
    but: Option<Uuid>,
) -> Result<Vec<Observation>, Error> {
    let near =
        |at: Timestamp| moments.iter().any(|moment| moment.duration_since(at).abs() <= SESSION);
    let mut all = Vec::new();
    for (id, performed_at) in treatments::of_area(studio, snap, (client_ref, treatment)).await? {
        if but == Some(id) {
            continue;
        }
        let seen = readable(entries::all::<Own>(studio, snap, id).await)?.unwrap_or_default();
        let is_of_it = |one: &Observation| {
            near(performed_at) || near(one.at.0) || told_at(one.id).is_none_or(near)
        };
        all.extend(seen.into_iter().filter(is_of_it));
    }
    // Ids are of the moment at which they were given, which no caller tells.
    all.sort_by_key(|one| one.id);
    Ok(all)
}

/// When an entry was told, by its id.
fn told_at(id: Uuid) -> Option<Timestamp> {
    let (seconds, nanoseconds) = id.get_timestamp()?.to_unix();
    Timestamp::new(i64::try_from(seconds).ok()?, i32::try_from(nanoseconds).ok()?).ok()
}

/// Whether a client's area was left for the day by a moment's session, on any record but one.
///
/// # Errors
/// What the store met.
pub async fn is_stopped(
    studio: &Studio,
    snap: &mut Snap,
    (client_ref, treatment, at): (&Reference, Treatment, Timestamp),
    but: Option<Uuid>,
) -> Result<bool, Error> {
    let session = (client_ref, treatment, &[at][..]);
    Ok(of_session(studio, snap, session, but).await?.iter().any(ends))
}

fn ends(one: &Observation) -> bool {
    one.stop_scope.as_ref().is_some_and(|scope| *scope == StopScope::Session)
}

/// Where what is seen now stands, and what was recorded before and stands beside it, whatever its
/// moment: what is done next is done now. A session that ended stays ended, with every sign that
/// stopped it; a spot stays finished, and one that nobody named stands for every spot, until it is
/// recorded again with its place. What is seen of the whole area is seen of every spot too.
fn still(
    selector: &Selector,
    request: &ObservationRequest,
    before: &[Observation],
) -> (Option<ReviewZone>, Option<Standing>) {
    let told: Vec<Told<'_>> = before.iter().map(|one| (one.place, &*one.signs)).collect();
    let ended = before.iter().any(ends) || has_spread(selector, &told);
    let with_now = [&*told, &[(request.place, &*request.signs)]].concat();
    let has_spread = has_spread(selector, &with_now);
    let place = if has_spread { Some(ReviewZone::Whole) } else { request.place };
    let mut together = if ended { Some(ReviewZone::Whole) } else { place };
    let mut signs = Vec::new();
    // A session may have ended by a sign that was carried along: only all of them tell why.
    let stands =
        |one: &&Observation| one.stop_scope.is_some() && (ended || meet(one.place, request.place));
    for one in before.iter().filter(stands) {
        let still =
            if ended { one.signs.clone() } else { not_placed(selector, request, one, before) };
        if !still.is_empty() && is_everywhere(one.place) && !is_everywhere(together) {
            together = one.place;
        }
        for sign in still {
            if !signs.contains(&sign) {
                signs.push(sign);
            }
        }
    }
    (place, (!signs.is_empty()).then_some((signs, together)))
}

/// What stands of an observation: all of it, but of a spot that nobody named only what finishes it
/// and was not recorded with a place since. There it stands then.
fn not_placed(
    selector: &Selector,
    request: &ObservationRequest,
    one: &Observation,
    before: &[Observation],
) -> Vec<TraumaSign> {
    if one.place.is_some() {
        return one.signs.clone();
    }
    let since = before.iter().filter(|other| one.id < other.id);
    let since: Vec<_> = since
        .map(|other| (other.place, &other.signs))
        .chain([(request.place, &request.signs)])
        .filter(|(place, _)| !is_everywhere(*place))
        .collect();
    let stands = |sign: &&TraumaSign| {
        selector.finishes_spot(**sign) && !since.iter().any(|(_, signs)| signs.contains(sign))
    };
    one.signs.iter().filter(stands).copied().collect()
}

/// Signs and where they were seen.
type Told<'a> = (Option<ReviewZone>, &'a [TraumaSign]);

/// Whether a sign that is borne at one spot alone may show at a second, or a second spot may be
/// finished: then it is no longer one spot. Nobody told of a place that it is the same, unless both
/// are told.
fn has_spread(selector: &Selector, told: &[Told<'_>]) -> bool {
    let mut seen: Vec<(Option<ReviewZone>, TraumaSign)> = Vec::new();
    for (at, (_, signs)) in told.iter().enumerate() {
        let begun = seen.len();
        for sign in *signs {
            let place = placed(selector, &told[at..], *sign);
            let again = |(before, other): &(Option<ReviewZone>, TraumaSign)| {
                let spreads = other == sign && selector.spreads(*sign);
                let finishes = [other, sign].iter().all(|sign| selector.finishes_spot(**sign));
                (spreads || finishes) && (place.is_none() || place != *before)
            };
            if seen[..begun].iter().any(again) {
                return true;
            }
            seen.push((place, *sign));
        }
    }
    false
}

/// Where the first of these shows a sign. A spot that is finished and that nobody named stops the
/// work until it is asked where it is: the next word of it answers that.
fn placed(selector: &Selector, told: &[Told<'_>], sign: TraumaSign) -> Option<ReviewZone> {
    let mut of_it = told.iter().filter(|(_, signs)| signs.contains(&sign)).map(|(place, _)| *place);
    let place = of_it.next().flatten();
    let asked = || of_it.next().flatten().filter(|_| selector.finishes_spot(sign));
    place.or_else(asked)
}

/// Whether two places may be the same spot.
fn meet(one: Option<ReviewZone>, other: Option<ReviewZone>) -> bool {
    is_everywhere(one) || is_everywhere(other) || one == other
}

/// Whether a place stands for every spot: the whole area, or one that nobody named.
const fn is_everywhere(place: Option<ReviewZone>) -> bool {
    matches!(place, None | Some(ReviewZone::Whole))
}

fn seen_at(
    request: &ObservationRequest,
    record: &TreatmentRecord,
    moment: &Moment,
) -> Result<Instant, Error> {
    let at = request.at.unwrap_or(Instant(moment.now));
    if moment.now < at.0 {
        let why = "the observation lies in the future";
        return Err(Error::at("#/at", FaultCode::OutOfRange, why).means(Refusal::InFuture));
    }
    if at.0.duration_since(record.performed_at.0).as_hours() < -24 {
        return Err(Error::at(
            "#/at",
            FaultCode::OutOfRange,
            format!(
                "the treatment was at {}; an observation belongs to its session",
                record.performed_at
            ),
        )
        .means(Refusal::OtherSession));
    }
    Ok(at)
}

/// The pack that was in use: the one that is named, else the last. Where every pack was struck, what
/// was seen is kept all the same.
fn pack_in_use<'a>(
    request: &ObservationRequest,
    record: &'a TreatmentRecord,
) -> Result<Option<&'a OpenedPack>, Error> {
    let refused = |code, why: String| Error::at("#/pack", code, why);
    let Some(index) = request.pack else {
        return Ok(record.packs.iter().rfind(|pack| pack.struck_in.is_none()));
    };
    match record.packs.get(usize::from(index)) {
        Some(pack) if pack.struck_in.is_none() => Ok(Some(pack)),
        Some(_) => Err(refused(FaultCode::NotAllowed, "this pack was struck".to_owned())
            .means(Refusal::PackStruck)),
        None => {
            let last = record.packs.len().saturating_sub(1);
            Err(refused(FaultCode::OutOfRange, format!("the record has packs 0 to {last}")))
        }
    }
}

/// The place, if it is one of the treatment's.
fn place(
    studio: &Studio,
    request: &ObservationRequest,
    record: &TreatmentRecord,
) -> Result<Option<ReviewZone>, Error> {
    let Some(place) = request.place else { return Ok(None) };
    let accepted = studio.craft.reviews.zones(record.treatment);
    if accepted.contains(&place) {
        return Ok(Some(place));
    }
    let names: Vec<_> = accepted.iter().map(|zone| zone.as_str()).collect();
    let why =
        format!("`{place}` is no part of {}; accepted: {}", record.treatment, names.join(", "));
    Err(Error::at("#/place", FaultCode::Contradiction, why))
}

/// What was seen, and on what.
struct Seen<'a> {
    record: &'a TreatmentRecord,
    pack: Option<&'a OpenedPack>,
    language: Language,
    signs: &'a [TraumaSign],
    place: Option<ReviewZone>,
    earlier: Option<Earlier<'a>>,
}

/// What to do, in order, with what the drawer holds.
async fn advise(
    studio: &Studio,
    snap: &mut Snap,
    seen: &Seen<'_>,
    moment: &Moment,
) -> Result<Advice, Error> {
    let Seen { record, pack, language, signs, place, earlier } = seen;
    let current =
        pack.and_then(|pack| pack.configuration).and_then(|told| Complete::try_from(told).ok());
    let selector = &studio.craft.selector;
    let assumed = selector.effects(record.treatment).next().unwrap_or(Effect::SoftShading);
    let at = branches::named(record.branch_ref.as_ref());
    let here = branches::at(studio, snap, at).await?;
    let days = branches::Days::judging(studio, snap, moment.dated, [&here.zone; 2]).await?;
    let mut ready = lots::usable_on(snap, &days, at).await?;
    let spoilt = spoilt::leave_out(snap, *pack, &mut ready).await?;
    let candidates = needle_selections::from_drawer(&ready);
    let setting = setting(studio, snap, record, *pack).await?;
    // What was written down of another site must not keep anybody from being told to stop.
    let told = record.effect.filter(|told| selector.effects(record.treatment).any(|e| e == *told));
    let asked = Request {
        treatment: record.treatment,
        effect: told.unwrap_or(assumed),
        setting: &setting,
        candidates: &candidates,
        limit: candidates.len(),
        folds: false,
        language: *language,
    };
    let trauma = Trauma {
        signs,
        place: *place,
        earlier: *earlier,
        current: current.as_ref(),
        effect_told: told.is_some(),
        spoilt,
    };
    selector.on_trauma(&studio.craft.model, &asked, &trauma).map_err(needle_selections::refused)
}

async fn setting(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    pack: Option<&OpenedPack>,
) -> Result<Setting, Error> {
    let worked = record.worked.clone().unwrap_or_default();
    let Worked { hand, machine, hang_mm: _, passes } = worked;
    let skin =
        clients::find(studio, snap, &record.client_ref).await?.and_then(|client| client.skin);
    let machine = match (machine, &record.machine_ref) {
        (None, Some(kept)) => {
            let found = documents::find::<StoredMachine, _>(studio, snap, kept).await?;
            found.map(|kept| kept.machine())
        }
        (told, _) => told,
    };
    Ok(Setting {
        hand,
        machine,
        skin,
        site: pack.and_then(|pack| pack.site),
        passes,
        ..Setting::default()
    })
}

mod spoilt;
#[cfg(test)]
mod tests;
