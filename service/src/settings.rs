//! Settings out of a file: TOML whose keys are the flags of `serve`, for every command.
//!
//! A command takes from it what it has a flag for and what `serve` would take besides is passed over; what
//! it must be told, such as the folder of a restore, it is told on the command line alone. What the file says is the default of its flag, so that a flag goes before
//! the environment, and the environment before the file. The keys are not
//! listed here: whatever flag there is, the file may set it.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use clap::Command;
use toml::Value;

/// Why a file of settings cannot be used.
#[derive(Debug, thiserror::Error)]
pub(crate) enum SettingsError {
    #[error("{} cannot be read", .file.display())]
    Unreadable { file: PathBuf, source: std::io::Error },
    #[error("{} is not TOML", .file.display())]
    NotToml { file: PathBuf, source: toml::de::Error },
    #[error("`{name}` is not a setting; accepted: {accepted}")]
    Unknown { name: String, accepted: String },
    #[error("`{name}` must be a text, a whole number, true or false, or a list of texts")]
    Shape { name: String },
}

/// A command with the file's settings as defaults of its flags; `serve` is the command that knows
/// every setting.
pub(crate) fn with_file(
    command: Command,
    serve: &Command,
    file: &Path,
) -> Result<Command, SettingsError> {
    let text = std::fs::read_to_string(file)
        .map_err(|source| SettingsError::Unreadable { file: file.to_owned(), source })?;
    let table = toml::from_str(&text)
        .map_err(|source| SettingsError::NotToml { file: file.to_owned(), source })?;
    with_table(command, serve, table)
}

fn with_table(
    mut command: Command,
    serve: &Command,
    table: toml::Table,
) -> Result<Command, SettingsError> {
    for (name, value) in table {
        let flag = name.replace('_', "-");
        if !flags(serve).any(|(long, _)| long == flag) {
            let mut accepted: Vec<&str> = flags(serve).map(|(long, _)| long).collect();
            accepted.sort_unstable();
            return Err(SettingsError::Unknown { name, accepted: accepted.join(", ") });
        }
        let values = texts(&name, value)?;
        let found = flags(&command).find(|(long, _)| *long == flag).map(|(_, id)| id.clone());
        if let Some(id) = found {
            command = command.mut_arg(id, |arg| arg.default_values(values));
        }
    }
    Ok(command)
}

/// What is wrong with a file, setting by setting; nothing if it can be used as it is. `words` are
/// those of the command line, which go before it.
pub(crate) fn faults(
    command: &Command,
    serve: &Command,
    file: &Path,
    words: &[OsString],
) -> Vec<String> {
    let told = |fault: String| format!("{}: {fault}", file.display());
    let read = std::fs::read_to_string(file).map_err(|error| error.to_string());
    let table =
        read.and_then(|text| toml::from_str::<toml::Table>(&text).map_err(|e| e.to_string()));
    let table = match table {
        Ok(table) => table,
        Err(error) => return vec![told(error)],
    };
    let one = |(name, value): (String, Value)| {
        let alone = toml::Table::from_iter([(name, value)]);
        let command = match with_table(command.clone(), serve, alone) {
            Ok(command) => command,
            Err(error) => return Some(told(error.to_string())),
        };
        let error = command.try_get_matches_from(words).err()?;
        let text = error.to_string();
        // The lines behind it say how the command is called.
        let first = text.lines().next().unwrap_or_default();
        Some(told(first.trim_start_matches("error: ").to_owned()))
    };
    table.into_iter().filter_map(one).collect()
}

/// Every flag that a file may set, with its id.
fn flags(command: &Command) -> impl Iterator<Item = (&str, &clap::Id)> {
    command
        .get_arguments()
        .filter(|arg| !arg.is_required_set())
        .filter_map(|arg| Some((arg.get_long()?, arg.get_id())))
        .filter(|(long, _)| !matches!(*long, "settings" | "help" | "version"))
}

/// A value as the texts that a command line would hold. They live as long as
/// the process: a file is read once.
fn texts(name: &str, value: Value) -> Result<Vec<&'static str>, SettingsError> {
    let shape = || SettingsError::Shape { name: name.to_owned() };
    let keep = |text: String| -> &'static str { Box::leak(text.into_boxed_str()) };
    match value {
        Value::String(text) => Ok(vec![keep(text)]),
        Value::Integer(number) => Ok(vec![keep(number.to_string())]),
        Value::Boolean(yes) => Ok(vec![if yes { "true" } else { "false" }]),
        Value::Array(all) => {
            let text =
                |one| if let Value::String(text) = one { Ok(keep(text)) } else { Err(shape()) };
            all.into_iter().map(text).collect()
        }
        Value::Float(_) | Value::Datetime(_) | Value::Table(_) => Err(shape()),
    }
}

