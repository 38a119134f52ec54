//! What names a branch: nothing may while it is taken away.

use std::collections::BTreeSet;

use etui_schema::branches::UNASSIGNED;
use etui_schema::vocabulary::Reference;
use serde_json::Value;

use super::StoredBranch;
use crate::store::record::{decode, hex};
use crate::store::rows::Rows;
use crate::store::verify::Finding;
use crate::store::{Read, Space, StoreError};
use crate::studio::documents::Document;
use crate::studio::error::Error;

/// Where records lie that say a branch, and where they say it.
const SAID_BY: [(&str, Space, &str); 7] = [
    ("artists", Space::new("artists"), "/data/branch_ref"),
    ("machines", Space::new("machines"), "/data/branch_ref"),
    ("lots", Space::new("lots"), "/data/branch_ref"),
    ("checks", Space::new("checks"), "/data/trace/branch_ref"),
    ("treatments", Space::new("treatments"), "/data/trace/branch_ref"),
    ("plug-ins", Space::new("plugins"), "/data/branches"),
    ("tokens", Space::new("plugin-tokens"), "/data/branches"),
];

/// What kinds of records are of a branch. One that cannot be read may be.
pub(super) async fn left_in<R: Read>(
    snap: &mut R,
    branch: &Reference,
) -> Result<Vec<&'static str>, Error> {
    let mut left = Vec::new();
    for (what, space, pointer) in SAID_BY {
        let mut rows = Rows::all(space);
        while let Some((_, bytes)) = rows.next(snap).await? {
            let read: Result<Value, _> = serde_json::from_slice(&bytes);
            if read.map_or(true, |it| told_in(&it, pointer).contains(&branch.as_str())) {
                left.push(what);
                break;
            }
        }
    }
    Ok(left)
}

/// The branches that a record says. What was removed or taken back opens nothing.
fn told_in<'v>(record: &'v Value, pointer: &str) -> Vec<&'v str> {
    let is_there = |at: &str| record.pointer(at).is_some_and(|at| !at.is_null());
    if ["/data/removed_at", "/data/revoked_at"].into_iter().any(is_there) {
        return Vec::new();
    }
    match record.pointer(pointer) {
        Some(Value::String(one)) => vec![one],
        Some(Value::Array(all)) => all.iter().filter_map(Value::as_str).collect(),
        None | Some(Value::Null | Value::Bool(_) | Value::Number(_) | Value::Object(_)) => {
            Vec::new()
        }
    }
}

/// The records that say a branch which is not kept.
///
/// # Errors
/// What the store met.
pub async fn strays<R: Read>(snap: &mut R) -> Result<Vec<Finding>, StoreError> {
    let (mut kept, mut rows) =
        (BTreeSet::from([UNASSIGNED.to_owned()]), Rows::all(StoredBranch::SPACE));
    while let Some((_, bytes)) = rows.next(snap).await? {
        // Which one cannot be read is not known: any may be that one, which is told already.
        let Ok(branch) = decode::<StoredBranch>(&bytes) else { return Ok(Vec::new()) };
        kept.insert(branch.branch_ref.to_string());
    }
    let mut found = Vec::new();
    for (_, space, pointer) in SAID_BY {
        let mut rows = Rows::all(space);
        while let Some((key, bytes)) = rows.next(snap).await? {
            let Ok(record) = serde_json::from_slice::<Value>(&bytes) else { continue };
            if told_in(&record, pointer).into_iter().any(|branch| !kept.contains(branch)) {
                let (space, key) = (space.name().to_owned(), hex(&key[..key.len().min(16)]));
                let what = "it names a branch that is not kept".to_owned();
                found.push(Finding { space, key, what });
            }
        }
    }
    Ok(found)
}
