//! The writing half.

use std::{
    io::{self, BufWriter, Write},
    path::Path,
};

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::{ExportError, Footer, Header, KIND, Row, VERSION, is_left_out};
use crate::store::{
    Order, Serve, Walk,
    companion::{self, Companion},
    embedded::SCHEMA,
    files, key,
    keyring::Keyring,
    progress,
    record::hex,
    seal::Entropy,
};

const PAGE_ROWS: usize = 500;

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportReport {
    /// How many rows.
    pub records: u64,
    /// Digest of the rows: the same for two stores with the same content.
    pub content_sha256: String,
    /// Sequence number of the store at that moment.
    pub sequence: u64,
}

/// Writes one moment of the store to `path`, and the keys beside it. Writers are not held up. `at`
/// is the time, RFC 3339, for the header.
///
/// # Errors
/// Any [`ExportError`]; then no file is left behind.
pub async fn export<S: Serve>(
    store: &S,
    keyring: &Keyring,
    path: &Path,
    at: &str,
    entropy: &mut Entropy<'_>,
) -> Result<ExportReport, ExportError> {
    // One erasure at a time, and none while keys are copied out of the store.
    let _one = keyring.changing.lock().await;
    let mut snap = store.snapshot().await?;
    let keys = Companion::collect(&mut snap, keyring, None).await?;
    let temporary = path.with_extension("part");
    let written = async {
        let mut out = BufWriter::new(files::open_private(&temporary)?);
        out.get_ref().set_len(0)?;
        let report = write_rows(&mut snap, at, &mut out).await?;
        out.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()?;
        // The keys first: an export without its keys is worth less than keys without an export.
        keys.write(&companion::path_of(path), &keyring.studio_key(), entropy)?;
        std::fs::rename(&temporary, path)?;
        files::sync_dir(files::parent_of(path))?;
        Ok(report)
    }
    .await;
    if written.is_err() {
        let _ = std::fs::remove_file(&temporary);
    }
    written
}

/// Writes header, rows and footer.
pub(in crate::store) async fn write_rows<R: Walk, W: Write + Send>(
    snap: &mut R,
    at: &str,
    out: &mut W,
) -> Result<ExportReport, ExportError> {
    let header = Header {
        kind: KIND.to_owned(),
        v: VERSION,
        schema: SCHEMA,
        sequence: snap.version(),
        at: at.to_owned(),
    };
    let mut lines = Lines { out, all: Sha256::new(), content: Sha256::new(), records: 0 };
    lines.line(&serde_json::to_vec(&header).map_err(io::Error::from)?)?;
    for space in snap.spaces().await? {
        if is_left_out(&space) {
            continue;
        }
        let mut start = Vec::new();
        loop {
            let page =
                snap.scan_named(&space, start..Vec::new(), Order::Ascending, PAGE_ROWS).await?;
            for (key, value) in &page {
                lines.row(&space, key, value)?;
            }
            let Some((last, _)) = page.last().filter(|_| page.len() == PAGE_ROWS) else { break };
            start = key::after(last);
        }
    }
    let (records, content_sha256) = lines.finish()?;
    Ok(ExportReport { records, content_sha256, sequence: snap.version() })
}

struct Lines<'a, W> {
    out: &'a mut W,
    all: Sha256,
    content: Sha256,
    records: u64,
}

impl<W: Write> Lines<'_, W> {
    fn line(&mut self, line: &[u8]) -> io::Result<()> {
        self.all.update(line);
        self.all.update(b"\n");
        self.out.write_all(line)?;
        self.out.write_all(b"\n")
    }

    fn row(&mut self, space: &str, key: &[u8], value: &[u8]) -> io::Result<()> {
        let json = as_json(value);
        let bytes = json.is_none().then(|| URL_SAFE_NO_PAD.encode(value));
        let row = Row { space, key: &URL_SAFE_NO_PAD.encode(key), json, bytes };
        let line = serde_json::to_vec(&row)?;
        self.content.update(&line);
        self.content.update(b"\n");
        self.records += 1;
        progress::records(1);
        self.line(&line)
    }

    fn finish(self) -> io::Result<(u64, String)> {
        let footer = Footer {
            records: self.records,
            content_sha256: hex(&self.content.finalize()),
            sha256: hex(&self.all.finalize()),
        };
        self.out.write_all(&serde_json::to_vec(&footer)?)?;
        self.out.write_all(b"\n")?;
        self.out.flush()?;
        Ok((footer.records, footer.content_sha256))
    }
}

/// The value as JSON, if it is JSON on one line with nothing around it.
fn as_json(value: &[u8]) -> Option<&RawValue> {
    if !value.starts_with(b"{") || !value.ends_with(b"}") || value.contains(&b'\n') {
        return None;
    }
    serde_json::from_slice(value).ok()
}
