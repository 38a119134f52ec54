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
//! | [`deliveries`] | events arrive signed, in order, and nowhere they may not |
//! | [`events`] | told in their order, followed as they happen, never anything of health |
//! | [`drift`] | `openapi/` is what this build makes |
//! | [`loss`] | kill -9 in the middle of writes: nothing acknowledged is lost, nothing is half |
//! | [`labels`] | what packets say |
//! | [`matrix`] | every operation × every way to ask wrongly |
//! | [`needle_selections`] | which needle, and why |
//! | [`nasty`] | hostile bytes: a clear refusal, and the service goes on |
//! | [`process`] | start, stop, kill |
//! | [`reminders`] | reminders: claimed once, forgotten never |
//! | [`screening`] | questions, assessments, skin typing |
//! | [`studio`] | drawer, treatments, recall, forgetting, the command line |
//! | [`writes`] | carried out once; only on the version that was seen; lists under writes |

mod aftercare;
mod client;
mod configurations;
mod deliveries;
mod docs;
mod document;
mod drift;
mod events;
mod labels;
mod loss;
mod matrix;
mod nasty;
mod needle_selections;
mod process;
mod reminders;
mod screening;
mod studio;
mod writes;
