//! How things stand, in figures for whoever watches the service: what waits, and since when.

use etui_schema::lots::LotState;
use jiff::Timestamp;
use jiff::civil::Date;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::{lots, reminders};
use crate::events::delivery::{DELIVERIES, PENDING, Stands, StoredDelivery};
use crate::events::{log, subscription};
use crate::store::record::decode;
use crate::store::rows::Rows;
use crate::store::{Bytes, Read, backup, outbox};

/// Rows of one kind that are looked at; where there are more the figure is the least that it is.
const MOST: usize = 20_000;

/// How things stand at a moment.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Standing {
    /// Events that the subscription which is furthest behind has not looked at.
    pub outbox_lag: u64,
    /// Deliveries that are to be tried.
    pub pending: u64,
    /// Deliveries that were given up.
    pub dead: u64,
    /// Lots that are held until a person settles something.
    pub held_lots: u64,
    /// How long the oldest lease has run out without an outcome, in seconds.
    pub lease_overdue_s: u64,
    /// How old the newest backup is, in seconds; absent if there is none.
    pub backup_age_s: Option<u64>,
}

/// Looks.
///
/// # Errors
/// What the store met.
pub async fn look(
    studio: &Studio,
    snap: &mut Snap,
    (now, today): (Timestamp, Date),
) -> Result<Standing, Error> {
    let head = log::head(snap).await?;
    let mut lag = 0;
    for one in subscription::all(snap).await?.into_iter().filter(|one| one.gone_at.is_none()) {
        let cursor = snap.get(subscription::CURSORS, one.id.as_bytes()).await?;
        let looked = cursor.as_deref().and_then(outbox::number).unwrap_or(0);
        lag = head.saturating_sub(looked).max(lag);
    }
    let whole = || Bytes::new()..Bytes::new();
    let pending = Rows::of(PENDING, whole()).take(snap, MOST).await?.len();
    let mut dead = 0;
    for (_, value) in Rows::of(DELIVERIES, whole()).take(snap, MOST).await? {
        let delivery: StoredDelivery = decode(&value)?;
        dead += u64::from(matches!(delivery.stands, Stands::Dead(_)));
    }
    let lying = lots::lying_on(snap, today).await?;
    let held = lying.iter().filter(|lot| lot.standing(today).state == LotState::Held).count();
    let lease = reminders::oldest_lease(snap).await?;
    let newest = backup::list(&studio.watch.folder).ok();
    let newest = newest.and_then(|all| backup::newest(&all, now));
    Ok(Standing {
        outbox_lag: lag,
        pending: pending as u64,
        dead,
        held_lots: held as u64,
        lease_overdue_s: lease.map_or(0, |until| seconds(until, now)),
        backup_age_s: newest.map(|at| seconds(at, now)),
    })
}

fn seconds(from: Timestamp, to: Timestamp) -> u64 {
    u64::try_from(to.duration_since(from).as_secs()).unwrap_or(0)
}
