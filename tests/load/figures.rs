//! What the kernel says about a process.

use std::fs;

/// Seconds of a tick of `stat`.
const TICK: f64 = 0.01;

/// User and system time of a process so far.
///
/// The scheduler's nanoseconds of each thread are fine enough for some thousand short requests, and
/// forget threads that have ended; the ticks of the process forget nothing.
pub(crate) struct Spent {
    threads: f64,
    process: f64,
}

impl Spent {
    pub(crate) fn by(id: u32) -> Self {
        let threads = fs::read_dir(format!("/proc/{id}/task")).expect("a running process");
        let threads = threads
            .flatten()
            .filter_map(|thread| fs::read_to_string(thread.path().join("schedstat")).ok())
            .filter_map(|text| text.split(' ').next()?.parse::<f64>().ok())
            .sum::<f64>();
        let stat = fs::read_to_string(format!("/proc/{id}/stat")).expect("a running process");
        // Behind the name, which may hold blanks, the twelfth and thirteenth.
        let behind = stat.rsplit(')').next().unwrap_or_default();
        let ticks = behind.split_whitespace().skip(11).take(2);
        let ticks: f64 = ticks.filter_map(|ticks| ticks.parse::<f64>().ok()).sum();
        Self { threads: threads / 1e9, process: ticks * TICK }
    }

    /// Seconds since; by the ticks where threads have ended meanwhile.
    pub(crate) fn since(&self, before: &Self) -> f64 {
        let (threads, process) = (self.threads - before.threads, self.process - before.process);
        if threads + 4.0 * TICK < process { process } else { threads }
    }
}

/// Resident memory, and the part of it that is the process's own (not pages of
/// files such as its executable), in MB.
pub(crate) fn memory_mb(id: u32) -> (f64, f64) {
    let text = fs::read_to_string(format!("/proc/{id}/status")).expect("a running process");
    let of = |name: &str| {
        text.lines()
            .find_map(|line| {
                line.strip_prefix(name)?.split_whitespace().next()?.parse::<f64>().ok()
            })
            .unwrap_or(f64::NAN)
            / 1024.0
    };
    (of("VmRSS:"), of("RssAnon:"))
}

/// The middle of some figures.
pub(crate) fn median(figures: &mut [f64]) -> f64 {
    figures.sort_by(f64::total_cmp);
    figures[figures.len() / 2]
}
