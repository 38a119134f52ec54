//! The tour: one good request an operation, in an order in which each finds
//! what it needs, against a service whose clock stands still and whose random
//! bytes repeat. What it hears is the recorded example of each operation in
//! `openapi/examples.json`, and its requests are what the error matrix breaks.
//!
//! # Adding an operation
//!
//! One [`Stop`] in the file of its tag, of its value in [`etui_schema::endpoints`]:
//! method and path come from there. What stands in the path, and what is sent, can
//! use what went before, such as an id that an earlier stop was given. A stop whose
//! answer is different on every run says [`Stop::unrecorded`]; one that only
//! prepares says [`Stop::prepares`].

mod aftercare;
mod checks;
mod configurations;
mod drawer;
mod events;
mod labels;
mod packs;
mod plugins;
mod records;
mod screening;
mod service;
mod training;
mod treatments;

use std::sync::OnceLock;

use etui_schema::endpoints::{At, Endpoint, How, Place};
use serde_json::{Map, Value, json};

use crate::document::Document;
use crate::running::Running;
use crate::wire::{Answer, Request};

/// One request of the tour.
pub struct Stop {
    at: At,
    places: Vec<Told>,
    query: &'static str,
    body: Option<Body>,
    if_match: Option<&'static str>,
    accept: Option<&'static str>,
    shows: Shows,
}

/// A body, of what went before.
type Body = Box<dyn Fn(&Tour) -> Value>;

/// What stands in the path.
pub enum Told {
    /// What is said here.
    Said(&'static str),
    /// The text of the latest answer of an operation, by JSON pointer.
    Heard(&'static str, &'static str),
    /// What is made of what was heard.
    Made(fn(&Tour) -> String),
}

impl From<&'static str> for Told {
    fn from(said: &'static str) -> Self {
        Self::Said(said)
    }
}

