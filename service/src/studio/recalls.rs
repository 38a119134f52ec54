//! Recalls: which lots leave the drawer, and who was exposed.
//!
//! A lot code is unique per maker and article only. A recall takes every
//! delivery with the same code, maker and catalogue number; deliveries with
//! the same code of another maker or article are named as similar, for a
//! person to look at. Packs whose code nobody told may be of any lot: those of
//! the maker or the article are taken as well, the others are similar, and held
//! until somebody looked at them. A notice may come before the goods: it is kept,
//! and takes what comes later ([`lots::Notices`]).

mod branches;
mod kept;
mod pages;
mod table;

pub use branches::seen;
pub use kept::{get, list};
pub use pages::page;
pub use table::csv;

use std::collections::{BTreeMap, BTreeSet};

use self::branches::Groups;

use etui_craft::drawer::{self, RECALL_POSSIBLE};
use etui_schema::endpoints;
use etui_schema::events::EventType;
use etui_schema::recalls::{
    ExposedLot, Exposure, ExposureQuery, Exposures, NamedRecallRequest, RecallReport, RecallRequest,
};
use etui_schema::vocabulary::{Instant, Language, Reference};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::engine::Snap;
use super::error::{Error, Found, or_unreadable};
use super::lots::{self, StoredLot, StoredRecall, Together};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::Planned;
use super::treatments::BY_LOT;
use super::{Studio, appointment_checks};
use crate::store::{Batch, Bytes};

/// Plans to call a lot back; `dry_run` is told in the answer and changes nothing else.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn recall(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &RecallRequest,
    (dry_run, language): (bool, Language),
) -> Result<Planned, Error> {
    let (named, bytes) = lots::load(snap, id).await?;
    let alone = request.same_code == Some(false);
    let notice = NamedRecallRequest {
        lot: named.lot.clone().filter(|_| !alone).unwrap_or_default(),
        maker: named.maker.clone(),
        reference: named.reference.clone(),
        reason: request.reason.clone(),
    };
    let mut meant = Meant::default();
    if !notice.lot.is_empty() {
        let article = (notice.maker.as_deref(), notice.reference.as_deref());
        meant = self::meant(snap, &notice.lot, article).await?;
    }
    if !meant.same.iter().any(|(lot, _)| lot.id == id) {
        meant.same.push((named, bytes));
    }
    plan(studio, snap, moment, (&notice, dry_run, language), meant).await
}

/// Plans to call back what a notice names by maker, article and code.
///
/// # Errors
/// [`Error::Refused`] for what is not one code.
pub async fn recall_named(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &NamedRecallRequest,
    (dry_run, language): (bool, Language),
) -> Result<Planned, Error> {
    let lot = code_of(snap, &request.lot, moment.today).await?;
    let request = &NamedRecallRequest { lot, ..request.clone() };
    let article = (request.maker.as_deref(), request.reference.as_deref());
    let meant = meant(snap, &request.lot, article).await?;
    plan(studio, snap, moment, (request, dry_run, language), meant).await
}

/// The code that a notice names. What some lot has is one; else it is taken out of what was copied with
/// it, and refused if that is no code: it would be kept as one that nothing ever has.
async fn code_of(snap: &mut Snap, told: &str, day: Date) -> Result<String, Error> {
    let known = lots::meant_by(snap, told).await?;
    if !known.read.is_empty() || !known.unreadable.is_empty() {
        return Ok(told.to_owned());
    }
    let refused = |fault| Error::Refused(vec![lots::refused_code(fault, "#/lot".to_owned())]);
    lots::typed_code(told, day).map_err(refused)
}

/// Which lots a notice means.
#[derive(Default)]
struct Meant {
    /// Those that it means. What the notice or the lot leaves open counts as the
    /// same: better one too many.
    same: Vec<(StoredLot, Bytes)>,
    /// Those that only share the code.
    similar: Vec<Uuid>,
    /// Those without a code of which nothing says that they are of the same maker or article, or that
    /// they are not.
    uncoded: Vec<(StoredLot, Bytes)>,
    /// Those of the maker and article whose code may be this one but for a serial number.
    near: Vec<(StoredLot, Bytes)>,
    /// Those of the code that cannot be read: nobody knows that they are not meant.
    unreadable: Vec<Uuid>,
}

impl Meant {
    /// Takes lots along that came with those that are meant.
    fn take(&mut self, parts: Vec<(StoredLot, Bytes)>) {
        self.similar.retain(|id| parts.iter().all(|(lot, _)| lot.id != *id));
        for asked in [&mut self.uncoded, &mut self.near] {
            asked.retain(|(one, _)| parts.iter().all(|(lot, _)| lot.id != one.id));
        }
        self.same.extend(parts);
    }

    /// Everything that somebody may have been exposed to.
    fn ids(&self) -> Vec<Uuid> {
        self.same.iter().map(|(lot, _)| lot.id).chain(self.unreadable.iter().copied()).collect()
    }

    /// What is held until somebody has looked at it.
    fn asked(&self) -> impl Iterator<Item = &(StoredLot, Bytes)> {
        self.near.iter().chain(&self.uncoded)
    }