#[cfg(test)]
mod tests {
    use clap::{Args, FromArgMatches};

    use super::*;
    use crate::config::Config;

    fn serve() -> Command {
        Config::augment_args(Command::new("serve"))
    }

    fn parsed(file: &str, flags: &[&str]) -> Result<Config, String> {
        let table = toml::from_str(file).map_err(|e| e.to_string())?;
        let command = with_table(serve(), &serve(), table).map_err(|e| e.to_string())?;
        let words = std::iter::once("serve").chain(flags.iter().copied());
        let matches = command.try_get_matches_from(words).map_err(|e| e.to_string())?;
        Config::from_arg_matches(&matches).map_err(|e| e.to_string())
    }

    #[test]
    fn a_flag_goes_before_the_file() {
        let file = "listen = \"127.0.0.1:9000\"\nzone = \"Europe/Berlin\"\nmin_free_mb = 1\n\
            workers = 3\nallow-public = true\norigin = [\"https://a.example\", \"https://b.example\"]";
        let config = parsed(file, &[]).expect("sound settings");
        assert_eq!(config.listen.to_string(), "127.0.0.1:9000");
        assert_eq!(config.zone.name(), "Europe/Berlin");
        assert_eq!((config.min_free_mb, config.workers, config.allow_public), (Some(1), 3, true));
        assert_eq!(config.origins, ["https://a.example", "https://b.example"]);
        let flags = ["--workers", "5", "--origin", "https://c.example"];
        let config = parsed(file, &flags).expect("sound settings");
        assert_eq!(config.workers, 5);
        assert_eq!(config.origins, ["https://c.example"]);
        assert_eq!(config.min_free_mb, Some(1));
    }

    /// A command takes what it has a flag for, and never what it must be told.
    #[test]
    fn other_commands_take_what_is_theirs() {
        let other = Command::new("export").args([
            clap::Arg::new("data").long("data").default_value("etui-data"),
            clap::Arg::new("backups").long("backups").required(true),
        ]);
        let table = toml::from_str("data = \"/srv/etui\"\nworkers = 3\nbackups = \"/b\"").unwrap();
        let command = with_table(other, &serve(), table).expect("sound settings");
        let told = command.clone().try_get_matches_from(["export", "--backups", "/c"]).unwrap();
        assert_eq!(told.get_one::<String>("data").map(String::as_str), Some("/srv/etui"));
        assert!(command.try_get_matches_from(["export"]).is_err());
    }

    #[test]
    fn the_time_between_backups_is_what_was_said() {
        for (said, seconds) in [("1s", 1), ("0s", 0), ("30s", 30), ("90m", 5_400), ("24h", 86_400)]
        {
            let config = parsed("", &["--backup-every", said]).expect(said);
            assert_eq!(config.backup.every, std::time::Duration::from_secs(seconds), "{said}");
        }
    }

    #[test]
    fn what_is_no_setting_is_refused() {
        for (file, want) in [
            ("porrt = 1", "`porrt` is not a setting; accepted: "),
            ("settings = \"other.toml\"", "`settings` is not a setting"),
            ("workers = 1.5", "`workers` must be a text"),
            ("origin = [1]", "`origin` must be a text"),
            ("workers = 0", "0 is not in 1..=64"),
            ("after-restore = \"forget\"", "possible values: mark, hold"),
            ("backup_every = \"500ms\"", "wanted: a time of `1s` or more"),
            ("backup_every = \"-1s\"", "wanted: a time of `1s` or more"),
            ("zone = \"Atlantis\"", "Atlantis"),
        ] {
            let told = parsed(file, &[]).expect_err(file);
            assert!(told.contains(want), "{file}: {told}");
        }
    }

    /// The table in the README names every flag and every variable.
    #[test]
    fn the_readme_names_every_setting() {
        let readme = include_str!("../../README.md");
        let (_, after) = readme.split_once("## Settings\n").expect("a section");
        let section = after.split_once("\n## ").map_or(after, |(section, _)| section);
        for arg in serve().get_arguments() {
            let Some(long) = arg.get_long() else { continue };
            assert!(section.contains(&format!("| `--{long}")), "the README lacks --{long}");
            let variable = arg.get_env().and_then(|name| name.to_str()).unwrap_or_default();
            assert!(section.contains(&format!("| `{variable}`")), "the README lacks {variable}");
        }
    }
}
