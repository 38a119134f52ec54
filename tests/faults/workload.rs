//! The work that is interrupted, and what must be true after it.
//!
//! Each writer counts its batches. Batch *n* of a writer puts a record, two
//! index entries and the count, removes the record and entries of batch
//! *n* − 200, all at once, under the precondition that the count was *n* − 1.
//! So from the count alone follows every row that must be there.

use etui_service::store::{
    Batch, Bytes, EmbeddedStore, Order, Read, Space, Store, StoreError, key::KeyWriter,
};

/// The counts.
pub(crate) const COUNTS: Space = Space::new("counts");
const RECORDS: Space = Space::new("records");
const BY_NUMBER: Space = Space::new("records-by-number");
const BY_DIGEST: Space = Space::new("records-by-digest");

/// How many records of each writer are kept.
const KEPT: u64 = 200;

/// Batch `n` (from 1) of a writer.
pub(crate) fn batch(writer: u64, n: u64) -> Batch {
    let count = |n: u64| (0 < n).then(|| n.to_be_bytes().to_vec());
    let put = Batch::new()
        .expect(COUNTS, writer.to_be_bytes(), count(n - 1))
        .put(COUNTS, writer.to_be_bytes(), n.to_be_bytes())
        .put(RECORDS, key(writer, n), value(writer, n))
        .put(BY_NUMBER, key(n, writer), "")
        .put(BY_DIGEST, key(digest(writer, n), writer), n.to_be_bytes());
    match n.checked_sub(KEPT).filter(|gone| 0 < *gone) {
        None => put,
        Some(gone) => put
            .del(RECORDS, key(writer, gone))
            .del(BY_NUMBER, key(gone, writer))
            .del(BY_DIGEST, key(digest(writer, gone), writer)),
    }
}

/// The counts of all writers, after a check of every row against them.
pub(crate) async fn inspect(store: &EmbeddedStore) -> Result<Vec<(u64, u64)>, String> {
    let text = |error: StoreError| error.to_string();
    let mut snap = store.snapshot().await.map_err(text)?;
    let mut all = async |space| {
        let rows = snap.scan(space, vec![]..vec![], Order::Ascending, usize::MAX).await;
        rows.map_err(text)
    };
    let number = |bytes: &Bytes| {
        bytes.as_slice().try_into().map(u64::from_be_bytes).map_err(|_| "no number".to_owned())
    };
    let mut counts = Vec::new();
    let mut want = [Vec::new(), Vec::new(), Vec::new()];
    for (writer, n) in all(COUNTS).await? {
        let (writer, n) = (number(&writer)?, number(&n)?);
        counts.push((writer, n));
        for n in n.saturating_sub(KEPT - 1).max(1)..=n {
            want[0].push((key(writer, n), value(writer, n)));
            want[1].push((key(n, writer), Bytes::new()));
            want[2].push((key(digest(writer, n), writer), n.to_be_bytes().to_vec()));
        }
    }
    for (space, mut want) in [RECORDS, BY_NUMBER, BY_DIGEST].into_iter().zip(want) {
        want.sort();
        let found = all(space).await?;
        if found != want {
            let wrong = found.iter().filter(|row| want.binary_search(row).is_err()).count();
            return Err(format!(
                "WRONG DATA in {space}: {} rows for {}, {wrong} of them wrong",
                found.len(),
                want.len()
            ));
        }
    }
    Ok(counts)
}

fn key(first: u64, second: u64) -> Bytes {
    KeyWriter::new().u64(first).u64(second).finish()
}

/// Text of 300 to 2,000 bytes; every fiftieth is long enough to be stored in parts.
fn value(writer: u64, n: u64) -> Bytes {
    let mixed = digest(writer, n);
    let len = if n.is_multiple_of(50) {
        40_000
    } else {
        300 + usize::try_from(mixed % 1700).unwrap_or(0)
    };
    format!("writer {writer} batch {n} {mixed:016x} ").bytes().cycle().take(len).collect()
}

/// Scatters the numbers (the finaliser of SplitMix64).
fn digest(writer: u64, n: u64) -> u64 {
    let mut x = (writer << 32 | n).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}
