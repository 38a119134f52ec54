//! `/v1/packs`: what a studio adds to the built-in data.
//!
//! The three kinds share their handlers; each has paths of its own, so that
//! each body has its own schema and every fault its place.

use std::cell::RefCell;
use std::future::Future;
use std::pin::Pin;

use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpRequest, dev, rt};
use etui_schema::endpoints::{self, Endpoint, Nothing};
use etui_schema::packs::{
    AftercarePack, KeptPack, LabelSpellingsPack, PackDryRunRequest, PackQuery, RulesPack, SentPack,
};
use etui_schema::problem::ErrorCode;
use serde_json::{Map, Value};

use super::answer::{Reply, json, page, tagged};
use super::body::{self, Body, Told};
use super::call::Call;
use super::failure::Failure;
use super::faults;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::artists;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::packs::{self, Change, PackBody};
use crate::studio::plan::{Planned, to_json};

pub(crate) fn operations() -> Vec<Operation> {
    let mut all = vec![
        Operation::of(endpoints::list_packs(), || to(list))
            .says("List packs", "By kind and name, with whether each is applied.")
            .answers(200, "One page of packs."),
    ];
    all.extend(of_kind::<RulesPack>(
        (endpoints::put_rules_pack(), "Keep a pack of rules"),
        (endpoints::get_rules_pack(), "Read a pack of rules"),
        (endpoints::delete_rules_pack(), "Take a pack of rules away"),
        "Questions and rules that the studio adds to the screening, and built-in rules it makes \
         stricter; never looser. Each finding names its pack.",
    ));
    all.push(
        Operation::of(endpoints::dry_run_rules_pack(), || to(dry_run))
            .says(
                "What would a rules pack change?",
                "Screens one page of the stored checks as they were made, with the pack and without. \
                 Nothing is written.",
            )
            .answers(200, "What would change.")
            .errors([ErrorCode::Conflict]),
    );
    all.extend(of_kind::<LabelSpellingsPack>(
        (endpoints::put_label_spellings_pack(), "Keep a pack of spellings"),
        (endpoints::get_label_spellings_pack(), "Read a pack of spellings"),
        (endpoints::delete_label_spellings_pack(), "Take a pack of spellings away"),
        "How suppliers write sizes, grouping codes and tapers: of the supplier that the pack names, or, of \
         everybody's labels, what is not read without it. Each reading names the packs it used.",
    ));
    all.extend(of_kind::<AftercarePack>(
        (endpoints::put_aftercare_pack(), "Keep a pack of aftercare"),
        (endpoints::get_aftercare_pack(), "Read a pack of aftercare"),
        (endpoints::delete_aftercare_pack(), "Take a pack of aftercare away"),
        "Steps that the studio adds to its clients' aftercare. Each step names its pack.",
    ));
    all
}

