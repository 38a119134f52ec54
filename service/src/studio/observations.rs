//! What is seen on the skin while working, and what to do about it.
//!
//! The spot itself is left alone, always. For the rest of the area the answer
//! comes from `craft::selection`: less pressure on each point, lighter, slower,
//! a shorter stroke; never deeper, thicker or faster.

use etui_craft::configuration::Complete;
use etui_craft::selection::{Candidate, Lot, Request};
use etui_schema::problem::FaultCode;
use etui_schema::treatments::{
    Observation, ObservationRequest, OpenedPack, TraumaSign, TreatmentRecord, Worked,
};
use etui_schema::vocabulary::{Instant, Reference, Setting};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::history::{self, Entry};
use super::moment::Moment;
use super::plan::{Planned, to_json};
use super::sealed::Trace;
use super::vault::{self, Subject};
use super::{Studio, clients, lots, needle_selections};
use crate::store::key::KeyWriter;
use crate::store::{Batch, Bytes, Space};

/// Signs on which the area is left for today (common practice, no source).
const STOP_ON: [TraumaSign; 4] = [
    TraumaSign::HeavyBleeding,
    TraumaSign::Shredded,
    TraumaSign::Blowout,
    TraumaSign::SpreadingRedness,
];

/// What stays of an observation.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct ObservationTrace {
    /// The client's reference.
    pub client_ref: Reference,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was seen.
    pub at: Instant,
}

impl Trace for ObservationTrace {
    const SPACE: Space = Space::new("observations");
    const WHAT: &'static str = "observation";

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }
}

impl Entry for ObservationTrace {
    const BY_TREATMENT: Space = Space::new("observations-by-treatment");
    type Answer = Observation;

    fn treatment_id(&self) -> Uuid {
        self.treatment_id
    }

    fn row(&self, id: Uuid) -> Bytes {
        KeyWriter::new().uuid(self.treatment_id).instant(self.at.0).uuid(id).finish()
    }
}

/// Plans to keep an observation, with what to do about it.
///
/// # Errors
/// [`Error::Refused`] for a pack that the record does not have, or a moment
/// before the treatment or in the future.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    treatment_id: Uuid,
    request: &ObservationRequest,
) -> Result<Planned, Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let at = seen_at(request, &record, moment)?;
    let pack = pack_in_use(request, &record)?;
    let steps = advise(studio, snap, &record, pack, moment).await?;
    let stop = request.signs.iter().any(|sign| STOP_ON.contains(sign));
    let id = moment.id()?;
    let observation = Observation {
        id,
        treatment_id,
        at,
        signs: request.signs.clone(),
        in_use: pack.configuration,
        note: request.note.clone(),
        stop,
        steps,
        cautions: cautions(stop),
    };
    let answer = to_json(&observation)?;
    let trace = ObservationTrace { client_ref: record.client_ref.clone(), treatment_id, at };
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let what = ("observation.record", 1);
    history::add(Batch::new(), access, moment, (id, trace), (request, answer), what)
}

fn seen_at(
    request: &ObservationRequest,
    record: &TreatmentRecord,
    moment: &Moment,
) -> Result<Instant, Error> {
    let at = request.at.unwrap_or(Instant(moment.now));
    if moment.now < at.0 {
        return Err(Error::at("#/at", FaultCode::OutOfRange, "the observation lies in the future"));
    }
    if at.0.duration_since(record.performed_at.0).as_hours() < -24 {
        return Err(Error::at(
            "#/at",
            FaultCode::OutOfRange,
            format!(
                "the treatment was at {}; an observation belongs to its session",
                record.performed_at
            ),
        ));
    }
    Ok(at)
}

fn pack_in_use<'a>(
    request: &ObservationRequest,
    record: &'a TreatmentRecord,
) -> Result<&'a OpenedPack, Error> {
    let mut opened = record.packs.iter().filter(|pack| pack.struck_by.is_none());
    let found = match request.pack {
        Some(index) => record.packs.get(usize::from(index)),
        None => opened.next_back(),
    };
    found.ok_or_else(|| {
        let last = record.packs.len().saturating_sub(1);
        Error::at("#/pack", FaultCode::OutOfRange, format!("the record has packs 0 to {last}"))
    })
}

/// What to do, in order, with what the drawer holds.
async fn advise(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    pack: &OpenedPack,
    moment: &Moment,
) -> Result<Vec<etui_schema::needle_selections::GentlerStep>, Error> {
    let Some(Ok(current)) = pack.configuration.map(Complete::try_from) else {
        return Ok(Vec::new());
    };
    let selector = &studio.craft.selector;
    let Some(effect) = record.effect.or_else(|| selector.effects(record.treatment).next()) else {
        return Ok(Vec::new());
    };
    let mut candidates = Vec::new();
    for lot in lots::usable_on(snap, moment.today).await? {
        if let Some(Ok(configuration)) = lot.configuration.map(Complete::try_from) {
            let expires_on = lot.expires_on.map(|day| day.0);
            let lots = vec![Lot { id: lot.id.to_string().into(), expires_on }];
            candidates.push(Candidate { configuration, lots });
        }
    }
    if candidates.is_empty() {
        candidates.push(Candidate::from(current));
    }
    let setting = setting(studio, snap, record, pack).await?;
    let request = Request {
        treatment: record.treatment,
        effect,
        setting: &setting,
        candidates: &candidates,
        limit: candidates.len(),
    };
    let steps = selector
        .gentler(&studio.craft.model, &request, &current)
        .map_err(needle_selections::refused)?;
    Ok(steps.into_iter().map(needle_selections::step).collect())
}

async fn setting(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    pack: &OpenedPack,
) -> Result<Setting, Error> {
    let worked = record.worked.clone().unwrap_or_default();
    let Worked { hand, machine, hang_mm: _, passes } = worked;
    let skin =
        clients::find(studio, snap, &record.client_ref).await?.and_then(|client| client.skin);
    Ok(Setting { hand, machine, skin, site: pack.site, passes, ..Setting::default() })
}

fn cautions(stop: bool) -> Vec<String> {
    let first = if stop {
        "Stop here for today. Cool, cover and explain; finish at the touch-up, not before the skin has healed."
    } else {
        "Leave this spot alone for today. Nothing mends trauma by going over it again."
    };
    vec![
        first.to_owned(),
        "If bleeding does not stop, if the client feels unwell, or if the skin gets hot and swells quickly, get medical help."
            .to_owned(),
        "This is common practice, not medical advice; local rules and licensed practice come first.".to_owned(),
    ]
}
