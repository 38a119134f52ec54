//! The service from outside: over HTTP, on port 0, with its data in a
//! temporary folder. One program for all of it, so that it is linked once.
//!
//! | module | what it holds the service to |
//! |---|---|
//! | [`aftercare`] | plans and symptom reports |
//! | [`client`] | the client crate: typed calls, what it repeats and what not |
//! | [`docs`] | the page to read and try: whole, and nothing from elsewhere |
//! | [`configurations`] | comparisons, drawings, puncture patterns |
//! | [`document`] | the OpenAPI document is whole, and the service does what it says |
//! | [`drift`] | `openapi/` is what this build makes |
//! | [`loss`] | kill -9 in the middle of writes: nothing acknowledged is lost, nothing is half |
//! | [`labels`] | what packets say |
//! | [`matrix`] | every operation × every way to ask wrongly |
//! | [`needle_selections`] | which needle, and why |
//! | [`nasty`] | hostile bytes: a clear refusal, and the service goes on |
//! | [`plugin_tokens`] | the life of a plug-in's token: made, used, rotated, ended, revoked, moved |
//! | [`plugins`] | plug-ins: what their tokens open, how often, what they did |
//! | [`process`] | start, stop, kill |
//! | [`reminders`] | reminders: claimed once, forgotten never |
//! | [`screening`] | questions, assessments, skin typing |
//! | [`security`] | strangers: tokens, names, paths, bodies and clients that mean harm |
//! | [`studio`] | drawer, treatments, recall, forgetting, the command line |
//! | [`writes`] | carried out once; only on the version that was seen; lists under writes |

mod aftercare;
mod client;
mod configurations;
mod docs;
mod document;
mod drift;
mod labels;
mod loss;
mod matrix;
mod nasty;
mod needle_selections;
mod plugin_tokens;
mod plugins;
mod process;
mod reminders;
mod screening;
mod security;
mod studio;
mod writes;
