//! What reaches the kernel before an answer is given.

use std::process::Command;

use crate::child::Writer;

/// Runs a writer under `strace`: no `sync_file_range` may succeed (a success writes neither file
/// size nor disk cache), and between two acknowledgements the log must have been synced.
#[test]
fn every_acknowledgement_follows_a_true_sync() {
    if Command::new("strace").arg("-V").output().is_err() {
        return eprintln!("skipped: there is no `strace` on this machine");
    }
    let dir = tempfile::tempdir().unwrap();
    let trace = dir.path().join("trace");
    let mut strace = Command::new("strace");
    strace.args(["-f", "-qq", "-s", "8", "-e", "trace=fsync,fdatasync,sync_file_range,write"]);
    strace.arg("-o").arg(&trace).arg(env!("CARGO_BIN_EXE_store_writer"));
    let mut writer = Writer::spawn_by(strace, "write", &dir.path().join("data"), &["1", "100"]);
    if let Err(why) = writer.opened() {
        assert!(why.starts_with("no word"), "{why}");
        return eprintln!("skipped: strace may not trace here");
    }
    writer.drain();
    assert_eq!(writer.acks, 100);

    let (mut syncs, mut acks, mut refused) = (0, 0, 0);
    for line in std::fs::read_to_string(&trace).unwrap().lines() {
        let succeeded = line.trim_end().ends_with("= 0");
        if line.contains("sync_file_range") {
            assert!(!succeeded, "sync_file_range reached the disk path: {line}");
            refused += u32::from(line.contains("ENOSYS"));
        } else if line.contains("fdatasync") && succeeded {
            syncs += 1;
        } else if line.contains("write(1, \"ack ") {
            acks += 1;
            assert!(0 < syncs, "acknowledgement {acks} follows no sync of its own");
            syncs = 0;
        }
    }
    assert_eq!(acks, 100);
    eprintln!("100 acknowledgements, each after a sync; sync_file_range refused {refused} times");
}
