//! One operation of the interface, described once.
//!
//! The same value routes the request, guards it (scope), and documents it
//! (OpenAPI), so none of the three can drift from the others. It is made of the
//! endpoint that `etui_schema::endpoints` has of it, with which the client makes
//! its method; what only the service knows is said to it here.

use actix_web::Route;
use actix_web::http::Method;
use etui_schema::access::Scope;
use etui_schema::describe::JsonSchema;
use etui_schema::endpoints::{At, Endpoint, How, Nothing};
use etui_schema::merge_patch::{MEDIA_TYPE, MergePatch};
use etui_schema::problem::ErrorCode;
use etui_schema::sheets::CheckSummary;
use etui_schema::short::ShortQuery;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::document::{SchemaOf, schema_of};
use super::failure::Failure;
use super::query;
use super::views::{self, Short};

/// The schema of a part of an endpoint, if it has that part.
fn part<T: JsonSchema + 'static>() -> Option<SchemaOf> {
    (!Nothing::is::<T>()).then_some(schema_of::<T>())
}

/// A body the operation can answer with.
#[derive(Clone)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) description: &'static str,
    /// Media type and, for JSON, the schema. Empty for an answer without body.
    pub(crate) content: Vec<(&'static str, Option<SchemaOf>)>,
}

/// A parameter of the path that is neither an `id` of ours nor a reference of
/// the caller's.
#[derive(Clone)]
pub(crate) struct Place {
    pub(crate) name: &'static str,
    pub(crate) says: &'static str,
    /// Its JSON Schema, with `examples`.
    pub(crate) schema: Value,
}

/// One operation.
#[derive(Clone)]
pub(crate) struct Operation {
    pub(crate) method: Method,
    pub(crate) path: &'static str,
    pub(crate) id: &'static str,
    pub(crate) tag: &'static str,
    pub(crate) summary: &'static str,
    pub(crate) description: &'static str,
    /// The scope that a token has to have. `None`: open to all, or, if
    /// `any_token` is set, to whoever has a valid token.
    pub(crate) scope: Option<Scope>,
    pub(crate) any_token: bool,
    pub(crate) body: Option<SchemaOf>,
    /// Media type of the body.
    pub(crate) reads: &'static str,
    pub(crate) query: Option<SchemaOf>,
    /// The short view that `short=true` asks for.
    pub(crate) short: Option<Short>,
    /// Refuses a query that holds what is not declared, or not as it is declared.
    reads_query: fn(&'static str, &str) -> Result<(), Failure>,
    pub(crate) places: Vec<Place>,
    /// Media type and, for JSON, the schema of its answers.
    media: &'static str,
    answer: Option<SchemaOf>,
    pub(crate) answers: Vec<Answer>,
    /// Error codes besides those that every operation has.
    pub(crate) errors: Vec<ErrorCode>,
    pub(crate) takes_idempotency_key: bool,
    pub(crate) takes_if_match: bool,
    does_without: bool,
    /// Whether a 201 says where what was made is read.
    pub(crate) tells_location: bool,
    pub(crate) takes_if_none_match: bool,
    /// Whether its texts are in the language that the caller asks for.
    pub(crate) speaks: bool,
    /// Whether its answer holds a secret.
    pub(crate) tells_secret: bool,
    /// Whether `Prefer: return=minimal` is honoured: what it would have answered can be
    /// read afterwards.
    pub(crate) can_be_brief: bool,
    is_whole: bool,
    /// Largest body in bytes.
    pub(crate) body_limit: usize,
    pub(crate) route: fn() -> Route,
}

/// Bodies up to this size are read unless an operation says otherwise.
pub(crate) const BODY_LIMIT: usize = 256 * 1024;

impl Operation {
    /// The operation of an endpoint, with what the endpoint says of it.
    pub(crate) fn of<Q, B, A>(endpoint: Endpoint<Q, B, A>, route: fn() -> Route) -> Self
    where
        Q: DeserializeOwned + JsonSchema + 'static,
        B: JsonSchema + 'static,
        A: JsonSchema + 'static,
    {
        let plain = Self::new(endpoint.at, part::<A>(), route);
        let asked = if Nothing::is::<Q>() { plain } else { plain.query::<Q>() };
        asked.body(part::<B>()).called(endpoint.at.how)
    }

