//! What a finding says, in words.
//!
//! A finding has a reason (*because*) and an instruction (*condition*). The
//! instruction is the rule's own sentence, if it has one, followed by the
//! standard sentence of its verdict: a hold says until what, and a day only
//! beside it as *not before*; a referral says whom to ask; a decline says no
//! and that it is meant kindly. Which of its own sentences a rule says hangs on
//! what is known: see the table in [`super::sentences`].

use etui_schema::vocabulary::{Language, Verdict};
use jiff::civil::Date;

use super::gate::{Assessment, Finding};
use super::patch_test::Judgement;
use super::pigment::{Part, Remark};
use super::question::Who;
use super::rulebook::Rulebook;
use super::todo::is_answered_for;
use super::typing::PatchTestLimits;
use crate::text;

impl Rulebook {
    /// Why the finding stands there.
    #[must_use]
    pub fn because<'a>(&'a self, finding: &Finding<'a>, language: Language) -> &'a str {
        let keys = &finding.rule.keys;
        let key = keys.law.as_ref().filter(|_| finding.law).unwrap_or(&keys.because);
        self.sentences.get(language, key)
    }

    /// What to do, or to know, because of the finding. `on` is the day of the
    /// treatment.
    #[must_use]
    pub fn condition(&self, finding: &Finding<'_>, on: Date, language: Language) -> String {
        let own = own_sentence(finding).map(|key| self.said(finding, key, on, language));
        let verdict = self.verdict_sentence(finding, on, language);
        own.into_iter().chain(verdict).collect::<Vec<_>>().join(" ")
    }

