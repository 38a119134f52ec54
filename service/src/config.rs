//! Every setting, by flag or by environment variable.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;
use etui_schema::vocabulary::Zone;

/// How the service runs.
#[derive(Debug, Clone, Args)]
pub struct Config {
    /// Folder for the studio's data; made if it does not exist. Local disk only.
    #[arg(long, env = "ETUI_DATA", default_value = "etui-data", value_name = "DIR")]
    pub data: PathBuf,
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
    /// The studio's time zone: "today" is its local date.
    #[arg(long, env = "ETUI_ZONE", default_value = "UTC", value_name = "IANA")]
    pub zone: Zone,
    /// Writes are refused when less than this is free on the disk.
    #[arg(long, env = "ETUI_MIN_FREE_MB", default_value_t = 256, value_name = "MB")]
    pub min_free_mb: u64,
    /// The studio's key (32 bytes, base64url) instead of the file `studio-key`
    /// in the data folder. Environment only: arguments are visible to others.
    #[arg(skip = std::env::var("ETUI_STUDIO_KEY").ok())]
    pub studio_key: Option<String>,
    /// Folder for backups; `backups` in the data folder if not given.
    #[arg(long, env = "ETUI_BACKUPS", value_name = "DIR")]
    pub backups: Option<PathBuf>,
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
            data,
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            allow_public: false,
            allow_private_targets: false,
            hosts: Vec::new(),
            origins: Vec::new(),
            zone,
            min_free_mb: 0,
            workers: 2,
            studio_key: None,
            backups: None,
        }
    }
}
