//! The primary dies under load and its standby goes on: nothing acknowledged is
//! lost. By hand: `ETUI_FAILOVERS=20 cargo test … --test faults -- failover::`.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use etui_service::store::Serve;
use etui_service::store::database::{Database, Entry};
use etui_service::store::postgres::{PostgresStore, init};
use etui_tests::database::{Server, installed};

use crate::cuts::{Told, is_as_told, write_on};

const WRITERS: u64 = 8;
/// A standby that has applied what it was sent.
const IN_SYNC: &str = "SELECT count(*) FROM pg_stat_replication WHERE sync_state = 'sync'";

/// Whether commits wait for a standby.
fn wait_for_standby(server: &Server, waits: bool) {
    let names = if waits { "*" } else { "" };
    server.sql(&format!("ALTER SYSTEM SET synchronous_standby_names = '{names}'")).unwrap();
    server.sql("SELECT pg_reload_conf()").unwrap();
    if waits {
        server.wait_for(IN_SYNC, "1").unwrap();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 3)]
async fn a_standby_goes_on_where_the_primary_died() {
    let Some(rounds) = std::env::var("ETUI_FAILOVERS").ok().and_then(|n| n.parse::<u32>().ok())
    else {
        return;
    };
    let Some(bin) = installed() else {
        println!("SKIPPED: no PostgreSQL server is installed");
        return;
    };
    let mut primary = Server::start(&bin).unwrap();
    primary.sql("CREATE SCHEMA studio").unwrap();
    primary.sql("ALTER SYSTEM SET synchronous_commit = 'remote_apply'").unwrap();
    let mut standby = Server::standby_of(&primary).unwrap();
    let of = |server: &Server| server.folder().display().to_string().replace('/', "%2F");
    let address = format!(
        "postgres://owner@{},{}/postgres?target_session_attrs=read-write&options=-c%20search_path%3Dstudio",
        of(&primary),
        of(&standby)
    );
    let database = Database { address, password: None, root: None };
    init(&database, None).await.unwrap();
    wait_for_standby(&primary, true);
    let store = PostgresStore::open(&database, None, Entry::Alone).await.unwrap();
    let (stop, told) = (Arc::new(AtomicBool::new(false)), Arc::new(Told::default()));
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..WRITERS {
        writers.spawn(write_on(store.clone(), writer, Arc::clone(&stop), Arc::clone(&told)));
    }
    let written = || told.written.load(Ordering::SeqCst);
    let mut pauses = Vec::new();
    for _ in 0..rounds {
        let more = written() + 200;
        while written() < more {
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        primary.kill().unwrap();
        let (died, before) = (Instant::now(), written());
        standby.promote().unwrap();
        wait_for_standby(&standby, false);
        // Two of them may have been on their way to their callers.
        while written() < before + 3 * WRITERS {
            tokio::time::sleep(Duration::from_millis(5)).await;
            assert!(died.elapsed() < Duration::from_secs(60), "writes do not go on");
        }
        pauses.push(died.elapsed().as_secs_f64());
        primary.follow(&standby).unwrap();
        wait_for_standby(&standby, true);
        std::mem::swap(&mut primary, &mut standby);
    }
    stop.store(true, Ordering::SeqCst);
    while let Some(ended) = writers.join_next().await {
        ended.unwrap();
    }
    pauses.sort_by(f64::total_cmp);
    println!(
        "{rounds} failovers, writes went on after {:.2} s in the middle, {:.2} s at most: {}",
        pauses[pauses.len() / 2],
        pauses[pauses.len() - 1],
        is_as_told(&store, &told).await
    );
    store.close().await.unwrap();
}
