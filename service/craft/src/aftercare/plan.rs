//! A client's aftercare, dated.
//!
//! Day 0 is the local date of the session. A step's message goes out on its
//! day at the message time, in the client's local time; never before
//! `soonest_minutes` after the session, never within quiet hours. Each step
//! carries a `latest` instant: the end of its last local day, or a few hours of
//! grace after a message that quiet hours pushed past it. A message that has
//! not gone out by then is overtaken: it is closed, not sent. One that would go out late, within the
//! night, waits for its end with the same grace (`after_night`).
//!
//! Messages to the same client lie some time apart; what several of them would
//! say about care is bundled. The first of all says what cannot wait and whom to
//! call, on the day itself or, if that ended late, next morning.
//!
//! Keys are stable. A treatment that is moved, or a touch-up that starts the
//! clock again, is a plan from the new instant; a reminder of the old plan
//! belongs to the step with the same key.

use etui_schema::vocabulary::aftercare::{Shift, StepKind};
use etui_schema::vocabulary::{Address, Language, Treatment};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use super::client;
use super::country::{Calls, Countries};
pub use super::dated::{Assumed, Caution, Plan, Step};
use super::dating::{DatingError, Placed, days_after, days_between, place};
use super::healing::{Next, Phase, Rested, after};
use super::milestones::{Course, milestones};
use super::parameters::Parameters;
use super::request::{Hours, PlanError, Request};
use super::rows::{self, Anchor, ModifierRow, StepRow, Trait};
use super::say::{Say, Value};
use super::texts;
use super::triage::Contacts;
use crate::evidence::{Basis, Register};
use crate::rules::RuleFault;
use crate::text::Catalogue;

/// The aftercare of every treatment, as rules.
#[derive(Debug, Clone)]
pub struct Plans {
    revision: u32,
    parameters: Parameters,
    pub(super) steps: Vec<StepRow>,
    modifiers: Vec<ModifierRow>,
    countries: Countries,
    pub(super) texts: Catalogue,
}

