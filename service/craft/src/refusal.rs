//! What people at the chair read when they are refused for what stands there.
//!
//! A refusal of the interface has a code and a message for whoever wrote the program. Where not the
//! program is at fault but what it was used on (a lot is recalled, a client erased, somebody was
//! faster), it means a [`Refusal`] as well, which is said to whoever stands before the screen, in
//! `rules/texts/refusal.<language>.toml`: what is wrong, and what to do.

use etui_schema::problem::Meaning;
use etui_schema::vocabulary::{CivilDate, Language};
use jiff::civil::Date;

use crate::rules::RuleFault;
use crate::text::{Catalogue, day, texts};
use crate::words::words;

words! {
    /// What stands against a request, for people. `n` and `day` in its description fill its places.
    Refusal {
        /// What was looked for is not here, or not any more.
        NotHere = "not_here",
        /// There is no such client, or not any more.
        ClientNotHere = "client_not_here",
        /// It was done, and its record erased since.
        Erased = "erased",
        /// Somebody was faster.
        Changed = "changed",
        /// The service is not there at the moment.
        Later = "later",
        /// Whether it was kept is not known.
        OutcomeOpen = "outcome_open",
        /// The disk is full.
        NoSpace = "no_space",
        /// The clock is in doubt.
        Clock = "clock",
        /// A moment that has not come yet.
        InFuture = "in_future",
        /// A moment before the birth.
        BeforeBirth = "before_birth",
        /// A birth that has not come yet.
        BornInFuture = "born_in_future",
        /// A birth too long ago.
        BornTooEarly = "born_too_early",
        /// No date of birth.
        BornMissing = "born_missing",
        /// Two dates of birth.
        BornOtherwise = "born_otherwise",
        /// An age that is not that of the birth.
        AgeOtherwise = "age_otherwise",
        /// A skin test read before it was made.
        SkinTestOrder = "skin_test_order",
        /// A lot that is not in the drawer.
        LotUnknown = "lot_unknown",
        /// Fewer packs than wanted, `n`.
        LotShort = "lot_short",
        /// A lot that was called back.
        LotRecalled = "lot_recalled",
        /// A lot past its `day`.
        LotExpired = "lot_expired",
        /// A lot that is kept aside.
        LotHeld = "lot_held",
        /// A lot that nobody may release.
        LotNever = "lot_never",
        /// A lot of which something is open.
        LotOpen = "lot_open",
        /// Packs that nobody who is named has looked at.
        LotName = "lot_name",
        /// A day later than `day` on the label.
        LotPrinted = "lot_printed",
        /// A day later than `day`, until which no pack lasts.
        LotTooLong = "lot_too_long",
        /// What the label clearly says otherwise.
        LotOtherwise = "lot_otherwise",
        /// What is no whole code of a lot.
        LotNoCode = "lot_no_code",
        /// Fewer packs than are taken off, `n`.
        LotCount = "lot_count",
        /// A damaged pack.
        PackDamaged = "pack_damaged",
        /// A pack that was used before.
        PackUsed = "pack_used",
        /// A pack of another lot.
        PackDiffers = "pack_differs",
        /// A pack whose label forbids it.
        PackForbidden = "pack_forbidden",
        /// A pack that was struck.
        PackStruck = "pack_struck",
        /// A record whose packs were all struck.
        NoPackLeft = "no_pack_left",
        /// A recall of several codes at once.
        RecallOneCode = "recall_one_code",
        /// Work of somebody else.
        OnlyOwn = "only_own",
        /// Work of artists that the caller's token does not reach.
        OnlySome = "only_some",
        /// What the owner says.
        OwnerOnly = "owner_only",
        /// An artist that is not kept.
        ArtistUnknown = "artist_unknown",
        /// A machine that is not kept.
        MachineUnknown = "machine_unknown",
        /// The name of somebody who was removed.
        ArtistRemoved = "artist_removed",
        /// A name too like another.
        ArtistAlike = "artist_alike",
        /// A student as a trainer.
        StudentNoTrainer = "student_no_trainer",
        /// Who signs for herself.
        SignsHerself = "signs_herself",
        /// What takes a trainer.
        NeedsTrainer = "needs_trainer",
        /// A trainer too new for the law.
        TrainerTooNew = "trainer_too_new",
        /// Practice that the law wants.
        LawWantsMore = "law_wants_more",
        /// What nobody answers for.
        LawStands = "law_stands",
        /// A sign-off past its last `day`.
        SignOffUntil = "sign_off_until",
        /// A sign-off that was taken back.
        SignOffWithdrawn = "sign_off_withdrawn",
        /// A sheet that was handed in.
        SheetHandedIn = "sheet_handed_in",
        /// A sheet that was marked.
        SheetMarked = "sheet_marked",
        /// A sheet past its `day`.
        SheetLate = "sheet_late",
        /// A sheet with too many pictures.
        SheetPictures = "sheet_pictures",
        /// A sheet of which nothing was handed in.
        SheetEmpty = "sheet_empty",
        /// A picture of another sheet.
        SheetOther = "sheet_other",
        /// A picture whose code cannot be read.
        SheetUnread = "sheet_unread",
        /// An answer older than that of `day`.
        AnswerOlder = "answer_older",
        /// What went on after `day`.
        GoesOn = "goes_on",
        /// Trauma that was recorded.
        TraumaRecorded = "trauma_recorded",
        /// What is of another session.
        OtherSession = "other_session",
        /// A report that was settled.
        ReportSettled = "report_settled",
    }
}

