//! One attempt over the network.
//!
//! The name is resolved once, every address it leads to is checked, and the
//! connection goes to one that was: between check and call nothing is resolved
//! again. No proxy, no redirect, no cookie, no connection that is kept. Of the
//! answer only the status is read, and `Retry-After`.

use std::net::SocketAddr;
use std::time::Duration;

use etui_schema::subscriptions::AttemptOutcome;
use http_body_util::Full;
use hyper::body::Bytes;
use hyper::client::conn::http1;
use hyper::{Request, Response, StatusCode, header};
use hyper_util::rt::TokioIo;
use jiff::SignedDuration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpStream, lookup_host};
use uuid::Uuid;

use super::delivery::Outcome;
use super::target::{Policy, Target};

/// How long one attempt may take, the look-up of the name included. Standard
/// Webhooks 1.0 asks receivers to answer within 15 s; half a minute would tie
/// up a lane for long.
const PATIENCE: Duration = Duration::from_secs(15);

/// What is to be sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// Where.
    pub url: String,
    /// The event's id.
    pub id: Uuid,
    /// When it is sent, in seconds since 1970.
    pub timestamp: i64,
    /// The value of `webhook-signature`.
    pub signature: String,
    /// The event.
    pub body: Vec<u8>,
}

/// What sends.
pub trait Post: Send + Sync + 'static {
    /// Makes one attempt.
    fn post(&self, message: Message) -> impl Future<Output = Outcome> + Send;
}

/// Sends over the network.
#[derive(Debug, Clone)]
pub struct Poster {
    policy: Policy,
    #[cfg(feature = "tls")]
    tls: super::tls::Tls,
}

impl Poster {
    /// Sends to what the policy allows.
    #[must_use]
    pub fn new(policy: Policy) -> Self {
        Self {
            policy,
            #[cfg(feature = "tls")]
            tls: super::tls::Tls::of_the_web(),
        }
    }

    async fn attempt(&self, message: Message) -> Result<Outcome, AttemptOutcome> {
        // The owner may have withdrawn the leave since it was given.
        let target = Target::parse(&message.url, self.policy)
            .map_err(|_| AttemptOutcome::AddressNotAllowed)?;
        let found: Vec<SocketAddr> = lookup_host((target.host(), target.port()))
            .await
            .map_err(|_| AttemptOutcome::NoAddress)?
            .collect();
        let address = target
            .pick(&found)
            .map_err(|_| AttemptOutcome::AddressNotAllowed)?
            .ok_or(AttemptOutcome::NoAddress)?;
        let stream = TcpStream::connect(address).await.map_err(|_| AttemptOutcome::NoConnection)?;
        let request = request(&target, message).map_err(|_| AttemptOutcome::NoConnection)?;
        if !target.is_tls() {
            return exchange(stream, request).await;
        }
        #[cfg(feature = "tls")]
        {
            let host = target.host();
            let stream =
                self.tls.connect(&host, stream).await.map_err(|_| AttemptOutcome::NoTls)?;
            exchange(stream, request).await
        }
        #[cfg(not(feature = "tls"))]
        Err(AttemptOutcome::NoTls)
    }
}

impl Post for Poster {
    async fn post(&self, message: Message) -> Outcome {
        match tokio::time::timeout(PATIENCE, self.attempt(message)).await {
            Ok(Ok(outcome)) => outcome,
            Ok(Err(what)) => Outcome::without_answer(what),
            Err(_) => Outcome::without_answer(AttemptOutcome::Timeout),
        }
    }
}

fn request(target: &Target, message: Message) -> Result<Request<Full<Bytes>>, hyper::http::Error> {
    let Message { url: _, id, timestamp, signature, body } = message;
    Request::post(target.path())
        .header(header::HOST, target.authority())
        // CloudEvents 1.0.2, HTTP binding 3.2: structured mode.
        .header(header::CONTENT_TYPE, "application/cloudevents+json; charset=utf-8")
        .header(header::USER_AGENT, concat!("etui/", env!("CARGO_PKG_VERSION")))
        .header(header::CONNECTION, "close")
        .header("webhook-id", id.to_string())
        .header("webhook-timestamp", timestamp)
        .header("webhook-signature", signature)
        .body(Full::new(Bytes::from(body)))
}

async fn exchange<T>(stream: T, request: Request<Full<Bytes>>) -> Result<Outcome, AttemptOutcome>
where
    T: AsyncRead + AsyncWrite + Send + Unpin + 'static,
{
    let lost = |_| AttemptOutcome::NoConnection;
    let (mut sender, connection) = http1::handshake(TokioIo::new(stream)).await.map_err(lost)?;
    // The connection ends with this attempt, whatever it still has to say.
    let driver = Driver(tokio::spawn(async move { drop(connection.await) }));
    let answer = sender.send_request(request).await.map_err(lost)?;
    let outcome = outcome_of(&answer);
    drop(driver);
    Ok(outcome)
}

/// A task that ends with its owner.
struct Driver(tokio::task::JoinHandle<()>);

impl Drop for Driver {
    fn drop(&mut self) {
        self.0.abort();
    }
}

fn outcome_of<B>(answer: &Response<B>) -> Outcome {
    let status = answer.status();
    let what = match status {
        StatusCode::GONE => AttemptOutcome::Gone,
        status if status.is_success() => AttemptOutcome::Delivered,
        status if status.is_redirection() => AttemptOutcome::Redirected,
        _ => AttemptOutcome::Refused,
    };
    let asked = answer.headers().get(header::RETRY_AFTER).and_then(|value| value.to_str().ok());
    let seconds = asked.and_then(|text| text.trim().parse::<u32>().ok());
    Outcome {
        what,
        status: Some(status.as_u16()),
        retry_after: seconds.map(|seconds| SignedDuration::from_secs(seconds.into())),
    }
}
