//! A writer process as a test sees it.

use std::{
    collections::BTreeMap,
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, ChildStdout, Command, Stdio},
    sync::mpsc::{self, Receiver},
    thread,
    time::Duration,
};

/// How long a child may be silent.
const PATIENCE: Duration = Duration::from_secs(60);

pub(crate) struct Writer {
    pub(crate) process: Child,
    lines: Receiver<String>,
    /// Greatest count acknowledged, or found at opening, by writer.
    pub(crate) acked: BTreeMap<u64, u64>,
    /// How many acknowledgements came.
    pub(crate) acks: u64,
    /// What it found at opening.
    pub(crate) found: BTreeMap<u64, u64>,
}

impl Writer {
    pub(crate) fn spawn(mode: &str, dir: &Path, more: &[&str]) -> Self {
        Self::spawn_by(Command::new(env!("CARGO_BIN_EXE_store_writer")), mode, dir, more)
    }

    /// Under another program, whose arguments are in `command` already.
    pub(crate) fn spawn_by(mut command: Command, mode: &str, dir: &Path, more: &[&str]) -> Self {
        command.arg(mode).arg(dir).args(more).env("RUST_BACKTRACE", "0");
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut process = command.spawn().unwrap();
        let lines = lines_of(process.stdout.take().unwrap());
        Self { process, lines, acked: BTreeMap::new(), acks: 0, found: BTreeMap::new() }
    }

    /// Takes lines until it has opened the store. `Err` is what it reported instead.
    pub(crate) fn opened(&mut self) -> Result<(), String> {
        loop {
            let Ok(line) = self.lines.recv_timeout(PATIENCE) else {
                let _ = self.process.kill();
                return Err(format!("no word: {:?}", self.process.wait()));
            };
            if let Some(why) = line.strip_prefix("damaged ") {
                let _ = self.process.wait();
                return Err(why.to_owned());
            }
            if line == "opened" {
                return Ok(());
            }
            self.take(&line);
        }
    }

    /// Takes whatever it said for some time; `Err` is a report of damage.
    pub(crate) fn listen(&mut self, time: Duration) -> Result<(), String> {
        let until = std::time::Instant::now() + time;
        loop {
            let left = until.saturating_duration_since(std::time::Instant::now());
            let Ok(line) = self.lines.recv_timeout(left) else { return Ok(()) };
            if let Some(why) = line.strip_prefix("damaged ") {
                return Err(why.to_owned());
            }
            self.take(&line);
        }
    }

    /// Kills it (SIGKILL) and takes its last lines.
    pub(crate) fn kill(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
        self.drain();
    }

    /// Takes all lines up to the end of its output.
    pub(crate) fn drain(&mut self) {
        while let Ok(line) = self.lines.recv_timeout(PATIENCE) {
            self.take(&line);
        }
    }

    fn take(&mut self, line: &str) {
        let words: Vec<&str> = line.split(' ').collect();
        let [kind, writer, n] = words[..] else { return };
        let (writer, n) = (writer.parse().unwrap(), n.parse().unwrap());
        match kind {
            "state" => {
                self.found.insert(writer, n);
            }
            _ => self.acks += 1,
        }
        self.acked.insert(writer, n);
    }
}

/// A bounded check of a folder by a process of its own: the counts, or what was reported.
pub(crate) fn check(dir: &Path) -> Result<BTreeMap<u64, u64>, String> {
    let mut child = Writer::spawn("check", dir, &[]);
    child.opened()?;
    child.drain();
    let _ = child.process.wait();
    Ok(child.found)
}

/// Fails unless every acknowledged batch is there.
pub(crate) fn nothing_lost(acked: &BTreeMap<u64, u64>, found: &BTreeMap<u64, u64>, when: &str) {
    for (writer, n) in acked {
        let there = found.get(writer).copied().unwrap_or(0);
        assert!(*n <= there, "{when}: writer {writer} had {n} acknowledged, {there} are there");
    }
}

/// The same scattered numbers in each run.
pub(crate) struct Dice(pub u64);

impl Dice {
    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// A number from the environment.
pub(crate) fn setting(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

fn lines_of(stdout: ChildStdout) -> Receiver<String> {
    let (sender, receiver) = mpsc::channel();
    thread::spawn(move || {
        for line in BufReader::new(stdout).lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                return;
            }
        }
    });
    receiver
}
