//! `/v1/plugins`: programs with tokens of their own.
//!
//! A change of tokens is carried through to its end even if the caller hangs up
//! in the middle ([`carried_through`]): what is revoked on the disk must be
//! revoked in memory, whoever still listens.

use actix_web::rt;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::plugins::{Identity, PluginRequest, PluginTokenRequest, TokenRotationRequest};
use etui_schema::problem::ErrorCode;
use serde_json::Value;
use uuid::Uuid;

use super::answer::{Reply, json, page, record, tagged};
use super::body::Body;
use super::call::Call;
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;
use super::patch::{self, Patch};
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::plugins;

pub(crate) fn operations() -> Vec<Operation> {
    // `me` stands before `{id}`: the first path that fits is taken.
    [vec![me_operation()], plugin_operations(), token_operations()].concat()
}

fn me_operation() -> Operation {
    Operation::of(endpoints::get_me(), || to(me))
        .any_token()
        .says(
            "Whose token is this?",
            "For whoever has a valid token, the owner too: its holder, its scopes, when it expires.",
        )
        .answers(200, "The holder of the token that was sent.")
        .errors([ErrorCode::NotFound, ErrorCode::Unavailable])
}

fn plugin_operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::register_plugin(), || to(register))
            .says(
                "Register a plug-in",
                "A program of the studio, the most that it may do, and how often. It can do nothing \
                 before it gets a token. `admin` is given only by the owner's own token and only \
                 with `allow_admin`. `artists` limits it to some artists' work.",
            )
            .answers(201, "Registered.")
            .located(),
        Operation::of(endpoints::list_plugins(), || to(list))
            .says("List the plug-ins", "In the order in which they were registered.")
            .answers(200, "One page of plug-ins."),
        Operation::of(endpoints::get_plugin(), || to(get))
            .says("Read a plug-in", "Its scopes and limits.")
            .answers(200, "The plug-in."),
        Operation::of(endpoints::patch_plugin(), || to(change))
            .says(
                "Change a plug-in",
                "Its `description`, its `scopes`, its `artists` and its limits. Its tokens lose what it loses, for good, \
                 and get nothing that it gets: make new ones. Its name stays.",
            )
            .answers(200, "As it is now.")
            .errors([ErrorCode::Conflict]),
        Operation::of(endpoints::remove_plugin(), || to(remove))
            .says(
                "Remove a plug-in",
                "Its tokens open nothing from now on. Its name is never given again, and what it \
                 did stays in the audit trail.",
            )
            .answers(200, "Removed.")
            .if_match_sent(),
        Operation::of(endpoints::list_plugin_activity(), || to(activity))
            .says(
                "What a plug-in did",
                "Its entries of the audit trail, newest first, also after its removal. A page can \
                 be shorter than its limit and still have a next one.",
            )
            .answers(200, "One page of entries."),
    ]
}

fn token_operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::issue_plugin_token(), || to(issue))
            .tells_secret()
            .says(
                "Make a token",
                "With the plug-in's scopes or fewer. `secret` is in this answer and in no other; a \
                 repeat with the same `Idempotency-Key` is answered without it.",
            )
            .answers(201, "Made; keep `secret`, it is not shown again.")
            .located(),
        Operation::of(endpoints::list_plugin_tokens(), || to(tokens))
            .says("List the tokens of a plug-in", "With their last use, without their secrets.")
            .answers(200, "One page of tokens."),
        Operation::of(endpoints::get_plugin_token(), || to(token))
            .says("Read a token of a plug-in", "As in the list.")
            .answers(200, "The token.")
            .if_none_match(),
        Operation::of(endpoints::revoke_plugin_token(), || to(revoke))
            .says("Take a token back", "It opens nothing from now on.")
            .answers(200, "Revoked.")
            .if_match_sent(),
        Operation::of(endpoints::rotate_plugin_token(), || to(rotate),
        )
        .tells_secret()
        .says(
            "Exchange a token for a new one",
            "The old one goes on to work for a while, an hour if nothing is said, so that nothing \
             stands still while the new one is put in place.",
        )
        .answers(201, "The new token; keep `secret`, it is not shown again.")
        .located(),
    ]
}

