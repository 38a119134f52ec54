//! `/v1/practice-sheets`, `/v1/artists/{artist_ref}/progress` and `…/practice`.

use actix_web::HttpResponse;
use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;
use etui_schema::practice_sheets::{
    HandInRequest, PracticeSheetQuery, PracticeSheetRequest, ProgressQuery, SheetMarksRequest,
    SheetPictureRequest,
};
use etui_schema::problem::ErrorCode;

use super::answer::{Reply, json, page, tagged};
use super::body::Body;
use super::call::Call;
use super::compute::compute_picture;
use super::handler::to;
use super::operation::Operation;
use super::pictures::{JSON, SVG, preferred};
use super::query::Query;
use super::sheet_readings::BODY_LIMIT;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{Studio, practice};

pub(crate) fn operations() -> Vec<Operation> {
    let mut all = sheets();
    all.extend(records());
    all
}

fn sheets() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::make_practice_sheet(), || to(make))
            .speaks()
            .says(
                "Make a practice sheet",
                "Numbered among the artist's, with the last day on which it may be handed in; after that \
                 it counts as missed.",
            )
            .answers(201, "Made; read it as SVG to print it.")
            .until_erased()
            .located(),
        Operation::of(endpoints::list_practice_sheets(), || to(list))
            .says("List an artist's practice sheets", "First made first, with what became of each.")
            .answers(200, "One page of sheets.")
            .finds(),
        Operation::of(endpoints::get_practice_sheet(), || to(get))
            .speaks()
            .says(
                "Read a practice sheet",
                "With what was handed in and marked; if `Accept` asks for `image/svg+xml`, the sheet to be \
                 printed at 100 %.",
            )
            .answers(200, "The sheet.")
            .or_as(&[SVG])
            .errors([ErrorCode::Conflict]),
        Operation::of(endpoints::hand_in_practice_sheet(), || to(hand_in))
            .speaks()
            .says(
                "Hand a practice sheet in",
                "Once, by its day, with what was measured of each panel. What is not handed in counts as \
                 missed.",
            )
            .answers(201, "Handed in; a trainer marks it next.")
            .until_erased(),
        Operation::of(endpoints::hand_in_practice_picture(), || to(picture))
            .speaks()
            .says(
                "Hand a practice sheet in as a picture (experimental)",
                "Measured and graded as it was printed, by its day, before it is marked. The first entry of a \
                 sheet counts; each later picture can only lower it.",
            )
            .up_to(BODY_LIMIT)
            .answers(201, "Handed in; a trainer marks it next.")
            .until_erased(),
        Operation::of(endpoints::mark_practice_sheet(), || to(mark))
            .speaks()
            .says(
                "Mark a practice sheet",
                "Depth, stretch and torn skin of each panel, which no picture shows, once. Who marks is \
                 told by the token alone: a trainer that it acts for, or the owner.",
            )
            .answers(201, "Marked, with what each panel came to.")
            .until_erased(),
    ]
}

fn records() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_practice_progress(), || to(progress))
            .speaks()
            .says(
                "How far an artist's practice is",
                "For each configuration, effect and site: where it stands, what is still wanted, what was not \
                 handed in, and in words. Results propose; a person signs.",
            )
            .answers(200, "How far it is."),
        Operation::of(endpoints::get_practice_dossier(), || to(dossier))
            .says(
                "Everything that is held on an artist's practice",
                "Sheets with what was handed in and marked, and what was signed for her.",
            )
            .answers(200, "Everything."),
        Operation::of(endpoints::erase_practice(), || to(erase))
            .says(
                "Forget an artist's practice",
                "Destroys the key under which it is sealed, in the store and in its backups. Who signed \
                 what when stays.",
            )
            .answers(200, "Forgotten, or, in a dry run, what would be."),
    ]
}

async fn make(call: Call, body: Body<PracticeSheetRequest>) -> Reply {
    let language = call.language();
    write::run(&call, &body.bytes, async |snap, moment| {
        practice::make(&call.state.studio, snap, moment, language, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<PracticeSheetQuery>) -> Reply {
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    page(&call, &practice::list(&call.state.studio, &mut snap, &moment, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    let studio = &call.state.studio;
    match preferred(&call, &[JSON, SVG]) {
        SVG => {
            let sheet = practice::drawn(studio, &mut snap, &moment, language, id).await?;
            Ok(HttpResponse::Ok().content_type(SVG).body(sheet))
        }
        _ => tagged(&call, JSON, to_json(&practice::get(studio, &mut snap, &moment, id).await?)?),
    }
}

async fn hand_in(call: Call, body: Body<HandInRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        practice::hand_in(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn picture(call: Call, body: Body<SheetPictureRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    let Body { value, bytes } = body;
    if let Some(before) = write::repeated(&call, &bytes).await? {
        return Ok(before);
    }
    // Pictures wait for each other: none holds a view of the store meanwhile. What was drawn of a
    // sheet never changes; whether it is still awaited is asked again when it is planned.
    let studio = &call.state.studio;
    let asked =
        practice::awaited(studio, &mut write::view(&call).await?, &call.moment(), id).await?;
    let work = move |studio: &Studio| Ok(practice::measured(studio, &asked, value, language)?);
    let found = compute_picture(&call, work).await?;
    write::run(&call, &bytes, async |snap, moment| {
        let sheet = practice::awaited(studio, snap, moment, id).await?;
        practice::hand_in_picture(studio, snap, moment, &sheet, &found).await
    })
    .await
}

async fn mark(call: Call, body: Body<SheetMarksRequest>) -> Reply {
    let (id, language) = (call.path_id("id")?, call.language());
    write::run(&call, &body.bytes, async |snap, moment| {
        practice::mark(&call.state.studio, snap, moment, language, id, &body.value).await
    })
    .await
}

async fn progress(call: Call, query: Query<ProgressQuery>) -> Reply {
    let (artist, language) = (call.reference("artist_ref")?, call.language());
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    let studio = &call.state.studio;
    json(200, &practice::progress(studio, &mut snap, &moment, language, (&artist, query.0)).await?)
}

async fn dossier(call: Call) -> Reply {
    let artist = call.reference("artist_ref")?;
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    json(200, &practice::dossier(&call.state.studio, &mut snap, &moment, &artist).await?)
}

async fn erase(call: Call, query: Query<DryRunQuery>) -> Reply {
    let (artist, dry_run) = (call.reference("artist_ref")?, query.0.is_dry());
    // Once begun it goes on to its end, even if the caller goes away.
    let (studio, moment) = (call.state.studio.clone(), call.moment());
    let work = async move { practice::erase(&studio, &moment, &artist, dry_run).await };
    json(200, &write::to_its_end(work).await?)
}
