//! The loop of a program that sends due messages.
//!
//! It claims a few reminders, hands each to the caller's own sender, reports
//! what became of it, and waits when nothing is due. When it is told to stop
//! it finishes the message in hand and reports it; what it holds besides is
//! left to its lease and is claimed again, by whoever comes. No message is
//! begun after its lease has run out.

use std::pin::Pin;
use std::task::Poll;
use std::time::Duration;

use etui_schema::reminders::{
    FailureReason, OutcomeRequest, Reminder, ReminderClaim, ReminderClaimRequest, ReminderOutcome,
};
use tokio::time::Instant;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::retry;

/// What the caller's sender did with a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delivery {
    /// It was sent.
    Delivered,
    /// It was left out on purpose.
    Skipped,
    /// It could not be sent, and is not tried again.
    Failed(FailureReason),
    /// It could not be sent; it is due again after so long (a minute to a
    /// week), unless its time has passed by then.
    Later(FailureReason, Duration),
}

/// What a loop did from its start to its stop.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Worked {
    /// Messages that were sent.
    pub delivered: u64,
    /// Messages that were left out on purpose.
    pub skipped: u64,
    /// Messages that could not be sent, those to be tried again included.
    pub failed: u64,
    /// Messages that were claimed and not begun: the loop was stopped, or the
    /// lease had run out.
    pub left: u64,
    /// Outcomes that came after the lease: another may have sent it too.
    pub late: u64,
    /// Outcomes that could not be reported: the message comes again after its
    /// lease, marked `maybe_sent`.
    pub unreported: u64,
}

/// Settings of the loop; see [`Client::claims`].
#[derive(Debug, Clone)]
pub struct Claims {
    client: Client,
    limit: u16,
    lease_seconds: u16,
    idle: Duration,
}

impl Client {
    /// A loop that claims due reminders and hands them to a sender.
    ///
    /// ```no_run
    /// # async fn run(client: etui_client::Client) -> Result<(), etui_client::Error> {
    /// use etui_client::Delivery;
    ///
    /// let stop = async { let _ = tokio::signal::ctrl_c().await; };
    /// let worked = client
    ///     .claims()
    ///     .run(stop, async |reminder| {
    ///         println!("to {}: {}", reminder.client_ref, reminder.text);
    ///         Delivery::Delivered
    ///     })
    ///     .await?;
    /// println!("{} sent", worked.delivered);
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn claims(&self) -> Claims {
        Claims {
            client: self.clone(),
            limit: 20,
            lease_seconds: 600,
            idle: Duration::from_secs(60),
        }
    }
}

impl Claims {
    /// How many messages to hold at a time, 1 to 200 (20 unless set). Few:
    /// what a loop that dies has held waits for its lease.
    #[must_use]
    pub fn limit(mut self, limit: u16) -> Self {
        self.limit = limit;
        self
    }

    /// For how long, in seconds, 10 to 3600 (600 unless set).
    #[must_use]
    pub fn lease_seconds(mut self, lease_seconds: u16) -> Self {
        self.lease_seconds = lease_seconds;
        self
    }

    /// How long to wait when nothing is due (a minute unless set).
    #[must_use]
    pub fn idle(mut self, idle: Duration) -> Self {
        self.idle = idle;
        self
    }

    /// Works until `stop` is done. A service that cannot be reached or is
    /// busy is waited for.
    ///
    /// # Errors
    /// [`Error`] if the service refuses the claim itself, for one for lack of
    /// the scope.
    pub async fn run<S, F>(&self, stop: S, deliver: F) -> Result<Worked, Error>
    where
        S: Future<Output = ()>,
        F: AsyncFnMut(&Reminder) -> Delivery,
    {
        let mut stop = Stop::new(stop);
        self.work(&mut stop, deliver, true).await
    }

    /// Works until nothing is due, as a script that is started by a timer
    /// does.
    ///
    /// # Errors
    /// [`Error`] if a claim fails.
    pub async fn run_once<F>(&self, deliver: F) -> Result<Worked, Error>
    where
        F: AsyncFnMut(&Reminder) -> Delivery,
    {
        let mut stop = Stop::new(std::future::pending());
        self.work(&mut stop, deliver, false).await
    }

    async fn work<S, F>(
        &self,
        stop: &mut Stop<S>,
        mut deliver: F,
        keep_on: bool,
    ) -> Result<Worked, Error>
    where
        S: Future<Output = ()>,
        F: AsyncFnMut(&Reminder) -> Delivery,
    {
        let wanted = ReminderClaimRequest { limit: self.limit, lease_seconds: self.lease_seconds };
        let mut worked = Worked::default();
        while !stop.is_set().await {
            // From before the request: our lease ends no later than the service's.
            let ends = Instant::now() + Duration::from_secs(self.lease_seconds.into());
            let more = match self.client.claim_reminders(&wanted).await {
                Ok(claim) => {
                    let more = claim.more;
                    self.hand_out(&claim, ends, stop, &mut deliver, &mut worked).await?;
                    more
                }
                Err(error) if keep_on && retry::may_pass(&error) => false,
                Err(error) => return Err(error),
            };
            if !more && !keep_on {
                break;
            }
            if !more && stop.within(self.idle).await {
                break;
            }
        }
        Ok(worked)
    }

