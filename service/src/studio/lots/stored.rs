//! A lot as it is kept, and what it is worth on a day.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use etui_craft::drawer::{self, CODE_HELD, Known, Said, Settled, Standing, Unsettled};
use etui_craft::label::{
    FitnessReason, FitnessState, Lineage, Origin, Outcome, Policy, Printed, Reader, Reading,
};
use etui_schema::lots::{Adjustment, AdjustmentReason, Confirmed, Lot, LotMove, LotSettlement};
use etui_schema::recalls::LotRecall;
use etui_schema::vocabulary::{CivilDate, Configuration, Instant, Reference};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::code;
use crate::store::record::{Record, RecordError, of_first};
use crate::studio::moment::Mandate;

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
    /// Whether the packs are sterile; none if nobody knows.
    pub sterile: Option<bool>,
    /// The latest day that print and symbol allow.
    pub printed_until: Option<CivilDate>,
    /// What was settled, oldest first.
    pub settled: Vec<LotSettlement>,
    /// Codes that stand on the packs beside the one that counts: a recall of either is meant for
    /// them, whoever said which is right.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_codes: Vec<String>,
    /// The branch where its packs lie.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub branch_ref: Option<Reference>,
    /// The delivery that it was a part of before some of its packs were moved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part_of: Option<Uuid>,
    /// Its moves from branch to branch, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moves: Vec<LotMove>,
    /// How many of its adjustments were made before it came to where it lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came_with: Option<usize>,
    /// The lots put aside by hand that alone are why it is held for what others of its code are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub held_with: Vec<Uuid>,
}

/// A recall.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recalled {
    /// Which; builds before this one kept none.
    #[serde(default)]
    pub id: Option<Uuid>,
    /// When the studio acted on it.
    pub at: Instant,
    /// What the notice said.
    pub reason: String,
    /// Who acted on it; builds before this one did not keep it.
    #[serde(default)]
    pub by: Option<String>,
}

impl Record for StoredLot {
    const KIND: &'static str = "lot";
    const VERSION: u32 = 2;

    /// Former builds kept nothing of sterility, took a pack without a date for
    /// a good one, and knew less of print. What the label says is read again.
    fn upgrade(version: u32, mut data: serde_json::Value) -> Result<Self, RecordError> {
        if let Some(lot) = data.as_object_mut() {
            lot.insert("settled".to_owned(), serde_json::Value::Array(Vec::new()));
        }
        let lot: Self = of_first(version, data)?;
        Ok(lot.former())
    }
}

/// Reads the labels of former lots; none only if the tables of this build are
/// not sound, and then nothing is known of them.
pub(super) static READER: LazyLock<Option<Reader>> = LazyLock::new(|| Reader::builtin().ok());

impl StoredLot {
    /// A lot of a former build, its label read again.
    fn former(mut self) -> Self {
        let by_hand = &self.adjustments;
        let released = by_hand.iter().any(|change| change.reason == AdjustmentReason::Released);
        let day = jiff::tz::TimeZone::UTC.to_datetime(self.received_at.0).date();
        let printed = Printed { text: self.text.as_deref(), symbol: self.symbol.as_deref() };
        if let Some(reader) = READER.as_ref()
            && (printed.text.is_some() || printed.symbol.is_some())
        {
            let reading = reader.read(&printed, day, Policy::default());
            self.read_again(&reading, released);
        }
        self
    }

    /// The delivery that its packs came with.
    #[must_use]
    pub fn delivery(&self) -> Uuid {
        self.part_of.unwrap_or(self.id)
    }

