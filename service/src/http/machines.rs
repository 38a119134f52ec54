//! `/v1/machines` and `/v1/machines/{machine_ref}`.

use etui_schema::endpoints;

use super::documents::{self, Words};
use super::operation::Operation;
use crate::studio::machines::StoredMachine;

pub(crate) fn operations() -> Vec<Operation> {
    let words = Words {
        all: endpoints::list_machines(),
        put: endpoints::put_machine(),
        one: [endpoints::patch_machine(), endpoints::get_machine(), endpoints::delete_machine()],
        list: ["List the machines", "Every one that is kept."],
        keep: [
            "Keep a machine",
            "Stroke, rate and give of a machine, as the needle feels them. \
             Creates the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        change: "Change some of a machine",
        read: ["Read a machine", "The machine."],
        remove: [
            "Take a machine away",
            "What is kept of treatments and checks goes on naming the reference; a check that names it \
             is refused.",
        ],
        stays: &[],
    };
    documents::operations::<StoredMachine, _>(words).into()
}
