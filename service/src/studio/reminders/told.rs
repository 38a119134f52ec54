//! What a reminder says, as callers read it and as it is handed out.

use etui_schema::reminders::{FailureReason, Reminder, ReminderState};
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::said::Said;
use super::stored::{FIELD, OPEN, SEALED_IN, StoredReminder, WAITING, count};
use crate::store::seal::Sealed;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::vault::{self, Access};
use crate::studio::{Studio, aftercare_plans, branches, clients};

/// What becomes of a reminder for which a claim comes.
pub(super) enum Handing {
    /// It is sent; whether it says whom to call.
    Sent(Box<Reminder>, bool),
    /// It is night where she is.
    Waits,
    /// Its client was erased, or the pack that said it is no more: there is nothing left to say.
    Over,
}

/// When in a morning comes what was due at another time: within its first second, in the order in which
/// it was due. What waited for more than two days comes first.
fn in_turn(morning: Timestamp, due: Instant) -> Instant {
    const LONGEST: i64 = 2 * 24 * 60 * 60;
    const WITHIN: i64 = 1000; // milliseconds, in which keys count
    let waited = morning.duration_since(due.0).as_secs().clamp(0, LONGEST);
    let place = SignedDuration::from_millis((LONGEST - waited) * (WITHIN - 1) / LONGEST);
    Instant(morning.saturating_add(place).unwrap_or(morning))
}

impl StoredReminder {
    /// Seals what it says.
    pub(super) fn seal(
        access: &Access,
        moment: &Moment,
        id: Uuid,
        said: &Said,
    ) -> Result<Sealed, Error> {
        access.seal(moment, (SEALED_IN, id.as_bytes(), FIELD), said)
    }

    /// What it says; `None` if it was erased with its client.
    pub(super) fn said(&self, access: Option<&Access>) -> Result<Option<Said>, Error> {
        // The id has the time of the treatment, and with the same key the treatment was sealed.
        let (_, place, sealed_at, sealed) = self.part();
        access.map_or(Ok(None), |access| access.open(place, sealed_at, sealed))
    }

