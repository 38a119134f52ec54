//! The puncture pattern: a seeded simulation of the dots that remain.
//!
//! The hand moves along a straight stroke, a curved hair stroke, or over an
//! area; every `1/f` seconds the needle comes down once. Along a stroke the
//! hand runs ahead and falls back around its mean pace, wanders sideways and
//! turns the group a little. Over an area it moves in small circles: after a
//! pass the places where it came down are spread evenly at random, which is
//! what the Boolean model of coverage assumes.
//!
//! Each tip that reaches the skin leaves a round mark: its hole grown by the
//! parameter `mark_growth_mm`. Marks of a hair stroke get smaller where the
//! hand lifts off at its end.
//!
//! Nothing published describes the jitter of an artist's hand; [`Jitter`] is a
//! set of ranged assumptions. Same seed, same pattern, on every machine
//! ([`Chance`]).

mod chance;
mod request;
mod simulate;
mod statistics;

pub use chance::{Chance, sine_cosine};
pub use request::{Ground, Jitter, PUNCTURES_MAX, PatternError, PatternRequest};
pub use simulate::{Dot, Pattern, Place};
pub use statistics::{Against, Spacing, Statistics};
