//! `/v1/deliveries`, `/v1/lot-confirmations`, `/v1/supplier-habits`: many lots
//! in one call, and what is known of a supplier.

use etui_schema::deliveries::{ConfirmationRequest, LotDeliveryRequest};
use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;

use super::answer::Reply;
use super::body::Body;
use super::call::Call;
use super::documents::{self, Words};
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::habits::StoredHabit;
use crate::studio::lots;

pub(crate) fn operations() -> Vec<Operation> {
    let habits = Words {
        all: endpoints::list_supplier_habits(),
        put: endpoints::put_supplier_habit(),
        one: [
            endpoints::patch_supplier_habit(),
            endpoints::get_supplier_habit(),
            endpoints::delete_supplier_habit(),
        ],
        list: ["List the suppliers' habits", "Every one that later deliveries follow."],
        keep: [
            "Keep a supplier's habit",
            "How a supplier prints its packs: which day it means by a month, or that its packs are \
             sterile. Used for later deliveries that fit; what a label says itself comes first. Creates \
             the record, or replaces it when `If-Match` carries its `ETag`.",
        ],
        change: "Change some of a supplier's habit",
        read: ["Read a supplier's habit", "The habit."],
        remove: [
            "Take a supplier's habit away",
            "Later deliveries are asked about again. Lots that were settled by it stay settled and \
             name it under `settled`: hold those that should not have been.",
        ],
        stays: &[],
    };
    let deliveries = [
        Operation::of(endpoints::receive_delivery(), || to(deliver))
            .says(
                "Take a whole delivery into the drawer",
                "Up to 200 lots, each read, held or refused by itself: the outcomes stand in the order of \
                 the request. A row that does not hold to the schema (422) keeps all of them out.",
            )
            .answers(200, "A dry run: what would be taken in, each lot with its outcome.")
            .answers(201, "Taken in; each lot with its outcome."),
        Operation::of(endpoints::confirm_lots(), || to(confirm))
            .says(
                "Confirm lots that are held",
                "What one person settled about up to 200 lots: last day of use, sterility, configuration. \
                 Each lot has its own outcome. What forbids the use, such as packs that are not sterile, is \
                 settled by nobody, and no day is later than the print allows.",
            )
            .answers(201, "Looked at; each lot with its outcome."),
    ];
    let kept = documents::operations::<StoredHabit, _>(habits);
    deliveries.into_iter().chain(kept).collect()
}

async fn deliver(call: Call, query: Query<DryRunQuery>, body: Body<LotDeliveryRequest>) -> Reply {
    let dry_run = query.0.is_dry();
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        lots::deliver(&call.state.studio, snap, moment, &body.value, dry_run).await
    })
    .await
}

async fn confirm(call: Call, body: Body<ConfirmationRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        lots::confirm(snap, moment, &body.value).await
    })
    .await
}