    /// What goes with how it is called. What names a record of ours may not find it; a PUT makes it.
    fn called(self, how: How) -> Self {
        let finds = ["id}", "_ref}", "{pack}"].iter().any(|name| self.path.contains(name));
        let called = match how {
            How::Put => return self.if_match(),
            How::Get | How::Text | How::Post | How::Close => self,
            How::Tagged => self.if_none_match(),
            How::List => self.errors([ErrorCode::Unavailable]),
            How::Once => self.idempotent(),
            How::Delete | How::Take => self.if_match(),
            How::Patch => self.merges().if_match(),
        };
        if finds { called.finds() } else { called }
    }

    fn new(at: At, answer: Option<SchemaOf>, route: fn() -> Route) -> Self {
        let method = Method::from_bytes(at.how.method().as_bytes()).unwrap_or_default();
        Self {
            can_be_brief: [Method::PUT, Method::PATCH, Method::DELETE].contains(&method),
            method,
            path: at.path,
            id: at.id,
            tag: at.tag,
            summary: "",
            description: "",
            scope: at.scope,
            any_token: false,
            body: None,
            reads: "application/json",
            query: None,
            short: None,
            reads_query: query::takes_none,
            places: Vec::new(),
            media: at.media,
            answer,
            answers: Vec::new(),
            errors: Vec::new(),
            takes_idempotency_key: false,
            takes_if_match: false,
            does_without: false,
            tells_location: false,
            takes_if_none_match: false,
            speaks: false,
            tells_secret: false,
            is_whole: false,
            body_limit: BODY_LIMIT,
            route,
        }
    }

    pub(crate) fn says(mut self, summary: &'static str, description: &'static str) -> Self {
        self.summary = summary;
        self.description = description;
        self
    }

    /// Open to every valid token, whatever its scopes.
    pub(crate) fn any_token(mut self) -> Self {
        self.any_token = true;
        self
    }

    /// Whether it can be asked so.
    pub(crate) fn takes_query(&self, text: &str) -> Result<(), Failure> {
        (self.reads_query)(self.id, text)
    }

    /// Whether it is closed to those without a token.
    pub(crate) fn needs_token(&self) -> bool {
        self.any_token || self.scope.is_some()
    }

    fn body(mut self, schema: Option<SchemaOf>) -> Self {
        if schema.is_none() {
            return self;
        }
        self.body = schema;
        self.errors([
            ErrorCode::UnreadableBody,
            ErrorCode::Timeout,
            ErrorCode::BodyTooLarge,
            ErrorCode::UnsupportedMediaType,
            ErrorCode::InvalidValue,
        ])
    }

    /// Takes the body of its endpoint in another form as well.
    pub(crate) fn takes<T: JsonSchema>(self) -> Self {
        self.body(Some(schema_of::<T>()))
    }

    /// Takes a merge patch.
    fn merges(self) -> Self {
        Self { reads: MEDIA_TYPE, ..self.body(Some(schema_of::<MergePatch>())) }
    }

    /// Takes bodies up to `bytes` instead of [`BODY_LIMIT`].
    pub(crate) fn up_to(mut self, bytes: usize) -> Self {
        self.body_limit = bytes;
        self
    }

    fn query<T: DeserializeOwned + JsonSchema>(mut self) -> Self {
        self.query = Some(schema_of::<T>());
        self.reads_query = query::takes::<T>;
        self.errors([ErrorCode::UnreadableRequest])
    }

    /// The answer named last has a short view: some of its members.
    pub(crate) fn shortens<S: DeserializeOwned + Serialize + JsonSchema>(self) -> Self {
        self.short_by(Short { schema: schema_of::<S>(), make: views::part::<S> })
    }

    /// The answer named last has a short view.
    pub(crate) fn short_by(mut self, short: Short) -> Self {
        self.short = Some(short);
        if let Some(answer) = self.answers.last_mut() {
            answer.content.push((etui_schema::short::MEDIA_TYPE, Some(short.schema)));
        }
        self.query::<ShortQuery>()
    }

    /// The answer named last is a check, whose short view is its summary.
    pub(crate) fn summarises(self) -> Self {
        self.short_by(Short { schema: schema_of::<CheckSummary>(), make: views::summary })
    }

    /// Describes a parameter of the path; `{id}` (a UUID) and `{…_ref}` (a
    /// reference) need no description.
    pub(crate) fn place(mut self, name: &'static str, says: &'static str, schema: Value) -> Self {
        self.places.push(Place { name, says, schema });
        self
    }

