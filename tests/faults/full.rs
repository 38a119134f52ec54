//! A full disk: no crash, reads go on, writes come back by themselves.

use std::{fs, time::Duration};

use etui_service::store::{
    EmbeddedStore, Health, Read, Serve, Space, Store, StoreConfig, StoreError, harden_sync,
};

use crate::{
    disk::{Disk, ballast},
    workload::{self, COUNTS},
};

const FILLER: Space = Space::new("filler");

async fn write_until_refused(store: &EmbeddedStore, count: &mut u64) -> StoreError {
    for _ in 0..200_000 {
        // Something large beside each batch, so that the disk fills within seconds.
        let key = (*count % 1000).to_be_bytes();
        let batch = workload::batch(0, *count + 1).put(FILLER, key, vec![0xAA; 400_000]);
        match store.commit(batch).await {
            Ok(()) => *count += 1,
            Err(error) => return error,
        }
    }
    panic!("the disk does not fill");
}

async fn reads(store: &EmbeddedStore) -> u64 {
    let mut snap = store.snapshot().await.unwrap();
    let value = snap.get(COUNTS, &0_u64.to_be_bytes()).await.unwrap().unwrap();
    u64::from_be_bytes(value.try_into().unwrap())
}

fn open(disk: &Disk, min_free_bytes: u64) -> EmbeddedStore {
    assert!(harden_sync().is_durable());
    let dir = disk.path().join("data");
    let config = StoreConfig { min_free_bytes, cache_bytes: 32 << 20, ..StoreConfig::new(dir) };
    EmbeddedStore::open(config).unwrap().0
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn with_a_reserve_reads_go_on_and_writes_resume() {
    let Some(disk) = Disk::make(96) else { return };
    let weight = disk.path().join("ballast");
    ballast(&weight, 30);
    let store = open(&disk, 24 << 20);
    let mut count = 0;
    assert_eq!(write_until_refused(&store, &mut count).await, StoreError::Full);
    assert_eq!(store.health(), Health::Full);
    assert_eq!(reads(&store).await, count);
    fs::remove_file(&weight).unwrap();
    store.commit(workload::batch(0, count + 1)).await.unwrap();
    assert_eq!(store.health(), Health::Ready);
    assert_eq!(workload::inspect(&store).await, Ok(vec![(0, count + 1)]));
    store.close().await.unwrap();
}

/// Another program takes the reserve away: the engine itself meets the full disk.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_a_reserve_the_store_recovers_by_itself() {
    let Some(disk) = Disk::make(72) else { return };
    let weight = disk.path().join("ballast");
    ballast(&weight, 16);
    let store = open(&disk, 0);
    let mut count = 0;
    let error = write_until_refused(&store, &mut count).await;
    assert!(matches!(error, StoreError::Unknown(_)), "{error}");
    fs::remove_file(&weight).unwrap();
    // Within some moments it has opened itself again; meanwhile everything is refused.
    let mut tries = 0;
    loop {
        match store.snapshot().await {
            Ok(_) => break,
            Err(StoreError::Unavailable(_)) if tries < 600 => tries += 1,
            Err(error) => panic!("{error}"),
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    let there = reads(&store).await;
    assert!(there == count || there == count + 1, "{count} acknowledged, {there} there");
    store.commit(workload::batch(0, there + 1)).await.unwrap();
    assert_eq!(workload::inspect(&store).await, Ok(vec![(0, there + 1)]));
    store.close().await.unwrap();
}
