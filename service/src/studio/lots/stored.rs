//! A lot as it is kept, and what it is worth on a day.

use etui_schema::lots::{Adjustment, Confirmed, Lot, LotState};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{CivilDate, Configuration, Instant};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::record::Record;
use crate::studio::error::Error;

/// A lot as stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StoredLot {
    /// Its id.
    pub id: Uuid,
    /// What the packs hold.
    pub configuration: Option<Configuration>,
    /// The lot or batch code.
    pub lot: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// The maker's catalogue number.
    pub reference: Option<String>,
    /// The GTIN in its 14-digit form.
    pub gtin: Option<String>,
    /// The maker as the studio calls it.
    pub maker: Option<String>,
    /// Packs left.
    pub packs: u32,
    /// What was printed, as read.
    pub text: Option<String>,
    /// What was scanned, as sent.
    pub symbol: Option<String>,
    /// When it came in.
    pub received_at: Instant,
    /// Changes of the count by hand.
    pub adjustments: Vec<Adjustment>,
    /// Why it is kept aside; empty if it is not.
    pub held: Vec<String>,
    /// When and why it was called back.
    pub recalled: Option<Recalled>,
    /// Counts the changes, from 1.
    pub version: u64,
}

/// A recall.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recalled {
    /// When the studio acted on it.
    pub at: Instant,
    /// What the notice said.
    pub reason: String,
}

impl Record for StoredLot {
    const KIND: &'static str = "lot";
    const VERSION: u32 = 1;
}

impl StoredLot {
    /// What the lot is worth on a day, and why.
    #[must_use]
    pub fn state_on(&self, day: Date) -> (LotState, Vec<String>) {
        let one = |text: &str| vec![text.to_owned()];
        if self.recalled.is_some() {
            return (LotState::Recalled, one("recalled"));
        }
        if self.expires_on.is_some_and(|last| last.0 < day) {
            return (LotState::Expired, one("expired"));
        }
        if self.packs == 0 {
            return (LotState::Empty, one("empty"));
        }
        if !self.held.is_empty() {
            return (LotState::Held, self.held.clone());
        }
        (LotState::Usable, Vec::new())
    }

    /// Keeps the lot aside for a reason.
    pub fn hold(&mut self, reason: &str) {
        if !self.held.iter().any(|held| held == reason) {
            self.held.push(reason.to_owned());
        }
    }

    /// Takes the lot out of quarantine with what a person settled.
    ///
    /// # Errors
    /// [`Error::Conflict`] for a recalled lot; [`Error::Refused`] if the lot
    /// still has no configuration.
    pub fn release(&mut self, confirmed: Option<&Confirmed>) -> Result<(), Error> {
        if self.recalled.is_some() {
            return Err(Error::Conflict("a recalled lot is not released".to_owned()));
        }
        if self.held.iter().any(|reason| reason == "not_sterile") {
            return Err(Error::Conflict("packs that are not sterile are not released".to_owned()));
        }
        if let Some(confirmed) = confirmed {
            self.confirm(confirmed);
        }
        if !self.configuration.is_some_and(is_complete) {
            return Err(Error::at(
                "#/confirmed/configuration",
                FaultCode::Missing,
                "the lot has no complete configuration; say diameter, count and grouping",
            ));
        }
        self.held.clear();
        Ok(())
    }

    /// Takes over what a person settled.
    pub fn confirm(&mut self, confirmed: &Confirmed) {
        let Confirmed { configuration, lot, expires_on, reference } = confirmed.clone();
        self.configuration = configuration.or(self.configuration);
        self.lot = lot.or(self.lot.take());
        self.expires_on = expires_on.or(self.expires_on);
        self.reference = reference.or(self.reference.take());
    }

    /// The lot as a caller sees it on a day.
    #[must_use]
    pub fn answer(&self, day: Date) -> Lot {
        let (state, reasons) = self.state_on(day);
        let Self {
            id,
            configuration,
            lot,
            expires_on,
            reference,
            gtin,
            maker,
            packs,
            text,
            symbol,
            received_at,
            adjustments,
            held: _,
            recalled: _,
            version,
        } = self.clone();
        Lot {
            id,
            state,
            reasons,
            canonical: configuration.map(|c| c.canonical()),
            configuration,
            lot,
            expires_on,
            reference,
            gtin,
            maker,
            packs,
            text,
            symbol,
            received_at,
            adjustments,
            version,
        }
    }
}

/// Whether diameter, count and grouping are all known.
#[must_use]
pub(super) fn is_complete(configuration: Configuration) -> bool {
    configuration.diameter_mm.is_some()
        && configuration.count.is_some()
        && configuration.grouping.is_some()
}
