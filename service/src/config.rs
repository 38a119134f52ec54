//! Every setting, by flag, by environment variable, or out of a file
//! ([`crate::settings`]).

use std::fmt;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::str::FromStr;
use std::time::Duration;

use clap::{Args, ValueEnum};
use etui_craft::screening::country::Country;
use etui_schema::vocabulary::{Address, Language, Zone};
use jiff::Span;
use jiff::civil::Date;

use crate::store::database::{Database, Password};

/// How the service runs.
#[derive(Debug, Clone, Args)]
pub struct Config {
    /// A file with settings (TOML, keys as the flags are named); flags and
    /// environment go before it.
    #[arg(long, env = "ETUI_SETTINGS", value_name = "FILE")]
    pub settings: Option<PathBuf>,
    /// Folder for the studio's data; made if it does not exist. Local disk only.
    #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
    pub data: PathBuf,
    /// A database instead of the store in the data folder.
    #[command(flatten)]
    pub database: DatabaseConfig,
    /// Address to listen on; port 0 picks a free one.
    #[arg(long, env = "ETUI_LISTEN", default_value = "127.0.0.1:8417", value_name = "ADDR")]
    pub listen: SocketAddr,
    /// Allow an address that is not loopback. Put a proxy with TLS before it.
    #[arg(long, env = "ETUI_ALLOW_PUBLIC")]
    pub allow_public: bool,
    /// Host names to serve besides the loopback ones.
    #[arg(long = "host", env = "ETUI_HOSTS", value_delimiter = ',', value_name = "NAME")]
    pub hosts: Vec<String>,
    /// Origins whose pages may call, such as `https://booking.example`.
    #[arg(long = "origin", env = "ETUI_ORIGINS", value_delimiter = ',', value_name = "ORIGIN")]
    pub origins: Vec<String>,
    /// Let events be delivered to this machine and its network, to this machine also without TLS.
    #[arg(long, env = "ETUI_ALLOW_PRIVATE_TARGETS")]
    pub allow_private_targets: bool,
    /// Believe the clock at the start, however far it stands from what is on record.
    #[arg(long, env = "ETUI_TRUST_CLOCK")]
    pub trust_clock: bool,
    /// At the first start after a restore, messages that may have been sent already
    /// are marked, or also held until a person releases them.
    #[arg(
        long,
        env = "ETUI_AFTER_RESTORE",
        value_enum,
        default_value = "mark",
        value_name = "HOW"
    )]
    pub after_restore: AfterRestore,
    /// Draw a new owner's token at this start; the former one opens nothing from then on.
    #[arg(long, env = "ETUI_NEW_OWNER_TOKEN")]
    pub new_owner_token: bool,
    /// The studio's time zone: "today" is its local date.
    #[arg(long, env = "ETUI_ZONE", default_value = "UTC", value_name = "IANA")]
    pub zone: Zone,
    /// The country the studio works in, in two letters (ISO 3166-1), for the law
    /// on age and for the numbers to call; none if it is not told.
    #[arg(long, env = "ETUI_COUNTRY", value_name = "CC")]
    pub country: Option<Country>,
    /// The studio's language: of messages to a client whose own is not told, and of a
    /// calendar that names none.
    #[arg(long, env = "ETUI_LANGUAGE", default_value = "en", value_name = "LANGUAGE")]
    pub language: Language,
    /// How German texts speak to clients: `sie` or `du`.
    #[arg(long, env = "ETUI_GERMAN", default_value = "sie", value_name = "FORM")]
    pub german: Address,
    /// The `source` of events, a URI reference by which receivers tell studios apart;
    /// `/studios/` and digits of the studio's own if not given.
    #[arg(long, env = "ETUI_EVENT_SOURCE", value_parser = event_source, value_name = "URI")]
    pub event_source: Option<String>,
    /// Writes are refused when less than this is free on the disk; 256 if not given.
    #[arg(long, env = "ETUI_MIN_FREE_MB", value_name = "MB")]
    pub min_free_mb: Option<u64>,
    /// The studio's key (32 bytes, as 64 hexadecimal digits or as base64url)
    /// instead of the file `studio-key` in the data folder. Environment only:
    /// arguments are visible to others.
    #[arg(skip = std::env::var("ETUI_STUDIO_KEY").ok())]
    pub studio_key: Option<String>,
    /// Folder for backups; `backups` in the data folder if not given.
    #[arg(long, env = "ETUI_BACKUPS", value_name = "DIR")]
    pub backups: Option<PathBuf>,
    /// When backups are made, and how many are kept.
    #[command(flatten)]
    pub backup: BackupConfig,
    /// How long records are kept.
    #[command(flatten)]
    pub keep: KeepConfig,
    /// Worker threads for requests.
    #[arg(long, env = "ETUI_WORKERS", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=64), value_name = "N")]
    pub workers: u8,
}

