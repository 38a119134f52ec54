//! What no sentence of the screening may say, built in or from a pack.
//!
//! A sentence is refused if it advises to stop a medicine (a word of stopping
//! beside a word for a medicine, even negated: what is skimmed on a phone is
//! read without its *not*), names a dose, promises safety, or asks about HIV
//! (collecting that status is not justifiable: BHIVA and others, joint
//! statement, 19 September 2019). The words are those of the language
//! (`rules/languages`).

use etui_schema::vocabulary::Language;

use crate::guard::find;
use crate::text::tongue;

/// Why a sentence may not be said.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Objection {
    /// Stopping and a medicine in one sentence.
    #[error("`{stop}` beside `{medicine}`: no text may advise to stop a medicine; say whom to ask")]
    Stopping {
        /// The word of stopping.
        stop: String,
        /// The word for a medicine.
        medicine: String,
    },
    /// A dose.
    #[error("`{found}` names a dose")]
    Dose {
        /// The dose found.
        found: String,
    },
    /// A promise.
    #[error("`{found}` promises safety")]
    Promise {
        /// The word found.
        found: String,
    },
    /// A question that must not be asked.
    #[error("nothing may be asked about HIV")]
    Hiv,
    /// A pack speaks of a medicine.
    #[error(
        "`{found}` names a medicine; a pack speaks of none, the built-in rules do and say whom to ask"
    )]
    Medicine {
        /// The word for it.
        found: String,
    },
    /// A pack speaks of a sign that the built-in messages speak of.
    #[error("`{found}` is a sign that the built-in messages speak of; a pack adds nothing to them")]
    RedFlag {
        /// The word for it.
        found: String,
    },
    /// A pack makes light of a sign or of getting help.
    #[error(
        "`{calm}` beside `{found}` could keep somebody from getting help; leave one of them out"
    )]
    Calms {
        /// What makes light of it.
        calm: String,
        /// The sign, or the help.
        found: String,
    },
    /// A pack states something about a sign before a visit.
    #[error(
        "`{found}` is a sign; before a visit a pack asks about it, or says that one tells the studio \
         of it or postpones the visit"
    )]
    Stated {
        /// The word for it.
        found: String,
    },
    /// A pack's sentence would lift what a rule found.
    #[error("`{lifted}` beside `{found}`: no sentence lifts what a rule has found")]
    Lifts {
        /// What it speaks of.
        found: String,
        /// What it says of it.
        lifted: String,
    },
    /// A pack speaks of what the built-in steps forbid, and does not forbid it.
    #[error(
        "`{found}` is of what is to be avoided ({what}); a pack speaks of it only to forbid it, with one word of \
         forbidding close by, as in `no …` or `do not …`"
    )]
    Governed {
        /// The word for it.
        found: String,
        /// What it is of.
        what: String,
    },
    /// A pack speaks of somebody at risk without care.
    #[error(
        "`{found}` names somebody at risk; a pack says whom to tell or to ask, or that nothing is done, and \
         reassures nobody"
    )]
    AtRisk {
        /// The word for her.
        found: String,
    },
    /// A pack calls needless what protects.
    #[error("`{slight}` beside `{found}` slights what protects; leave one of them out")]
    Slights {
        /// What slights it.
        slight: String,
        /// What protects.
        found: String,
    },
    /// The words to look for cannot be read, so nothing is kept.
    #[error("no sentence of a pack can be judged: {why}")]
    Unread {
        /// The fault.
        why: String,
    },
    /// A character that a plain sentence does not need.
    #[error("the character U+{code:04X} is not accepted; a plain sentence of Latin letters is")]
    Character {
        /// Its number.
        code: u32,
    },
    /// A tag or a link.
    #[error("`{found}` is not accepted; a plain sentence without tags and links is")]
    Markup {
        /// What was found.
        found: String,
    },
}

/// What stands against a sentence, if anything.
///
/// ```
/// use etui_craft::screening::wording::objection;
/// use etui_schema::vocabulary::Language;
/// assert!(objection(Language::En, "Please ask your doctor first.").is_none());
/// assert!(objection(Language::En, "Stop your warfarin two days before.").is_some());
/// assert!(objection(Language::De, "Nehmen Sie 500 mg davor.").is_some());
/// ```
#[must_use]
pub fn objection(language: Language, text: &str) -> Option<Objection> {
    let words = match tongue(language) {
        Ok(words) => words,
        Err(fault) => return Some(Objection::Unread { why: fault.to_string() }),
    };
    let text = text.to_lowercase();
    if text.split(|c: char| !c.is_alphanumeric()).any(|word| word == "hiv" || word == "aids") {
        return Some(Objection::Hiv);
    }
    if let Some(found) = find(&text, &words.promise) {
        return Some(Objection::Promise { found });
    }
    if let Some(found) = dose(&words.doses, &text) {
        return Some(Objection::Dose { found });
    }
    text.split(['.', '!', '?', ';']).find_map(|sentence| {
        let stop = find(sentence, &words.stopping)?;
        let medicine = find(sentence, &words.medicine)?;
        Some(Objection::Stopping { stop, medicine })
    })
}

/// A number followed by a unit in which medicines are measured out.
fn dose(units: &[String], text: &str) -> Option<String> {
    let mut previous = "";
    for word in text.split_whitespace() {
        let bare = word.trim_matches(|c: char| !c.is_alphanumeric());
        let unit = bare.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ',');
        let number_before = previous.ends_with(|c: char| c.is_ascii_digit());
        let number_within = unit.len() < bare.len();
        if units.iter().any(|known| known == unit) && (number_before || number_within) {
            return Some(format!("{previous} {bare}").trim().to_owned());
        }
        previous = bare;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bad_sentences_are_found_in_both_languages() {
        let check = |language, text: &str| objection(language, text);
        for text in [
            "Stop taking warfarin.",
            "Never stop your medicine.",
            "Please pause the tablets a week before",
            "Come off aspirin first",
        ] {
            assert!(
                matches!(check(Language::En, text), Some(Objection::Stopping { .. })),
                "{text}"
            );
        }
        for text in ["Setzen Sie Warfarin ab.", "Das Medikament pausieren", "Tabletten weglassen"] {
            assert!(
                matches!(check(Language::De, text), Some(Objection::Stopping { .. })),
                "{text}"
            );
        }
        for text in ["Take 500 mg.", "Take 2 tablets before", "400mg in the morning"] {
            assert!(matches!(check(Language::En, text), Some(Objection::Dose { .. })), "{text}");
        }
        for text in ["This is safe.", "It is entirely risk-free"] {
            assert!(matches!(check(Language::En, text), Some(Objection::Promise { .. })), "{text}");
        }
        assert!(matches!(check(Language::De, "Das ist sicher."), Some(Objection::Promise { .. })));
        assert_eq!(check(Language::En, "Do you have HIV?"), Some(Objection::Hiv));
    }

    #[test]
    fn good_sentences_pass() {
        for text in [
            "Ask the doctor who prescribed it.",
            "We stop at once if the skin weeps. Keep your tablets as they are.",
            "Your value is under 69 mmol/mol.",
            "Keep 0.5 to 1 cm clear.",
        ] {
            assert_eq!(objection(Language::En, text), None, "{text}");
        }
        assert_eq!(objection(Language::De, "Bitte fragen Sie Ihre Ärztin."), None);
    }
}
