//! Aftercare plans, symptom reports, reminders and calendars.

use crate::*;

/// The table of `aftercare`.
#[macro_export]
macro_rules! aftercare_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*]
        methods {
            /// dates the aftercare of a session.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for quiet hours of a whole day.
            Post make_aftercare_plan "/v1/aftercare-plans",
                body aftercare_plans::AftercarePlanRequest => aftercare_plans::AftercarePlan;
            /// how urgent is what a client tells?
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a report from before the
            /// session.
            Post judge_symptom_report "/v1/symptom-reports",
                body symptom_reports::SymptomReportRequest => symptom_reports::SymptomReport;
            /// one page of reminders of one state.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor of another list.
            List list_reminders "/v1/reminders", query reminders::ReminderQuery => reminders::Reminder;
            /// reads a reminder.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get get_reminder "/v1/reminders/{id}" (id: Uuid) => reminders::Reminder;
            /// the aftercare of a recorded
            /// treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Tagged get_treatment_aftercare "/v1/treatments/{id}/aftercare" (id: Uuid)
                => aftercare_plans::AftercarePlan;
            /// takes due reminders for a time.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a lease of more than an hour.
            Once claim_reminders "/v1/reminder-claims",
                body reminders::ReminderClaimRequest => reminders::ReminderClaim;
            /// one page of the claims that hold anything.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_claims "/v1/reminder-claims", query page::PageQuery => reminders::HeldClaim;
            /// what a claim still holds.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Get get_claim "/v1/reminder-claims/{id}" (id: Uuid) => reminders::ReminderClaim;
            /// holds it for longer.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Once extend_claim "/v1/reminder-claims/{id}/extensions" (id: Uuid),
                body reminders::ClaimExtensionRequest => reminders::ClaimExtension;
            /// gives back what was not sent.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it holds nothing any more.
            Once return_claim "/v1/reminder-claims/{id}/returns" (id: Uuid),
                body reminders::ClaimReturnRequest => reminders::ClaimReturn;
            /// tells what became of a reminder.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if another claim holds it now.
            Once report_reminder "/v1/reminders/{id}/outcomes" (id: Uuid),
                body reminders::OutcomeRequest => reminders::OutcomeReceipt;
            /// does what a person decided about them.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 503 while the clock is in doubt.
            Once release_reminders "/v1/reminder-releases",
                body reminders::ReminderReleaseRequest => reminders::ReminderRelease;
            /// reads an open calendar, without its path.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 once it is closed.
            Get get_calendar_feed "/v1/calendars/{id}" (id: Uuid) => calendars::CalendarFeed;
            /// opens a calendar; its path is shown once.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an artist's calendar without
            /// the artist.
            Once open_calendar "/v1/calendars", body calendars::CalendarRequest => calendars::CalendarFeed;
            /// one page of the open calendars, first opened first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_calendars "/v1/calendars", query page::PageQuery => calendars::CalendarFeed;
            /// closes a calendar.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 if there is none.
            Close close_calendar "/v1/calendars/{id}" (id: Uuid) => calendars::CalendarFeed;
        }
        own {
            Get list_symptom_questions "/v1/symptom-questions",
                query symptom_reports::SymptomQuestionsQuery => symptom_reports::SymptomQuestions;
            Get get_treatment_calendar "/v1/treatments/{id}/aftercare.ics", query aftercare_plans::CalendarQuery;
            Get get_calendar "/v1/calendars/{token}.ics";
        }
    }};
}

aftercare_endpoints!(values);
