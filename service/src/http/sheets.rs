//! Short views and printed pages.

use actix_web::http::header;
use etui_schema::endpoints;
use etui_schema::sheets::{SheetFor, SheetQuery};
use etui_schema::vocabulary::Language;
use serde_json::json;

use super::answer::{Reply, tagged};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::sheets::{self, Sheet};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_check_summary(), || to(summary))
            .speaks()
            .says(
                "The short view of a check",
                "Verdict, at most four things for the client, the studio's list with its days, three needles \
                 with a line each: the whole truth in a few lines. In the language of `Accept-Language` if \
                 today's rules say the same of it, else in the language it was made in (`language`).",
            )
            .answers(200, "The short view.")
            .if_none_match(),
        Operation::of(endpoints::get_check_sheet(), || to(visit))
            .speaks()
            .says(
                "A check as a page to print",
                "HTML that needs nothing else: for the client, what she does before she comes; with \
                 `for=studio`, what was found, what is to do, and the needles.",
            )
            .answers(200, "The page.")
            .if_none_match(),
        Operation::of(endpoints::get_day_sheet(), || to(day))
            .speaks()
            .says(
                "The day as a page to print",
                "The newest check of each booking whose appointment is on this day where it is, \
                 in the order of their appointments.",
            )
            .place(
                "date",
                "The day where it is.",
                json!({ "type": "string", "format": "date", "examples": ["2027-03-18"] }),
            )
            .answers(200, "The page.")
            .if_none_match(),
        Operation::of(endpoints::get_aftercare_sheet(), || to(aftercare))
            .speaks()
            .says(
                "The aftercare of a treatment as a page to print",
                "For the client to take home, in the language of `Accept-Language`: when she needs help, what \
                 to do and to leave alone until when, what she will see, and her dates.",
            )
            .answers(200, "The page.")
            .if_none_match(),
    ]
}

pub(super) async fn summary(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let (studio, moment) = (&call.state.studio, call.moment());
    let told = sheets::summary(studio, &mut snap, &moment, call.language(), id).await?;
    let told = to_json(&told)?;
    // The one it was made in, if today's rules do not say the same in the one asked for.
    call.speaks_as(&told);
    tagged(&call, "application/json", told)
}

async fn visit(call: Call, query: Query<SheetQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let (studio, moment) = (&call.state.studio, call.moment());
    let how = (call.language(), query.0.audience.unwrap_or(SheetFor::Client));
    page(&call, sheets::visit(studio, &mut snap, &moment, how, id).await?)
}

async fn day(call: Call) -> Reply {
    let on = call.path_day("date")?;
    let mut snap = write::view(&call).await?;
    let (studio, moment) = (&call.state.studio, call.moment());
    page(&call, sheets::day(studio, &mut snap, &moment, (call.language(), on)).await?)
}

async fn aftercare(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    page(&call, sheets::aftercare(&call.state.studio, &mut snap, call.language(), id).await?)
}

/// A page in its language. It may be framed by nobody and loads nothing.
fn page(call: &Call, sheet: Sheet) -> Reply {
    let Sheet { page, language } = sheet;
    let mut answer = tagged(call, "text/html; charset=utf-8", page.into_bytes())?;
    let headers = answer.headers_mut();
    headers.insert(header::CONTENT_LANGUAGE, tag(language));
    headers.insert(
        header::CONTENT_SECURITY_POLICY,
        header::HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'"),
    );
    Ok(answer)
}

fn tag(language: Language) -> header::HeaderValue {
    header::HeaderValue::from_static(language.as_str())
}
