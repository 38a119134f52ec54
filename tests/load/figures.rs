//! What the kernel says about a process.

use std::fs;

/// User and system time of all its threads so far, in seconds.
///
/// From the scheduler's nanoseconds of each thread: the ticks of `stat` are too
/// coarse for some thousand short requests.
pub(crate) fn processor_time(id: u32) -> f64 {
    let threads = fs::read_dir(format!("/proc/{id}/task")).expect("a running process");
    threads
        .flatten()
        .filter_map(|thread| fs::read_to_string(thread.path().join("schedstat")).ok())
        .filter_map(|text| text.split(' ').next()?.parse::<f64>().ok())
        .sum::<f64>()
        / 1e9
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
