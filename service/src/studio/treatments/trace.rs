//! What stays of a treatment for as long as the law wants it.

use etui_schema::recalls::Exposure;
use etui_schema::treatments::{OpenedPack, TreatmentRecord, TreatmentRequest};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{BY_CLIENT, BY_LOT, BY_SERIAL, serial_rows};
use crate::store::keyring::Keyring;
use crate::store::verify::Indexed;
use crate::store::{Bytes, Space};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Mandate;
use crate::studio::sealed::{self, Trace};
use crate::studio::vault::Subject;
use crate::studio::whose::Whose;

/// The trace: pseudonymous references, dates, lots. Nothing of health.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct TreatmentTrace {
    /// The client's reference.
    pub client_ref: Reference,
    /// The artist's reference.
    pub artist_ref: Reference,
    /// What was treated.
    pub treatment: Treatment,
    /// When.
    pub performed_at: Instant,
    /// Every pack that was opened.
    pub packs: Vec<TracedPack>,
    /// Batches of the pigments.
    pub pigment_batches: Vec<String>,
    /// Where it was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub branch_ref: Option<Reference>,
}

/// One opened pack.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct TracedPack {
    /// The lot's id in the drawer.
    pub lot_id: Uuid,
    /// The lot code.
    pub lot: Option<String>,
    /// The maker as the studio calls it.
    pub maker: Option<String>,
    /// The maker's catalogue number.
    pub reference: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// The serial number.
    pub serial: Option<String>,
}

impl Trace for TreatmentTrace {
    const SPACE: Space = Space::new("treatments");
    const INDEXES: &'static [Indexed] = &[
        Indexed::Whole(BY_CLIENT.space()),
        Indexed::Whole(BY_LOT.space()),
        // A serial number is free again when its pack was struck.
        Indexed::Part(BY_SERIAL.space()),
    ];
    const WHAT: &'static str = "treatment";
    type Input = TreatmentRequest;
    type Answer = TreatmentRecord;

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }

    fn rows(&self, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)> {
        let (client, at) = (keyring.client_id(self.client_ref.as_str()), self.performed_at.0);
        let mut rows = vec![BY_CLIENT.row(&(client, at, id))];
        rows.extend(self.packs.iter().map(|pack| BY_LOT.row(&(pack.lot_id, at, id))));
        rows.extend(serial_rows(&self.packs));
        rows
    }
}

/// Whose a treatment is, as it stands; nobody's if it cannot be read.
///
/// # Errors
/// What the store met.
pub async fn whose(snap: &mut Snap, id: Uuid) -> Result<Whose, Error> {
    let found = readable(sealed::load::<TreatmentTrace>(snap, id).await)?;
    let of =
        |trace: TreatmentTrace| Whose { artist: Some(trace.artist_ref), branch: trace.branch_ref };
    Ok(found.map(|found| of(found.trace)).unwrap_or_default())
}

/// Whether what hangs on a treatment is within a caller's reach.
///
/// # Errors
/// What the store met.
pub async fn is_reached(snap: &mut Snap, mandate: &Mandate, id: Uuid) -> Result<bool, Error> {
    Ok(!mandate.is_limited() || whose(snap, id).await?.is_reached(mandate))
}

impl TracedPack {
    /// The trace of a pack.
    #[must_use]
    pub fn of(pack: &OpenedPack) -> Self {
        Self {
            lot_id: pack.lot_id,
            lot: pack.lot.clone(),
            maker: pack.maker.clone(),
            reference: pack.reference.clone(),
            expires_on: pack.expires_on,
            serial: pack.serial.clone(),
        }
    }
}

impl TreatmentTrace {
    /// The trace of a record: the packs that were opened.
    #[must_use]
    pub fn of(record: &TreatmentRecord) -> Self {
        let opened = record.packs.iter().filter(|pack| pack.struck_in.is_none());
        let packs = opened.map(TracedPack::of).collect();
        Self {
            client_ref: record.client_ref.clone(),
            artist_ref: record.artist_ref.clone(),
            treatment: record.treatment,
            performed_at: record.performed_at,
            packs,
            pigment_batches: record.pigments.iter().map(|pigment| pigment.batch.clone()).collect(),
            branch_ref: record.branch_ref.clone(),
        }
    }

    /// One row a lot: who was exposed to how many packs.
    #[must_use]
    pub fn exposures(&self, id: Uuid) -> Vec<Exposure> {
        let mut rows: Vec<Exposure> = Vec::new();
        for pack in &self.packs {
            if let Some(row) = rows.iter_mut().find(|row| row.lot_id == pack.lot_id) {
                row.packs += 1;
                continue;
            }
            rows.push(Exposure {
                treatment_id: id,
                client_ref: self.client_ref.clone(),
                artist_ref: self.artist_ref.clone(),
                performed_at: self.performed_at,
                lot_id: pack.lot_id,
                packs: 1,
                lot: None,
                branch_ref: self.branch_ref.clone(),
            });
        }
        rows
    }
}
