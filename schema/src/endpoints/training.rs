//! Practice: drills, grades, readings of sheets, sign-offs.

use crate::*;

/// The table of `training`.
#[macro_export]
macro_rules! training_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "training"
        methods {
            /// what to practise with a configuration.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an effect that the site does not have.
            Post make_drills "/v1/drills" [Compute], body drills::DrillRequest => drills::Drills;
            /// grades a panel that was worked.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a quantity that is not judged of it.
            Post grade_drill "/v1/drill-grades" [Compute], body drills::DrillGradeRequest => drills::DrillGrade;
            /// measures a practice sheet from a picture. Experimental.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for bytes that are no picture that is read.
            Post read_sheet "/v1/sheet-readings" [Compute],
                body sheet_readings::SheetReadingRequest => sheet_readings::SheetReading;
            /// makes a numbered sheet.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an artist that is not the token's own.
            Once make_practice_sheet "/v1/practice-sheets" [PracticeWrite],
                body practice_sheets::PracticeSheetRequest => practice_sheets::PracticeSheet;
            /// one page of an artist's sheets, first made first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 for an artist that the token may not see.
            List list_practice_sheets "/v1/practice-sheets" [PracticeRead],
                query practice_sheets::PracticeSheetQuery => practice_sheets::PracticeSheet;
            /// reads a sheet with what became of it.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_practice_sheet "/v1/practice-sheets/{id}" (id: Uuid) [PracticeRead]
                => practice_sheets::PracticeSheet;
            /// hands a sheet in, once.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if it was handed in before or its day is over.
            Once hand_in_practice_sheet "/v1/practice-sheets/{id}/attempts" (id: Uuid) [PracticeWrite],
                body practice_sheets::HandInRequest => practice_sheets::HandedIn;
            /// hands a sheet in as a picture. Experimental.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a picture of another sheet.
            Once hand_in_practice_picture "/v1/practice-sheets/{id}/pictures" (id: Uuid) [PracticeWrite],
                body practice_sheets::SheetPictureRequest => practice_sheets::HandedIn;
            /// marks a sheet, in the name of the trainer that the token acts for.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for whoever is no trainer.
            Once mark_practice_sheet "/v1/practice-sheets/{id}/marks" (id: Uuid) [SignOffs],
                body practice_sheets::SheetMarksRequest => practice_sheets::SheetMarked;
            /// how far her practice is, and the way for an effect on a site that she has not begun.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 for an artist that the token may not see.
            Get get_practice_progress "/v1/artists/{artist_ref}/progress" (artist_ref: &Reference) [PracticeRead],
                query practice_sheets::ProgressQuery => practice_sheets::PracticeProgress;
            /// everything that is held on her practice.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if nothing is.
            Get get_practice_dossier "/v1/artists/{artist_ref}/practice" (artist_ref: &Reference) [Admin]
                => practice_sheets::PracticeDossier;
            /// forgets it.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if nothing is held.
            Close erase_practice "/v1/artists/{artist_ref}/practice" (artist_ref: &Reference) [ClientsErase]
                => practice_sheets::PracticeErasure, dry would_erase_practice;
            /// signs an artist off, in the name of the artist that the token acts for.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for whoever may not sign it.
            Once give_sign_off "/v1/sign-offs" [SignOffs], body sign_offs::SignOffRequest => sign_offs::SignOff;
            /// one page of sign-offs, first given first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_sign_offs "/v1/sign-offs" [SignOffs], query sign_offs::SignOffQuery => sign_offs::SignOff;
            /// reads a sign-off.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_sign_off "/v1/sign-offs/{id}" (id: Uuid) [SignOffs] => sign_offs::SignOff;
            /// takes a sign-off back.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if it was taken back before.
            Once withdraw_sign_off "/v1/sign-offs/{id}/withdrawals" (id: Uuid) [SignOffs],
                body sign_offs::WithdrawalRequest => sign_offs::SignOff;
        }
        own {}
    }};
}

training_endpoints!(values);
