//! What is said of lots that a choice passes over.

use etui_schema::vocabulary::Language;
use etui_schema::vocabulary::chair::{LotQuestion, LotState};
use jiff::civil::Date;

use super::standing::Standing;
use crate::rules::RuleFault;
use crate::text::{self, Catalogue, texts};

/// The sentences of the drawer (`rules/texts/drawer.*.toml`).
#[derive(Debug, Clone)]
pub struct Sentences(Catalogue);

/// The codes of all that may want a second look about a treatment.
pub const FLAGS: &[&str] = &[
    "age_not_known",
    "under_18",
    "check_unknown",
    "no_check",
    "check_of_another_client",
    "check_of_another_treatment",
    "check_of_another_day",
    "check_said_hold",
    "check_said_refer",
    "check_said_decline",
    "check_said_incomplete",
    "pigment_unknown",
    "pigment_expiry_unknown",
    "statement_unknown",
    "pigment_expired",
    "statement_missing",
    "pack_expiry_unknown",
    "pack_sterility_unknown",
    "pack_configuration_open",
    "pack_to_be_confirmed",
    "lot_code_unknown",
    "lot_code_shared",
    "pack_expired",
    "used_although_recalled",
    "used_although_expired",
    "used_although_held",
    "used_although_damaged",
];

impl Sentences {
    /// The sentences compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is faulty or a sentence is missing.
    pub fn builtin() -> Result<Self, RuleFault> {
        let questions = LotQuestion::ALL.iter().map(|question| question_key(*question));
        texts!("drawer", FLAGS.iter().map(|code| flag_key(code)).chain(questions)).map(Self)
    }

    /// What a flag of a treatment says; one of [`FLAGS`].
    #[must_use]
    pub fn flag(&self, language: Language, code: &str) -> String {
        self.0.fill(language, &flag_key(code), &[])
    }

    /// Why a lot that would suit is passed over; none if it may be used on the
    /// day asked about. What ends before that day need not be over `today`.
    #[must_use]
    pub fn passed(
        &self,
        language: Language,
        canonical: &str,
        standing: &Standing,
        (expires_on, today): (Option<Date>, Date),
    ) -> Option<String> {
        let key = match standing.state {
            LotState::Usable => return None,
            LotState::Expired if expires_on.is_some_and(|day| today <= day) => "passed.ends",
            LotState::Expired => "passed.expired",
            LotState::Held if standing.questions.is_empty() => "passed.unfit",
            LotState::Held => "passed.held",
            LotState::Recalled => "passed.recalled",
            LotState::Empty => "passed.empty",
        };
        let day = expires_on.map_or_else(String::new, |day| text::day(language, day));
        let open = |question: &LotQuestion| self.0.fill(language, &question_key(*question), &[]);
        let open = standing.questions.iter().map(open).collect::<Vec<_>>().join(", ");
        let values = [("canonical", canonical), ("day", day.as_str()), ("open", &open)];
        Some(self.0.fill(language, key, &values))
    }

    /// What is said where nothing is left to choose from: nothing that may be
    /// used, or nothing that suits.
    #[must_use]
    pub fn nothing(&self, language: Language, usable: bool) -> String {
        let key = if usable { "nothing.suits" } else { "nothing.usable" };
        self.0.get(language, key).to_owned()
    }
}

fn flag_key(code: &str) -> String {
    format!("flag.{code}")
}

/// The key of what a question asks for.
fn question_key(question: LotQuestion) -> String {
    format!("question.{question}")
}
