//! Checks before appointments, and what a person reads of them on one page.

use crate::*;

/// The table of `checks`.
#[macro_export]
macro_rules! checks_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "checks"
        methods {
            /// screening, needle, readiness, to-do list and aftercare in one answer, which is kept.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Once create_appointment_check "/v1/appointment-checks" [ChecksWrite],
                body appointment_checks::AppointmentCheckRequest => appointment_checks::AppointmentCheck;
            /// one page of checks.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_appointment_checks "/v1/appointment-checks" [ChecksRead],
                query appointment_checks::CheckQuery => appointment_checks::CheckRow, rows appointment_checks;
            /// reads a check as it was given.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, or if its client was erased.
            Tagged get_appointment_check "/v1/appointment-checks/{id}" (id: Uuid) [ChecksRead]
                => appointment_checks::AppointmentCheck;
            /// computes a check again and says what differs. Nothing is written.
            ///
            /// # Errors
            /// As [`Client::get_appointment_check`].
            Post replay_appointment_check "/v1/appointment-checks/{id}/replays" (id: Uuid) [ChecksRead]
                => appointment_checks::Replay;
            /// a check in its few lines.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, or if its client was erased.
            Get get_check_summary "/v1/appointment-checks/{id}/summary" (id: Uuid) [ChecksRead]
                => sheets::CheckSummary;
            /// the checks of a day as HTML to print.
            ///
            /// # Errors
            /// [`Error`] if the service cannot be reached or refuses the token.
            Text get_day_sheet "/v1/day-sheets/{date}" (on: vocabulary::CivilDate) [ChecksRead], as "text/html";
        }
        own {
            Get get_check_sheet "/v1/appointment-checks/{id}/sheet" [ChecksRead],
                query sheets::SheetQuery, as "text/html";
        }
    }};
}

checks_endpoints!(values);
