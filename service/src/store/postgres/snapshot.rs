//! One moment of the database: a read-only transaction of its own.

use std::{
    ops::{Range, RangeBounds},
    sync::Arc,
};

use tokio_postgres::{Error, types::ToSql};

use super::{
    Core,
    heads::{Heads, is_head},
    pool::Taken,
    session::{Reading, Session, unavailable},
};
use crate::store::{Bytes, MAX_KEY_BYTES, Order, Read, Space, StoreError, Walk, key::bounds};

/// Rows fetched at a time, so that no statement runs into its time limit.
const STRIDE: usize = 5_000;
/// How often a view is begun anew when its connection turns out to be dead.
const TRIES: usize = 3;

/// A view of all spaces at one moment. It takes a connection as long as it lives.
pub struct PostgresSnap {
    core: Arc<Core>,
    /// There until it is dropped.
    taken: Option<Taken>,
    heads: Heads,
    reads: usize,
}

impl PostgresSnap {
    /// Begins a view, on the store's own runtime.
    pub(super) async fn take(core: Arc<Core>) -> Result<Self, StoreError> {
        let mut tries = 0;
        loop {
            tries += 1;
            let taken = core.pool.take(&core.link, &core.meters).await?;
            let client = &taken.session.client;
            // The first statement fixes the moment, so the newest row of the journal is its version.
            let (begun, row) = tokio::join!(
                client.batch_execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"),
                client.query_opt(&taken.session.says.heads, &[]),
            );
            match begun.and(row) {
                Ok(row) => {
                    let heads = Heads::of(row.as_ref())?;
                    return Ok(Self { core, taken: Some(taken), heads, reads: 0 });
                }
                // It was closed while it lay idle.
                Err(error) if error.is_closed() && tries < TRIES => {}
                Err(error) => return Err(unavailable(&error)),
            }
        }
    }

    /// How often it was read from: once for each question, however much it asked for.
    #[must_use]
    pub fn reads(&self) -> usize {
        self.reads
    }

    fn session(&self) -> Result<&Session<Reading>, StoreError> {
        self.taken.as_ref().map(|taken| &taken.session).ok_or(StoreError::Stopping)
    }

    async fn page(
        &self,
        space: &str,
        range: &Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        let Session { client, says, .. } = self.session()?;
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let at = usize::from(order == Order::Descending) + 2 * usize::from(!range.end.is_empty());
        let start: &[u8] = &range.start;
        let end: &[u8] = &range.end;
        let all: [&(dyn ToSql + Sync); 4] = [&space, &start, &limit, &end];
        let given = if range.end.is_empty() { &all[..3] } else { &all[..] };
        let rows = client.query(&says.scan[at], given).await.map_err(|e| unavailable(&e))?;
        let pair = |row: &tokio_postgres::Row| Ok((row.try_get(0)?, row.try_get(1)?));
        rows.iter().map(pair).collect::<Result<_, Error>>().map_err(|e| unavailable(&e))
    }
}

impl Walk for PostgresSnap {
    fn version(&self) -> u64 {
        self.heads.sequence()
    }

    async fn spaces(&mut self) -> Result<Vec<String>, StoreError> {
        let Session { client, says, .. } = self.session()?;
        let rows = client.query(&says.spaces, &[]).await.map_err(|e| unavailable(&e))?;
        let names = rows.iter().map(|row| row.try_get(0)).collect::<Result<Vec<String>, Error>>();
        let mut names = names.map_err(|e| unavailable(&e))?;
        let heads = [crate::store::audit::AUDIT_HEAD, crate::store::outbox::EVENT_HEAD];
        let made_up = heads.into_iter().filter(|space| self.heads.row(space.name()).is_some());
        names.extend(made_up.map(|space| space.name().to_owned()));
        names.sort_unstable();
        Ok(names)
    }

    async fn rows(&mut self) -> Result<u64, StoreError> {
        let client = &self.session()?.client;
        let row = client.query_one("SELECT count(*) FROM kv", &[]).await;
        let rows: Result<i64, Error> = row.and_then(|row| row.try_get(0));
        Ok(rows.map_err(|e| unavailable(&e))?.unsigned_abs())
    }

