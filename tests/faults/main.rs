//! Faults: kills, power cuts, full disks, damage, erasures beside everything else. Each test is bounded, and says so when it is
//! skipped because this machine cannot simulate the fault.

#![expect(clippy::unwrap_used, reason = "a test fails by its unwrap")]

mod child;
mod damage;
mod disk;
mod erasures;
mod full;
mod kill;
mod power;
mod reminders;
mod sync;
mod workload;