impl Plans {
    /// The plans compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a rule contradicts itself, or has no known source or
    /// text.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let texts = texts::catalogue()?;
        let parameters = Parameters::builtin(register)?;
        let (steps_revision, steps) = rows::steps(register, &texts)?;
        let (modifiers_revision, modifiers) = rows::modifiers(register, &texts)?;
        let countries = Countries::builtin(register, &texts)?;
        let revision = [steps_revision, modifiers_revision, countries.revision]
            .into_iter()
            .fold(parameters.revision, u32::max);
        Ok(Self { revision, parameters, steps, modifiers, countries, texts })
    }

    /// The same in a studio's form of address.
    #[must_use]
    pub fn speaking(mut self, address: Address) -> Self {
        self.texts.speak(address);
        self
    }

    /// A sentence that was left open ([`Say::open`]), with whom to call in a country, or by the
    /// studio's own words.
    #[must_use]
    pub fn calling(
        &self,
        open: &str,
        language: Language,
        (country, own): (Option<&str>, &Contacts),
    ) -> String {
        Calls::of(&self.countries, country, own).fill_open(open, &self.texts, language)
    }

    /// The texts of aftercare.
    #[must_use]
    pub fn texts(&self) -> &Catalogue {
        &self.texts
    }

    /// How long skin rests after a session: [`Healing::after`](super::healing::Healing::after)
    /// with the numbers of these plans.
    #[must_use]
    pub fn rested(&self, treatment: Treatment, next: Next, age_years: Option<u8>) -> Rested {
        after(&self.parameters, treatment, next, age_years)
    }

    /// Whether a message waits while a grave report of its client is open: what
    /// invites, announces a milestone or says that all looks as it should. What
    /// is to be done, avoided or watched goes on. A step that is no longer known
    /// is judged by its kind.
    #[must_use]
    pub fn is_friendly(&self, key: &str, kind: StepKind) -> bool {
        let row = self.steps.iter().find(|row| *row.key == *key);
        row.is_some_and(|row| row.anchor != Anchor::Session) || kind == StepKind::Tell
    }

    /// Whether there is a step under a key, built in or of a pack.
    #[must_use]
    pub fn has_step(&self, key: &str) -> bool {
        self.steps.iter().any(|row| *row.key == *key)
    }

    /// The sentence that a pack says in a step, with its places unfilled; `None`
    /// if no pack has a step under this key.
    #[must_use]
    pub fn pack_sentence(&self, key: &str, language: Language) -> Option<&str> {
        let row = self.steps.iter().find(|row| row.pack.is_some() && *row.key == *key)?;
        row.text.as_deref().map(|text| self.texts.get(language, text))
    }

    fn healing(&self) -> Vec<Phase> {
        let phase = |row: &super::parameters::PhaseRow| Phase {
            phase: row.phase,
            from_day: row.from_day,
            to_day: row.to_day,
            basis: row.source.basis("days of this phase"),
        };
        self.parameters.phase.iter().map(phase).collect()
    }

    /// Dates the aftercare of one session.
    ///
    /// # Errors
    /// Every [`PlanError`] of the request at once.
    pub fn plan(&self, request: &Request) -> Result<Plan, Vec<PlanError>> {
        let session = request.performed_at.to_zoned_datetime(request.zone.clone()).date();
        let (hours, faults) = Hours::of(request, session, &self.parameters);
        if !faults.is_empty() {
            return Err(faults);
        }
        self.dated(request, session, &hours).map_err(|fault| vec![fault.into()])
    }

    fn dated(
        &self,
        request: &Request,
        session: Date,
        hours: &Hours<'_>,
    ) -> Result<Plan, DatingError> {
        let modifiers: Vec<&ModifierRow> = self
            .modifiers
            .iter()
            .filter(|row| row.treatments.contains(&request.treatment))
            .filter(|row| client::applies(row, &request.skin, &request.conditions))
            .collect();
        let country = self.countries.of(request.country.as_deref());
        let course = Course {
            treatment: request.treatment,
            session,
            zone: &request.zone,
            age_years: request.skin.age_years,
            modifiers: &modifiers,
            open: &hours.open,
            donation: country.and_then(|country| country.donation.as_ref()),
            donation_months: &self.countries.donation_months,
        };
        let milestones = milestones(&self.parameters, &course)?;
        let mut steps = Vec::new();
        for row in self.steps.iter().filter(|row| wanted(row, request, &course)) {
            if let Some(anchor) = milestones.anchor(row.anchor, session) {
                steps.push((row.calls, self.step(row, anchor, request, &course, hours)?));
            }
        }
        let steps = self.spaced(steps, request, hours)?;
        Ok(Plan {
            revision: self.revision,
            performed_on: session,
            steps,
            milestones,
            healing: self.healing(),
            cautions: modifiers.iter().map(|row| caution(row)).collect(),
            assumed: self.assumed(request),
        })
    }

    /// The steps in order, their messages some time apart: two in the same
    /// minute read like none. Whom to call comes first and never waits.
    fn spaced(
        &self,
        mut steps: Vec<(bool, Step)>,
        request: &Request,
        hours: &Hours<'_>,
    ) -> Result<Vec<Step>, DatingError> {
        let between = SignedDuration::from_mins(self.parameters.between_minutes.value.into());
        let outside = |at: Timestamp| DatingError::OutOfCalendar { local: at.to_string() };
        let rank =
            |calls: bool, step: &Step| (!calls, step.pack.is_some(), step.kind != StepKind::Tell);
        steps.sort_by(|(a, left), (b, right)| {
            (left.at.at, rank(*a, left), &left.key).cmp(&(right.at.at, rank(*b, right), &right.key))
        });
        let mut free: Option<Timestamp> = None;
        for (_, step) in steps.iter_mut().filter(|(_, step)| step.message) {
            if let Some(free) = free.filter(|free| step.at.at < *free) {
                let mut placed = Placed::at(free, &request.zone);
                placed.shifts.append(&mut step.at.shifts);
                placed.shifts.push(Shift::Spaced);
                step.at = match &hours.quiet {
                    Some(quiet) => quiet.respect(placed, &request.zone)?,
                    None => placed,
                };
                step.latest = step.latest.max(self.graced(&step.at)?);
            }
            free = Some(step.at.at.checked_add(between).map_err(|_| outside(step.at.at))?);
        }
        let mut steps: Vec<Step> = steps.into_iter().map(|(_, step)| step).collect();
        steps.sort_by(|a, b| (a.at.at, &a.key).cmp(&(b.at.at, &b.key)));
        Ok(steps)
    }

    fn step(
        &self,
        row: &StepRow,
        anchor: Date,
        request: &Request,
        course: &Course<'_>,
        hours: &Hours<'_>,
    ) -> Result<Step, DatingError> {
        let offset = days_between(course.session, anchor);
        let (later, mut basis) = later(row, course.modifiers);
        let to_day = row.to_day.map(|day| day + later);
        basis.insert(0, row.sources.days.basis("days"));
        basis.insert(1, row.sources.text.basis("what it says"));
        let send = days_after(anchor, row.send_day.unwrap_or(row.from_day))?;
        let at = self.message_at(send, request, hours)?;
        let last = to_day.map_or_else(
            || days_after(at.local.date(), self.parameters.open_end_days.value),
            |day| days_after(anchor, day),
        )?;
        Ok(Step {
            key: row.key.clone(),
            kind: row.kind,
            from_day: offset + row.from_day,
            to_day: to_day.map(|day| offset + day),
            to_day_least: row.to_day_least.map(|day| offset + day),
            spread_days: row.spread_days,
            message: row.message,
            latest: self.latest(last, &at, &request.zone)?,
            at,
            say: self.say(row, anchor, request, course),
            basis,
            pack: row.pack.clone(),
        })
    }

    /// What a step says.
    fn say(&self, row: &StepRow, anchor: Date, request: &Request, course: &Course<'_>) -> Say {
        if !row.bundle.is_empty() {
            let members = row.bundle.iter().filter_map(|key| {
                self.steps.iter().find(|one| one.key == *key && wanted(one, request, course))
            });
            let said = members.map(|one| self.say(one, anchor, request, course)).collect();
            return Say::plain("bundle").with("said", Value::Said(said));
        }
        let key = match (row.when, course.donation) {
            (Some(Trait::DonationDated), Some(donation)) => &donation.text,
            _ => {
                let private = row.private.as_ref().filter(|_| rows::is_private(request.treatment));
                private.or(row.text.as_ref()).unwrap_or(&row.key)
            }
        };
        let mut say = Say::plain(key);
        if let Some(days) = row.to_day {
            say = say.with("days", Value::Number(days + later(row, course.modifiers).0));
        }
        if let Some(least) = row.to_day_least {
            say = say.with("least", Value::Number(least));
        }
        if row.anchor != Anchor::Session {
            say = say.with("date", Value::Date(anchor));
        }
        if row.when == Some(Trait::DonationAsked) {
            say = say.with("session", Value::Date(course.session));
        }
        if row.calls {
            let own = &request.contacts;
            say = Calls::of(&self.countries, request.country.as_deref(), own).fill(say);
        }
        say
    }

    /// The instant of a message on a day.
    fn message_at(
        &self,
        day: Date,
        request: &Request,
        hours: &Hours<'_>,
    ) -> Result<Placed, DatingError> {
        let soonest = SignedDuration::from_mins(self.parameters.soonest_minutes.value.into());
        let soonest = request
            .performed_at
            .saturating_add(soonest)
            .map_err(|_| DatingError::OutOfCalendar { local: request.performed_at.to_string() })?;
        let mut placed = place(day.to_datetime(hours.message_time), &request.zone)?;
        if placed.at < soonest {
            placed = Placed::at(soonest, &request.zone);
            placed.shifts.push(Shift::AfterTreatment);
        }
        match &hours.quiet {
            Some(quiet) => quiet.respect(placed, &request.zone),
            None => Ok(placed),
        }
    }

    /// The end of a step's last day, with some grace after its message.
    fn latest(&self, last: Date, at: &Placed, zone: &TimeZone) -> Result<Timestamp, DatingError> {
        let end = place(days_after(last, 1)?.to_datetime(Time::midnight()), zone)?.at;
        Ok(end.max(self.graced(at)?))
    }

    /// The instant up to which a message stays useful at least.
    fn graced(&self, at: &Placed) -> Result<Timestamp, DatingError> {
        let grace = SignedDuration::from_hours(self.parameters.grace_hours.value.into());
        let outside = |_| DatingError::OutOfCalendar { local: at.local.datetime().to_string() };
        at.at.saturating_add(grace).map_err(outside)
    }

    /// When a message goes out that would go out within the hours of the night, and until when it
    /// stays useful then at least; `None` by day.
    #[must_use]
    pub fn after_night(&self, at: Timestamp, zone: &TimeZone) -> Option<(Placed, Timestamp)> {
        let night = self.parameters.night(self.parameters.message_time.value)?;
        let placed = night.respect(Placed::at(at, zone), zone).ok().filter(|it| at < it.at)?;
        let latest = self.graced(&placed).ok()?;
        Some((placed, latest))
    }

    fn assumed(&self, request: &Request) -> Vec<Assumed> {
        let mut assumed = Vec::new();
        if request.skin.age_years.is_none() {
            assumed.push(Assumed { pointer: "/skin/age_years", say: Say::plain("assumed_age") });
        }
        if request.skin.oiliness.is_none() && request.skin.signs.is_empty() {
            assumed.push(Assumed { pointer: "/skin/oiliness", say: Say::plain("assumed_skin") });
        }
        if self.countries.of(request.country.as_deref()).is_none() {
            let key = request.country.as_ref().map_or("assumed_no_country", |_| "assumed_country");
            assumed.push(Assumed { pointer: "/country", say: Say::plain(key) });
        }
        if request.opening_hours.is_none() && request.opens_on.is_empty() {
            let time = Value::Time(self.parameters.opens.value);
            let say = Say::plain("assumed_opening_hours").with("time", time);
            assumed.push(Assumed { pointer: "/opening_hours", say });
        }
        assumed
    }
}

