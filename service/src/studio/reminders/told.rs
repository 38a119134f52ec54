//! What a reminder says, as callers read it and as it is handed out.

use etui_schema::reminders::{FailureReason, Reminder, ReminderState};
use etui_schema::vocabulary::Instant;
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
            self.due_at = Instant(day.at);
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
        let Said { key, kind, text, local, zone: _, wording: _, open: _ } = said;
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
