//! Documents: one value under a reference that the caller names. Each kind is listed,
//! put, changed, read and taken away in the same way; what differs is told by its
//! [`Words`].

use etui_schema::branches::OfBranchQuery;
use etui_schema::describe::JsonSchema;
use etui_schema::endpoints::{Endpoint, Nothing};
use etui_schema::page::{Page, PageQuery};
use etui_schema::problem::ErrorCode;
use etui_schema::vocabulary::Reference;
use serde::de::DeserializeOwned;

use super::answer::{Reply, page, tagged};
use super::body::{Body, Told};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::patch::{self, Patch};
use super::query::Query;
use super::write;
use crate::studio::documents::{self, Document};
use crate::studio::plan::to_json;

/// What is told of one kind.
pub(crate) struct Words<D: Document, Q = PageQuery> {
    /// How all are listed.
    pub(crate) all: Endpoint<Q, Nothing, Page<D::Answer>>,
    /// How one is put.
    pub(crate) put: Endpoint<Nothing, D::Request, D::Answer>,
    /// How one is changed, read and taken away.
    pub(crate) one: [Endpoint<Nothing, Nothing, D::Answer>; 3],
    /// Title of listing them, and what is listed.
    pub(crate) list: [&'static str; 2],
    /// Title of putting one, and what it is for.
    pub(crate) keep: [&'static str; 2],
    /// Title of changing some of one.
    pub(crate) change: &'static str,
    /// Title of reading one, and what is answered.
    pub(crate) read: [&'static str; 2],
    /// Title of taking one away, and what stays.
    pub(crate) remove: [&'static str; 2],
    /// What taking one away is refused by beside what any is.
    pub(crate) stays: &'static [ErrorCode],
}

/// How a list is asked for: of which branch, which page.
pub(crate) trait Asked: DeserializeOwned + JsonSchema + 'static {
    /// Both.
    fn told(self) -> (Option<Reference>, PageQuery);
}

impl Asked for PageQuery {
    fn told(self) -> (Option<Reference>, PageQuery) {
        (None, self)
    }
}

impl Asked for OfBranchQuery {
    fn told(self) -> (Option<Reference>, PageQuery) {
        let Self { branch_ref, limit, cursor } = self;
        (branch_ref, PageQuery { limit, cursor })
    }
}

pub(crate) fn operations<D, Q>(words: Words<D, Q>) -> [Operation; 5]
where
    D: Document<Request: Told, Answer: JsonSchema> + 'static,
    Q: Asked,
{
    let Words { all, put, one, list, keep, change, read, remove, stays } = words;
    let [patch, get, delete] = one;
    [
        Operation::of(all, || to(self::list::<D, Q>))
            .says(list[0], list[1])
            .answers(200, "One page, in no order that says anything."),
        Operation::of(put, || to(self::put::<D>))
            .says(keep[0], keep[1])
            .answers(200, "Replaced.")
            .answers(201, "Created."),
        Operation::of(patch, || to(self::patch::<D>))
            .says(
                change,
                "The record as GET gives it, with the members of the patch in place of its own.",
            )
            .answers(200, "Changed."),
        Operation::of(get, || to(self::get::<D>))
            .says(read[0], "The record with its `ETag`.")
            .answers(200, read[1]),
        Operation::of(delete, || to(self::remove::<D>))
            .says(remove[0], remove[1])
            .answers(200, "Taken away; what it was.")
            .errors([ErrorCode::Conflict])
            .errors(stays.iter().copied()),
    ]
}

async fn list<D: Document, Q: Asked>(call: Call, query: Query<Q>) -> Reply {
    let (mut snap, mandate) = (write::view(&call).await?, call.caller.mandate());
    let (branch, query) = query.0.told();
    let (studio, branch) = (&call.state.studio, branch.as_ref());
    page(&call, &documents::list::<D>(studio, &mut snap, &mandate, branch, &query).await?)
}

async fn put<D: Document<Request: Told>>(call: Call, body: Body<D::Request>) -> Reply {
    let (reference, known) = (call.reference(D::REFERENCE)?, write::precondition(&call));
    D::check(&body.value)?;
    let (studio, record) = (&call.state.studio, &body.value);
    write::run(&call, &body.bytes, async |snap, moment| {
        documents::put::<D, _>(studio, snap, moment, &reference, record, &known).await
    })
    .await
}

async fn patch<D: Document<Request: Told>>(call: Call, patch: Patch) -> Reply {
    let (reference, known) = (call.reference(D::REFERENCE)?, write::precondition(&call));
    write::run(&call, &patch.bytes, async |snap, moment| {
        let change = (&patch.value, patch::read::<D::Request>);
        documents::patch::<D, _>(&call.state.studio, snap, moment, &reference, change, &known).await
    })
    .await
}

async fn get<D: Document>(call: Call) -> Reply {
    let reference = call.reference(D::REFERENCE)?;
    let mut snap = write::view(&call).await?;
    let found = documents::get::<D, _>(&call.state.studio, &mut snap, &reference).await?;
    tagged(&call, "application/json", to_json(&found.answer())?)
}

async fn remove<D: Document>(call: Call) -> Reply {
    let (reference, known) = (call.reference(D::REFERENCE)?, write::precondition(&call));
    write::run(&call, &[], async |snap, moment| {
        documents::remove::<D, _>(&call.state.studio, snap, moment, &reference, &known).await
    })
    .await
}
