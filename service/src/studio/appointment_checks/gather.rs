//! What a check is made from: the request, and what is kept of client,
//! artist and machine where the request is silent. How fresh an answer is and
//! whose word counts is `craft::visit`'s.

use etui_craft::refusal::Refusal;
use etui_craft::screening::age;
use etui_craft::screening::answers::Given;
use etui_craft::screening::gate::Visit;
use etui_craft::visit::record::Record;
use etui_craft::visit::{self, Heard, Kept, Voices};
use etui_schema::answers::{Answer, Answers};
use etui_schema::appointment_checks::{
    AnswerState, AnswerUsed, AppointmentCheckRequest, CheckNeedles, PreviousSession, TodoItem, Who,
};
use etui_schema::artists::Practice;
use etui_schema::clients::{ClientRecord, OtherAnswer};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::skin_assessments::Override;
use etui_schema::vocabulary::Reference;
use etui_schema::vocabulary::{CivilDate, Instant, Language, Setting, Skin, Zone};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::keep::CheckTrace;
use super::readiness::Words;
use super::training::{self, Trained};
use super::{keep, materials, previous};
use crate::studio::artists::StoredArtist;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, Faults, readable};
use crate::studio::machines::StoredMachine;
use crate::studio::{Craft, Studio, clients, documents, sealed, skin_assessments};

/// Everything a check is computed from, kept for replays.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Gathered {
    /// The request as it came.
    pub request: AppointmentCheckRequest,
    /// The zone whose calendar counts.
    pub zone: Zone,
    /// The appointment's local date.
    pub on: CivilDate,
    /// Date of birth.
    pub born_on: CivilDate,
    /// Answers of the request over those kept, fresh or not.
    pub answers: Answers,
    /// What was kept of the client, each answer with where it comes from; `None`
    /// in checks of before answers had a day, whose `answers` all count.
    #[serde(default)]
    pub kept: Option<Vec<OtherAnswer>>,
    /// The skin.
    pub skin: Option<Skin>,
    /// Hand, machine and skin as far as they are known.
    pub setting: Setting,
    /// What the artist has practised; `None` if no artist was named.
    pub practice: Option<Vec<Practice>>,
    /// How the artist stands and what was signed for her; `None` if none was named in a
    /// studio without students, and in checks of before there were sign-offs.
    #[serde(default)]
    pub trained: Option<Trained>,
    /// Sessions in the area that the studio has on record, newest first.
    #[serde(default)]
    pub previous: Vec<PreviousSession>,
    /// What was reported on them and seen of them.
    #[serde(default)]
    pub recorded: Recorded,
    /// Whether anything is kept of the client who was named; `None` if none was, and in
    /// checks of before that was noted.
    #[serde(default)]
    pub client_kept: Option<bool>,
    /// When she has other bookings to come in the area.
    #[serde(default)]
    pub booked: Vec<Instant>,
}

/// What reports and reviews of earlier sessions came to.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recorded {
    /// Whether a report that a doctor had to see has not settled.
    pub unsettled: bool,
    /// How the surface looked when it was last seen.
    pub result: Option<String>,
    /// Whether a raised or growing scar was ever found after any work.
    #[serde(default)]
    pub scarred: bool,
}

/// Whether a check is made now, or one of before is made again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Making<'a> {
    /// What was sent can still be put right by who sends it.
    Now,
    /// What no longer fits is left out.
    Again,
    /// As [`Making::Again`], with the needles that it offered then: the drawer of today is not asked.
    Retold(&'a CheckNeedles),
}

impl Gathered {
    /// The appointment's local date.
    #[must_use]
    pub(super) fn day(&self) -> Date {
        self.on.0
    }

    /// Whether she is not of age on that day.
    #[must_use]
    pub(super) fn is_of_a_minor(&self) -> bool {
        self.day() < age::reaches(self.born_on.0, age::OF_AGE_YEARS)
    }