    pub(super) async fn access(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<Option<Access>, Error> {
        vault::for_read(studio, snap, &self.part().0).await
    }

    /// The reminder as callers see it; `None` if it was erased with its client, who
    /// may have come back since.
    pub(super) async fn answer(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<Option<Reminder>, Error> {
        let access = self.access(studio, snap).await?;
        self.told(studio, snap, access.as_ref()).await
    }

    /// Many reminders as callers see them, their clients' keys asked for at once.
    pub(super) async fn answers<'a>(
        studio: &Studio,
        snap: &mut Snap,
        reminders: impl Iterator<Item = &'a Self> + Clone,
    ) -> Result<Vec<Result<Option<Reminder>, Error>>, Error> {
        let subjects = reminders.clone().map(|reminder| reminder.part().0);
        let keys = vault::for_many(studio, snap, subjects).await?;
        let mut all = Vec::with_capacity(keys.len());
        for (one, access) in reminders.zip(keys) {
            all.push(match access {
                Ok(access) => one.told(studio, snap, access.as_ref()).await,
                Err(error) => Err(error),
            });
        }
        Ok(all)
    }

    async fn told(
        &self,
        studio: &Studio,
        snap: &mut Snap,
        access: Option<&Access>,
    ) -> Result<Option<Reminder>, Error> {
        let Some(mut said) = self.said(access)? else { return Ok(None) };
        // Whoever has claimed it sends what it was given.
        if said.open.is_some() && WAITING.contains(&self.state) {
            said = said.calling(&*branches::at(studio, snap, self.branch_ref.as_ref()).await?);
        }
        let withdrawn = said.is_withdrawn(studio) && OPEN.contains(&self.state);
        let mut told = self.saying(said);
        if withdrawn {
            told.state = ReminderState::Cancelled.into();
        }
        Ok(Some(told))
    }

    /// What it says to whoever claims it at a moment, with whom to call as it stands today. Where it is
    /// night it waits for the morning, and is due then.
    pub(super) async fn hand_out(
        &mut self,
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
    ) -> Result<Handing, Error> {
        let Some(access) = self.access(studio, snap).await? else { return Ok(Handing::Over) };
        let Some(mut said) = self.said(Some(&access))? else { return Ok(Handing::Over) };
        if said.is_withdrawn(studio) {
            return Ok(Handing::Over);
        }
        // Where she lives now, if that is kept.
        let client = readable(clients::find(studio, snap, &self.client_ref).await)?.flatten();
        let hers = client.and_then(|client| client.zone);
        let zone = hers
            .map(|zone| zone.rules().clone())
            .or_else(|| said.zone())
            .unwrap_or_else(|| studio.zone.rules().clone());
        if let Some((day, latest)) = studio.craft.plans.after_night(moment.now, &zone) {
            said.local = aftercare_plans::local(&day);
            self.due_at = in_turn(day.at, self.due_at);
            self.latest = self.latest.max(Instant(latest));
            self.said = Self::seal(&access, moment, self.id, &said)?;
            return Ok(Handing::Waits);
        }
        let calls = said.open.is_some();
        if calls {
            let here = branches::at(studio, snap, self.branch_ref.as_ref()).await?;
            let former = said.text.clone();
            said = said.calling(&here);
            if said.text != former {
                self.said = Self::seal(&access, moment, self.id, &said)?;
            }
        }
        Ok(Handing::Sent(Box::new(self.saying(said)), calls))
    }

    /// The reminder as it lies here, whatever was taken away since.
    pub(super) fn saying(&self, said: Said) -> Reminder {
        let Self {
            id,
            treatment_id,
            client_ref,
            treatment,
            due_at,
            latest,
            state,
            lease,
            claims,
            maybe_sent,
            delivered_by,
            reason,
            closed_at,
            paused: _, // its state says it
            wanted,
            branch_ref,
            said: _,
        } = self.clone();
        // What is held since she wants none says so: else it would be released by the way.
        let is_stopped = state == ReminderState::Held && wanted == Some(false);
        let reason = reason.or_else(|| is_stopped.then_some(FailureReason::Unwanted));
        let local = said.local_at(due_at.0);
        let Said { key, kind, text, local: _, zone: _, wording: _, open: _ } = said;
        Reminder {
            id,
            treatment_id,
            client_ref,
            treatment,
            key,
            kind: kind.into(),
            text,
            due_at,
            local,
            latest,
            state: state.into(),
            attempts: count(&claims),
            maybe_sent,
            deliveries: count(&delivered_by),
            lease,
            reason,
            closed_at,
            branch_ref,
        }
    }

    /// Whether it waits while a grave report is open. What the message is stands
    /// sealed; of an erased client nothing is sent anyway.
    pub(super) async fn is_friendly(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<bool, Error> {
        // What cannot be read is not sent either.
        let access = readable(self.access(studio, snap).await)?.flatten();
        let said = readable(self.said(access.as_ref()))?.flatten();
        Ok(said.is_some_and(|said| studio.craft.plans.is_friendly(&said.key, said.kind)))
    }
}

#[cfg(test)]
mod tests {
    use etui_schema::vocabulary::Instant;
    use jiff::Timestamp;
    use proptest::prelude::*;

    use super::in_turn;

    proptest! {
        /// Whatever is moved to a morning comes in its first second, and nothing overtakes what was due
        /// before it.
        #[test]
        fn a_morning_keeps_the_order(
            one in -200_000_000_i64..43_200_000, other in -200_000_000_i64..43_200_000,
        ) {
            let morning: Timestamp = "2027-03-17T07:00:00Z".parse().unwrap();
            let at = |ms: i64| in_turn(morning, Instant(Timestamp::from_millisecond(
                morning.as_millisecond() - 43_200_000 + ms).unwrap())).0;
            let (first, last) = (at(one.min(other)), at(one.max(other)));
            prop_assert!(first <= last);
            // Three minutes apart and within two days, they are told apart.
            if 180_000 < one.abs_diff(other) && -129_600_000 < one.min(other) {
                prop_assert!(first < last);
            }
            let within = last.as_millisecond() - morning.as_millisecond();
            prop_assert!((0..1000).contains(&within), "{}", within);
        }
    }
}
