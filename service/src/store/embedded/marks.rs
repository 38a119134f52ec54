//! Two small files beside the engine: the newest acknowledged sequence number,
//! and the mark of an orderly end.

use std::{
    fs::{self, File},
    io::{self, Read, Seek, SeekFrom, Write},
    path::{Path, PathBuf},
};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::{SCHEMA, StoreConfig};
use crate::store::{files, record::hex};

/// Bytes of a slot: number, then the start of its SHA-256.
const SLOT_BYTES: usize = 16;
/// The slots lie in different disk sectors, so that a torn write spoils one only.
const SLOT_DISTANCE: u64 = 4096;
/// How many acknowledgements may pass between two syncs of the file.
const SYNC_EVERY: u32 = 256;

/// `seq.ack`: written after each sync of the log and before the answer, so it never runs ahead of
/// the disk; synced now and then. A kill loses none of it, a power cut at most the newest numbers.
#[derive(Debug)]
pub(super) struct AckFile {
    file: File,
    next_slot: u64,
    unsynced: u32,
}

impl AckFile {
    pub(super) fn open(dir: &Path) -> io::Result<Self> {
        let file = files::open_private(&dir.join("seq.ack"))?;
        Ok(Self { file, next_slot: 0, unsynced: 0 })
    }

    /// The newest number in the file; 0 when there is none that can be read.
    pub(super) fn read(dir: &Path) -> io::Result<u64> {
        let bytes = match fs::read(dir.join("seq.ack")) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(0),
            other => other?,
        };
        let slots = [0, SLOT_DISTANCE].into_iter().filter_map(|at| {
            let at = usize::try_from(at).ok()?;
            let (number, check) = bytes.get(at..at + SLOT_BYTES)?.split_first_chunk::<8>()?;
            (slot_check(*number) == check).then(|| u64::from_be_bytes(*number))
        });
        Ok(slots.max().unwrap_or(0))
    }

    pub(super) fn write(&mut self, sequence: u64) -> io::Result<()> {
        let number = sequence.to_be_bytes();
        let mut slot = [0; SLOT_BYTES];
        slot[..8].copy_from_slice(&number);
        slot[8..].copy_from_slice(&slot_check(number));
        self.file.seek(SeekFrom::Start(self.next_slot))?;
        self.file.write_all(&slot)?;
        self.next_slot = SLOT_DISTANCE - self.next_slot;
        self.unsynced += 1;
        if SYNC_EVERY <= self.unsynced {
            self.sync()?;
        }
        Ok(())
    }

    pub(super) fn sync(&mut self) -> io::Result<()> {
        self.unsynced = 0;
        self.file.sync_all()
    }
}

fn slot_check(number: [u8; 8]) -> [u8; 8] {
    let digest = Sha256::digest(number);
    std::array::from_fn(|i| digest[i])
}

/// `closed`: what the engine's files were when they were closed in good order.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ClosedMark {
    pub(super) schema: u32,
    pub(super) sequence: u64,
    files: Vec<ClosedFile>,
}

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ClosedFile {
    path: PathBuf,
    bytes: u64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sha256: Option<String>,
}

impl ClosedMark {
    pub(super) fn path(dir: &Path) -> PathBuf {
        dir.join("closed")
    }

    /// Notes the engine's files as they are now; nothing may have them open.
    pub(super) fn write(config: &StoreConfig, sequence: u64) -> io::Result<()> {
        let engine_dir = config.engine_dir();
        let found = files::walk(&engine_dir)?;
        let total: u64 = found.iter().map(|(_, bytes)| bytes).sum();
        let digest = total <= config.digest_up_to_bytes;
        let files = found
            .into_iter()
            .map(|(path, bytes)| {
                let sha256 = digest.then(|| file_digest(&path)).transpose()?;
                let path = path.strip_prefix(&engine_dir).map_or(path.clone(), Path::to_path_buf);
                Ok(ClosedFile { path, bytes, sha256 })
            })
            .collect::<io::Result<_>>()?;
        let text = serde_json::to_vec(&Self { schema: SCHEMA, sequence, files })?;
        files::replace(&Self::path(&config.dir), |file| file.write_all(&text))
    }

    /// The mark of the last end; `None` when there is none.
    pub(super) fn read(dir: &Path) -> io::Result<Option<Self>> {
        match fs::read(Self::path(dir)) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            other => Ok(Some(serde_json::from_slice(&other?)?)),
        }
    }

    /// The first file that is not as it was left; `None` when all are.
    pub(super) fn changed_file(&self, engine_dir: &Path) -> io::Result<Option<&Path>> {
        for ClosedFile { path, bytes, sha256 } in &self.files {
            let full = engine_dir.join(path);
            let same = match full.metadata() {
                Err(error) if error.kind() == io::ErrorKind::NotFound => false,
                other => {
                    other?.len() == *bytes
                        && match sha256 {
                            Some(digest) => *digest == file_digest(&full)?,
                            None => true,
                        }
                }
            };
            if !same {
                return Ok(Some(path));
            }
        }
        Ok(None)
    }
}

fn file_digest(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hasher = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        match file.read(&mut buffer)? {
            0 => return Ok(hex(&hasher.finalize())),
            n => hasher.update(&buffer[..n]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_whole_slot_counts() {
        let dir = tempfile::tempdir().unwrap();
        assert_eq!(AckFile::read(dir.path()).unwrap(), 0);
        let mut ack = AckFile::open(dir.path()).unwrap();
        for sequence in [5, 9, 12] {
            ack.write(sequence).unwrap();
            assert_eq!(AckFile::read(dir.path()).unwrap(), sequence);
        }
        // 12 lies in the first slot; tear it.
        let mut file = files::open_private(&dir.path().join("seq.ack")).unwrap();
        file.write_all(&[0xAA; 5]).unwrap();
        assert_eq!(AckFile::read(dir.path()).unwrap(), 9);
    }

    #[test]
    fn a_changed_file_is_found() {
        let dir = tempfile::tempdir().unwrap();
        let config = StoreConfig::new(dir.path());
        files::create_private_dir(&config.engine_dir()).unwrap();
        let db = config.engine_dir().join("db");
        fs::write(&db, b"log").unwrap();
        ClosedMark::write(&config, 3).unwrap();
        let mark = ClosedMark::read(dir.path()).unwrap().unwrap();
        assert_eq!(mark.changed_file(&config.engine_dir()).unwrap(), None);
        fs::write(&db, b"lag").unwrap();
        assert_eq!(mark.changed_file(&config.engine_dir()).unwrap(), Some(Path::new("db")));
    }
}
