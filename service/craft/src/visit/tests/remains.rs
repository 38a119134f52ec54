//! What was told once, held against what is sent later.

use etui_schema::vocabulary::{Treatment, Verdict};

use super::super::record::Record;
use super::super::{State, Voices, gather};
use super::{
    Gathered, Stored, Value, ago, assess, hear, list, loaded, none, open_questions, stored, visit,
};
use crate::screening::answers::Given;
use crate::screening::gate::severity;
use crate::screening::question::{Kind, NONE_OF_THESE};

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
    let is_back = gathered.withdrawn.iter().any(|one| *one.question == *question);
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
        (Brows, "skin_infection", yes.clone(), None, &no, Came::Counts),
        (Brows, "cold_sore_active", yes.clone(), None, &no, Came::Counts),
        (Brows, "skin_in_area", one("eczema"), None, &none(), Came::Counts),
        (Brows, "skin_in_area", one("active_psoriasis"), None, &none(), Came::Counts),
        (Brows, "skin_in_area", one("fragile_skin"), None, &none(), Came::Counts),
        (Brows, "skin_in_area", one("lax_upper_lid"), None, &none(), Came::Counts),
        (Eyeliner, "eyes", one("dry_eye_or_lid_disease"), None, &none(), Came::Counts),
        (Brows, "wishes", one("worry_over_an_hour_a_day"), None, &none(), Came::Counts),
        (Brows, "wishes", one("result_must_be_perfect"), None, &none(), Came::Counts),
        (Brows, "wishes", one("pressed_by_others"), None, &none(), Came::TakenBack),
        // Of the day before; what was drunk then is not over yet.
        (Brows, "on_the_day", one("alcohol_or_drugs"), None, &none(), Came::Counts),
        (Brows, "on_the_day", one("unwell"), None, &none(), Came::Silent),
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

/// An operation, and what was injected into the face, is none of one area.
#[test]
fn an_operation_told_for_another_area_is_none_the_less_one() {
    use Treatment::{Brows, Eyeliner, Lips};
    let (no, yes) = (Value::YesNo(false), Value::YesNo(true));
    let one = |option: &str| list(&[option]);
    for (at, visited, question, value, dated, sent) in [
        (Brows, Eyeliner, "botulinum", yes, "botulinum_on", &no),
        (Lips, Brows, "recent_procedures", one("filler"), "filler_on", &none()),
        (Lips, Brows, "recent_procedures", one("facial_surgery"), "facial_surgery_on", &none()),
    ] {
        let told = [
            stored(question, value, 1, at),
            stored(dated, Value::Text("2027-03-15".to_owned()), 1, at),
        ];
        let gathered = hear(&visit(visited), &[(question, super::given(sent))], &told);
        assert_eq!(came(&gathered, question), Came::Counts, "{told:?} for {visited}");
    }
}

