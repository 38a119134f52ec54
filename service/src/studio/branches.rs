//! Branches of a chain: where work is done, by which day, whom to call.
//!
//! A studio without branches has none of it. Where there are some, every record says its branch, or
//! that nobody named one ([`UNASSIGNED`]): nothing is ever put into a branch that nothing points to.
//! Records of before there were branches say nothing, which is the same.
//!
//! [`at`] is the studio as it stands at a branch, with that branch's zone, country, hours and
//! numbers; whatever is computed with it is computed for that branch.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use etui_craft::aftercare::triage::Contacts as Calls;
use etui_craft::aftercare::{LONGEST_CALL, Request};
use etui_craft::screening::country::Country;
use etui_schema::branches::{Branch, BranchHours, BranchRecord, UNASSIGNED};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::symptom_reports::Contacts;
use etui_schema::vocabulary::aftercare::{ClosedDay, DayOfWeek};
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference, Zone};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::documents::{self, Document};
use super::engine::Snap;
use super::error::{Error, readable};
use super::moment::{Mandate, Moment};
use super::sent_back::SentBack;
pub use super::whose::{is_of, named};
use crate::store::audit::{AUDIT_HEAD, HEAD_KEY};
use crate::store::record::{Record, decode};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Order, Read, Space};

mod left;

use left::left_in;
pub use left::strays;

/// A branch as stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StoredBranch {
    branch_ref: Reference,
    name: String,
    zone: Option<Zone>,
    country: Option<String>,
    hours: Vec<BranchHours>,
    closed_days: Vec<CivilDate>,
    numbers: Option<Contacts>,
    version: u64,
    updated_at: Instant,
}

impl StoredBranch {
    /// Its reference.
    #[must_use]
    pub const fn reference(&self) -> &Reference {
        &self.branch_ref
    }

    /// The numbers that its clients are told, under those that a caller names.
    #[must_use]
    pub fn contacts(&self, told: Option<Contacts>) -> Option<Contacts> {
        let Some(own) = self.numbers.clone() else { return told };
        let Contacts { emergency, same_day, doctor, artist } = told.unwrap_or_default();
        Some(Contacts {
            emergency: emergency.or(own.emergency),
            same_day: same_day.or(own.same_day),
            doctor: doctor.or(own.doctor),
            artist: artist.or(own.artist),
        })
    }

    /// Fills a plan's request with when it is open and whom to call.
    fn fill(&self, request: &mut Request) {
        let named = |day: &DayOfWeek| self.hours.iter().any(|hours| hours.day == *day);
        if !self.hours.is_empty() {
            let closed = DayOfWeek::ALL.iter().filter(|day| !named(day));
            request.closed_days.extend(closed.map(|day| ClosedDay::Weekly(*day)));
        }
        request.closed_days.extend(self.closed_days.iter().map(|day| ClosedDay::On(*day)));
        request.opens_on = self.hours.iter().map(|hours| (hours.day, hours.from.0)).collect();
        request.contacts = self.calls();
    }

    /// Whom its messages say to call.
    fn calls(&self) -> Calls {
        let Contacts { emergency: _, same_day, doctor, artist } =
            self.numbers.clone().unwrap_or_default();
        Calls {
            // The country's number stands alone in a message.
            emergency: None,
            same_day: same_day.map(Into::into),
            doctor: doctor.map(Into::into),
            artist: artist.map(Into::into),
        }
    }
}

/// A sentence of a message that was left open, with whom to call where a studio stands.
#[must_use]
pub fn calling(studio: &Studio, open: &str, language: Language) -> String {
    let country = studio.country.map(|country| country.to_string());
    let own = studio.here.as_ref().map(|here| here.calls()).unwrap_or_default();
    studio.craft.plans.calling(open, language, (country.as_deref(), &own))
}

/// A plan's request with what is told of the branch that a studio stands at.
#[must_use]
pub fn planned(studio: &Studio, mut request: Request) -> Request {
    if let Some(here) = &studio.here {
        here.fill(&mut request);
    }
    request
}

impl Record for StoredBranch {
    const KIND: &'static str = "branch";
}

impl Document for StoredBranch {
    const SPACE: Space = Space::new("branches");
    const WHAT: &'static str = "branch";
    const REFERENCE: &'static str = "branch_ref";
    type Request = BranchRecord;
    type Answer = Branch;

