//! The trade, computed.
//!
//! Everything here is a pure function of its arguments: no I/O, no clock, no
//! chance of its own, no async. *Today*, an `as_of`, a seed: they are passed
//! in. The only thing shared with the wire is its vocabulary
//! ([`etui_schema::vocabulary`]); requests and answers are not domain objects.
//!
//! | module | question it answers |
//! |---|---|
//! | [`evidence`] | where does this number come from? |
//! | [`rules`] | is this rule file sound, and does every row say where it comes from? |
//! | [`text`] | how do we say it, and in which language? |
//! | [`label`] | what does this packet say? |
//! | [`configuration`] | what does this configuration do in this skin? |
//! | [`selection`] | which one should she take, and why? |
//! | [`screening`] | may this skin be treated, when, under which conditions? |
//! | [`visit`] | what is gathered for a check, whose word counts, how fresh is it? |
//! | [`aftercare`] | what happens after, on which day, and what cannot wait? |
//! | [`refusal`] | what stands there against a request, for people? |
//! | [`guard`] | what may a studio's own sentence not say? |
//! | [`drawer`] | may packs of this lot be used today, and who settles what is open? |
//! | [`trauma`] | the skin shows damage: how far to stop, and what is gentler? |
//! | [`sheet`] | what does a person read of an answer, on one page? |
//! | [`hand`] | what do an artist's healed results say about her hand? |
//! | [`training`] | what was practised and signed off, is she ready, what does a drill ask? |
//!
//! Rule data lies in `rules/*.toml`, compiled in. It is loaded once, at the
//! start, by fallible loaders that refuse a rule without a known source.

pub mod aftercare;
pub mod configuration;
pub mod drawer;
pub mod evidence;
pub mod guard;
pub mod hand;
pub mod label;
#[cfg(test)]
mod laws;
mod markup;
pub mod refusal;
pub mod rules;
pub mod screening;
pub mod selection;
pub mod sheet;
pub mod text;
pub mod training;
pub mod trauma;
pub mod visit;
mod words;
