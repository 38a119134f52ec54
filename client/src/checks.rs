//! The pre-appointment check: the main job in one call.

use etui_schema::appointment_checks::{
    AppointmentCheck, AppointmentCheckRequest, CheckQuery, CheckRow, Replay,
};
use etui_schema::page::Page;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

const PATH: [&str; 2] = ["v1", "appointment-checks"];

/// Checks before appointments.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// let request = serde_json::from_value(serde_json::json!({
///     "booking_ref": "booking-2027-0311",
///     "client_ref": "client-0042",
///     "artist_ref": "artist-07",
///     "machine_ref": "liner-1",
///     "treatment": "lips",
///     "effect": "soft_shading",
///     "starts_at": "2027-04-06T08:00:00Z",
/// }))?;
/// // The same key for the same booking: repeated after a crash, it is made once.
/// let check = client.with_key("booking-2027-0311")?.create_appointment_check(&request).await?;
/// println!("{}: {}", check.verdict, check.summary);
/// # Ok(())
/// # }
/// ```
impl Client {
    /// `POST /v1/appointment-checks`: screening, needle, readiness, to-do list
    /// and aftercare in one answer, which is kept.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn create_appointment_check(
        &self,
        request: &AppointmentCheckRequest,
    ) -> Result<AppointmentCheck, Error> {
        self.post(&PATH).json(request)?.once().read().await
    }

    /// `GET /v1/appointment-checks`: one page of checks.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_appointment_checks(
        &self,
        query: &CheckQuery,
    ) -> Result<Page<CheckRow>, Error> {
        self.get(&PATH).query_of(query)?.read().await
    }

    /// Every check, in the order of the appointments.
    #[must_use]
    pub fn appointment_checks(&self) -> Pages<CheckRow> {
        Pages::new(self, &PATH, Vec::new())
    }

    /// `GET /v1/appointment-checks/{id}`: reads a check as it was given.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, or if its client
    /// was erased.
    pub async fn get_appointment_check(&self, id: Uuid) -> Result<Tagged<AppointmentCheck>, Error> {
        self.get(&[PATH[0], PATH[1], &id.to_string()]).read_tagged().await
    }

    /// `POST /v1/appointment-checks/{id}/replays`: computes a check again and
    /// says what differs. Nothing is written.
    ///
    /// # Errors
    /// As [`Client::get_appointment_check`].
    pub async fn replay_appointment_check(&self, id: Uuid) -> Result<Replay, Error> {
        self.post(&[PATH[0], PATH[1], &id.to_string(), "replays"]).read().await
    }
}
