//! Typed client of the etui service: one method an operation.
//!
//! Every operation of the interface is one async method of [`Client`] that
//! bears the operation's id (`get_capabilities`, …) and takes and gives the
//! types of `etui_schema`. What the service refuses comes back as
//! [`Error::Problem`] with every fault named. Most are made of the lines of
//! [`etui_schema::endpoints`], by which the service answers too.
//!
//! ```no_run
//! # async fn run() -> Result<(), etui_client::Error> {
//! use etui_client::Client;
//!
//! let token = std::fs::read_to_string("etui-data/owner-token").unwrap_or_default();
//! let client = Client::builder("http://127.0.0.1:8417").token(token.trim()).build()?;
//! println!("etui {}", client.get_capabilities().await?.version);
//! # Ok(())
//! # }
//! ```
//!
//! # What is repeated, and what is not
//!
//! A request whose answer was lost is repeated only where that is safe: reads,
//! computations (they store nothing), and POSTs that write, since each carries
//! an `Idempotency-Key` (one is made if the caller names none, see
//! [`Client::with_key`]). A PUT is repeated too; if the lost attempt had been
//! carried out, its repetition may answer 412, and the record must be read
//! again. A DELETE whose repetition answers 404 has done its work.
//! Waits grow from attempt to attempt, carry some jitter, honour `Retry-After`
//! and are bounded ([`Retries`]).
//!
//! # A service that is newer
//!
//! Answers grow within a version of the interface. Members that are not known here are passed
//! over. Error codes, types of events and kinds of messages are [`etui_schema::open::Open`]: a
//! word that is not known is kept as it came. Any other word that is not known comes as
//! [`Error::Newer`], with the whole answer, and is read as what the caller says it stands for.
//!
//! # Features
//!
//! None by default: plain HTTP to a loopback address, no TLS stack. For a
//! service behind a proxy with TLS, `rustls` adds that library (with its own
//! cryptography) and `native-tls` the system's. A tokio runtime is the
//! caller's; none is started here.
//!
//! # Lists and loops
//!
//! Lists come page by page, row by row ([`Pages`]) or as a stream
//! ([`Rows`]). A program that sends due messages needs only its own sender:
//! [`Client::claims`] claims, reports, waits and stops cleanly.
//!
//! # Tracing
//!
//! Each attempt is a `tracing` event with method, status, duration and the
//! service's request id; never a path, a body or the token.

mod builder;
mod claims;
mod error;
mod event_stream;
mod events;
mod methods;
mod newer;
mod own;
mod pages;
mod retry;
mod send;
mod short;
mod tagged;
mod trace;
pub mod webhook;

pub use builder::{Builder, Client};
pub use claims::{Claims, Delivery, Worked};
pub use error::{Error, TransportError};
pub use event_stream::EventStream;
pub use events::Follow;
pub use newer::{NewWord, Newer, read_answer};
pub use pages::{Pages, Rows};
pub use retry::Retries;
pub use short::HasShort;
pub use tagged::Tagged;
