//! Documents: one value under a reference that the caller names. Each kind is put
//! and read in the same way; what differs is told by its [`Words`].

use actix_web::web;
use etui_schema::access::Scope;
use garde::Validate;
use schemars::JsonSchema;
use serde::de::DeserializeOwned;

use super::answer::{Reply, tagged};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::write;
use crate::studio::documents::{self, Document};
use crate::studio::plan::to_json;

/// What is told of one kind.
pub(crate) struct Words {
    /// Its path, with the reference in it.
    pub(crate) path: &'static str,
    pub(crate) tag: &'static str,
    /// Names of the operations: put, get.
    pub(crate) ids: [&'static str; 2],
    /// What a token needs for each.
    pub(crate) scopes: [Scope; 2],
    /// Title of putting one, and what it is for.
    pub(crate) keep: [&'static str; 2],
    /// Title of reading one, and what is answered.
    pub(crate) read: [&'static str; 2],
}

/// What is put or answered over HTTP.
pub(crate) trait Told:
    DeserializeOwned + JsonSchema + Validate<Context = ()> + 'static
{
}
impl<T: DeserializeOwned + JsonSchema + Validate<Context = ()> + 'static> Told for T {}

pub(crate) fn operations<D>(words: Words) -> [Operation; 2]
where
    D: Document<Request: Told, Answer: JsonSchema> + 'static,
{
    let Words { path, tag, ids, scopes, keep, read } = words;
    [
        Operation::put(path, ids[0], || web::to(put::<D>))
            .tag(tag)
            .scope(scopes[0])
            .says(keep[0], keep[1])
            .body::<D::Request>()
            .answers::<D::Answer>(200, "Replaced.")
            .answers::<D::Answer>(201, "Created.")
            .if_match(),
        Operation::get(path, ids[1], || web::to(get::<D>))
            .tag(tag)
            .scope(scopes[1])
            .says(read[0], "The record with its `ETag`.")
            .answers::<D::Answer>(200, read[1])
            .if_none_match()
            .finds(),
    ]
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

async fn get<D: Document>(call: Call) -> Reply {
    let reference = call.reference(D::REFERENCE)?;
    let mut snap = write::view(&call).await?;
    let found = documents::get::<D, _>(&call.state.studio, &mut snap, &reference).await?;
    tagged(&call, "application/json", to_json(&found.answer())?)
}
