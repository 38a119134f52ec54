//! What a finding says, in words.
//!
//! A finding has a reason (*because*) and an instruction (*condition*). The
//! instruction is the rule's own sentence, if it has one, followed by the
//! standard sentence of its verdict: a hold says until when or until what, a
//! referral says whom to ask, a decline says no and that it is meant kindly.

use etui_schema::vocabulary::{Language, Verdict};
use jiff::civil::Date;

use super::gate::Finding;
use super::patch_test::Judgement;
use super::pigment::{Part, Remark};
use super::rulebook::Rulebook;
use super::sentences::Sentences;
use super::typing::PatchTestLimits;

impl Rulebook {
    /// Why the finding stands there.
    #[must_use]
    pub fn because<'a>(&'a self, finding: &Finding<'a>, language: Language) -> &'a str {
        self.sentences.get(language, &finding.rule.keys.because)
    }

    /// What to do, or to know, because of the finding. `on` is the day of the
    /// treatment.
    #[must_use]
    pub fn condition(&self, finding: &Finding<'_>, on: Date, language: Language) -> String {
        let words = &self.sentences;
        let keys = &finding.rule.keys;
        let mut parts = Vec::with_capacity(2);
        if let (Some(due), Some(by)) = (finding.due, &keys.by) {
            parts.push(words.fill(language, by, &[("due", &words.day(language, due))]));
        } else if let Some(say) = &keys.say {
            parts.push(self.fill_say(finding, say, on, language));
        }
        match finding.verdict {
            Verdict::Hold => parts.push(words.fill(
                language,
                "hold.sentence",
                &[("until", &self.until(finding, language))],
            )),
            Verdict::Refer => {
                let whom = keys.whom.as_deref().unwrap_or("whom.doctor");
                let whom = words.get(language, whom);
                parts.push(words.fill(language, "refer.sentence", &[("whom", whom)]));
            }
            Verdict::Decline if keys.say.is_none() => {
                parts.push(words.get(language, "decline.sentence").to_owned());
            }
            Verdict::Proceed
            | Verdict::ProceedWithConditions
            | Verdict::Incomplete
            | Verdict::Decline => {}
        }
        parts.join(" ")
    }

    /// Until when or until what a hold holds, in words; empty for other
    /// verdicts.
    #[must_use]
    pub fn until(&self, finding: &Finding<'_>, language: Language) -> String {
        let words = &self.sentences;
        if let Some(day) = finding.hold_until {
            return words.fill(language, "until.day", &[("date", &words.day(language, day))]);
        }
        let Some(key) = &finding.rule.keys.until else { return String::new() };
        let period = finding.rule.period();
        let period = period.map(|period| words.period(language, period)).unwrap_or_default();
        let whom = finding.rule.keys.whom.as_deref().unwrap_or("whom.doctor");
        let values = [("period", &*period), ("whom", words.get(language, whom))];
        words.fill(language, key, &values)
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
        let period = words.period(language, limits.validity);
        let standing = words.fill(language, &key, &[("hours", &hours), ("period", &period)]);
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

    fn fill_say(&self, finding: &Finding<'_>, say: &str, on: Date, language: Language) -> String {
        let words = &self.sentences;
        let rule = finding.rule;
        let mut values: Vec<(&str, String)> = rule
            .values
            .iter()
            .map(|(name, number)| (name.as_str(), Sentences::number(language, *number)))
            .collect();
        if let Some(day) = finding.tells {
            values.push(("date", words.day(language, day)));
        }
        if let Some(lead) = rule.task.and_then(|task| task.lead) {
            values.push(("due", words.day(language, lead.before(on))));
        }
        let values: Vec<(&str, &str)> =
            values.iter().map(|(name, value)| (*name, value.as_str())).collect();
        words.fill(language, say, &values)
    }
}
