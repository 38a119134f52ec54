//! What was used on whom, and what came of it.

use crate::*;

/// The table of `treatments`.
#[macro_export]
macro_rules! treatments_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "treatments"
        methods {
            /// the aftercare of a recorded treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Tagged get_treatment_aftercare "/v1/treatments/{id}/aftercare" (id: Uuid) [TreatmentsRead]
                => aftercare_plans::AftercarePlan;
            /// reads an open calendar, without its path.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 once it is closed.
            Get get_calendar_feed "/v1/calendars/{id}" (id: Uuid) [TreatmentsRead] => calendars::CalendarFeed;
            /// opens a calendar; its path is shown once.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an artist's calendar without the artist.
            Once open_calendar "/v1/calendars" [TreatmentsWrite],
                body calendars::CalendarRequest => calendars::CalendarFeed;
            /// one page of the open calendars, first opened first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_calendars "/v1/calendars" [TreatmentsRead], query page::PageQuery => calendars::CalendarFeed;
            /// closes a calendar.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 if there is none.
            Close close_calendar "/v1/calendars/{id}" (id: Uuid) [TreatmentsWrite] => calendars::CalendarFeed;
            /// records a treatment; its packs leave the drawer.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a pack that may not be used.
            Once record_treatment "/v1/treatments" [TreatmentsWrite],
                body treatments::TreatmentRequest => treatments::TreatmentRecord;
            /// a named person has looked into a report; paused messages go on.
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such report, if it is settled already, or with a fault for
            /// each value that was refused.
            Once settle_symptom_report "/v1/treatments/{id}/symptom-reports/{report_id}/settlements"
                (id: Uuid, report_id: Uuid) [TreatmentsWrite],
                body symptom_reports::SettlementRequest => symptom_reports::Settlement;
            /// one page of treatments, of a client, an artist or a period.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_treatments "/v1/treatments" [TreatmentsRead],
                query treatments::TreatmentQuery => treatments::TreatmentRow;
            /// reads a treatment.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, or if its client was erased.
            Tagged get_treatment "/v1/treatments/{id}" (id: Uuid) [TreatmentsRead] => treatments::TreatmentRecord;
            /// the calendar behind a secret.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 once it is closed.
            Text get_calendar "/v1/calendars/{token}.ics" (token: &str), as "text/calendar";
            /// the aftercare of a treatment as
            /// HTML to print.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Text get_aftercare_sheet "/v1/treatments/{id}/aftercare-sheet" (id: Uuid) [TreatmentsRead],
                as "text/html";
        }
        own {
            Get get_treatment_calendar "/v1/treatments/{id}/aftercare.ics" [TreatmentsRead],
                query aftercare_plans::CalendarQuery, as "text/calendar";
        }
    }};
}

treatments_endpoints!(values);
