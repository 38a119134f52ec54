//! SIGKILL at any moment: while opening, while 16 writers write.

use std::{collections::BTreeMap, time::Duration};

use crate::child::{Dice, Writer, check, nothing_lost, setting};

/// One store lives through all rounds; each round's process finds what the one before left. Rounds:
/// 20, or `ETUI_KILL_ROUNDS`.
#[test]
fn a_kill_loses_nothing_and_halves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let rounds = setting("ETUI_KILL_ROUNDS", 20);
    let mut dice = Dice(7);
    let mut acked = BTreeMap::new();
    let (mut acks, mut early) = (0, 0);
    for round in 0..rounds {
        let mut writer = Writer::spawn("write", dir.path(), &["16"]);
        if round % 6 == 5 {
            // While it opens, or just after.
            std::thread::sleep(Duration::from_millis(dice.below(40)));
            writer.kill();
            early += 1;
        } else {
            let opened = writer.opened();
            assert_eq!(opened, Ok(()), "round {round}");
            nothing_lost(&acked, &writer.found, &format!("round {round}"));
            writer.listen(Duration::from_millis(20 + dice.below(400))).unwrap();
            writer.kill();
        }
        acks += writer.acks;
        acked.extend(writer.acked);
    }
    nothing_lost(&acked, &check(dir.path()).unwrap(), "at the end");
    assert!(rounds <= acks, "the writers hardly wrote");
    eprintln!("{rounds} kills ({early} while opening), {acks} acknowledged batches, 0 lost");
}
