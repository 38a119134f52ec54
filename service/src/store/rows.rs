//! Walking the rows of a space, however many there are.

use std::collections::VecDeque;
use std::ops::Range;

use super::key::after;
use super::{Bytes, Order, Read, Space, StoreError};

/// Rows fetched at a time: as many as the embedded store reads without leaving the thread.
const STRIDE: usize = 256;

/// The rows of a range, fetched some at a time from the view they are asked of.
#[derive(Debug, Clone)]
pub struct Rows {
    space: Space,
    range: Range<Bytes>,
    order: Order,
    stride: usize,
    fetched: VecDeque<(Bytes, Bytes)>,
    exhausted: bool,
}

impl Rows {
    /// The rows of a range, smallest key first.
    #[must_use]
    pub fn of(space: Space, range: Range<Bytes>) -> Self {
        let fetched = VecDeque::new();
        Self { space, range, order: Order::Ascending, stride: STRIDE, fetched, exhausted: false }
    }

    /// Every row of a space, smallest key first.
    #[must_use]
    pub fn all(space: Space) -> Self {
        Self::of(space, Bytes::new()..Bytes::new())
    }

    /// The same, largest key first.
    #[must_use]
    pub fn backwards(self) -> Self {
        Self { order: Order::Descending, ..self }
    }

    /// The same, fetched so many at a time.
    #[must_use]
    pub fn by(self, stride: usize) -> Self {
        Self { stride, ..self }
    }

    /// Key and value of the next row.
    ///
    /// # Errors
    /// As [`Read::scan`].
    pub async fn next<R: Read>(
        &mut self,
        snap: &mut R,
    ) -> Result<Option<(Bytes, Bytes)>, StoreError> {
        if self.fetched.is_empty() && !self.exhausted {
            let rows = snap.scan(self.space, self.range.clone(), self.order, self.stride).await?;
            self.exhausted = rows.len() < self.stride;
            if let Some((last, _)) = rows.last() {
                match self.order {
                    Order::Ascending => self.range.start = after(last),
                    // Before the empty key lies nothing, and an empty end would mean none.
                    Order::Descending if last.is_empty() => self.exhausted = true,
                    Order::Descending => self.range.end = last.clone(),
                }
            }
            self.fetched = rows.into();
        }
        Ok(self.fetched.pop_front())
    }

    /// At most so many of the next rows.
    ///
    /// # Errors
    /// As [`Read::scan`].
    pub async fn take<R: Read>(
        &mut self,
        snap: &mut R,
        most: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        let mut rows = Vec::new();
        while rows.len() < most
            && let Some(row) = self.next(snap).await?
        {
            rows.push(row);
        }
        Ok(rows)
    }

    /// Whether there is surely no further row.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.fetched.is_empty() && self.exhausted
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{Batch, MemoryStore, Store};

    const SPACE: Space = Space::new("rows");

    // Law: whatever the stride and the direction, the rows are those of one scan.
    #[tokio::test]
    async fn a_walk_is_one_scan() {
        for count in [0_u8, 1, 3, 4, 9] {
            let store = MemoryStore::new();
            let batch = (0..count).fold(Batch::new(), |batch, n| {
                let key = if n == 0 { vec![] } else { vec![n] };
                batch.put(SPACE, key, [n])
            });
            store.commit(batch).await.unwrap();
            let mut snap = store.snapshot().await.unwrap();
            let ends = [(vec![], vec![]), (vec![1], vec![]), (vec![], vec![3]), (vec![2], vec![8])];
            for (start, end) in ends {
                for order in [Order::Ascending, Order::Descending] {
                    let range = start.clone()..end.clone();
                    let whole = snap.scan(SPACE, range.clone(), order, usize::MAX).await.unwrap();
                    for stride in 1..=5 {
                        let rows = Rows::of(SPACE, range.clone()).by(stride);
                        let mut rows =
                            if order == Order::Descending { rows.backwards() } else { rows };
                        let found = rows.take(&mut snap, usize::MAX).await.unwrap();
                        assert_eq!(found, whole, "{count} rows, {range:?}, {order:?}, {stride}");
                        assert!(rows.is_over());
                    }
                }
            }
        }
    }
}
