//! The reader of labels, against what the trade and the standards print; in one program, since linking
//! one for each room took longer than most of them run.

#![expect(clippy::unwrap_used, reason = "a test fails by its unwrap")]

mod any;
mod claims;
mod configurations;
mod damage;
mod dates_beside;
mod denials;
mod expiry_words;
mod findings;
#[path = "../../src/laws.rs"]
mod laws;
mod lots;
mod makers;
mod near;
mod noise;
mod notices;
mod packets;
mod packs;
mod phrases;
mod struck;
mod symbols;
mod traces;
mod until;
mod warnings;
mod words;

use std::sync::LazyLock;

use etui_craft::label::Reader;

/// Reading with what is built in alone.
static READER: LazyLock<Reader> = LazyLock::new(|| Reader::builtin().unwrap());
