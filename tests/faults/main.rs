//! Faults: kills, power cuts, full disks, damage, erasures beside everything else. Each test is bounded, and says so when it is
//! skipped because this machine cannot simulate the fault.

#![expect(clippy::unwrap_used, reason = "a test fails by its unwrap")]

mod child;
#[cfg(feature = "postgres")]
mod cuts;
mod damage;
mod disk;
mod erasures;
#[cfg(feature = "postgres")]
mod failover;
mod full;
mod kill;
mod power;
#[cfg(feature = "postgres")]
mod rates;
mod reminders;
#[cfg(feature = "postgres")]
mod several;
mod sync;
mod workload;
