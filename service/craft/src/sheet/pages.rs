//! The pages.

use etui_schema::aftercare_plans::{AftercarePlan, AftercareStep, Window};
use etui_schema::appointment_checks::{AppointmentCheck, Readiness, TodoItem, Who};
use etui_schema::open::Open;
use etui_schema::sheets::{CheckSummary, SheetFor};
use etui_schema::vocabulary::aftercare::StepKind;
use etui_schema::vocabulary::{Instant, Language, Verdict};
use jiff::ToSpan;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::Sheets;
use super::client::is_overtaken;
use super::page::Page;
use super::summary::{Errand, best, found, is_clients, is_studios, language_of, questions, tasks};
use super::timeline::Days;
use crate::configuration::draw::{Specimen, draw_tips};
use crate::configuration::{Complete, Model};
use crate::text::day;

/// Width of a picture on a page, about that of its text.
const PICTURE_PX: u32 = 700;

/// What begins the key of the step that says when help is needed.
const URGENT: &str = "red_flags";

/// What begins the keys of errands that last.
const KEEP_OFF: &str = "keep_off";

/// One step for several kinds of skin.
const NO_MAKEUP: &str = "no_makeup";

/// Steps that only announce what stands among the dates of the page.
const DATED: [&str; 4] = ["next_session", "review_invite", "touch_up_invite", "touch_up_closing"];

impl Sheets {
    /// A check as a page; the studio's with a picture of its needles.
    #[must_use]
    pub fn visit(&self, check: &AppointmentCheck, audience: SheetFor, model: &Model) -> String {
        match audience {
            SheetFor::Client => self.before(check),
            SheetFor::Studio => self.studio(check, model),
        }
    }

    /// What the client does before she comes.
    fn before(&self, check: &AppointmentCheck) -> String {
        let language = language_of(check);
        let mut page = Page::new(language, &self.title("before.title", check));
        let listed = self.client_lines(check, language);
        page.said(&self.says(check, !listed.is_empty()));
        self.made(&mut page, language, check.zone.rules(), check.made_at);
        let open: Vec<_> = questions(check).collect();
        if !open.is_empty() {
            page.heading(self.word(language, "before.answer"));
            page.list(open.into_iter().map(|item| (None, item.text.clone())));
        }
        // What was asked of her before something was recorded since may not be any more.
        let hers = if is_overtaken(check) { Vec::new() } else { self.errands(check, is_clients) };
        self.listed(&mut page, language, "before.bring", hers);
        if let Some(days) = self.timeline(language, &self.before_days(check)) {
            page.heading(self.word(language, "days.before"));
            page.picture(&days);
        }
        let found = found(check, SheetFor::Client).into_iter().map(|said| (None, said));
        self.listed(&mut page, language, "before.why", found);
        self.cautions(&mut page, language, check.cautions.iter().map(String::as_str));
        page.finish()
    }

    /// What the studio does, and with which needle.
    fn studio(&self, check: &AppointmentCheck, model: &Model) -> String {
        let language = language_of(check);
        let mut page = Page::new(language, &self.title("studio.title", check));
        let short = self.summary(check);
        page.boxed(&short.says_studio);
        self.made(&mut page, language, check.zone.rules(), check.made_at);
        // The outcome is worded for the client, like what it rests on.
        let outcome = told_apart(&short).map(str::to_owned).into_iter();
        let found = outcome.chain(found(check, SheetFor::Studio)).map(|said| (None, said));
        self.listed(&mut page, language, "studio.conditions", found);
        let mut ours = self.errands(check, is_studios);
        ours.retain(|(_, text)| !text.starts_with(&short.says_studio));
        self.listed(&mut page, language, "studio.todo", ours);
        // What is to be done about it says why.
        let is_listed =
            |one: &&Readiness| check.todo.iter().any(|item| item.text.contains(&one.because));
        let unready = check.readiness.iter().filter(|one| !one.ready && !is_listed(one));
        let unready = unready.map(|one| (None, one.because.clone()));
        self.listed(&mut page, language, "studio.ready", unready);
        let theirs = self.errands(check, is_clients);
        self.told(&mut page, language, theirs, check.cautions.iter().map(String::as_str));
        let open = questions(check).map(|item| (None, item.text.clone()));
        self.listed(&mut page, language, "open", open);
        if comes(&check.verdict) && !is_overtaken(check) {
            self.needles(&mut page, language, &short);
            drawn(&mut page, language, check, model);
        }
        page.finish()
    }