    /// What to do, or to know, because of each finding, in their order. What two of them would
    /// say in the same words opens with what each is about.
    #[must_use]
    pub fn conditions(
        &self,
        findings: &[Finding<'_>],
        on: Date,
        language: Language,
    ) -> Vec<String> {
        let plain: Vec<String> =
            findings.iter().map(|finding| self.condition(finding, on, language)).collect();
        let told = findings.iter().zip(&plain).map(|(finding, text)| {
            let is_twice = 1 < plain.iter().filter(|other| *other == text).count();
            let topic = finding.rule.keys.topic.as_deref().filter(|_| is_twice);
            topic.map_or_else(|| text.clone(), |topic| self.about(topic, text, language))
        });
        told.collect()
    }

    /// What the client has to do, or to know, because of the finding, in one sentence that opens
    /// with what it is about; nothing where that is the studio's alone.
    #[must_use]
    pub fn short(&self, finding: &Finding<'_>, on: Date, language: Language) -> Option<String> {
        let keys = &finding.rule.keys;
        let is_studios = finding.verdict == Verdict::ProceedWithConditions
            && self.task(finding, on).is_none_or(|(_, _, who)| who == Who::Studio)
            && keys.client.is_none();
        if is_answered_for(finding) || is_studios {
            return None;
        }
        let own = keys.client.as_deref().or_else(|| own_sentence(finding));
        let said = match (own.and_then(|key| self.short_of(key)), finding.verdict) {
            (Some(short), _) => {
                let until = self.until(finding, language);
                text::fill(&self.said(finding, &short, on, language), &[("until", &until)])
            }
            (None, Verdict::Hold) if finding.is_beside => {
                let until = self.until(finding, language);
                self.sentences.fill(language, "hold.beside.short", &[("until", &until)])
            }
            (None, Verdict::Hold) => self.hold_sentence(finding, language),
            (None, Verdict::Refer) => {
                let whom =
                    finding.person().and_then(|whom| self.short_of(&format!("refer.{whom}")));
                let key = whom.or_else(|| self.short_of(&keys.refer));
                self.said(finding, key.as_deref().unwrap_or(&keys.refer), on, language)
            }
            (None, _) => {
                let key =
                    own.or((finding.verdict == Verdict::Decline).then_some("decline.sentence"));
                self.said(finding, key?, on, language)
            }
        };
        let said = text::capital(text::sentences(&said).next()?);
        Some(match keys.topic.as_deref() {
            Some(topic) => self.about(topic, &said, language),
            None => said,
        })
    }

    /// The key of a sentence's short form, if it has one.
    fn short_of(&self, key: &str) -> Option<String> {
        Some(format!("{key}.short")).filter(|short| self.sentences.has(short))
    }

    /// A sentence that opens with what it is about.
    pub(super) fn about(&self, topic: &str, text: &str, language: Language) -> String {
        let values = [("topic", self.sentences.get(language, topic)), ("text", text)];
        self.sentences.fill(language, "todo.topic", &values)
    }

    /// The standard sentence of the finding's verdict, if it has one here.
    fn verdict_sentence(
        &self,
        finding: &Finding<'_>,
        on: Date,
        language: Language,
    ) -> Option<String> {
        let keys = &finding.rule.keys;
        match finding.verdict {
            Verdict::Hold => Some(self.wait(finding, language)),
            Verdict::Refer => {
                let refer = self.said(finding, &keys.refer, on, language);
                let wait = finding.not_before.map(|_| self.wait(finding, language));
                Some(std::iter::once(refer).chain(wait).collect::<Vec<_>>().join(" "))
            }
            Verdict::Decline if keys.say.is_none() => {
                Some(self.sentences.get(language, "decline.sentence").to_owned())
            }
            Verdict::Proceed
            | Verdict::ProceedWithConditions
            | Verdict::Incomplete
            | Verdict::Decline => None,
        }
    }

    /// That a visit is possible then and, where the wait counts from something that
    /// is only planned, that it falls away with the plan.
    fn wait(&self, finding: &Finding<'_>, language: Language) -> String {
        let hold = self.hold_sentence(finding, language);
        let ahead = finding.is_ahead.then(|| self.sentences.get(language, "hold.ahead").to_owned());
        std::iter::once(hold).chain(ahead).collect::<Vec<_>>().join(" ")
    }

    /// That a visit is possible then, in words; while something else is open, only that
    /// on this account it is not possible before.
    pub(super) fn hold_sentence(&self, finding: &Finding<'_>, language: Language) -> String {
        let until = self.until(finding, language);
        let key = if finding.is_beside { "hold.beside" } else { "hold.sentence" };
        self.sentences.fill(language, key, &[("until", &until)])
    }

    /// What each hold that stands waits for, the longest first; each names what it is about.
    #[must_use]
    pub fn waits(&self, findings: &[Finding<'_>], on: Date, language: Language) -> Vec<String> {
        let mut open: Vec<&Finding<'_>> = findings.iter().filter(|one| one.waits()).collect();
        open.sort_by_key(|finding| std::cmp::Reverse(lasts(finding, on)));
        open.into_iter().map(|finding| self.waits_for(finding, on, language)).collect()
    }

    /// What one hold waits for. Beside others it speaks for itself alone; that these come too, is
    /// said by them.
    fn waits_for(&self, finding: &Finding<'_>, on: Date, language: Language) -> String {
        let topic = finding.rule.keys.topic.as_deref();
        if !finding.is_beside {
            let said = self.condition(finding, on, language);
            return topic.map_or_else(|| said.clone(), |topic| self.about(topic, &said, language));
        }
        let until = self.until(finding, language);
        let own = own_sentence(finding).map(|key| self.said(finding, key, on, language));
        let alone = self.sentences.fill(language, "hold.beside.alone", &[("until", &until)]);
        let ahead = finding.is_ahead.then(|| self.sentences.get(language, "hold.ahead"));
        let said = match (topic, own) {
            (Some(topic), Some(own)) => self.about(topic, &format!("{own} {alone}"), language),
            (Some(topic), None) => {
                let topic = self.sentences.get(language, topic);
                let values = [("topic", topic), ("until", &*until)];
                self.sentences.fill(language, "hold.beside.topic", &values)
            }
            // A rule of a pack has no topic; why it speaks says what it is about.
            (None, own) => {
                let why = own.unwrap_or_else(|| self.because(finding, language).to_owned());
                format!("{why} {alone}")
            }
        };
        std::iter::once(said.as_str()).chain(ahead).collect::<Vec<_>>().join(" ")
    }

    /// Until when or until what a hold holds, in words; empty for other
    /// verdicts. An event and a person are named whether or not a day is known, as long
    /// as they are open.
    #[must_use]
    pub fn until(&self, finding: &Finding<'_>, language: Language) -> String {
        let keys = &finding.rule.keys;
        let has_come = finding.verdict == Verdict::Hold
            && !finding.waits_for_event
            && keys.waits_beside_a_day();
        let key = match (finding.not_before, &keys.until_dated, &keys.until) {
            (Some(_), Some(dated), _) if !has_come => dated,
            (Some(_), _, _) if finding.is_beside => "until.not_before",
            (Some(_), _, _) => "until.day",
            (None, _, Some(until)) => until,
            (None, _, None) => return String::new(),
        };
        self.said(finding, key, Date::MAX, language)
    }

    /// Whom to ask, in words, if the finding names somebody.
    #[must_use]
    pub fn whom<'a>(&'a self, finding: &Finding<'a>, language: Language) -> Option<&'a str> {
        finding.rule.keys.whom.as_deref().map(|key| self.sentences.get(language, key))
    }

    /// The sentence that says what the score is and is not.
    #[must_use]
    pub fn score_statement(&self, language: Language) -> &str {
        self.sentences.get(language, "score.statement")
    }

    /// What a band changes in the plan of the session, and in the follow-up.
    #[must_use]
    pub fn band_advice(&self, band: &super::score::Band, language: Language) -> [String; 2] {
        ["plan", "follow_up"].map(|what| {
            self.sentences.get(language, &format!("band.{}.{what}", band.id)).to_owned()
        })
    }

    /// What every screening says of itself.
    #[must_use]
    pub fn cautions(&self, language: Language) -> [&str; 2] {
        ["caution.suitability", "caution.medicines"].map(|key| self.sentences.get(language, key))
    }

    /// That the skin's colour is still to be looked at, as the client is told.
    #[must_use]
    pub fn tone_unknown(&self, language: Language) -> &str {
        self.sentences.get(language, "caution.tone_unknown")
    }

    /// How a birthday on 29 February is read, if somebody was refused by her age who has it.
    #[must_use]
    pub fn leap_day(&self, assessment: &Assessment<'_>, language: Language) -> Option<&str> {
        let by_age = assessment.findings.iter().any(|finding| finding.is_by_age());
        let told = by_age && (assessment.born_on.month(), assessment.born_on.day()) == (2, 29);
        told.then(|| self.sentences.get(language, "caution.leap_day"))
    }

    /// That the day of the treatment is past.
    #[must_use]
    pub fn looks_back(&self, on: Date, language: Language) -> String {
        let day = text::day(language, on);
        self.sentences.fill(language, "caution.looks_back", &[("date", &day)])
    }

    /// That the day from which things were seen has not come yet.
    #[must_use]
    pub fn looks_ahead(&self, as_of: Date, language: Language) -> String {
        let day = text::day(language, as_of);
        self.sentences.fill(language, "caution.looks_ahead", &[("date", &day)])
    }

    /// That an override had nothing to override.
    #[must_use]
    pub fn idle_override(&self, rule: &str, language: Language) -> String {
        let topic = self.rule(rule).and_then(|rule| rule.keys.topic.as_deref());
        let Some(topic) = topic else {
            return self.sentences.get(language, "caution.idle_override_untold").to_owned();
        };
        let topic = self.sentences.get(language, topic);
        self.sentences.fill(language, "caution.idle_override", &[("topic", topic)])
    }

    /// What a sun-reaction type is and is not.
    #[must_use]
    pub fn phototype_statement(&self, language: Language) -> &str {
        self.sentences.get(language, "skin.phototype.statement")
    }

    /// What the class of a measured colour is and is not.
    #[must_use]
    pub fn colour_statement(&self, language: Language) -> &str {
        self.sentences.get(language, "skin.colour.statement")
    }

    /// Whether a skin test counts, in words, followed by its cautions.
    #[must_use]
    pub fn patch_test_words(
        &self,
        limits: &PatchTestLimits,
        judgement: &Judgement,
        language: Language,
    ) -> Vec<String> {
        let words = &self.sentences;
        let key = format!("patch_test.{}", judgement.standing.as_str());
        let hours = limits.at_least_h.to_string();
        let period = words.period_dative(language, limits.validity);
        let values = [("hours", hours.as_str()), ("period_dative", period.as_str())];
        let standing = words.fill(language, &key, &values);
        let cautions = judgement.cautions.iter().map(|caution| {
            words.get(language, &format!("patch_test.{}", caution.as_str())).to_owned()
        });
        std::iter::once(standing).chain(cautions).collect()
    }

    /// That the client is shown the label.
    #[must_use]
    pub fn pigment_duty(&self, language: Language) -> &str {
        self.sentences.get(language, "pigment.pass_on")
    }

    /// A remark on a pigment's label, in words.
    #[must_use]
    pub fn pigment_words(&self, remark: Remark, language: Language) -> String {
        let words = &self.sentences;
        let with_part = |key, part: Part| {
            let part = words.get(language, &format!("pigment.part.{}", part.as_str())).to_owned();
            words.fill(language, key, &[("part", &part)])
        };
        match remark {
            Remark::NotForSkin => words.get(language, "pigment.not_for_skin").to_owned(),
            Remark::NickelForAllergic => {
                words.get(language, "pigment.nickel_for_allergic").to_owned()
            }
            Remark::ChromiumForAllergic => {
                words.get(language, "pigment.chromium_for_allergic").to_owned()
            }
            Remark::NoProof => words.get(language, "pigment.no_proof").to_owned(),
            Remark::Missing(part) => with_part("pigment.missing", part),
            Remark::Look(part) => with_part("pigment.look", part),
        }
    }

    /// A sentence of the finding's rule with its places filled.
    pub(super) fn said(
        &self,
        finding: &Finding<'_>,
        key: &str,
        on: Date,
        language: Language,
    ) -> String {
        let words = &self.sentences;
        let rule = finding.rule;
        let mut values: Vec<(&str, String)> = rule
            .values
            .iter()
            .map(|(name, number)| (name.as_str(), text::number(language, &number.to_string())))
            .collect();
        if let Some(day) = finding.tells.or(finding.not_before) {
            let day = text::day(language, day);
            let from = if finding.hold_until.is_some() { "until.day" } else { "until.not_before" };
            values.push(("from", words.fill(language, from, &[("date", &day)])));
            values.push(("date", day));
        }
        let lead = rule.task.and_then(|task| task.lead).map(|lead| lead.before(on));
        if let Some(due) = finding.due.or(lead) {
            values.push(("due", text::day(language, due)));
        }
        if let Some(period) = rule.period() {
            values.push(("period", words.period(language, period)));
            values.push(("period_dative", words.period_dative(language, period)));
        }
        let whom = rule.keys.whom.as_deref().unwrap_or("whom.doctor");
        values.push(("whom", words.get(language, whom).to_owned()));
        values.push(("whom_accusative", words.accusative(language, whom)));
        let values: Vec<(&str, &str)> =
            values.iter().map(|(name, value)| (*name, value.as_str())).collect();
        words.fill(language, key, &values)
    }
}

/// Until when a hold lasts, as far as anybody can say today; what ends with an event of months, or
/// with somebody's word, has no such day and is last.
pub(super) fn lasts(finding: &Finding<'_>, on: Date) -> Date {
    let keys = &finding.rule.keys;
    match (finding.not_before, finding.rule.period()) {
        _ if keys.ends_at_once() => Date::MIN,
        (Some(day), _) => day,
        (None, Some(period)) => period.after(on),
        (None, None) if keys.lasts_months() || finding.person().is_some() => Date::MAX,
        (None, None) => on,
    }
}

/// Which of its own sentences a rule says here.
fn own_sentence<'b>(finding: &Finding<'b>) -> Option<&'b str> {
    let keys = &finding.rule.keys;
    let beside = keys.beside.as_ref().filter(|_| finding.is_beside);
    let by = keys.by.as_ref().filter(|_| finding.due.is_some());
    let stays = keys.stays.as_ref().filter(|_| finding.stays);
    let late = keys.late.as_ref().filter(|_| finding.is_late);
    let dated = keys.dated.as_ref().filter(|_| finding.is_dated);
    beside.or(by).or(stays).or(late).or(dated).or(keys.say.as_ref()).map(|key| &**key)
}
