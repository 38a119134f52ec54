//! Tests over the whole rulebook.

mod input;
mod laws;
mod materials;
mod packs;
mod rules;
mod scores;
mod support;
mod todos;
mod words;
