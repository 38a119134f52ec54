//! `/v1/treatments/{id}/observations`, `…/reviews`, `…/symptom-reports` with
//! their `…/settlements`, `…/amendments`: what is added to a treatment after it was recorded.

use actix_web::web;
use etui_schema::amendments::AmendmentRequest;
use etui_schema::countersignatures::CountersignatureRequest;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::reviews::ReviewRequest;
use etui_schema::short::{ShortKeptReport, ShortObservation};
use etui_schema::symptom_reports::{KeptSymptomReportRequest, SettlementRequest};
use etui_schema::treatments::ObservationRequest;

use super::answer::{Reply, page, record};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::amendments::Amended;
use crate::studio::countersignatures::Countersigned;
use crate::studio::entries::EntryKind;
use crate::studio::observations::Observed;
use crate::studio::reviews::Reviewed;
use crate::studio::{
    amendments, countersignatures, entries, healed, history, kept_reports, observations,
};

pub(crate) fn operations() -> Vec<Operation> {
    let mut all = additions();
    all.extend(reads());
    all.extend(lists());
    all
}

/// What is said of each entry.
const GONE: &str = "404 if the client was erased since.";

/// The entries of each kind, page by page.
fn lists() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_observations(), || web::to(entries_of::<Observed>))
            .says("List observations", GONE)
            .answers(200, "One page, first seen first."),
        Operation::of(endpoints::list_symptom_reports(), || web::to(told_of))
            .says("List kept symptom reports", GONE)
            .answers(200, "One page, first told first."),
        Operation::of(endpoints::list_countersignatures(), || web::to(entries_of::<Countersigned>))
            .says("List countersignatures", GONE)
            .answers(200, "One page, first given first."),
        Operation::of(endpoints::list_reviews(), || web::to(entries_of::<Reviewed>))
            .says("List reviews", GONE)
            .answers(200, "One page, first looked at first."),
        Operation::of(endpoints::list_amendments(), || web::to(entries_of::<Amended>))
            .says("List amendments", GONE)
            .answers(200, "One page, in the order of their numbers."),
    ]
}

/// Each entry by itself; all of them stand in their treatment.
fn reads() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_observation(), || {
            web::to(|call| entry::<Observed>(call, "observation_id"))
        })
        .says("Read an observation", GONE)
        .answers(200, "The observation.")
        .if_none_match(),
        Operation::of(endpoints::get_symptom_report(), || web::to(told))
            .says("Read a kept symptom report", GONE)
            .answers(200, "The report, with its settlement.")
            .if_none_match(),
        Operation::of(endpoints::get_countersignature(), || {
            web::to(|call| entry::<Countersigned>(call, "countersignature_id"))
        })
        .says("Read a countersignature", GONE)
        .answers(200, "The countersignature.")
        .if_none_match(),
        Operation::of(endpoints::get_review(), || {
            web::to(|call| entry::<Reviewed>(call, "review_id"))
        })
        .says("Read a review", GONE)
        .answers(200, "The review.")
        .if_none_match(),
        Operation::of(endpoints::get_amendment(), || {
            web::to(|call| entry::<Amended>(call, "amendment_id"))
        })
        .says("Read an amendment", GONE)
        .answers(200, "The amendment.")
        .if_none_match(),
    ]
}

fn additions() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::record_observation(), || web::to(observe))
            .speaks()
            .says(
                "Record what is seen while working",
                "Trauma seen on the skin, and what to do: how far to stop, what to ask, and for the rest of \
                 the area what is gentler. Never deeper, thicker or faster, and no needle where work stops.",
            )
            .answers(201, "Recorded, with what to do.")
            .shortens::<ShortObservation>()
            .until_erased()
            .located(),
        Operation::of(endpoints::keep_symptom_report(), || web::to(report))
            .speaks()
            .says(
                "Keep what the client tells afterwards",
                "Judged like a report that is not kept; treatment, session and zone come from the record.",
            )
            .answers(201, "Kept, with how urgent it is and what to do.")
            .shortens::<ShortKeptReport>()
            .until_erased()
            .located(),
        Operation::of(endpoints::settle_symptom_report(), || web::to(settle),
        )
        .says(
            "Settle what the client told",
            "A named person has looked into it. While a report of `artist` or above is open, invitations \
             and other friendly messages of the treatment are paused; with the last one settled they go \
             on, or are overtaken, unless the skin was last seen unhealed or worse. Who settled it is \
             kept. It does not end an allergy: where a report may tell of one, the next check waits for \
             a review with `doctor_agrees`.",
        )
        .answers(201, "Settled.")
        .errors([ErrorCode::Conflict])
        .until_erased(),
        Operation::of(endpoints::countersign_treatment(), || web::to(countersign))
            .says(
                "Confirm that a trainer was there",
                "What a student did is recorded, permitted or not; a trainer confirms that she was in the \
                 room. Who confirms is told by the token alone: a trainer that it acts for, or the owner.",
            )
            .answers(201, "Confirmed.")
            .until_erased()
            .located(),
        Operation::of(endpoints::record_review(), || web::to(review))
            .speaks()
            .says(
                "Record how it healed",
                "What each part kept, the colour, the surface; and what to change at the touch-up. Colour is \
                 not judged before day 28: an earlier review is kept and answered `too_early`. A growing scar, \
                 lumps and raised skin are answered `refer` on any day, and stay so in later reviews until one \
                 says `doctor_agrees`. Where nobody said what the surface shows, it is asked.",
            )
            .answers(201, "Recorded, with what it asks for.")
            .until_erased()
            .located(),
        Operation::of(endpoints::amend_treatment(), || web::to(amend))
            .speaks()
            .says(
                "Put a treatment record right",
                "With the reason. Nothing is overwritten: the record shows the right values, and each \
                 amendment what they were. Added packs leave the drawer, struck ones go back, and a recall \
                 follows both.",
            )
            .answers(201, "Put right.")
            .until_erased()
            .located(),
    ]
}

async fn entry<K: EntryKind>(call: Call, name: &'static str) -> Reply {
    let ids = (call.path_id("id")?, call.path_id(name)?);
    let mut snap = write::view(&call).await?;
    record(&call, &entries::one::<K>(&call.state.studio, &mut snap, ids).await?)
}

async fn entries_of<K: EntryKind>(call: Call, query: Query<PageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    page(&call, &history::page::<K>(&call.state.studio, &mut snap, id, &query.0).await?)
}

async fn told_of(call: Call, query: Query<PageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    page(&call, &kept_reports::page(&call.state.studio, &mut snap, id, &query.0).await?)
}

async fn told(call: Call) -> Reply {
    let ids = (call.path_id("id")?, call.path_id("report_id")?);
    let mut snap = write::view(&call).await?;
    record(&call, &kept_reports::one(&call.state.studio, &mut snap, ids).await?)
}

async fn observe(call: Call, body: Body<ObservationRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        observations::create(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn report(call: Call, body: Body<KeptSymptomReportRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        kept_reports::create(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn settle(call: Call, body: Body<SettlementRequest>) -> Reply {
    let ids = (call.path_id("id")?, call.path_id("report_id")?);
    write::run(&call, &body.bytes, async |snap, moment| {
        kept_reports::settle(&call.state.studio, snap, moment, ids, &body.value).await
    })
    .await
}

async fn review(call: Call, body: Body<ReviewRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        healed::review(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn amend(call: Call, body: Body<AmendmentRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        amendments::create(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn countersign(call: Call, body: Body<CountersignatureRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        countersignatures::create(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}
