//! Held against published values, an exact chain, the simulator, and laws.

mod chain;
mod drills;
mod figures;
mod grades;
mod laws;
mod sheet;
mod standing;
mod way;

use std::sync::LazyLock;

use super::Training;
use crate::configuration::Model;
use crate::evidence::Register;
use crate::selection::Selector;

/// Loaded once for all tests.
static TRAINING: LazyLock<Training> =
    LazyLock::new(|| Training::builtin(&Register::builtin().unwrap()).unwrap());
static TOOLS: LazyLock<(Model, Selector)> = LazyLock::new(|| {
    let register = Register::builtin().unwrap();
    (Model::builtin().unwrap(), Selector::builtin(&register).unwrap())
});

fn training() -> &'static Training {
    &TRAINING
}

fn tools() -> (&'static Model, &'static Selector) {
    (&TOOLS.0, &TOOLS.1)
}

#[track_caller]
fn near(found: f64, want: f64, within: f64, case: &str) {
    assert!((found - want).abs() <= within, "{case}: {found} instead of {want}");
}
