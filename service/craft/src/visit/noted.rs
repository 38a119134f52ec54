//! What of the answers of a check is noted of the client.
//!
//! What was sent with a check is of that visit. But a keloid that was told there is a
//! matter of a lifetime, and a medicine one of weeks; the next visit would not know of
//! either if nobody told it again. So an answer that says something which remains, for
//! good or for its days ([`Freshness`] has the list), goes into the client's record,
//! whole, as it was given, and so does the later day of what only moves forward; what
//! is kept there beside it and remains stays.

use etui_schema::answers::Answer;

use super::find;
use super::freshness::Freshness;
use crate::screening::question::{Kind, NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

/// What is to be kept of an answer that was sent, beside what is kept for the same treatment
/// ([`Freshness::is_one_place`]); `None` if it says nothing that remains. It may be what is kept
/// already: told again, it is of that later day.
#[must_use]
pub fn noted(
    (book, freshness): (&Rulebook, &Freshness),
    (id, sent): (&str, &Answer),
    kept: Option<&Answer>,
) -> Option<Answer> {
    let question = find(book, id)?;
    if matches!(question.kind, Kind::Date { .. }) {
        return later(freshness, question, sent, kept);
    }
    if lasting(freshness, question, sent).is_empty() {
        return None;
    }
    Some(match (sent, kept) {
        (Answer::Choices(told), Some(Answer::Choices(before))) => {
            // A check takes nothing away.
            let more = before.iter().filter(|one| !told.contains(one) && ***one != *NONE_OF_THESE);
            Answer::Choices(told.iter().chain(more).cloned().collect())
        }
        _ => sent.clone(),
    })
}

/// What an answer that was sent says of other questions, wherever it was asked.
pub fn implied<'a>(
    freshness: &'a Freshness,
    (id, sent): (&'a str, &'a Answer),
) -> impl Iterator<Item = (&'a str, Answer)> {
    let rows = freshness.implies().filter(move |row| row.is_said_by(id, sent.into()));
    rows.map(|row| {
        let option = row.option.as_ref().map(|option| Answer::Choices(vec![option.to_string()]));
        (&*row.says, option.unwrap_or(Answer::YesNo(true)))
    })
}

/// The questions whose kept days say that something is over which was told anew without such a day.
#[must_use]
pub fn goes_on<'a>(
    (book, freshness): (&'a Rulebook, &'a Freshness),
    (id, sent): (&str, &Answer),
    is_told: impl Fn(&str) -> bool,
) -> Vec<&'a str> {
    let Some(at) = book.question(id) else { return Vec::new() };
    let Some(parent) = book.all_questions().get(at) else { return Vec::new() };
    let bits = parent.bits(sent.into());
    let ends = freshness.ends().iter().filter(|end| {
        find(book, end).is_some_and(|end| {
            end.follows.is_some_and(|follows| follows.question == at) && end.is_led_to_by(bits)
        })
    });
    ends.map(|end| &**end).filter(|end| !is_told(end)).collect()
}

/// Whether a question asks for a day.
#[must_use]
pub fn is_day(book: &Rulebook, id: &str) -> bool {
    find(book, id).is_some_and(|question| matches!(question.kind, Kind::Date { .. }))
}

/// The question that one follows.
#[must_use]
pub fn follows<'b>(book: &'b Rulebook, id: &str) -> Option<&'b str> {
    let follows = find(book, id)?.follows?;
    book.all_questions().get(follows.question).map(|parent| &*parent.id)
}

/// Whether what is kept leads to a question, or nothing has to.
#[must_use]
pub fn is_led_to<'a>(book: &Rulebook, id: &str, kept: impl Fn(&str) -> Option<&'a Answer>) -> bool {
    let Some(question) = find(book, id) else { return false };
    let Some(follows) = question.follows else { return true };
    let parent = book.all_questions().get(follows.question);
    let answer = parent.and_then(|parent| Some((parent, kept(&parent.id)?)));
    answer.is_some_and(|(parent, answer)| question.is_led_to_by(parent.bits(answer.into())))
}

