//! One request as a handler sees it: who calls, when, and under which headers.
//!
//! Taking a [`Call`] is what guards a handler: the extractor finds the
//! operation, checks the bearer token and its scope, and refuses what cannot
//! be answered in an accepted media type and what no parameter of the operation
//! means: a request that says more than is understood is never carried out.

use std::future::{Ready, ready};
use std::sync::Arc;

use actix_web::http::Method;
use actix_web::http::header::{self, HeaderName};
use actix_web::{FromRequest, HttpMessage, HttpRequest, dev, web};
use etui_schema::access::Scope;
use etui_schema::problem::{ErrorCode, Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Language, Reference};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;

use super::failure::{DAMAGED, Failure};
use super::operation::Operation;
use super::preferences;
use super::query::{self, Query};
use super::sight;
use super::state::{Seen, State};
use super::tokens::Caller;
use super::write;
use crate::studio::moment::Moment;

/// The operations of one path, kept beside its resource.
#[derive(Clone)]
pub(crate) struct AtPath(pub(crate) Arc<Vec<Operation>>);

impl AtPath {
    /// The value of `Allow` (RFC 9110, 10.2.1).
    pub(crate) fn allow(&self) -> String {
        let mut methods: Vec<&str> = Vec::new();
        for operation in self.0.iter() {
            methods.push(operation.method.as_str());
            if operation.method == Method::GET {
                methods.push("HEAD");
            }
        }
        methods.join(", ")
    }
}

/// The operation a request was routed to.
pub(crate) fn operation_of(req: &HttpRequest) -> Option<&Operation> {
    let wanted = if req.method() == Method::HEAD { &Method::GET } else { req.method() };
    req.app_data::<AtPath>()?.0.iter().find(|operation| operation.method == *wanted)
}

/// Why nobody's token can be judged: what other processes changed could not be asked for.
pub(crate) struct Behind(pub(crate) Failure);

/// The language that the texts of an answer are in.
#[derive(Clone, Copy)]
pub(crate) struct Spoken(pub(crate) Language);

/// The media type of an answer was chosen by `Accept`.
#[derive(Clone, Copy)]
pub(crate) struct Chosen;

/// The first language of an `Accept-Language` that the service speaks.
fn first_spoken(wanted: &str) -> Language {
    let mut ranked: Vec<(f32, Language)> = wanted
        .split(',')
        .filter_map(|part| {
            let (tag, weight) = part.split_once(";q=").unwrap_or((part, "1"));
            let primary = tag.trim().split('-').next()?.to_ascii_lowercase();
            let language = if primary == "*" { Language::En } else { primary.parse().ok()? };
            Some((weight.trim().parse().ok()?, language))
        })
        .filter(|(weight, _)| 0.0 < *weight)
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    ranked.first().map_or(Language::En, |(_, language)| *language)
}

/// The language that a request asks for.
pub(crate) fn asked_for(req: &HttpRequest) -> Language {
    let wanted = req.headers().get(header::ACCEPT_LANGUAGE).and_then(|wanted| wanted.to_str().ok());
    wanted.map_or(Language::En, first_spoken)
}

/// A guarded request.
pub(crate) struct Call {
    pub(crate) state: Seen,
    pub(crate) caller: Caller,
    pub(crate) now: Timestamp,
    pub(crate) req: HttpRequest,
}

impl FromRequest for Call {
    type Error = Failure;
    type Future = Ready<Result<Self, Failure>>;

    fn from_request(req: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        ready(Self::admit(req))
    }
}

impl Call {
    fn admit(req: &HttpRequest) -> Result<Self, Failure> {
        let state = req
            .app_data::<web::Data<State>>()
            .ok_or_else(|| Failure::new(ErrorCode::Internal, "internal error"))?
            .clone();
        let operation = operation_of(req).ok_or_else(nothing)?;
        let now = state.sources.now();
        let state = Seen::of(state);
        // Nobody's token and no pack is known then: nothing that is answered could be relied on.
        if operation.needs_token() && state.studio.engine.damaged().is_some() {
            return Err(Failure::new(ErrorCode::Unavailable, DAMAGED));
        }
        if let Some(Behind(failure)) = req.extensions_mut().remove::<Behind>()
            && operation.needs_token()
        {
            return Err(failure);
        }
        let caller = guard(req, &state, operation, now)?;
        acceptable(req, operation)?;
        operation.takes_query(req.query_string())?;
        preferences::look(req, operation)?;
        // A dry run writes nothing, and a key that cannot be one is still a mistake.
        write::key_of(req)?;
        Ok(Self { state, caller, now, req: req.clone() })
    }

    /// The instant by which days are told; never before what is on record.
    fn dated(&self) -> Timestamp {
        self.state.studio.clock.strict(self.now, self.state.sources.as_ref())
    }

    /// The studio's local date: what "today" means.
    pub(crate) fn today(&self) -> Date {
        self.state.studio.zone.rules().to_datetime(self.dated()).date()
    }

    /// The moment and the caller, for a use case.
    pub(crate) fn moment(&self) -> Moment {
        Moment {
            now: self.now,
            dated: self.dated(),
            today: self.today(),
            holder: self.caller.holder.to_string(),
            mandate: self.caller.mandate(),
            event_source: self.state.studio.event_source.clone(),
            sources: self.state.sources.clone(),
        }
    }

