//! How much of what is kept rests on a pack: told with every change of it.
//!
//! Answers, checks and messages are sealed each under its client's key, so they are
//! read one by one; there is no index of what rests on a pack, because it would say
//! in clear what a client answered. So the counting ends after some records of
//! each kind, and says so.

use std::collections::BTreeSet;
use std::ops::Range;

use etui_craft::training::PLACE_RULE;
use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::packs::{PackAffects, PackKind};
use serde_json::Value;

use super::stored::StoredPack;
use crate::store::rows::Rows;
use crate::store::{Bytes, Order, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::{appointment_checks, clients, reminders};

/// Records of one kind that are read for it, at most.
const MOST_READ: usize = 2_000;

/// What others may hold of a pack.
#[derive(Default)]
struct Parts {
    questions: BTreeSet<String>,
    rules: BTreeSet<String>,
    steps: BTreeSet<String>,
}

impl Parts {
    fn of<'a>(packs: impl IntoIterator<Item = &'a StoredPack>) -> Self {
        let mut parts = Self::default();
        for pack in packs {
            parts.questions.extend(texts(&pack.pack, "question", "id"));
            parts.rules.extend(texts(&pack.pack, "rule", "id"));
            parts.rules.extend(texts(&pack.pack, "tighten", "rule"));
            if pack.pack.get("training").is_some() {
                parts.rules.insert(PLACE_RULE.to_owned());
            }
            parts.steps.extend(texts(&pack.pack, "step", "key"));
        }
        parts
    }

    fn stand_in(&self, check: &AppointmentCheck) -> bool {
        let asked = check.answers_used.iter().map(|used| &used.question);
        asked.into_iter().any(|id| self.questions.contains(id))
            || check.findings.iter().any(|finding| self.rules.contains(&finding.rule))
            || check.aftercare.steps.iter().any(|step| self.steps.contains(&step.key))
    }
}

/// One member of every row of a list of a pack. Its shape was checked when it was put;
/// a damaged one has no rows.
fn texts(pack: &Value, list: &str, member: &str) -> impl Iterator<Item = String> {
    let rows = pack.get(list).and_then(Value::as_array).into_iter().flatten();
    rows.filter_map(move |row| row.get(member)?.as_str().map(str::to_owned))
}

/// Counts what rests on a pack of one kind, as it was and as it is to be; `None` where
/// nothing is kept of that.
///
/// # Errors
/// What the store met.
pub(super) async fn affects<'a>(
    studio: &Studio,
    snap: &mut Snap,
    kind: PackKind,
    packs: impl IntoIterator<Item = &'a StoredPack>,
) -> Result<Option<PackAffects>, Error> {
    if kind == PackKind::LabelSpellings {
        return Ok(None);
    }
    let parts = Parts::of(packs);
    let [mut clients, mut checks, mut messages] = [(); 3].map(|()| Tally::of_at_most(MOST_READ));
    let all = || Bytes::new()..Bytes::new();
    if !parts.questions.is_empty() {
        let answers = async |snap: &mut Snap, _: &[u8], row: &[u8]| {
            clients::answers_any(studio, snap, row, &parts.questions).await
        };
        clients.walk(snap, clients::CLIENTS, all(), Order::Ascending, answers).await?;
    }
    if !(parts.questions.is_empty() && parts.rules.is_empty() && parts.steps.is_empty()) {
        let stands = async |snap: &mut Snap, row: &[u8], _: &[u8]| {
            let check = appointment_checks::by_start(studio, snap, row).await?;
            Ok(parts.stand_in(&check))
        };
        let latest = Order::Descending;
        checks.walk(snap, appointment_checks::BY_START.space(), all(), latest, stands).await?;
    }
    if !parts.steps.is_empty() {
        for range in reminders::open_places() {
            let says = async |snap: &mut Snap, _: &[u8], row: &[u8]| {
                reminders::says_any(studio, snap, row, &parts.steps).await
            };
            messages.walk(snap, reminders::REMINDERS, range, Order::Ascending, says).await?;
        }
    }
    Ok(Some(PackAffects {
        clients: clients.found,
        checks: checks.found,
        reminders: messages.found,
        complete: !(clients.cut_short || checks.cut_short || messages.cut_short),
    }))
}

/// How many records of a kind were found, and whether all of them were looked at.
struct Tally {
    found: u32,
    left: usize,
    cut_short: bool,
}

impl Tally {
    const fn of_at_most(left: usize) -> Self {
        Self { found: 0, left, cut_short: false }
    }

    /// Looks at the rows of a range. Of somebody who was erased nothing is left.
    async fn walk<R: Read>(
        &mut self,
        snap: &mut R,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        rests: impl AsyncFn(&mut R, &[u8], &[u8]) -> Result<bool, Error>,
    ) -> Result<(), Error> {
        let rows = Rows::of(space, range);
        let mut rows = if order == Order::Descending { rows.backwards() } else { rows };
        while let Some((key, value)) = rows.next(snap).await? {
            let Some(left) = self.left.checked_sub(1) else {
                self.cut_short = true;
                return Ok(());
            };
            self.left = left;
            match rests(snap, &key, &value).await {
                Ok(rests) => self.found += u32::from(rests),
                Err(Error::NotFound { .. }) => {}
                Err(Error::Unreadable(_)) => self.cut_short = true,
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{Batch, MemoryStore, Store};

    const ROWS: Space = Space::new("rows");

    /// Five rows; `u` cannot be read, `e` was erased, `y` rests on the pack.
    #[tokio::test]
    async fn a_count_that_ends_early_says_so() {
        for (rows, most, order, found, cut_short) in [
            ("yyyyy", 9, Order::Ascending, 5, false),
            ("yyyyy", 5, Order::Ascending, 5, false),
            ("yyyyy", 4, Order::Ascending, 4, true),
            ("ynyyy", 2, Order::Ascending, 1, true),
            ("ynyyy", 2, Order::Descending, 2, true),
            ("yeyny", 9, Order::Descending, 3, false),
            ("yuyny", 9, Order::Ascending, 3, true),
            ("", 9, Order::Ascending, 0, false),
        ] {
            let store = MemoryStore::new();
            let put = |batch: Batch, (at, row): (usize, u8)| {
                batch.put(ROWS, at.to_string().into_bytes(), vec![row])
            };
            let batch = rows.bytes().enumerate().fold(Batch::new(), put);
            store.commit(batch).await.unwrap();
            let mut snap = store.snapshot().await.unwrap();
            let mut tally = Tally::of_at_most(most);
            let all = Bytes::new()..Bytes::new();
            let rests = async |_: &mut _, _: &[u8], row: &[u8]| match row {
                b"y" => Ok(true),
                b"n" => Ok(false),
                b"e" => Err(Error::NotFound { what: "row", id: String::new() }),
                _ => Err(Error::Unreadable(String::new())),
            };
            tally.walk(&mut snap, ROWS, all, order, rests).await.unwrap();
            assert_eq!((tally.found, tally.cut_short), (found, cut_short), "{rows}, {most}");
        }
    }
}
