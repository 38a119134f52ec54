//! From settings to a running server: keys, store, craft, owner's token.

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use base64::Engine as _;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use etui_schema::access::Scope;

use super::clock::{NoEntropy, Sources};
use super::server::{Server, StartError};
use super::tokens::{Token, Tokens, digest_of, text_of};
use crate::config::Config;
use crate::store::files;
use crate::store::record::HashKey;
use crate::store::{EmbeddedStore, OpenError, OpenReport, StoreConfig, SyncPath};
use crate::studio::{Craft, CraftError, Studio};

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum BootError {
    /// Rule data that is not sound.
    #[error("the rule data is not sound")]
    Craft(#[from] CraftError),
    /// The store would not open.
    #[error("the store in the data folder would not open")]
    Store(#[from] OpenError),
    /// A key or token file.
    #[error("a file of the data folder cannot be used")]
    File(#[from] io::Error),
    /// A key file that does not hold a key.
    #[error("`{0}` does not hold what it should; restore it from a backup")]
    BadFile(&'static str),
    /// No random bytes.
    #[error("no key can be made")]
    Entropy(#[from] NoEntropy),
    /// The address.
    #[error("the server would not start")]
    Listen(#[from] StartError),
}

/// Name of the file with the owner's token.
pub const OWNER_TOKEN: &str = "owner-token";
/// Name of the file with the studio's key.
pub const STUDIO_KEY: &str = "studio-key";

/// Opens everything and binds the server.
///
/// # Errors
/// [`BootError`] names what is missing or unsound; nothing is half-started.
pub fn boot(
    config: &Config,
    sources: Arc<dyn Sources>,
    sync_path: SyncPath,
) -> Result<(Server, OpenReport), BootError> {
    let craft = Craft::load()?;
    let mut settings = StoreConfig::new(&config.data);
    settings.min_free_bytes = config.min_free_mb << 20;
    let (engine, report) = EmbeddedStore::open(settings)?;
    let studio_key = studio_key(config, sources.as_ref())?;
    let tokens = Tokens::default();
    own(&tokens, &config.data, sources.as_ref())?;
    let studio = Studio {
        craft,
        engine,
        zone: config.zone.clone(),
        index_key: HashKey::new(studio_key).derive("index"),
        sync_path,
    };
    Ok((Server::bind(config, studio, tokens, sources)?, report))
}

/// The studio's key: from the environment, else from its file, else new.
fn studio_key(config: &Config, sources: &dyn Sources) -> Result<[u8; 32], BootError> {
    let read = |text: &str, from| {
        let bytes =
            BASE64_URL_SAFE_NO_PAD.decode(text.trim()).map_err(|_| BootError::BadFile(from))?;
        <[u8; 32]>::try_from(bytes).map_err(|_| BootError::BadFile(from))
    };
    if let Some(text) = &config.studio_key {
        return read(text, "ETUI_STUDIO_KEY");
    }
    let path = config.data.join(STUDIO_KEY);
    if let Some(bytes) = read_if_there(&path)? {
        return read(&String::from_utf8_lossy(&bytes), STUDIO_KEY);
    }
    let mut key = [0; 32];
    sources.fill(&mut key)?;
    files::replace_secret(&path, BASE64_URL_SAFE_NO_PAD.encode(key).as_bytes())?;
    Ok(key)
}

/// Makes the owner known: the token lies in a file that only the owner of the
/// data folder can read. Whoever loses it deletes the file and starts again.
fn own(tokens: &Tokens, data: &Path, sources: &dyn Sources) -> Result<(), BootError> {
    let path = data.join(OWNER_TOKEN);
    let text = match read_if_there(&path)? {
        Some(bytes) => String::from_utf8(bytes).map_err(|_| BootError::BadFile(OWNER_TOKEN))?,
        None => {
            let mut secret = [0; 32];
            sources.fill(&mut secret)?;
            let text = text_of(&secret);
            files::replace_secret(&path, text.as_bytes())?;
            text
        }
    };
    let text = text.trim();
    if text.len() < 40 {
        return Err(BootError::BadFile(OWNER_TOKEN));
    }
    tokens.insert(
        digest_of(text),
        Token { holder: "owner".into(), scopes: vec![Scope::Admin], expires_at: None },
    );
    Ok(())
}

fn read_if_there(path: &Path) -> io::Result<Option<Vec<u8>>> {
    match fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}
