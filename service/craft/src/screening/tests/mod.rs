//! Tests over the whole rulebook.

mod input;
mod rules;
mod support;
