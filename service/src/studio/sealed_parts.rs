//! What is sealed, by its kind and version inside the seal.
//!
//! All of these are still in the form in which they were first sealed. When one
//! of them changes so that what lies in the store would no longer be read, it
//! leaves this table for an implementation of its own: a higher version, and an
//! `upgrade` that turns the former form into today's.

use etui_schema::amendments::{Amendment, AmendmentRequest};
use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::countersignatures::{Countersignature, CountersignatureRequest};
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PracticeSheet, PracticeSheetRequest, SheetMarked, SheetMarksRequest,
};
use etui_schema::reviews::{Review, ReviewRequest};
use etui_schema::symptom_reports::{
    KeptSymptomReport, KeptSymptomReportRequest, Settlement, SettlementRequest,
};
use etui_schema::treatments::{Observation, ObservationRequest, TreatmentRecord, TreatmentRequest};

use super::clients::SealedClient;
use super::sign_offs::Words;
use crate::store::record::Record;

macro_rules! first_version {
    ($($kind:literal: $part:ty),+ $(,)?) => {
        $(impl Record for $part {
            const KIND: &'static str = $kind;
            const VERSION: u32 = 1;
        })+
    };
}

first_version! {
    "client_record": SealedClient,
    "check_answer": AppointmentCheck,
    "treatment_input": TreatmentRequest,
    "treatment_answer": TreatmentRecord,
    "amendment_input": AmendmentRequest,
    "amendment_answer": Amendment,
    "observation_input": ObservationRequest,
    "observation_answer": Observation,
    "symptom_report_input": KeptSymptomReportRequest,
    "symptom_report_answer": KeptSymptomReport,
    "settlement_input": SettlementRequest,
    "settlement_answer": Settlement,
    "review_input": ReviewRequest,
    "review_answer": Review,
    "countersignature_input": CountersignatureRequest,
    "countersignature_answer": Countersignature,
    "practice_sheet_input": PracticeSheetRequest,
    "practice_sheet_answer": PracticeSheet,
    "hand_in_input": HandInRequest,
    "hand_in_answer": HandedIn,
    "sheet_marks_input": SheetMarksRequest,
    "sheet_marks_answer": SheetMarked,
    "sign_off_words": Words,
}