    /// What one of them has to do, each with its day behind it.
    fn errands(
        &self,
        check: &AppointmentCheck,
        is_theirs: fn(&Open<Who>) -> bool,
    ) -> Vec<(Option<String>, String)> {
        let language = language_of(check);
        let items = tasks(check, is_theirs).into_iter();
        let row = |item: &TodoItem| (None, self.dated(&Errand::from(item), check.on, language));
        items.map(row).collect()
    }

    /// The checks of one day, in the order of their appointments, with the zones where they are.
    ///
    /// `unreadable` is how many more there are that cannot be read.
    #[must_use]
    pub fn day(
        &self,
        language: Language,
        on: Date,
        checks: &[(CheckSummary, TimeZone)],
        unreadable: u32,
    ) -> String {
        let title = self.texts.fill(language, "day.title", &[("day", &day(language, on))]);
        let mut page = Page::new(language, &title);
        if 0 < unreadable {
            let n = unreadable.to_string();
            page.boxed(&self.texts.fill(language, "day.unreadable", &[("n", &n)]));
        }
        if checks.is_empty() {
            page.line(self.word(language, "day.empty"));
        }
        for (check, zone) in checks {
            let at = zone.to_datetime(check.starts_at.0).time();
            let who = check.client_ref.as_ref().unwrap_or(&check.booking_ref);
            page.heading(&format!(
                "{:02}:{:02}  {who}: {}, {}",
                at.hour(),
                at.minute(),
                self.word(language, &format!("treatment.{}", check.treatment)),
                self.word(language, &format!("effect.{}", check.effect)),
            ));
            page.boxed(&check.says_studio);
            self.made(&mut page, language, zone, check.made_at);
            let due = check.studio.iter().filter(|task| task.text != check.says_studio);
            let due = due.map(|task| (None, self.dated(&Errand::from(task), check.on, language)));
            self.listed(&mut page, language, "studio.todo", due);
            let told = told_apart(check).into_iter().chain(check.client.iter().map(|line| &**line));
            let told = told.map(|line| (None, line.to_owned()));
            self.listed(&mut page, language, "told", told);
            if comes(&check.verdict) {
                self.needles(&mut page, language, check);
            }
        }
        let mut cautions: Vec<&str> =
            checks.iter().filter_map(|(it, _)| it.caution.as_deref()).collect();
        cautions.dedup();
        if !cautions.is_empty() {
            page.heading(self.word(language, "day.told"));
            cautions.into_iter().for_each(|caution| page.small(caution));
        }
        page.finish()
    }

    /// The aftercare sheet.
    #[must_use]
    pub fn aftercare(&self, language: Language, plan: &AftercarePlan) -> String {
        let treated = self.word(language, &format!("treatment.{}", plan.treatment)).to_owned();
        let on = day(language, plan.performed_on.0);
        let title =
            self.texts.fill(language, "after.title", &[("treatment", &treated), ("day", &on)]);
        let mut page = Page::new(language, &title);
        let urgent = plan.steps.iter().filter(|step| step.key.starts_with(URGENT));
        for step in urgent {
            page.heading(self.word(language, "after.urgent"));
            page.boxed(&step.text);
        }
        for (kind, key) in [(StepKind::Do, "after.do"), (StepKind::Avoid, "after.avoid")] {
            // A built-in message bundles what stands here; a pack's says what nothing else does.
            let stands = |step: &AftercareStep| !step.message || step.pack.is_some();
            let steps = plan.steps.iter().filter(|step| step.kind == kind && stands(step));
            let mut steps: Vec<&AftercareStep> = steps.collect();
            steps.sort_by_key(|step| (step.to_day.unwrap_or(i32::MAX), step.from_day));
            let rows = steps.into_iter();
            let rows = rows.map(|step| (Some(self.lasts(plan, step, language)), step.text.clone()));
            self.listed(&mut page, language, key, rows);
        }
        let dated = |step: &AftercareStep| {
            step.pack.is_none()
                && (step.key.starts_with(URGENT) || DATED.contains(&step.key.as_str()))
        };
        let seen = plan
            .steps
            .iter()
            .filter(|step| matches!(step.kind, StepKind::Tell | StepKind::Check) && !dated(step));
        let mut seen: Vec<&AftercareStep> = seen.collect();
        seen.sort_by_key(|step| step.from_day);
        let seen = seen.into_iter();
        let seen = seen.map(|step| (Some(self.begins(plan, step, language)), step.text.clone()));
        self.listed(&mut page, language, "after.look", seen);
        page.heading(self.word(language, "after.dates"));
        page.list(dates(plan).into_iter().map(|(key, window)| {
            (Some(span(language, window)), self.word(language, key).to_owned())
        }));
        if let Some(days) = self.timeline(language, &self.after_days(language, plan)) {
            page.picture(&days);
        }
        self.cautions(&mut page, language, plan.cautions.iter().map(|it| it.text.as_str()));
        page.finish()
    }