/// The day that was sent, if it is of what only moves forward and later than the one that is kept.
fn later(
    freshness: &Freshness,
    question: &Question,
    sent: &Answer,
    kept: Option<&Answer>,
) -> Option<Answer> {
    let Answer::Text(day) = sent else { return None };
    let is_later = match kept {
        Some(Answer::Text(before)) => before < day,
        Some(_) => false,
        None => true,
    };
    let moves = freshness.remains().any(|row| row.question(&question.id));
    (is_later && moves).then(|| sent.clone())
}

/// What an answer says that remains, for good or for its days: the options, or `None` for a yes.
fn lasting(freshness: &Freshness, question: &Question, answer: &Answer) -> Vec<Option<String>> {
    let rows = || freshness.remains().filter(|row| row.question(&question.id));
    match (&question.kind, answer) {
        (Kind::YesNo, Answer::YesNo(true)) if rows().next().is_some() => vec![None],
        (Kind::Choice { options, clear }, Answer::Text(told)) => {
            let is_clear = options.get(*clear).is_some_and(|clear| *clear.id == **told);
            let lasts = !is_clear && rows().any(|row| row.option(told));
            lasts.then(|| Some(told.clone())).into_iter().collect()
        }
        (Kind::Choices { .. }, Answer::Choices(told)) => {
            let lasts = |one: &&String| ***one != *NONE_OF_THESE && rows().any(|r| r.option(one));
            told.iter().filter(lasts).cloned().map(Some).collect()
        }
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;

    fn list(options: &[&str]) -> Answer {
        Answer::Choices(options.iter().map(|&option| option.to_owned()).collect())
    }

    /// Which answers are a matter of a lifetime: our own.
    #[test]
    fn what_is_told_for_good_is_noted_of_the_client() {
        let register = Register::builtin().unwrap();
        let rules = Rulebook::builtin(&register).unwrap();
        let freshness = Freshness::builtin(&register).unwrap();
        let (yes, no) = (Answer::YesNo(true), Answer::YesNo(false));
        let text = |told: &str| Answer::Text(told.to_owned());
        let (none, keloid, lupus) = (list(&["none_of_these"]), list(&["keloid"]), list(&["lupus"]));
        let scar = list(&["scar", "eczema"]);
        for (question, sent, kept, wanted) in [
            ("skin_history", &keloid, None, Some(&keloid)),
            ("skin_history", &keloid, Some(&none), Some(&keloid)),
            // Told again it is of the day on which it was told again.
            ("skin_history", &keloid, Some(&keloid), Some(&keloid)),
            ("skin_history", &none, Some(&keloid), None),
            ("skin_history", &none, None, None),
            ("skin_history", &lupus, Some(&keloid), Some(&list(&["lupus", "keloid"]))),
            // With what stands beside it: nobody said that there was no eczema.
            ("skin_in_area", &scar, None, Some(&scar)),
            ("skin_in_area", &scar, Some(&list(&["eczema"])), Some(&scar)),
            (
                "skin_in_area",
                &scar,
                Some(&list(&["changing_spot"])),
                Some(&list(&["scar", "eczema", "changing_spot"])),
            ),
            ("skin_in_area", &list(&["eczema"]), None, Some(&list(&["eczema"]))),
            ("nickel_allergy", &yes, Some(&no), Some(&yes)),
            ("nickel_allergy", &no, Some(&yes), None),
            ("scar_state", &text("past_its_edge"), None, Some(&text("past_its_edge"))),
            ("scar_state", &text("pale_and_flat"), None, None),
            // What remains for its days, and a day that only moves forward.
            ("pregnant", &yes, None, Some(&yes)),
            ("pregnant", &no, Some(&yes), None),
            ("isotretinoin", &text("now"), None, Some(&text("now"))),
            ("isotretinoin", &text("never"), Some(&text("now")), None),
            ("previous_pmu_on", &text("2026-03-01"), None, Some(&text("2026-03-01"))),
            (
                "previous_pmu_on",
                &text("2026-03-01"),
                Some(&text("2020-01-01")),
                Some(&text("2026-03-01")),
            ),
            ("previous_pmu_on", &text("2020-01-01"), Some(&text("2026-03-01")), None),
            ("fish_oil", &yes, None, None),
            ("no_question", &yes, None, None),
        ] {
            let found = noted((&rules, &freshness), (question, sent), kept);
            assert_eq!(found.as_ref(), wanted, "{question}: {sent:?} beside {kept:?}");
        }
    }
}
