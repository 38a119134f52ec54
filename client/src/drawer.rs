//! Lots of sterile packets.

use etui_schema::deliveries::{
    Confirmation, ConfirmationRequest, HabitAsStored, HabitRecord, LotDelivery, LotDeliveryRequest,
};
use etui_schema::lots::{AdjustmentRequest, Lot, LotQuery, LotRequest};
use etui_schema::page::{Page, PageQuery};
use etui_schema::recalls::{
    ExposureQuery, Exposures, NamedRecallRequest, Recall, RecallReport, RecallRequest,
};
use etui_schema::vocabulary::Reference;
use reqwest::Method;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

/// The drawer and what a recall needs.
impl Client {
    /// `POST /v1/lots`: takes a delivery into the drawer.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn receive_lot(&self, request: &LotRequest) -> Result<Lot, Error> {
        self.post(&["v1", "lots"]).json(request)?.once().read().await
    }

    /// `POST /v1/deliveries`: takes a whole delivery into the drawer.
    ///
    /// # Errors
    /// [`Error::Problem`]; a lot that is refused has its faults in its outcome.
    pub async fn receive_delivery(
        &self,
        request: &LotDeliveryRequest,
    ) -> Result<LotDelivery, Error> {
        self.post(&["v1", "deliveries"]).json(request)?.once().read().await
    }

    /// [`Client::receive_delivery`] as a dry run: what would be taken in, and nothing done.
    ///
    /// # Errors
    /// As of the delivery itself.
    pub async fn receive_delivery_dry_run(
        &self,
        request: &LotDeliveryRequest,
    ) -> Result<LotDelivery, Error> {
        self.post(&["v1", "deliveries"]).query("dry_run", "true").json(request)?.read().await
    }

    /// `POST /v1/lot-confirmations`: what a person settled about lots.
    ///
    /// # Errors
    /// [`Error::Problem`]; a lot that is refused has its faults in its outcome.
    pub async fn confirm_lots(&self, request: &ConfirmationRequest) -> Result<Confirmation, Error> {
        self.post(&["v1", "lot-confirmations"]).json(request)?.once().read().await
    }

    /// `PUT /v1/supplier-habits/{habit_ref}`: keeps a supplier's habit.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 428 if it exists and `if_match` is
    /// absent, and 412 if somebody else has changed it.
    pub async fn put_supplier_habit(
        &self,
        habit_ref: &Reference,
        record: &HabitRecord,
        if_match: Option<&str>,
    ) -> Result<Tagged<HabitAsStored>, Error> {
        self.put(&["v1", "supplier-habits", habit_ref.as_str()])
            .json(record)?
            .if_match(if_match)?
            .read_tagged()
            .await
    }

    /// `GET /v1/supplier-habits/{habit_ref}`: reads a supplier's habit.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_supplier_habit(
        &self,
        habit_ref: &Reference,
    ) -> Result<Tagged<HabitAsStored>, Error> {
        self.get(&["v1", "supplier-habits", habit_ref.as_str()]).read_tagged().await
    }

    /// `GET /v1/supplier-habits`: one page of every habit that is kept.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_supplier_habits(
        &self,
        query: &PageQuery,
    ) -> Result<Page<HabitAsStored>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "supplier-habits"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `PATCH /v1/supplier-habits/{habit_ref}`: changes some of a supplier's habit by a JSON
    /// Merge Patch (RFC 7396).
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else
    /// has changed it.
    pub async fn patch_supplier_habit(
        &self,
        habit_ref: &Reference,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<HabitAsStored>, Error> {
        self.request(Method::PATCH, &["v1", "supplier-habits", habit_ref.as_str()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `DELETE /v1/supplier-habits/{habit_ref}`: takes a supplier's habit away.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn delete_supplier_habit(
        &self,
        habit_ref: &Reference,
        etag: &str,
    ) -> Result<HabitAsStored, Error> {
        self.request(Method::DELETE, &["v1", "supplier-habits", habit_ref.as_str()])
            .if_match(Some(etag))?
            .read()
            .await
    }

    /// `GET /v1/lots`: one page of the drawer, first expired first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_lots(&self, query: &LotQuery) -> Result<Page<Lot>, Error> {
        self.get(&["v1", "lots"]).query_of(query)?.read().await
    }

    /// Every lot of the drawer, first expired first.
    #[must_use]
    pub fn lots(&self) -> Pages<Lot> {
        Pages::new(self, &["v1", "lots"], Vec::new())
    }

    /// `GET /v1/lots/{id}`: reads a lot.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_lot(&self, id: Uuid) -> Result<Tagged<Lot>, Error> {
        self.get(&["v1", "lots", &id.to_string()]).read_tagged().await
    }

    /// `POST /v1/lots/{id}/adjustments`: changes a lot by hand.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 if the count would fall below 0.
    pub async fn adjust_lot(&self, id: Uuid, request: &AdjustmentRequest) -> Result<Lot, Error> {
        let path = ["v1", "lots", &id.to_string(), "adjustments"];
        self.post(&path).json(request)?.once().read().await
    }

    /// `POST /v1/recalls`: acts on a notice that names a lot code.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn recall_lots(&self, request: &NamedRecallRequest) -> Result<RecallReport, Error> {
        self.post(&["v1", "recalls"]).json(request)?.once().read().await
    }

    /// `POST /v1/lots/{id}/recalls`: calls a lot back, with those of its code.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such lot.
    pub async fn recall_lot(
        &self,
        id: Uuid,
        request: &RecallRequest,
    ) -> Result<RecallReport, Error> {
        self.post(&["v1", "lots", &id.to_string(), "recalls"]).json(request)?.once().read().await
    }

    /// `GET /v1/recalls`: one page of the recalls, oldest first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_recalls(&self, query: &PageQuery) -> Result<Page<Recall>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "recalls"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/recalls/{id}`: what a notice said, who acted on it, which lots it took.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such recall.
    pub async fn get_recall(&self, id: Uuid) -> Result<Recall, Error> {
        self.get(&["v1", "recalls", &id.to_string()]).read().await
    }

    /// [`Client::recall_lots`] as a dry run: what would be called back, and nothing done.
    ///
    /// # Errors
    /// As [`Client::recall_lots`].
    pub async fn would_recall_lots(
        &self,
        request: &NamedRecallRequest,
    ) -> Result<RecallReport, Error> {
        self.post(&["v1", "recalls"]).query("dry_run", "true").json(request)?.read().await
    }

    /// [`Client::recall_lot`] as a dry run: what would be called back, and nothing done.
    ///
    /// # Errors
    /// As [`Client::recall_lot`].
    pub async fn would_recall_lot(
        &self,
        id: Uuid,
        request: &RecallRequest,
    ) -> Result<RecallReport, Error> {
        let path = ["v1", "lots", &id.to_string(), "recalls"];
        self.post(&path).query("dry_run", "true").json(request)?.read().await
    }

    /// `GET /v1/lots/{id}/exposures`: who was exposed to a lot.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such lot.
    pub async fn list_exposures(&self, id: Uuid) -> Result<Exposures, Error> {
        self.get(&["v1", "lots", &id.to_string(), "exposures"]).read().await
    }

    /// The same as a table for an authority, as CSV.
    ///
    /// # Errors
    /// As [`Client::list_exposures`].
    pub async fn list_exposures_csv(&self, id: Uuid) -> Result<String, Error> {
        let path = ["v1", "lots", &id.to_string(), "exposures"];
        self.get(&path).accept("text/csv").read_text().await
    }

    /// `GET /v1/exposures`: who was exposed to what a notice names; calls
    /// nothing back.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn find_exposures(&self, query: &ExposureQuery) -> Result<Exposures, Error> {
        let ExposureQuery { lot, maker, reference, limit, cursor } = query;
        self.get(&["v1", "exposures"])
            .query("lot", lot)
            .query_if("maker", maker.as_ref())
            .query_if("reference", reference.as_ref())
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }
}