    /// Refuses hours that end before they begin, and words that a message has no room for.
    fn check(request: &BranchRecord) -> Result<(), Error> {
        let backwards = request.hours.iter().enumerate().filter(|(_, one)| one.until <= one.from);
        let fault = |(at, _)| {
            let why = "it must be later than `from`";
            Fault::new(format!("#/hours/{at}/until"), FaultCode::Contradiction, why)
        };
        let mut faults: Vec<Fault> = backwards.map(fault).collect();
        let Contacts { emergency, same_day, doctor, artist } =
            request.numbers.clone().unwrap_or_default();
        let numbers = [
            ("emergency", emergency),
            ("same_day", same_day),
            ("doctor", doctor),
            ("artist", artist),
        ];
        for (member, said) in numbers {
            if said.is_some_and(|said| LONGEST_CALL < said.chars().count()) {
                let why = format!("at most {LONGEST_CALL} characters: it stands in messages");
                faults.push(Fault::new(format!("#/numbers/{member}"), FaultCode::WrongLength, why));
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
    }

    fn sent_back(request: &BranchRecord) -> SentBack<'_> {
        let BranchRecord { branch_ref: reference, version, updated_at, .. } = request;
        SentBack { reference: reference.as_ref(), version: *version, updated_at: *updated_at }
    }

    fn of(reference: &Reference, request: &BranchRecord, version: u64, at: Timestamp) -> Self {
        let BranchRecord {
            name,
            zone,
            country,
            hours,
            closed_days,
            numbers,
            branch_ref: _,
            version: _,
            updated_at: _,
        } = request.clone();
        let (branch_ref, updated_at) = (reference.clone(), Instant(at));
        Self { branch_ref, name, zone, country, hours, closed_days, numbers, version, updated_at }
    }

    async fn may_write<R: Read>(
        _: &Studio,
        snap: &mut R,
        _: &Moment,
        reference: &Reference,
        new: Option<&Self>,
    ) -> Result<(), Error> {
        if new.is_none() {
            return Ok(());
        }
        if documents::bare(reference.as_str()) == UNASSIGNED {
            let why = "this word stands for no branch; take another reference";
            return Err(Error::at("path:branch_ref", FaultCode::NotAllowed, why));
        }
        let Some(kept) = documents::look_alike::<Self, _>(snap, reference, Self::reference).await?
        else {
            return Ok(());
        };
        let why = format!("it differs from `{kept}`, which is kept, by case or marks alone");
        Err(Error::at("path:branch_ref", FaultCode::Duplicate, why))
    }

    async fn is_empty<R: Read>(
        _: &Studio,
        snap: &mut R,
        reference: &Reference,
    ) -> Result<Batch, Error> {
        let left = left_in(snap, reference).await?;
        if left.is_empty() {
            // Whatever comes to name a branch is on the audit trail: what did since is looked for anew.
            let head = snap.get(AUDIT_HEAD, HEAD_KEY).await?;
            return Ok(Batch::new().expect(AUDIT_HEAD, HEAD_KEY, head));
        }
        let why = format!("of the branch `{reference}` there are still {}", left.join(", "));
        Err(Error::conflict(why))
    }

    fn is_reached(&self, mandate: &Mandate) -> bool {
        mandate.reaches_branch(Some(&self.branch_ref))
    }

    fn stamp(&self) -> (u64, Instant) {
        (self.version, self.updated_at)
    }

    fn answer(&self) -> Branch {
        let Self {
            branch_ref,
            name,
            zone,
            country,
            hours,
            closed_days,
            numbers,
            version,
            updated_at,
        } = self.clone();
        Branch { branch_ref, name, zone, country, hours, closed_days, numbers, version, updated_at }
    }
}

/// Whether there is any branch.
///
/// # Errors
/// What the store met.
pub async fn is_chain<R: Read>(snap: &mut R) -> Result<bool, Error> {
    let all = Bytes::new()..Bytes::new();
    Ok(!snap.scan(StoredBranch::SPACE, all, Order::Ascending, 1).await?.is_empty())
}

/// The branch that a record is to say: the one that is named, or in a chain that none is.
///
/// # Errors
/// What the store met.
pub async fn said<R: Read>(
    snap: &mut R,
    branch: Option<Reference>,
) -> Result<Option<Reference>, Error> {
    match branch {
        Some(branch) => Ok(Some(branch)),
        None if is_chain(snap).await? => Ok(UNASSIGNED.parse().ok()),
        None => Ok(None),
    }
}

/// Refuses a branch that is not there, and adds to a batch that it still is when the batch is written.
///
/// # Errors
/// [`Error::Refused`] at `pointer`; what the store met.
pub async fn expect<R: Read>(
    studio: &Studio,
    snap: &mut R,
    batch: Batch,
    (branch, pointer): (Option<&Reference>, &str),
) -> Result<Batch, Error> {
    match (held(studio, snap, batch, branch).await?, branch) {
        ((_, false), Some(branch)) => {
            let why = format!("no branch is kept under `{branch}`");
            Err(Error::at(pointer, FaultCode::UnknownReference, why))
        }
        ((batch, _), _) => Ok(batch),
    }
}

/// Adds to a batch that a branch is what it is now when the batch is written; whether it is there.
///
/// # Errors
/// What the store met.
pub async fn held<R: Read>(
    studio: &Studio,
    snap: &mut R,
    batch: Batch,
    branch: Option<&Reference>,
) -> Result<(Batch, bool), Error> {
    let Some(branch) = named(branch) else { return Ok((batch, true)) };
    let key = documents::key_of::<StoredBranch>(studio, branch);
    let is_of = |(space, held, _): &&(Space, Bytes, Option<Bytes>)| {
        *space == StoredBranch::SPACE && *held == key
    };
    if let Some((_, _, found)) = batch.expect.iter().find(is_of) {
        let is_there = found.is_some();
        return Ok((batch, is_there));
    }
    // One that cannot be read is there all the same: what is done at it must be kept.
    let found = snap.get(StoredBranch::SPACE, &key).await?;
    let is_there = found.is_some();
    Ok((batch.expect(StoredBranch::SPACE, key, found), is_there))
}

/// The studio as it stands at a branch; as it is where none is named, or none is kept any more.
///
/// # Errors
/// What the store met.
pub async fn at<'s, R: Read>(
    studio: &'s Studio,
    snap: &mut R,
    branch: Option<&Reference>,
) -> Result<Cow<'s, Studio>, Error> {
    let Some(branch) = named(branch) else { return Ok(Cow::Borrowed(studio)) };
    // Of one that cannot be read the records are told all the same.
    let found = readable(documents::find::<StoredBranch, _>(studio, snap, branch).await)?.flatten();
    Ok(found.map_or(Cow::Borrowed(studio), |found| Cow::Owned(stands_at(studio, found))))
}

