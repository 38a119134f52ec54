//! Practice: drills, grades, readings of sheets, sign-offs.

use etui_schema::countersignatures::{Countersignature, CountersignatureRequest};
use etui_schema::drills::{DrillGrade, DrillGradeRequest, DrillRequest, Drills};
use etui_schema::page::{Page, PageQuery};
use etui_schema::practice_sheets::{
    HandInRequest, HandedIn, PracticeDossier, PracticeErasure, PracticeProgress, PracticeSheet,
    PracticeSheetQuery, PracticeSheetRequest, ProgressQuery, SheetMarked, SheetMarksRequest,
    SheetPictureRequest,
};
use etui_schema::sheet_readings::{SheetReading, SheetReadingRequest};
use etui_schema::sign_offs::{SignOff, SignOffQuery, SignOffRequest, WithdrawalRequest};
use etui_schema::vocabulary::Reference;
use reqwest::Method;
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

    /// `POST /v1/sheet-readings`: measures a practice sheet from a picture. Experimental.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for bytes that are no picture that is read.
    pub async fn read_sheet(&self, request: &SheetReadingRequest) -> Result<SheetReading, Error> {
        self.post(&["v1", "sheet-readings"]).json(request)?.read().await
    }

    /// `POST /v1/practice-sheets`: makes a numbered sheet.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for an artist that is not the token's own.
    pub async fn make_practice_sheet(
        &self,
        request: &PracticeSheetRequest,
    ) -> Result<PracticeSheet, Error> {
        self.post(&["v1", "practice-sheets"]).json(request)?.once().read().await
    }

    /// `GET /v1/practice-sheets`: one page of an artist's sheets, first made first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 for an artist that the token may not see.
    pub async fn list_practice_sheets(
        &self,
        query: &PracticeSheetQuery,
    ) -> Result<Page<PracticeSheet>, Error> {
        let PracticeSheetQuery { artist_ref, limit, cursor } = query;
        self.get(&["v1", "practice-sheets"])
            .query_if("artist_ref", Some(artist_ref))
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/practice-sheets/{id}`: reads a sheet with what became of it.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_practice_sheet(&self, id: Uuid) -> Result<Tagged<PracticeSheet>, Error> {
        self.get(&["v1", "practice-sheets", &id.to_string()]).read_tagged().await
    }

    /// `POST /v1/practice-sheets/{id}/attempts`: hands a sheet in, once.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if it was handed in before or its day is over.
    pub async fn hand_in_practice_sheet(
        &self,
        id: Uuid,
        request: &HandInRequest,
    ) -> Result<HandedIn, Error> {
        self.post(&["v1", "practice-sheets", &id.to_string(), "attempts"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/practice-sheets/{id}/pictures`: hands a sheet in as a picture. Experimental.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a picture of another sheet.
    pub async fn hand_in_practice_picture(
        &self,
        id: Uuid,
        request: &SheetPictureRequest,
    ) -> Result<HandedIn, Error> {
        self.post(&["v1", "practice-sheets", &id.to_string(), "pictures"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `POST /v1/practice-sheets/{id}/marks`: marks a sheet, in the name of the trainer
    /// that the token acts for.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for whoever is no trainer.
    pub async fn mark_practice_sheet(
        &self,
        id: Uuid,
        request: &SheetMarksRequest,
    ) -> Result<SheetMarked, Error> {
        self.post(&["v1", "practice-sheets", &id.to_string(), "marks"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `GET /v1/artists/{artist_ref}/progress`: how far her practice is, and the way for an
    /// effect on a site that she has not begun.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 for an artist that the token may not see.
    pub async fn get_practice_progress(
        &self,
        artist_ref: &Reference,
        query: &ProgressQuery,
    ) -> Result<PracticeProgress, Error> {
        let ProgressQuery { effect, site } = query;
        self.get(&["v1", "artists", artist_ref.as_str(), "progress"])
            .query_if("effect", effect.as_ref())
            .query_if("site", site.as_ref())
            .read()
            .await
    }

    /// `GET /v1/artists/{artist_ref}/practice`: everything that is held on her practice.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if nothing is.
    pub async fn get_practice_dossier(
        &self,
        artist_ref: &Reference,
    ) -> Result<PracticeDossier, Error> {
        self.get(&["v1", "artists", artist_ref.as_str(), "practice"]).read().await
    }

    /// `DELETE /v1/artists/{artist_ref}/practice`: forgets it.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if nothing is held.
    pub async fn erase_practice(&self, artist_ref: &Reference) -> Result<PracticeErasure, Error> {
        self.request(Method::DELETE, &["v1", "artists", artist_ref.as_str(), "practice"])
            .read()
            .await
    }

    /// [`Client::erase_practice`] as a dry run: what would be forgotten, and nothing done.
    ///
    /// # Errors
    /// As [`Client::erase_practice`].
    pub async fn would_erase_practice(
        &self,
        artist_ref: &Reference,
    ) -> Result<PracticeErasure, Error> {
        self.request(Method::DELETE, &["v1", "artists", artist_ref.as_str(), "practice"])
            .query("dry_run", "true")
            .read()
            .await
    }

    /// `POST /v1/treatments/{id}/countersignatures`: confirms that the trainer that the
    /// token acts for was in the room.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for whoever is no trainer.
    pub async fn countersign_treatment(
        &self,
        id: Uuid,
        request: &CountersignatureRequest,
    ) -> Result<Countersignature, Error> {
        self.post(&["v1", "treatments", &id.to_string(), "countersignatures"])
            .json(request)?
            .once()
            .read()
            .await
    }

    /// `GET /v1/treatments/{id}/countersignatures/{countersignature_id}`: reads a countersignature.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn get_countersignature(
        &self,
        treatment: Uuid,
        id: Uuid,
    ) -> Result<Countersignature, Error> {
        self.entry(treatment, "countersignatures", id).await
    }

    /// `GET /v1/treatments/{id}/countersignatures`: one page of the countersignatures of a
    /// treatment.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if the client was erased.
    pub async fn list_countersignatures(
        &self,
        treatment: Uuid,
        query: &PageQuery,
    ) -> Result<Page<Countersignature>, Error> {
        self.entries(treatment, "countersignatures", query).await
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
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
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
