//! A plan as entries of a calendar.
//!
//! Each message is an entry at its instant, each milestone one over its days;
//! its key makes the UID, so an entry keeps it when the plan is made anew. A
//! calendar is seen by many eyes: every title is the same neutral word unless
//! the studio opts for more. A key may tell of the client's health, so what
//! makes the UIDs has to hide it.

use etui_schema::vocabulary::Language;
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};

use super::calendar::{Calendar, Event, Status, When};
use super::milestones::Window;
use super::{Plan, Plans};

/// How long an entry for a message lasts.
const MESSAGE_MINUTES: i64 = 15;
/// How long a reader may wait before it asks again.
const REFRESH_HOURS: i64 = 12;

/// What a calendar is made with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entries {
    /// When the plan was written down, or moved last.
    pub stamp: Timestamp,
    /// How often the plan, or the one that took its place, was moved.
    pub moves: u32,
    /// A later session that took the plan's place: what lies after it is
    /// cancelled.
    pub replaced_at: Option<Timestamp>,
    /// Language of the titles.
    pub language: Language,
    /// Whether titles say what each entry is about.
    pub detail: bool,
}

impl Entries {
    /// The entries of a plan. `uid` makes the UID of an entry out of its key:
    /// globally unique, always the same for the same treatment and key.
    #[must_use]
    pub fn events(&self, plans: &Plans, plan: &Plan, uid: impl Fn(&str) -> String) -> Vec<Event> {
        let text = |key| plans.texts().get(self.language, key).to_owned();
        let mut events = Vec::new();
        for step in plan.steps.iter().filter(|step| step.message) {
            let lasts = SignedDuration::from_mins(MESSAGE_MINUTES);
            let when = When::Instant { from: step.at.at, lasts };
            let mut event = self.event(uid(&step.key), when, step.at.at, &text("calendar_neutral"));
            if self.detail {
                event.description = Some(step.say.in_language(plans.texts(), self.language));
                event.summary = text("calendar_name");
            }
            events.push(event);
        }
        for (key, from, until) in windows(plan) {
            let title = if self.detail { key } else { "calendar_neutral" };
            let begins = from
                .to_zoned_datetime(jiff::tz::TimeZone::UTC)
                .map_or(self.stamp, |at| at.timestamp());
            events.push(self.event(uid(key), When::Days { from, until }, begins, &text(title)));
        }
        events
    }

    /// A calendar of such entries.
    #[must_use]
    pub fn calendar(
        plans: &Plans,
        language: Language,
        detail: bool,
        events: Vec<Event>,
    ) -> Calendar {
        let name = if detail { "calendar_name" } else { "calendar_neutral" };
        Calendar {
            product: "-//etui//aftercare//EN".to_owned(),
            name: plans.texts().get(language, name).to_owned(),
            refresh: Some(SignedDuration::from_hours(REFRESH_HOURS)),
            events,
        }
    }

    fn event(&self, uid: String, when: When, begins: Timestamp, title: &str) -> Event {
        let replaced = self.replaced_at.filter(|at| *at < begins);
        let stamp = replaced.map_or(self.stamp, |at| at.max(self.stamp));
        Event {
            uid,
            stamp,
            modified: Some(stamp),
            // Two steps a move: between two moves an entry can be cancelled once.
            sequence: self.moves.saturating_mul(2).saturating_add(replaced.is_some().into()),
            when,
            summary: title.to_owned(),
            description: None,
            status: if replaced.is_some() { Status::Cancelled } else { Status::Confirmed },
            alarm_before: None,
        }
    }
}

fn windows(plan: &Plan) -> Vec<(&'static str, Date, Date)> {
    let milestones = &plan.milestones;
    let whole = |window: &Window| (window.from, window.until);
    let mut all = vec![
        ("calendar_review", whole(&milestones.review)),
        ("calendar_touch_up", whole(&milestones.touch_up)),
        ("calendar_refresh", (milestones.colour_refresh.from, milestones.colour_refresh.from)),
    ];
    if milestones.donation_dated {
        all.push(("calendar_donation", (milestones.donation.on, milestones.donation.on)));
    }
    if let Some(next) = &milestones.next_session {
        all.insert(0, ("calendar_next_session", whole(next)));
    }
    all.into_iter().map(|(key, (from, until))| (key, from, until)).collect()
}