/// The same of a branch that has to be there, with a batch that expects it still is.
///
/// # Errors
/// [`Error::Refused`] at `pointer`; what the store met.
pub async fn there<'s, R: Read>(
    studio: &'s Studio,
    snap: &mut R,
    (branch, pointer): (Option<&Reference>, &str),
) -> Result<(Cow<'s, Studio>, Batch), Error> {
    let held = expect(studio, snap, Batch::new(), (branch, pointer)).await?;
    Ok((at(studio, snap, branch).await?, held))
}

fn stands_at(studio: &Studio, branch: StoredBranch) -> Studio {
    let told: Option<Country> = branch.country.as_deref().and_then(|code| code.parse().ok());
    Studio {
        zone: branch.zone.clone().unwrap_or_else(|| studio.zone.clone()),
        country: told.or(studio.country),
        here: Some(Arc::new(branch)),
        ..studio.clone()
    }
}

/// What day it is at each branch.
#[derive(Debug, Clone)]
pub struct Days {
    zones: BTreeMap<Reference, Zone>,
    now: Timestamp,
    today: Date,
    /// A day before which it is nowhere.
    least: Date,
}

impl Days {
    /// Reads the branches, at a moment.
    ///
    /// # Errors
    /// What the store met.
    pub async fn read(snap: &mut Snap, moment: &Moment) -> Result<Self, Error> {
        Self::at(snap, (moment.dated, moment.today)).await
    }

    /// The same, of an instant and the studio's day.
    ///
    /// # Errors
    /// What the store met.
    pub async fn at(snap: &mut Snap, (now, today): (Timestamp, Date)) -> Result<Self, Error> {
        let (mut rows, mut zones) = (Rows::all(StoredBranch::SPACE), BTreeMap::new());
        while let Some((_, bytes)) = rows.next(snap).await? {
            // One that cannot be read has the studio's day.
            let Ok(branch) = decode::<StoredBranch>(&bytes) else { continue };
            zones.extend(branch.zone.map(|zone| (branch.branch_ref, zone)));
        }
        Ok(Self { zones, now, today, least: Date::MIN })
    }

    /// The days by which packs are judged at an instant: nothing keeps longer by a zone, so of the
    /// calendar where a pack lies and these zones' the latest counts.
    ///
    /// # Errors
    /// What the store met.
    pub async fn judging(
        studio: &Studio,
        snap: &mut Snap,
        now: Timestamp,
        zones: [&Zone; 2],
    ) -> Result<Self, Error> {
        let day = |zone: &Zone| zone.rules().to_datetime(now).date();
        let [one, other] = zones.map(day);
        let days = Self::at(snap, (now, day(&studio.zone))).await?;
        Ok(Self { least: one.max(other), ..days })
    }

    /// One day, wherever a pack lies.
    #[must_use]
    pub const fn only(day: Date) -> Self {
        Self { zones: BTreeMap::new(), now: Timestamp::MIN, today: day, least: day }
    }

    /// What day it is at a branch; the studio's day where none is named.
    #[must_use]
    pub fn of(&self, branch: Option<&Reference>) -> Date {
        let zone = branch.and_then(|branch| self.zones.get(branch));
        let day = zone.map_or(self.today, |zone| zone.rules().to_datetime(self.now).date());
        day.max(self.least)
    }

    /// The day by which what lies in no drawer is judged.
    #[must_use]
    pub const fn least(&self) -> Date {
        self.least
    }

    /// The earliest of all days, and the latest.
    #[must_use]
    pub fn ends(&self) -> (Date, Date) {
        let all = self.zones.keys().map(|branch| self.of(Some(branch)));
        all.fold((self.today, self.today), |(first, last), day| (first.min(day), last.max(day)))
    }
}
