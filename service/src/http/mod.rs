//! The HTTP face: the only place that names actix-web and utoipa.
//!
//! # How a request travels
//!
//! [`frame`] (host check, request id, net, log) → the resource's route →
//! [`call::Call`] (operation, token, limits, scope, accepted media type) →
//! [`body::Body`] or [`query::Query`] (every fault at once) → the handler
//! (read, call a use case of [`crate::studio`], answer) → [`answer`].
//!
//! # Adding an endpoint
//!
//! 1. `schema/src/<noun>.rs`: request and answer types, each behind the word for what it is
//!    (`schema/src/kinds.rs`): a body is `#[sent]` and has garde limits, a query `#[asked]`, an
//!    answer `#[told]`.
//!    Every field has a doc comment: it is the documentation that callers see.
//! 2. `service/src/studio/<noun>.rs`: the use case. It gets the craft (and a
//!    snapshot of the store), the request and the date or moment as arguments,
//!    and gives back the answer or a [`crate::studio::Error`] with faults by
//!    pointer. Domain types are converted by naming every field.
//! 3. `schema/src/endpoints/<room>.rs`: one line, which says how it is called,
//!    id, path, scope, query, body and answer ([`etui_schema::endpoints`] has
//!    the form). From here on it is a value, and the client has its method.
//! 4. `service/src/http/<noun>.rs`: `operations()` with one
//!    [`operation::Operation`] of that value (it routes, guards and documents)
//!    and the handlers, a few lines each, with [`call::Call`] as their first
//!    argument: that extractor is what checks the token.
//! 5. One line in [`routes`].
//!
//!    What the judges of the document (`tests/conformance/run`) want besides:
//!    - `{id}` and `{…_id}` are UUIDs of ours, `{…_ref}` a reference; any other parameter
//!      of the path is described with `.place(name, says, schema)`, with a
//!      format, pattern or enum and `examples`. A fixed ending such as
//!      `/{token}.ics` stands in the path, not in the parameter.
//!    - What a query type's schema says is enforced for every operation before its
//!      handler runs (one without a query type takes no parameter at all): write
//!      limits as `#[schemars(…)]` (or garde) on the field and check nothing
//!      again. Faults are 400 with `query:NAME`; do not send 422 for them.
//!    - A body is refused for `null` and for a list in place of an object by its
//!      schema; do not take either for something else.
//!    - Every status that a handler can answer is declared: `.answers(…)`,
//!      `.errors([…])`, and `.finds()` (404, 503) where the path names no record of ours by
//!      `{id}` or `{…_ref}`. What goes with how it is called is there by itself.
//!      A POST that makes something answers 201 with an `id: Uuid` in its body,
//!      and its GET stands at the same path with `/{id}`: links follow from
//!      that alone. A GET of what was just made must not be a 404.
//!    - No two templates may fit the same request, paths are lower case with
//!      hyphens and have no slash at the end.
//!    - A type's name is unique in the whole document, and every type and every
//!      member has a doc comment. Unions are internally tagged enums with struct
//!      variants; no tuple structs, no `flatten`, no untagged enums, no
//!      `serde_json::Value` where a type can be written.
//!    - Whatever text the schema accepts must never be a 500: control characters,
//!      unpaired quotes, the longest text, the largest number.
//!    - Within `/v1` nothing that was released may break (`black_box/compatible.rs`).
//! 6. `tests/src/tour.rs`: one request, so that the recorded example exists;
//!    then `UPDATE=1 cargo test --workspace drift` rewrites `openapi/`; where a query or a body is new,
//!    twice: until then the program goes by the document that it was built with.
//! 7. `client/src/`: one method, where its line stands under `own`.
//! 8. `tests/tests/black_box/<noun>.rs`: what it must answer, and what it must refuse.

pub(crate) mod aftercare_plans;
pub(crate) mod answer;
pub(crate) mod api_catalog;
pub(crate) mod appointment_checks;
pub(crate) mod artists;
pub(crate) mod aside;
pub mod background;
pub(crate) mod backups;
pub(crate) mod body;
pub mod boot;
pub(crate) mod branches;
pub(crate) mod calendars;
pub(crate) mod call;
pub(crate) mod clients;
pub mod clock;
pub(crate) mod clock_state;
pub(crate) mod compute;
pub(crate) mod configuration_comparisons;
pub(crate) mod configuration_drawings;
pub(crate) mod cors;
pub(crate) mod deliveries;
pub(crate) mod docs;
pub mod document;
pub(crate) mod documents;
pub(crate) mod drills;
pub(crate) mod encoding;
pub(crate) mod event_stream;
pub(crate) mod events;
pub(crate) mod failure;
pub(crate) mod faults;
pub(crate) mod figures;
pub(crate) mod frame;
pub(crate) mod hand_profiles;
mod handler;
pub(crate) mod health;
pub(crate) mod hosts;
pub(crate) mod label_readings;
pub(crate) mod limits;
pub(crate) mod lots;
pub(crate) mod machines;
pub(crate) mod meta;
pub(crate) mod needle_selections;
#[cfg(feature = "describe")]
pub mod openapi;
#[cfg_attr(
    not(feature = "describe"),
    expect(dead_code, reason = "much is said of an operation for the document alone")
)]
pub(crate) mod operation;
pub(crate) mod packs;
pub(crate) mod patch;
pub(crate) mod pictures;
pub(crate) mod plugins;
pub(crate) mod practice;
pub(crate) mod preferences;
pub(crate) mod problems;
pub(crate) mod puncture_patterns;
pub(crate) mod query;
pub(crate) mod recalls;
pub(crate) mod reminders;
pub(crate) mod retention;
pub(crate) mod routes;
pub mod server;
pub(crate) mod sheet_readings;
pub(crate) mod sheets;
pub(crate) mod short;
pub(crate) mod sight;
pub(crate) mod sign_offs;
pub(crate) mod skin_assessments;
pub(crate) mod skin_typing;
pub(crate) mod slices;
pub(crate) mod state;
pub(crate) mod subscriptions;
pub(crate) mod symptom_reports;
pub(crate) mod tokens;
pub(crate) mod treatment_aftercare;
pub(crate) mod treatment_history;
pub(crate) mod treatments;
pub(crate) mod uses;
pub(crate) mod validator;
pub(crate) mod views;
pub(crate) mod write;

/// What the service runs on, for whoever starts it.
pub(crate) use actix_web::rt;
