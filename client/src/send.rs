//! One request: made, sent, sent again where that is safe, and its answer read.

use std::time::Duration;

use etui_schema::endpoints::{At, How, Place};
use etui_schema::problem::Problem;
use reqwest::header::{
    ACCEPT, ACCEPT_LANGUAGE, AUTHORIZATION, CONTENT_TYPE, ETAG, HeaderMap, HeaderName, HeaderValue,
    IF_MATCH, RETRY_AFTER,
};
use reqwest::{Method, Url};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::builder::Client;
use crate::error::{Error, TransportError};
use crate::newer::read_answer;
use crate::retry;
use crate::tagged::Tagged;
use crate::trace;

/// Longer than the service lets a stream go on.
const LONGEST_STREAM: Duration = Duration::from_secs(2 * 60 * 60);
const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");

/// A request in the making.
pub(crate) struct Request<'c> {
    client: &'c Client,
    method: Method,
    url: Url,
    headers: HeaderMap,
    body: Option<Vec<u8>>,
    /// A status from 400 on whose body is an answer all the same.
    also: Option<u16>,
}

/// A body as it arrives.
pub(crate) struct Chunks(reqwest::Response);

impl Chunks {
    /// The next piece; `None` at the end.
    pub(crate) async fn next(&mut self) -> Result<Option<Vec<u8>>, Error> {
        let piece = self.0.chunk().await.map_err(|e| Error::Transport(TransportError::new(e)))?;
        Ok(piece.map(|bytes| bytes.to_vec()))
    }
}

/// An answer below 400, read to its end.
pub(crate) struct Answer {
    status: u16,
    headers: HeaderMap,
    body: Vec<u8>,
}

impl Client {
    /// A request to an endpoint, with what stands in the places of its path.
    pub(crate) fn to(&self, at: At, places: &[Place<'_>]) -> Request<'_> {
        let method = Method::from_bytes(at.how.method().as_bytes()).unwrap_or_default();
        let request = self.request(method, &at.segments(places)).accept(at.media);
        if at.how == How::Once { request.once() } else { request }
    }

    /// A request to the path made of these segments.
    pub(crate) fn request(&self, method: Method, path: &[String]) -> Request<'_> {
        let mut url = self.shared.base.clone();
        if let Ok(mut segments) = url.path_segments_mut() {
            segments.pop_if_empty().extend(path);
        }
        let mut headers = HeaderMap::new();
        headers.insert(ACCEPT, HeaderValue::from_static("application/json"));
        if let Some(value) = &self.shared.authorization {
            headers.insert(AUTHORIZATION, value.clone());
        }
        if let Some(language) = self.shared.language {
            headers.insert(ACCEPT_LANGUAGE, HeaderValue::from_static(language.as_str()));
        }
        Request { client: self, method, url, headers, body: None, also: None }
    }
}

impl Request<'_> {
    /// Adds a query parameter.
    pub(crate) fn query(mut self, name: &str, value: &str) -> Self {
        self.url.query_pairs_mut().append_pair(name, value);
        self
    }

    /// Asks what would be, and for nothing to be done.
    pub(crate) fn dry(mut self) -> Self {
        self.headers.remove(IDEMPOTENCY_KEY);
        self.query("dry_run", "true")
    }

    /// Adds every parameter of a query type that has a value; a list is repeated.
    pub(crate) fn query_of<T: Serialize>(mut self, query: &T) -> Result<Self, Error> {
        let query = serde_json::to_value(query).map_err(|e| Error::Unusable(e.to_string()))?;
        for (name, value) in query.as_object().into_iter().flatten() {
            let values = value.as_array().map_or(std::slice::from_ref(value), Vec::as_slice);
            for one in values {
                let text = one.as_str().map_or_else(|| one.to_string(), str::to_owned);
                self = self.query(name, &text);
            }
        }
        Ok(self)
    }

    /// Sends a merge patch of a record.
    pub(crate) fn merging(self, patch: &impl Serialize) -> Result<Self, Error> {
        let mut request = self.json(patch)?;
        let media = HeaderValue::from_static(etui_schema::merge_patch::MEDIA_TYPE);
        request.headers.insert(CONTENT_TYPE, media);
        Ok(request)
    }

    /// Asks for a media type.
    pub(crate) fn accept(mut self, media: &'static str) -> Self {
        self.headers.insert(ACCEPT, HeaderValue::from_static(media));
        self
    }

    /// Takes the body of this status for an answer too.
    pub(crate) fn also(mut self, status: u16) -> Self {
        self.also = Some(status);
        self
    }

    /// Sends a value as the JSON body.
    pub(crate) fn json<T: Serialize>(mut self, value: &T) -> Result<Self, Error> {
        let body = serde_json::to_vec(value).map_err(|e| Error::Unusable(e.to_string()))?;
        self.body = Some(body);
        self.headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/json"));
        Ok(self)
    }

