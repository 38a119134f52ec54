//! `/v1/artists/{artist_ref}`.

use etui_schema::access::Scope;

use super::documents::{self, Words};
use super::operation::Operation;
use crate::studio::artists::StoredArtist;

pub(crate) fn operations() -> Vec<Operation> {
    let words = Words {
        path: "/v1/artists/{artist_ref}",
        tag: "records",
        ids: ["put_artist", "get_artist"],
        scopes: [Scope::ClientsWrite, Scope::ClientsRead],
        keep: [
            "Keep an artist",
            "How firmly the artist works and which configurations were practised and signed off. \
             Creates the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        read: ["Read an artist", "The artist."],
    };
    documents::operations::<StoredArtist>(words).into()
}
