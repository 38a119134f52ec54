//! Many items computed at once: over the cores, and each for itself.
//!
//! An item that panics costs its own answer and no other's.

use std::num::NonZero;
use std::panic::resume_unwind;
use std::thread;

use crate::panics::caught;

/// Items from which on other cores are asked for help: below, a thread costs
/// more than it saves.
const WORTH_SHARING: usize = 64;

/// One answer an item, in their order; `lost` answers for an item that panicked.
pub fn each<I, O, F, L>(items: &[I], one: F, lost: L) -> Vec<O>
where
    I: Sync,
    O: Send,
    F: Fn(&I) -> O + Sync,
    L: Fn(&I) -> O + Sync,
{
    let some = |items: &[I]| -> Vec<O> {
        items.iter().map(|item| caught(|| one(item)).unwrap_or_else(|| lost(item))).collect()
    };
    if items.len() < WORTH_SHARING {
        return some(items);
    }
    // Asks the system, by a dozen calls: not for a few items.
    let hands = thread::available_parallelism().map_or(1, NonZero::get);
    if hands < 2 {
        return some(items);
    }
    let some = &some;
    thread::scope(|scope| {
        let shares = items.chunks(items.len().div_ceil(hands));
        let working: Vec<_> = shares.map(|share| scope.spawn(move || some(share))).collect();
        working
            .into_iter()
            .flat_map(|share| share.join().unwrap_or_else(|panic| resume_unwind(panic)))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_item_that_panics_costs_no_other() {
        for count in [0_u32, 1, 63, 64, 65, 1000] {
            for bad in [0, 1, 63, 64, 500, 999] {
                let items: Vec<u32> = (0..count).collect();
                let read =
                    each(&items, |n| if *n == bad { panic!("{n}") } else { Some(*n) }, |_| None);
                let want: Vec<_> = (0..count).map(|n| (n != bad).then_some(n)).collect();
                assert_eq!(read, want, "{count} items, of which {bad} panics");
            }
        }
    }
}
