//! A PostgreSQL server for tests: in a temporary folder, reached over a socket in
//! it, ended and removed with the process that started it, however that ends.
//!
//! Where no server is installed the tests that need one are skipped, and say so.

use std::fs;
use std::io;
use std::os::unix::fs::chown;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// Settings of the server: as a studio would have them, with room for many services at once.
const SETTINGS: [&str; 8] = [
    "listen_addresses=",
    "max_connections=300",
    "shared_buffers=64MB",
    "fsync=on",
    "synchronous_commit=on",
    "max_wal_size=256MB",
    "log_min_messages=fatal",
    "logging_collector=off",
];
/// Names the socket; nothing listens on it.
const PORT: u16 = 5432;
/// Longest wait for a server.
const PATIENCE: Duration = Duration::from_secs(60);

/// A running server.
pub struct Server {
    folder: PathBuf,
    bin: PathBuf,
    port: u16,
    /// Ends the server when its standard input is closed, which the end of this process does.
    watcher: Child,
    schemas: AtomicU32,
}

impl Server {
    /// The one server of this process; `None` where none is installed, which is said once.
    ///
    /// # Panics
    /// If one is installed and does not start.
    #[must_use]
    pub fn shared() -> Option<&'static Self> {
        static SHARED: OnceLock<Option<Server>> = OnceLock::new();
        let start = |bin: PathBuf| Self::start(&bin).expect("the installed server starts");
        let server = SHARED.get_or_init(|| installed().map(start));
        if server.is_none() {
            eprintln!("SKIPPED: no PostgreSQL server is installed; what runs on it was not tested");
        }
        server.as_ref()
    }

    /// Starts one from the programs in a folder.
    ///
    /// # Errors
    /// What the system or the server said.
    pub fn start(bin: &Path) -> io::Result<Self> {
        Self::start_with(bin, PORT, &[], |_| Ok(()))
    }

    /// The same with further settings; `prepare` may put files into its folder.
    ///
    /// # Errors
    /// What the system or the server said.
    pub fn start_with(
        bin: &Path,
        port: u16,
        more: &[&str],
        prepare: impl FnOnce(&Path) -> io::Result<()>,
    ) -> io::Result<Self> {
        let folder = tempfile::Builder::new().prefix("etui-db-").tempdir()?.keep();
        let owner = owner()?;
        if let Some((user, group)) = owner {
            chown(&folder, Some(user), Some(group))?;
        }
        let data = folder.join("data");
        let mut make = Command::new(bin.join("initdb"));
        make.arg("-D").arg(&data).args(["-U", "owner", "--auth=trust", "--no-sync"]);
        make.args(["--locale=C", "--encoding=UTF8", "--data-checksums"]);
        finished(given_to(&mut make, owner))?;
        prepare(&folder)?;
        for entry in fs::read_dir(&folder)? {
            if let Some((user, group)) = owner {
                chown(entry?.path(), Some(user), Some(group))?;
            }
        }
        let watcher = watch(&folder, bin, port, more)?;
        let server =
            Self { folder, bin: bin.to_owned(), port, watcher, schemas: AtomicU32::new(0) };
        server.wait_for("SELECT 1", "1")?;
        Ok(server)
    }

    /// Starts one that has whatever another has, and goes on where that one dies.
    ///
    /// # Errors
    /// What the system or the server said.
    pub fn standby_of(primary: &Self) -> io::Result<Self> {
        let folder = tempfile::Builder::new().prefix("etui-db-").tempdir()?.keep();
        if let Some((user, group)) = owner()? {
            chown(&folder, Some(user), Some(group))?;
        }
        copy(primary, &folder)?;
        let watcher = watch(&folder, &primary.bin, primary.port, &[])?;
        let (bin, port, schemas) = (primary.bin.clone(), primary.port, AtomicU32::new(0));
        let server = Self { folder, bin, port, watcher, schemas };
        server.wait_for("SELECT 1", "1")?;
        Ok(server)
    }

    /// Begins anew in its place as one that has whatever another has.
    ///
    /// # Errors
    /// What the system or the server said.
    pub fn follow(&mut self, primary: &Self) -> io::Result<()> {
        let keep = self.folder.join("keep");
        fs::write(&keep, "")?;
        drop(self.watcher.stdin.take());
        self.watcher.wait()?;
        fs::remove_file(&keep)?;
        fs::remove_dir_all(self.folder.join("data"))?;
        for left in [self.socket(), self.folder.join(format!(".s.PGSQL.{}.lock", self.port))] {
            let _ = fs::remove_file(left);
        }
        copy(primary, &self.folder)?;
        self.watcher = watch(&self.folder, &self.bin, self.port, &[])?;
        self.wait_for("SELECT 1", "1")
    }

    /// Ends all of its processes as a power cut would.
    ///
    /// # Errors
    /// If it does not run.
    pub fn kill(&self) -> io::Result<()> {
        let told = fs::read_to_string(self.folder.join("data/postmaster.pid"))?;
        let first = told.lines().next().unwrap_or_default().trim().to_owned();
        let parent = format!(" {first} ");
        let is_child = |process: &Path| {
            let stat = fs::read_to_string(process.join("stat")).unwrap_or_default();
            // Behind the name: state, then the parent.
            let rest = stat.rsplit_once(')').map(|(_, rest)| rest.to_owned()).unwrap_or_default();
            rest.get(2..).is_some_and(|rest| rest.starts_with(&parent))
        };
        let children = fs::read_dir("/proc")?.flatten().map(|entry| entry.path());
        let children: Vec<String> = children
            .filter(|process| is_child(process))
            .filter_map(|process| Some(process.file_name()?.to_str()?.to_owned()))
            .collect();
        // One may have ended by itself meanwhile.
        Command::new("kill").arg("-9").arg(first).args(children).stderr(Stdio::null()).status()?;
        Ok(())
    }

    /// Makes a standby the primary.
    ///
    /// # Errors
    /// What the system or the server said.
    pub fn promote(&self) -> io::Result<()> {
        let mut command = Command::new(self.bin.join("pg_ctl"));
        command.args(["promote", "-w", "-D"]).arg(self.folder.join("data"));
        finished(given_to(&mut command, owner()?))
    }

    /// Waits until a question is answered so.
    ///
    /// # Errors
    /// If that takes too long.
    pub fn wait_for(&self, question: &str, answer: &str) -> io::Result<()> {
        let began = Instant::now();
        while self.sql(question).ok().as_deref() != Some(answer) {
            if PATIENCE < began.elapsed() {
                return Err(io::Error::other(format!("the server does not say {answer}")));
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(())
    }

    /// Runs statements as the owner of everything; what they answered.
    ///
    /// # Errors
    /// What the server said.
    pub fn sql(&self, statements: &str) -> io::Result<String> {
        let mut command = Command::new(self.bin.join("psql"));
        command.args(["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-U", "owner"]);
        command.arg("-h").arg(&self.folder).args(["-p", &self.port.to_string()]);
        command.args(["-d", "postgres", "-c", statements]);
        let done = command.stdin(Stdio::null()).output()?;
        if done.status.success() {
            return Ok(String::from_utf8_lossy(&done.stdout).trim().to_owned());
        }
        Err(io::Error::other(String::from_utf8_lossy(&done.stderr).into_owned()))
    }

    /// A schema of its own: its name, and the address under which a role sees nothing else.
    ///
    /// # Panics
    /// If the server refuses.
    #[must_use]
    pub fn schema(&self) -> (String, String) {
        let name = format!("studio_{}", self.schemas.fetch_add(1, Ordering::Relaxed));
        self.sql(&format!("CREATE SCHEMA {name}")).expect("a schema is made");
        let address = self.address("owner", &name);
        (name, address)
    }

    /// The address of a schema for a role.
    #[must_use]
    pub fn address(&self, role: &str, schema: &str) -> String {
        let socket = self.folder.display().to_string().replace('/', "%2F");
        format!("postgres://{role}@{socket}/postgres?options=-c%20search_path%3D{schema}")
    }

    /// Its folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its socket, for those who stand between.
    #[must_use]
    pub fn socket(&self) -> PathBuf {
        self.folder.join(format!(".s.PGSQL.{}", self.port))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.watcher.stdin.take());
        let _ = self.watcher.wait();
    }
}