    /// The visit, seen from a day of the studio.
    #[must_use]
    pub(super) fn visit(&self, studio: &Studio, as_of: Date) -> Visit {
        // No wait is over, and no question of the day is spared, by a zone: the earlier calendar counts.
        let on_in_studio = studio.zone.rules().to_datetime(self.request.starts_at.0).date();
        Visit {
            treatment: self.request.treatment,
            on: self.day().min(on_in_studio),
            on_in_studio,
            country: studio.country,
            as_of,
            born_on: self.born_on.0,
        }
    }

    /// Hears what was sent, what was kept and what is on record.
    ///
    /// # Errors
    /// [`Error::Refused`] with every fault of what is sent now.
    pub(super) fn hear(
        &self,
        craft: &Craft,
        visit: &Visit,
        (language, making): (Language, Making<'_>),
    ) -> Result<visit::Gathered, Error> {
        let sent = if self.kept.is_some() { &self.request.answers } else { &self.answers };
        let sent: Vec<(&str, Given<'_>)> =
            sent.iter().map(|(id, one)| (id.as_str(), Given::from(one))).collect();
        let kept: Vec<Kept<'_>> = self.kept.iter().flatten().map(clients::heard).collect();
        let voices = Voices {
            sent: &sent,
            sent_long_ago: making != Making::Now,
            kept: &kept,
            record: Record {
                last_session: self.previous.first().map(|last| last.on.0),
                is_unsettled: self.recorded.unsettled,
                result: self.recorded.result.as_deref(),
                has_scarred: self.recorded.scarred,
                has_reacted: materials::has_reacted(&self.request),
            },
        };
        visit::gather(&craft.rulebook, &craft.freshness, visit, &voices)
            .map_err(|faults| skin_assessments::refused((&craft.rulebook, language), &faults))
    }

    /// That what reassures today will be too old by the day of the visit.
    pub(super) fn ask_again(
        &self,
        heard: &visit::Gathered,
        today: Date,
        words: Words<'_>,
    ) -> Option<TodoItem> {
        let ages = |one: &&Heard| {
            one.state == AnswerState::Used && one.good_until.is_some_and(|until| until < self.day())
        };
        let count = heard.heard.iter().filter(ages).count();
        (0 < count).then(|| TodoItem {
            key: "ask_again.answers".to_owned(),
            text: words.fill("ask_again", &[("n", &count.to_string())]),
            who: Who::Studio.into(),
            due: Some(self.on),
            late: self.day() < today,
            from: "answers".to_owned(),
        })
    }

    /// What was heard, in the words of the wire.
    pub(super) fn answers_used(&self, heard: &visit::Gathered) -> Vec<AnswerUsed> {
        heard.heard.iter().filter_map(|one| self.used(one)).collect()
    }

    fn used(&self, heard: &Heard) -> Option<AnswerUsed> {
        let Heard { question, on, treatment, is_kept, state, open, good_until } = heard;
        let mut kept = self.kept.iter().flatten();
        let kept = kept.find(|one| {
            *one.question == **question
                && one.on.map(|day| day.0) == *on
                && one.treatment == *treatment
        });
        let answer = match kept.filter(|_| *is_kept) {
            Some(kept) => &kept.answer,
            None => self.request.answers.get(&**question).or(self.answers.get(&**question))?,
        };
        Some(AnswerUsed {
            question: question.to_string(),
            answer: answer.clone(),
            given_on: on.map(CivilDate),
            for_treatment: *treatment,
            kept: *is_kept,
            state: (*state).into(),
            open: open.iter().map(ToString::to_string).collect(),
            good_until: good_until.map(CivilDate),
        })
    }

    /// Whether the client's record was not looked at: nobody was named, or nobody who is known.
    #[must_use]
    pub(super) fn is_client_unknown(&self) -> bool {
        self.client_kept != Some(true)
    }

    /// Findings that somebody answers for.
    #[must_use]
    pub(super) fn overrides(&self) -> &[Override] {
        &self.request.overrides
    }
}

/// Gathers.
///
/// # Errors
/// [`Error::Refused`] for references to nothing, or without a date of birth.
pub(super) async fn gather(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
    when: (Timestamp, Date),
    but: Option<Uuid>,
) -> Result<Gathered, Error> {
    let mut faults = Faults::default();
    let gathered = gather_past(studio, snap, request, (when, but), &mut faults).await?;
    faults.whole(gathered)
}

/// Gathers as much as can be, past what is refused; `None` without a date of birth.
///
/// # Errors
/// What the store met.
pub(super) async fn gather_past(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
    ((now, today), but): ((Timestamp, Date), Option<Uuid>),
    faults: &mut Faults,
) -> Result<Option<Gathered>, Error> {
    let request = &with_plan(studio, snap, request).await?;
    let kept = match &request.client_ref {
        Some(client_ref) => clients::read(studio, snap, client_ref).await?,
        None => None,
    };
    let client_kept =
        request.client_ref.as_ref().map(|_| kept.as_ref().is_some_and(clients::Known::is_told));
    let kept = kept.map(|known| known.kept(studio)).unwrap_or_default();
    let artist = named::<StoredArtist>(
        studio,
        snap,
        request.artist_ref.as_ref(),
        ("#/artist_ref", Refusal::ArtistUnknown),
    )
    .await;
    let artist = faults.of(artist)?.flatten();
    let machine = named::<StoredMachine>(
        studio,
        snap,
        request.machine_ref.as_ref(),
        ("#/machine_ref", Refusal::MachineUnknown),
    )
    .await;
    let machine = faults.of(machine)?.flatten();
    let born_on = request.born_on.or(kept.born_on).ok_or_else(|| {
        Error::at(
            "#/born_on",
            FaultCode::Missing,
            "the date of birth is needed, here or with the client",
        )
        .means(Refusal::BornMissing)
    });
    let Some(born_on) = faults.of(born_on)? else { return Ok(None) };
    let mut answers = kept.answers.clone();
    answers.extend(request.answers.clone());
    let kept_answers = clients::every_answer(&kept);
    let told = request.setting.clone().unwrap_or_default();
    let zone = request.zone.clone().unwrap_or_else(|| studio.zone.clone());
    let on = CivilDate(zone.rules().to_datetime(request.starts_at.0).date());
    faults.of(contradictions(request, &kept, (born_on.0, on.0)))?;
    let aged = kept.skin.as_ref().map(|skin| {
        let given = kept.answered.get(clients::SKIN).cloned().unwrap_or_default();
        let given = (given.on.map(|day| day.0), given.treatment);
        let rules = (&studio.craft.rulebook, &studio.craft.freshness);
        visit::kept_skin(rules, (request.treatment, on.0), skin, given)
    });
    let joined = |one, other| visit::joined_skin(&studio.craft.rulebook, one, other);
    let known = joined(request.skin.clone(), kept.skin.clone());
    let skin = joined(joined(request.skin.clone(), told.skin.clone()), aged);
    let previous = match &request.client_ref {
        Some(client_ref) => {
            let at = (request.starts_at, &zone, but);
            previous::sessions(studio, snap, client_ref, request.treatment, at).await?
        }
        None => previous::Earlier::default(),
    };
    let record = previous::record(studio, snap, &previous).await?;
    let setting = Setting {
        hand: told.hand.or(artist.as_ref().map(StoredArtist::hand)),
        machine: told.machine.or(machine.as_ref().map(StoredMachine::machine)),
        skin: told.skin.clone().or(known),
        ..told
    };
    Ok(Some(Gathered {
        request: request.clone(),
        zone,
        on,
        born_on,
        answers,
        kept: Some(kept_answers),
        skin,
        setting,
        trained: match &artist {
            Some(artist) => Some(training::gather(studio, snap, request, artist, today).await?),
            None => training::unnamed(snap).await?,
        },
        practice: artist.map(|artist| artist.practice().to_vec()),
        client_kept,
        booked: keep::booked_beside(studio, snap, request, now).await?,
        previous: previous.here,
        recorded: Recorded {
            unsettled: record.is_unsettled,
            result: record.result.map(str::to_owned),
            scarred: record.has_scarred,
        },
    }))
}

/// The request with the numbing product that was planned for this booking: a plan stands until it is
/// told otherwise.
async fn with_plan(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
) -> Result<AppointmentCheckRequest, Error> {
    const PRODUCT: &str = "numbing_cream";
    const PLAN: [&str; 2] = [PRODUCT, "numbing_cream_lidocaine_percent"];
    let mut request = request.clone();
    if request.answers.contains_key(PRODUCT) {
        return Ok(request);
    }
    let Some(id) = keep::newest(studio, snap, &request.booking_ref).await? else {
        return Ok(request);
    };
    let record = readable(sealed::load::<CheckTrace>(snap, id).await)?;
    let of_same = |trace: &CheckTrace| {
        (&trace.client_ref, trace.treatment) == (&request.client_ref, request.treatment)
    };
    let Some(record) = record.filter(|record| of_same(&record.trace)) else { return Ok(request) };
    let before: Option<Gathered> = readable(record.input(studio, snap).await)?;
    let told = before.map(|before| before.request.answers).unwrap_or_default();
    // That none was planned is asked again on the day.
    if told.get(PRODUCT).is_none_or(|told| *told == Answer::Text("none".to_owned())) {
        return Ok(request);
    }
    for id in PLAN {
        if let Some(told) = told.get(id) {
            request.answers.entry(id.to_owned()).or_insert_with(|| told.clone());
        }
    }
    Ok(request)
}

/// Refuses an age that is told twice, and not alike: of two, nobody knows which is hers.
fn contradictions(
    request: &AppointmentCheckRequest,
    kept: &ClientRecord,
    (born_on, on): (Date, Date),
) -> Result<(), Error> {
    let mut faults = Vec::new();
    if kept.born_on.is_some_and(|day| day.0 != born_on) {
        let why = "the client's record has another date of birth; correct the one that is wrong";
        let fault = Fault::new("#/born_on", FaultCode::Contradiction, why);
        faults.push(fault.means(Refusal::BornOtherwise));
    }
    // An age that was kept before anybody told a date of birth is of the day on which it was told.
    let seen = clients::age_told_on(kept).filter(|_| kept.born_on.is_none());
    let other = seen.and_then(|seen| {
        skin_assessments::other_age(kept.skin.as_ref(), "#/born_on", (born_on, seen.0))
    });
    faults.extend(other.map(|_| {
        let why = "the client's record has another age; correct the one that is wrong";
        let fault = Fault::new("#/born_on", FaultCode::Contradiction, why);
        fault.means(Refusal::AgeOtherwise)
    }));
    let told = request.setting.as_ref().and_then(|setting| setting.skin.as_ref());
    for (skin, at) in [(request.skin.as_ref(), "#/skin"), (told, "#/setting/skin")] {
        faults.extend(skin_assessments::other_age(skin, at, (born_on, on)));
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

async fn named<D: documents::Document>(
    studio: &Studio,
    snap: &mut Snap,
    reference: Option<&Reference>,
    (pointer, unknown): (&str, Refusal),
) -> Result<Option<D>, Error> {
    let Some(reference) = reference else { return Ok(None) };
    match documents::find::<D, _>(studio, snap, reference).await? {
        Some(found) => Ok(Some(found)),
        None => Err(Error::at(
            pointer,
            FaultCode::UnknownReference,
            format!("no {} is kept under `{reference}`; put it first", D::WHAT),
        )
        .means(unknown)),
    }
}