    /// Everything that a person has to look at.
    fn to_look_at(&self) -> Vec<Uuid> {
        self.similar.iter().copied().chain(self.asked().map(|(lot, _)| lot.id)).collect()
    }
}

/// What a notice means.
async fn meant(
    snap: &mut Snap,
    code: &str,
    (maker, reference): (Option<&str>, Option<&str>),
) -> Result<Meant, Error> {
    let mut meant = split(lots::meant_by(snap, code).await?, maker, reference);
    let found: BTreeSet<Uuid> = meant.ids().into_iter().chain(meant.similar.clone()).collect();
    for (lot, bytes) in lots::without_code(snap).await? {
        let article = (lot.maker.as_deref(), lot.reference.as_deref());
        if found.contains(&lot.id) || !drawer::meant(maker, reference, article) {
            continue;
        }
        // Where only the beginning of a name is the same it may be another maker.
        let made = maker.zip(article.0).is_some_and(|(one, other)| drawer::same_maker(one, other));
        let told = made || reference.and(article.1).is_some();
        if told {
            meant.same.push((lot, bytes));
        } else {
            meant.uncoded.push((lot, bytes));
        }
    }
    meant.near = lots::but_for_serial(snap, code).await?;
    meant.near.retain(|(lot, _)| {
        drawer::meant(maker, reference, (lot.maker.as_deref(), lot.reference.as_deref()))
    });
    Ok(meant)
}

fn split(all: Together, maker: Option<&str>, reference: Option<&str>) -> Meant {
    let Together { read, unreadable } = all;
    let (same, other): (Vec<_>, Vec<_>) = read.into_iter().partition(|(lot, _)| {
        drawer::meant(maker, reference, (lot.maker.as_deref(), lot.reference.as_deref()))
    });
    let similar = other.into_iter().map(|(lot, _)| lot.id).collect();
    Meant { same, similar, unreadable, ..Meant::default() }
}

async fn plan(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (notice, dry_run, language): (&NamedRecallRequest, bool, Language),
    meant: Meant,
) -> Result<Planned, Error> {
    let mut meant = meant;
    let parts = lots::parts_of(snap, &meant.same).await?;
    meant.take(parts);
    let ids = meant.ids();
    let recall = stored(moment, notice, &ids)?;
    let mut batch = recall.add_to(Batch::new())?;
    if let Some(code) = &recall.lot {
        batch = lots::take_turn(snap, batch, Some(code), recall.id).await?;
        batch = lots::take_turn(snap, batch, None, recall.id).await?;
    }
    for (lot, bytes) in &meant.same {
        if let Some(code) = &lot.lot {
            batch = lots::take_turn(snap, batch, Some(code), recall.id).await?;
        }
        let mut next = lot.clone();
        next.recalled.get_or_insert_with(|| recall.told());
        next.version += 1;
        batch = lots::replace(batch, Some((lot, bytes.clone())), &next)?;
        if lot.recalled.is_none() {
            batch = outbox::add(batch, moment, Happened::lot(EventType::LotRecalled, lot.id))?;
        }
    }
    for (lot, bytes) in meant.asked().filter(|(lot, _)| lot.recalled.is_none()) {
        let mut next = StoredLot { version: lot.version + 1, ..lot.clone() };
        next.hold(RECALL_POSSIBLE);
        batch = lots::replace(batch, Some((lot, bytes.clone())), &next)?;
    }
    let with_code = match &recall.lot {
        Some(code) => meant.same.iter().filter(|(lot, _)| lot.is_known_by(code)).count(),
        None => meant.same.len(),
    };
    let uncoded = (!ids.is_empty(), !meant.uncoded.is_empty());
    let near = meant.near.iter().filter(|(lot, _)| lot.recalled.is_none()).count();
    let found = (0 < with_code, near);
    let says = studio.craft.drawer.recalled(language, found, uncoded, !dry_run);
    let exposures = exposures(studio, snap, &ids, meant.to_look_at(), moment.now).await?;
    let first = ids.first().map_or_else(String::new, Uuid::to_string);
    let report = RecallReport {
        id: (!dry_run).then_some(recall.id),
        recalled_at: recall.at,
        dry_run,
        reason: recall.reason,
        lots_with_code: u32::try_from(with_code).unwrap_or(u32::MAX),
        says,
        exposures,
    };
    Ok(Planned::made(
        &report,
        batch.audit(moment.entry("lot.recall", &format!("lots/{first}"), 0)),
    )?
    .at(endpoints::get_recall().at.filled(&[&recall.id])))
}

/// What is kept of a recall that takes these lots.
fn stored(
    moment: &Moment,
    notice: &NamedRecallRequest,
    lot_ids: &[Uuid],
) -> Result<StoredRecall, Error> {
    let NamedRecallRequest { lot, maker, reference, reason } = notice.clone();
    Ok(StoredRecall {
        id: moment.id()?,
        at: Instant(moment.now),
        reason,
        by: moment.holder.clone(),
        lot: Some(lot).filter(|code| !code.is_empty()),
        maker,
        reference,
        lot_ids: lot_ids.to_vec(),
    })
}

