//! Makes the engine's flush reach the disk.
//!
//! On Linux the engine follows its writes by `sync_file_range`, which writes
//! neither the size and extents of the file nor the disk's cache: after a power
//! cut acknowledged data can be gone or the log unreadable. Where that call
//! answers `ENOSYS` the engine takes its own `fsync` path instead. So a seccomp
//! filter makes it answer `ENOSYS`, in every thread of the process.
//!
//! On other systems the engine calls `fsync` by itself. The committer syncs the
//! log once more before each acknowledgement, whatever this module reports.

use std::fmt;

/// Whether the engine's own flush is a true sync.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SyncPath {
    /// `sync_file_range` is refused in every thread; the engine calls `fsync`.
    Enforced,
    /// This system's build of the engine calls `fsync` anyway.
    NotNeeded,
    /// The filter could not be set; acknowledged data rest on the committer's own sync alone.
    Unavailable(String),
}

impl SyncPath {
    /// Whether every flush of the engine is a true sync.
    #[must_use]
    pub fn is_durable(&self) -> bool {
        match self {
            Self::Enforced | Self::NotNeeded => true,
            Self::Unavailable(_) => false,
        }
    }
}

impl fmt::Display for SyncPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Enforced => f.write_str("enforced: every flush is an fsync"),
            Self::NotNeeded => f.write_str("not needed: every flush is an fsync on this system"),
            Self::Unavailable(why) => write!(f, "unavailable: {why}"),
        }
    }
}

/// Sets the rule. Call it first thing in `main`, before the store is opened; calling it twice does
/// no harm. It also forbids the process to gain privileges (`no_new_privs`), which an unprivileged
/// filter requires.
#[must_use]
pub fn harden_sync() -> SyncPath {
    platform::harden_sync()
}

#[cfg(target_os = "linux")]
mod platform {
    use std::{collections::BTreeMap, fs};

    use seccompiler::{BpfProgram, SeccompAction, SeccompFilter, TargetArch};

    use super::SyncPath;

    /// Number of `sync_file_range` in the kernel's system call table of each architecture.
    #[cfg(target_arch = "x86_64")]
    const SYNC_FILE_RANGE: Option<i64> = Some(277);
    #[cfg(any(target_arch = "aarch64", target_arch = "riscv64"))]
    const SYNC_FILE_RANGE: Option<i64> = Some(84);
    #[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64", target_arch = "riscv64")))]
    const SYNC_FILE_RANGE: Option<i64> = None;

    /// `ENOSYS`, the same number on all of them.
    const NO_SUCH_CALL: u32 = 38;

    pub(super) fn harden_sync() -> SyncPath {
        match try_harden() {
            Ok(()) => SyncPath::Enforced,
            Err(why) => SyncPath::Unavailable(why),
        }
    }

    fn try_harden() -> Result<(), String> {
        let arch = std::env::consts::ARCH;
        let call = SYNC_FILE_RANGE.ok_or_else(|| format!("no rule for architecture {arch}"))?;
        let target = TargetArch::try_from(arch).map_err(|e| e.to_string())?;
        let filter = SeccompFilter::new(
            BTreeMap::from([(call, vec![])]),
            SeccompAction::Allow,
            SeccompAction::Errno(NO_SUCH_CALL),
            target,
        )
        .map_err(|e| e.to_string())?;
        let program: BpfProgram =
            filter.try_into().map_err(|e: seccompiler::BackendError| e.to_string())?;
        // All threads: a runtime or a test harness may have started some before.
        seccompiler::apply_filter_all_threads(&program).map_err(|e| e.to_string())?;
        confirm(&fs::read_to_string("/proc/self/status").unwrap_or_default())
    }

    /// The kernel's own word that a filter (mode 2) is in force. A status without the line, as
    /// where `/proc` is not mounted, proves nothing and is let pass.
    fn confirm(status: &str) -> Result<(), String> {
        match status.lines().find_map(|line| line.strip_prefix("Seccomp:")) {
            Some(mode) if mode.trim() != "2" => {
                Err(format!("the kernel reports seccomp mode {}", mode.trim()))
            }
            Some(_) | None => Ok(()),
        }
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn the_kernel_confirms_the_filter() {
            assert_eq!(confirm("Name:\tetui\nSeccomp:\t2\nSeccomp_filters:\t1\n"), Ok(()));
            assert!(confirm("Seccomp:\t0\n").is_err());
        }
    }
}

#[cfg(not(target_os = "linux"))]
mod platform {
    pub(super) fn harden_sync() -> super::SyncPath {
        super::SyncPath::NotNeeded
    }
}
