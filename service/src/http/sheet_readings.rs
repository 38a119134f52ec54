//! `/v1/sheet-readings`: practice sheets, measured from a picture.

use etui_schema::endpoints;
use etui_schema::sheet_readings::SheetReadingRequest;

use super::answer::{Reply, bytes, to_bytes};
use super::body::Body;
use super::call::Call;
use super::compute::compute_picture;
use super::handler::to;
use super::operation::Operation;
use crate::studio::{Studio, sheet_readings};

/// A picture of 24 MiB in base64, and what lies around it.
pub(super) const BODY_LIMIT: usize = 33 * 1024 * 1024;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::read_sheet(), || to(read))
            .speaks()
            .says(
                "Measure a practice sheet from a picture (experimental)",
                "A PNG or JPEG of a sheet with its frame: counts, distances, widths and cover of each \
                 panel, or why one of them cannot be said; where the picture itself cannot be trusted, \
                 every reason that holds and no number. It sees nothing of depth, stretch or torn skin. \
                 Tried on drawn sheets alone, so the method and its numbers may still change. The picture \
                 is refused by its header if it is too large, and nothing of it is kept.",
            )
            .up_to(BODY_LIMIT)
            .answers(200, "What was read, panel by panel."),
    ]
}

async fn read(call: Call, body: Body<SheetReadingRequest>) -> Reply {
    let language = call.language();
    let Body { value, bytes: raw } = body;
    drop(raw);
    let work =
        move |studio: &Studio| to_bytes(&sheet_readings::read(&studio.craft, value, language)?);
    bytes(200, compute_picture(&call, work).await?)
}