async fn me(call: Call) -> Reply {
    let (plugin, token) = match call.caller.plugin {
        None => (None, None),
        Some((plugin, token)) => {
            let mut snap = write::view(&call).await?;
            let found = plugins::get(&mut snap, plugin).await?;
            (Some(found), Some(plugins::one_token(&mut snap, call.now, plugin, token).await?))
        }
    };
    let (holder, scopes) = (call.caller.holder.to_string(), call.caller.scopes.to_vec());
    json(200, &Identity { holder, scopes, plugin, token })
}

async fn register(call: Call, body: Body<PluginRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        plugins::register(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<PageQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(&call, &plugins::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let mut snap = write::view(&call).await?;
    let plugin = plugins::get(&mut snap, call.path_id("id")?).await?;
    tagged(&call, "application/json", to_json(&plugin)?)
}

async fn activity(call: Call, query: Query<PageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    page(&call, &plugins::activity(&call.state.studio, &mut snap, id, &query.0).await?)
}

async fn tokens(call: Call, query: Query<PageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let fresh = |token| call.state.tokens.last_use(token);
    let asked = (id, &query.0);
    let studio = &call.state.studio;
    page(&call, &plugins::list_tokens(studio, &mut snap, call.now, asked, fresh).await?)
}

async fn token(call: Call) -> Reply {
    let (id, token) = (call.path_id("id")?, call.path_id("token_id")?);
    let mut snap = write::view(&call).await?;
    let fresh = call.state.tokens.last_use(token);
    record(&call, &plugins::get_token(&mut snap, call.now, (id, token), fresh).await?)
}

async fn change(call: Call, patch: Patch) -> Reply {
    let (id, known) = (call.path_id("id")?, write::precondition(&call));
    carried_through(call, id, async move |call: &Call| {
        write::run(call, &patch.bytes, async |snap, moment| {
            let patch = (&patch.value, |whole: &Value| patch::read(whole));
            plugins::change(&call.state.studio, snap, moment, id, patch, &known).await
        })
        .await
    })
    .await
}

async fn remove(call: Call) -> Reply {
    let (id, known) = (call.path_id("id")?, write::precondition(&call));
    carried_through(call, id, async move |call: &Call| {
        write::run(call, &[], async |snap, moment| plugins::remove(snap, moment, id, &known).await)
            .await
    })
    .await
}

async fn issue(call: Call, body: Body<PluginTokenRequest>) -> Reply {
    let id = call.path_id("id")?;
    carried_through(call, id, async move |call: &Call| {
        write::run(call, &body.bytes, async |snap, moment| {
            plugins::issue(&call.state.studio, snap, moment, id, &body.value).await
        })
        .await
    })
    .await
}

async fn revoke(call: Call) -> Reply {
    let (id, token) = (call.path_id("id")?, call.path_id("token_id")?);
    let known = write::precondition(&call);
    carried_through(call, id, async move |call: &Call| {
        let fresh = call.state.tokens.last_use(token);
        write::run(call, &[], async |snap, moment| {
            plugins::revoke(snap, moment, (id, token), fresh, &known).await
        })
        .await
    })
    .await
}

async fn rotate(call: Call, body: Body<TokenRotationRequest>) -> Reply {
    let (id, token) = (call.path_id("id")?, call.path_id("token_id")?);
    carried_through(call, id, async move |call: &Call| {
        write::run(call, &body.bytes, async |snap, moment| {
            plugins::rotate(&call.state.studio, snap, moment, id, token, &body.value).await
        })
        .await
    })
    .await
}

/// Runs a change of a plug-in in a task of its own and tells the guard, whether
/// or not the change succeeded: of a failed write the outcome may be unknown.
async fn carried_through<F>(call: Call, plugin: Uuid, change: F) -> Reply
where
    F: AsyncFn(&Call) -> Reply + 'static,
{
    let task = rt::spawn(async move {
        let reply = change(&call).await;
        let known = call.state.tokens.reload(&call.state.studio, plugin).await;
        let reply = reply?;
        known?;
        Ok(reply)
    });
    task.await.unwrap_or_else(|_| Err(Failure::new(ErrorCode::Internal, "internal error")))
}
