//! `/v1/machines/{machine_ref}`.

use etui_schema::access::Scope;

use super::documents::{self, Words};
use super::operation::Operation;
use crate::studio::machines::StoredMachine;

pub(crate) fn operations() -> Vec<Operation> {
    let words = Words {
        path: "/v1/machines/{machine_ref}",
        tag: "records",
        ids: ["put_machine", "get_machine"],
        scopes: [Scope::ClientsWrite, Scope::ClientsRead],
        keep: [
            "Keep a machine",
            "Stroke, rate and give of a machine, as the needle feels them. \
             Creates the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        read: ["Read a machine", "The machine."],
    };
    documents::operations::<StoredMachine>(words).into()
}
