//! What the practice of a student asks of an appointment.
//!
//! What was signed for her is gathered with the check and kept with it. Nothing of
//! this moves anything for an `artist`.

use std::cmp::Reverse;

use etui_craft::refusal::Refusal;
use etui_craft::selection::Ranked;
use etui_craft::training::{Confirmed, Demand, Held, PLACE_RULE, SignedOff, Work};
use etui_schema::appointment_checks::{
    AppointmentCheckRequest, CheckNeedles, OfferedNeedle, Readiness, TodoItem, Who,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::sign_offs::Covers;
use etui_schema::skin_assessments::{Finding, Override};
use etui_schema::vocabulary::{
    ArtistStanding, CivilDate, Confidence, Configuration, Instant, Language, Reference, Rung,
    Verdict,
};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::gather::Gathered;
use crate::store::Batch;
use crate::studio::artists::{self, StoredArtist};
use crate::studio::craft::Craft;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::{Moment, OWNER};
use crate::studio::{Studio, countersignatures, documents, practice, sign_offs};

/// How the rules of practice begin.
const RULES: &str = "training.";
/// Needles that are looked at for a student for each that is shown: one that was
/// signed comes before others that suit as well.
const LOOKED_AT: usize = 10;

/// How the artist of a check stands, kept with it.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Trained {
    standing: ArtistStanding,
    signed: Vec<Signed>,
    /// Who answers for what she does not hold.
    overridden: Vec<Override>,
    /// That nobody is named, in a studio with students.
    #[serde(default)]
    is_unnamed: bool,
    /// Treatments that a trainer had confirmed, where the law of a place counts them.
    #[serde(default, skip_serializing_if = "Seen::is_none")]
    confirmed: Seen,
}

/// Treatments at which a trainer has confirmed that she was there.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize)]
struct Seen {
    all: u32,
    of_treatment: u32,
}

/// A trainer's word, as it was when the check was made.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Signed {
    covers: Covers,
    rung: Rung,
    from: CivilDate,
    until: CivilDate,
    is_withdrawn: bool,
    is_in_doubt: bool,
    /// When it was given and taken back; checks of before do not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    given_at: Option<Instant>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    withdrawn_at: Option<Instant>,
}

impl Seen {
    const fn is_none(&self) -> bool {
        self.all == 0
    }
}

impl Signed {
    fn of(signed: SignedOff) -> Self {
        let SignedOff {
            covers,
            rung,
            from,
            until,
            given_at,
            is_withdrawn,
            withdrawn_at,
            is_in_doubt,
        } = signed;
        Self {
            covers,
            rung,
            from: CivilDate(from),
            until: CivilDate(until),
            is_withdrawn,
            is_in_doubt,
            given_at: given_at.map(Instant),
            withdrawn_at: withdrawn_at.map(Instant),
        }
    }

    fn weighed(&self) -> SignedOff {
        let Self { covers, rung, from, until, is_withdrawn, is_in_doubt, given_at, withdrawn_at } =
            self.clone();
        SignedOff {
            covers,
            rung,
            from: from.0,
            until: until.0,
            given_at: given_at.map(|at| at.0),
            is_withdrawn,
            withdrawn_at: withdrawn_at.map(|at| at.0),
            is_in_doubt,
        }
    }
}

impl Trained {
    /// How many needles are ranked where so many are shown.
    pub(super) const fn looks_at(&self, shown: usize) -> usize {
        match self.standing {
            ArtistStanding::Student if !self.is_unnamed => shown * LOOKED_AT,
            ArtistStanding::Artist | ArtistStanding::Student => shown,
        }
    }

    fn held(&self, craft: &Craft, gathered: &Gathered, needle: &Configuration) -> Held {
        let request = &gathered.request;
        let work = Work {
            configuration: *needle,
            effect: request.effect,
            sites: craft.selector.sites(request.treatment, gathered.setting.site),
        };
        let signed: Vec<SignedOff> = self.signed.iter().map(Signed::weighed).collect();
        craft.training.held(&signed, &work, gathered.day())
    }
}

/// Where nobody is named: `None` in a studio without students, and elsewhere what a
/// student has for whom nothing was signed.
///
/// # Errors
/// What the store met.
pub(super) async fn unnamed(snap: &mut Snap) -> Result<Option<Trained>, Error> {
    let standing = ArtistStanding::Student;
    let trained = Trained {
        standing,
        signed: Vec::new(),
        overridden: Vec::new(),
        is_unnamed: true,
        confirmed: Seen::default(),
    };
    Ok(artists::has_students(snap).await?.then_some(trained))
}