    /// What the client does by when, and her visit; nothing where it does not come.
    fn before_days(&self, check: &AppointmentCheck) -> Vec<Days> {
        let (language, on) = (language_of(check), check.on.0);
        let made = check.zone.rules().to_datetime(check.made_at.0).date();
        let mut rows: Vec<Days> = Vec::new();
        for item in tasks(check, is_clients).into_iter().filter(|item| !item.late) {
            let Some(due) = item.due.map(|due| due.0) else { continue };
            if made <= due && due < on {
                let kept_off = item.key.starts_with(KEEP_OFF);
                let (from, until) = if kept_off { (due, on) } else { (made, due) };
                // The whole line: its topic and a day alone can read as the opposite.
                rows.push(Days { from, until, says: self.client_line(check, item, language) });
            }
        }
        if !rows.is_empty() {
            let visit = self.word(language, "days.visit");
            rows.push(self.days((on, on), (language, "days.on"), visit));
        }
        if comes(&check.verdict) && !is_overtaken(check) { rows } else { Vec::new() }
    }

    /// What she does and leaves until when, and the days that come.
    fn after_days(&self, language: Language, plan: &AftercarePlan) -> Vec<Days> {
        let on = plan.performed_on.0;
        let cares = |step: &&AftercareStep| {
            matches!(step.kind, StepKind::Do | StepKind::Avoid) && !step.message
        };
        let mut cares: Vec<&AftercareStep> = plan.steps.iter().filter(cares).collect();
        cares.sort_by_key(|step| step.to_day);
        let mut rows: Vec<Days> = Vec::new();
        for same in cares.chunk_by(|one, other| one.to_day == other.to_day) {
            let label = |step: &&AftercareStep| self.texts.find(language, &label_of(&step.key));
            let what: Vec<&str> = same.iter().filter_map(label).collect();
            let last = same.first().and_then(|step| local(plan, step.to_day?));
            if let Some(last) = last.filter(|_| !what.is_empty()) {
                rows.push(self.days((on, last), (language, "days.until"), &what.join("; ")));
            }
        }
        let dates = dates(plan).into_iter().map(|(key, window)| Days {
            from: window.from.0,
            until: window.until.0,
            says: format!("{}: {}", span(language, window), self.word(language, key)),
        });
        rows.extend(dates);
        rows
    }

    /// Until which day a step holds.
    fn lasts(&self, plan: &AftercarePlan, step: &AftercareStep, language: Language) -> String {
        match step.to_day.and_then(|to_day| local(plan, to_day)) {
            Some(last) => {
                self.texts.fill(language, "after.until", &[("day", &day(language, last))])
            }
            None => {
                let from = local(plan, step.from_day).unwrap_or(plan.performed_on.0);
                self.texts.fill(language, "after.always", &[("day", &day(language, from))])
            }
        }
    }

    /// From which day on a step is of concern.
    fn begins(&self, plan: &AftercarePlan, step: &AftercareStep, language: Language) -> String {
        let from = local(plan, step.from_day).unwrap_or(plan.performed_on.0);
        self.texts.fill(language, "on", &[("day", &day(language, from))])
    }

    fn title(&self, key: &str, check: &AppointmentCheck) -> String {
        let language = language_of(check);
        let who = check.client_ref.as_ref().unwrap_or(&check.booking_ref).to_string();
        self.texts.fill(
            language,
            key,
            &[
                ("treatment", self.word(language, &format!("treatment.{}", check.treatment))),
                ("effect", self.word(language, &format!("effect.{}", check.effect))),
                ("day", &day(language, check.on.0)),
                ("who", &who),
            ],
        )
    }