    async fn hand_out<S, F>(
        &self,
        claim: &ReminderClaim,
        ends: Instant,
        stop: &mut Stop<S>,
        deliver: &mut F,
        worked: &mut Worked,
    ) -> Result<(), Error>
    where
        S: Future<Output = ()>,
        F: AsyncFnMut(&Reminder) -> Delivery,
    {
        // Without an id there is nothing to hand out.
        let Some(id) = claim.claim_id else { return Ok(()) };
        for reminder in &claim.reminders {
            if ends <= Instant::now() || stop.is_set().await {
                worked.left += 1;
                continue;
            }
            let delivery = deliver(reminder).await;
            match delivery {
                Delivery::Delivered => worked.delivered += 1,
                Delivery::Skipped => worked.skipped += 1,
                Delivery::Failed(_) | Delivery::Later(..) => worked.failed += 1,
            }
            match self.client.report_reminder(reminder.id, &outcome(id, delivery)).await {
                Ok(receipt) => worked.late += u64::from(receipt.late),
                Err(error) if retry::may_pass(&error) => worked.unreported += 1,
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

fn outcome(claim_id: Uuid, delivery: Delivery) -> OutcomeRequest {
    let (outcome, reason, after) = match delivery {
        Delivery::Delivered => (ReminderOutcome::Delivered, None, None),
        Delivery::Skipped => (ReminderOutcome::Skipped, None, None),
        Delivery::Failed(reason) => (ReminderOutcome::Failed, Some(reason), None),
        Delivery::Later(reason, after) => (ReminderOutcome::Failed, Some(reason), Some(after)),
    };
    OutcomeRequest {
        claim_id,
        outcome,
        reason,
        // The interface's own limits: a minute to a week.
        retry_after_seconds: after
            .map(|after| u32::try_from(after.as_secs()).unwrap_or(u32::MAX).clamp(60, 604_800)),
    }
}

/// The caller's wish to stop; once it is done it is asked no more.
struct Stop<S> {
    waiting: Option<Pin<Box<S>>>,
}

impl<S: Future<Output = ()>> Stop<S> {
    fn new(stop: S) -> Self {
        Self { waiting: Some(Box::pin(stop)) }
    }

    /// Whether the loop is to stop, asked without waiting.
    async fn is_set(&mut self) -> bool {
        std::future::poll_fn(|cx| {
            if let Some(waiting) = &mut self.waiting
                && waiting.as_mut().poll(cx).is_ready()
            {
                self.waiting = None;
            }
            Poll::Ready(self.waiting.is_none())
        })
        .await
    }

    /// Waits so long; whether the loop is to stop came first.
    async fn within(&mut self, time: Duration) -> bool {
        let mut sleep = Box::pin(tokio::time::sleep(time));
        std::future::poll_fn(|cx| {
            match &mut self.waiting {
                None => return Poll::Ready(true),
                Some(waiting) => {
                    if waiting.as_mut().poll(cx).is_ready() {
                        self.waiting = None;
                        return Poll::Ready(true);
                    }
                }
            }
            sleep.as_mut().poll(cx).map(|()| false)
        })
        .await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_stop_is_heard_once_and_holds() {
        let mut stop = Stop::new(std::future::ready(()));
        for _ in 0..3 {
            assert!(stop.is_set().await);
            assert!(stop.within(Duration::from_secs(3600)).await);
        }
        let mut never = Stop::new(std::future::pending());
        assert!(!never.is_set().await);
        assert!(!never.within(Duration::ZERO).await);
    }

    #[test]
    fn an_outcome_names_its_reason_and_keeps_the_limits() {
        let failed = FailureReason::Unreachable;
        for (delivery, want) in [
            (Delivery::Delivered, (ReminderOutcome::Delivered, None, None)),
            (Delivery::Skipped, (ReminderOutcome::Skipped, None, None)),
            (Delivery::Failed(failed), (ReminderOutcome::Failed, Some(failed), None)),
            (
                Delivery::Later(failed, Duration::from_secs(1)),
                (ReminderOutcome::Failed, Some(failed), Some(60)),
            ),
            (
                Delivery::Later(failed, Duration::from_secs(u64::MAX)),
                (ReminderOutcome::Failed, Some(failed), Some(604_800)),
            ),
        ] {
            let made = outcome(Uuid::nil(), delivery);
            let got = (made.outcome, made.reason, made.retry_after_seconds);
            assert_eq!(got, want, "{delivery:?}");
        }
    }
}