/// Gathers.
///
/// # Errors
/// What the store met.
pub(super) async fn gather(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
    artist: &StoredArtist,
    today: Date,
) -> Result<Trained, Error> {
    let signed = match &request.artist_ref {
        Some(artist) => practice::signed_of(studio, snap, artist, today).await?,
        None => Vec::new(),
    };
    let counted = artist.is_student() && studio.craft.training.has_places();
    let confirmed = match request.artist_ref.as_ref().filter(|_| counted) {
        Some(artist) => {
            let at = (request.treatment, request.starts_at.0);
            let Confirmed { all, of_treatment } =
                countersignatures::confirmed(studio, snap, artist, at).await?;
            Seen { all, of_treatment }
        }
        None => Seen::default(),
    };
    Ok(Trained {
        standing: artist.standing(),
        signed: signed.into_iter().map(Signed::of).collect(),
        overridden: Vec::new(),
        is_unnamed: false,
        confirmed,
    })
}

fn is_ours(one: &Override) -> bool {
    one.rule.starts_with(RULES)
}

/// The findings of practice that somebody answers for, if the caller may; and that what
/// allows it is still so when it is written.
///
/// # Errors
/// [`Error::Refused`] for a rule that is none, and for a caller who may not.
pub(super) async fn overridden(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &AppointmentCheckRequest,
) -> Result<(Batch, Vec<Override>), Error> {
    let ours: Vec<(usize, &Override)> =
        request.overrides.iter().enumerate().filter(|(_, one)| is_ours(one)).collect();
    if ours.is_empty() {
        return Ok((Batch::new(), Vec::new()));
    }
    let student = request.artist_ref.as_ref();
    let may = match student {
        Some(student) => sign_offs::answers_for(studio, snap, moment, student).await?,
        None => false,
    };
    let mut faults = Vec::new();
    let mut unknown = Vec::new();
    for (_, one) in &ours {
        let known = documents::find::<StoredArtist, _>(studio, snap, &one.by_ref).await?;
        if known.is_none() && one.by_ref.as_str() != OWNER {
            unknown.push(&one.by_ref);
        }
    }
    for (nth, (at, one)) in ours.iter().enumerate() {
        let mut fault = |member: &str, code, why: &str, means: Option<Refusal>| {
            let fault = Fault::new(format!("#/overrides/{at}{member}"), code, why);
            faults.push(Fault { means: means.map(Into::into), ..fault });
        };
        if one.rule == PLACE_RULE {
            let why = "nobody answers for what the law of the place asks";
            fault("/rule", FaultCode::NotAllowed, why, Some(Refusal::LawStands));
        } else if one.rule == Demand::NobodyNamed.rule() {
            let why = "name the artist instead: nobody answers for somebody who is not named";
            fault("/rule", FaultCode::NotAllowed, why, None);
        } else if ![Demand::NotPractised, Demand::UnderEye].map(Demand::rule).contains(&&*one.rule)
        {
            fault("/rule", FaultCode::UnknownReference, "there is no such rule of practice", None);
        }
        if ours[..nth].iter().any(|(_, before)| before.rule == one.rule) {
            fault("/rule", FaultCode::Duplicate, "it is overridden twice", None);
        }
        if !may {
            let why = "for what a student does not hold answers only a token with `sign-offs` that acts for a trainer, or the owner's";
            fault("", FaultCode::NotAllowed, why, Some(Refusal::NeedsTrainer));
        } else if !answers_herself(moment, &one.by_ref) || student == Some(&one.by_ref) {
            let why = "whoever answers for it is the artist that the token acts for";
            fault("/by_ref", FaultCode::NotAllowed, why, Some(Refusal::NeedsTrainer));
        } else if unknown.contains(&&one.by_ref) {
            let why = "whoever answers for it is no artist on record";
            fault("/by_ref", FaultCode::UnknownReference, why, Some(Refusal::ArtistUnknown));
        }
    }
    if !faults.is_empty() {
        return Err(Error::Refused(faults));
    }
    let mut batch = Batch::new();
    // Who is trainer no longer when it is written answers for nothing.
    if let Some(trainer) = &moment.mandate.acts_for {
        (batch, _) = documents::expected::<StoredArtist, _>(studio, snap, batch, trainer).await?;
    }
    Ok((batch, ours.into_iter().map(|(_, one)| one.clone()).collect()))
}