    /// Changes only the version of the record that was read.
    pub(crate) fn if_match<'t>(mut self, etag: impl Into<Option<&'t str>>) -> Result<Self, Error> {
        if let Some(etag) = etag.into() {
            let value = HeaderValue::from_str(etag)
                .map_err(|_| Error::Unusable("an entity tag is visible ASCII".to_owned()))?;
            self.headers.insert(IF_MATCH, value);
        }
        Ok(self)
    }

    /// A POST that writes: the caller's key, or a new one, goes with every
    /// attempt, so that it is carried out once.
    fn once(mut self) -> Self {
        let key = match &self.client.key {
            Some(key) => Some(key.clone()),
            None => HeaderValue::from_str(&format!("\"{}\"", retry::new_key())).ok(),
        };
        if let Some(key) = key {
            self.headers.insert(IDEMPOTENCY_KEY, key);
        }
        self
    }

    /// Sends, and reads the answer as JSON.
    pub(crate) async fn read<T: DeserializeOwned>(self) -> Result<T, Error> {
        self.send().await?.json()
    }

    /// Sends, and reads a record with its entity tag.
    pub(crate) async fn read_tagged<T: DeserializeOwned>(self) -> Result<Tagged<T>, Error> {
        let answer = self.send().await?;
        match text_of(&answer.headers, ETAG).map(str::to_owned) {
            Some(etag) => Ok(Tagged { value: answer.json()?, etag }),
            None => Err(Error::Unexpected {
                status: answer.status,
                detail: "a record came without an entity tag".to_owned(),
            }),
        }
    }

    /// Sends, and reads the answer as it is.
    pub(crate) async fn read_bytes(self) -> Result<Vec<u8>, Error> {
        Ok(self.send().await?.body)
    }

    /// Sends, and reads the answer as text.
    pub(crate) async fn read_text(self) -> Result<String, Error> {
        let Answer { status, body, .. } = self.send().await?;
        String::from_utf8(body)
            .map_err(|_| Error::Unexpected { status, detail: "a text is not UTF-8".to_owned() })
    }

    /// Sends once, and gives the body as it arrives. It may arrive for as long as it likes: the time
    /// limit of other requests is not that of a stream.
    pub(crate) async fn open(self) -> Result<Chunks, Error> {
        let transport = |e| Error::Transport(TransportError::new(e));
        let shared = &self.client.shared;
        let request = shared.http.request(self.method.clone(), self.url.clone());
        let request = request.headers(self.headers.clone()).timeout(LONGEST_STREAM);
        let answer = request.send().await.map_err(transport)?;
        if answer.status().is_success() {
            return Ok(Chunks(answer));
        }
        let (status, headers) = (answer.status().as_u16(), answer.headers().clone());
        let body = answer.bytes().await.map_err(transport)?;
        Err(refusal(status, &headers, &body))
    }

    /// Sends as often as the settings allow.
    pub(crate) async fn send(self) -> Result<Answer, Error> {
        let mut attempt = 1;
        loop {
            let started = tokio::time::Instant::now();
            let heard = self.attempt().await;
            trace::attempt(&self.method, attempt, started.elapsed(), &heard);
            let error = match heard {
                Ok(answer) => return Ok(answer),
                Err(error) => error,
            };
            match self.client.shared.retries.wait_after(attempt, &error, retry::luck()) {
                Some(wait) => {
                    trace::waits(&self.method, attempt, wait);
                    tokio::time::sleep(wait).await;
                }
                None => return Err(error),
            }
            attempt += 1;
        }
    }

    async fn attempt(&self) -> Result<Answer, Error> {
        let transport = |e| Error::Transport(TransportError::new(e));
        let mut request = self
            .client
            .shared
            .http
            .request(self.method.clone(), self.url.clone())
            .headers(self.headers.clone());
        if let Some(body) = &self.body {
            request = request.body(body.clone());
        }
        let answer = request.send().await.map_err(transport)?;
        let status = answer.status().as_u16();
        let headers = answer.headers().clone();
        let body = answer.bytes().await.map_err(transport)?.to_vec();
        let meant =
            (200..=299).contains(&status) || (self.also == Some(status) && !is_problem(&headers));
        if meant {
            Ok(Answer { status, headers, body })
        } else {
            Err(refusal(status, &headers, &body))
        }
    }
}

impl Answer {
    pub(crate) fn status(&self) -> u16 {
        self.status
    }

    /// The id under which the service logged the request.
    pub(crate) fn request_id(&self) -> &str {
        text_of(&self.headers, HeaderName::from_static("x-request-id")).unwrap_or_default()
    }

    pub(crate) fn json<T: DeserializeOwned>(&self) -> Result<T, Error> {
        read_answer(self.status, &self.body)
    }
}

fn text_of(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

fn is_problem(headers: &HeaderMap) -> bool {
    text_of(headers, CONTENT_TYPE).is_some_and(|m| m.starts_with("application/problem+json"))
}

fn refusal(status: u16, headers: &HeaderMap, body: &[u8]) -> Error {
    if is_problem(headers)
        && let Ok(problem) = serde_json::from_slice::<Problem>(body)
    {
        let asked = text_of(headers, RETRY_AFTER).and_then(|v| v.parse().ok());
        return Error::Problem {
            problem: Box::new(problem),
            retry_after: asked.map(Duration::from_secs),
        };
    }
    let media = text_of(headers, CONTENT_TYPE).unwrap_or("no media type");
    Error::Unexpected { status, detail: format!("no problem body, but {media}") }
}