impl Config {
    /// A service on a free loopback port with its data in a folder, for
    /// programs that hold the service inside them.
    #[must_use]
    pub fn in_folder(data: PathBuf, zone: Zone) -> Self {
        Self {
            settings: None,
            data,
            database: DatabaseConfig::default(),
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            allow_public: false,
            allow_private_targets: false,
            trust_clock: false,
            after_restore: AfterRestore::Mark,
            new_owner_token: false,
            hosts: Vec::new(),
            origins: Vec::new(),
            zone,
            country: None,
            language: Language::En,
            german: Address::Sie,
            event_source: None,
            min_free_mb: Some(0),
            workers: 2,
            studio_key: None,
            backups: None,
            backup: BackupConfig { every: Duration::ZERO, ..BackupConfig::default() },
            keep: KeepConfig::default(),
        }
    }
}

/// A database that holds the records; keys, tokens and backups stay in the data folder.
#[derive(Debug, Clone, Default, Args)]
pub struct DatabaseConfig {
    /// Keep the records in this database, such as `postgres://etui@db.example/studio`,
    /// instead of the data folder; needs a program built with the feature `postgres`.
    #[arg(id = "database", long = "database", env = "ETUI_DATABASE", value_name = "ADDRESS")]
    pub address: Option<String>,
    /// A file with the password of the database's role.
    #[arg(
        long = "database-password-file",
        env = "ETUI_DATABASE_PASSWORD_FILE",
        value_name = "FILE"
    )]
    pub password_file: Option<PathBuf>,
    /// The password itself. Environment only: arguments are visible to others.
    #[arg(skip = std::env::var("ETUI_DATABASE_PASSWORD").ok().map(|text| Password::new(&text)))]
    pub password: Option<Password>,
    /// A file with the certificates (PEM) that the database's own rests on; the
    /// system's if not given.
    #[arg(long = "database-root", env = "ETUI_DATABASE_ROOT", value_name = "FILE")]
    pub root: Option<PathBuf>,
}

impl DatabaseConfig {
    /// The database, if one is named; its password is read now.
    ///
    /// # Errors
    /// A file of the password that cannot be read.
    pub fn find(&self) -> std::io::Result<Option<Database>> {
        let Some(address) = self.address.clone() else { return Ok(None) };
        let password = match &self.password_file {
            Some(file) => Some(Password::new(&std::fs::read_to_string(file)?)),
            None => self.password.clone(),
        };
        Ok(Some(Database { address, password, root: self.root.clone() }))
    }
}

/// What becomes of messages that a store which was lost may have sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AfterRestore {
    /// They say so (`maybe_sent`) to whoever claims them.
    Mark,
    /// They say so, and nobody gets them until a person has released them.
    Hold,
}

/// When backups are made, and how many are kept. What one of the two wants to
/// keep stays.
#[derive(Debug, Clone, Args)]
pub struct BackupConfig {
    /// Time between two backups, such as `24h`, at least `1s`; `0s` for none.
    #[arg(
        long = "backup-every", env = "ETUI_BACKUP_EVERY", default_value = "24h",
        value_parser = between_backups, value_name = "TIME"
    )]
    pub every: Duration,
    /// Keep at least so many, however old.
    #[arg(long = "backup-keep", env = "ETUI_BACKUP_KEEP", default_value_t = 7, value_name = "N")]
    pub keep: u16,
    /// Keep every backup for so many days.
    #[arg(
        long = "backup-keep-days",
        env = "ETUI_BACKUP_KEEP_DAYS",
        default_value_t = 30,
        value_name = "DAYS"
    )]
    pub keep_days: u16,
}

impl BackupConfig {
    /// Whether each backup would be removed as soon as it is made.
    #[must_use]
    pub fn keeps_none(&self) -> bool {
        !self.every.is_zero() && self.keep == 0 && self.keep_days == 0
    }
}

