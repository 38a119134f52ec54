//! `/v1/backups`: which there are, and one on demand.

use etui_schema::backups::{Backup, BackupMade};
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::vocabulary::Instant;
use jiff::Timestamp;

use super::answer::{Reply, json, page};
use super::call::Call;
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use crate::backups;
use crate::store::Bytes;
use crate::store::backup::{self, Backup as Stored, BackupError};
use crate::store::key::KeyWriter;
use crate::studio::paging;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_backups(), || to(list))
            .says("List the backups", "Those in the folder of the backups, oldest first.")
            .answers(200, "One page of backups."),
        Operation::of(endpoints::make_backup(), || to(make))
            .says(
                "Make a backup now",
                "Of a moment, while the service goes on; answered when both its files are on disk. None is \
                 removed by it. Two that are asked for at once are made one after the other.",
            )
            .always_whole()
            .answers(201, "Made.")
            .errors([ErrorCode::Unavailable, ErrorCode::NoSpace]),
    ]
}

async fn list(call: Call, query: Query<PageQuery>) -> Reply {
    let studio = &call.state.studio;
    let all = backup::list(&studio.watch.folder).map_err(|e| refused(&e.into()))?;
    let all = all.iter().map(told).collect();
    page(&call, &paging::of_all(studio, "backups", all, place, &query.0)?)
}

/// Oldest first, as they are listed.
fn place(backup: &Backup) -> Bytes {
    KeyWriter::new().instant(backup.made_at.0).text(&backup.name).finish()
}

async fn make(call: Call) -> Reply {
    let made = backups::make_now(call.state.studio.clone(), call.state.sources.clone()).await;
    let (made, report) = made.map_err(|error| refused(&error))?;
    let told = BackupMade {
        backup: told(&made),
        records: report.records,
        content_sha256: report.content_sha256,
    };
    json(201, &told)
}

fn told(backup: &Stored) -> Backup {
    let name = backup.path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    // To the second, as its name has it.
    let at = Timestamp::from_second(backup.at.as_second()).unwrap_or(backup.at);
    Backup { name, made_at: Instant(at), bytes: backup.bytes }
}

fn refused(error: &BackupError) -> Failure {
    tracing::error!(reason = %error, "no backup could be made or read");
    match error {
        BackupError::Io(why) if why.kind() == std::io::ErrorKind::StorageFull => Failure::new(
            ErrorCode::NoSpace,
            "the disk of the backups is full; nothing is left behind",
        ),
        BackupError::Io(_)
        | BackupError::Store(_)
        | BackupError::Keyring(_)
        | BackupError::Keys(_)
        | BackupError::Record(_)
        | BackupError::NoEntropy(_) => Failure::new(
            ErrorCode::Unavailable,
            "no backup can be made or read now; the log says why",
        ),
    }
}