    /// What is known of it.
    #[must_use]
    pub fn known(&self) -> Known<'_> {
        Known {
            recalled: self.recalled.is_some(),
            packs: self.packs,
            expires_on: self.expires_on.map(|day| day.0),
            sterile: self.sterile,
            complete: self.configuration.is_some_and(is_complete),
            held: &self.held,
            printed_until: self.printed_until.map(|day| day.0),
        }
    }

    /// Every code that stands on the packs.
    pub fn codes(&self) -> impl Iterator<Item = &String> {
        self.lot.iter().chain(&self.other_codes)
    }

    /// Whether it is known by a code, however that is spelled.
    #[must_use]
    pub fn is_known_by(&self, code: &str) -> bool {
        let meant = drawer::code_as_meant(code);
        self.codes().any(|known| drawer::code_as_meant(known) == meant)
    }

    /// What the lot is worth on a day, and why.
    #[must_use]
    pub fn standing(&self, day: Date) -> Standing {
        drawer::standing(&self.known(), day)
    }

    /// Where it comes from.
    #[must_use]
    pub fn lineage(&self) -> Lineage<'_> {
        Lineage {
            maker: self.maker.as_deref(),
            gtin: self.gtin.as_deref(),
            reference: self.reference.as_deref(),
        }
    }

    /// What the label says of sterility and of the last day that it allows.
    fn take_bounds(&mut self, reading: &Reading) {
        let says = |reason| reading.fitness.reasons().any(|said| said == reason);
        self.sterile = if says(FitnessReason::NotSterile) {
            Some(false)
        } else if says(FitnessReason::SterilityUnknown) {
            None
        } else {
            Some(true)
        };
        self.printed_until = reading.expires_until.map(CivilDate);
    }

    /// Takes over what the label leaves open or forbids. Being past its date is
    /// worked out for the day, what is not known is seen in what is missing.
    pub(super) fn take_doubts(&mut self, reading: &Reading) {
        self.take_bounds(reading);
        for reason in reading.fitness.reasons() {
            if !is_told_otherwise(reason) && reason.state() != FitnessState::Fit {
                self.hold(reason.as_str());
            }
        }
    }

    /// Holds what a former build took over against what the label says to this
    /// one. What somebody released then was looked at, but for what forbids the
    /// use, for sterility, and for a day later than the print allows.
    fn read_again(&mut self, reading: &Reading, released: bool) {
        let kept = self.expires_on;
        self.take_bounds(reading);
        for reason in reading.fitness.reasons() {
            let of_the_date = matches!(
                reason,
                FitnessReason::AmbiguousExpiry
                    | FitnessReason::ExpiryUnreadable
                    | FitnessReason::ExpiryWordUnproven
                    | FitnessReason::DateWithoutWord
            );
            // The earliest reading was taken, or somebody said an earlier day.
            let earliest = reading.packet.expires_on.as_ref().map(|said| said.date);
            let safe = matches!((kept, earliest), (Some(day), Some(first)) if day.0 <= first);
            let settled = of_the_date && safe || released && !drawer::forbids(reason.as_str());
            let told = is_told_otherwise(reason) || settled;
            if !told && reason.state() != FitnessState::Fit {
                self.hold(reason.as_str());
            }
        }
        // The day itself stays as it was: index rows are found by it.
        if let (Some(day), Some(last)) = (kept, self.printed_until)
            && last < day
        {
            self.hold(FitnessReason::AmbiguousExpiry.as_str());
        }
    }

    /// Keeps the lot aside for a reason.
    pub fn hold(&mut self, reason: &str) {
        if reason == CODE_HELD {
            self.held_with.clear();
        }
        if !self.is_held_for(reason) {
            self.held.push(reason.to_owned());
        }
    }

    /// Takes over what somebody settled, and says what is settled by it.
    /// `looked`: it is to be taken out of quarantine, so what asks for a look
    /// only is settled too.
    ///
    /// # Errors
    /// Why nothing of it may be taken over.
    pub fn settle(
        &mut self,
        confirmed: &Confirmed,
        looked: bool,
        (at, holder): (Instant, &str),
    ) -> Result<Settled, Unsettled> {
        let day = jiff::tz::TimeZone::UTC.to_datetime(at.0).date();
        let confirmed = &self.told(confirmed, day)?;
        self.check_said(confirmed, day)?;
        let configuration = confirmed.configuration.or(self.configuration);
        let said = Said {
            named: confirmed.by.is_some(),
            expires_on: confirmed.expires_on.map(|day| day.0),
            sterile: confirmed.sterile,
            complete: confirmed.configuration.is_some_and(is_complete)
                || looked && configuration.is_some_and(is_complete),
            code: confirmed.lot.is_some(),
            print: looked
                || confirmed.expires_on.is_some()
                || confirmed.lot.is_some()
                || confirmed.reference.is_some(),
            looked,
        };
        let outcome = drawer::settle(&self.known(), &said)?;
        self.take_over(confirmed);
        self.held.retain(|reason| outcome.left.contains(reason));
        let by = confirmed.by.as_ref().map_or(holder, |by| by.as_str()).to_owned();
        let settled = outcome.settled.clone();
        if !settled.is_empty() {
            let confirmed = confirmed.clone();
            self.settled.push(LotSettlement {
                at,
                by,
                settled: settled.into_iter().map(Into::into).collect(),
                confirmed,
                habit: None,
            });
        }
        Ok(outcome)
    }

    /// What a person says, with the lot code taken out of what was copied with it.
    ///
    /// # Errors
    /// [`Unsettled::NoCode`].
    pub(super) fn told(&self, said: &Confirmed, day: Date) -> Result<Confirmed, Unsettled> {
        let typed = said.lot.as_ref().filter(|code| !self.is_known_by(code));
        let code = typed.map(|code| code::typed(code, day)).transpose();
        let code = code.map_err(Unsettled::NoCode)?;
        Ok(Confirmed { lot: code.or_else(|| said.lot.clone()), ..said.clone() })
    }

    /// Whether it is kept aside for a reason.
    pub(super) fn is_held_for(&self, reason: &str) -> bool {
        self.held.iter().any(|held| held == reason)
    }

    /// Holds what a person says against how long packs last, and against what the label says clearly.
    /// A code that print alone tells may be misread: it asks which is right, and both stay known.
    fn check_said(&mut self, said: &Confirmed, day: Date) -> Result<(), Unsettled> {
        let Some(reader) = READER.as_ref() else { return Ok(()) };
        let (ends, longest) = (said.expires_on.map(|ends| ends.0), reader.latest_expiry(day));
        if ends.is_some_and(|ends| longest < ends) {
            return Err(Unsettled::Improbable(longest));
        }
        if self.text.is_none() && self.symbol.is_none() {
            return Ok(());
        }
        let printed = Printed { text: self.text.as_deref(), symbol: self.symbol.as_deref() };
        let reading = reader.read_from(&self.lineage(), &printed, day, Policy::default());
        if let (Some(ends), Some(last)) = (ends, reading.expires_until)
            && last < ends
        {
            return Err(Unsettled::LaterThanPrinted(last));
        }
        if let Some(other) = self.other_needle(said, &reading) {
            return Err(Unsettled::ReadOtherwise("configuration", other));
        }
        let packet = &reading.packet;
        if let (Some(code), Some(read)) = (&said.lot, &packet.lot)
            && !self.is_known_by(code)
        {
            if read.from == Origin::Symbol || reading.conflicts.iter().any(|one| one.field == "lot")
            {
                let codes: Vec<&str> = self.codes().map(String::as_str).collect();
                return Err(Unsettled::ReadOtherwise("lot", codes.join(", ")));
            }
            self.hold(FitnessReason::LabelConflict.as_str());
        }
        Ok(())
    }

    /// The needle that the label clearly tells and that is another than the one that is said.
    fn other_needle(&self, said: &Confirmed, reading: &Reading) -> Option<String> {
        let said = said.configuration.filter(|said| self.configuration.as_ref() != Some(said))?;
        let [only] = reading.candidates.as_slice() else { return None };
        let is_sure = matches!(reading.outcome, Outcome::Clear | Outcome::Incomplete);
        (is_sure && drawer::differs(&only.configuration, &said)).then(|| only.canonical())
    }

    /// Takes over what a person says the packet is.
    pub(super) fn take_over(&mut self, confirmed: &Confirmed) {
        let Confirmed { configuration, lot, expires_on, reference, sterile, by: _ } =
            confirmed.clone();
        self.configuration = configuration.or(self.configuration);
        if let Some(lot) = lot {
            self.other_codes.extend(self.lot.replace(lot));
            // Each once, whoever says it again.
            let (last, mut seen) = (self.lot.clone(), BTreeSet::new());
            self.other_codes
                .retain(|code| last.as_ref() != Some(code) && seen.insert(code.clone()));
        }
        self.expires_on = expires_on.or(self.expires_on);
        self.reference = reference.or(self.reference.take());
        self.sterile = sterile.or(self.sterile);
    }

    /// The lot as a caller sees it on a day: whom branches limit is told neither of moves to or from
    /// others, nor what was done with the packs there.
    #[must_use]
    pub fn answer(&self, mandate: &Mandate, day: Date) -> Lot {
        let Standing { state, reasons, questions } = self.standing(day);
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
            mut adjustments,
            held: _,
            recalled,
            version,
            sterile,
            printed_until: _,
            settled,
            other_codes: _,
            branch_ref,
            part_of: _,
            mut moves,
            came_with,
            held_with: _,
        } = self.clone();
        moves.retain(|one| {
            [one.from.as_ref(), Some(&one.to)].into_iter().all(|end| mandate.reaches_branch(end))
        });
        if mandate.branches.is_some() {
            adjustments.drain(..came_with.unwrap_or(0).min(adjustments.len()));
        }
        Lot {
            id,
            state: state.into(),
            reasons,
            recall: recalled.map(|Recalled { id, at, reason, by }| LotRecall {
                id,
                at,
                reason,
                by,
            }),
            questions: questions.into_iter().map(Into::into).collect(),
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
            sterile,
            settled,
            branch_ref,
            moves,
            version,
        }
    }
}

/// Whether a lot says it by its day or by what it lacks, and is not held for it.
const fn is_told_otherwise(reason: FitnessReason) -> bool {
    matches!(
        reason,
        FitnessReason::Expired
            | FitnessReason::ExpiryUnknown
            | FitnessReason::SterilityUnknown
            | FitnessReason::NotSterile
            | FitnessReason::Unreadable
    )
}

/// Whether diameter, count and grouping are all known.
#[must_use]
pub(super) fn is_complete(configuration: Configuration) -> bool {
    configuration.diameter_mm.is_some()
        && configuration.count.is_some()
        && configuration.grouping.is_some()
}
