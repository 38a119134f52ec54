//! The log: JSON lines on stderr that nobody waits for.
//!
//! A pipe that is not read must not stop the service. Lines therefore go to a
//! thread of their own by a queue of bounded length; what does not fit is lost,
//! counted, and told when there is room again.

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::time::Duration;

use tracing_subscriber::EnvFilter;
use tracing_subscriber::filter::Directive;
use tracing_subscriber::fmt::MakeWriter;

/// Lines that may wait.
const WAITING: usize = 4096;
/// Lines that are written together at most.
const TOGETHER: u64 = 256;
/// How long lines gather once some were written: to wake a thread for each line costs more than
/// to write it.
const GATHERING: Duration = Duration::from_millis(5);
/// How long an end waits for the lines that are left.
const PATIENCE: Duration = Duration::from_millis(500);
/// A client's broken request is no fault of ours; that it was refused is counted.
const NOT_OURS: &str = "actix_http::h1=off";

/// What the writing thread shares with those who log.
#[derive(Debug, Default)]
struct Counts {
    waiting: AtomicU64,
    lost: AtomicU64,
}

/// Takes lines without ever waiting.
#[derive(Debug, Clone)]
pub struct Log {
    lines: SyncSender<Vec<u8>>,
    counts: Arc<Counts>,
}

impl Log {
    /// Starts the thread that writes.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(out: impl Write + Send + 'static) -> io::Result<Self> {
        let (lines, queue) = sync_channel(WAITING);
        let counts = Arc::new(Counts::default());
        let shared = Arc::clone(&counts);
        std::thread::Builder::new().name("log".into()).spawn(move || {
            write_on(&queue, out, &shared);
        })?;
        Ok(Self { lines, counts })
    }

    /// Waits a moment for the lines that are left.
    pub fn settle(&self) {
        let began = std::time::Instant::now();
        while 0 < self.counts.waiting.load(Ordering::Acquire) && began.elapsed() < PATIENCE {
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

fn write_on(queue: &Receiver<Vec<u8>>, mut out: impl Write, counts: &Counts) {
    while let Ok(mut lines) = queue.recv() {
        let mut taken = 1;
        while taken < TOGETHER
            && let Ok(line) = queue.try_recv()
        {
            lines.extend(line);
            taken += 1;
        }
        let lost = counts.lost.swap(0, Ordering::AcqRel);
        if 0 < lost {
            let told = format!(
                "{{\"level\":\"WARN\",\"fields\":{{\"message\":\"lines of the log were lost, \
                 nobody read them\",\"lost\":{lost}}}}}\n"
            );
            let _ = out.write_all(told.as_bytes());
        }
        let _ = out.write_all(&lines);
        counts.waiting.fetch_sub(taken, Ordering::AcqRel);
        if taken < TOGETHER {
            std::thread::sleep(GATHERING);
        }
    }
}

impl Write for Log {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        self.counts.waiting.fetch_add(1, Ordering::AcqRel);
        match self.lines.try_send(line.to_vec()) {
            Ok(()) => {}
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {
                self.counts.waiting.fetch_sub(1, Ordering::AcqRel);
                self.counts.lost.fetch_add(1, Ordering::AcqRel);
            }
        }
        Ok(line.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl MakeWriter<'_> for Log {
    type Writer = Self;

    fn make_writer(&self) -> Self {
        self.clone()
    }
}

/// JSON lines on stderr, or lines of text if `ETUI_LOG_FORMAT` is `text`; `ETUI_LOG` sets the
/// level (default `info`).
///
/// # Errors
/// A form that is none, or the system gives no thread.
pub fn to_stderr() -> io::Result<Log> {
    let form = Form::of_environment().map_err(io::Error::other)?;
    let log = Log::start(io::stderr())?;
    let filter = EnvFilter::try_from_env("ETUI_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    let filter = match NOT_OURS.parse::<Directive>() {
        Ok(directive) => filter.add_directive(directive),
        Err(_) => filter,
    };
    let lines = tracing_subscriber::fmt().with_writer(log.clone()).with_env_filter(filter);
    let _ = match form {
        Form::Text => lines.with_ansi(false).try_init(),
        Form::Json => lines.json().try_init(),
    };
    Ok(log)
}

/// How the lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// One object a line.
    Json,
    /// To be read.
    Text,
}

impl Form {
    /// The form that `ETUI_LOG_FORMAT` names; JSON if it is not set.
    ///
    /// # Errors
    /// Which are accepted.
    pub fn of_environment() -> Result<Self, String> {
        Self::of(std::env::var("ETUI_LOG_FORMAT").ok().as_deref())
    }

    fn of(named: Option<&str>) -> Result<Self, String> {
        match named {
            None | Some("" | "json") => Ok(Self::Json),
            Some("text") => Ok(Self::Text),
            Some(other) => Err(format!("ETUI_LOG_FORMAT: `{other}` is neither `json` nor `text`")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A reader that never reads, and then does.
    struct Stuck(std::sync::mpsc::Receiver<()>, std::sync::mpsc::Sender<Vec<u8>>);

    impl Write for Stuck {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            let _ = self.0.recv();
            let _ = self.1.send(bytes.to_vec());
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn nobody_waits_for_a_reader_that_does_not_read() {
        let (go, wait) = std::sync::mpsc::channel();
        let (tell, told) = std::sync::mpsc::channel();
        let mut log = Log::start(Stuck(wait, tell)).unwrap();
        for n in 0..WAITING + 500 {
            log.write_all(format!("{n}\n").as_bytes()).unwrap();
        }
        drop(go);
        log.settle();
        log.write_all(b"last\n").unwrap();
        log.settle();
        let written: Vec<u8> = told.try_iter().flatten().collect();
        let written = String::from_utf8(written).unwrap();
        let lines: Vec<_> = written.lines().collect();
        let lost =
            lines.iter().find(|line| line.contains("were lost")).expect("told what was lost");
        assert!(lost.contains("\"lost\":"), "{lost}");
        assert!(lines.contains(&"0"));
        let in_hand = usize::try_from(TOGETHER).unwrap();
        assert!(lines.len() <= WAITING + in_hand + 4, "{}", lines.len());
        assert_eq!(lines.last(), Some(&"last"));
    }
}