    /// The language of the texts: the first of `Accept-Language` that the
    /// service speaks, else English. Where the operation speaks, the answer says which it is.
    pub(crate) fn language(&self) -> Language {
        let language = asked_for(&self.req);
        if operation_of(&self.req).is_some_and(|operation| operation.speaks) {
            self.req.extensions_mut().insert(Spoken(language));
        }
        language
    }

    /// Says the language of an answer that was kept, whatever the request asks for: the one that it
    /// names, or none.
    pub(crate) fn speaks_as(&self, kept: &[u8]) {
        #[derive(Deserialize)]
        struct Told {
            language: Option<Language>,
        }
        let mut held = self.req.extensions_mut();
        held.remove::<Spoken>();
        let speaks = operation_of(&self.req).is_some_and(|operation| operation.speaks);
        let told = serde_json::from_slice::<Told>(kept).ok().filter(|_| speaks);
        if let Some(language) = told.and_then(|told| told.language) {
            held.insert(Spoken(language));
        }
    }

    /// A header as text.
    pub(crate) fn header(&self, name: &HeaderName) -> Option<&str> {
        self.req.headers().get(name)?.to_str().ok()
    }

    /// A reference out of the path.
    pub(crate) fn reference(&self, name: &str) -> Result<Reference, Failure> {
        self.req.match_info().query(name).parse().map_err(|fault| in_path(name, &fault))
    }

    /// An id out of the path.
    pub(crate) fn path_id(&self, name: &str) -> Result<Uuid, Failure> {
        let text = self.req.match_info().query(name);
        Uuid::try_parse(text).map_err(|_| {
            in_path(name, &"a UUID such as 0198c6a2-7d5e-7000-8000-000000000001 is wanted")
        })
    }

    /// A day in the path.
    ///
    /// # Errors
    /// 400 `unreadable_request` if it is none.
    pub(crate) fn path_day(&self, name: &str) -> Result<Date, Failure> {
        let day: Result<CivilDate, _> = self.req.match_info().query(name).parse();
        day.map(|day| day.0).map_err(|why| in_path(name, &why))
    }

    /// Whether the accepted media types include this one.
    pub(crate) fn accepts(&self, media: &str) -> bool {
        accepts(&self.req, media)
    }
}

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = Failure;
    type Future = Ready<Result<Self, Failure>>;

    fn from_request(req: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        let operation = operation_of(req).ok_or_else(nothing);
        ready(operation.and_then(|of| query::parse(of.id, req.query_string())).map(Self))
    }
}

fn nothing() -> Failure {
    Failure::new(ErrorCode::NotFound, "there is nothing at this path")
}

/// Lets a request through, or says why not: the token, then the limits of its
/// plug-in, then its scopes. A request that lacks a scope counts too.
fn guard(
    req: &HttpRequest,
    state: &State,
    operation: &Operation,
    now: Timestamp,
) -> Result<Caller, Failure> {
    if !operation.needs_token() {
        return Ok(Caller::anyone());
    }
    let token = state.tokens.identify(req, now)?;
    let caller = token.caller();
    req.extensions_mut().insert(caller.clone());
    if let Some(standing) = token.meter().and_then(|m| m.take(now, state.studio().zone.rules())) {
        let refusal = standing.refusal().map(|refusal| {
            Failure::new(ErrorCode::RateLimited, refusal.to_string())
                .with_header(header::RETRY_AFTER, &refusal.retry_after())
        });
        req.extensions_mut().insert(standing);
        if let Some(refusal) = refusal {
            return Err(refusal);
        }
    }
    match operation.scope {
        Some(scope) if !caller.allows(scope) => Err(lacking(scope)),
        Some(_) | None => {
            sight::admit(operation, &caller.mandate())?;
            Ok(caller.clone())
        }
    }
}

fn in_path(name: &str, why: &dyn std::fmt::Display) -> Failure {
    Failure::parameter(Fault::new(format!("path:{name}"), FaultCode::WrongFormat, why.to_string()))
}

fn accepts(req: &HttpRequest, media: &str) -> bool {
    let Some(accept) = req.headers().get(header::ACCEPT) else { return true };
    let Ok(accept) = accept.to_str() else { return true };
    let kind = media.split('/').next().unwrap_or("");
    accept.split(',').any(|part| {
        let mut fields = part.split(';').map(str::trim);
        let range = fields.next().unwrap_or("");
        let refused = fields.any(|f| matches!(f, "q=0" | "q=0.0" | "q=0.00" | "q=0.000"));
        let fits = range == "*/*"
            || range.eq_ignore_ascii_case(media)
            || range.strip_suffix("/*").is_some_and(|k| k.eq_ignore_ascii_case(kind))
            || range.is_empty();
        fits && !refused
    })
}

fn acceptable(req: &HttpRequest, operation: &Operation) -> Result<(), Failure> {
    let mut made = operation.media_types().peekable();
    if made.peek().is_none() || made.any(|media| accepts(req, media)) {
        return Ok(());
    }
    let mut names: Vec<&str> = operation.media_types().collect();
    names.dedup();
    Err(Failure::new(
        ErrorCode::NotAcceptable,
        format!("this operation answers {}", names.join(", ")),
    ))
}

/// Scope check by name, for messages.
pub(crate) fn lacking(scope: Scope) -> Failure {
    Failure::new(ErrorCode::InsufficientScope, format!("this operation needs the scope `{scope}`"))
        .with_header(
            header::WWW_AUTHENTICATE,
            &format!("Bearer realm=\"etui\", error=\"insufficient_scope\", scope=\"{scope}\""),
        )
}
