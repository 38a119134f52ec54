//! The craft's own benchmarks, run as they are and noted with the others.

use std::process::Command;

use crate::ledger::{Better, Ledger};

/// Runs them and reads `name: figure unit` of each line.
pub(crate) fn measure(ledger: &mut Ledger) {
    let done = Command::new(env!("CARGO"))
        .args(["bench", "--locked", "--quiet", "-p", "etui-craft"])
        .args([
            "--bench",
            "label",
            "--bench",
            "configuration",
            "--bench",
            "selection",
            "--bench",
            "screening",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    for line in String::from_utf8_lossy(&done.stdout).lines() {
        let Some((name, figure)) = line.rsplit_once(": ") else { continue };
        let Some((figure, unit)) = figure.trim().split_once(' ') else { continue };
        let Ok(figure) = figure.parse() else { continue };
        let better = if unit == "a second" { Better::More } else { Better::Less };
        ledger.note(name.trim(), figure, unit, better, "");
    }
}
