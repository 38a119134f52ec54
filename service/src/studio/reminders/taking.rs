//! Claims at the same moment. All of them reach for what was due first, so one plans after the
//! other, and passes over what those before it take and is not on disk yet: they wait for the disk
//! together. Nothing depends on it: what two processes take at once, one of them takes.

use std::collections::HashSet;
use std::sync::{Mutex, MutexGuard, PoisonError};

use uuid::Uuid;

/// What claims of this process are about to take.
#[derive(Default)]
pub struct Taking {
    planning: tokio::sync::Mutex<()>,
    taken: Mutex<HashSet<Uuid>>,
}

impl Taking {
    /// Waits for a turn to plan; the view of the plan is opened after that.
    pub async fn turn(&self) -> Turn<'_> {
        let alone = self.planning.lock().await;
        let others = self.taken().clone();
        Turn { of: self, _alone: alone, others }
    }

    fn taken(&self) -> MutexGuard<'_, HashSet<Uuid>> {
        // Nothing panics while it holds the lock.
        self.taken.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A turn to plan.
pub struct Turn<'t> {
    of: &'t Taking,
    _alone: tokio::sync::MutexGuard<'t, ()>,
    others: HashSet<Uuid>,
}

impl<'t> Turn<'t> {
    /// How many others are about to take.
    pub(super) fn others(&self) -> usize {
        self.others.len()
    }

    /// Whether another claim is about to take it.
    pub(super) fn is_taken(&self, id: Uuid) -> bool {
        self.others.contains(&id)
    }

    /// Ends the turn; what is taken is passed over by others until that is dropped.
    pub(super) fn take(self, ids: Vec<Uuid>) -> Taken<'t> {
        self.of.taken().extend(&ids);
        Taken { of: self.of, ids }
    }
}

/// What a claim takes until it is on disk, or given up.
pub struct Taken<'t> {
    of: &'t Taking,
    ids: Vec<Uuid>,
}

impl Drop for Taken<'_> {
    fn drop(&mut self) {
        let mut taken = self.of.taken();
        for id in &self.ids {
            taken.remove(id);
        }
    }
}

#[cfg(test)]
mod tests {
    use futures_util::FutureExt;

    use super::*;

    #[tokio::test]
    async fn what_one_takes_others_pass_over_until_it_is_on_disk_or_given_up() {
        let (taking, [first, second]) = (Taking::default(), [1, 2].map(Uuid::from_u128));
        let seen = async || {
            let turn = taking.turn().await;
            [first, second].map(|id| turn.is_taken(id))
        };
        assert_eq!(seen().await, [false, false]);
        let one = taking.turn().await.take(vec![first]);
        assert_eq!(seen().await, [true, false]);
        let other = taking.turn().await.take(vec![second]);
        assert_eq!(seen().await, [true, true]);
        drop(one);
        assert_eq!(seen().await, [false, true]);
        drop(other);
        assert_eq!(seen().await, [false, false]);
        let turn = taking.turn().await;
        assert!(taking.turn().now_or_never().is_none(), "one plans at a time");
        drop(turn);
    }
}
