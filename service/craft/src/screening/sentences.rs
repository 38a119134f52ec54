//! Every sentence of the screening, built in or from packs, and the small
//! grammar that puts dates, periods and numbers into them.
//!
//! | key | what it is |
//! |---|---|
//! | `question.<id>.ask`, `.why` | the question, and why it is asked |
//! | `question.<id>.topic` | what it is about, in a word or two; names it where its answer has changed |
//! | `option.<question>.<option>` | the label of an option |
//! | `rule.<id>.because` | why a finding stands there |
//! | `rule.<id>.say` | what to do or to know |
//! | `rule.<id>.by` | what the client can still do in time |
//! | `rule.<id>.beside` | instead of `say`, if something without a day is open beside it |
//! | `rule.<id>.dated` | instead of `say`, if the day is known on which its period begins |
//! | `rule.<id>.late` | instead of `say`, if its latest day is past |
//! | `rule.<id>.stays` | what stays to be done once a wait has passed |
//! | `rule.<id>.topic` | what it is about, in a word or two; opens its lines on the list |
//! | `rule.<id>.client`, `.studio` | its line on the list, for the one or the other |
//! | any of these, a referral's too, with `.short` | the same for the client in one sentence, where it has several |
//! | `until.<id>` | the event a hold waits for |
//! | `until.<id>.dated` | the same, if a day is known too |
//! | `whom.<id>` | whom to ask |
//! | `refer.<id>` | the sentence of a referral to that person, instead of the usual one |
//!
//! Places of a rule's sentences: its values, `{due}`, `{date}` (the day that it
//! tells, or not before which it is), `{from}` (from that day on, or not before it if more is open),
//! `{period}` and `{period_dative}`, in a short form `{until}`, `{whom}` and `{whom_accusative}` (`whom.<id>.accusative`, where
//! it differs).

use etui_schema::vocabulary::Language;

use super::period::{Period, Unit};
use crate::text::Catalogue;

impl Catalogue {
    /// A period in words: `6 months`, `2 weeks`; in German as a subject,
    /// `6 Monate`.
    #[must_use]
    pub fn period(&self, language: Language, period: Period) -> String {
        self.period_in(language, period, "")
    }

    /// A period in words as it stands after a preposition: `6 months`, in
    /// German `6 Monaten`.
    #[must_use]
    pub fn period_dative(&self, language: Language, period: Period) -> String {
        self.period_in(language, period, ".dative")
    }

    fn period_in(&self, language: Language, period: Period, case: &str) -> String {
        let words: Vec<String> = period
            .spoken()
            .map(|(number, unit)| {
                let key = match unit {
                    Unit::Months => "period.months",
                    Unit::Weeks => "period.weeks",
                    Unit::Days => "period.days",
                };
                self.fill(language, &format!("{key}{case}"), &[("n", &number.to_string())])
            })
            .collect();
        words.join(self.get(language, "period.and"))
    }

    /// Somebody to ask, as the object of a sentence; where that is the same as
    /// the subject, there is no text of its own.
    #[must_use]
    pub fn accusative(&self, language: Language, whom: &str) -> String {
        let key = format!("{whom}.accusative");
        if self.has(&key) {
            self.get(language, &key).to_owned()
        } else {
            self.get(language, whom).to_owned()
        }
    }
}
