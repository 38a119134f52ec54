//! What is sealed, by its kind and version inside the seal.
//!
//! What is kept is a document of its day: it was right for the callers of that
//! day, and is never written again. Request and answer may gain members since, also
//! such as every caller sends or gets today. A document of before lacks them, and
//! only we can say what it says by that: a line here raises the version of its kind
//! and says what is read in the member's place. `tests` takes from documents of
//! today whatever a release did not know, and fails where such a line is missing.
//!
//! What has changed more than that leaves this table for an implementation of its
//! own, with an `upgrade`.

use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PracticeSheet, PracticeSheetRequest, SheetMarked, SheetMarksRequest,
};
use etui_schema::symptom_reports::{Settlement, SettlementRequest};
use etui_schema::treatments::{TreatmentRecord, TreatmentRequest};

use super::appointment_checks::Gathered;
use super::clients::SealedClient;
use super::entries::EntryKind;
use super::sign_offs::Words;
use crate::store::record::{Came, Record};

/// What came to a kind: `{ 2: "steps/*/late" = false }`.
macro_rules! came {
    () => { &[] };
    ({ $($with:literal: $at:literal = $then:expr),+ $(,)? }) => {
        &[$(Came { with: $with, at: $at, then: || serde_json::json!($then) }),+]
    };
    ([$came:expr]) => { $came };
}

/// Kinds, each with what came to it. Those of the entries of a treatment are the rows of
/// [`etui_schema::entries`](mod@etui_schema::entries).
macro_rules! kept {
    ([$($kind:literal: $part:ty $({ $($came:tt)* })?),+ $(,)?] $($(#[$doc:meta])* $member:ident
        $name:ident($request:ty => $answer:ty) $calls:tt $more:tt)*) => {
        kept! {
            $($kind => $part $({ $($came)* })?,)+
            $(concat!(stringify!($name), "_input") => $request [super::$member::Own::CAME[0]],
            concat!(stringify!($name), "_answer") => $answer [super::$member::Own::CAME[1]],)*
        }
    };
    ($($kind:expr => $part:ty $({ $($lines:tt)* })? $([$came:expr])?,)+) => {
        $(impl Record for $part {
            const KIND: &'static str = $kind;
            const CAME: &'static [Came] = came!($({ $($lines)* })? $([$came])?);
        })+

        /// Reads a document as one of the first version of each kind.
        #[cfg(test)]
        const FIRST: &[(&str, fn(&str) -> Result<(), crate::store::record::RecordError>)] =
            &[$(($kind, |json| crate::store::record::read::<$part>(1, json).map(drop))),+];
    };
}

etui_schema::entries! { kept
    "client_record": SealedClient,
    "check_input": Gathered,
    "check_answer": AppointmentCheck,
    "treatment_input": TreatmentRequest,
    "treatment_answer": TreatmentRecord,
    "settlement_input": SettlementRequest,
    "settlement_answer": Settlement,
    "practice_sheet_input": PracticeSheetRequest,
    "practice_sheet_answer": PracticeSheet,
    "hand_in_input": HandInRequest,
    "hand_in_answer": HandedIn,
    "sheet_marks_input": SheetMarksRequest,
    "sheet_marks_answer": SheetMarked,
    "sign_off_words": Words,
}

#[cfg(test)]
mod tests;
