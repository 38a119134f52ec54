//! What of the answers of a check is noted of the client.
//!
//! What was sent with a check is of that visit. But a keloid that was told there is a
//! matter of a lifetime, and a medicine one of weeks; the next visit would not know of
//! either if nobody told it again. So an answer that says something which remains, for
//! good or for its days ([`Freshness`] has the list), goes into the client's record,
//! whole, as it was given, and so does the later day of what only moves forward; what
//! is kept there beside it and remains stays.

use etui_schema::answers::{Answer, Answers};
use etui_schema::vocabulary::Treatment;

use super::find;
use super::freshness::Freshness;
use crate::screening::answers::Given;
use crate::screening::question::{Kind, NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

/// What is to be kept of an answer that was sent for a treatment, beside what is kept and the
/// treatment that was asked for; `None` if it says nothing that remains, or nothing new.
///
/// The record has one answer to a question. One on another area is not replaced as long as it says
/// something of that area which remains.
#[must_use]
pub fn noted(
    (book, freshness): (&Rulebook, &Freshness),
    treatment: Treatment,
    (id, sent): (&str, &Answer),
    kept: Option<(&Answer, Option<Treatment>)>,
) -> Option<Answer> {
    let question = find(book, id)?;
    if matches!(question.kind, Kind::Date { .. }) {
        return later(freshness, question, sent, kept.map(|(answer, _)| answer));
    }
    let lasting = |answer: &Answer| lasting(freshness, question, answer);
    let told = lasting(sent);
    let before = kept.map(|(answer, _)| lasting(answer)).unwrap_or_default();
    if told.iter().all(|one| before.contains(one)) {
        return None;
    }
    let same_place = |asked_for: Option<Treatment>| {
        let mut options = told.iter().chain(&before);
        options.all(|one| {
            let holds_for = freshness.of(book, question, one.as_deref()).holds_for;
            holds_for.holds(asked_for, treatment)
        })
    };
    if !before.is_empty() && !kept.is_some_and(|(_, asked_for)| same_place(asked_for)) {
        return None;
    }
    Some(match sent {
        Answer::Choices(told) => {
            let more = before.into_iter().flatten().filter(|one| !told.contains(one));
            Answer::Choices(told.iter().cloned().chain(more).collect())
        }
        Answer::YesNo(_) | Answer::Number(_) | Answer::Text(_) => sent.clone(),
    })
}

/// Whether a question asks for a day.
#[must_use]
pub fn is_day(book: &Rulebook, id: &str) -> bool {
    find(book, id).is_some_and(|question| matches!(question.kind, Kind::Date { .. }))
}

/// Whether what is kept leads to a question, or nothing has to.
#[must_use]
pub fn is_led_to(book: &Rulebook, id: &str, kept: &Answers) -> bool {
    let Some(question) = find(book, id) else { return false };
    let Some(follows) = question.follows else { return true };
    let parent = book.all_questions().get(follows.question);
    let answer = parent.and_then(|parent| Some((parent, kept.get(&*parent.id)?)));
    answer.is_some_and(|(parent, answer)| {
        let given = match answer {
            Answer::YesNo(yes) => Given::YesNo(*yes),
            Answer::Number(number) => Given::Number(*number),
            Answer::Text(text) => Given::Text(text),
            Answer::Choices(all) => Given::Choices(all),
        };
        question.is_led_to_by(parent.bits(given))
    })
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
        let (brows, lips) = (Treatment::Brows, Treatment::Lips);
        for (question, sent, kept, wanted) in [
            ("skin_history", &keloid, None, Some(&keloid)),
            ("skin_history", &keloid, Some((&none, Some(brows))), Some(&keloid)),
            ("skin_history", &keloid, Some((&keloid, None)), None),
            ("skin_history", &none, Some((&keloid, None)), None),
            ("skin_history", &none, None, None),
            (
                "skin_history",
                &lupus,
                Some((&keloid, Some(lips))),
                Some(&list(&["lupus", "keloid"])),
            ),
            // With what stands beside it: nobody said that there was no eczema.
            ("skin_in_area", &scar, None, Some(&scar)),
            ("skin_in_area", &scar, Some((&list(&["eczema"]), Some(brows))), Some(&scar)),
            // The scar of the other area stays.
            ("skin_in_area", &scar, Some((&list(&["changing_spot"]), Some(lips))), None),
            ("skin_in_area", &list(&["eczema"]), None, Some(&list(&["eczema"]))),
            ("nickel_allergy", &yes, Some((&no, None)), Some(&yes)),
            ("nickel_allergy", &no, Some((&yes, None)), None),
            ("scar_state", &text("past_its_edge"), None, Some(&text("past_its_edge"))),
            ("scar_state", &text("pale_and_flat"), None, None),
            // What remains for its days, and a day that only moves forward.
            ("pregnant", &yes, None, Some(&yes)),
            ("pregnant", &no, Some((&yes, None)), None),
            ("isotretinoin", &text("now"), None, Some(&text("now"))),
            ("isotretinoin", &text("never"), Some((&text("now"), None)), None),
            ("previous_pmu_on", &text("2026-03-01"), None, Some(&text("2026-03-01"))),
            (
                "previous_pmu_on",
                &text("2026-03-01"),
                Some((&text("2020-01-01"), None)),
                Some(&text("2026-03-01")),
            ),
            ("previous_pmu_on", &text("2020-01-01"), Some((&text("2026-03-01"), None)), None),
            ("fish_oil", &yes, None, None),
            ("no_question", &yes, None, None),
        ] {
            let found = noted((&rules, &freshness), brows, (question, sent), kept);
            assert_eq!(found.as_ref(), wanted, "{question}: {sent:?} beside {kept:?}");
        }
    }
}
