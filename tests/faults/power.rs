//! A power cut, simulated: what the kernel has handed to the disk stays, the rest is gone.

use std::{fs, path::Path, time::Duration};

use rustix::process::{Pid, Signal, kill_process};

use crate::{
    child::{Dice, Writer, check, nothing_lost, setting},
    disk::Disk,
};

/// All threads of the writer are seen stopped before the disk is copied, so that nothing is
/// acknowledged after the copy. Rounds: 3, or `ETUI_POWER_ROUNDS`.
#[test]
fn a_power_cut_loses_nothing_acknowledged() {
    let rounds = setting("ETUI_POWER_ROUNDS", 3);
    let mut dice = Dice(17);
    let mut acks = 0;
    for round in 0..rounds {
        let Some(disk) = Disk::make(512) else { return };
        let data = disk.path().join("data");
        let mut writer = Writer::spawn("write", &data, &["16"]);
        assert_eq!(writer.opened(), Ok(()), "round {round}");
        writer.listen(Duration::from_millis(50 + dice.below(1500))).unwrap();
        let pid = Pid::from_child(&writer.process);
        kill_process(pid, Signal::STOP).unwrap();
        wait_until_stopped(writer.process.id());
        let after = disk.after_power_cut();
        writer.kill();
        acks += writer.acks;
        let found = check(&after.path().join("data"));
        let found = found.unwrap_or_else(|why| panic!("round {round}: {why}"));
        nothing_lost(&writer.acked, &found, &format!("round {round}"));
    }
    assert!(rounds <= acks, "the writers hardly wrote");
    eprintln!("{rounds} power cuts, {acks} acknowledged batches, 0 lost, every store opened");
}

fn wait_until_stopped(pid: u32) {
    let tasks = format!("/proc/{pid}/task");
    let is_stopped = |task: &Path| {
        let stat = fs::read_to_string(task.join("stat")).unwrap_or_default();
        // The state follows the name, which is in brackets.
        stat.rsplit(')').next().is_some_and(|rest| rest.trim_start().starts_with('T'))
    };
    for _ in 0..2000 {
        let mut found = fs::read_dir(&tasks).unwrap().flatten();
        if found.all(|task| is_stopped(&task.path())) {
            return;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    panic!("the writer does not stop");
}
