//! Records whose time to be kept is over.
//!
//! Each kind has its own period (settings). Health answers and the trace of a
//! treatment are apart: the first are forgotten years before the second, by the
//! destruction of the client's key, so that a recalled lot can still be traced.
//!
//! Nothing is removed by itself. A caller looks at what one sweep would remove,
//! and orders it with the digest of exactly that; if anything has changed since,
//! the order is refused. A sweep takes a bounded number of each kind, so it
//! holds up nobody, and says whether there is more.
//!
//! The audit trail and the receipts of erasures stay: they hold references and
//! nothing of health, and say what was removed.

mod expired;
mod sweep;

pub use sweep::sweep;

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use etui_schema::retention::{RecordKind, RetentionKind, RetentionReport};
use etui_schema::vocabulary::CivilDate;

use self::expired::Expired;
use super::Studio;
use super::days::start_of;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use crate::config::{KeepConfig, Period};

/// Most records of one kind that one sweep removes.
const MOST: usize = 200;

/// What one sweep would remove.
struct Plan {
    expired: Vec<Expired>,
    digest: String,
}

/// What one sweep would remove now.
///
/// # Errors
/// What the store met.
pub async fn look(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
) -> Result<RetentionReport, Error> {
    let Plan { expired, digest } = plan(studio, snap, moment).await?;
    let kinds = expired.iter().map(|expired| RetentionKind {
        kind: expired.kind.into(),
        keep_for: period(&studio.keep, expired.kind).to_string(),
        before: CivilDate(period(&studio.keep, expired.kind).before(moment.today)),
        means: means(expired.kind).to_owned(),
        records: count(expired),
        more: expired.more,
    });
    Ok(RetentionReport { as_of: CivilDate(moment.today), kinds: kinds.collect(), digest })
}

async fn plan(studio: &Studio, snap: &mut Snap, moment: &Moment) -> Result<Plan, Error> {
    let mut all = Vec::new();
    for kind in RecordKind::ALL {
        let before = start_of(studio, period(&studio.keep, *kind).before(moment.today));
        all.push(expired::find(studio, snap, *kind, before).await?);
    }
    let text: Vec<String> = all.iter().flat_map(Expired::names).collect();
    let parts: Vec<&[u8]> = text.iter().map(String::as_bytes).collect();
    let hash = studio.index_key.hash("retention", &parts);
    Ok(Plan { expired: all, digest: BASE64_URL_SAFE_NO_PAD.encode(hash) })
}

fn period(keep: &KeepConfig, kind: RecordKind) -> Period {
    match kind {
        RecordKind::Reminders => keep.reminders,
        RecordKind::Checks => keep.checks,
        RecordKind::Health => keep.health,
        RecordKind::Traces => keep.traces,
    }
}

fn means(kind: RecordKind) -> &'static str {
    match kind {
        RecordKind::Reminders => {
            "Reminders that came to their end, from when they were due. They are deleted; that a client wants \
             none stays."
        }
        RecordKind::Checks => "Checks, from their appointment. They are deleted.",
        RecordKind::Health => {
            "Clients, from their last treatment, check or change. The key of everything that is sealed \
             of them is destroyed; the trace of their treatments stays."
        }
        RecordKind::Traces => {
            "Treatments, from when they were recorded. They are deleted with all that belongs to them; a \
             recall does not find them any more."
        }
    }
}

fn count(expired: &Expired) -> u32 {
    u32::try_from(expired.items.len()).unwrap_or(u32::MAX)
}
