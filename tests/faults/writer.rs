//! The process that the fault tests kill.
//!
//! ```text
//! store_writer write DIR WRITERS [COUNT]   open, inspect, write until killed or COUNT each
//! store_writer check DIR                   open, inspect, close
//! ```
//!
//! It prints `damaged WHY`, or `state WRITER COUNT` for each writer it finds and
//! `opened`; then, after each acknowledged batch, `ack WRITER COUNT`; at the
//! end `closed`. A line is one write to standard output.

#[path = "workload.rs"]
mod workload;

use std::{
    io::{self, Write},
    path::Path,
    process::ExitCode,
};

use etui_service::store::{EmbeddedStore, Serve, Store, StoreConfig, harden_sync};

fn main() -> ExitCode {
    let sync = harden_sync();
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |at: usize| args.get(at).and_then(|text| text.parse::<u64>().ok());
    let (Some(mode), Some(dir)) = (args.first(), args.get(1)) else { return ExitCode::from(2) };
    if !sync.is_durable() {
        say(&format!("damaged the durable path is not in force: {sync}"));
        return ExitCode::FAILURE;
    }
    let Ok(runtime) = tokio::runtime::Builder::new_multi_thread().worker_threads(2).build() else {
        return ExitCode::FAILURE;
    };
    let writers = if mode == "write" { number(2).unwrap_or(1) } else { 0 };
    let end = number(3).unwrap_or(u64::MAX);
    match runtime.block_on(run(Path::new(dir), writers, end)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            say(&format!("damaged {why}"));
            ExitCode::FAILURE
        }
    }
}

async fn run(dir: &Path, writers: u64, end: u64) -> Result<(), String> {
    let config = StoreConfig { min_free_bytes: 0, cache_bytes: 32 << 20, ..StoreConfig::new(dir) };
    let opened = EmbeddedStore::open(config);
    let (store, report) = opened.map_err(|error| format!("{error} {error:?}"))?;
    if let Some(why) = report.damage {
        return Err(why);
    }
    let counts = workload::inspect(&store).await?;
    for (writer, n) in &counts {
        say(&format!("state {writer} {n}"));
    }
    say("opened");
    let mut tasks = tokio::task::JoinSet::new();
    for writer in 0..writers {
        let start = counts.iter().find(|(w, _)| *w == writer).map_or(0, |(_, n)| *n);
        tasks.spawn(write(store.clone(), writer, start, end));
    }
    while let Some(ended) = tasks.join_next().await {
        ended.map_err(|e| e.to_string())??;
    }
    store.close().await.map_err(|e| e.to_string())?;
    say("closed");
    Ok(())
}

async fn write(store: EmbeddedStore, writer: u64, start: u64, end: u64) -> Result<(), String> {
    for n in start + 1..=end {
        store.commit(workload::batch(writer, n)).await.map_err(|e| e.to_string())?;
        say(&format!("ack {writer} {n}"));
    }
    Ok(())
}

/// One line in one write, so that a kill leaves whole lines.
fn say(line: &str) {
    let mut out = io::stdout().lock();
    let _ = out.write_all(format!("{line}\n").as_bytes()).and_then(|()| out.flush());
}
