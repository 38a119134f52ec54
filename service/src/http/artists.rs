//! `/v1/artists/{artist_ref}`.

use actix_web::web;
use etui_schema::access::Scope;
use etui_schema::artists::{Artist, ArtistRecord};

use super::answer::{Reply, tagged};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::write;
use crate::studio::artists::StoredArtist;
use crate::studio::documents::{self, Document};
use crate::studio::plan::to_json;

const PATH: &str = "/v1/artists/{artist_ref}";

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::put(PATH, "put_artist", || web::to(put))
            .tag("records")
            .scope(Scope::ClientsWrite)
            .says(
                "Keep an artist",
                "How firmly the artist works and which configurations were practised and signed off. \
                 Creates the record, or replaces it when `If-Match` carries its `ETag`.",
            )
            .body::<ArtistRecord>()
            .answers::<Artist>(200, "Replaced.")
            .answers::<Artist>(201, "Created.")
            .if_match(),
        Operation::get(PATH, "get_artist", || web::to(get))
            .tag("records")
            .scope(Scope::ClientsRead)
            .says("Read an artist", "The record with its `ETag`.")
            .answers::<Artist>(200, "The artist.")
            .if_none_match()
            .finds(),
    ]
}

async fn put(call: Call, body: Body<ArtistRecord>) -> Reply {
    let (reference, known) = (call.reference("artist_ref")?, write::precondition(&call));
    write::run(&call, &body.bytes, async |snap, moment| {
        documents::put::<StoredArtist, _>(
            &call.state.studio,
            snap,
            moment,
            &reference,
            &body.value,
            &known,
        )
        .await
    })
    .await
}

async fn get(call: Call) -> Reply {
    let reference = call.reference("artist_ref")?;
    let mut snap = write::view(&call).await?;
    let found =
        documents::get::<StoredArtist, _>(&call.state.studio, &mut snap, &reference).await?;
    tagged(&call, "application/json", to_json(&found.answer())?)
}