/// Who and what was exposed to these lots.
///
/// # Errors
/// What the store met.
pub async fn exposures(
    studio: &Studio,
    snap: &mut Snap,
    lot_ids: &[Uuid],
    similar_lot_ids: Vec<Uuid>,
    now: Timestamp,
) -> Result<Exposures, Error> {
    let mut treatments: Vec<Exposure> = Vec::new();
    let (mut known, mut unreadable) = (BTreeMap::new(), 0_u32);
    let mut grouped = Groups::of(snap).await?;
    for id in lot_ids {
        let lot = match or_unreadable(lots::load(snap, *id).await.map(Some))? {
            Found::Read(lot) => {
                let lot = lot.map(|(lot, _)| lot);
                grouped.lot(lot.as_ref());
                lot.as_ref().map(exposed).unwrap_or_default()
            }
            Found::Unreadable => {
                unreadable += 1;
                ExposedLot::default()
            }
        };
        known.insert(*id, lot.clone());
        let mut rows = BY_LOT.under(&(*id,));
        while let Some((_, value)) = rows.next(snap).await? {
            match or_unreadable(row(&value).map(Some))? {
                // A row whose packs were all struck stays, and names nobody.
                Found::Read(row) => treatments.extend(
                    row.filter(|row| 0 < row.packs)
                        .map(|row| Exposure { lot: Some(lot.clone()), ..row }),
                ),
                Found::Unreadable => unreadable += 1,
            }
        }
    }
    treatments.sort_by_key(|row| (row.performed_at, row.treatment_id, row.lot_id));
    grouped.treatments(&mut treatments);
    let clients: BTreeSet<Reference> =
        treatments.iter().map(|row| row.client_ref.clone()).collect();
    let (upcoming_checks, unreadable_checks) =
        appointment_checks::upcoming_with(studio, snap, &known, now).await?;
    let unreadable = unreadable + unreadable_checks;
    Ok(Exposures {
        lot_ids: lot_ids.to_vec(),
        similar_lot_ids,
        treatments,
        clients: clients.into_iter().collect(),
        upcoming_checks,
        unreadable: (0 < unreadable).then_some(unreadable),
        next_cursor: None,
        branches: grouped.told(),
    })
}

/// What an authority or a maker knows a lot by.
fn exposed(lot: &StoredLot) -> ExposedLot {
    ExposedLot {
        code: lot.lot.clone(),
        maker: lot.maker.clone(),
        reference: lot.reference.clone(),
        expires_on: lot.expires_on,
        canonical: lot.configuration.map(|configuration| configuration.canonical()),
    }
}

fn row(value: &[u8]) -> Result<Exposure, Error> {
    serde_json::from_slice(value).map_err(|_| super::paging::broken(BY_LOT.space()))
}

/// The exposures of one lot and of those that were called back with it.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn of_lot(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    now: Timestamp,
) -> Result<Exposures, Error> {
    // Of one that cannot be read the treatments are found all the same.
    let lot = match lots::load(snap, id).await {
        Ok((lot, _)) => Some(lot),
        Err(Error::Unreadable(_)) => None,
        Err(error) => return Err(error),
    };
    let meant = match lot.as_ref().and_then(|lot| Some((lot, lot.lot.as_ref()?))) {
        Some((lot, code)) => {
            let article = (lot.maker.as_deref(), lot.reference.as_deref());
            meant(snap, code, article).await?
        }
        None => Meant::default(),
    };
    let mut meant = meant;
    if let Some(lot) = lot.filter(|lot| meant.same.iter().all(|(other, _)| other.id != lot.id)) {
        meant.same.push((lot, Bytes::new()));
    }
    let mut ids = meant.ids();
    if !ids.contains(&id) {
        ids.push(id);
    }
    let parts = lots::parts_of(snap, &meant.same).await?;
    ids.extend(
        parts.iter().map(|(lot, _)| lot.id).filter(|id| !ids.contains(id)).collect::<Vec<_>>(),
    );
    let to_look_at: Vec<Uuid> = meant.to_look_at();
    let others = to_look_at.into_iter().filter(|id| !ids.contains(id)).collect();
    exposures(studio, snap, &ids, others, now).await
}

/// The exposures to what a notice names, before it is acted on.
///
/// # Errors
/// [`Error::Refused`] for what is not one code; what the store met. A code that was never received
/// exposes nobody.
pub async fn named(
    studio: &Studio,
    snap: &mut Snap,
    query: &ExposureQuery,
    now: Timestamp,
) -> Result<Exposures, Error> {
    let ExposureQuery { lot, maker, reference, limit: _, cursor: _ } = query;
    let day = studio.zone.rules().to_datetime(now).date();
    let code = code_of(snap, lot, day).await?;
    let mut meant = meant(snap, &code, (maker.as_deref(), reference.as_deref())).await?;
    let parts = lots::parts_of(snap, &meant.same).await?;
    meant.take(parts);
    exposures(studio, snap, &meant.ids(), meant.to_look_at(), now).await
}
