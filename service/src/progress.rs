//! Lines that say how far long work is: on a terminal one that is written over, otherwise
//! one every ten seconds, so that a log does not fill.

use std::io::{IsTerminal, Write, stderr};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::store::progress::Progress;

/// Work that is shorter says nothing.
const FIRST: Duration = Duration::from_secs(2);

/// Tells until it is dropped.
pub(crate) struct Teller {
    done: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Teller {
    /// Begins to tell of some work.
    pub(crate) fn of(work: &'static str) -> Self {
        let (done, is_done) = channel();
        let terminal = stderr().is_terminal();
        let pause = if terminal { Duration::from_millis(500) } else { Duration::from_secs(10) };
        let tell = move || {
            let (began, before) = (Instant::now(), Progress::now());
            let mut wait = FIRST;
            let mut told = false;
            while is_done.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                let now = Progress::now();
                let text = line(work, began.elapsed(), now, before.records);
                // The rest of a longer line before is blanked.
                let _ = if terminal {
                    let text = bar(now).unwrap_or_default() + &text;
                    write!(stderr(), "\r{text:<COLUMNS$.COLUMNS$}")
                } else {
                    writeln!(stderr(), "{text}")
                };
                (wait, told) = (pause, true);
            }
            if told && terminal {
                let _ = writeln!(stderr());
            }
        };
        let thread = std::thread::Builder::new().name("progress".to_owned()).spawn(tell).ok();
        Self { done: Some(done), thread }
    }
}

impl Drop for Teller {
    fn drop(&mut self) {
        self.done.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A line that wraps cannot be written over.
const COLUMNS: usize = 79;
/// How much of the bar stands for all of it.
const WIDTH: usize = 20;

/// A bar, where the end is known.
fn bar(now: Progress) -> Option<String> {
    let (done, of) = now.share()?;
    let done = u128::from(done.min(of)) * WIDTH as u128;
    let full = usize::try_from(done.checked_div(u128::from(of))?).unwrap_or(WIDTH);
    Some(format!("[{}{}] ", "#".repeat(full), ".".repeat(WIDTH - full)))
}

/// One line: how much, how fast, and how long still where the end is known.
fn line(work: &str, took: Duration, now: Progress, before: u64) -> String {
    let records = now.records.saturating_sub(before);
    let seconds = took.as_secs().max(1);
    let mut text = format!("{work}: {records} records, {} a second", records / seconds);
    if let Some((done, of)) = now.share() {
        let percent = (100 * u128::from(done)).checked_div(u128::from(of)).unwrap_or(0).min(100);
        text.push_str(&format!(", {percent} %"));
        if 0 < done && done < of {
            let left = u128::from(of - done) * u128::from(seconds) / u128::from(done);
            text.push_str(&format!(", about {left} s left"));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_how_much_how_fast_and_how_long() {
        for (seconds, records, of_records, bytes, of_bytes, want) in [
            (10, 5_100, 0, 0, 0, "export: 5000 records, 500 a second"),
            (0, 105, 0, 0, 0, "export: 5 records, 5 a second"),
            (20, 100, 0, 25, 100, "export: 0 records, 0 a second, 25 %, about 60 s left"),
            (20, 100, 0, 0, 100, "export: 0 records, 0 a second, 0 %"),
            (20, 100, 0, 100, 100, "export: 0 records, 0 a second, 100 %"),
            (10, 1_100, 5_500, 0, 0, "export: 1000 records, 100 a second, 20 %, about 40 s left"),
            // More came while it was gone through.
            (10, 1_100, 1_000, 0, 0, "export: 1000 records, 100 a second, 100 %"),
            // What is read of a file says more than the records in it.
            (
                10,
                1_100,
                1_100,
                50,
                100,
                "export: 1000 records, 100 a second, 50 %, about 10 s left",
            ),
        ] {
            let now = Progress { records, of_records, bytes, of_bytes };
            assert_eq!(line("export", Duration::from_secs(seconds), now, 100), want);
        }
    }

    #[test]
    fn a_bar_is_as_full_as_the_work_is_done() {
        for (bytes, of_bytes, want) in [
            (0, 0, None),
            (7, 0, None),
            (0, 100, Some("[....................] ")),
            (4, 100, Some("[....................] ")),
            (5, 100, Some("[#...................] ")),
            (50, 100, Some("[##########..........] ")),
            (99, 100, Some("[###################.] ")),
            (100, 100, Some("[####################] ")),
            // A file that grew while it was read.
            (101, 100, Some("[####################] ")),
            (u64::MAX, u64::MAX, Some("[####################] ")),
        ] {
            let now = Progress { bytes, of_bytes, ..Progress::default() };
            assert_eq!(bar(now).as_deref(), want, "{bytes} of {of_bytes}");
        }
    }
}
