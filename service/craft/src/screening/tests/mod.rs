//! Tests over the whole rulebook.

mod found;
mod ignorance;
mod input;
pub(crate) mod laws;
mod materials;
mod options;
mod pack_laws;
mod packs;
mod rested;
mod rules;
mod scores;
pub(crate) mod support;
mod todos;
mod words;