/// A token that acts for an artist answers in her name alone.
fn answers_herself(moment: &Moment, by: &Reference) -> bool {
    moment.mandate.acts_for.as_ref().is_none_or(|artist| artist == by)
}

/// Keeps apart what the rulebook of the screening does not know.
pub(super) fn answered_for(gathered: &mut Gathered, overridden: Vec<Override>) {
    gathered.request.overrides.retain(|one| !is_ours(one));
    if let Some(trained) = &mut gathered.trained {
        trained.overridden = overridden;
    }
}

/// What is gathered now, with what was answered for then.
pub(super) fn answered_as(mut now: Gathered, before: &Gathered) -> Gathered {
    if let (Some(now), Some(before)) = (&mut now.trained, &before.trained) {
        now.overridden = before.overridden.clone();
    }
    now
}

/// Whether the artist of both is a student, or of neither; checks of before do not say.
pub(super) fn stands_alike(one: &Gathered, other: &Gathered) -> bool {
    let standing = |of: &Gathered| of.trained.as_ref().map(|trained| trained.standing);
    let known = standing(one).zip(standing(other));
    known.is_none_or(|(one, other)| one == other)
}

/// For a student, brings the needles that were signed before others that suit about as
/// well as the best.
pub(super) fn signed_first(craft: &Craft, gathered: &Gathered, ranked: &mut [Ranked]) {
    let trained = gathered.trained.as_ref();
    let Some(trained) = trained.filter(|one| one.standing == ArtistStanding::Student) else {
        return;
    };
    let held = |one: &Ranked| trained.held(craft, gathered, &one.configuration.into()).rung;
    let Some(best) = ranked.iter().map(|one| one.desirability).max_by(f64::total_cmp) else {
        return;
    };
    let suits = |one: &Ranked| craft.selector.suits_as_well(one.desirability, best);
    // Those that suit less stay behind them, in their order.
    ranked.sort_by_cached_key(|one| {
        if suits(one) { (false, Reverse(held(one))) } else { (true, Reverse(None)) }
    });
}

/// For a student, says of each needle for which less was signed than for the first that what the check
/// says of her practice does not hold for it.
pub(super) fn signed_less(
    craft: &Craft,
    gathered: &Gathered,
    needles: &mut CheckNeedles,
    language: Language,
) {
    let student = |one: &&Trained| one.standing == ArtistStanding::Student && !one.is_unnamed;
    let Some(trained) = gathered.trained.as_ref().filter(student) else { return };
    let held = |needle: &OfferedNeedle| trained.held(craft, gathered, &needle.configuration).rung;
    let Some((first, others)) = needles.ranked.split_first_mut() else { return };
    let rung = held(first);
    for needle in others.iter_mut().filter(|needle| held(needle) < rung) {
        let said = craft.training.signed_less(&needle.canonical, &first.canonical, language);
        needle.cautions.push(said);
    }
}

/// What practice comes to.
pub(super) struct Judged {
    held: Option<Held>,
    /// What is asked for, and behind what somebody answers for what remains.
    demands: Vec<(Demand, Finding)>,
    /// What is wanting by the law of the place, which nobody answers for.
    by_law: Vec<Finding>,
    needle: Option<String>,
}

