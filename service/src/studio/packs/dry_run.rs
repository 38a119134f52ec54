//! What a rules pack would change on the checks that are stored. Writes nothing.
//!
//! Each check is screened twice from what it was made from, on the day it was
//! made: under the rules as they are, and with the pack. So whatever differs
//! is the pack's doing, not the time's.

use std::collections::BTreeSet;

use etui_schema::packs::{CheckChange, PackDryRun, PackDryRunRequest, PackKind};
use etui_schema::problem::Fault;
use etui_schema::skin_assessments::SkinAssessment;
use etui_schema::vocabulary::Reference;

use super::affects::affects;
use super::stored::{Held, StoredPack, find, load_all};
use super::{changed, not_found};
use crate::store::Bytes;
use crate::studio::appointment_checks::{self, Rescreening};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::paging::Walk;
use crate::studio::{Craft, Studio};

/// Screens one page of the stored checks with a pack and without.
///
/// # Errors
/// [`Error::NotFound`] if no pack was sent and none is kept under the name;
/// whatever putting it would be refused with.
pub async fn dry_run(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    name: &Reference,
    request: &PackDryRunRequest,
) -> Result<PackDryRun, Error> {
    let PackDryRunRequest { pack, limit, cursor } = request;
    let kept = find(snap, PackKind::Rules, name).await?.map(|held| held.readable());
    let mut next = match (pack, &kept) {
        (Some(pack), _) => StoredPack::new(moment, name, pack, 0)?,
        (None, Some(kept)) => kept.clone(),
        (None, None) => return Err(not_found(PackKind::Rules, name)),
    };
    next.enabled = true;
    let mut all = load_all(snap).await?;
    all.retain(|held| !held.is(PackKind::Rules, name));
    all.push(Held::of(next.clone()));
    let craft = changed(studio, all, Some(&next));
    let craft =
        craft.map_err(|error| if pack.is_some() { moved(error, below_pack) } else { error })?;
    let walk = Walk::begin(
        studio,
        "dry run over checks".to_owned(),
        appointment_checks::BY_START.space(),
        Bytes::new()..Bytes::new(),
        *limit,
        cursor.as_deref(),
    );
    let walk = walk.map_err(|error| moved(error, in_body))?;
    let told = run(studio, snap, walk, name, (&studio.craft, &craft)).await?;
    let affects = affects(studio, snap, PackKind::Rules, kept.iter().chain([&next])).await?;
    Ok(PackDryRun { affects, ..told })
}

async fn run(
    studio: &Studio,
    snap: &mut Snap,
    mut walk: Walk,
    name: &Reference,
    (before, after): (&Craft, &Craft),
) -> Result<PackDryRun, Error> {
    let mut told = PackDryRun {
        name: name.clone(),
        digest_before: before.rulebook.digest.clone(),
        digest_after: after.rulebook.digest.clone(),
        checks: 0,
        not_screened: 0,
        same_verdict_other_findings: 0,
        changes: Vec::new(),
        affects: None,
        next_cursor: None,
    };
    while let Some(key) = walk.next(snap).await? {
        told.checks += 1;
        let Some(case) = appointment_checks::rescreening(studio, snap, &key).await? else {
            told.not_screened += 1;
            continue;
        };
        let (Ok(from), Ok(to)) = (case.screen(before), case.screen(after)) else {
            told.not_screened += 1;
            continue;
        };
        let outcome = |one: &SkinAssessment| (one.verdict.clone(), one.hold_until, one.not_before);
        if outcome(&from) != outcome(&to) {
            told.changes.push(change(&case, &from, &to));
        } else if from.findings != to.findings || from.score != to.score {
            told.same_verdict_other_findings += 1;
        }
    }
    told.next_cursor = walk.cursor();
    Ok(told)
}

fn change(case: &Rescreening, from: &SkinAssessment, to: &SkinAssessment) -> CheckChange {
    let rules: BTreeSet<&str> = to
        .findings
        .iter()
        .filter(|finding| !from.findings.contains(finding))
        .map(|finding| finding.rule.as_str())
        .collect();
    let open = to.unanswered.iter().filter(|id| !from.unanswered.contains(id));
    CheckChange {
        check_id: case.id,
        booking_ref: case.trace.booking_ref.clone(),
        treatment: case.trace.treatment,
        starts_at: case.trace.starts_at,
        from: from.verdict.clone(),
        to: to.verdict.clone(),
        hold_until_from: from.hold_until,
        hold_until_to: to.hold_until,
        rules: rules.into_iter().map(str::to_owned).collect(),
        unanswered: open.cloned().collect(),
    }
}

/// An error whose faults lie at another place of this request.
fn moved(error: Error, to: impl Fn(&str) -> String) -> Error {
    let Error::Refused(faults) = error else { return error };
    let fault = |fault: Fault| Fault { pointer: to(&fault.pointer), ..fault };
    Error::Refused(faults.into_iter().map(fault).collect())
}

fn below_pack(pointer: &str) -> String {
    format!("#/pack{}", pointer.strip_prefix('#').unwrap_or_default())
}

/// The walk names the parameters of a query; here they stand in the body.
fn in_body(pointer: &str) -> String {
    pointer.replace("query:", "#/")
}
