//! The service as a process of its own: what a kill, a signal and a restart
//! do to it can only be seen from outside.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use etui_client::Client;
use rustix::process::{Pid, Signal, kill_process};
use serde_json::Value;

use crate::engine;
use crate::running::{ZONE, client_of, owner_token, with_token};
use crate::wire::{Answer, Request};

/// A running process, killed when dropped.
pub struct Child {
    process: std::process::Child,
    address: SocketAddr,
    token: String,
    /// The line it printed when it was ready.
    pub ready: Value,
    /// From its start to that line.
    pub took: Duration,
}

impl Child {
    /// Starts the service on a folder and waits until it is ready.
    ///
    /// `program` is `env!("CARGO_BIN_EXE_etui_under_test")` in a test.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn(program: &str, folder: &Path) -> Self {
        Self::spawn_with(program, folder, &[])
    }

    /// The same with more arguments.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn_with(program: &str, folder: &Path, more: &[&str]) -> Self {
        Self::begin(program, folder, more, |_| {})
    }

    /// The same with everything it logs, to the last detail, in a file.
    ///
    /// # Panics
    /// If it does not start, or the file cannot be made.
    #[must_use]
    pub fn spawn_logged(program: &str, folder: &Path, more: &[&str], log: &Path) -> Self {
        let log = std::fs::File::create(log).expect("a file for the log");
        Self::begin(program, folder, more, |command| {
            command.env("ETUI_LOG", "debug").stderr(log);
        })
    }

    /// The same with a log of every detail that goes into a pipe which nobody reads.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn_unread(program: &str, folder: &Path) -> Self {
        Self::begin(program, folder, &[], |command| {
            command.env("ETUI_LOG", "debug").stderr(Stdio::piped());
        })
    }

    /// Starts the service on the store in a folder, whatever the others run on.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn_embedded(program: &str, folder: &Path) -> Self {
        Self::begin_on(program, folder, None, &[], |_| {})
    }

    /// Starts the service on a database.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn_on(program: &str, folder: &Path, database: &str) -> Self {
        Self::begin_on(program, folder, Some(database), &[], |_| {})
    }

    /// The same with more arguments.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn spawn_on_with(program: &str, folder: &Path, database: &str, more: &[&str]) -> Self {
        Self::begin_on(program, folder, Some(database), more, |_| {})
    }

    fn begin(
        program: &str,
        folder: &Path,
        more: &[&str],
        change: impl FnOnce(&mut Command),
    ) -> Self {
        let database = engine::database(folder).address;
        Self::begin_on(program, folder, database.as_deref(), more, change)
    }

    fn begin_on(
        program: &str,
        folder: &Path,
        database: Option<&str>,
        more: &[&str],
        change: impl FnOnce(&mut Command),
    ) -> Self {
        let started = Instant::now();
        let mut command = Command::new(program);
        command
            .args(["serve", "--listen", "127.0.0.1:0", "--zone", ZONE])
            .arg("--data")
            .arg(folder)
            .args(more)
            .env("ETUI_LOG", "warn")
            .stdin(Stdio::null())
            .stdout(Stdio::piped());
        match database {
            Some(address) => command.env("ETUI_DATABASE", address),
            None => command.args(["--min-free-mb", "0"]),
        };
        change(&mut command);
        let mut process = command.spawn().expect("the program starts");
        let stdout = process.stdout.take().expect("a piped standard output");
        let mut line = String::new();
        let read = BufReader::new(stdout).read_line(&mut line);
        let took = started.elapsed();
        let ready: Option<Value> = serde_json::from_str(&line).ok();
        let listening = ready.as_ref().and_then(|r| r["listening"].as_str()?.parse().ok());
        let (Some(ready), Some(address)) = (ready, listening) else {
            let _ = process.kill();
            panic!("no ready line, but {line:?} ({read:?}, {:?})", process.wait());
        };
        Self { process, address, token: owner_token(folder), ready, took }
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The owner's token.
    #[must_use]
    pub fn token(&self) -> &str {
        &self.token
    }

    /// Its process id.
    #[must_use]
    pub fn id(&self) -> u32 {
        self.process.id()
    }

    /// A client with the owner's token that tries once.
    ///
    /// # Panics
    /// If the client refuses the address.
    #[must_use]
    pub fn client(&self) -> Client {
        client_of(self.address, &self.token)
    }

    /// Sends a request with the owner's token unless it carries one.
    #[must_use]
    pub fn call(&self, request: &Request) -> Answer {
        with_token(request, &self.token).send(self.address)
    }

    /// Ends it without any notice, as a power cut ends a process.
    ///
    /// # Panics
    /// If the system does not let us.
    pub fn kill(mut self) {
        self.process.kill().expect("the process can be killed");
        let _ = self.process.wait();
    }

    /// Asks it to stop.
    ///
    /// # Panics
    /// If the system does not let us.
    pub fn terminate(&self) {
        self.signal(Signal::TERM);
    }

    /// Keeps it from running at all, until it is let go on.
    ///
    /// # Panics
    /// If the system does not let us.
    pub fn freeze(&self) {
        self.signal(Signal::STOP);
    }

    /// Lets it go on.
    ///
    /// # Panics
    /// If the system does not let us.
    pub fn thaw(&self) {
        self.signal(Signal::CONT);
    }

    fn signal(&self, signal: Signal) {
        let id = i32::try_from(self.process.id()).ok().and_then(Pid::from_raw);
        kill_process(id.expect("a process id"), signal).expect("a signal can be sent");
    }

    /// Waits for its end; `None` if it has not come within the limit.
    pub fn wait(&mut self, limit: Duration) -> Option<ExitStatus> {
        let started = Instant::now();
        while started.elapsed() < limit {
            if let Ok(Some(status)) = self.process.try_wait() {
                return Some(status);
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        None
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
