//! `/v1/artists` and `/v1/artists/{artist_ref}`.

use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;

use super::documents::{self, Words};
use super::operation::Operation;
use crate::studio::artists::StoredArtist;

pub(crate) fn operations() -> Vec<Operation> {
    let words = Words {
        all: endpoints::list_artists(),
        put: endpoints::put_artist(),
        one: [endpoints::patch_artist(), endpoints::get_artist(), endpoints::delete_artist()],
        list: ["List the artists", "Every one that is kept."],
        keep: [
            "Keep an artist",
            "How firmly the artist works and which configurations were practised and signed off. \
             Creates the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        change: "Change some of an artist",
        read: ["Read an artist", "The artist."],
        remove: [
            "Take an artist away",
            "What is kept of treatments and checks goes on naming the reference; a check that names it \
             is refused. A student goes by an `admin` alone.",
        ],
        stays: &[ErrorCode::InvalidValue],
    };
    documents::operations::<StoredArtist, _>(words).into()
}
