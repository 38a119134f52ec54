//! May this skin be treated, when, and under which conditions.
//!
//! Two layers that are never mixed. The **gate** ([`gate`]) evaluates rules:
//! each rule that speaks is a finding with a verdict, and the hardest verdict
//! wins. The **score** ([`score`]) adds points; it changes conditions, session
//! plan and follow-up, and can never turn a rule on or off.
//!
//! ```text
//!   rules/screening/*.toml ─┐                      answers, skin, days
//!   rules/texts/screening.* ├─► load ─► Rulebook ─────────┐
//!   a studio's pack ────────┘                             ▼
//!                              questions, form ◄── read ─► gate ─► Assessment
//!                                                          score      │
//!                                                 says, todo ◄────────┘
//! ```
//!
//! | module | what it answers |
//! |---|---|
//! | [`rulebook`] | which rules and questions are there? |
//! | [`question`], [`form`] | what is asked, why, and in which shape is it answered? |
//! | [`answers`] | what did the client say, and can it all be true? |
//! | [`gate`], [`outcome`] | which rules speak, and what do they come to? |
//! | [`country`] | what is law where? |
//! | [`score`] | how much care on top? |
//! | [`says`], [`mod@todo`] | what is told to whom, and by when is it done? |
//! | [`patch_test`], [`pigment`] | is the skin test good, may this bottle be used? |
//! | [`materials`] | what do test and bottles come to for an appointment? |
//! | [`phototype`], [`tone`], [`difference`] | what kind of skin is it? |
//! | [`wording`] | what may no sentence say? |
//!
//! A rule points to its sources *per field*: that a condition matters may be
//! law or study while its number of weeks is common practice. A studio's pack
//! adds or tightens rules through the same loader, and never loosens one.
//!
//! Nothing is asked about HIV, no sentence advises to change a medicine, and
//! race is not used: measured colour and the history of scars are.

pub mod age;
pub mod answers;
mod case;
mod clause;
pub mod country;
pub mod data;
pub mod difference;
pub mod faults;
pub mod form;
pub mod gate;
mod load;
mod load_keys;
mod load_question;
mod load_rule;
pub mod materials;
pub mod outcome;
pub mod patch_test;
pub mod period;
pub mod phototype;
pub mod pigment;
pub mod question;
mod refusals;
pub mod rule;
pub mod rulebook;
pub mod says;
pub mod score;
pub mod sentences;
mod tighten;
pub mod todo;
pub mod tone;
pub mod typing;
pub mod wording;

#[cfg(test)]
pub(crate) mod tests;
