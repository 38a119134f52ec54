//! What is said of lots that a choice passes over.

use etui_schema::vocabulary::Language;
use etui_schema::vocabulary::chair::{LotQuestion, LotState};
use jiff::civil::Date;

use super::beside::is_of_code;
use super::standing::{CODE_HELD, EXPIRY_DIFFERS, HELD_BY_HAND, Standing, question};
use crate::label::FitnessReason;
use crate::rules::RuleFault;
use crate::text::{self, Catalogue, texts};
use crate::words::words;

/// The sentences of the drawer (`rules/texts/drawer.*.toml`).
#[derive(Debug, Clone)]
pub struct Sentences(Catalogue);

words! {
    /// What may want a second look about a treatment.
    FlagCode {
        /// The client's age is not known.
        AgeNotKnown = "age_not_known",
        /// She was not of age.
        Under18 = "under_18",
        /// The check that is named cannot be read.
        CheckUnknown = "check_unknown",
        /// There was no check.
        NoCheck = "no_check",
        /// The check was another client's.
        CheckOfAnotherClient = "check_of_another_client",
        /// The check was for another treatment.
        CheckOfAnotherTreatment = "check_of_another_treatment",
        /// The check was for another day.
        CheckOfAnotherDay = "check_of_another_day",
        /// The check was for another artist.
        CheckOfAnotherArtist = "check_of_another_artist",
        /// The check was for another effect, or none was recorded.
        CheckOfAnotherEffect = "check_of_another_effect",
        /// Work on the area was stopped for that day before.
        StoppedThatDay = "stopped_that_day",
        /// The check was made after it.
        CheckMadeAfter = "check_made_after",
        /// What was on record by then stood against it.
        CheckOvertaken = "check_overtaken",
        /// What was on record by then stood against it, and no check of hers was made for it.
        OnRecordAgainst = "on_record_against",
        /// The check said to wait.
        CheckSaidHold = "check_said_hold",
        /// The check asked for a doctor.
        CheckSaidRefer = "check_said_refer",
        /// The check said no.
        CheckSaidDecline = "check_said_decline",
        /// The check lacked answers.
        CheckSaidIncomplete = "check_said_incomplete",
        /// No pigment was named.
        PigmentUnknown = "pigment_unknown",
        /// Until when a pigment may be used is not known.
        PigmentExpiryUnknown = "pigment_expiry_unknown",
        /// Whether a pigment's statement was seen is not known.
        StatementUnknown = "statement_unknown",
        /// A pigment was past its day.
        PigmentExpired = "pigment_expired",
        /// A pigment's statement was missing.
        StatementMissing = "statement_missing",
        /// Until when a pack may be used is not known.
        PackExpiryUnknown = "pack_expiry_unknown",
        /// Whether a pack is sterile is not known.
        PackSterilityUnknown = "pack_sterility_unknown",
        /// What a pack holds is open.
        PackConfigurationOpen = "pack_configuration_open",
        /// Somebody has to confirm a pack.
        PackToBeConfirmed = "pack_to_be_confirmed",
        /// A pack was used on a site that is not the treatment's.
        PackOfAnotherSite = "pack_of_another_site",
        /// Every pack was struck.
        NoPackLeft = "no_pack_left",
        /// A lot has no code.
        LotCodeUnknown = "lot_code_unknown",
        /// Another lot has the same code.
        LotCodeShared = "lot_code_shared",
        /// A pack was past its day.
        PackExpired = "pack_expired",
        /// A pack was used that was called back.
        UsedAlthoughRecalled = "used_although_recalled",
        /// A pack was used past its day.
        UsedAlthoughExpired = "used_although_expired",
        /// A pack was used that was held.
        UsedAlthoughHeld = "used_although_held",
        /// A pack was used that was damaged.
        UsedAlthoughDamaged = "used_although_damaged",
        /// A pack was used whose own label forbids it.
        UsedAlthoughForbidden = "used_although_forbidden",
        /// A pack lies in another branch.
        PackOfAnotherBranch = "pack_of_another_branch",
        /// The check was for another branch.
        CheckOfAnotherBranch = "check_of_another_branch",
        /// The packs say in which branch it was done, and the artist is of another.
        ArtistOfAnotherBranch = "artist_of_another_branch",
        /// Nothing says in which branch it was done.
        BranchUnassigned = "branch_unassigned",
    }
}

