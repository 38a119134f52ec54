//! A file system of our own in a file, for power cuts and a full disk. Needs root.

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};

/// A mounted ext4 in a file; unmounted when dropped.
pub(crate) struct Disk {
    folder: tempfile::TempDir,
    is_mounted: bool,
}

impl Disk {
    /// Makes and mounts one; `None`, with a word on standard error, where that is not possible.
    pub(crate) fn make(megabytes: u64) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let image = folder.path().join("image");
        fs::File::create(&image).unwrap().set_len(megabytes << 20).unwrap();
        let made = run(Command::new("mkfs.ext4").args(["-q", "-F"]).arg(&image));
        let mounted = made.and_then(|()| Self::mount(folder));
        mounted.map_err(|why| eprintln!("skipped: no file system of our own here ({why})")).ok()
    }

    /// What the "disk" would hold if the power went now: a copy of all that the kernel has handed
    /// to it, mounted anew.
    pub(crate) fn after_power_cut(&self) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut copy = Command::new("cp");
        copy.arg("--sparse=always").arg(self.image()).arg(folder.path().join("image"));
        run(&mut copy).unwrap();
        Self::mount(folder).unwrap()
    }

    pub(crate) fn path(&self) -> PathBuf {
        self.folder.path().join("mount")
    }

    fn image(&self) -> PathBuf {
        self.folder.path().join("image")
    }

    fn mount(folder: tempfile::TempDir) -> Result<Self, String> {
        let disk = Self { folder, is_mounted: false };
        fs::create_dir(disk.path()).map_err(|e| e.to_string())?;
        run(Command::new("mount").args(["-o", "loop"]).arg(disk.image()).arg(disk.path()))?;
        Ok(Self { folder: disk.into_folder(), is_mounted: true })
    }

    fn into_folder(mut self) -> tempfile::TempDir {
        std::mem::replace(&mut self.folder, tempfile::tempdir().unwrap())
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        if self.is_mounted {
            let _ = run(Command::new("umount").arg(self.path()));
        }
    }
}

/// Fills a file with bytes that take room.
pub(crate) fn ballast(path: &Path, megabytes: usize) {
    fs::write(path, vec![0xAA; megabytes << 20]).unwrap();
}

fn run(command: &mut Command) -> Result<(), String> {
    let output = command.output().map_err(|e| e.to_string())?;
    if output.status.success() {
        return Ok(());
    }
    Err(String::from_utf8_lossy(&output.stderr).trim().to_owned())
}
