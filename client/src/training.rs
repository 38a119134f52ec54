//! Practice: drills, grades, sign-offs.

use etui_schema::drills::{DrillGrade, DrillGradeRequest, DrillRequest, Drills};
use etui_schema::page::Page;
use etui_schema::sign_offs::{SignOff, SignOffQuery, SignOffRequest, WithdrawalRequest};
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::tagged::Tagged;

/// What is practised before a face, and what trainers answer for.
impl Client {
    /// `POST /v1/drills`: what to practise with a configuration.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for an effect that the site does not have.
    pub async fn make_drills(&self, request: &DrillRequest) -> Result<Drills, Error> {
        self.post(&["v1", "drills"]).json(request)?.read().await
    }

    /// `POST /v1/drill-grades`: grades a panel that was worked.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a quantity that is not judged of it.
    pub async fn grade_drill(&self, request: &DrillGradeRequest) -> Result<DrillGrade, Error> {
        self.post(&["v1", "drill-grades"]).json(request)?.read().await
    }

    /// `POST /v1/sign-offs`: signs an artist off, in the name of the artist that the
    /// token acts for.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for whoever may not sign it.
    pub async fn give_sign_off(&self, request: &SignOffRequest) -> Result<SignOff, Error> {
        self.post(&["v1", "sign-offs"]).json(request)?.once().read().await
    }

    /// `GET /v1/sign-offs`: one page of sign-offs, first given first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a cursor that is not ours.
    pub async fn list_sign_offs(&self, query: &SignOffQuery) -> Result<Page<SignOff>, Error> {
        let SignOffQuery { artist_ref, limit, cursor } = query;
        self.get(&["v1", "sign-offs"])
            .query_if("artist_ref", artist_ref.as_ref())
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/sign-offs/{id}`: reads a sign-off.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_sign_off(&self, id: Uuid) -> Result<Tagged<SignOff>, Error> {
        self.get(&["v1", "sign-offs", &id.to_string()]).read_tagged().await
    }

    /// `POST /v1/sign-offs/{id}/withdrawals`: takes a sign-off back.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if it was taken back before.
    pub async fn withdraw_sign_off(
        &self,
        id: Uuid,
        request: &WithdrawalRequest,
    ) -> Result<SignOff, Error> {
        self.post(&["v1", "sign-offs", &id.to_string(), "withdrawals"])
            .json(request)?
            .once()
            .read()
            .await
    }
}
