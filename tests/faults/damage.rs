//! Bits that turn and files that are cut: never a wrong answer, never an overwrite.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    time::Duration,
};

use crate::child::{Dice, Writer, check, nothing_lost, setting};

/// Trials of each kind: 12, or `ETUI_DAMAGE_TRIALS`.
fn trials() -> u64 {
    setting("ETUI_DAMAGE_TRIALS", 12)
}

#[derive(Debug, Default)]
struct Outcomes {
    reported: BTreeMap<String, u32>,
    no_effect: u32,
}

/// A store as a kill leaves it, and as an orderly end leaves it.
fn stores() -> Vec<(&'static str, tempfile::TempDir, BTreeMap<u64, u64>)> {
    let killed = tempfile::tempdir().unwrap();
    let mut writer = Writer::spawn("write", killed.path(), &["4"]);
    writer.opened().unwrap();
    while writer.acks < 600 {
        writer.listen(Duration::from_millis(20)).unwrap();
    }
    writer.kill();
    let closed = copy_of(killed.path());
    check(closed.path()).unwrap();
    assert!(closed.path().join("closed").exists());
    let acked = writer.acked;
    // Untouched copies of both are sound: what follows comes from the damage alone.
    for dir in [&killed, &closed] {
        let found = check(copy_of(dir.path()).path()).unwrap();
        nothing_lost(&acked, &found, "untouched");
    }
    vec![("killed", killed, acked.clone()), ("closed", closed, acked)]
}

#[test]
fn a_turned_bit_is_reported_or_without_effect() {
    let mut dice = Dice(11);
    for (end, dir, acked) in stores() {
        let mut outcomes = Outcomes::default();
        let used = used_bytes(&dir.path().join("store/db"));
        for trial in 0..trials() {
            let at = dice.below(used);
            let bit = 1 << dice.below(8);
            let what = format!("{end}, trial {trial}, byte {at}, bit {bit:#x}");
            try_damaged(dir.path(), &acked, &what, &mut outcomes, |db| {
                db[usize::try_from(at).unwrap()] ^= bit;
            });
        }
        eprintln!("bit turned in a {end} store: {outcomes:?}");
        assert!(!outcomes.reported.is_empty(), "{end}: no damage was noticed at all");
    }
}

#[test]
fn a_cut_file_is_reported_or_without_effect() {
    let mut dice = Dice(13);
    for (end, dir, acked) in stores() {
        let mut outcomes = Outcomes::default();
        let used = used_bytes(&dir.path().join("store/db"));
        for trial in 0..trials() {
            // Near the end of what was written, and anywhere.
            let cut = 1 + dice.below(if trial % 2 == 0 { 4000.min(used) } else { used });
            let what = format!("{end}, trial {trial}, {cut} bytes cut off");
            try_damaged(dir.path(), &acked, &what, &mut outcomes, |db| {
                db.truncate(usize::try_from(used - cut).unwrap());
            });
        }
        eprintln!("file of a {end} store cut: {outcomes:?}");
        assert!(!outcomes.reported.is_empty(), "{end}: no damage was noticed at all");
    }
}

fn try_damaged(
    dir: &Path,
    acked: &BTreeMap<u64, u64>,
    what: &str,
    outcomes: &mut Outcomes,
    damage: impl FnOnce(&mut Vec<u8>),
) {
    let copy = copy_of(dir);
    let db = copy.path().join("store/db");
    let mut bytes = fs::read(&db).unwrap();
    damage(&mut bytes);
    fs::write(&db, &bytes).unwrap();
    match check(copy.path()) {
        Ok(found) => {
            outcomes.no_effect += 1;
            nothing_lost(acked, &found, what);
        }
        Err(why) => {
            assert!(!why.contains("WRONG DATA"), "{what}: {why}");
            assert!(why.contains("restore the newest backup"), "{what}: {why}");
            assert!(fs::read(&db).unwrap() == bytes, "{what}: overwritten");
            *outcomes.reported.entry(kind_of(&why)).or_default() += 1;
        }
    }
}

/// The first words of a report, without its numbers.
fn kind_of(why: &str) -> String {
    let words = why.split([';', '(']).next().unwrap_or(why);
    words.chars().filter(|c| !c.is_ascii_digit()).collect()
}

/// Up to the last byte that is not zero: the engine makes room in advance.
fn used_bytes(db: &Path) -> u64 {
    let bytes = fs::read(db).unwrap();
    bytes.iter().rposition(|byte| *byte != 0).unwrap() as u64 + 1
}

fn copy_of(dir: &Path) -> tempfile::TempDir {
    let copy = tempfile::tempdir().unwrap();
    for path in files_under(dir) {
        let target = copy.path().join(path.strip_prefix(dir).unwrap());
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::copy(path, target).unwrap();
    }
    copy
}

fn files_under(dir: &Path) -> Vec<PathBuf> {
    let paths = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path());
    paths.flat_map(|path| if path.is_dir() { files_under(&path) } else { vec![path] }).collect()
}