/// Starts the server in a folder, under a shell that ends it with us.
fn watch(folder: &Path, bin: &Path, port: u16, more: &[&str]) -> io::Result<Child> {
    let watch = "\"$0\" \"$@\" & server=$!; cat >/dev/null; kill -QUIT $server; wait $server; \
                 [ -e \"$ETUI_FOLDER/keep\" ] || rm -rf \"$ETUI_FOLDER\"";
    let mut command = Command::new("sh");
    command.args(["-c", watch]).arg(bin.join("postgres")).arg("-D").arg(folder.join("data"));
    for setting in SETTINGS.iter().chain(more) {
        command.args(["-c", setting]);
    }
    command.arg("-c").arg(format!("unix_socket_directories={}", folder.display()));
    command.args(["-c", &format!("port={port}")]);
    command.env("ETUI_FOLDER", folder).stdin(Stdio::piped());
    command.stdout(Stdio::null()).stderr(Stdio::null());
    given_to(&mut command, owner()?).spawn()
}

/// Copies what a server has, to be followed from there.
fn copy(primary: &Server, folder: &Path) -> io::Result<()> {
    let mut command = Command::new(primary.bin.join("pg_basebackup"));
    command.arg("-h").arg(&primary.folder).args(["-p", &primary.port.to_string()]);
    command.args(["-U", "owner", "-R", "-c", "fast", "--no-sync", "-D"]).arg(folder.join("data"));
    finished(given_to(&mut command, owner()?))
}

fn finished(command: &mut Command) -> io::Result<()> {
    let done = command.stdin(Stdio::null()).output()?;
    if done.status.success() {
        return Ok(());
    }
    Err(io::Error::other(String::from_utf8_lossy(&done.stderr).into_owned()))
}

/// Where the newest installed server has its programs.
#[must_use]
pub fn installed() -> Option<PathBuf> {
    let versions = fs::read_dir("/usr/lib/postgresql").ok()?;
    let mut found: Vec<PathBuf> = versions
        .filter_map(|version| Some(version.ok()?.path().join("bin")))
        .filter(|bin| bin.join("initdb").exists())
        .collect();
    found.sort();
    found.pop()
}

/// Whom a server must be given to when the tests run as root, which it refuses.
fn owner() -> io::Result<Option<(u32, u32)>> {
    use std::os::unix::fs::MetadataExt;
    if fs::metadata("/proc/self")?.uid() != 0 {
        return Ok(None);
    }
    let users = fs::read_to_string("/etc/passwd")?;
    let of = |name: &str| {
        let line = users.lines().find(|line| line.starts_with(&format!("{name}:")))?;
        let mut parts = line.split(':').skip(2);
        Some((parts.next()?.parse().ok()?, parts.next()?.parse().ok()?))
    };
    Ok(of("postgres").or_else(|| of("nobody")))
}

fn given_to(command: &mut Command, owner: Option<(u32, u32)>) -> &mut Command {
    if let Some((user, group)) = owner {
        command.uid(user).gid(group).current_dir("/");
    }
    command
}
