//! Is it alive, is it ready, what does it count?

use etui_schema::endpoints;
use etui_schema::service::{Health, HealthCheck, HealthStatus};

use super::answer::{Reply, bytes, to_bytes};
use super::aside::reason_of;
use super::call::Call;
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;
use super::write;
use crate::studio::standing::{self, Standing};
use etui_schema::problem::ErrorCode;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_liveness(), || to(live))
            .says("Is the process alive?", "Answers 200 as long as the process answers at all.")
            .answers(200, "It is."),
        Operation::of(endpoints::get_readiness(), || to(ready))
            .says(
                "Is the service ready to work?",
                "Looks at the store and says whether acknowledged writes are durable. 503 if it cannot work.",
            )
            .answers(200, "It is ready.")
            .answers(503, "It cannot work; `checks` says why and what to do."),
        Operation::of(endpoints::get_metrics(), || to(metrics))
            .says("Figures of this process", "OpenMetrics text; no label holds anything of a client.")
            .answers(200, "The figures."),
    ]
}

async fn live(call: Call) -> Reply {
    let _ = call;
    let health = Health {
        status: HealthStatus::Pass.into(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        checks: Vec::new(),
    };
    bytes(200, to_bytes(&health)?)
}

async fn ready(call: Call) -> Reply {
    // Whoever is asked whether it can work asks whether it can read.
    let behind = call.state.keep_up().await.err();
    let mut health = call.state.studio.health(call.state.sources.as_ref());
    if let Some(error) = behind.filter(|_| health.status != HealthStatus::Fail) {
        health.status = HealthStatus::Fail.into();
        let (component, output) = ("shared".to_owned(), reason_of(&error));
        health.checks.push(HealthCheck { component, status: HealthStatus::Fail.into(), output });
    }
    let status = if health.status == HealthStatus::Fail { 503 } else { 200 };
    bytes(status, to_bytes(&health)?)
}

async fn stands(call: &Call) -> Result<Standing, Failure> {
    let mut snap = write::view(call).await?;
    let when = (call.now, call.today());
    Ok(standing::look(&call.state.studio, &mut snap, when).await?)
}

async fn metrics(call: Call) -> Reply {
    // A store that cannot be read is told by `/health/ready`; what was counted is told all the same.
    let standing = stands(&call).await.ok();
    let text = call
        .state
        .figures
        .text(standing.as_ref())
        .map_err(|_| Failure::new(ErrorCode::Internal, "internal error"))?;
    Ok(actix_web::HttpResponse::Ok()
        .content_type("application/openmetrics-text; version=1.0.0; charset=utf-8")
        .body(text))
}
