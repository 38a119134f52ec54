//! `/problems`: the error codes explained. The `type` of a problem body leads
//! here (RFC 9457, 3.1.1), for programs as JSON and for people as a page.

use std::fmt::Write;

use actix_web::HttpResponse;
use actix_web::http::header::{self, HeaderValue};
use etui_schema::endpoints;
use etui_schema::problem::{ErrorCode, FaultCode};
use etui_schema::service::{ProblemKind, ProblemKinds};
use serde_json::json;

use super::answer::{Reply, json as answer};
use super::call::Call;
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;
use super::pictures::{JSON, preferred};

const HTML: &str = "text/html";

/// The page has a style and nothing else.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; \
    form-action 'none'; frame-ancestors 'none'";

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_problems(), || to(list))
            .says("The closed list of error codes", "What each means and what to do about it.")
            .answers(200, "The codes.")
            .or_as(&[HTML]),
        Operation::of(endpoints::get_problem(), || to(get))
            .says("One error code, explained", "The `type` of a problem body leads here.")
            .place(
                "code",
                "The error code.",
                json!({
                    "type": "string",
                    "enum": ErrorCode::ALL.iter().map(|code| code.as_str()).collect::<Vec<_>>(),
                    "examples": [ErrorCode::InvalidValue.as_str()],
                }),
            )
            .answers(200, "The code.")
            .or_as(&[HTML])
            .errors([ErrorCode::NotFound]),
    ]
}

async fn list(call: Call) -> Reply {
    if preferred(&call, &[JSON, HTML]) == HTML {
        let faults = FaultCode::ALL.iter().map(|code| format!("<code>{code}</code>"));
        let faults = faults.collect::<Vec<_>>().join(", ");
        let note = format!(
            "<p>Each entry of <code>errors</code> has a <code>pointer</code>, a <code>message</code> \
             and one of these codes: {faults}.</p>"
        );
        return Ok(page("The error codes of etui", ErrorCode::ALL, &note));
    }
    answer(200, &ProblemKinds { items: ErrorCode::ALL.iter().copied().map(kind_of).collect() })
}

async fn get(call: Call) -> Reply {
    let Ok(code) = call.req.match_info().query("code").parse::<ErrorCode>() else {
        let why = "there is no such code; /problems lists them";
        return Err(Failure::new(ErrorCode::NotFound, why));
    };
    if preferred(&call, &[JSON, HTML]) == HTML {
        let note = "<p><a href=\"../problems\">Every error code</a></p>";
        return Ok(page(code.title(), &[code], note));
    }
    answer(200, &kind_of(code))
}

fn kind_of(code: ErrorCode) -> ProblemKind {
    ProblemKind {
        code: code.into(),
        status: code.status(),
        title: code.title().to_owned(),
        advice: code.advice().to_owned(),
    }
}

/// A page of codes. Nothing of it comes from outside.
fn page(title: &str, codes: &[ErrorCode], note: &str) -> HttpResponse {
    let mut rows = String::new();
    for code in codes {
        // What heads the page is not said again.
        let said = if code.title() == title { "" } else { code.title() };
        let _ = writeln!(
            rows,
            "<dt id=\"{code}\"><code>{code}</code> ({}) {said}</dt><dd>{}</dd>",
            code.status(),
            with_code(code.advice()),
        );
    }
    let body = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{title}</title><style>body{{font:1rem/1.5 system-ui,sans-serif;color:#20262d;\
         background:#fffdf8;max-width:48rem;margin:2rem auto;padding:0 1rem}}dt{{font-weight:bold;\
         margin-top:1rem}}dd{{margin:0 0 0 1rem}}a{{color:#20262d}}</style></head>\n\
         <body><h1>{title}</h1>\n<dl>\n{rows}</dl>\n{note}\n</body></html>\n"
    );
    let mut made = HttpResponse::Ok().content_type("text/html; charset=utf-8").body(body);
    let headers = made.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    headers.insert(header::VARY, HeaderValue::from_static("Accept"));
    made
}

/// From `` `word` `` to its markup; our sentences hold no other.
fn with_code(text: &str) -> String {
    let mut out = String::new();
    for (n, part) in text.split('`').enumerate() {
        if n % 2 == 1 {
            let _ = write!(out, "<code>{part}</code>");
        } else {
            out.push_str(part);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_sentences_need_no_escape() {
        for code in ErrorCode::ALL {
            let text = format!("{}{}", code.title(), code.advice());
            assert!(!text.contains(['<', '>', '&']), "{code}: {text}");
            assert_eq!(code.advice().matches('`').count() % 2, 0, "{code}");
        }
        assert_eq!(with_code("Send `a` and `b`."), "Send <code>a</code> and <code>b</code>.");
    }
}
