//! Every word and body that travels over the etui interface.
//!
//! This crate computes nothing and touches nothing: it holds the trade's
//! vocabulary ([`vocabulary`]) and, one file a resource, the requests and
//! answers of the HTTP interface, with their limits (garde) and their JSON
//! Schemas ([`describe`]). A limit is written once, beside the field it limits. What
//! is called with them is a line in [`endpoints`], what is added to a treatment a row of [`mod@entries`],
//! and [`places`] tells where in a text something lies that cannot be read.
//!
//! What is absent on purpose: domain logic, clocks, randomness, I/O, any name
//! of a web framework or of a store.

pub mod access;
pub mod aftercare_plans;
pub mod answers;
pub mod appointment_checks;
pub mod artists;
pub mod backups;
pub mod branches;
pub mod calendars;
pub mod check_materials;
pub mod clients;
pub mod configuration_comparisons;
pub mod configuration_drawings;
pub mod deliveries;
pub mod describe;
pub mod dossiers;
pub mod drills;
pub mod dry_runs;
pub mod endpoints;
pub mod entries;
pub mod events;
pub mod hand_profiles;
pub mod kinds;
pub mod label_readings;
pub mod lots;
pub mod machines;
pub mod merge_patch;
pub mod needle_selections;
pub mod open;
pub mod packs;
pub mod page;
pub mod places;
pub mod plugins;
pub mod practice_sheets;
pub mod problem;
pub mod puncture_patterns;
pub mod recalls;
pub mod reminders;
pub mod retention;
pub mod screening_questions;
pub mod service;
pub mod sheet_readings;
pub mod sheets;
pub mod short;
pub mod sign_offs;
pub mod skin_assessments;
pub mod skin_typing;
pub mod subscriptions;
pub mod symptom_reports;
pub mod treatments;
pub mod vocabulary;
mod words;
pub mod written;

pub use entries::*;
