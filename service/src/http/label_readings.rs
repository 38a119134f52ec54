//! `/v1/label-readings`.

use etui_schema::endpoints;
use etui_schema::label_readings::LabelReadingsRequest;

use super::answer::{Reply, bytes, to_bytes};
use super::body::Body;
use super::call::Call;
use super::compute::{SMALL, compute};
use super::handler::to;
use super::operation::Operation;
use crate::studio::{Studio, label_readings};

/// A thousand labels of a thousand bytes each.
const BODY_LIMIT: usize = 1024 * 1024;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::read_labels(), || to(read))
            .speaks()
            .says(
                "Read packets",
                "What is printed on sterile packets and what the scanner sent, read into \
                 configurations with their certainty, the packet's own data, and whether the pack \
                 may be used on the day: fit, to be confirmed by a person (each open point with its \
                 question, in the language of `Accept-Language`), or unfit. Each label has an outcome of its own; a refused label is \
                 no error of the call. Where several readings are left, all are there, best first, \
                 and what is missing stays missing. Stores nothing.",
            )
            .up_to(BODY_LIMIT)
            .answers(200, "One reading a label, in the order of the request."),
    ]
}

async fn read(call: Call, body: Body<LabelReadingsRequest>) -> Reply {
    let (today, language) = (call.today(), call.language());
    let long = SMALL <= body.bytes.len();
    let work = move |studio: &Studio| {
        to_bytes(&label_readings::read(&studio.craft.reader, &body.value, today, language)?)
    };
    bytes(200, compute(&call, long, work).await?)
}
