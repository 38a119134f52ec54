//! How fast labels and symbols are read on one core.
//!
//! `cargo bench -p etui-craft --bench label` prints readings a second: the best
//! of five rounds over a fixed set of texts. Plain labels are read whole, with
//! every candidate and reason; element strings are parsed and checked.

use std::hint::black_box;
use std::time::{Duration, Instant};

/// Time this thread was on a processor, so that a busy machine does not count;
/// the time of day where the system does not tell.
fn on_processor(begin: Instant) -> Duration {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse().ok())
        .map_or_else(|| begin.elapsed(), Duration::from_nanos)
}

use etui_craft::label::{Policy, Printed, Reader};
use jiff::civil::date;

/// Labels as they come: clear ones, and some that ask.
const PLAIN: &[&str] = &[
    "1003RL",
    "1207RS",
    "0805RS",
    "1203RLST",
    "10 03 RL ST",
    "10-03RL",
    "0.30 3RL",
    "0.25 1RL LT",
    "1015M1",
    "#10 3RL",
    "30 3RL",
    "3RL 0.30mm",
    "RS5-0.25",
    "1209RM",
    "103RL",
    "14RL",
    "1003R",
    "3RL10",
    "18 1RL",
    "0603RL",
];

/// Labels with everything a packet has.
const PACKETS: &[&str] = &[
    "1203RLST LOT 23A114 EXP 2027-08 MFG 2024-08-01 STERILE EO DO NOT REUSE 20 PCS",
    "0.30 3RL REF AB-1203 LOT 77X USE BY 2027-08-31 STERILE R",
];

const ELEMENTS: &[&str] = &[
    "]d20109521234543213172708311023A114",
    "]d201095212345432131023A114\u{1d}17270831",
    "]C10109521234543213172708311023A114\u{1d}21S0001",
    "]d20109521234543213172708001023A114",
    "]d20109521234543213712123456\u{1d}172708311023A114",
];

/// The best of five rounds, in readings a second.
fn rate(name: &str, texts: &[&str], mut read: impl FnMut(&str)) {
    let mut best = 0.0_f64;
    for _ in 0..5 {
        let begin = Instant::now();
        let first = on_processor(begin);
        let mut count = 0_u32;
        while on_processor(begin) - first < Duration::from_millis(300) {
            for _ in 0..100 {
                for text in texts {
                    read(black_box(text));
                    count += 1;
                }
            }
        }
        best = best.max(f64::from(count) / (on_processor(begin) - first).as_secs_f64());
    }
    println!("{name}: {best:.0} a second");
}

fn main() {
    let Ok(reader) = Reader::builtin() else { return };
    let as_of = date(2026, 11, 25);
    let text = |text: &str| {
        let printed = Printed { text: Some(text), symbol: None };
        black_box(reader.read(&printed, as_of, Policy::default()));
    };
    let symbol = |symbol: &str| {
        let printed = Printed { text: None, symbol: Some(symbol) };
        black_box(reader.read(&printed, as_of, Policy::default()));
    };
    rate("plain labels, whole readings", PLAIN, text);
    rate("clear labels, whole readings", &PLAIN[..14], text);
    rate("packets, whole readings", PACKETS, text);
    rate("GS1 element strings, parsed", ELEMENTS, |s| {
        black_box(reader.count_elements(s));
    });
    rate("GS1 symbols, whole readings", ELEMENTS, symbol);
}
