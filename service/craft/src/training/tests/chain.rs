//! The learning test as an exact chain over the sums that can be reached: the
//! distribution of the first proposal, without simulation.

use std::collections::BTreeMap;

use super::super::progress::{kept_weight, learning_weights, learnt, odds, straight};
use super::near;

/// Chance of a first proposal at each panel, from 1 to `panels`.
fn proposals(limit: f64, missed: f64, panels: usize) -> Vec<f64> {
    let (pass, miss) = learning_weights(0.10, 0.30);
    let mut held = BTreeMap::from([(0_i64, 1.0)]);
    let mut found = Vec::new();
    for _ in 0..panels {
        let (mut next, mut proposed) = (BTreeMap::new(), 0.0);
        for (sum, chance) in held {
            for (weight, share) in [(pass, 1.0 - missed), (miss, missed)] {
                let sum = learnt(from_fixed(sum), weight);
                if limit <= sum + 1e-9 {
                    proposed += chance * share;
                } else {
                    *next.entry(fixed(sum)).or_insert(0.0) += chance * share;
                }
            }
        }
        found.push(proposed);
        held = next;
    }
    found
}

/// Sums are told apart to a thousand-millionth.
#[expect(clippy::cast_possible_truncation, reason = "sums below ten")]
fn fixed(sum: f64) -> i64 {
    (sum * 1e9).round() as i64
}

#[expect(clippy::cast_precision_loss, reason = "below 2^53")]
fn from_fixed(sum: i64) -> f64 {
    sum as f64 / 1e9
}

/// The first panel by which a share of all have been proposed.
fn by_share(found: &[f64], share: f64) -> usize {
    let mut sum = 0.0;
    let reached = found.iter().position(|chance| {
        sum += chance;
        share <= sum
    });
    reached.map_or(usize::MAX, |at| at + 1)
}

#[test]
fn the_table_of_limits() {
    // limit, straight, proposed at .30 and .20, never at .10 and .05,
    // then the middle and 90 % at .10, .05, .02
    type Row = (f64, u32, [f64; 4], [(usize, usize); 3]);
    const TABLE: [Row; 4] = [
        (3.0, 12, [0.253, 0.714, 0.009, 0.000], [(18, 35), (12, 23), (12, 18)]),
        (4.0, 16, [0.077, 0.448, 0.040, 0.001], [(27, 49), (19, 29), (16, 22)]),
        (4.5, 18, [0.042, 0.341, 0.070, 0.002], [(29, 55), (24, 34), (18, 24)]),
        (5.0, 20, [0.022, 0.257, 0.104, 0.003], [(34, 61), (26, 37), (20, 26)]),
    ];
    let (pass, _) = learning_weights(0.10, 0.30);
    for (limit, in_a_row, shares, attempts) in TABLE {
        assert_eq!(straight(limit, pass), in_a_row, "limit {limit}");
        let within = |missed: f64| proposals(limit, missed, 60).iter().sum::<f64>();
        let found = [within(0.30), within(0.20), 1.0 - within(0.10), 1.0 - within(0.05)];
        for (found, want) in found.into_iter().zip(shares) {
            near(found, want, 0.001, &format!("limit {limit}"));
        }
        for (missed, (middle, most)) in [0.10, 0.05, 0.02].into_iter().zip(attempts) {
            let found = proposals(limit, missed, 120);
            let found = (by_share(&found, 0.5), by_share(&found, 0.9));
            assert_eq!(found, (middle, most), "limit {limit} at {missed}");
        }
    }
}

#[test]
fn who_never_learns_is_proposed_in_the_end() {
    let found = proposals(4.5, 0.30, 200);
    for (panels, want) in [(40, 0.021), (60, 0.042), (100, 0.083), (200, 0.178)] {
        near(found[..panels].iter().sum(), want, 0.001, &format!("{panels} panels"));
    }
}

/// Mean number of results until the watch speaks, by the exact chain. Chances below
/// a million-millionth are left out.
fn run_length(missed: f64, limit: f64) -> f64 {
    let ratio = odds(0.30) / odds(0.10);
    let weights =
        [(kept_weight(true, 0.10, ratio), missed), (kept_weight(false, 0.10, ratio), 1.0 - missed)];
    let mut held = BTreeMap::from([(0_i64, 1.0)]);
    let (mut mean, mut left, mut kept) = (0.0, 1.0, 0.0);
    for _ in 0..400 {
        mean += left;
        let mut next = BTreeMap::new();
        for (sum, chance) in held {
            for (weight, share) in weights {
                let sum = (from_fixed(sum) + weight).max(0.0);
                if sum < limit {
                    *next.entry(fixed(sum)).or_insert(0.0) += chance * share;
                }
            }
        }
        next.retain(|_, chance| 1e-12 < *chance);
        held = next;
        let stays: f64 = held.values().sum();
        (left, kept) = (stays, stays / left);
        if left < 1e-6 {
            break;
        }
    }
    // By now the same share is left each time.
    mean + left / (1.0 - kept)
}

#[test]
fn mean_run_lengths_of_the_watch() {
    for (missed, want) in [(0.10, 238.0), (0.20, 38.0), (0.30, 16.6), (0.40, 10.2)] {
        near(run_length(missed, 3.0), want, 0.03 * want, &format!("{missed}"));
    }
    near(run_length(0.05, 3.0), 2000.0, 60.0, "seldom");
}
