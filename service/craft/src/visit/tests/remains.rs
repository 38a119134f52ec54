//! What was told once, held against what is sent later.

use etui_schema::vocabulary::Treatment;

use super::super::State;
use super::{Gathered, Value, hear, list, loaded, none, open_questions, stored, visit};
use crate::screening::answers::Given;
use crate::screening::question::Kind;

/// What became of a kept answer.
#[derive(Debug, PartialEq)]
enum Came {
    Counts,
    TakenBack,
    Silent,
}

fn came(gathered: &Gathered, question: &str) -> Came {
    let contradicts = |one: &super::Heard| one.state == State::Contradicts;
    if gathered.heard.iter().any(|one| *one.question == *question && contradicts(one)) {
        return Came::Counts;
    }
    let is_back = gathered.withdrawn.iter().any(|one| **one == *question);
    if is_back { Came::TakenBack } else { Came::Silent }
}

/// Which past events remain and which may have ended: our own. The visit is on 18 March 2027.
#[test]
fn a_told_event_is_not_undone_by_a_later_no() {
    use Treatment::{Areola, Brows, Eyeliner};
    let (no, yes) = (Value::YesNo(false), Value::YesNo(true));
    let one = |option: &str| list(&[option]);
    for (treatment, question, value, day, sent, expected) in [
        (Brows, "botulinum", yes.clone(), Some(("botulinum_on", "2027-03-17")), &no, Came::Counts),
        (Brows, "botulinum", yes.clone(), Some(("botulinum_on", "2024-05-01")), &no, Came::Silent),
        (
            Brows,
            "previous_pmu_in_area",
            yes.clone(),
            Some(("previous_pmu_on", "2027-03-10")),
            &no,
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("filler"),
            Some(("filler_on", "2027-03-10")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("surgery_or_anaesthetic"),
            Some(("surgery_on", "2027-03-10")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("pigment_removal"),
            Some(("pigment_removal_on", "2027-03-01")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("deep_peel"),
            Some(("deep_peel_on", "2027-02-01")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("hair_transplant"),
            Some(("hair_transplant_on", "2026-10-01")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "recent_procedures",
            one("hair_transplant"),
            Some(("hair_transplant_on", "2025-10-01")),
            &none(),
            Came::Silent,
        ),
        (
            Brows,
            "recent_on_area",
            one("sunburn"),
            Some(("sunburn_on", "2027-03-10")),
            &none(),
            Came::Counts,
        ),
        (
            Brows,
            "warfarin",
            yes.clone(),
            Some(("warfarin_ended_on", "2027-03-17")),
            &no,
            Came::Counts,
        ),
        (
            Brows,
            "skin_in_area",
            one("scar"),
            Some(("scar_since", "2026-11-01")),
            &none(),
            Came::Counts,
        ),
        (Brows, "skin_in_area", one("changing_spot"), None, &none(), Came::Counts),
        (
            Eyeliner,
            "eyes",
            one("eye_surgery"),
            Some(("eye_surgery_on", "2027-03-01")),
            &none(),
            Came::Counts,
        ),
        (
            Areola,
            "skin_in_area",
            one("breast_surgery_scar"),
            Some(("breast_surgery_on", "2027-03-01")),
            &none(),
            Came::Counts,
        ),
        (Areola, "skin_in_area", one("new_breast_signs"), None, &none(), Came::Counts),
        (Brows, "immunosuppression", yes.clone(), None, &no, Came::Counts),
        (Brows, "pregnant", yes.clone(), None, &no, Came::TakenBack),
        (Brows, "breastfeeding", yes.clone(), None, &no, Came::TakenBack),
        (Brows, "skin_infection", yes.clone(), None, &no, Came::TakenBack),
        (Brows, "skin_in_area", one("eczema"), None, &none(), Came::TakenBack),
        (Brows, "pregnant", no.clone(), None, &yes, Came::Silent),
    ] {
        let mut told = vec![stored(question, value, 1, treatment)];
        let dated = day.map(|(id, day)| stored(id, Value::Text(day.to_owned()), 1, treatment));
        told.extend(dated);
        let sent = [(question, super::given(sent))];
        let gathered = hear(&visit(treatment), &sent, &told);
        assert_eq!(came(&gathered, question), expected, "{told:?}, then {sent:?}");
        if let (Came::Counts, Some((id, _))) = (&expected, day) {
            assert!(!open_questions(&gathered).contains(&id.to_owned()), "{id} is known");
        }
    }
}

/// A last event only moves forward, and severity is not taken back.
#[test]
fn a_last_event_only_moves_forward() {
    let brows = Treatment::Brows;
    let old = Given::Text("2019-01-01");
    let yes = Value::YesNo(true);
    for (parent, value, question, kept) in [
        ("long_term_conditions", list(&["epilepsy"]), "epilepsy_last_fit_on", "2026-10-01"),
        ("skin_history", list(&["lupus"]), "lupus_last_flare_on", "2026-10-01"),
        ("skin_history", list(&["vitiligo"]), "vitiligo_last_change_on", "2026-10-01"),
        ("botulinum", yes.clone(), "botulinum_on", "2027-03-17"),
        ("previous_pmu_in_area", yes.clone(), "previous_pmu_on", "2027-03-10"),
        ("recent_procedures", list(&["filler"]), "filler_on", "2027-03-10"),
        ("skin_in_area", list(&["scar"]), "scar_since", "2026-11-01"),
        ("warfarin", yes.clone(), "warfarin_ended_on", "2027-03-17"),
        (
            "cancer_treatment",
            list(&["chemotherapy_past_year"]),
            "chemotherapy_ended_on",
            "2027-03-01",
        ),
    ] {
        let told = [
            stored(parent, value.clone(), 1, brows),
            stored(question, Value::Text(kept.to_owned()), 1, brows),
        ];
        let sent = [(parent, super::given(&value)), (question, old)];
        let gathered = hear(&visit(brows), &sent, &told);
        assert_eq!(came(&gathered, question), Came::Counts, "{question}");
        let newer = [(parent, super::given(&value)), (question, Given::Text("2027-03-18"))];
        let gathered = hear(&visit(brows), &newer, &told);
        assert_eq!(came(&gathered, question), Came::Silent, "{question} moved forward");
    }
    let severe = [
        stored("nickel_allergy", yes.clone(), 1, brows),
        stored("nickel_allergy_severe", yes, 1, brows),
    ];
    let sent =
        [("nickel_allergy", Given::YesNo(true)), ("nickel_allergy_severe", Given::YesNo(false))];
    let gathered = hear(&visit(brows), &sent, &severe);
    assert_eq!(came(&gathered, "nickel_allergy_severe"), Came::Counts);
    let now = [stored("isotretinoin", Value::Text("now".to_owned()), 1, brows)];
    for (stopped, expected) in [("2019-01-01", Came::Counts), ("2027-03-17", Came::Silent)] {
        let sent = [
            ("isotretinoin", Given::Text("stopped")),
            ("isotretinoin_stopped_on", Given::Text(stopped)),
        ];
        let gathered = hear(&visit(brows), &sent, &now);
        assert_eq!(came(&gathered, "isotretinoin"), expected, "{stopped}");
    }
}

/// An old yes is asked again, and its day goes on counting.
#[test]
fn an_old_event_does_not_close_its_question() {
    let brows = Treatment::Brows;
    for (parent, question, last) in
        [("botulinum", "botulinum_on", 14), ("previous_pmu_in_area", "previous_pmu_on", 30)]
    {
        for (days, is_open) in [(last, false), (last + 1, true)] {
            let told = [
                stored(parent, Value::YesNo(true), days, brows),
                stored(question, Value::Text("2024-05-01".to_owned()), days, brows),
            ];
            let gathered = hear(&visit(brows), &[], &told);
            let open = open_questions(&gathered);
            assert_eq!(open.contains(&parent.to_owned()), is_open, "{parent} {days}");
            assert!(!open.contains(&question.to_owned()), "{question} {days}");
        }
    }
}

/// Every day that says when something was last so is one of those that only move forward: all but
/// the planned begin of a treatment.
#[test]
fn every_day_moves_forward() {
    let (book, freshness) = loaded();
    let days = book.all_questions().iter().filter(|q| matches!(q.kind, Kind::Date { .. }));
    let left: Vec<&str> = days
        .map(|question| &*question.id)
        .filter(|id| !freshness.remains().any(|row| row.question(id)))
        .collect();
    assert_eq!(left, ["chemotherapy_starts_on"]);
}
