//! Private files that are either whole or not there.
//!
//! Folders get mode 0700 and files 0600, set explicitly whatever the umask is.
//! A file is replaced by writing a neighbour, syncing it, renaming it over and
//! syncing the folder: after a power cut there is the old content or the new.

use std::{
    fs::{self, DirBuilder, File, OpenOptions, Permissions},
    io::{self, Seek, SeekFrom, Write},
    os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt},
    path::{Path, PathBuf},
};

const FOLDER_MODE: u32 = 0o700;
const FILE_MODE: u32 = 0o600;

/// Makes a private folder, with its parents, unless it is there; sets its mode; syncs the parent.
///
/// # Errors
/// Any [`io::Error`].
pub fn create_private_dir(dir: &Path) -> io::Result<()> {
    if !dir.is_dir() {
        DirBuilder::new().recursive(true).mode(FOLDER_MODE).create(dir)?;
        if let Some(parent) = dir.canonicalize()?.parent() {
            sync_dir(parent)?;
        }
    }
    fs::set_permissions(dir, Permissions::from_mode(FOLDER_MODE))
}

/// Opens a private file for reading and writing, making it when it is not there.
///
/// # Errors
/// Any [`io::Error`].
pub fn open_private(path: &Path) -> io::Result<File> {
    let file = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .mode(FILE_MODE)
        .open(path)?;
    file.set_permissions(Permissions::from_mode(FILE_MODE))?;
    Ok(file)
}

/// Syncs a folder, so that a file made, renamed or removed in it stays so after a power cut.
///
/// # Errors
/// Any [`io::Error`].
pub fn sync_dir(dir: &Path) -> io::Result<()> {
    File::open(dir)?.sync_all()
}

/// Replaces a file whole: `fill` writes the new content.
///
/// # Errors
/// Any [`io::Error`] of `fill` or of the file system; then the old file is untouched.
pub fn replace<T>(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<T>) -> io::Result<T> {
    let temporary = temporary_name(path);
    let result = write_new(&temporary, fill).and_then(|value| {
        fs::rename(&temporary, path)?;
        sync_dir(parent_of(path))?;
        Ok(value)
    });
    if result.is_err() {
        // Best effort: the error that counts is the one above.
        let _ = fs::remove_file(&temporary);
    }
    result
}

/// Replaces a file that held a secret, then overwrites the old content with zeros where it lay.
/// On media that write elsewhere (flash, copy-on-write file systems) an old copy may remain; so a
/// secret must never be the only thing that protects what an old copy could open.
///
/// # Errors
/// Any [`io::Error`] before the new file is in place. The overwriting is best effort.
pub fn replace_secret(path: &Path, content: &[u8]) -> io::Result<()> {
    let old = OpenOptions::new().write(true).open(path).ok();
    replace(path, |file| file.write_all(content))?;
    if let Some(mut old) = old {
        let _ = wipe(&mut old);
    }
    Ok(())
}

/// Overwrites a file with zeros and removes it; nothing happens when it is not there.
///
/// # Errors
/// Any [`io::Error`] of the removal; the overwriting is best effort.
pub fn remove_secret(path: &Path) -> io::Result<()> {
    if let Ok(mut file) = OpenOptions::new().write(true).open(path) {
        let _ = wipe(&mut file);
    }
    remove(path)
}

/// Removes a file and syncs its folder; nothing happens when it is not there.
///
/// # Errors
/// Any [`io::Error`] but `NotFound`.
pub fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        Err(_) => Ok(()),
        Ok(()) => sync_dir(parent_of(path)),
    }
}

/// Sets the private modes on a folder and everything in it.
///
/// # Errors
/// Any [`io::Error`] but `NotFound`: files may go while this runs.
pub fn make_private(dir: &Path) -> io::Result<()> {
    fs::set_permissions(dir, Permissions::from_mode(FOLDER_MODE))?;
    for path in entries(dir)? {
        let result = if path.is_dir() { make_private(&path) } else { make_file_private(&path) };
        match result {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            Err(_) | Ok(()) => {}
        }
    }
    Ok(())
}