    async fn scan_named(
        &mut self,
        space: &str,
        mut range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        self.reads += 1;
        let Some(within) = bounds(&range) else { return Ok(Vec::new()) };
        if limit == 0 {
            return Ok(Vec::new());
        }
        if is_head(space) {
            let row = self
                .heads
                .row(space)
                .filter(|(key, _)| RangeBounds::<[u8]>::contains(&within, key.as_slice()));
            return Ok(row.into_iter().collect());
        }
        let mut rows = Vec::new();
        loop {
            let wanted = STRIDE.min(limit - rows.len());
            let page = self.page(space, &range, order, wanted).await?;
            let is_last = page.len() < wanted;
            rows.extend(page);
            let Some((key, _)) = rows.last().filter(|_| !is_last && rows.len() < limit) else {
                return Ok(rows);
            };
            match order {
                Order::Ascending => range.start = crate::store::key::after(key),
                // Before the empty key lies nothing, and an empty end would mean none.
                Order::Descending if key.is_empty() => return Ok(rows),
                Order::Descending => range.end.clone_from(key),
            }
        }
    }
}

impl Read for PostgresSnap {
    async fn get(&mut self, space: Space, key: &[u8]) -> Result<Option<Bytes>, StoreError> {
        self.reads += 1;
        if is_head(space.name()) {
            return Ok(self.heads.value(space.name(), key));
        }
        let Session { client, says, .. } = self.session()?;
        let row = client.query_opt(&says.get, &[&space.name(), &key]).await;
        let row = row.map_err(|e| unavailable(&e))?;
        row.map(|row| row.try_get(0)).transpose().map_err(|e| unavailable(&e))
    }

    async fn get_many(
        &mut self,
        space: Space,
        keys: &[Bytes],
    ) -> Result<Vec<Option<Bytes>>, StoreError> {
        self.reads += 1;
        if is_head(space.name()) {
            return Ok(keys.iter().map(|key| self.heads.value(space.name(), key)).collect());
        }
        let Session { client, says, .. } = self.session()?;
        let (spaces, wanted): (Vec<&str>, Vec<&[u8]>) =
            keys.iter().map(|key| (space.name(), key.as_slice())).unzip();
        let rows = client.query(&says.many, &[&spaces, &wanted]).await;
        placed(&rows.map_err(|e| unavailable(&e))?, keys.len()).map_err(|e| unavailable(&e))
    }

    async fn scan(
        &mut self,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        self.scan_named(space.name(), range, order, limit).await
    }

    async fn scan_many(
        &mut self,
        space: Space,
        ranges: &[Range<Bytes>],
        order: Order,
        limit: usize,
    ) -> Result<Vec<Vec<(Bytes, Bytes)>>, StoreError> {
        if is_head(space.name()) || STRIDE < limit {
            let mut found = Vec::with_capacity(ranges.len());
            for range in ranges {
                found.push(self.scan_named(space.name(), range.clone(), order, limit).await?);
            }
            return Ok(found);
        }
        self.reads += 1;
        let Session { client, says, .. } = self.session()?;
        let above_all = [u8::MAX; MAX_KEY_BYTES + 1];
        let starts: Vec<&[u8]> = ranges.iter().map(|range| &*range.start).collect();
        let stops: Vec<&[u8]> = ranges
            .iter()
            .map(|range| if range.end.is_empty() { &above_all[..] } else { &*range.end })
            .collect();
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let statement = &says.scan_many[usize::from(order == Order::Descending)];
        let rows = client.query(statement, &[&space.name(), &starts, &stops, &limit]).await;
        let mut found = vec![Vec::new(); ranges.len()];
        for row in rows.map_err(|e| unavailable(&e))? {
            let read = || Ok::<_, Error>((row.try_get(0)?, row.try_get(1)?, row.try_get(2)?));
            let (at, key, value): (i64, Bytes, Bytes) = read().map_err(|e| unavailable(&e))?;
            if let Some(rows) = usize::try_from(at - 1).ok().and_then(|at| found.get_mut(at)) {
                rows.push((key, value));
            }
        }
        // The server need not keep the order of the inner rows.
        for rows in &mut found {
            rows.sort_unstable();
            if order == Order::Descending {
                rows.reverse();
            }
        }
        Ok(found)
    }
}

/// What was found of many wanted keys, each in its place.
pub(super) fn placed(
    rows: &[tokio_postgres::Row],
    wanted: usize,
) -> Result<Vec<Option<Bytes>>, Error> {
    let mut found = vec![None; wanted];
    for row in rows {
        let at: i64 = row.try_get(0)?;
        let place = usize::try_from(at - 1).ok().and_then(|at| found.get_mut(at));
        if let Some(place) = place {
            *place = Some(row.try_get(1)?);
        }
    }
    Ok(found)
}

impl Drop for PostgresSnap {
    fn drop(&mut self) {
        let Some(taken) = self.taken.take() else { return };
        let core = Arc::clone(&self.core);
        // The transaction must end before somebody else reads over the connection.
        self.core.runtime.spawn(async move { core.pool.give_back(taken).await });
    }
}
