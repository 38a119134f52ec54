//! What happens after, on which day, and what cannot wait.
//!
//! | module | question it answers |
//! |---|---|
//! | [`plan`] | what does this client see, do and avoid, and when is it said? |
//! | [`milestones`] | when is the result judged, touched up, refreshed? |
//! | [`healing`] | how far is the skin? |
//! | [`triage`] | what is told: ordinary, or urgent? |
//! | [`review`] | how did it heal, and what is changed next time? |
//! | [`entries`] | which entries of a calendar is that? |
//! | [`calendar`] | how does a calendar reader see it? |
//! | [`pack`] | which steps does a studio add? |
//! | [`say`] | which words, in which language? |
//! | [`dating`] | which instant is nine o'clock where the client lives? |
//!
//! Most waiting times of this trade have no published source; each row of
//! `rules/aftercare/*.toml` says so itself. What can be computed rests on the
//! renewal time of the horny layer and on tattooed skin under the electron
//! microscope, and is marked as our inference where it goes further.
//!
//! No text gives a dose, and none tells anybody to stop a medicine.

pub mod calendar;
mod dated;
pub mod dating;
pub mod entries;
pub mod healing;
pub mod milestones;
pub mod pack;
pub mod plan;
pub mod review;
pub mod say;
pub mod triage;

mod client;
pub(crate) mod country;
pub(crate) mod parameters;
mod request;
pub(crate) mod rows;
pub(crate) mod texts;

pub use plan::{Plan, Plans, Step};
pub use request::{LONGEST_CALL, PlanError, Request};
pub use review::Reviews;
pub use triage::Triage;

#[cfg(test)]
mod tests;
