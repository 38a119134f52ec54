//! Machines: stroke, rate, give.

use etui_schema::machines::{MachineAsStored, MachineRecord};
use etui_schema::vocabulary::{Give, Instant, Machine, Reference};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::documents::{Document, Sent};
use super::error::Error;
use super::moment::{Mandate, Moment};
use super::sent_back::SentBack;
use super::{Studio, branches};
use crate::store::record::Record;
use crate::store::{Batch, Read, Space};

/// A machine as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredMachine {
    machine_ref: Reference,
    stroke_mm: f64,
    rate_hz: f64,
    give: Give,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    branch_ref: Option<Reference>,
    version: u64,
    updated_at: Instant,
}

impl StoredMachine {
    /// The machine as the needle feels it.
    #[must_use]
    pub fn machine(&self) -> Machine {
        Machine {
            stroke_mm: Some(self.stroke_mm),
            rate_hz: Some(self.rate_hz),
            give: Some(self.give),
        }
    }
}

impl Record for StoredMachine {
    const KIND: &'static str = "machine";
}

impl Document for StoredMachine {
    const SPACE: Space = Space::new("machines");
    const WHAT: &'static str = "machine";
    const REFERENCE: &'static str = "machine_ref";
    type Request = MachineRecord;
    type Answer = MachineAsStored;

    fn sent_back(request: &MachineRecord) -> SentBack<'_> {
        let MachineRecord { machine_ref: reference, version, updated_at, .. } = request;
        SentBack { reference: reference.as_ref(), version: *version, updated_at: *updated_at }
    }

    fn of(reference: &Reference, request: &MachineRecord, version: u64, at: Timestamp) -> Self {
        let MachineRecord {
            stroke_mm,
            rate_hz,
            give,
            branch_ref,
            machine_ref: _,
            version: _,
            updated_at: _,
        } = request;
        Self {
            machine_ref: reference.clone(),
            stroke_mm: *stroke_mm,
            rate_hz: *rate_hz,
            give: *give,
            branch_ref: branch_ref.clone(),
            version,
            updated_at: Instant(at),
        }
    }

    fn over(self, before: Option<&Self>, _: &Moment, sent: Sent) -> Result<Self, Error> {
        // It stands where it stood until somebody says otherwise.
        let stays = before.filter(|_| sent == Sent::Body);
        let branch_ref = self.branch_ref.or(stays.and_then(|before| before.branch_ref.clone()));
        Ok(Self { branch_ref, ..self })
    }

    async fn stands<R: Read>(
        &self,
        studio: &Studio,
        snap: &mut R,
        batch: Batch,
    ) -> Result<Batch, Error> {
        branches::expect(studio, snap, batch, (self.branch(), "#/branch_ref")).await
    }

    fn branch(&self) -> Option<&Reference> {
        self.branch_ref.as_ref()
    }

    fn is_reached(&self, mandate: &Mandate) -> bool {
        mandate.reaches_branch(self.branch())
    }

    fn stamp(&self) -> (u64, Instant) {
        (self.version, self.updated_at)
    }

    fn answer(&self) -> MachineAsStored {
        let Self { machine_ref, stroke_mm, rate_hz, give, branch_ref, version, updated_at } =
            self.clone();
        MachineAsStored { machine_ref, stroke_mm, rate_hz, give, branch_ref, version, updated_at }
    }
}
