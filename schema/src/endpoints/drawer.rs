//! Lots of sterile packets, and what a recall needs.

use crate::*;

/// The table of `drawer`.
#[macro_export]
macro_rules! drawer_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "drawer"
        methods {
            /// takes a delivery into the drawer.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Once receive_lot "/v1/lots" [DrawerWrite], body lots::LotRequest => lots::Lot;
            /// takes a whole delivery into the drawer.
            ///
            /// # Errors
            /// [`Error::Problem`]; a lot that is refused has its faults in its outcome.
            Once receive_delivery "/v1/deliveries" [DrawerWrite],
                body deliveries::LotDeliveryRequest => deliveries::LotDelivery, dry receive_delivery_dry_run;
            /// what a person settled about lots.
            ///
            /// # Errors
            /// [`Error::Problem`]; a lot that is refused has its faults in its outcome.
            Once confirm_lots "/v1/lot-confirmations" [DrawerWrite],
                body deliveries::ConfirmationRequest => deliveries::Confirmation;
            /// keeps a supplier's habit.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if it exists and `if_match` is absent, and 412 if somebody
            /// else has changed it.
            Put put_supplier_habit "/v1/supplier-habits/{habit_ref}" (habit_ref: &Reference) [DrawerWrite],
                body deliveries::HabitRecord => deliveries::HabitAsStored;
            /// reads a supplier's habit.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_supplier_habit "/v1/supplier-habits/{habit_ref}" (habit_ref: &Reference) [DrawerRead]
                => deliveries::HabitAsStored;
            /// one page of every habit that is kept.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_supplier_habits "/v1/supplier-habits" [DrawerRead],
                query page::PageQuery => deliveries::HabitAsStored;
            /// changes some of a supplier's habit by a JSON Merge Patch (RFC 7396).
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Patch patch_supplier_habit "/v1/supplier-habits/{habit_ref}" (habit_ref: &Reference) [DrawerWrite]
                => deliveries::HabitAsStored;
            /// takes a supplier's habit away.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Delete delete_supplier_habit "/v1/supplier-habits/{habit_ref}" (habit_ref: &Reference) [DrawerWrite]
                => deliveries::HabitAsStored;
            /// one page of the drawer, first expired first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_lots "/v1/lots" [DrawerRead], query lots::LotQuery => lots::Lot, rows lots;
            /// reads a lot.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_lot "/v1/lots/{id}" (id: Uuid) [DrawerRead] => lots::Lot;
            /// changes a lot by hand.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 if the count would fall below 0.
            Once adjust_lot "/v1/lots/{id}/adjustments" (id: Uuid) [DrawerWrite],
                body lots::AdjustmentRequest => lots::Lot;
            /// moves packs of a lot to another branch.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 if there are not so many.
            Once move_lot "/v1/lots/{id}/moves" (id: Uuid) [DrawerWrite],
                body lots::LotMoveRequest => lots::LotMoved;
            /// acts on a notice that names a lot code.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Once recall_lots "/v1/recalls" [DrawerWrite],
                body recalls::NamedRecallRequest => recalls::RecallReport, dry would_recall_lots;
            /// calls a lot back, with those of its code.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such lot.
            Once recall_lot "/v1/lots/{id}/recalls" (id: Uuid) [DrawerWrite],
                body recalls::RecallRequest => recalls::RecallReport, dry would_recall_lot;
            /// one page of the recalls, oldest first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_recalls "/v1/recalls" [DrawerRead], query page::PageQuery => recalls::Recall;
            /// what a notice said, who acted on it, which lots it took.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such recall.
            Get get_recall "/v1/recalls/{id}" (id: Uuid) [DrawerRead] => recalls::Recall;
            /// who was exposed to what a notice names; calls nothing back.
            ///
            /// # Errors
            /// [`Error::Problem`] with a fault for each value that is refused.
            Get find_exposures "/v1/exposures" [TreatmentsRead], query recalls::ExposureQuery => recalls::Exposures;
        }
        own {
            Get list_exposures "/v1/lots/{id}/exposures" [TreatmentsRead],
                query recalls::ExposurePageQuery => recalls::Exposures;
        }
    }};
}

drawer_endpoints!(values);
