//! `/v1/branches` and `/v1/branches/{branch_ref}`.

use etui_schema::endpoints;

use super::documents::{self, Words};
use super::operation::Operation;
use crate::studio::branches::StoredBranch;

pub(crate) fn operations() -> Vec<Operation> {
    let words = Words {
        all: endpoints::list_branches(),
        put: endpoints::put_branch(),
        one: [endpoints::patch_branch(), endpoints::get_branch(), endpoints::delete_branch()],
        list: ["List the branches", "None for a single studio."],
        keep: [
            "Keep a branch",
            "Where work of a chain is done: by which day, when it is open, whom to call. \
             Creates the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        change: "Change some of a branch",
        read: ["Read a branch", "The branch."],
        remove: ["Take a branch away", "Refused with 409 while anything is of it."],
        stays: &[],
    };
    documents::operations::<StoredBranch, _>(words).into()
}
