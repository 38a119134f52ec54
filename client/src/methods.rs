//! The methods that say nothing of their own: made of the lines of [`etui_schema::endpoints`].

use etui_schema::vocabulary::Reference;
use etui_schema::*;
use serde_json::Value;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

/// The lines of a table as methods. The first arm takes a table, the others one line.
macro_rules! methods {
    ([$($about:tt)*] $tag:literal methods {$(
        $(#[$doc:meta])* $how:ident $name:ident $path:literal
        $(($($place:ident: $of:ty),+))? $([$scope:ident])? $(, query $query:ty)? $(, body $body:ty)?
        $(=> $answer:ty)? $(, as $media:literal)? $(, dry $would:ident)? $(, rows $rows:ident)?;
    )*} own {$($own:tt)*}) => {
        $($about)*
        impl Client {$(
            methods! { $how [$($answer)?] $name, $name, $path, [$(#[$doc])*]
                [$($($place: $of),+)?] [$($query)?] [$($body)?] [] }
            methods! { dry [$($would)?] $how [$($answer)?] $name, $path, [$($($place: $of),+)?] [$($body)?] }
            methods! { rows [$($rows)?] $name [$($answer)?] [$($($place: $of),+)?] }
        )*}
    };
    (dry [] $($line:tt)*) => {};
    (dry [$would:ident] $how:ident $answer:tt $name:ident, $path:literal, $places:tt $body:tt) => {
        methods! { $how $answer $would, $name, $path, [
            #[doc = concat!("[`Client::", stringify!($name), "`] as a dry run: what would be, and nothing done.")]
            ///
            /// # Errors
            /// As of the operation itself.
        ] $places [] $body [dry] }
    };
    (rows [] $($line:tt)*) => {};
    (rows [$rows:ident] $name:ident [$row:ty] [$($place:ident: $of:ty),*]) => {
        #[doc = concat!("Every row of [`Client::", stringify!($name), "`], page after page.")]
        #[must_use]
        pub fn $rows(&self $(, $place: $of)*) -> Pages<$row> {
            Pages::new(self, endpoints::$name().at, &[$(&$place),*], Vec::new())
        }
    };
    (Get [$answer:ty] $($line:tt)*) => { methods! { "GET" read $answer, [] $($line)* } };
    (Tagged [$answer:ty] $($line:tt)*) => { methods! { "GET" read_tagged Tagged<$answer>, [] $($line)* } };
    (List [$row:ty] $($line:tt)*) => { methods! { "GET" read page::Page<$row>, [] $($line)* } };
    (Text [] $($line:tt)*) => { methods! { "GET" read_text String, [] $($line)* } };
    (Post [$answer:ty] $($line:tt)*) => { methods! { "POST" read $answer, [] $($line)* } };
    (Once [$answer:ty] $($line:tt)*) => { methods! { "POST" read $answer, [] $($line)* } };
    (Put [$answer:ty] $($line:tt)*) => {
        methods! { "PUT" read_tagged Tagged<$answer>, [if_match: Option<&str>, if_match] $($line)* }
    };
    (Patch [$answer:ty] $($line:tt)*) => {
        methods! { "PATCH" read_tagged Tagged<$answer>, [patch: &Value, merging; etag: &str, if_match] $($line)* }
    };
    (Delete [$answer:ty] $($line:tt)*) => {
        methods! { "DELETE" read $answer, [etag: &str, if_match] $($line)* }
    };
    (Take [$answer:ty] $($line:tt)*) => {
        methods! { "DELETE" read $answer, [if_match: Option<&str>, if_match] $($line)* }
    };
    (Close [$answer:ty] $($line:tt)*) => { methods! { "DELETE" read $answer, [] $($line)* } };
    ($method:literal $read:ident $answer:ty, [$($more:ident: $kind:ty, $with:ident);*]
        $called:ident, $name:ident, $path:literal, [$(#[$doc:meta])*]
        [$($place:ident: $of:ty),*] [$($query:ty)?] [$($body:ty)?] [$($then:ident)?]) => {
        #[doc = concat!("`", $method, " ", $path, "`:")]
        $(#[$doc])*
        pub async fn $called(
            &self
            $(, $place: $of)*
            $(, query: &$query)?
            $(, request: &$body)?
            $(, $more: $kind)*
        ) -> Result<$answer, Error> {
            self.to(endpoints::$name().at, &[$(&$place),*])
                $(.query_of::<$query>(query)?)?
                $(.json::<$body>(request)?)?
                $(.$with($more)?)*
                $(.$then())?
                .$read()
                .await
        }
    };
}

labels_endpoints! { methods
    /// Reading packets.
}
configurations_endpoints! { methods
    /// What needles do in skin.
}
screening_endpoints! { methods
    /// Questions, assessments, skin typing. Nothing of it is stored.
}
aftercare_endpoints! { methods
    /// What happens after, and what cannot wait.
}
reminders_endpoints! { methods
    /// Due messages, shared among scripts; calendars to subscribe to.
    ///
    /// ```no_run
    /// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
    /// use etui_schema::reminders::{OutcomeRequest, ReminderClaimRequest, ReminderOutcome};
    ///
    /// let wanted = ReminderClaimRequest { limit: 50, lease_seconds: 600 };
    /// let claim = client.claim_reminders(&wanted).await?;
    /// let Some(claim_id) = claim.claim_id else { return Ok(()) };
    /// for reminder in &claim.reminders {
    ///     println!("to {}: {}", reminder.client_ref, reminder.text);
    ///     let sent = OutcomeRequest {
    ///         claim_id,
    ///         outcome: ReminderOutcome::Delivered,
    ///         reason: None,
    ///         retry_after_seconds: None,
    ///     };
    ///     client.report_reminder(reminder.id, &sent).await?;
    /// }
    /// # Ok(())
    /// # }
    /// ```
}
checks_endpoints! { methods
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
}
records_endpoints! { methods
    /// Records under the caller's own references.
    ///
    /// A PUT creates the record; to replace one that exists it needs the `etag`
    /// under which it was read.
    ///
    /// ```no_run
    /// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
    /// use etui_schema::machines::MachineRecord;
    /// use etui_schema::vocabulary::Give;
    ///
    /// let machine = "liner-1".parse()?;
    /// let record = MachineRecord::new(3.5, 110.0, Give::Medium);
    /// let kept = client.put_machine(&machine, &record, None).await?;
    /// let slower = MachineRecord { rate_hz: 90.0, ..record };
    /// client.put_machine(&machine, &slower, Some(&kept.etag)).await?;
    /// # Ok(())
    /// # }
    /// ```
}
drawer_endpoints! { methods
    /// The drawer and what a recall needs.
}
entries_endpoints! { methods
    /// What is added to a treatment.
}
treatments_endpoints! { methods
    /// Treatment records, and what came of them.
}
training_endpoints! { methods
    /// What is practised before a face, and what trainers answer for.
}
plugins_endpoints! { methods
    /// Programs of the studio, each with its own tokens, scopes and limits.
    ///
    /// ```no_run
    /// # async fn run(owner: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
    /// use etui_schema::access::Scope;
    /// use etui_schema::plugins::{PluginRequest, PluginTokenRequest};
    ///
    /// let booking = PluginRequest {
    ///     name: "booking".parse()?,
    ///     description: None,
    ///     scopes: vec![Scope::Compute, Scope::ClientsRead],
    ///     allow_admin: None,
    ///     requests_per_minute: Some(600),
    ///     requests_per_day: None,
    ///     artists: None,
    ///     branches: None,
    /// };
    /// let booking = owner.register_plugin(&booking).await?;
    /// let token = PluginTokenRequest {
    ///     name: "front-desk".parse()?,
    ///     scopes: None,
    ///     expires_at: None,
    ///     acts_for: None,
    ///     artists: None,
    ///     branches: None,
    /// };
    /// let token = owner.issue_plugin_token(booking.id, &token).await?;
    /// println!("keep this: {}", token.secret.unwrap_or_default());
    /// # Ok(())
    /// # }
    /// ```
}
packs_endpoints! { methods
    /// Packs. A PUT creates one; to replace one that exists it needs the `etag`
    /// under which it was read.
    ///
    /// ```no_run
    /// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
    /// use etui_schema::packs::{PackDryRunRequest, RulesPack};
    /// let pack: RulesPack = serde_json::from_value(serde_json::json!({
    ///     "tighten": [{ "rule": "isotretinoin_recent", "period": "P12M" }],
    /// }))?;
    /// let name = "house".parse()?;
    /// let ask = PackDryRunRequest { pack: Some(pack.clone()), ..PackDryRunRequest::default() };
    /// for change in client.dry_run_rules_pack(&name, &ask).await?.changes {
    ///     println!("{}: {} becomes {}", change.booking_ref, change.from, change.to);
    /// }
    /// client.put_rules_pack(&name, &pack, None).await?;
    /// # Ok(())
    /// # }
    /// ```
}
events_endpoints! { methods
    /// Where events are delivered to. What arrives there is checked with
    /// [`crate::webhook::verify_webhook`].
}
service_endpoints! { methods
    /// Health, figures, documents.
}
