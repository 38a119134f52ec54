//! Reminders, who sends them, and calendars to subscribe to.

use crate::*;

/// The table of `reminders`.
#[macro_export]
macro_rules! reminders_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "reminders"
        methods {
            /// one page of reminders of one state.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor of another list.
            List list_reminders "/v1/reminders" [RemindersRead],
                query reminders::ReminderQuery => reminders::Reminder;
            /// reads a reminder.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_reminder "/v1/reminders/{id}" (id: Uuid) [RemindersRead] => reminders::Reminder;
            /// takes due reminders for a time.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a lease of more than an hour.
            Once claim_reminders "/v1/reminder-claims" [RemindersWrite],
                body reminders::ReminderClaimRequest => reminders::ReminderClaim;
            /// one page of the claims that hold anything.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_claims "/v1/reminder-claims" [RemindersRead], query page::PageQuery => reminders::HeldClaim;
            /// what a claim still holds.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Get get_claim "/v1/reminder-claims/{id}" (id: Uuid) [RemindersRead] => reminders::ReminderClaim;
            /// holds it for longer.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Once extend_claim "/v1/reminder-claims/{id}/extensions" (id: Uuid) [RemindersWrite],
                body reminders::ClaimExtensionRequest => reminders::ClaimExtension;
            /// gives back what was not sent.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Once return_claim "/v1/reminder-claims/{id}/returns" (id: Uuid) [RemindersWrite],
                body reminders::ClaimReturnRequest => reminders::ClaimReturn;
            /// tells what became of a reminder.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if another claim holds it now.
            Once report_reminder "/v1/reminders/{id}/outcomes" (id: Uuid) [RemindersWrite],
                body reminders::OutcomeRequest => reminders::OutcomeReceipt;
            /// does what a person decided about them.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 503 while the clock is in doubt.
            Once release_reminders "/v1/reminder-releases" [Admin],
                body reminders::ReminderReleaseRequest => reminders::ReminderRelease;
        }
        own {}
    }};
}

reminders_endpoints!(values);
