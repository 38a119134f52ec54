//! Listing clients: nothing of them that is sealed.

use etui_schema::clients::ClientRow;
use etui_schema::page::{Page, PageQuery};

use super::{CLIENTS, StoredClient};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::Walk;

/// One page of clients, in no order that says anything.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &PageQuery,
) -> Result<Page<ClientRow>, Error> {
    let row = |client: StoredClient| {
        let StoredClient { client_ref, version, updated_at, sealed: _ } = client;
        ClientRow { client_ref, version, updated_at }
    };
    Walk::over(studio, CLIENTS, query)?.of_records(snap, |one| Some(row(one))).await
}
