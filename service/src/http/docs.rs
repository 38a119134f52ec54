//! `/docs`: the interface to read and to try, without a network.
//!
//! Every file is part of the program, and the content security policy lets a
//! page load from nowhere else. The pages are open to all; what they call
//! needs the token that the reader gives them, which stays in that page.

use std::collections::HashMap;
use std::io::Read;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use actix_web::http::header;
use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;
use flate2::read::GzDecoder;
use serde_json::json;

use super::answer::{Fixed, Reply, fixed, tagged, takes_gzip};
use super::call::Call;
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;

const PAGE: &str = include_str!("docs/index.html");
const START: &str = include_str!("docs/start.js");
const STYLE: &str = include_str!("docs/start.css");
const MARK: &str = include_str!("docs/mark.svg");

/// Loads from this service only; inline styles are how the pages' library
/// places its parts, inline scripts stay forbidden.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; \
    img-src 'self' data:; font-src 'self' data:; connect-src 'self'; base-uri 'none'; \
    form-action 'none'; frame-ancestors 'none'";

/// Every file of the page.
const FILES: [&str; 5] =
    ["start.js", "start.css", "mark.svg", "swagger-ui-bundle.js", "swagger-ui.css"];

/// A file that others wrote, packed when this was built (`build.rs`).
macro_rules! theirs {
    ($name:literal) => {
        ($name, include_bytes!(concat!(env!("OUT_DIR"), "/", $name, ".gz")).as_slice())
    };
}

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_docs(), || to(page))
            .says(
                "The interface to read and to try",
                "A page that works without a network: every operation with its schemas and \
                 recorded examples.",
            )
            .answers(200, "The page.")
            .if_none_match(),
        Operation::of(endpoints::get_docs_file(), || to(file))
            .says("A file of that page", "Script, style or icon.")
            .place(
                "file",
                "The name of the file.",
                json!({ "type": "string", "enum": FILES, "examples": [FILES[0]] }),
            )
            .answers(200, "The file.")
            .or_as(&["text/css", "image/svg+xml"])
            .if_none_match()
            .errors([ErrorCode::NotFound]),
    ]
}

async fn page(call: Call) -> Reply {
    guarded(tagged(&call, "text/html; charset=utf-8", PAGE.as_bytes().to_vec())?)
}

async fn file(call: Call) -> Reply {
    let name = call.req.match_info().query("file");
    let (media, theirs) = match name {
        "start.js" => return own(&call, JAVASCRIPT, START),
        "start.css" => return own(&call, CSS, STYLE),
        "mark.svg" => return own(&call, "image/svg+xml", MARK),
        "swagger-ui-bundle.js" => (JAVASCRIPT, theirs!("swagger-ui-bundle.js")),
        "swagger-ui.css" => (CSS, theirs!("swagger-ui.css")),
        _ => return Err(Failure::new(ErrorCode::NotFound, "the page has no such file")),
    };
    let held = held(theirs, takes_gzip(&call))?;
    guarded(fixed(&call, media, &held)?)
}

const JAVASCRIPT: &str = "text/javascript; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";

/// A file that is written here.
fn own(call: &Call, media: &str, text: &str) -> Reply {
    guarded(tagged(call, media, text.as_bytes().to_vec())?)
}

type Files = HashMap<(&'static str, bool), Arc<Fixed>>;

/// What was asked for before, in the form in which it was: each once, however
/// many read it at the same time.
static HELD: LazyLock<Mutex<Files>> = LazyLock::new(Mutex::default);

/// A packed file, as it is if it is wanted so.
fn held((name, file): (&'static str, &'static [u8]), packed: bool) -> Result<Arc<Fixed>, Failure> {
    let mut all = HELD.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(held) = all.get(&(name, packed)) {
        return Ok(Arc::clone(held));
    }
    let plain = Fixed::new(unpacked(file)?);
    let held = Arc::new(if packed { plain.packed_as(file) } else { plain });
    all.insert((name, packed), Arc::clone(&held));
    Ok(held)
}

fn unpacked(bytes: &[u8]) -> Result<Vec<u8>, Failure> {
    let mut plain = Vec::new();
    GzDecoder::new(bytes)
        .read_to_end(&mut plain)
        .map_err(|_| Failure::new(ErrorCode::Internal, "internal error"))?;
    Ok(plain)
}

fn guarded(mut answer: actix_web::HttpResponse) -> Reply {
    let headers = answer.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, header::HeaderValue::from_static(POLICY));
    headers.insert(header::REFERRER_POLICY, header::HeaderValue::from_static("no-referrer"));
    headers.insert(header::VARY, header::HeaderValue::from_static("Accept-Encoding"));
    Ok(answer)
}
