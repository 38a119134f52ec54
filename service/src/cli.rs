//! The command line: arguments, and which function they call.

use std::io::Write;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};
use etui_schema::vocabulary::{Reference, Zone};
use serde_json::Value;
use tokio::signal::unix::{SignalKind, signal};

use crate::build;
use crate::config::{Config, DatabaseConfig};
use crate::demo;
use crate::http::boot::{OWNER_TOKEN, boot};
use crate::http::clock::{Sources, System};
use crate::http::document;
use crate::http::rt;
use crate::log;
use crate::look;
use crate::maintain::{self, Place, Saved};
use crate::notify::Notifier;
use crate::panics;
use crate::progress::Teller;
use crate::settings;
use crate::store::{SyncPath, harden_sync};
use crate::studio::engine::Engine;

/// The computing and the remembering for permanent-makeup studios.
#[derive(Debug, Parser)]
#[command(name = "etui", version = build::version())]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve HTTP until stopped; prints one JSON line when ready.
    Serve(#[command(flatten)] Box<Config>),
    /// Say what `serve` would run with and what would keep it from starting; starts nothing.
    CheckSettings(#[command(flatten)] Box<Config>),
    /// Make a backup through the service that runs; it goes on meanwhile.
    Backup {
        #[command(flatten)]
        there: There,
    },
    /// Ask the service that runs whether it is ready; ends with 0 if it is.
    Health {
        #[command(flatten)]
        there: There,
    },
    /// Write everything that is kept as JSON Lines with a digest; the service must be stopped.
    Export {
        #[command(flatten)]
        folder: Folder,
        /// The file to write; its keys are written beside it.
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
    /// Restore an export into a new folder.
    Import(Filled),
    /// Restore a backup into a new folder.
    Restore(Filled),
    /// Walk every record, index row, audit link and key; the service must be stopped.
    Verify {
        #[command(flatten)]
        folder: Folder,
    },
    /// Put a new studio key in place of the old one; the service must be stopped.
    ChangeStudioKey {
        #[command(flatten)]
        folder: Folder,
        /// Folder of the backups; `backups` in the data folder if not given.
        #[arg(long, env = "ETUI_BACKUPS", value_name = "DIR")]
        backups: Option<PathBuf>,
        /// A file with the new key; without one a new key is made.
        #[arg(long, value_name = "FILE")]
        new_key: Option<PathBuf>,
    },
    /// Forget a client; the service must be stopped.
    Erase {
        #[command(flatten)]
        folder: Folder,
        /// The client's reference.
        #[arg(long, value_name = "REF")]
        client: Reference,
        /// The studio's time zone.
        #[arg(long, env = "ETUI_ZONE", default_value = "UTC", value_name = "IANA")]
        zone: Zone,
    },
    /// Make the tables in a database, or bring them up to date, with the role that owns them.
    Init {
        /// A file with settings; flags and environment go before it.
        #[arg(long, env = "ETUI_SETTINGS", value_name = "FILE")]
        settings: Option<PathBuf>,
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
    /// Print the completions of a shell.
    Completions {
        /// Whose.
        shell: clap_complete::Shell,
    },
    /// Print the manual page (roff), of the program or of one of its commands.
    Man {
        /// Whose; the program's if not given.
        command: Option<String>,
    },
}

/// The data folder, and where the settings are that may name it.
#[derive(Debug, Args)]
struct Folder {
    /// A file with settings; flags and environment go before it.
    #[arg(long, env = "ETUI_SETTINGS", value_name = "FILE")]
    settings: Option<PathBuf>,
    /// The data folder.
    #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
    data: PathBuf,
    /// The database, if the records lie in one.
    #[command(flatten)]
    database: DatabaseConfig,
}

impl Folder {
    fn place(self) -> Place {
        Place { data: self.data, database: self.database }
    }
}

/// A new folder, and what it is filled from.
#[derive(Debug, Args)]
struct Filled {
    /// A file with settings; flags and environment go before it. The folder is not taken from it.
    #[arg(long, env = "ETUI_SETTINGS", value_name = "FILE")]
    settings: Option<PathBuf>,
    /// The file to read; its keys lie beside it.
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    /// The new data folder.
    #[arg(long, value_name = "DIR")]
    data: PathBuf,
    /// The database, if the records lie in one.
    #[command(flatten)]
    database: DatabaseConfig,
    /// The `studio-key` file of the folder that was saved.
    #[arg(long, value_name = "FILE")]
    studio_key: Option<PathBuf>,
}

impl Filled {
    fn fill(self, what: &'static str, saved: Saved) -> Result<(), Failed> {
        let Self { settings: _, from, data, database, studio_key } = self;
        let place = Place { data, database };
        long(what, maintain::fill((saved, &from), place, studio_key.as_ref()))
    }
}

/// A service that runs.
#[derive(Debug, Args)]
struct There {
    /// A file with settings; flags and environment go before it.
    #[arg(long, env = "ETUI_SETTINGS", value_name = "FILE")]
    settings: Option<PathBuf>,
    /// The data folder.
    #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
    data: PathBuf,
    /// The address it listens on.
    #[arg(long, env = "ETUI_LISTEN", default_value = "127.0.0.1:8417", value_name = "ADDR")]
    listen: SocketAddr,
}

impl Command {
    /// The file of settings, if one is named.
    fn settings(&self) -> Option<&PathBuf> {
        match self {
            Self::Serve(config) | Self::CheckSettings(config) => config.settings.as_ref(),
            Self::Backup { there } | Self::Health { there } => there.settings.as_ref(),
            Self::Export { folder, .. }
            | Self::Verify { folder }
            | Self::ChangeStudioKey { folder, .. }
            | Self::Erase { folder, .. } => folder.settings.as_ref(),
            Self::Import(filled) | Self::Restore(filled) => filled.settings.as_ref(),
            Self::Init { settings, .. } => settings.as_ref(),
            Self::Demo | Self::Openapi | Self::Completions { .. } | Self::Man { .. } => None,
        }
    }
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
        Command::CheckSettings(config) => look::settings(&config),
        Command::Backup { there } => tell(look::backup(&there.data, there.listen)),
        Command::Health { there } => tell(look::health(there.listen)),
        Command::Export { folder, to } => long("export", maintain::export(folder.place(), &to)),
        Command::Import(filled) => filled.fill("import", Saved::Export),
        Command::Restore(filled) => filled.fill("restore", Saved::Backup),
        Command::Verify { folder } => long("verify", maintain::check(folder.place())),
        Command::ChangeStudioKey { folder, backups, new_key } => {
            let (backups, new_key) = (backups.as_ref(), new_key.as_ref());
            let work = maintain::change_studio_key(folder.place(), backups, new_key);
            long("change-studio-key", work)
        }
        Command::Erase { folder, client, zone } => {
            long("erase", maintain::erase(folder.place(), zone, &client))
        }
        Command::Init { settings: _, database, grant_to } => {
            tell(maintain::init(&database, grant_to.as_deref()))
        }
        Command::Completions { shell } => {
            clap_complete::generate(shell, &mut Cli::command(), "etui", &mut std::io::stdout());
            Ok(())
        }
        Command::Man { command } => print_manual(command.as_deref()),
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
    let Some(file) = cli.command.settings() else { return Ok(cli) };
    let mut command = Cli::command();
    let Some(serve) = command.find_subcommand("serve").cloned() else { return Ok(cli) };
    if let Command::CheckSettings(_) = cli.command {
        // The name of the command stands in the place of the program's.
        let words: Vec<_> = std::env::args_os().skip(1).collect();
        let check = command.find_subcommand("check-settings").cloned().unwrap_or_default();
        let faults = settings::faults(&check, &serve, file, &words);
        if !faults.is_empty() {
            return Err(look::unusable(file, faults).unwrap_or_else(Into::into));
        }
    }
    for one in command.get_subcommands_mut() {
        *one = settings::with_file(one.clone(), &serve, file)?;
    }
    let told = command.try_get_matches().and_then(|told| Cli::from_arg_matches(&told));
    told.map_err(|error| {
        // The line that clap prints names a flag; the value may stand in the file.
        let _ = error.print();
        let _ = writeln!(std::io::stderr(), "some of it may come from {}", file.display());
        std::process::exit(error.exit_code())
    })
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

/// The same for work that takes long: it says how far it is.
fn long(
    name: &'static str,
    work: impl Future<Output = Result<Value, Failed>>,
) -> Result<(), Failed> {
    let teller = Teller::of(name);
    tell(async move {
        let done = work.await;
        drop(teller);
        done
    })
}

fn print_manual(of: Option<&str>) -> Result<(), Failed> {
    let mut program = Cli::command();
    // Gives the commands the names by which the program's page refers to them.
    program.build();
    let page = match of {
        None => program,
        Some(name) => program.find_subcommand(name).cloned().ok_or_else(|| {
            let all: Vec<&str> = program.get_subcommands().map(clap::Command::get_name).collect();
            format!("there is no command `{name}`; there are {}", all.join(", "))
        })?,
    };
    clap_mangen::Man::new(page).render(&mut std::io::stdout())?;
    Ok(())
}

fn print_demo() -> Result<(), Failed> {
    writeln!(std::io::stdout(), "{}", demo::play()?)?;
    Ok(())
}

fn print_openapi() -> Result<(), Failed> {
    writeln!(std::io::stdout(), "{}", *document::TEXT)?;
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

/// How far the clock may stand from that of the database, in seconds: farther is told, and much
/// farther is refused (both our choice). With several processes that is how far what one writes may
/// seem to lie before what another wrote earlier.
const CLOCK_TOLD_S: f64 = 1.0;
const CLOCK_REFUSED_S: f64 = 5.0;

/// Compares this machine's clock with the database's.
async fn compare_clocks(config: &Config) -> Result<(), Failed> {
    let database = config.database.find()?;
    // With this one setting it is refused in any case.
    let Some(database) = database.filter(|_| config.min_free_mb.is_none()) else { return Ok(()) };
    let at = |now: jiff::Timestamp| now.as_duration().as_secs_f64();
    let before = at(System.now());
    let theirs = Engine::server_time(&database).await?;
    let after = at(System.now());
    // What was asked in between is not known more exactly than that.
    let apart = if theirs < before { before - theirs } else { (theirs - after).max(0.0) };
    if CLOCK_REFUSED_S < apart {
        let why = "set one of them right (both should follow a time server)";
        return Err(format!("the clock is {apart:.1} s away from the database's; {why}").into());
    }
    if CLOCK_TOLD_S < apart {
        tracing::warn!(seconds = apart, "the clock is away from the database's");
    }
    Ok(())
}

async fn serve_until_stopped(config: &Config, sync_path: SyncPath) -> Result<(), Failed> {
    compare_clocks(config).await?;
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
        "build": build::version(),
    });
    // Before the ready line: whoever reads it may ask for a stop at once.
    let mut terminate = signal(SignalKind::terminate())?;
    let mut interrupt = signal(SignalKind::interrupt())?;
    let mut out = std::io::stdout();
    writeln!(out, "{ready}")?;
    out.flush()?;
    let handle = server.handle();
    let notifier = Notifier::from_environment().map(Arc::new);
    if let Some(notifier) = &notifier {
        notifier.ready(&server.address().to_string());
        if let Some(every) = notifier.every {
            let notifier = Arc::clone(notifier);
            // From the loop that answers: if that hangs, nothing is told.
            rt::spawn(async move {
                loop {
                    notifier.alive();
                    tokio::time::sleep(every).await;
                }
            });
        }
    }
    rt::spawn(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
        tracing::info!("stopping");
        if let Some(notifier) = notifier {
            notifier.stopping();
        }
        handle.stop(true).await;
    });
    Ok(server.run().await?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever has a flag of `serve` reads it from the file of settings too.
    #[test]
    fn every_command_with_a_setting_reads_the_file() {
        let command = Cli::command();
        let longs = |one: &clap::Command| -> Vec<String> {
            one.get_arguments().filter_map(|arg| Some(arg.get_long()?.to_owned())).collect()
        };
        let serve = longs(command.find_subcommand("serve").expect("serve"));
        let mut without = Vec::new();
        for one in command.get_subcommands() {
            let own = longs(one);
            if !own.iter().any(|long| long == "settings") {
                without.push(one.get_name());
                assert!(!own.iter().any(|long| serve.contains(long)), "{}", one.get_name());
            }
        }
        assert_eq!(without, ["demo", "openapi", "completions", "man"]);
        let file = PathBuf::from("etui.toml");
        for (words, named) in [
            (vec!["etui", "import", "--from", "a", "--data", "b", "--settings", "etui.toml"], true),
            (vec!["etui", "restore", "--from", "a", "--data", "b"], false),
            (vec!["etui", "init", "--settings", "etui.toml"], true),
            (vec!["etui", "erase", "--client", "c", "--settings", "etui.toml"], true),
        ] {
            let cli = Cli::try_parse_from(&words).expect("arguments");
            let wanted = named.then_some(&file);
            assert_eq!(cli.command.settings(), wanted, "{words:?}");
        }
    }
}
