//! What a check says of what it was made from: where the record counted, and where what is kept
//! and what was sent differ.

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
        told_otherwise(book, "contradicted", graver.map(|one| &*one.question), words)
    }

    /// That what is kept asked for more than what was sent, which counts.
    #[must_use]
    pub(super) fn withdrawn(
        book: &Rulebook,
        heard: &visit::Gathered,
        words: Words<'_>,
    ) -> Option<String> {
        told_otherwise(book, "withdrawn", heard.withdrawn.iter().map(|id| &**id), words)
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

/// A sentence that names questions; `None` if there are none.
fn told_otherwise<'q>(
    book: &Rulebook,
    sentence: &str,
    questions: impl Iterator<Item = &'q str>,
    words: Words<'_>,
) -> Option<String> {
    let asks = questions.filter_map(|id| {
        let question = book.all_questions().get(book.question(id)?)?;
        Some(question.ask(book.sentences(), words.language))
    });
    let asks: Vec<&str> = asks.collect();
    (!asks.is_empty()).then(|| words.fill(sentence, &[("questions", &asks.join(" "))]))
}
