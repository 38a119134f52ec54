//! What a plug-in did: its entries of the audit trail, newest first.
//!
//! The trail is walked backwards, from its end or from where the page before
//! stopped, to the link at which the plug-in was registered. There is no index
//! beside the trail that could say something else than the trail. So that one
//! page costs a bounded reading whatever others did in between, a page may be
//! shorter than its limit, even empty, and have a next one.

use etui_schema::page::{Page, PageQuery};
use etui_schema::plugins::PluginAct;
use uuid::Uuid;

use super::load_removed_too;
use crate::store::audit::{self, AUDIT, Link};
use crate::store::rows::Rows;
use crate::store::{Bytes, cursor};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::{broken, foreign_cursor, limit_of};

/// Most links read for one page: about 3 MB at some 300 bytes a link.
const MOST_READ: usize = 10_000;

/// One page of what a plug-in did; a removed one is still answered for.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for a limit or a cursor that is not
/// one.
pub async fn activity(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    query: &PageQuery,
) -> Result<Page<PluginAct>, Error> {
    let (plugin, _) = load_removed_too(snap, id).await?;
    let limit = limit_of(query.limit)?;
    let name = format!("plugin-activity {id}");
    let end = match &query.cursor {
        None => Bytes::new(),
        Some(text) => {
            cursor::decode(&studio.cursor_key, &name, text).map_err(|_| foreign_cursor())?
        }
    };
    let range = audit::key(plugin.trail_from + 1)..end;
    let mut rows = Rows::of(AUDIT, range).backwards();
    let (mut items, mut read) = (Vec::new(), 0);
    while let Some((key, value)) = rows.next(snap).await? {
        let link: Link = serde_json::from_slice(&value).map_err(|_| broken(AUDIT))?;
        read += 1;
        if link.entry.who == plugin.name.as_str() {
            items.push(act(link)?);
        }
        if items.len() == limit || read == MOST_READ {
            let next_cursor = Some(cursor::encode(&studio.cursor_key, &name, &key));
            return Ok(Page { items, next_cursor, unreadable: None });
        }
    }
    Ok(Page { items, next_cursor: None, unreadable: None })
}

fn act(link: Link) -> Result<PluginAct, Error> {
    let Link { number, entry, previous: _, hash: _ } = link;
    let audit::AuditEntry { at, who: _, what, record, version } = entry;
    Ok(PluginAct { number, at: at.parse().map_err(|_| broken(AUDIT))?, what, record, version })
}
