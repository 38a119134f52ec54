//! Dossiers: everything that is held on a client, in one document.

use crate::kinds::told;
use serde_json::Value;

use crate::appointment_checks::AppointmentCheck;
use crate::calendars::CalendarFeed;
use crate::clients::Client;
use crate::reminders::Reminder;
use crate::treatments::TreatmentRecord;
use crate::vocabulary::{Instant, Reference};

/// Everything that is held on a client.
#[told]
pub struct Dossier {
    /// The client.
    pub client_ref: Reference,
    /// When the dossier was made.
    pub made_at: Instant,
    /// Date of birth, skin, answers; absent if the client was never put.
    pub client: Option<Client>,
    /// Every check that names the client, in the order of the appointments.
    pub checks: Vec<CheckInDossier>,
    /// Every treatment with what was seen, told, judged and put right since,
    /// oldest first.
    pub treatments: Vec<TreatmentRecord>,
    /// Every reminder, in the order of the treatments.
    pub reminders: Vec<Reminder>,
    /// Every open calendar of the client.
    pub calendars: Vec<CalendarFeed>,
    /// What was done to these records and by whom, oldest first.
    pub audit: Vec<AuditRow>,
    /// Records of the client that are damaged and cannot be read, by kind and id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unreadable: Vec<String>,
}

/// A check, and what it was made from.
#[told]
pub struct CheckInDossier {
    /// The check as it was answered.
    pub check: AppointmentCheck,
    /// What it was made from: the request, and what was known then of client,
    /// artist and drawer.
    pub made_from: Value,
}

/// One entry of the audit trail.
#[told(Eq)]
pub struct AuditRow {
    /// Its place in the trail, from 1.
    pub number: u64,
    /// When.
    pub at: Instant,
    /// Who: `owner` or the name of a plug-in.
    pub who: String,
    /// What was done.
    pub what: String,
    /// To which record.
    pub record: String,
    /// The version that the record had by it; 0 when it was gone.
    pub version: u64,
}
