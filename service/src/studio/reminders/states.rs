//! How a reminder goes from one state to another.

use etui_schema::reminders::{ReleaseDecision, ReminderState};
use etui_schema::vocabulary::Instant;

use super::stored::StoredReminder;

impl StoredReminder {
    /// Holds it back; whether that changed anything. One that a script holds may
    /// be on its way: it stays there and is not given out a second time.
    pub(super) fn pause(&mut self) -> bool {
        let before = (self.state, self.paused);
        self.paused = true;
        if self.state == ReminderState::Scheduled {
            self.state = ReminderState::Paused;
        }
        before != (self.state, self.paused)
    }

    /// Lets it go on, or closes it if its time has passed; whether that changed
    /// anything.
    pub(super) fn go_on(&mut self, now: jiff::Timestamp) -> bool {
        let was = std::mem::take(&mut self.paused);
        if self.state == ReminderState::Paused {
            if self.latest.0 <= now {
                self.close(ReminderState::Overtaken, Instant(now));
            } else {
                self.state = ReminderState::Scheduled;
            }
        }
        was
    }

    /// Holds it back until a person releases it: it may have been sent. Whoever had
    /// claimed it holds it no more.
    pub(super) fn hold(&mut self) {
        self.state = ReminderState::Held;
        self.lease = None;
    }

    /// Takes it that she wants no messages: it is held, once nobody has it any more.
    pub(super) fn stop(&mut self) {
        self.wanted = Some(false);
        if matches!(self.state, ReminderState::Scheduled | ReminderState::Paused) {
            self.hold();
        }
    }

    /// Is had by nobody any more, and waits for its time or for a person.
    pub(super) fn wait(&mut self) {
        self.lease = None;
        self.state = if self.wanted == Some(false) {
            ReminderState::Held
        } else if self.paused {
            ReminderState::Paused
        } else {
            ReminderState::Scheduled
        };
    }

    /// Does what a person decided about one that is held; whether it was.
    pub(super) fn release(&mut self, decision: ReleaseDecision, now: jiff::Timestamp) -> bool {
        if self.state != ReminderState::Held {
            return false;
        }
        match decision {
            ReleaseDecision::Skip => self.close(ReminderState::Skipped, Instant(now)),
            ReleaseDecision::Send => {
                self.wanted = self.wanted.map(|_| true);
                self.wait();
                if self.state == ReminderState::Scheduled && self.latest.0 <= now {
                    self.close(ReminderState::Overtaken, Instant(now));
                }
            }
        }
        true
    }

    /// Closes it. Whoever had it may have sent it, should it come back.
    pub(super) fn close(&mut self, state: ReminderState, at: Instant) {
        self.maybe_sent |= state == ReminderState::Cancelled && self.lease.is_some();
        self.state = state;
        self.lease = None;
        self.closed_at = Some(at);
    }
}