fn wanted(row: &StepRow, request: &Request, course: &Course<'_>) -> bool {
    let when = match row.when {
        None => true,
        Some(Trait::DonationDated) => course.donation.is_some(),
        Some(Trait::DonationAsked) => course.donation.is_none(),
        Some(when) => client::has(when, None, &request.skin, &request.conditions),
    };
    when && row.treatments.contains(&request.treatment)
}

/// By how much this client's skin moves the end of a step: the largest of what
/// its modifiers ask for, since they describe the same slower skin.
fn later(row: &StepRow, modifiers: &[&ModifierRow]) -> (i32, Vec<Basis>) {
    let mut days = 0;
    let mut basis = Vec::new();
    for end in modifiers.iter().filter_map(|modifier| modifier.later_end_days.as_ref()) {
        if row.tag == Some(end.tag) {
            days = days.max(end.most);
            basis.push(end.source.basis("days this skin takes longer"));
        }
    }
    (days, basis)
}

fn caution(row: &ModifierRow) -> Caution {
    let mut say = Say::plain(&row.text);
    let mut basis = vec![row.sources.text.basis("what it says")];
    if let Some(later) = &row.later_end_days {
        say = say.with("days", Value::Number(later.most));
        basis.push(later.source.basis("days"));
    }
    if let Some(origin) = &row.sources.from_age_years {
        basis.push(origin.basis("age from which it is said"));
    }
    Caution { key: row.key.clone(), say, basis }
}