/// Sets the private mode on a file.
///
/// # Errors
/// Any [`io::Error`].
pub fn make_file_private(path: &Path) -> io::Result<()> {
    fs::set_permissions(path, Permissions::from_mode(FILE_MODE))
}

/// The paths in a folder, sorted.
///
/// # Errors
/// Any [`io::Error`].
pub fn entries(dir: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths: Vec<PathBuf> =
        fs::read_dir(dir)?.map(|entry| entry.map(|e| e.path())).collect::<io::Result<_>>()?;
    paths.sort();
    Ok(paths)
}

/// Every file under a folder, sorted, with its size in bytes.
///
/// # Errors
/// Any [`io::Error`].
pub fn walk(dir: &Path) -> io::Result<Vec<(PathBuf, u64)>> {
    let mut files = Vec::new();
    for path in entries(dir)? {
        if path.is_dir() {
            files.extend(walk(&path)?);
        } else {
            let bytes = path.metadata()?.len();
            files.push((path, bytes));
        }
    }
    Ok(files)
}

/// Free bytes that an unprivileged process may still use on the file system of `path`.
///
/// # Errors
/// Any [`io::Error`].
pub fn free_bytes(path: &Path) -> io::Result<u64> {
    let stat = rustix::fs::statvfs(path)?;
    Ok(stat.f_bavail.saturating_mul(stat.f_frsize))
}

/// The folder of a file; `.` for a bare name.
#[must_use]
pub fn parent_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

fn write_new<T>(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<T>) -> io::Result<T> {
    let mut file = open_private(path)?;
    file.set_len(0)?;
    let value = fill(&mut file)?;
    file.sync_all()?;
    Ok(value)
}

fn wipe(file: &mut File) -> io::Result<()> {
    let mut left = file.metadata()?.len();
    file.seek(SeekFrom::Start(0))?;
    let zeros = [0_u8; 8192];
    while 0 < left {
        let n = usize::try_from(left).unwrap_or(zeros.len()).min(zeros.len());
        file.write_all(&zeros[..n])?;
        left -= n as u64;
    }
    file.sync_all()
}

fn temporary_name(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".tmp");
    path.with_file_name(name)
}

/// The text of a file; `None` if there is none.
///
/// # Errors
/// What reading it met.
pub fn read_if_there(path: &Path) -> io::Result<Option<String>> {
    match fs::read_to_string(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        text => text.map(Some),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(path: &Path) -> u32 {
        path.metadata().unwrap().permissions().mode() & 0o777
    }

    #[test]
    fn folders_and_files_are_private() {
        let root = tempfile::tempdir().unwrap();
        let dir = root.path().join("a/b");
        create_private_dir(&dir).unwrap();
        assert_eq!(mode(&dir), 0o700);
        let path = dir.join("secret");
        replace(&path, |file| file.write_all(b"one")).unwrap();
        assert_eq!(mode(&path), 0o600);
        fs::set_permissions(&path, Permissions::from_mode(0o644)).unwrap();
        make_private(&dir).unwrap();
        assert_eq!(mode(&path), 0o600);
    }

    #[test]
    fn a_failed_replacement_leaves_the_old_file() {
        let root = tempfile::tempdir().unwrap();
        let path = root.path().join("file");
        replace(&path, |file| file.write_all(b"old")).unwrap();
        let failed = replace(&path, |file| {
            file.write_all(b"ne")?;
            Err::<(), _>(io::Error::other("full"))
        });
        assert!(failed.is_err());
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(entries(root.path()).unwrap(), [path], "no temporary file is left");
    }

    #[test]
    fn a_replaced_secret_is_overwritten_where_it_lay() {
        let root = tempfile::tempdir().unwrap();
        let path = root.path().join("keys");
        replace_secret(&path, b"old secret").unwrap();
        // A second name keeps the old content reachable, as a look at the raw disk would.
        let raw = root.path().join("raw");
        fs::hard_link(&path, &raw).unwrap();
        replace_secret(&path, b"new").unwrap();
        assert_eq!(fs::read(&raw).unwrap(), [0; 10]);
        assert_eq!(fs::read(&path).unwrap(), b"new");
    }
}