impl Default for BackupConfig {
    /// A backup a day, kept for a month: common practice.
    fn default() -> Self {
        Self { every: Duration::from_secs(24 * 60 * 60), keep: 7, keep_days: 30 }
    }
}

/// It is not looked more often whether a backup is due.
pub(crate) const SHORTEST_BETWEEN_BACKUPS: Duration = Duration::from_secs(1);

/// A URI reference (RFC 3986) as far as its letters and its length go.
fn event_source(text: &str) -> Result<String, String> {
    let fits = |b: u8| b.is_ascii_alphanumeric() || b"-._~:/?#[]@!$&'()*+,;=%".contains(&b);
    if (1..=200).contains(&text.len()) && text.bytes().all(fits) {
        return Ok(text.to_owned());
    }
    Err("a URI reference of 1 to 200 characters is wanted, such as `https://studio.example`"
        .to_owned())
}

fn between_backups(text: &str) -> Result<Duration, String> {
    let wanted = || "wanted: a time of `1s` or more such as `24h` or `90m`, or `0s`".to_owned();
    let told: jiff::SignedDuration = text.parse().map_err(|_| wanted())?;
    let told = Duration::try_from(told).map_err(|_| wanted())?;
    if told.is_zero() || SHORTEST_BETWEEN_BACKUPS <= told { Ok(told) } else { Err(wanted()) }
}

/// How long records are kept, as ISO 8601 periods. Nothing is removed unless a
/// sweep is asked for.
#[derive(Debug, Clone, Args)]
pub struct KeepConfig {
    /// The trace of a treatment (pseudonymous reference, date, lots), from when
    /// it was recorded.
    #[arg(
        long = "keep-traces",
        env = "ETUI_KEEP_TRACES",
        default_value = "P10Y",
        value_name = "PERIOD"
    )]
    pub traces: Period,
    /// What is sealed of a client (answers, skin, what treatments say beyond the
    /// trace), from the client's last treatment, check or change.
    #[arg(
        long = "keep-health",
        env = "ETUI_KEEP_HEALTH",
        default_value = "P3Y",
        value_name = "PERIOD"
    )]
    pub health: Period,
    /// Checks, from their appointment.
    #[arg(
        long = "keep-checks",
        env = "ETUI_KEEP_CHECKS",
        default_value = "P3Y",
        value_name = "PERIOD"
    )]
    pub checks: Period,
    /// Reminders that came to their end, from when they were due.
    #[arg(
        long = "keep-reminders",
        env = "ETUI_KEEP_REMINDERS",
        default_value = "P1Y",
        value_name = "PERIOD"
    )]
    pub reminders: Period,
}

impl Default for KeepConfig {
    /// Traces: the longest duty known, ten years (Austria, BGBl. II 141/2003,
    /// sec. 5). The others are our choice, no law's.
    fn default() -> Self {
        let years = |years: i64| Period(Span::new().years(years));
        Self { traces: years(10), health: years(3), checks: years(3), reminders: years(1) }
    }
}

/// A period of whole days, weeks, months or years, such as `P10Y`.
///
/// ```
/// use etui_service::config::Period;
/// assert_eq!("P10Y".parse::<Period>().unwrap().to_string(), "P10Y");
/// for refused in ["P0D", "PT5H", "-P1Y", "ten years", "P9999Y"] {
///     assert!(refused.parse::<Period>().is_err(), "{refused}");
/// }
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Period(Span);

/// No period is longer: it would reach behind anything that is stored.
const LONGEST_YEARS: i64 = 100;

impl Period {
    /// The day this long before another.
    #[must_use]
    pub fn before(self, day: Date) -> Date {
        day.saturating_sub(self.0)
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl FromStr for Period {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wanted = || {
            format!(
                "`{text}` is not a period of 1 day to {LONGEST_YEARS} years, such as `P10Y` or `P18M`"
            )
        };
        let span: Span = text.parse().map_err(|_| wanted())?;
        let day = Date::constant(2000, 1, 1);
        let calendar = span.get_hours() == 0
            && span.get_minutes() == 0
            && span.get_seconds() == 0
            && span.get_milliseconds() == 0
            && span.get_microseconds() == 0
            && span.get_nanoseconds() == 0;
        let until = day.checked_add(span).map_err(|_| wanted())?;
        let longest = day.saturating_add(Span::new().years(LONGEST_YEARS));
        if calendar && day < until && until <= longest { Ok(Self(span)) } else { Err(wanted()) }
    }
}
