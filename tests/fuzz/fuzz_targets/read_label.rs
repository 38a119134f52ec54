//! Any text and any symbol: no panic, certainties between 0 and 1, best first.

#![no_main]

use std::sync::LazyLock;

use etui_craft::label::{Policy, Printed, Reader};
use jiff::civil::date;
use libfuzzer_sys::fuzz_target;

static READER: LazyLock<Reader> = LazyLock::new(|| Reader::builtin().expect("sound tables"));

fuzz_target!(|bytes: &[u8]| {
    let whole = String::from_utf8_lossy(bytes);
    // What stands behind the first line feed is the symbol.
    let (text, symbol) = match whole.split_once('\n') {
        Some((text, symbol)) => (Some(text), Some(symbol)),
        None => (Some(&*whole), None),
    };
    let reading = READER.read(&Printed { text, symbol }, date(2026, 11, 25), Policy::default());
    let certainties: Vec<f64> = reading.candidates.iter().map(|c| c.certainty).collect();
    assert!(certainties.iter().all(|c| (0.0..=1.0).contains(c)));
    assert!(certainties.is_sorted_by(|a, b| a >= b));
});