    pub(crate) fn answers(mut self, status: u16, description: &'static str) -> Self {
        let content = vec![(self.media, self.answer)];
        self.answers.push(Answer { status, description, content });
        self
    }

    /// The answer named last can also be had in these media types.
    pub(crate) fn or_as(mut self, media: &[&'static str]) -> Self {
        if let Some(answer) = self.answers.last_mut() {
            answer.content.extend(media.iter().map(|media| (*media, None)));
        }
        self
    }

    pub(crate) fn errors(mut self, codes: impl IntoIterator<Item = ErrorCode>) -> Self {
        for code in codes {
            if !self.errors.contains(&code) {
                self.errors.push(code);
            }
        }
        self
    }

    /// A POST that writes: takes an `Idempotency-Key`, meets the store.
    fn idempotent(mut self) -> Self {
        self.takes_idempotency_key = true;
        self.errors([
            ErrorCode::Conflict,
            ErrorCode::IdempotencyKeyReused,
            ErrorCode::Unavailable,
            ErrorCode::NoSpace,
        ])
    }

    /// A 201 says where what was made is read; then the answer itself can be spared.
    pub(crate) fn located(self) -> Self {
        let can_be_brief = !(self.tells_secret || self.is_whole);
        Self { tells_location: true, can_be_brief, ..self }
    }

    /// Whether a 201 has a `Location`: what a PUT makes is read where it was put.
    pub(crate) fn locates(&self) -> bool {
        self.tells_location || self.method == Method::PUT
    }

    /// Its texts are in the language that the caller asks for.
    pub(crate) fn speaks(self) -> Self {
        Self { speaks: true, ..self }
    }

    /// Its answer holds a secret, once: it is never spared, and never compressed, since the
    /// length of what is compressed tells of a secret that stands beside what the caller sent.
    pub(crate) fn tells_secret(self) -> Self {
        Self { tells_secret: true, can_be_brief: false, ..self }
    }

    /// Its answer is all there is of it, and is given whatever the caller prefers.
    pub(crate) fn always_whole(self) -> Self {
        Self { is_whole: true, can_be_brief: false, ..self }
    }

    /// Whether something can be different after it.
    pub(crate) fn writes(&self) -> bool {
        self.takes_idempotency_key
            || self.takes_if_match
            || self.can_be_brief
            || self.errors.contains(&ErrorCode::NoSpace)
            || matches!(self.method.as_str(), "PUT" | "PATCH" | "DELETE")
    }

    /// Its answer is sealed under a client's key: once she is erased it is not given again.
    pub(crate) fn until_erased(self) -> Self {
        self.errors([ErrorCode::Erased])
    }

    /// Whether it refuses to do anything without `If-Match`: nothing comes to be by it.
    pub(crate) fn needs_if_match(&self) -> bool {
        self.takes_if_match && self.method != Method::PUT && !self.does_without
    }

    /// Takes something away that opens a way in: looks at `If-Match` where it is sent, and waits
    /// for nobody to read a version first.
    pub(crate) fn if_match_sent(mut self) -> Self {
        (self.takes_if_match, self.does_without) = (true, true);
        self.errors([ErrorCode::PreconditionFailed, ErrorCode::Conflict, ErrorCode::NoSpace])
    }

    /// Changes what exists: needs `If-Match` once the record exists.
    fn if_match(mut self) -> Self {
        self.takes_if_match = true;
        self.errors([
            ErrorCode::PreconditionFailed,
            ErrorCode::PreconditionRequired,
            ErrorCode::Unavailable,
            ErrorCode::NoSpace,
        ])
    }

    /// Answers 304 to a matching `If-None-Match`.
    pub(crate) fn if_none_match(mut self) -> Self {
        self.takes_if_none_match = true;
        self
    }

    /// Reads from the store by an id or a reference in the path.
    pub(crate) fn finds(self) -> Self {
        self.errors([ErrorCode::NotFound, ErrorCode::Unavailable])
    }

    /// The names of the path's parameters in their order.
    pub(crate) fn path_parameters(&self) -> impl Iterator<Item = &'static str> {
        self.path.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name)
    }

    /// Every media type an answer of this operation can have.
    pub(crate) fn media_types(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.answers.iter().flat_map(|answer| answer.content.iter().map(|(media, _)| *media))
    }
}
