//! Events: pulled by their sequence, or delivered to a subscription.

use crate::*;

/// The table of `events`.
#[macro_export]
macro_rules! events_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "plugins"
        methods {
            /// one event.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it is not kept any more.
            Get get_event "/v1/events/{id}" (id: Uuid) [EventsRead] => events::Event;
            /// the events behind a sequence.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 403 without the scope `admin`.
            Get list_events "/v1/events" [EventsRead], query events::EventQuery => events::EventPage;
            /// has events delivered; the secret is shown once.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for an address that may not be called.
            Once create_subscription "/v1/subscriptions" [Admin],
                body subscriptions::SubscriptionRequest => subscriptions::Subscription;
            /// one page of the subscriptions, first made first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_subscriptions "/v1/subscriptions" [Admin],
                query page::PageQuery => subscriptions::Subscription;
            /// one subscription.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_subscription "/v1/subscriptions/{id}" (id: Uuid) [Admin] => subscriptions::Subscription;
            /// changes, pauses or resumes a subscription, in the version that was read. The patch is one of RFC
            /// 7396.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 412 if it changed since.
            Patch patch_subscription "/v1/subscriptions/{id}" (id: Uuid) [Admin] => subscriptions::Subscription;
            /// removes a subscription, in the version that was read.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 412 if it changed since.
            Delete delete_subscription "/v1/subscriptions/{id}" (id: Uuid) [Admin] => subscriptions::Subscription;
            /// a new secret, shown once; for a time both sign.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such subscription.
            Once rotate_subscription_secret "/v1/subscriptions/{id}/secrets" (id: Uuid) [Admin],
                body subscriptions::SecretRequest => subscriptions::Subscription;
            /// one page of what became of events.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such subscription.
            List list_deliveries "/v1/subscriptions/{id}/deliveries" (id: Uuid) [Admin],
                query subscriptions::DeliveryQuery => subscriptions::Delivery, rows deliveries;
            /// what became of one event.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if it is not kept any more.
            Get get_delivery "/v1/subscriptions/{id}/deliveries/{delivery_id}" (id: Uuid, event_id: Uuid) [Admin]
                => subscriptions::Delivery;
            /// sends many events again.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if the receiver is gone.
            Once redeliver_events "/v1/subscriptions/{id}/redeliveries" (id: Uuid) [Admin],
                body subscriptions::RedeliveriesRequest => subscriptions::Redeliveries, dry would_redeliver_events;
            /// /// sends an event again. The id of a delivery is that of its event.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if the receiver took it already.
            Once redeliver_event "/v1/subscriptions/{id}/deliveries/{delivery_id}/redeliveries"
                (id: Uuid, delivery_id: Uuid) [Admin],
                body subscriptions::RedeliveryRequest => subscriptions::Delivery;
        }
        own {
            Get stream_events "/v1/events/stream" [EventsRead],
                query events::EventStreamQuery, as "text/event-stream";
        }
    }};
}

events_endpoints!(values);
