//! How far long work on a whole store is: counted here, told by whoever began it.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

static RECORDS: AtomicU64 = AtomicU64::new(0);
static OF_RECORDS: AtomicU64 = AtomicU64::new(0);
static BYTES: AtomicU64 = AtomicU64::new(0);
static OF_BYTES: AtomicU64 = AtomicU64::new(0);

/// How far this process is. Work that goes through its records twice counts them twice.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// Records that were gone through.
    pub records: u64,
    /// About how many there are to be gone through in all, if that is known.
    pub of_records: u64,
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
        Self {
            records: read(&RECORDS),
            of_records: read(&OF_RECORDS),
            bytes: read(&BYTES),
            of_bytes: read(&OF_BYTES),
        }
    }

    /// How much is done, and of how much, where the end is known.
    #[must_use]
    pub const fn share(self) -> Option<(u64, u64)> {
        match (self.of_bytes, self.of_records) {
            (0, 0) => None,
            (0, of) => Some((self.records, of)),
            (of, _) => Some((self.bytes, of)),
        }
    }
}

/// Some records more.
pub(crate) fn records(more: u64) {
    RECORDS.fetch_add(more, Ordering::Relaxed);
}

/// So many records more are to be gone through.
pub(crate) fn expect(more: u64) {
    OF_RECORDS.fetch_add(more, Ordering::Relaxed);
}

/// What a file holds is to be gone through so often.
pub(crate) fn expect_file(path: &Path, times: u64) -> io::Result<()> {
    OF_BYTES.fetch_add(times * path.metadata()?.len(), Ordering::Relaxed);
    Ok(())
}

/// A file, or another place, whose bytes are counted.
pub(crate) struct Counted<T>(pub(crate) T);

impl Counted<File> {
    /// Opens a file whose bytes are counted as they are read.
    pub(crate) fn open(path: &Path) -> io::Result<Self> {
        File::open(path).map(Self)
    }
}

fn counted(bytes: usize) -> usize {
    BYTES.fetch_add(bytes as u64, Ordering::Relaxed);
    bytes
}

impl<T: Read> Read for Counted<T> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0.read(buffer).map(counted)
    }
}

impl<T: Write> Write for Counted<T> {
    fn write(&mut self, buffer: &[u8]) -> io::Result<usize> {
        self.0.write(buffer).map(counted)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}
