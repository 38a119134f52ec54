//! What a person reads of an answer, on one page.
//!
//! A check is long because it explains itself. Its short view
//! ([`Sheets::summary`]) has the verdict, for each of the two in words of her own,
//! at most four sentences for the client,
//! the studio's list with its days and three needles with a line each. It is the
//! whole truth in its few lines: what it has no room for is counted, is never
//! graver than what is said, and it never reads better than the check.
//!
//! Pages are HTML that needs nothing else: no script, no picture from
//! elsewhere, black on white, good on paper and on a phone. Everything that
//! comes from outside is escaped ([`crate::markup`]).
//!
//! | page | for | from |
//! |---|---|---|
//! | before the visit | client | a check |
//! | the visit | studio | a check |
//! | the day | studio | the checks of a day |
//! | aftercare | client | a plan |
//!
//! Sentences of check and plan stand as they were written; headings and words
//! of the frame lie in `rules/texts/sheet.*.toml`. A page is in one language:
//! that of the answer it is made of.

mod client;
mod page;
mod pages;
mod summary;
#[cfg(test)]
mod tests;
mod timeline;

use etui_schema::vocabulary::{Address, Effect, Language, Treatment, Verdict};

use crate::rules::RuleFault;
use crate::text::{Catalogue, du_file, texts};

/// Most sentences that a client is told in the short view, beside the outcome.
pub const CLIENT_MAX: usize = 4;
/// Most needles in the short view.
pub const NEEDLES_MAX: usize = 3;

/// The maker of short views and pages.
#[derive(Debug, Clone)]
pub struct Sheets {
    texts: Catalogue,
}

impl Sheets {
    /// With the words compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is faulty, or a treatment, an effect or a verdict
    /// has no word.
    pub fn builtin() -> Result<Self, RuleFault> {
        let treatments = Treatment::ALL.iter().map(|it| format!("treatment.{it}"));
        let effects = Effect::ALL.iter().map(|it| format!("effect.{it}"));
        let verdicts = Verdict::ALL.iter().map(|it| format!("verdict.{it}"));
        let keys = treatments.chain(effects).chain(verdicts);
        let keys = keys.chain(KEYS.iter().map(|it| (*it).to_owned()));
        Ok(Self { texts: texts!("sheet", keys)?.with_du(du_file!("sheet"))? })
    }

    /// The same in a studio's form of address.
    #[must_use]
    pub fn speaking(mut self, address: Address) -> Self {
        self.texts.speak(address);
        self
    }

    /// What an effect is called.
    #[must_use]
    pub fn effect(&self, effect: Effect, language: Language) -> &str {
        let key = format!("effect.{effect}");
        self.texts.find(language, &key).unwrap_or(effect.as_str())
    }

    fn word<'a>(&'a self, language: Language, key: &'a str) -> &'a str {
        self.texts.get(language, key)
    }
}

/// Words whose keys code puts together.
const KEYS: [&str; 21] = [
    "answer_by_short",
    "answer_late_short",
    "by_short",
    "days.step.clean_hands",
    "days.step.dressing",
    "days.step.no_acids",
    "days.step.no_alcohol",
    "days.step.no_contact_lenses",
    "days.step.no_face_down_sleep",
    "days.step.no_heavy_sweat",
    "days.step.no_hot_or_spicy",
    "days.step.no_lash_extensions",
    "days.step.no_makeup",
    "days.step.no_mascara",
    "days.step.no_picking",
    "days.step.no_sauna",
    "days.step.no_shampoo",
    "days.step.no_soaking",
    "days.step.no_sun",
    "days.step.no_swimming",
    "late_short",
];
