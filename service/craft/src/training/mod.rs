//! Practice before a face: what a trainer signed, whether results propose that
//! she does, and what a drill asks.
//!
//! # Three things that are kept apart
//!
//! - **A person signs.** [`SignedOff`] is a trainer's word for one artist: a
//!   grouping, a count, a range of diameters, an effect, a site, a rung and a last
//!   day. Nothing else is covered by it. What holds on a day is the highest rung
//!   of all that cover the work ([`Training::held`]): one more sign-off never
//!   lowers it. What has ended, was taken back or is in doubt stands a rung lower,
//!   and goes on to fall as it ages; with what is taken back falls what was given for the same work before. What is not known of the work (a diameter,
//!   which of two sites) is not covered.
//! - **Results propose.** [`Training::progress`] is the learning-curve CUSUM: it
//!   begins with "not yet adequate" and says so until the results speak clearly
//!   against it. Whoever goes on trying passes any sequential test in the end, so
//!   the number of panels is limited, few of one day count, and a sheet that is
//!   not handed in counts as missed on the day for which it was made. Nobody can
//!   choose afterwards what counts: the day, the number of the sheet and of the
//!   panel are settled when it is printed. The state it comes to is
//!   `ready_to_sign`, and nothing more.
//! - **A drill asks.** [`Training::drills`] reckons targets out of the model of
//!   the needle: the width that a line will have, how fast the hand may go, how
//!   many passes a field takes, how even chance alone makes it. A grade says of
//!   each quantity what was asked and got. What was not measured is not met.
//!
//! A picture or a ruler sees nothing of depth, stretch and torn skin, and these
//! hurt people: three marks of a trainer belong to each panel.
//!
//! A picture of a sheet gives values for a grade ([`Training::reading`]); how it is
//! measured stands in `picture`.
//!
//! # What it does to a check
//!
//! For an `artist` nothing. For a `student` work that was never signed is a hold
//! ([`Demand::NotPractised`]); signed for practice skin or under an eye it needs a
//! named trainer in the room ([`Demand::UnderEye`]). Both are the trade's good
//! practice: no text says more than that. What the law of a place asks beside them comes
//! with a rules pack ([`Training::with_place`]).

mod code;
mod demand;
mod drills;
mod evenness;
mod grade;
mod line;
mod panels;
mod picture;
mod place;
mod progress;
mod progress_words;
mod reading;
mod reading_words;
mod reasons;
mod rules;
mod sheet;
mod shrink;
mod standing;
#[cfg(test)]
mod tests;
mod way;

pub use demand::Demand;
pub use drills::DrillError;
pub use evenness::chance_evenness;
pub use grade::{GradeError, lower, measurable};
pub use line::{Line, passes_to};
pub use picture::PictureError;
pub use place::{Confirmed, Counted, PLACE_RULE, Wanting};
pub use progress::{Attempt, Kept, Outcome, Practice, Progress, Sheet};
pub use reading::{Numbered as NumberedReading, ReadingError, Sheet as SheetOf};
pub(crate) use rules::Rules;
pub use sheet::{Numbered, SheetError};
pub use shrink::{Beta, Shrunk};
pub use standing::{Done, Held, SignedOff, Work};
pub use way::WayStep;

use etui_schema::vocabulary::{DrillKey, DrillLevel, Language, QuantityFault, SheetFault};
use jiff::Span;
use jiff::civil::Date;

use crate::evidence::Register;
use crate::rules::{RuleFault, load, rule_file};
use crate::text::{Catalogue, texts};

/// The rules of practice, ready to judge.
#[derive(Debug, Clone)]
pub struct Training {
    rules: Rules,
    texts: Catalogue,
    places: Vec<place::Place>,
}

impl Training {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a value lies outside its range, or a source or text is
    /// unknown.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let rules = load(register, rule_file!("training.toml"))?;
        let said = |drill| [format!("asks_{drill}"), format!("because_{drill}")];
        let drills = DrillKey::ALL.iter().flat_map(said);
        let levels = DrillLevel::ALL.iter().map(|level| format!("level_{level}"));
        let sheets = SheetFault::ALL.iter().map(|why| format!("cannot_{why}"));
        let quantities = QuantityFault::ALL.iter().map(|why| format!("cannot_{why}"));
        let left = ["asks_curved_strokes_left".to_owned()];
        let keys = Demand::keys().chain(drills).chain(levels).chain(sheets).chain(quantities);
        let texts = texts!("training", keys.chain(left))?;
        Ok(Self { rules, texts, places: Vec::new() })
    }

    /// The last day that a sign-off given on a day may have.
    #[must_use]
    pub fn latest_end(&self, given_on: Date) -> Date {
        let months = self.rules.sign_off.longest_months.value;
        given_on.saturating_add(Span::new().months(i64::from(months)))
    }

    fn fill(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        self.texts.fill(language, key, values)
    }
}
