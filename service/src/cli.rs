//! The command line: arguments, and which function they call.

use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

use clap::{Parser, Subcommand};

use crate::config::Config;
use crate::http::clock::System;
use crate::http::openapi;
use crate::http::server::Server;
use crate::studio::{Craft, Studio};

/// The computing and the remembering for permanent-makeup studios.
#[derive(Debug, Parser)]
#[command(name = "etui", version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve HTTP until stopped; prints one JSON line when ready.
    Serve(#[command(flatten)] Config),
    /// Print the OpenAPI document.
    Openapi,
}

/// Why a command failed.
type Failed = Box<dyn std::error::Error>;

/// Reads the arguments and does what they say.
#[must_use]
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let done = match cli.command {
        Command::Serve(config) => serve(&config),
        Command::Openapi => print_openapi(),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            complain(error.as_ref());
            ExitCode::FAILURE
        }
    }
}

/// One line on stderr with the whole chain of causes.
fn complain(error: &dyn std::error::Error) {
    let mut text = format!("etui: {error}");
    let mut cause = error.source();
    while let Some(inner) = cause {
        text.push_str(": ");
        text.push_str(&inner.to_string());
        cause = inner.source();
    }
    let _ = writeln!(std::io::stderr(), "{text}");
}

fn print_openapi() -> Result<(), Failed> {
    let text = serde_json::to_string_pretty(&openapi::document())?;
    writeln!(std::io::stdout(), "{text}")?;
    Ok(())
}

fn serve(config: &Config) -> Result<(), Failed> {
    log_to_stderr();
    actix_web::rt::System::new().block_on(serve_until_stopped(config))
}

async fn serve_until_stopped(config: &Config) -> Result<(), Failed> {
    let studio = Studio { craft: Craft::load()?, zone: config.zone.clone() };
    let server = Server::bind(config, studio, Arc::new(System))?;
    let ready = serde_json::json!({ "listening": server.address().to_string() });
    writeln!(std::io::stdout(), "{ready}")?;
    let handle = server.handle();
    actix_web::rt::spawn(async move {
        stop_asked_for().await;
        tracing::info!("stopping");
        handle.stop(true).await;
    });
    server.run().await?;
    Ok(())
}

async fn stop_asked_for() {
    use tokio::signal::unix::{SignalKind, signal};
    let Ok(mut terminate) = signal(SignalKind::terminate()) else { return };
    let Ok(mut interrupt) = signal(SignalKind::interrupt()) else { return };
    tokio::select! {
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
    }
}

/// JSON lines on stderr; `ETUI_LOG` sets the level (default `info`).
fn log_to_stderr() {
    let filter = tracing_subscriber::EnvFilter::try_from_env("ETUI_LOG")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    let _ = tracing_subscriber::fmt()
        .json()
        .with_writer(std::io::stderr)
        .with_env_filter(filter)
        .try_init();
}
