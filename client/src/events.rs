//! Events: pulled by their sequence, or delivered to a subscription.

use std::collections::VecDeque;
use std::time::Duration;

use etui_schema::events::{Event, EventPage, EventQuery, Sequence};
use etui_schema::page::{Page, PageQuery};
use etui_schema::subscriptions::{
    Delivery, DeliveryQuery, Redeliveries, RedeliveriesRequest, RedeliveryRequest, SecretRequest,
    Subscription, SubscriptionRequest,
};
use reqwest::Method;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

/// Pause between two questions of [`Follow`] when nothing is new.
const PAUSE: Duration = Duration::from_secs(2);

/// What happened, for those who ask.
impl Client {
    /// `GET /v1/events/{id}`: one event.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if it is not kept any more.
    pub async fn get_event(&self, id: Uuid) -> Result<Event, Error> {
        self.get(&["v1", "events", &id.to_string()]).read().await
    }

    /// `GET /v1/events`: the events behind a sequence.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 403 without the scope `admin`.
    pub async fn list_events(&self, query: &EventQuery) -> Result<EventPage, Error> {
        self.get(&["v1", "events"]).query_of(query)?.read().await
    }

    /// Every event behind a sequence, and then each as it happens.
    #[must_use]
    pub fn follow_events(&self, after: Sequence) -> Follow {
        Follow { client: self.clone(), after, held: VecDeque::new(), pause: PAUSE }
    }
}

/// Events one after the other, for ever. Keep the sequence of the last one that
/// was dealt with: whoever begins behind it misses nothing and gets nothing
/// twice.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::events::Sequence;
///
/// let mut events = client.follow_events(Sequence(0));
/// loop {
///     let event = events.next().await?;
///     println!("{} {}", event.kind, event.subject);
///     // Here: keep `event.sequence` with what was done about it.
/// }
/// # }
/// ```
#[derive(Debug)]
pub struct Follow {
    client: Client,
    after: Sequence,
    held: VecDeque<Event>,
    pause: Duration,
}

impl Follow {
    /// Asks this often while nothing is new (every 2 s unless set).
    #[must_use]
    pub fn every(mut self, pause: Duration) -> Self {
        self.pause = pause;
        self
    }

    /// The next event; waits until there is one. After an error it may be asked
    /// again, and when the future is dropped nothing is lost.
    ///
    /// # Errors
    /// [`Error`] of the question that failed.
    pub async fn next(&mut self) -> Result<Event, Error> {
        loop {
            if let Some(event) = self.held.pop_front() {
                self.after = event.sequence;
                return Ok(event);
            }
            let query = EventQuery { after: Some(self.after), ..EventQuery::default() };
            let page = self.client.list_events(&query).await?;
            if page.items.is_empty() {
                tokio::time::sleep(self.pause).await;
            }
            self.held = page.items.into();
        }
    }

    /// The sequence of the event that was given last.
    #[must_use]
    pub fn last(&self) -> Sequence {
        self.after
    }
}

/// Where events are delivered to. What arrives there is checked with
/// [`crate::webhook::verify_webhook`].
impl Client {
    /// `POST /v1/subscriptions`: has events delivered; the secret is shown once.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for an address that may not be called.
    pub async fn create_subscription(
        &self,
        request: &SubscriptionRequest,
    ) -> Result<Subscription, Error> {
        self.post(&["v1", "subscriptions"]).json(request)?.once().read().await
    }

    /// `GET /v1/subscriptions`: one page of the subscriptions, first made first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_subscriptions(&self, query: &PageQuery) -> Result<Page<Subscription>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "subscriptions"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/subscriptions/{id}`: one subscription.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_subscription(&self, id: Uuid) -> Result<Tagged<Subscription>, Error> {
        self.get(&["v1", "subscriptions", &id.to_string()]).read_tagged().await
    }

    /// `PATCH /v1/subscriptions/{id}`: changes, pauses or resumes a subscription, in the
    /// version that was read. The patch is one of RFC 7396.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 412 if it changed since.
    pub async fn patch_subscription(
        &self,
        id: Uuid,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<Subscription>, Error> {
        self.request(Method::PATCH, &["v1", "subscriptions", &id.to_string()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `DELETE /v1/subscriptions/{id}`: removes a subscription, in the version
    /// that was read.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 412 if it changed since.
    pub async fn delete_subscription(&self, id: Uuid, etag: &str) -> Result<Subscription, Error> {
        self.request(Method::DELETE, &["v1", "subscriptions", &id.to_string()])
            .if_match(Some(etag))?
            .read()
            .await
    }

    /// `POST /v1/subscriptions/{id}/secrets`: a new secret, shown once; for a
    /// time both sign.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such subscription.
    pub async fn rotate_subscription_secret(
        &self,
        id: Uuid,
        request: &SecretRequest,
    ) -> Result<Subscription, Error> {
        let path = ["v1", "subscriptions", &id.to_string(), "secrets"];
        self.post(&path).json(request)?.once().read().await
    }

    /// `GET /v1/subscriptions/{id}/deliveries`: one page of what became of events.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such subscription.
    pub async fn list_deliveries(
        &self,
        id: Uuid,
        query: &DeliveryQuery,
    ) -> Result<Page<Delivery>, Error> {
        let path = ["v1", "subscriptions", &id.to_string(), "deliveries"];
        self.get(&path).query_of(query)?.read().await
    }

    /// `GET /v1/subscriptions/{id}/deliveries/{delivery_id}`: what became of one event.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if it is not kept any more.
    pub async fn get_delivery(&self, id: Uuid, event_id: Uuid) -> Result<Delivery, Error> {
        let (id, event_id) = (id.to_string(), event_id.to_string());
        self.get(&["v1", "subscriptions", &id, "deliveries", &event_id]).read().await
    }

    /// Every delivery of a subscription, in the order of the events.
    #[must_use]
    pub fn deliveries(&self, id: Uuid) -> Pages<Delivery> {
        Pages::new(self, &["v1", "subscriptions", &id.to_string(), "deliveries"], Vec::new())
    }

    /// `POST /v1/subscriptions/{id}/redeliveries`: sends many events again.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if the receiver is gone.
    pub async fn redeliver_events(
        &self,
        id: Uuid,
        request: &RedeliveriesRequest,
    ) -> Result<Redeliveries, Error> {
        let path = ["v1", "subscriptions", &id.to_string(), "redeliveries"];
        self.post(&path).json(request)?.once().read().await
    }

    /// `POST /v1/subscriptions/{id}/deliveries/{delivery_id}/redeliveries`:
    /// sends an event again. The id of a delivery is that of its event.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if the receiver took it already.
    pub async fn redeliver_event(
        &self,
        id: Uuid,
        delivery_id: Uuid,
        request: &RedeliveryRequest,
    ) -> Result<Delivery, Error> {
        let (id, delivery_id) = (id.to_string(), delivery_id.to_string());
        let path = ["v1", "subscriptions", &id, "deliveries", &delivery_id, "redeliveries"];
        self.post(&path).json(request)?.once().read().await
    }
}