/// A day that was told with what counts elsewhere too is of it there: nobody is asked for it again,
/// unless there is another of the kind beside it.
#[test]
fn the_day_goes_with_what_it_is_a_day_of() {
    use Treatment::{Brows, Eyeliner, Lips};
    let (no, yes) = (Value::YesNo(false), Value::YesNo(true));
    let one = |option: &str| list(&[option]);
    for (visited, question, value, dated, sent) in [
        (Eyeliner, "botulinum", yes, "botulinum_on", &no),
        (Lips, "recent_procedures", one("filler"), "filler_on", &none()),
        (Lips, "recent_procedures", one("deep_peel"), "deep_peel_on", &none()),
        (Eyeliner, "recent_procedures", one("facial_surgery"), "facial_surgery_on", &none()),
    ] {
        let told = [
            stored(question, value.clone(), 1, Brows),
            stored(dated, Value::Text("2027-03-10".to_owned()), 1, Brows),
        ];
        let rules = |sent: &[(&str, Given<'_>)], told: &[Stored]| {
            let gathered = hear(&visit(visited), sent, told);
            let found = assess(&visit(visited), &gathered);
            let day = found.findings.iter().find_map(|one| one.not_before);
            (day, open_questions(&gathered).contains(&dated.to_owned()))
        };
        let clear = [(question, super::given(sent))];
        for sent in [&[][..], &clear] {
            let (day, is_open) = rules(sent, &told);
            assert!(day.is_some() && !is_open, "{visited}: {told:?}, then {sent:?}: {day:?}");
        }
        // Told here again, it is another one; and one that was told here has no day yet.
        let again = [(question, super::given(&value))];
        assert!(rules(&again, &told).1, "{visited}: {told:?}, then {again:?}");
        let both = [told.to_vec(), vec![stored(question, value.clone(), 2, visited)]].concat();
        assert!(rules(&[], &both).1, "{visited}: {both:?}");
    }
}

/// Hair is put in and taken where it is: a transplant on the scalp is none of the brows.
#[test]
fn a_hair_transplant_stays_where_it_was() {
    let told = [
        stored("recent_procedures", list(&["hair_transplant"]), 1, Treatment::Scalp),
        stored("hair_transplant_on", Value::Text("2027-03-01".to_owned()), 1, Treatment::Scalp),
    ];
    for (treatment, holds) in [(Treatment::Brows, false), (Treatment::Scalp, true)] {
        let found = assess(&visit(treatment), &hear(&visit(treatment), &[], &told)).findings;
        let spoke = found.iter().any(|one| *one.rule.id == *"hair_transplant");
        assert_eq!(spoke, holds, "{treatment}");
    }
}

/// What holds or refers by itself is not un-said in the minute in which it was told, whatever the
/// question: of every such answer there is a word on how long it remains. Only a line that is wanted
/// is a plan, and may be changed.
#[test]
fn nothing_that_holds_a_visit_is_un_said_in_its_minute() {
    let (book, _) = loaded();
    let mut undone = Vec::new();
    for treatment in Treatment::ALL {
        let at = visit(*treatment);
        for question in book.questions(*treatment, at.on, at.as_of) {
            let risks: Vec<(Value, Value)> = match &question.kind {
                Kind::YesNo => vec![(Value::YesNo(true), Value::YesNo(false))],
                Kind::Choices { options } => {
                    let offered = options.iter().filter(|one| one.treatments.has(*treatment));
                    let told = offered.filter(|one| &*one.id != NONE_OF_THESE);
                    told.map(|one| (list(&[&one.id]), none())).collect()
                }
                Kind::Choice { .. } | Kind::Number { .. } | Kind::Date { .. } => Vec::new(),
            };
            if question.follows.is_some() {
                continue;
            }
            for (risk, clear) in risks {
                let told = [stored(&question.id, risk.clone(), 0, *treatment)];
                let verdict = |sent: &[(&str, Given<'_>)], told: &[Stored]| {
                    let found = assess(&at, &hear(&at, sent, told));
                    let stands = |rule: &Verdict| severity(Verdict::Incomplete) < severity(*rule);
                    found
                        .findings
                        .iter()
                        .map(|one| one.verdict)
                        .filter(stands)
                        .max_by_key(|v| severity(*v))
                };
                let before = verdict(&[], &told);
                let after = verdict(&[(&*question.id, super::given(&clear))], &told);
                if before != after {
                    undone.push(format!("{treatment}: {} {risk:?}", question.id));
                }
            }
        }
    }
    assert_eq!(undone, ["eyeliner: waterline_wanted YesNo(true)"]);
}

/// A chemotherapy that was planned is under way from its day on: to know that day never makes it
/// milder than not to know it. That a course counts for a year is the project's own.
#[test]
fn a_planned_chemotherapy_whose_day_has_passed_is_one() {
    let start = |days_ago: i64| ago(days_ago).map(|day| Value::Text(day.to_string()));
    for (told_ago, starts, counts) in [
        (90, start(76), true),
        (90, start(-30), true),
        (90, start(0), true),
        (90, None, true),
        (400, start(366), true),
        (400, start(367), false),
        (366, None, true),
        (367, None, false),
    ] {
        let planned = list(&["chemotherapy_planned"]);
        let mut told = vec![stored("cancer_treatment", planned, told_ago, Treatment::Brows)];
        told.extend(
            starts.map(|day| stored("chemotherapy_starts_on", day, told_ago, Treatment::Brows)),
        );
        let none = none();
        let sent = [("cancer_treatment", super::given(&none))];
        let gathered = hear(&visit(Treatment::Brows), &sent, &told);
        let refers = assess(&visit(Treatment::Brows), &gathered).verdict == Verdict::Refer;
        assert_eq!(
            (came(&gathered, "cancer_treatment") == Came::Counts, refers),
            (counts, counts),
            "{told:?}"
        );
    }
    // A course that is told as begun, or as over, is no plan any more; a plan is no end of a course.
    for (kept, sent, rule, other) in [
        ("chemotherapy_planned", "chemotherapy_now", "chemotherapy_now", "chemotherapy_begun"),
        ("chemotherapy_now", "chemotherapy_planned", "chemotherapy_now", ""),
    ] {
        let told = [
            stored("cancer_treatment", list(&[kept]), 90, Treatment::Brows),
            stored("chemotherapy_starts_on", start(76).unwrap(), 90, Treatment::Brows),
        ];
        let sent = list(&[sent]);
        let gathered =
            hear(&visit(Treatment::Brows), &[("cancer_treatment", super::given(&sent))], &told);
        let found = assess(&visit(Treatment::Brows), &gathered);
        let spoke: Vec<&str> = found.findings.iter().map(|one| &*one.rule.id).collect();
        assert!(spoke.contains(&rule) && !spoke.contains(&other), "{kept}: {spoke:?}");
    }
}

/// What was taken back is named: of a list the option that was kept.
#[test]
fn what_was_taken_back_names_what_had_been_chosen() {
    let told = [
        stored(
            "wishes",
            list(&["pressed_by_others", "result_must_be_perfect"]),
            1,
            Treatment::Brows,
        ),
        stored("pregnant", Value::YesNo(true), 1, Treatment::Brows),
    ];
    let none = none();
    let sent = [("wishes", super::given(&none)), ("pregnant", Given::YesNo(false))];
    let gathered = hear(&visit(Treatment::Brows), &sent, &told);
    let mut back: Vec<(&str, usize)> =
        gathered.withdrawn.iter().map(|one| (&*one.question, one.options.len())).collect();
    back.sort_unstable();
    assert_eq!(back, [("pregnant", 0), ("wishes", 1)]);
}

/// What was told on the same day is not undone on it: our own.
#[test]
fn the_day_itself_is_not_told_away() {
    for option in [
        "alcohol_or_drugs",
        "cannot_decide_freely",
        "artist_doubts_wish",
        "unwell",
        "blood_given_today",
    ] {
        let told = [stored("on_the_day", list(&[option]), 0, Treatment::Brows)];
        let none = none();
        let sent = [("on_the_day", super::given(&none))];
        let gathered = hear(&visit(Treatment::Brows), &sent, &told);
        assert_eq!(came(&gathered, "on_the_day"), Came::Counts, "{option}");
    }
}

/// A risk on an area that nobody named may be one of this area: it counts and is asked, and no
/// "none" undoes it.
#[test]
fn a_risk_of_no_named_area_counts_everywhere() {
    let (yes, no) = (Value::YesNo(true), Value::YesNo(false));
    let cases = [
        ("skin_in_area", list(&["changing_spot"]), none()),
        ("skin_in_area", list(&["eczema"]), none()),
        ("cancer_treatment", list(&["radiotherapy_to_area"]), none()),
        ("recent_procedures", list(&["pigment_removal"]), none()),
        ("previous_pmu_in_area", yes.clone(), no.clone()),
        ("mole_in_area", yes, no),
    ];
    for treatment in [Treatment::Brows, Treatment::Lips, Treatment::Scalp] {
        for (question, risk, clear) in &cases {
            let unnamed = |value: &Value| {
                [Stored { treatment: None, ..stored(question, value.clone(), 1, treatment) }]
            };
            let rules = |told: &[Stored], sent: &[(&str, Given<'_>)]| {
                let gathered = hear(&visit(treatment), sent, told);
                let found = assess(&visit(treatment), &gathered);
                let rules: Vec<String> =
                    found.findings.iter().map(|it| it.rule.id.to_string()).collect();
                (rules, open_questions(&gathered), came(&gathered, question))
            };
            let named = rules(&[stored(question, risk.clone(), 1, treatment)], &[]).0;
            let (silent, open, _) = rules(&unnamed(risk), &[]);
            assert!(!named.is_empty() || *question == "previous_pmu_in_area", "{question}");
            assert!(named.iter().all(|rule| silent.contains(rule)), "{treatment} {question}");
            assert!(open.contains(&(*question).to_owned()), "{treatment} {question} is asked");
            let (sent, _, came) = rules(&unnamed(risk), &[(question, super::given(clear))]);
            assert!(
                named.iter().all(|rule| sent.contains(rule)),
                "{treatment} {question}: {sent:?}"
            );
            assert_eq!(came, Came::Counts);
            // What reassures is of the area it was asked for.
            let (_, open, _) = rules(&unnamed(clear), &[]);
            assert!(open.contains(&(*question).to_owned()), "{treatment} {question}");
        }
    }
}

/// Told again without what followed it, an answer keeps what followed; it is asked again.
#[test]
fn an_answer_told_again_keeps_what_followed_it() {
    for (parent, value, question, followed) in [
        ("immunosuppression", Value::YesNo(true), "immunosuppression_strong", Value::YesNo(true)),
        ("nickel_allergy", Value::YesNo(true), "nickel_allergy_severe", Value::YesNo(true)),
        ("skin_in_area", list(&["eczema"]), "eczema_and_cold_sores", Value::YesNo(true)),
        ("skin_in_area", list(&["scar"]), "scar_state", Value::Text("past_its_edge".to_owned())),
        ("long_term_conditions", list(&["diabetes"]), "diabetes_out_of_range", Value::YesNo(true)),
    ] {
        let told = [
            stored(parent, value.clone(), 1, Treatment::Brows),
            stored(question, followed, 1, Treatment::Brows),
        ];
        let rules = |sent: &[(&str, Given<'_>)]| {
            let gathered = hear(&visit(Treatment::Brows), sent, &told);
            let found = assess(&visit(Treatment::Brows), &gathered);
            let rules = found.findings.iter().map(|it| it.rule.id.to_string());
            (rules.collect::<Vec<String>>(), open_questions(&gathered))
        };
        let (silent, _) = rules(&[]);
        let (again, open) = rules(&[(parent, super::given(&value))]);
        assert!(silent.iter().all(|rule| again.contains(rule)), "{question}: {silent:?} {again:?}");
        assert!(open.contains(&question.to_owned()), "{question} is asked again");
    }
    // A day that says that something is over is none of what is told now.
    let told = [
        stored("skin_in_area", list(&["eczema"]), 300, Treatment::Brows),
        stored("eczema_cleared_on", Value::Text("2026-06-01".to_owned()), 200, Treatment::Brows),
    ];
    let again = list(&["eczema"]);
    let gathered = hear(&visit(Treatment::Brows), &[("skin_in_area", super::given(&again))], &told);
    let found = assess(&visit(Treatment::Brows), &gathered);
    assert_eq!(found.verdict, Verdict::Hold, "{:?}", found.findings);
}

/// What an answer says of the person is known wherever the next question is asked. That who has a
/// cold sore has had cold sores, and a scar past its edge is a keloid, is what the words mean.
#[test]
fn what_was_told_elsewhere_says_what_it_says_of_the_person() {
    use Treatment::{Areola, Brows, Lips};
    let (yes, no) = (Value::YesNo(true), Value::YesNo(false));
    let edge = Value::Text("past_its_edge".to_owned());
    for (at, question, value, visited, asked, sent) in [
        (Brows, "cold_sore_active", yes.clone(), Lips, "cold_sore_history", vec![no.clone()]),
        (Lips, "scar_state", edge.clone(), Areola, "skin_history", vec![none(), list(&["lupus"])]),
        (Lips, "scar_state", edge, Brows, "skin_history", vec![none()]),
        (Lips, "skin_in_area", list(&["active_psoriasis"]), Brows, "skin_history", vec![none()]),
    ] {
        for sent in &sent {
            let told = [stored(question, value.clone(), 100, at)];
            let gathered = hear(&visit(visited), &[(asked, super::given(sent))], &told);
            assert_eq!(came(&gathered, question), Came::Counts, "{question} on {visited}");
            let found = assess(&visit(visited), &gathered);
            let clear = hear(&visit(visited), &[(asked, super::given(sent))], &[]);
            let before = assess(&visit(visited), &clear).findings.len();
            assert!(before < found.findings.len(), "{question} on {visited}: {:?}", found.findings);
        }
    }
    let history = [stored("cold_sore_history", yes, 100, Lips)];
    let eczema = list(&["atopic_eczema"]);
    let sent = [
        ("skin_history", super::given(&eczema)),
        ("atopic_eczema_and_cold_sores", Given::YesNo(false)),
    ];
    let gathered = hear(&visit(Brows), &sent, &history);
    assert_eq!(assess(&visit(Brows), &gathered).verdict, Verdict::Refer);
}

/// Whoever was here long ago may have been elsewhere since: the day of the last work is asked, and
/// the session on record goes on counting. The days are our own.
#[test]
fn a_session_of_long_ago_does_not_answer_for_work_elsewhere() {
    let (book, freshness) = loaded();
    let (yes, no) = (
        ("previous_pmu_in_area", Given::YesNo(true)),
        ("previous_pmu_in_area", Given::YesNo(false)),
    );
    let day = ("previous_pmu_on", Given::Text("2027-03-10"));
    for (days, sent, is_open) in [
        (30, vec![], false),
        (31, vec![], true),
        (300, vec![yes], true),
        (300, vec![yes, day], false),
        (300, vec![no], false),
    ] {
        let record = Record { last_session: super::ago(days), ..Record::default() };
        let voices = Voices { sent: &sent, record, ..Voices::default() };
        let gathered = gather(book, freshness, &visit(Treatment::Brows), &voices).unwrap();
        let open = open_questions(&gathered);
        assert_eq!(open.contains(&"previous_pmu_on".to_owned()), is_open, "{days} {sent:?}");
        assert!(!open.contains(&"previous_pmu_in_area".to_owned()), "{days} {sent:?}");
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

/// A day that lay ahead when it was told is no day on which something ended: when it has come, it is
/// asked whether it did.
#[test]
fn what_was_planned_is_asked_when_its_day_has_come() {
    let brows = Treatment::Brows;
    let ended = |day: i64| Value::Text(super::ago(day).unwrap().to_string());
    for (told, day, state) in [(30, 20, State::Stale), (10, 20, State::Used)] {
        let told = [
            stored("warfarin", Value::YesNo(true), told, brows),
            stored("warfarin_ended_on", ended(day), told, brows),
        ];
        let gathered = hear(&visit(brows), &[], &told);
        assert_eq!(super::said(&gathered, "warfarin_ended_on").state, state, "{told:?}");
    }
}
