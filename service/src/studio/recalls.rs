//! Recalls: which lots leave the drawer, and who was exposed.
//!
//! A lot code is unique per maker and article only. A recall takes every
//! delivery with the same code, maker and catalogue number; deliveries with
//! the same code of another maker or article are named as similar, for a
//! person to look at. Packs whose code nobody told may be of any lot: those of
//! the maker or the article are taken as well, the others are similar.

mod branches;
mod kept;
mod pages;
mod table;

pub use branches::seen;
pub use kept::{StoredRecall, get, list};
pub use pages::page;
pub use table::csv;

use std::collections::{BTreeMap, BTreeSet};

use self::branches::Groups;

use etui_craft::drawer;
use etui_craft::refusal::Refusal;
use etui_schema::endpoints;
use etui_schema::events::EventType;
use etui_schema::problem::FaultCode;
use etui_schema::recalls::{
    ExposedLot, Exposure, ExposureQuery, Exposures, NamedRecallRequest, RecallReport, RecallRequest,
};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use uuid::Uuid;

use super::engine::Snap;
use super::error::{Error, Found, or_unreadable};
use super::lots::{self, Recalled, StoredLot, Together};
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
    dry_run: bool,
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
        let (found, uncoded) = self::meant(snap, &notice.lot, article).await?;
        meant = found;
        meant.similar.extend(uncoded);
    }
    if !meant.same.iter().any(|(lot, _)| lot.id == id) {
        meant.same.push((named, bytes));
    }
    plan(studio, snap, moment, (&notice, dry_run), meant).await
}

/// Plans to call back what a notice names by maker, article and code.
///
/// # Errors
/// [`Error::Refused`] if no lot of the drawer has this code.
pub async fn recall_named(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &NamedRecallRequest,
    dry_run: bool,
) -> Result<Planned, Error> {
    let NamedRecallRequest { lot, maker, reference, reason: _ } = request;
    let article = (maker.as_deref(), reference.as_deref());
    let (mut meant, uncoded) = meant(snap, lot, article).await?;
    if meant.same.is_empty() && meant.unreadable.is_empty() {
        let why = if meant.similar.is_empty() {
            "no lot with this code was ever received here"
        } else {
            "lots with this code were received, but of another maker or article"
        };
        return Err(
            Error::at("#/lot", FaultCode::UnknownReference, why).means(Refusal::RecallNoLot)
        );
    }
    meant.similar.extend(uncoded);
    plan(studio, snap, moment, (request, dry_run), meant).await
}

/// Which lots a notice means.
#[derive(Default)]
struct Meant {
    /// Those that it means. What the notice or the lot leaves open counts as the
    /// same: better one too many.
    same: Vec<(StoredLot, Bytes)>,
    /// Those that only share the code.
    similar: Vec<Uuid>,
    /// Those of the code that cannot be read: nobody knows that they are not meant.
    unreadable: Vec<Uuid>,
}

impl Meant {
    /// Takes lots along that came with those that are meant.
    fn take(&mut self, parts: Vec<(StoredLot, Bytes)>) {
        self.similar.retain(|id| parts.iter().all(|(lot, _)| lot.id != *id));
        self.same.extend(parts);
    }

    /// Everything that somebody may have been exposed to.
    fn ids(&self) -> Vec<Uuid> {
        self.same.iter().map(|(lot, _)| lot.id).chain(self.unreadable.iter().copied()).collect()
    }
}

/// What a notice means; and the packs without a code of which nothing says that they are of the
/// same maker or article, or that they are not.
async fn meant(
    snap: &mut Snap,
    code: &str,
    (maker, reference): (Option<&str>, Option<&str>),
) -> Result<(Meant, Vec<Uuid>), Error> {
    let mut meant = split(lots::meant_by(snap, code).await?, maker, reference);
    let mut uncoded = Vec::new();
    for (lot, bytes) in lots::without_code(snap).await? {
        let article = (lot.maker.as_deref(), lot.reference.as_deref());
        let told = maker.and(article.0).is_some() || reference.and(article.1).is_some();
        if !drawer::meant(maker, reference, article) {
            continue;
        }
        if told {
            meant.same.push((lot, bytes));
        } else {
            uncoded.push(lot.id);
        }
    }
    Ok((meant, uncoded))
}

fn split(all: Together, maker: Option<&str>, reference: Option<&str>) -> Meant {
    let Together { read, unreadable } = all;
    let (same, other): (Vec<_>, Vec<_>) = read.into_iter().partition(|(lot, _)| {
        drawer::meant(maker, reference, (lot.maker.as_deref(), lot.reference.as_deref()))
    });
    Meant { same, similar: other.into_iter().map(|(lot, _)| lot.id).collect(), unreadable }
}

async fn plan(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (notice, dry_run): (&NamedRecallRequest, bool),
    meant: Meant,
) -> Result<Planned, Error> {
    let mut meant = meant;
    let parts = lots::parts_of(snap, &meant.same).await?;
    meant.take(parts);
    let ids = meant.ids();
    let recall = stored(moment, notice, &ids)?;
    let mut batch = recall.add_to(Batch::new())?;
    for (lot, bytes) in &meant.same {
        if let Some(code) = &lot.lot {
            batch = lots::take_turn(snap, batch, code, moment.id()?).await?;
        }
        let mut next = lot.clone();
        next.recalled.get_or_insert_with(|| Recalled {
            id: Some(recall.id),
            at: recall.at,
            reason: recall.reason.clone(),
            by: Some(recall.by.clone()),
        });
        next.version += 1;
        batch = lots::replace(batch, Some((lot, bytes.clone())), &next)?;
        if lot.recalled.is_none() {
            batch = outbox::add(batch, moment, Happened::lot(EventType::LotRecalled, lot.id))?;
        }
    }
    let exposures = exposures(studio, snap, &ids, meant.similar, moment.now).await?;
    let first = ids.first().map_or_else(String::new, Uuid::to_string);
    let report = RecallReport {
        id: (!dry_run).then_some(recall.id),
        recalled_at: recall.at,
        dry_run,
        reason: recall.reason,
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
            let (mut meant, uncoded) = meant(snap, code, article).await?;
            meant.similar.extend(uncoded);
            meant
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
    meant.similar.retain(|id| !ids.contains(id));
    exposures(studio, snap, &ids, meant.similar, now).await
}

/// The exposures to what a notice names, before it is acted on.
///
/// # Errors
/// What the store met. A code that was never received exposes nobody.
pub async fn named(
    studio: &Studio,
    snap: &mut Snap,
    query: &ExposureQuery,
    now: Timestamp,
) -> Result<Exposures, Error> {
    let ExposureQuery { lot, maker, reference, limit: _, cursor: _ } = query;
    let (mut meant, uncoded) = meant(snap, lot, (maker.as_deref(), reference.as_deref())).await?;
    meant.similar.extend(uncoded);
    let parts = lots::parts_of(snap, &meant.same).await?;
    meant.take(parts);
    exposures(studio, snap, &meant.ids(), meant.similar, now).await
}
