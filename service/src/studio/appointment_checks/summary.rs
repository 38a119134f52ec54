//! The outcome of a check in one or two sentences, to be read aloud.

use etui_craft::screening::sentences::Sentences;
use etui_schema::vocabulary::{CivilDate, Language, Verdict};

/// The outcome in words.
pub(super) fn summary(
    words: &Sentences,
    verdict: Verdict,
    hold_until: Option<CivilDate>,
    open: usize,
    language: Language,
) -> String {
    let date = hold_until.map_or_else(String::new, |day| words.day(language, day.0));
    let key = match (verdict, hold_until) {
        (Verdict::Hold, Some(_)) => "check.hold_day".to_owned(),
        (Verdict::Hold, None) => "check.hold_event".to_owned(),
        _ => format!("check.{verdict}"),
    };
    words.fill(language, &key, &[("date", &date), ("open", &open.to_string())])
}

#[cfg(test)]
mod tests {
    use etui_craft::evidence::Register;
    use etui_craft::screening::rulebook::Rulebook;

    use super::*;

    #[test]
    fn every_verdict_is_put_in_words() {
        let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
        let day = Some(CivilDate(jiff::civil::date(2027, 4, 12)));
        for verdict in Verdict::ALL {
            for (language, day) in Language::ALL.iter().flat_map(|l| [(*l, None), (*l, day)]) {
                let said = summary(book.sentences(), *verdict, day, 3, language);
                assert!(said.contains(' ') && !said.contains(['{', '}']), "{verdict}: {said}");
            }
        }
        let said = summary(book.sentences(), Verdict::Hold, day, 0, Language::De);
        assert!(said.contains("12. April 2027"), "{said}");
    }
}