impl From<Refusal> for Meaning {
    fn from(refusal: Refusal) -> Self {
        Self { key: refusal.as_str(), count: None, day: None }
    }
}

impl Refusal {
    /// With how many.
    #[must_use]
    pub fn count(self, n: u32) -> Meaning {
        Meaning { count: Some(n), ..self.into() }
    }

    /// With a day.
    #[must_use]
    pub fn of_day(self, day: Date) -> Meaning {
        Meaning { day: Some(CivilDate(day)), ..self.into() }
    }
}

/// The sentences.
#[derive(Debug, Clone)]
pub struct Refusals(Catalogue);

impl Refusals {
    /// With the words compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is faulty or a refusal has no sentence.
    pub fn builtin() -> Result<Self, RuleFault> {
        texts!("refusal", Refusal::ALL.iter().map(|one| one.as_str())).map(Self)
    }

    /// What a meaning says to people.
    ///
    /// ```
    /// use etui_craft::refusal::{Refusal, Refusals};
    /// use etui_schema::vocabulary::Language;
    /// let said = Refusals::builtin().unwrap().says(&Refusal::LotShort.count(1), Language::En);
    /// assert!(said.starts_with("The drawer counts one pack of this lot"));
    /// ```
    #[must_use]
    pub fn says(&self, meaning: &Meaning, language: Language) -> String {
        let count = meaning.count.map(|n| n.to_string());
        let day = meaning.day.map(|it| day(language, it.0));
        let places = [("n", &count), ("day", &day)];
        let told = places.iter().filter_map(|(place, value)| Some((*place, value.as_deref()?)));
        self.0.fill(language, meaning.key, &told.collect::<Vec<_>>())
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::text::places;
    use crate::text::tests::literals::sources;

    /// A sentence has the places that its description names, and somebody says it.
    #[test]
    fn every_refusal_is_said_with_what_fills_it() {
        let refusals = Refusals::builtin().unwrap();
        let mut paths = Vec::new();
        sources(Path::new(env!("CARGO_MANIFEST_DIR")).join("../src"), &mut paths);
        let code: String =
            paths.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect();
        let code: String = code.split_whitespace().collect();
        for refusal in Refusal::ALL {
            let named = format!("Refusal::{refusal:?}");
            let ends = |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric());
            let mut uses = code.match_indices(&*named).map(|(at, _)| &code[at + named.len()..]);
            let places = places(refusals.0.get(Language::En, refusal.as_str()));
            let with = places.iter().map(|place| match *place {
                "n" => ".count(",
                "day" => ".of_day(",
                other => panic!("{refusal}: nothing fills `{other}`"),
            });
            let with: Vec<&str> = with.collect();
            let fits = |rest: &str| match with[..] {
                [] => !rest.starts_with(".count(") && !rest.starts_with(".of_day("),
                _ => with.iter().any(|with| rest.starts_with(with)),
            };
            let said = uses.by_ref().filter(|rest| ends(rest)).collect::<Vec<_>>();
            assert!(!said.is_empty(), "nobody says {refusal}");
            assert!(
                said.iter().all(|rest| fits(rest)),
                "{refusal} is filled otherwise than it is written"
            );
        }
    }

    #[test]
    fn refusals_are_said_in_the_language() {
        let refusals = Refusals::builtin().unwrap();
        let day = jiff::civil::date(2027, 3, 1);
        for (meaning, language, said) in [
            (Refusal::LotExpired.of_day(day), Language::En, "on 1 March 2027."),
            (Refusal::LotExpired.of_day(day), Language::De, "am 1. März 2027 abgelaufen."),
            (Refusal::LotShort.count(0), Language::De, "liegen 0 Packungen"),
            (Refusal::LotShort.count(1), Language::De, "liegt eine Packung"),
            (Refusal::Changed.into(), Language::De, "jemand anders"),
        ] {
            let found = refusals.says(&meaning, language);
            assert!(found.contains(said) && !found.contains('{'), "{found}");
        }
    }
}
