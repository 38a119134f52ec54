//! How far long work on a whole store is: counted here, told by whoever began it.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

static RECORDS: AtomicU64 = AtomicU64::new(0);
static BYTES: AtomicU64 = AtomicU64::new(0);
static OF_BYTES: AtomicU64 = AtomicU64::new(0);

/// How far this process is. Work that goes through its records twice counts them twice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// Records that were gone through.
    pub records: u64,
    /// Bytes of a file that were read.
    pub bytes: u64,
    /// How many there are to be read in all, if that is known.
    pub of_bytes: u64,
}

impl Progress {
    /// As it is now.
    #[must_use]
    pub fn now() -> Self {
        let read = |of: &AtomicU64| of.load(Ordering::Relaxed);
        Self { records: read(&RECORDS), bytes: read(&BYTES), of_bytes: read(&OF_BYTES) }
    }
}

/// Some records more.
pub(crate) fn records(more: u64) {
    RECORDS.fetch_add(more, Ordering::Relaxed);
}

/// Opens a file whose bytes are counted as they are read.
pub(crate) fn opened(path: &Path) -> io::Result<Counted> {
    let file = File::open(path)?;
    OF_BYTES.fetch_add(file.metadata()?.len(), Ordering::Relaxed);
    Ok(Counted(file))
}

/// A file whose bytes are counted.
pub(crate) struct Counted(File);

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.0.read(buffer)?;
        BYTES.fetch_add(read as u64, Ordering::Relaxed);
        Ok(read)
    }
}
