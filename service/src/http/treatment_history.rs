//! What is added to a treatment after it was recorded, `/v1/treatments/{id}/observations` and so on:
//! three operations of each row of [`etui_schema::entries`](mod@etui_schema::entries), and the settlements of reports.

use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::symptom_reports::SettlementRequest;

use super::answer::{Reply, page, record};
use super::body::{Body, Told};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::entries::{self, Added, EntryKind};
use crate::studio::{self, history, symptom_reports};

/// What is said of each entry.
const GONE: &str = "404 if the client was erased since.";

/// The operations of each kind: to make one, to read one, and one page of all.
macro_rules! of_entries {
    ([] $($(#[$of:meta])* $member:ident $name:ident $types:tt [$make:ident $get:ident $list:ident] {
        $path:literal [$scope:ident] $(#[$doc:meta])* $says:literal $more:literal $made:literal
        [$($speaks:ident)?] [$($short:ty)?] $one:literal $a:literal $the:literal $all:literal
        $page:literal $(like $like:tt)?
    })*) => { vec![$(
        Operation::of(endpoints::$make(), || to(add::<studio::$member::Own>))
            .says($says, $more)
            .answers(201, $made)
            $(.$speaks())?
            $(.shortens::<$short>())?
            .until_erased()
            .located(),
        Operation::of(endpoints::$get(), || to(|call| entry::<studio::$member::Own>(call, $one)))
            .says(concat!("Read ", $a), GONE)
            .answers(200, $the)
            .if_none_match(),
        Operation::of(endpoints::$list(), || to(entries_of::<studio::$member::Own>))
            .says(concat!("List ", $all), GONE)
            .answers(200, $page),
    )*] };
}

pub(crate) fn operations() -> Vec<Operation> {
    let mut all: Vec<Operation> = etui_schema::entries!(of_entries);
    all.push(
        Operation::of(endpoints::settle_symptom_report(), || to(settle))
        .says(
            "Settle what the client told",
            "A named person has looked into it. While a report of `artist` or above is open, invitations \
             and other friendly messages of the treatment are paused; with the last one settled they go \
             on, or are overtaken, unless the skin was last seen unhealed or worse. Who settled it is \
             kept. It does not end an allergy: where a report may tell of one, the next check waits for \
             a review with `doctor_agrees`.",
        )
        .answers(201, "Settled.")
        .errors([ErrorCode::Conflict])
        .until_erased()
    );
    all
}

async fn add<K: Added<Input: Told>>(call: Call, body: Body<K::Input>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        K::create(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

/// One entry; its place is the last of the path.
async fn entry<K: EntryKind>(call: Call, path: &'static str) -> Reply {
    let name = path.rsplit(['{', '}']).nth(1).unwrap_or_default();
    let ids = (call.path_id("id")?, call.path_id(name)?);
    let mut snap = write::view(&call).await?;
    record(&call, &entries::one::<K>(&call.state.studio, &mut snap, ids).await?)
}

async fn entries_of<K: EntryKind>(call: Call, query: Query<PageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    page(&call, &history::page::<K>(&call.state.studio, &mut snap, id, &query.0).await?)
}

async fn settle(call: Call, body: Body<SettlementRequest>) -> Reply {
    let ids = (call.path_id("id")?, call.path_id("report_id")?);
    write::run(&call, &body.bytes, async |snap, moment| {
        symptom_reports::settle(&call.state.studio, snap, moment, ids, &body.value).await
    })
    .await
}