fn of_kind<P>(
    (put, keep): (Endpoint<Nothing, P, KeptPack<P>>, &'static str),
    (get, read): (Endpoint<Nothing, Nothing, KeptPack<P>>, &'static str),
    (delete, end): (Endpoint<Nothing, Nothing, KeptPack<P>>, &'static str),
    about: &'static str,
) -> Vec<Operation>
where
    P: PackBody + Told,
{
    vec![
        Operation::of(put, || to(self::put::<P>))
            .takes::<SentPack<P>>()
            .says(keep, about)
            .answers(200, "Replaced; applied from now on, if it is enabled.")
            .answers(201, "Created; applied from now on, if it is enabled.")
            .errors([ErrorCode::Conflict]),
        Operation::of(get, || to(self::get::<P>))
            .says(
                read,
                "As it was put, with its `ETag`, and with what keeps it from being applied.",
            )
            .answers(200, "The pack."),
        Operation::of(delete, || to(self::delete::<P>))
            .says(end, "Refused with 409 if another pack that is applied needs it.")
            .answers(200, "Taken away; this is what it was.")
            .errors([ErrorCode::Conflict]),
    ]
}

async fn list(call: Call, query: Query<PackQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(&call, &packs::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn put<P>(call: Call, body: Sent<P>) -> Reply
where
    P: PackBody + Told,
{
    whole(async move {
        let (name, known) = (call.reference("pack")?, write::precondition(&call));
        change(&call, &body.bytes, async |snap, moment| {
            let sent = (&body.value, &body.beside);
            packs::put(&call.state.studio, snap, moment, &name, sent, &known).await
        })
        .await
    })
    .await
}

async fn get<P: PackBody>(call: Call) -> Reply {
    let name = call.reference("pack")?;
    let mut snap = write::view(&call).await?;
    let pack = packs::get(&call.state.studio, &mut snap, P::KIND, &name).await?;
    tagged(&call, "application/json", to_json(&pack)?)
}

async fn delete<P: PackBody>(call: Call) -> Reply {
    whole(async move {
        let (name, known) = (call.reference("pack")?, write::precondition(&call));
        change(&call, &[], async |snap, moment| {
            packs::remove(&call.state.studio, snap, moment, P::KIND, &name, &known).await
        })
        .await
    })
    .await
}

async fn dry_run(call: Call, body: Body<PackDryRunRequest>) -> Reply {
    let (name, moment) = (call.reference("pack")?, call.moment());
    let mut snap = write::view(&call).await?;
    json(200, &packs::dry_run(&call.state.studio, &mut snap, &moment, &name, &body.value).await?)
}

/// Commits a change and lets every later request compute with it.
async fn change<F>(call: &Call, body: &[u8], plan: F) -> Reply
where
    F: AsyncFn(&mut Snap, &Moment) -> Result<Change, Error>,
{
    let _one_at_a_time = call.state.packs.lock().await;
    let made = RefCell::new(None);
    let reply = write::run(call, body, async |snap, moment| -> Result<Planned, Error> {
        artists::no_students_rules(&call.state.studio, snap, moment).await?;
        let Change { planned, craft } = plan(snap, moment).await?;
        made.replace(Some(craft));
        Ok(planned)
    })
    .await?;
    if let Some(craft) = made.into_inner() {
        call.state.adopt(craft);
    }
    Ok(reply)
}

/// Runs to its end even if the caller goes away: what is committed must also
/// be adopted.
async fn whole(work: impl Future<Output = Reply> + 'static) -> Reply {
    rt::spawn(work)
        .await
        .unwrap_or_else(|_| Err(Failure::new(ErrorCode::Internal, "internal error")))
}

/// A pack as it is put: by itself, or within what GET gave of it.
struct Sent<P> {
    value: P,
    /// What came back with it.
    beside: Map<String, Value>,
    bytes: Bytes,
}

impl<P: Told> FromRequest for Sent<P> {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(req: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let bytes = body::whole(req, payload, "application/json");
        Box::pin(async move {
            let bytes = bytes.await?;
            let (value, beside) = parse(&bytes)?;
            Ok(Self { value, beside, bytes })
        })
    }
}

fn parse<P: Told>(bytes: &[u8]) -> Result<(P, Map<String, Value>), Failure> {
    let read = serde_json::from_slice::<Map<String, Value>>(bytes);
    let whole = read.ok().filter(|whole| whole.get("pack").is_some_and(Value::is_object));
    let Some(mut whole) = whole else { return Ok((body::parse(bytes)?, Map::new())) };
    let twice = faults::doubled(bytes);
    if !twice.is_empty() {
        return Err(Failure::refused(twice));
    }
    let pack = to_json(&whole.remove("pack"))?;
    let below = |mut failure: Failure| {
        for fault in &mut failure.errors {
            fault.pointer.insert_str(1, "/pack");
        }
        failure
    };
    Ok((body::parse(&pack).map_err(below)?, whole))
}
