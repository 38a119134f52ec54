//! Exports that were altered by somebody who makes the digests right again.

use std::path::{Path, PathBuf};

use etui_tests::engine;
use etui_tests::happenings::record_treatment;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::luck::etui;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn digest<'a>(lines: impl IntoIterator<Item = &'a str>) -> String {
    let mut hash = Sha256::new();
    for line in lines {
        hash.update(line);
        hash.update("\n");
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Header and rows as they stand, with the footer that belongs to them.
pub(crate) fn with_footer(lines: &[String]) -> String {
    let all = || lines.iter().map(String::as_str);
    let footer = json!({
        "records": lines.len() - 1,
        "content_sha256": digest(all().skip(1)),
        "sha256": digest(all()),
    });
    format!("{}\n{footer}\n", lines.join("\n"))
}

fn exported(folder: &Path) -> (PathBuf, String, String) {
    let data = folder.join("data");
    let running = Running::start_at(&data);
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 9 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    record_treatment(&running, "client-1", lot["id"].as_str().expect("an id"));
    running.stop();
    let (dump, key) = (folder.join("dump.jsonl"), data.join("studio-key").display().to_string());
    etui(&["export", "--data", &data.display().to_string(), "--to", &dump.display().to_string()]);
    let text = std::fs::read_to_string(&dump).expect("an export");
    (dump, key, text)
}

/// Whether it is taken in, and what a walk over it finds then.
fn taken(folder: &Path, (dump, key): (&Path, &str), text: &str) -> Result<Value, String> {
    std::fs::write(dump, text).expect("the export can be altered");
    let target = folder.join("copy");
    if target.exists() {
        std::fs::remove_dir_all(&target).expect("a folder that is ours");
    }
    let at = |path: &Path| path.display().to_string();
    let run = |arguments: &[&str]| {
        let done = engine::command(PROGRAM, arguments).output().expect("the program runs");
        let told = String::from_utf8_lossy(&done.stderr).into_owned();
        if done.status.success() { Ok(done.stdout) } else { Err(told) }
    };
    run(&["import", "--from", &at(dump), "--data", &at(&target), "--studio-key", key])
        .map_err(|told| format!("import: {told}"))?;
    let told = run(&["verify", "--data", &at(&target)])?;
    Ok(serde_json::from_slice(&told).expect("JSON"))
}

/// "In an export, lot or artist changed in a treatment's trace, both digests computed anew: import
/// 0, `verify` 0 findings. An unknown space passes too; lines behind the footer are ignored."
#[test]
fn an_export_that_was_altered_is_found() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (dump, key, good) = exported(folder.path());
    let lines: Vec<String> = good.lines().map(str::to_owned).collect();
    let body = &lines[..lines.len() - 1];
    assert_eq!(with_footer(body), good, "the digests are made as the program makes them");
    let place = (dump.as_path(), key.as_str());
    let sound = taken(folder.path(), place, &good).expect("it is sound");
    assert_eq!(sound["sound"], json!(true), "{sound}");

    let in_trace = |from: &str, to: &str| {
        let mut next = body.to_vec();
        let row = next.iter_mut().find(|line| line.starts_with("{\"space\":\"treatments\","));
        let row = row.expect("the treatment");
        assert!(row.contains(from), "{from}: {row}");
        *row = row.replacen(from, to, 1);
        with_footer(&next)
    };
    let strange = |row: &str| {
        let mut next = body.to_vec();
        next.push(row.to_owned());
        with_footer(&next)
    };
    for (case, text, says) in [
        ("the lot of a trace", in_trace("\"A1\"", "\"A9\""), "not sound"),
        ("the artist of a trace", in_trace("artist-07", "artist-08"), "not sound"),
        ("the day of a trace", in_trace("2027-03-16T07:30", "2027-03-15T07:30"), "not sound"),
        ("the client of a trace", in_trace("client-1", "client-2"), "not sound"),
        (
            "a space that nobody knows",
            strange(r#"{"space":"zebra","key":"AQ","json":{"v":1}}"#),
            "nothing of this program",
        ),
        (
            "a space in another's name",
            strange(r#"{"space":"treatments-by-nobody","key":"AQ","bytes":""}"#),
            "nothing of this program",
        ),
        ("a row behind the footer", format!("{good}{}\n", lines[1]), "not a sound export"),
        (
            "a footer behind the footer",
            format!("{good}{}\n", lines[lines.len() - 1]),
            "not a sound export",
        ),
        ("a row behind an empty line", format!("{good}\n{}\n", lines[1]), "not a sound export"),
        ("empty lines behind it", format!("{good}\n\n"), "not a sound export"),
        ("words behind it", format!("{good}\nanything"), "not a sound export"),
    ] {
        let told = taken(folder.path(), place, &text).expect_err(case);
        assert!(told.contains(says), "{case}: {told}");
    }
}