impl From<(&'static str, &'static str)> for Told {
    fn from((operation, pointer): (&'static str, &'static str)) -> Self {
        Self::Heard(operation, pointer)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Shows {
    RequestAndAnswer,
    RequestOnly,
    Nothing,
}

impl Stop {
    /// A request to an endpoint.
    pub fn of<Q, B, A>(endpoint: Endpoint<Q, B, A>) -> Self {
        Self {
            at: endpoint.at,
            places: Vec::new(),
            query: "",
            body: None,
            if_match: None,
            accept: None,
            shows: Shows::RequestAndAnswer,
        }
    }

    /// What stands in the next place of the path.
    #[must_use]
    pub fn at(mut self, place: impl Into<Told>) -> Self {
        self.places.push(place.into());
        self
    }

    /// The query.
    #[must_use]
    pub fn asks(self, query: &'static str) -> Self {
        Self { query, ..self }
    }

    /// The body.
    #[must_use]
    pub fn sends(self, body: Value) -> Self {
        self.with(move |_| body.clone())
    }

    /// The body, of what went before.
    #[must_use]
    pub fn with(self, body: impl Fn(&Tour) -> Value + 'static) -> Self {
        Self { body: Some(Box::new(body)), ..self }
    }

    /// In the version that the latest answer of an operation was of.
    #[must_use]
    pub fn if_match(self, operation: &'static str) -> Self {
        Self { if_match: Some(operation), ..self }
    }

    /// The media type that is asked for.
    #[must_use]
    pub fn accept(self, media: &'static str) -> Self {
        Self { accept: Some(media), ..self }
    }

    fn ask(&self, tour: &Tour) -> Request {
        let told = self.places.iter().map(|told| match told {
            Told::Said(text) => (*text).to_owned(),
            Told::Heard(operation, pointer) => tour.text(operation, pointer),
            Told::Made(make) => make(tour),
        });
        let told: Vec<String> = told.collect();
        let places: Vec<Place<'_>> = told.iter().map(|text| text as Place<'_>).collect();
        let mut target = self.at.filled(&places);
        if !self.query.is_empty() {
            target = format!("{target}?{}", self.query);
        }
        let mut request = match (&self.body, self.at.how) {
            (None, how) => Request::new(how.method(), target),
            (Some(body), How::Patch) => Request::merge(target, &body(tour)),
            (Some(body), how) => Request::new(how.method(), target).json(&body(tour)),
        };
        if let Some(operation) = self.if_match {
            request = request.header("If-Match", tour.etag(operation));
        }
        if let Some(media) = self.accept {
            request = request.header("Accept", media);
        }
        request
    }

    /// The answer is different on every run, so it is not recorded.
    #[must_use]
    pub fn unrecorded(mut self) -> Self {
        self.shows = Shows::RequestOnly;
        self
    }

    /// The request only prepares others; it is no example.
    #[must_use]
    pub fn prepares(mut self) -> Self {
        self.shows = Shows::Nothing;
        self
    }
}

fn stops() -> Vec<Stop> {
    [
        configurations::stops(),
        screening::stops(),
        aftercare::stops(),
        records::stops(),
        drawer::stops(),
        checks::stops(),
        treatments::stops(),
        aftercare::reminders(),
        records::dossiers(),
        drawer::recalls(),
        labels::stops(),
        plugins::stops(),
        packs::stops(),
        events::stops(),
        service::stops(),
        training::stops(),
        records::branches(),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// One request and what it was answered.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The operation's id.
    pub operation: &'static str,
    /// What was asked, token and host aside.
    pub request: Request,
    /// What was answered.
    pub answer: Answer,
    shows: bool,
    shows_answer: bool,
}

/// A tour that was made, with the service it was made on.
pub struct Tour {
    /// The service, in the state in which the tour left it.
    pub running: Running,
    heard: Vec<Heard>,
}

impl Tour {
    /// Makes the tour on a service of its own.
    ///
    /// # Panics
    /// If an operation does not answer with a status below 300.
    #[must_use]
    pub fn make() -> Self {
        Self::make_with(|_, _, request| request)
    }

    /// The same, each request that takes one with an `Idempotency-Key` of its own.
    ///
    /// # Panics
    /// As [`Tour::make`].
    #[must_use]
    pub fn make_keyed() -> Self {
        let document = Document::of_this_build();
        let takes =
            |id: &str| document.operation(id).headers.iter().any(|name| name == "Idempotency-Key");
        Self::make_with(|n, id, request| match takes(id) {
            true => request.header("Idempotency-Key", format!("\"tour-{n}\"")),
            false => request,
        })
    }

    fn make_with(change: impl Fn(usize, &str, Request) -> Request) -> Self {
        let mut tour = Self { running: Running::start(), heard: Vec::new() };
        for (n, stop) in stops().into_iter().enumerate() {
            let request = change(n, stop.at.id, stop.ask(&tour));
            // The id would otherwise be drawn, and with it every later id moved.
            let sent = request.clone().header("X-Request-Id", stop.at.id);
            let answer = tour.running.call(&sent);
            let text = answer.text();
            assert!(answer.status < 300, "{}: {} {text}", stop.at.id, answer.status);
            tour.heard.push(Heard {
                operation: stop.at.id,
                request,
                answer,
                shows: stop.shows != Shows::Nothing,
                shows_answer: stop.shows == Shows::RequestAndAnswer,
            });
        }
        tour
    }

    /// One tour for all tests of the process.
    #[must_use]
    pub fn shared() -> &'static Self {
        static SHARED: OnceLock<Tour> = OnceLock::new();
        SHARED.get_or_init(Self::make)
    }

    /// Every example, in the order in which it was heard.
    pub fn examples(&self) -> impl Iterator<Item = &Heard> {
        self.heard.iter().filter(|heard| heard.shows)
    }

    /// Everything that was heard, in its order.
    #[must_use]
    pub fn heard(&self) -> &[Heard] {
        &self.heard
    }

    /// The example of an operation, if the tour has one.
    #[must_use]
    pub fn find(&self, operation: &str) -> Option<&Heard> {
        self.examples().find(|heard| heard.operation == operation)
    }

    /// The example of an operation.
    ///
    /// # Panics
    /// If the tour has none.
    #[must_use]
    pub fn example(&self, operation: &str) -> &Heard {
        match self.find(operation) {
            Some(heard) => heard,
            None => panic!("no stop for `{operation}`: add one in tests/src/tour/"),
        }
    }

    /// A text out of the latest answer of an operation, by JSON pointer.
    ///
    /// # Panics
    /// If there is no such answer or text.
    #[must_use]
    pub fn text(&self, operation: &str, pointer: &str) -> String {
        let answer = self.answer(operation);
        match answer.pointer(pointer).and_then(Value::as_str) {
            Some(text) => text.to_owned(),
            None => panic!("no text at {pointer} of {operation}: {answer}"),
        }
    }

    /// The latest answer of an operation.
    ///
    /// # Panics
    /// If there is none, or it is not JSON.
    #[must_use]
    pub fn answer(&self, operation: &str) -> Value {
        self.latest(operation).json()
    }

    /// The entity tag of the latest answer of an operation.
    ///
    /// # Panics
    /// If there is none.
    #[must_use]
    pub fn etag(&self, operation: &str) -> String {
        self.latest(operation).header("etag").expect("an entity tag").to_owned()
    }

    fn latest(&self, operation: &str) -> &Answer {
        match self.heard.iter().rev().find(|heard| heard.operation == operation) {
            Some(heard) => &heard.answer,
            None => panic!("{operation} comes later in the tour"),
        }
    }

    /// What `openapi/examples.json` holds, by operation id.
    #[must_use]
    pub fn recorded(&self) -> Value {
        let mut all = Map::new();
        for heard in self.examples() {
            all.insert(heard.operation.to_owned(), heard.recorded());
        }
        all.sort_keys();
        Value::Object(all)
    }
}

impl Heard {
    fn recorded(&self) -> Value {
        let mut members = Map::new();
        let call = format!("{} {}", self.request.method, self.request.target);
        members.insert("call".to_owned(), call.into());
        if let Some(body) = self.request.json_body() {
            members.insert("request".to_owned(), body);
        }
        members.insert("status".to_owned(), json!(self.answer.status));
        if self.shows_answer {
            match self.answer.media() {
                "application/json" | "application/schema+json" | "application/linkset+json" => {
                    members.insert("answer".to_owned(), self.answer.json());
                }
                "image/svg+xml" | "text/calendar" | "text/html" => {
                    members.insert("answer".to_owned(), self.answer.text().into());
                }
                _ => {}
            }
        }
        Value::Object(members)
    }
}
