//! The reading half.

use std::{
    fs,
    io::{self, BufRead, BufReader},
    path::{Path, PathBuf},
    sync::{Mutex, PoisonError},
};

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};

use super::{ExportError, Footer, Header, KIND, Row, VERSION, write_rows};
use crate::store::{
    Batch, Bytes, EmbeddedStore, OpenError, Serve, Space, Store, StoreConfig, StoreError,
    companion::{self, Companion},
    database::DatabaseError,
    embedded::SCHEMA,
    files,
    keyring::{CLIENT_KEYS, KeyStorage, Keyring, KeyringError},
    progress::{self, Counted},
    receipts::ERASURES,
    record::{self, hex},
    seal::Entropy,
    sealed_file::SealedFileError,
    shared::{self, SHARED},
    studio_key::{self, StudioKey},
};

/// The file in a restored folder that says when its state was saved; gone after the first start. A
/// store that several processes serve has a row instead ([`shared::RESTORED`]).
pub const RESTORED: &str = "restored";
/// How many rows go into one batch.
const BATCH_ROWS: usize = 200;
/// After how many bytes a batch is full.
const BATCH_BYTES: usize = 1 << 20;

/// Why an import was refused. Nothing is left in the target folder.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The target has data.
    #[error("{} is not empty; import goes into a new folder only", dir.display())]
    NotEmpty {
        /// The target.
        dir: PathBuf,
    },
    /// The file system refuses.
    #[error("the import cannot read or write its files")]
    Io(#[from] io::Error),
    /// Not an export, cut short, or altered.
    #[error("not a sound export: {why} (line {line})")]
    Form {
        /// What is wrong.
        why: &'static str,
        /// The line, from 1.
        line: u64,
    },
    /// A newer program wrote it.
    #[error("the export has layout {found}; this program knows layouts up to {SCHEMA}")]
    Newer {
        /// Its layout version.
        found: u32,
    },
    /// The keys beside it are missing.
    #[error("the file of keys, {}, is missing", path.display())]
    NoKeys {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The keys beside it.
    #[error(transparent)]
    Keys(#[from] SealedFileError),
    /// The new key ring.
    #[error(transparent)]
    Keyring(#[from] KeyringError),
    /// The new store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The new store could not be opened.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The database could not be opened, or holds something.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// What was loaded is not what was exported.
    #[error("the imported data differ from the export; nothing was put in place")]
    Differs,
}

impl From<ExportError> for ImportError {
    fn from(error: ExportError) -> Self {
        match error {
            ExportError::Io(error) => error.into(),
            ExportError::Store(error) => error.into(),
            ExportError::Keyring(error) => error.into(),
            ExportError::Keys(error) => error.into(),
        }
    }
}

/// What was imported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImportReport {
    /// How many rows.
    pub records: u64,
    /// Digest of the rows, as the export named it and as the new store gives it.
    pub content_sha256: String,
    /// When the export was made, RFC 3339.
    pub exported_at: String,
    /// Clients' keys that came along.
    pub client_keys: u64,
}

/// A store that has nothing in it yet, and is filled by an import.
pub trait Target {
    /// What it is when it is open.
    type Store: Serve;

    /// Opens it for loading; `folder` is where the data folder is being made.
    ///
    /// # Errors
    /// [`ImportError`], also when something is in it already.
    fn open(&self, folder: &Path) -> impl Future<Output = Result<Self::Store, ImportError>>;

    /// What was loaded was read back and found equal; the folder is moved next.
    ///
    /// # Errors
    /// [`ImportError`].
    fn loaded(&self, store: &Self::Store) -> impl Future<Output = Result<(), ImportError>>;

    /// The folder lies in its place: from here on the store may be served.
    ///
    /// # Errors
    /// [`ImportError`].
    fn placed(&self, store: &Self::Store) -> impl Future<Output = Result<(), ImportError>>;
}

/// The embedded store lies in the folder itself.
impl Target for StoreConfig {
    type Store = EmbeddedStore;

    async fn open(&self, folder: &Path) -> Result<EmbeddedStore, ImportError> {
        let config = Self { dir: folder.to_owned(), ..self.clone() };
        Ok(EmbeddedStore::open(config)?.0)
    }

    async fn loaded(&self, store: &EmbeddedStore) -> Result<(), ImportError> {
        Ok(store.close().await?)
    }

    async fn placed(&self, _store: &EmbeddedStore) -> Result<(), ImportError> {
        Ok(())
    }
}

/// Imports an export into a new data folder and an empty store. The whole file is checked before
/// anything is written; the folder appears under its name only when what was loaded has been read
/// back and compared.
///
/// # Errors
/// Any [`ImportError`].
pub async fn import<T: Target>(
    path: &Path,
    folder: &Path,
    target: &T,
    studio: (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<ImportReport, ImportError> {
    let keys_path = companion::path_of(path);
    let keys =
        Companion::read(&keys_path, &studio.0)?.ok_or(ImportError::NoKeys { path: keys_path })?;
    progress::expect_file(path, PASSES)?;
    let open = || Ok(BufReader::new(Counted::open(path)?));
    load(open, &keys, (folder, target), studio, entropy).await
}

/// How often what is imported is gone through: it is checked, loaded and read back.
pub(in crate::store) const PASSES: u64 = 3;

/// Imports from anything that can be read twice.
pub(in crate::store) async fn load<R: BufRead + Send, T: Target>(
    open: impl Fn() -> io::Result<R>,
    keys: &Companion,
    (folder, target): (&Path, &T),
    studio: (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<ImportReport, ImportError> {
    check_empty(folder)?;
    let (header, footer) = scan_through(open()?)?;
    let young = sibling(folder, ".importing");
    if young.exists() {
        fs::remove_dir_all(&young)?;
    }
    files::create_private_dir(&young)?;
    let loaded = load_into(open()?, &footer, keys, (&young, target), studio, entropy).await;
    let (store, client_keys) = match loaded {
        Ok(loaded) => loaded,
        Err(error) => {
            let _ = fs::remove_dir_all(&young);
            return Err(error);
        }
    };
    // For the first start: the world has gone on since this state was saved.
    if !store.is_shared() {
        files::replace_secret(&young.join(RESTORED), header.at.as_bytes())?;
    }
    put_in_place(&young, folder)?;
    target.placed(&store).await?;
    let Footer { records, content_sha256, sha256: _ } = footer;
    Ok(ImportReport { records, content_sha256, exported_at: header.at, client_keys })
}

/// Reads a whole export and checks form, count and digests.
fn scan_through(input: impl BufRead) -> Result<(Header, Footer), ImportError> {
    let mut reader = Reader::new(input)?;
    let mut content = Sha256::new();
    let mut records = 0;
    while let Some(line) = reader.row_line()? {
        parse_row(&line).ok_or_else(|| reader.form("no row"))?;
        content.update(&line);
        content.update(b"\n");
        progress::records(1);
        records += 1;
    }
    let footer = reader.footer()?;
    if footer.records != records || footer.content_sha256 != hex(&content.finalize()) {
        return Err(reader.form("rows and footer disagree"));
    }
    Ok((reader.header, footer))
}

/// Fills the young folder and the store; gives the store and how many clients' keys came along.
async fn load_into<R: BufRead + Send, T: Target>(
    input: R,
    footer: &Footer,
    keys: &Companion,
    (folder, target): (&Path, &T),
    (studio, storage): (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<(T::Store, u64), ImportError> {
    let mut reader = Reader::new(input)?;
    if storage == KeyStorage::File {
        studio.write(&folder.join(studio_key::FILE))?;
    }
    let index = keys.index_root().ok_or_else(|| reader.form("keys without an index secret"))?;
    let keyring = Keyring::make(folder, studio, index, entropy)?;
    let store = target.open(folder).await?;
    let mut batch = Batch::new();
    while let Some(line) = reader.row_line()? {
        let (space, key, value) = parse_row(&line).ok_or_else(|| reader.form("no row"))?;
        progress::records(1);
        batch = batch.put(Space::new(intern(&space)), key, value);
        if BATCH_ROWS <= batch.ops.len() || BATCH_BYTES <= batch.bytes() {
            store.commit(std::mem::take(&mut batch)).await?;
        }
    }
    store.commit(batch).await?;
    let client_keys = load_keys(&store, &keyring, keys, entropy).await?;
    let report = write_rows(&mut store.snapshot().await?, "", &mut Counted(io::sink())).await?;
    load_receipts(&store, keys).await?;
    if store.is_shared() {
        // Whichever process is started first needs both, and has another folder.
        keyring.move_into(&store, entropy).await?;
        let at = reader.header.at.clone().into_bytes();
        store.commit(Batch::new().put(SHARED, shared::RESTORED, at)).await?;
    }
    if report.content_sha256 != footer.content_sha256 || report.records != footer.records {
        return Err(ImportError::Differs);
    }
    target.loaded(&store).await?;
    Ok((store, client_keys))
}

/// The receipts of erasures that came after the copy was made: why some of it does not open.
async fn load_receipts<S: Serve>(store: &S, keys: &Companion) -> Result<(), ImportError> {
    for receipt in keys.forgotten() {
        if let Ok(bytes) = record::encode(receipt) {
            store.commit(Batch::new().put(ERASURES, receipt.id.clone(), bytes)).await?;
        }
    }
    Ok(())
}

async fn load_keys<S: Serve>(
    store: &S,
    keyring: &Keyring,
    keys: &Companion,
    entropy: &mut Entropy<'_>,
) -> Result<u64, ImportError> {
    let mut batch = Batch::new();
    let mut count = 0;
    for (client, key) in keys.clients() {
        count += 1;
        batch = batch.put(CLIENT_KEYS, client.bytes(), keyring.wrapped(&client, &key, entropy)?);
        if BATCH_ROWS <= batch.ops.len() {
            store.commit(std::mem::take(&mut batch)).await?;
        }
    }
    store.commit(batch).await?;
    Ok(count)
}

fn parse_row(line: &[u8]) -> Option<(String, Bytes, Bytes)> {
    let Row { space, key, json, bytes } = serde_json::from_slice(line).ok()?;
    let value = match (json, bytes) {
        (Some(json), None) => json.get().as_bytes().to_vec(),
        (None, Some(text)) => URL_SAFE_NO_PAD.decode(text).ok()?,
        _ => return None,
    };
    Some((space.to_owned(), URL_SAFE_NO_PAD.decode(key).ok()?, value))
}

/// Lines of an export, hashed as they pass; the last line is the footer.
struct Reader<R> {
    input: R,
    header: Header,
    all: Sha256,
    line: u64,
    /// The line after the one given out last.
    ahead: Vec<u8>,
}

impl<R: BufRead> Reader<R> {
    fn new(mut input: R) -> Result<Self, ImportError> {
        let first = next_line(&mut input)?.unwrap_or_default();
        let form = |why| ImportError::Form { why, line: 1 };
        let header: Header =
            serde_json::from_slice(&first).map_err(|_| form("no header of an export"))?;
        if header.kind != KIND || header.v != VERSION {
            return Err(form("another kind or version of file"));
        }
        if SCHEMA < header.schema {
            return Err(ImportError::Newer { found: header.schema });
        }
        let all = Sha256::new().chain_update(&first).chain_update(b"\n");
        let ahead = next_line(&mut input)?.unwrap_or_default();
        Ok(Self { input, header, all, line: 1, ahead })
    }

    /// The next row; `None` when only the footer is left.
    fn row_line(&mut self) -> Result<Option<Vec<u8>>, ImportError> {
        let Some(after) = next_line(&mut self.input)? else { return Ok(None) };
        self.line += 1;
        let line = std::mem::replace(&mut self.ahead, after);
        self.all.update(&line);
        self.all.update(b"\n");
        Ok(Some(line))
    }

    fn footer(&mut self) -> Result<Footer, ImportError> {
        self.line += 1;
        let footer: Footer = serde_json::from_slice(&self.ahead)
            .map_err(|_| self.form("no footer: the file is cut short"))?;
        let found = hex(&self.all.clone().finalize());
        if footer.sha256 == found { Ok(footer) } else { Err(self.form("the digest differs")) }
    }

    fn form(&self, why: &'static str) -> ImportError {
        ImportError::Form { why, line: self.line }
    }
}

/// A line without its end, which may be empty; `None` at the end of the file.
fn next_line(input: &mut impl BufRead) -> io::Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    if input.read_until(b'\n', &mut line)? == 0 {
        return Ok(None);
    }
    if line.last() == Some(&b'\n') {
        line.pop();
    }
    Ok(Some(line))
}

/// A name that lives as long as the process; there are a few dozen spaces at most.
fn intern(name: &str) -> &'static str {
    static NAMES: Mutex<Vec<&'static str>> = Mutex::new(Vec::new());
    let mut names = NAMES.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = names.iter().find(|known| **known == name) {
        return known;
    }
    let leaked: &'static str = Box::leak(name.to_owned().into_boxed_str());
    names.push(leaked);
    leaked
}

fn check_empty(dir: &Path) -> Result<(), ImportError> {
    if dir.exists() && !files::entries(dir)?.is_empty() {
        return Err(ImportError::NotEmpty { dir: dir.to_path_buf() });
    }
    Ok(())
}

fn put_in_place(young: &Path, target: &Path) -> io::Result<()> {
    if target.exists() {
        fs::remove_dir(target)?;
    }
    fs::rename(young, target)?;
    files::sync_dir(files::parent_of(target))
}

fn sibling(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(ending);
    path.with_file_name(name)
}
