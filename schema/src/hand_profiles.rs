//! Hand profiles: what an artist's own healed results say about her hand, and in a
//! choice of needles.

use crate::kinds::{sent, told};
use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::{Effect, Instant, Reference, Treatment, words};

words! {
    /// How a group of results stands to the rest of the same artist's work.
    Standing, "standing" {
        /// It held less often.
        Below = "below",
        /// No difference can be shown.
        Alike = "alike",
        /// It held more often.
        Above = "above",
    }
}

/// What the healed results say.
#[told]
pub struct HandProfile {
    /// The artist.
    pub artist_ref: Reference,
    /// How many healed results were counted.
    pub results: u32,
    /// Results of clients who were forgotten; they are not counted.
    pub forgotten: u32,
    /// When the oldest counted result was looked at.
    pub from: Option<Instant>,
    /// When the newest was.
    pub until: Option<Instant>,
    /// Whether there are more results than are counted; the newest are.
    pub cut_short: bool,
    /// Below so many results nothing is said of a share.
    pub fewest: u32,
    /// All work, then treatments with effects, then configurations.
    pub groups: Vec<HandGroup>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// Results that have something in common. Without treatment and configuration
/// it is all work.
#[told]
pub struct HandGroup {
    /// The treatment.
    pub treatment: Option<Treatment>,
    /// Its effect.
    pub effect: Option<Effect>,
    /// The configuration, in canonical text.
    pub configuration: Option<String>,
    /// How many healed results it has.
    pub results: u32,
    /// Judged parts that kept three quarters of their colour, of all that were judged.
    pub held: Tally,
    /// The share of a result that held, on average, with a 95 % interval; a result
    /// counts the same whether it was judged whole or in parts. Absent if there are
    /// too few results.
    pub held_share: Option<Share>,
    /// Of a student, whose results are few: the share drawn towards that of the whole
    /// studio, with a 95 % interval. Absent for others, and where the studio has too few
    /// results itself.
    pub drawn_share: Option<Share>,
    /// Results on skin that was hurt, of those where it was said.
    pub hurt: Tally,
    /// Against the rest of the work; absent if there is too little of either.
    pub against_rest: Option<AgainstRest>,
    /// Whether there are too few results to say anything of a share.
    pub too_few: bool,
    /// The same in words.
    pub text: String,
}

/// How many of how many.
#[told(Copy, Eq)]
pub struct Tally {
    /// So many.
    pub count: u32,
    /// Of so many.
    pub of: u32,
}

/// A share and its interval, 0 to 1.
#[told(Copy)]
pub struct Share {
    /// The share.
    pub share: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

/// The share of a group less the share of the rest, −1 to 1.
#[told]
pub struct AgainstRest {
    /// How it stands.
    pub standing: Open<Standing>,
    /// Lower end of the difference's interval.
    pub low: f64,
    /// Upper end of the difference's interval.
    pub high: f64,
}

/// Whose results are asked about, and how much they weigh.
#[sent(free)]
pub struct OwnResultsAsked {
    /// The artist.
    pub artist_ref: Reference,
    /// Their weight beside those of the five questions, 0 to 1; 0.5 if absent, half of what
    /// the hand weighs. With 0 they are told and move nothing.
    #[garde(range(min = 0.0, max = 1.0))]
    pub weight: Option<f64>,
}

/// An artist's own healed results of this treatment and effect. They move the order
/// alone: nothing is set aside for them or brought back, and cautions, depth and
/// passes are the same without them.
#[told]
pub struct OwnResults {
    /// The artist.
    pub artist_ref: Reference,
    /// What they weigh beside the five questions.
    pub weight: f64,
    /// How many were counted.
    pub results: u32,
    /// Results of clients who were forgotten; they speak for no needle.
    pub forgotten: u32,
    /// The mean share of a result that held, one on hurt skin counted as not; absent if there
    /// are too few results, and then they move nothing.
    pub share: Option<f64>,
    /// The same in words.
    pub because: String,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// What an artist's own healed results say of one needle.
#[told]
pub struct OwnNeedleResults {
    /// What counts of them, above 0, up to 1: the end of the interval nearer to her work of
    /// this kind, or that itself where the interval reaches over it or there are no results.
    pub desirability: f64,
    /// How many there are with this grouping and count, and about this diameter.
    pub results: u32,
    /// How many cannot speak for the needle, for want of something that was not told; those
    /// of forgotten clients are not among them.
    pub silent: u32,
    /// The share that held, drawn towards all her work of this kind, with a 95 % interval
    /// whose lower end takes what is not known as not held. Absent without results.
    pub held_share: Option<Share>,
    /// How it stands to all her work of this kind. Absent without results.
    pub standing: Option<Open<Standing>>,
    /// The same in words.
    pub because: String,
}