    /// Of which day it is.
    fn made(&self, page: &mut Page, language: Language, zone: &TimeZone, at: Instant) {
        let on = day(language, zone.to_datetime(at.0).date());
        page.small(&self.texts.fill(language, "made", &[("day", &on)]));
    }

    fn needles(&self, page: &mut Page, language: Language, check: &CheckSummary) {
        page.heading(self.word(language, "needles"));
        if check.needles.is_empty() {
            page.line(self.word(language, "no_needle"));
            return;
        }
        check.mind.iter().for_each(|caution| page.line(caution));
        let rows = check.needles.iter().map(|needle| {
            let n = needle.lot_ids.len();
            let lots = || self.texts.fill(language, "lots", &[("n", &n.to_string())]);
            // None means that nobody looked into the drawer.
            let lots = if n == 0 { String::new() } else { lots() };
            (
                Some(needle.canonical.clone()),
                format!("{} {lots}", needle.line).trim_end().to_owned(),
            )
        });
        page.list(rows);
    }

    /// A heading with its list; neither if there is nothing in it.
    fn listed(
        &self,
        page: &mut Page,
        language: Language,
        key: &str,
        rows: impl IntoIterator<Item = (Option<String>, String)>,
    ) {
        let mut rows = rows.into_iter().peekable();
        if rows.peek().is_some() {
            page.heading(self.word(language, key));
            page.list(rows);
        }
    }

    /// What the client is told, and what she is told of every check; nothing where
    /// that is nothing.
    fn told<'a>(
        &self,
        page: &mut Page,
        language: Language,
        rows: impl IntoIterator<Item = (Option<String>, String)>,
        cautions: impl Iterator<Item = &'a str>,
    ) {
        let (mut rows, mut cautions) = (rows.into_iter().peekable(), cautions.peekable());
        if rows.peek().is_none() && cautions.peek().is_none() {
            return;
        }
        page.heading(self.word(language, "told"));
        if rows.peek().is_some() {
            page.list(rows);
        }
        cautions.for_each(|caution| page.small(caution));
    }

    fn cautions<'a>(
        &self,
        page: &mut Page,
        language: Language,
        cautions: impl Iterator<Item = &'a str>,
    ) {
        page.heading(self.word(language, "cautions"));
        cautions.for_each(|caution| page.small(caution));
    }
}

/// What the client is told of the outcome, where it is not what the studio is told.
fn told_apart(check: &CheckSummary) -> Option<&str> {
    Some(&*check.says).filter(|says| *says != check.says_studio)
}

/// The key of a step's few words, whatever of its kind it is of.
fn label_of(step: &str) -> String {
    let step = if step.starts_with(NO_MAKEUP) { NO_MAKEUP } else { step };
    format!("days.step.{step}")
}

/// The days that come, each with what it is.
fn dates(plan: &AftercarePlan) -> Vec<(&'static str, &Window)> {
    let milestones = &plan.milestones;
    let next = milestones.next_session.as_ref().map(|window| ("after.next_session", window));
    let mut dates = Vec::from_iter(next);
    dates.extend([
        ("after.healed", &milestones.healed),
        ("after.review", &milestones.review_window),
        ("after.touch_up", &milestones.touch_up_window),
    ]);
    dates
}

fn span(language: Language, window: &Window) -> String {
    format!("{} – {}", day(language, window.from.0), day(language, window.until.0))
}

/// The tips of the needles that are named, to one scale.
fn drawn(page: &mut Page, language: Language, check: &AppointmentCheck, model: &Model) {
    let specimens: Vec<Specimen> = best(check)
        .into_iter()
        .filter_map(|needle| Complete::try_from(needle.configuration).ok())
        .map(|configuration| Specimen { configuration, caption: None })
        .collect();
    if !specimens.is_empty() {
        page.picture(&draw_tips(model, &specimens, PICTURE_PX, language).svg);
    }
}

/// Whether a needle may be of use that day.
fn comes(verdict: &Open<Verdict>) -> bool {
    verdict.known().is_some_and(|verdict| match verdict {
        Verdict::Proceed | Verdict::ProceedWithConditions | Verdict::Incomplete => true,
        Verdict::Hold | Verdict::Refer | Verdict::Decline => false,
    })
}

/// The local date of a day of a plan.
fn local(plan: &AftercarePlan, at: i32) -> Option<Date> {
    plan.performed_on.0.checked_add(at.days()).ok()
}