/// Judges the needle that comes first.
pub(super) fn judge(
    craft: &Craft,
    gathered: &Gathered,
    needles: &CheckNeedles,
    language: Language,
) -> Judged {
    let first = needles.ranked.first();
    let needle = first.map(|needle| needle.canonical.clone());
    let Some(trained) = &gathered.trained else {
        return Judged { held: None, demands: Vec::new(), by_law: Vec::new(), needle };
    };
    // Without a needle nothing is known of the work, so nothing of it is covered.
    let unknown = Configuration { diameter_mm: None, count: None, grouping: None, taper: None };
    let configuration = first.map_or(unknown, |needle| needle.configuration);
    let held = trained.held(craft, gathered, &configuration);
    let asked = if trained.is_unnamed {
        Some(Demand::NobodyNamed)
    } else {
        Demand::of(trained.standing, held)
    };
    let answered = |demand: Demand| trained.overridden.iter().find(|one| one.rule == demand.rule());
    let rest = asked.filter(|one| answered(*one).is_some()).and_then(Demand::remains);
    let student = trained.standing == ArtistStanding::Student && !trained.is_unnamed;
    let Seen { all, of_treatment } = trained.confirmed;
    let wanting = craft.training.wanting(Confirmed { all, of_treatment }).filter(|_| student);
    let by_law: Vec<Finding> =
        wanting.map(|one| craft.training.place_finding(one, language)).collect();
    let judged = |demand: Demand| {
        let about = (needle.as_deref(), held);
        let answered = answered(demand).cloned();
        let mut finding = craft.training.finding(demand, about, answered, language);
        // Said with what is wanting, if anything is.
        if demand == Demand::UnderEye && by_law.is_empty() {
            craft.training.add_places(&mut finding, language);
        }
        (demand, finding)
    };
    let demands = asked.into_iter().chain(rest).map(judged).collect();
    Judged { held: Some(held), demands, by_law, needle }
}

impl Judged {
    fn stands(&self) -> Option<Demand> {
        let mut stands = self.demands.iter().filter(|(_, finding)| finding.overridden.is_none());
        stands.next().map(|(demand, _)| *demand)
    }

    /// Whether practice asks for something, with a line of its own on the list.
    pub(super) const fn asks(&self) -> bool {
        !self.demands.is_empty() || !self.by_law.is_empty()
    }

    /// Whether it keeps the appointment from going ahead.
    pub(super) fn holds(&self) -> bool {
        self.stands().is_some_and(|demand| demand.verdict() == Verdict::Hold)
    }

    /// The verdict with it: as it was, or harder.
    pub(super) fn harden(&self, verdict: Verdict) -> Verdict {
        let verdict = self.stands().map_or(verdict, |demand| demand.harden(verdict));
        if self.by_law.is_empty() { verdict } else { Demand::UnderEye.harden(verdict) }
    }

    /// Puts its finding among the others, behind those that are harder.
    pub(super) fn join(&self, findings: &mut Vec<Finding>) {
        let by_law = self.by_law.iter().map(|finding| (Demand::UnderEye, finding));
        let demands = self.demands.iter().map(|(demand, one)| (*demand, one));
        for (demand, finding) in demands.chain(by_law) {
            let harder = |one: &Finding| {
                one.verdict.known().is_none_or(|verdict| demand.harden(verdict) == verdict)
            };
            let at = findings.iter().position(|one| !harder(one)).unwrap_or(findings.len());
            findings.insert(at, finding.clone());
        }
    }

    /// Whether what was signed says that the needle may be used; `None` if nobody
    /// signed it and nobody has to.
    pub(super) fn readiness(
        &self,
        craft: &Craft,
        needle: &OfferedNeedle,
        language: Language,
    ) -> Option<Readiness> {
        let held = self.held?;
        let (ready, because) = match (self.demands.first(), held.rung) {
            (Some((_, finding)), _) => (false, finding.because.clone()),
            (None, _) if !self.by_law.is_empty() => (false, self.by_law[0].because.clone()),
            (None, Some(Rung::Alone)) => {
                (true, craft.training.ready_alone(&needle.canonical, language))
            }
            (None, Some(Rung::PracticeSkin | Rung::UnderEye) | None) => return None,
        };
        let about = "practice".to_owned();
        Some(Readiness { about, ready, because, confidence: Confidence::High })
    }

    /// What has to be done about it.
    pub(super) fn todo(
        &self,
        craft: &Craft,
        on: CivilDate,
        today: Date,
        language: Language,
    ) -> Vec<TodoItem> {
        let item = |key: &str, text, who| TodoItem {
            key: key.to_owned(),
            text,
            who,
            due: Some(on),
            late: on.0 < today,
            from: key.to_owned(),
        };
        let mut all = Vec::new();
        if let Some(demand) = self.stands() {
            let text = craft.training.todo(demand, self.needle.as_deref(), language);
            let who = match demand {
                Demand::NotPractised => Who::Artist,
                Demand::UnderEye | Demand::NobodyNamed => Who::Studio,
            };
            all.push(item(demand.rule(), text, who.into()));
        }
        if !self.by_law.is_empty() {
            all.push(item(PLACE_RULE, craft.training.todo_place(language), Who::Studio.into()));
        }
        all
    }
}
