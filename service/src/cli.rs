//! The command line: arguments, and which function they call.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use etui_schema::vocabulary::{Reference, Zone};
use serde_json::Value;
use tokio::signal::unix::{SignalKind, signal};

use crate::config::{Config, DatabaseConfig};
use crate::demo;
use crate::http::boot::{OWNER_TOKEN, boot};
use crate::http::clock::System;
use crate::http::openapi;
use crate::http::rt;
use crate::log;
use crate::maintain::{self, Place};
use crate::panics;
use crate::settings;
use crate::store::{SyncPath, harden_sync};

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
    Serve(#[command(flatten)] Box<Config>),
    /// Write everything that is kept as JSON Lines with a digest; the service must be stopped.
    Export {
        /// The data folder.
        #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
        /// The file to write; its keys are written beside it.
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
    /// Restore an export into a new folder.
    Import {
        /// The file to read; its keys lie beside it.
        #[arg(long, value_name = "FILE")]
        from: PathBuf,
        /// The new data folder.
        #[arg(long, value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
        /// The `studio-key` file of the folder that was exported.
        #[arg(long, value_name = "FILE")]
        studio_key: Option<PathBuf>,
    },
    /// Restore a backup into a new folder.
    Restore {
        /// The backup; its keys lie beside it.
        #[arg(long, value_name = "FILE")]
        from: PathBuf,
        /// The new data folder.
        #[arg(long, value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
        /// The `studio-key` file of the folder that was backed up.
        #[arg(long, value_name = "FILE")]
        studio_key: Option<PathBuf>,
    },
    /// Walk every record, index row, audit link and key; the service must be stopped.
    Verify {
        /// The data folder.
        #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
    },
    /// Put a new studio key in place of the old one; the service must be stopped.
    ChangeStudioKey {
        /// The data folder.
        #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
        /// Folder of the backups; `backups` in the data folder if not given.
        #[arg(long, env = "ETUI_BACKUPS", value_name = "DIR")]
        backups: Option<PathBuf>,
        /// A file with the new key; without one a new key is made.
        #[arg(long, value_name = "FILE")]
        new_key: Option<PathBuf>,
    },
    /// Forget a client; the service must be stopped.
    Erase {
        /// The data folder.
        #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
        data: PathBuf,
        /// The database, if the records lie in one.
        #[command(flatten)]
        database: DatabaseConfig,
        /// The client's reference.
        #[arg(long, value_name = "REF")]
        client: Reference,
        /// The studio's time zone.
        #[arg(long, env = "ETUI_ZONE", default_value = "UTC", value_name = "IANA")]
        zone: Zone,
    },
    /// Make the tables in a database, or bring them up to date, with the role that owns them.
    Init {
        /// The database.
        #[command(flatten)]
        database: DatabaseConfig,
        /// The role that the service will work with; it is given what it needs and no more.
        #[arg(long, value_name = "ROLE")]
        grant_to: Option<String>,
    },
    /// Play one afternoon of a made-up studio and print it.
    Demo,
    /// Print the OpenAPI document.
    Openapi,
}

/// Why a command failed.
type Failed = Box<dyn std::error::Error>;

/// Reads the arguments and does what they say.
#[must_use]
pub fn run() -> ExitCode {
    let cli = match arguments() {
        Ok(cli) => cli,
        Err(error) => {
            complain(error.as_ref());
            return ExitCode::FAILURE;
        }
    };
    let done = match cli.command {
        Command::Serve(config) => serve(&config),
        Command::Export { data, database, to } => {
            tell(maintain::export(Place { data, database }, &to))
        }
        Command::Import { from, data, database, studio_key } => {
            tell(maintain::import(&from, Place { data, database }, studio_key.as_ref()))
        }
        Command::Restore { from, data, database, studio_key } => {
            tell(maintain::restore(&from, Place { data, database }, studio_key.as_ref()))
        }
        Command::Verify { data, database } => tell(maintain::check(Place { data, database })),
        Command::ChangeStudioKey { data, database, backups, new_key } => {
            let place = Place { data, database };
            tell(maintain::change_studio_key(place, backups.as_ref(), new_key.as_ref()))
        }
        Command::Erase { data, database, client, zone } => {
            tell(maintain::erase(Place { data, database }, zone, &client))
        }
        Command::Init { database, grant_to } => {
            tell(maintain::init(&database, grant_to.as_deref()))
        }
        Command::Demo => print_demo(),
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

/// The arguments; read a second time if a file of settings is named.
fn arguments() -> Result<Cli, Failed> {
    let cli = Cli::parse();
    let Command::Serve(config) = &cli.command else { return Ok(cli) };
    let Some(file) = &config.settings else { return Ok(cli) };
    let mut command = Cli::command();
    if let Some(serve) = command.find_subcommand_mut("serve") {
        *serve = settings::with_file(serve.clone(), file)?;
    }
    match Cli::from_arg_matches(&command.get_matches()) {
        Ok(cli) => Ok(cli),
        Err(error) => error.exit(),
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

/// Does something to a data folder and prints one JSON line about it.
fn tell(work: impl Future<Output = Result<Value, Failed>>) -> Result<(), Failed> {
    let _ = harden_sync();
    let told =
        tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(work)?;
    writeln!(std::io::stdout(), "{told}")?;
    Ok(())
}

fn print_demo() -> Result<(), Failed> {
    writeln!(std::io::stdout(), "{}", demo::play()?)?;
    Ok(())
}

fn print_openapi() -> Result<(), Failed> {
    let text = serde_json::to_string_pretty(&openapi::document())?;
    writeln!(std::io::stdout(), "{text}")?;
    Ok(())
}

fn serve(config: &Config) -> Result<(), Failed> {
    // Before any thread starts: a thread that runs already would escape the rule.
    let sync_path = harden_sync();
    let log = log::to_stderr()?;
    panics::tell_in_log();
    let done = rt::System::new().block_on(serve_until_stopped(config, sync_path));
    log.settle();
    done
}

async fn serve_until_stopped(config: &Config, sync_path: SyncPath) -> Result<(), Failed> {
    let (server, report) = boot(config, Arc::new(System), sync_path.clone()).await?;
    let (durable, durable_path) = server.durability(&sync_path);
    match report.as_ref().and_then(|report| report.damage.as_ref()) {
        None => tracing::info!(durable_path, store = ?report, "store opened"),
        Some(why) => tracing::error!(reason = why, "the store is damaged; nothing is served"),
    }
    let ready = serde_json::json!({
        "listening": server.address().to_string(),
        "data": config.data.display().to_string(),
        "owner_token_file": config.data.join(OWNER_TOKEN).display().to_string(),
        "durable": durable,
        "zone": config.zone.name(),
        "version": env!("CARGO_PKG_VERSION"),
    });
    // Before the ready line: whoever reads it may ask for a stop at once.
    let mut terminate = signal(SignalKind::terminate())?;
    let mut interrupt = signal(SignalKind::interrupt())?;
    let mut out = std::io::stdout();
    writeln!(out, "{ready}")?;
    out.flush()?;
    let handle = server.handle();
    rt::spawn(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
        tracing::info!("stopping");
        handle.stop(true).await;
    });
    Ok(server.run().await?)
}
