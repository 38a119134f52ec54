//! The state of every component: the store, the way to the disk, the keys, the
//! backups.

use etui_schema::open::Open;
use etui_schema::service::{Health, HealthCheck, HealthStatus};

use jiff::Timestamp;

use super::Studio;
use super::clock;
use super::moment::Sources;
use super::watch::State;
use crate::store::{Health as StoreHealth, Serve};

impl Studio {
    /// Looks at the store and at the way writes reach the disk.
    #[must_use]
    pub fn health(&self, sources: &dyn Sources) -> Health {
        let checks = vec![
            self.store_health(),
            self.durability(),
            self.keys(),
            self.backup_health(sources.now()),
            self.packs(),
            self.clock_health(sources),
        ];
        let worst =
            checks.iter().map(|check| &check.status).max_by_key(|status| rank(status)).cloned();
        Health {
            status: worst.unwrap_or_else(|| HealthStatus::Pass.into()),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            checks,
        }
    }

    fn store_health(&self) -> HealthCheck {
        let (status, output) = match self.engine.health() {
            StoreHealth::Ready => (HealthStatus::Pass, "reads and writes".to_owned()),
            StoreHealth::Full => (
                HealthStatus::Warn,
                "reads only: free disk space is below the reserve; make space".to_owned(),
            ),
            StoreHealth::Reopening(why) => {
                (HealthStatus::Fail, format!("being opened again: {why}"))
            }
            StoreHealth::Damaged(why) => {
                (HealthStatus::Fail, format!("damaged, nothing is written: {why}"))
            }
            StoreHealth::Closed => (HealthStatus::Fail, "closed".to_owned()),
        };
        HealthCheck { component: "store".to_owned(), status: status.into(), output }
    }

    fn keys(&self) -> HealthCheck {
        let (status, output) = match self.keyring.lost() {
            0 => (HealthStatus::Pass, "every client's key that was looked at opens".to_owned()),
            lost => (
                HealthStatus::Warn,
                format!(
                    "{lost} client's key(s) do not open, and what is sealed under them cannot be read; \
                     restore a backup from before, or delete these clients (`etui verify` names them)"
                ),
            ),
        };
        HealthCheck { component: "keys".to_owned(), status: status.into(), output }
    }

    fn packs(&self) -> HealthCheck {
        let unsound = self.craft.packs.iter().filter(|pack| !pack.faults.is_empty());
        let names: Vec<String> =
            unsound.map(|pack| format!("{}/{}", pack.kind, pack.name)).collect();
        let (status, output) = if names.is_empty() {
            (HealthStatus::Pass, format!("{} kept, none unsound", self.craft.packs.len()))
        } else {
            let names = names.join(", ");
            (HealthStatus::Warn, format!("not applied because unsound: {names}; read each for why"))
        };
        HealthCheck { component: "packs".to_owned(), status: status.into(), output }
    }

    fn clock_health(&self, sources: &dyn Sources) -> HealthCheck {
        let (status, output) = match self.clock.look(sources) {
            None => (HealthStatus::Pass, "believed".to_owned()),
            Some(doubt) => (HealthStatus::Warn, clock::in_words(&doubt)),
        };
        HealthCheck { component: "clock".to_owned(), status: status.into(), output }
    }

    fn backup_health(&self, now: Timestamp) -> HealthCheck {
        let (status, output) = match self.watch.state(now) {
            State::Off => (HealthStatus::Pass, "none are made (`--backup-every 0s`)".to_owned()),
            State::None => (HealthStatus::Pass, "the first one is still to be made".to_owned()),
            State::Kept { count, newest } => {
                (HealthStatus::Pass, format!("{count} kept, the newest of {newest}"))
            }
            State::Failed(why) => (HealthStatus::Warn, format!("the last one failed: {why}")),
        };
        HealthCheck { component: "backups".to_owned(), status: status.into(), output }
    }

    fn durability(&self) -> HealthCheck {
        let (is_durable, output) = self.engine.durability(&self.sync_path);
        let status = if is_durable { HealthStatus::Pass } else { HealthStatus::Warn };
        HealthCheck { component: "durable_path".to_owned(), status: status.into(), output }
    }
}

fn rank(status: &Open<HealthStatus>) -> u8 {
    match status.known() {
        Some(HealthStatus::Pass) => 0,
        Some(HealthStatus::Warn) => 1,
        Some(HealthStatus::Fail) | None => 2,
    }
}