impl Sentences {
    /// The sentences compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is faulty or a sentence is missing.
    pub fn builtin() -> Result<Self, RuleFault> {
        let questions = LotQuestion::ALL.iter().map(|question| question_key(*question));
        let label = FitnessReason::ALL.iter().map(|reason| reason.as_str());
        let held = label.chain([HELD_BY_HAND]).filter(|why| is_of_code(why)).map(held_key);
        let flags = FlagCode::ALL.iter().map(|code| flag_key(code.as_str()));
        texts!("drawer", flags.chain(questions).chain(held)).map(Self)
    }

    /// What a flag of a treatment says; one of [`FlagCode`].
    #[must_use]
    pub fn flag(&self, language: Language, code: &str) -> String {
        self.0.fill(language, &flag_key(code), &[])
    }

    /// Why a lot that would suit is passed over; none if it may be used on the
    /// day asked about. What ends before that day need not be over `today`; `beside` are the reason
    /// and the day of what keeps others of its code out of use.
    #[must_use]
    pub fn passed(
        &self,
        language: Language,
        canonical: &str,
        (standing, beside): (&Standing, Option<(&str, Date)>),
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
        let mut asked: Vec<_> =
            standing.reasons.iter().filter_map(|why| Some((question(why)?, &**why))).collect();
        asked.sort_by_key(|(question, _)| *question);
        let mut open: Vec<String> =
            asked.into_iter().map(|asked| self.asks(language, asked, beside)).collect();
        open.dedup();
        let open = open.join(", ");
        let values = [("canonical", canonical), ("day", day.as_str()), ("open", &open)];
        Some(self.0.fill(language, key, &values))
    }

    /// What a person who looks at the packs is to find out.
    fn asks(
        &self,
        language: Language,
        (question, why): (LotQuestion, &str),
        beside: Option<(&str, Date)>,
    ) -> String {
        match (why, beside) {
            (EXPIRY_DIFFERS, _) => self.0.fill(language, "question.expiry_differs", &[]),
            (CODE_HELD, None) => self.0.fill(language, "question.code_held", &[]),
            (CODE_HELD, Some((held, on))) => {
                let held = self.0.fill(language, &held_key(held), &[]);
                let values = [("why", &*held), ("day", &text::day(language, on))];
                self.0.fill(language, "question.code_held_for", &values)
            }
            _ => self.0.fill(language, &question_key(question), &[]),
        }
    }

    /// That a lot that would suit lies in another branch, or that nobody said in which.
    #[must_use]
    pub fn elsewhere(&self, language: Language, canonical: &str, branch: Option<&str>) -> String {
        let key = if branch.is_some() { "passed.elsewhere" } else { "passed.unassigned" };
        let values = [("canonical", canonical), ("branch", branch.unwrap_or_default())];
        self.0.fill(language, key, &values)
    }

    /// What is said where nothing is left to choose from: nothing that may be
    /// used, or nothing that suits.
    #[must_use]
    pub fn nothing(&self, language: Language, usable: bool) -> String {
        let key = if usable { "nothing.suits" } else { "nothing.usable" };
        self.0.get(language, key).to_owned()
    }

    /// What is said of a recall notice: how many lots it may mean but for a serial number, and where no
    /// lot has its code, what is to be compared, what became of packs without a code, and that the
    /// notice is kept if it is.
    #[must_use]
    pub fn recalled(
        &self,
        language: Language,
        (is_there, near): (bool, usize),
        (uncoded_taken, uncoded_held): (bool, bool),
        is_kept: bool,
    ) -> Option<String> {
        let keys = [
            (!is_there, "recalled.nothing"),
            (0 < near, "recalled.near"),
            (!is_there && uncoded_taken, "recalled.uncoded"),
            (!is_there && uncoded_held, "recalled.held"),
            (!is_there && is_kept, "recalled.kept"),
        ];
        let near = near.to_string();
        let said = keys.into_iter().filter(|(holds, _)| *holds);
        let said: Vec<String> =
            said.map(|(_, key)| self.0.fill(language, key, &[("n", &near)])).collect();
        (!said.is_empty()).then(|| said.join(" "))
    }
}

fn flag_key(code: &str) -> String {
    format!("flag.{code}")
}

/// The key of what keeps other packs of a code out of use.
fn held_key(why: &str) -> String {
    format!("held.{why}")
}

/// The key of what a question asks for.
fn question_key(question: LotQuestion) -> String {
    format!("question.{question}")
}
