//! What a check says of what it was made from: where the record counted, and where what is kept
//! and what was sent differ.

use std::sync::Arc;

use etui_craft::screening::rulebook::Rulebook;
use etui_craft::visit;
use etui_schema::appointment_checks::AnswerState;

use super::gather::Gathered;
use super::readiness::Words;

impl Gathered {
    /// What is to be said of the record's session, if it counted.
    #[must_use]
    pub(super) fn remark(&self, heard: &visit::Gathered, words: Words<'_>) -> Option<String> {
        let last = self.previous.first().filter(|_| heard.record_counted)?;
        Some(words.fill("on_record", &[("date", &words.day(last.on.0))]))
    }

    /// That what is kept says otherwise than what was sent, and counts.
    #[must_use]
    pub(super) fn contradicted(
        &self,
        book: &Rulebook,
        heard: &visit::Gathered,
        words: Words<'_>,
    ) -> Option<String> {
        let graver = heard.heard.iter().filter(|one| one.state == AnswerState::Contradicts);
        told_otherwise(book, "contradicted", graver.map(|one| (&*one.question, &[][..])), words)
    }

    /// That what is kept asked for more than what was sent, which counts.
    #[must_use]
    pub(super) fn withdrawn(
        book: &Rulebook,
        heard: &visit::Gathered,
        words: Words<'_>,
    ) -> Option<String> {
        let back = heard.withdrawn.iter().map(|one| (&*one.question, &*one.options));
        told_otherwise(book, "withdrawn", back, words)
    }

    /// That the skin that is kept asks for more care than the one that was sent.
    #[must_use]
    pub(super) fn skin_contradicted(&self, book: &Rulebook, words: Words<'_>) -> Option<String> {
        let told = self.request.setting.as_ref().and_then(|setting| setting.skin.clone());
        let sent = visit::joined_skin(book, self.request.skin.clone(), told)?;
        let counts = self.skin.as_ref()?;
        let differs = sent.phototype.is_some() && sent.phototype != counts.phototype
            || sent.lab.is_some() && sent.lab != counts.lab;
        differs.then(|| words.fill("contradicted_skin", &[]))
    }
}

/// A sentence that names questions, each with what had been chosen; `None` if there are none.
fn told_otherwise<'q>(
    book: &Rulebook,
    sentence: &str,
    told: impl Iterator<Item = (&'q str, &'q [Arc<str>])>,
    words: Words<'_>,
) -> Option<String> {
    let asks = told.filter_map(|(id, chosen)| {
        let question = book.all_questions().get(book.question(id)?)?;
        let ask = question.ask(book.sentences(), words.language);
        let labels = question.labels(book.sentences(), words.language, chosen);
        if labels.is_empty() {
            return Some(ask.to_owned());
        }
        let values = [("question", ask), ("options", &*labels.join("; "))];
        Some(book.sentences().fill(words.language, "todo.answer", &values))
    });
    let asks: Vec<String> = asks.collect();
    (!asks.is_empty()).then(|| words.fill(sentence, &[("questions", &asks.join(" "))]))
}
