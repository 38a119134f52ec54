//! Laws over random answers.

use etui_schema::vocabulary::{
    Lab, Language, Oiliness, Phototype, Sensitivity, Skin, SkinSign, Thickness, Treatment, Verdict,
};
use jiff::Span;
use proptest::prelude::*;
use serde_json::{Map, Value, json};

use super::support::{ON, assess, book, clear, lists, visit};
use crate::screening::gate::{Assessment, Finding, Override, Visit, severity};
use crate::screening::question::{Kind, NONE_OF_THESE, Question};
use crate::text;

/// A source of choices that proptest can shrink.
#[derive(Debug, Clone)]
pub(crate) struct Dice(Vec<u32>);

impl Dice {
    pub(super) fn roll(&mut self, sides: u32) -> u32 {
        self.0.pop().unwrap_or(0) % sides
    }
}

pub(crate) fn dice() -> impl Strategy<Value = Dice> {
    proptest::collection::vec(any::<u32>(), 0..260).prop_map(Dice)
}

pub(super) fn any_treatment() -> impl Strategy<Value = Treatment> {
    proptest::sample::select(Treatment::ALL)
}

fn some<T: Copy + std::fmt::Debug + 'static>(
    all: &'static [T],
) -> impl Strategy<Value = Option<T>> {
    proptest::option::of(proptest::sample::select(all))
}

/// A skin as it is told: typed, measured, judged, looked at, or some of it.
pub(crate) fn any_skin() -> impl Strategy<Value = Option<Skin>> {
    let lab = (15.0..90.0, 0.0..25.0, 2.0..35.0).prop_map(|(l, a, b)| Lab { l, a, b });
    let judged = (some(Oiliness::ALL), some(Thickness::ALL), some(Sensitivity::ALL));
    let seen = proptest::sample::subsequence(SkinSign::ALL, 0..3);
    let typed = (some(Phototype::ALL), proptest::option::of(lab));
    let skin = (proptest::option::of(18_u8..90), typed, judged, seen);
    proptest::option::of(skin.prop_map(|(age_years, (phototype, lab), judged, signs)| {
        let (oiliness, thickness, sensitivity) = judged;
        Skin { age_years, phototype, lab, oiliness, thickness, sensitivity, signs }
    }))
}

/// Somebody of any age on [`ON`], seen up to two months before, in any country.
pub(crate) fn any_visit() -> impl Strategy<Value = Visit> {
    let country = proptest::option::of(proptest::sample::select(vec!["GB", "AT", "DE", "US"]));
    let days = (0_i64..60, -1_i64..2, 14_i64 * 365..90 * 365);
    (any_treatment(), days, country).prop_map(|(treatment, (ahead, shift, lived), country)| {
        let days = |days| Span::new().days(days);
        Visit {
            treatment,
            on: ON,
            on_in_studio: ON.saturating_add(days(shift)),
            as_of: ON.saturating_sub(days(ahead)),
            born_on: ON.saturating_sub(days(lived)),
            country: country.map(|code| code.parse().unwrap()),
        }
    })
}

/// Somebody answers for some of what spoke, where anybody may.
fn answered_for(found: &Assessment<'_>, dice: &mut Dice) -> Vec<Override> {
    let open = found.findings.iter().filter(|finding| !finding.rule.firm);
    let some = open.filter(|_| dice.roll(6) == 1);
    some.map(|finding| Override {
        rule: finding.rule.id.to_string(),
        reason: "a written view".to_owned(),
        by_ref: "artist-1".parse().unwrap(),
    })
    .collect()
}

/// A whole case, as a caller may send it.
pub(crate) fn any_case(
    visit: Visit,
    skin: Option<&Skin>,
    dice: &mut Dice,
) -> Option<Assessment<'static>> {
    let mut given = answers(&Visit { as_of: ON, ..visit }, dice, dice.clone().roll(2) == 1);
    given.retain(|id, _| visit.as_of == ON || id != "on_the_day");
    // A day after `as_of` is refused for what has ended; that is no case here.
    let first = assess(book(), visit, &given, skin, &[]).ok()?;
    assess(book(), visit, &given, skin, &answered_for(&first, dice)).ok()
}

/// Some answer to a question that is not the clear one; most rolls leave a
/// question clear, as most clients do.
fn risky(question: &Question, visit: &Visit, dice: &mut Dice) -> Value {
    match &question.kind {
        Kind::YesNo => json!(true),
        Kind::Choice { options, .. } => {
            let at = dice.roll(u32::try_from(options.len()).unwrap());
            json!(&*options[at as usize].id)
        }
        Kind::Choices { options } => {
            let offered: Vec<&str> = options
                .iter()
                .filter(|option| {
                    option.treatments.has(visit.treatment) && &*option.id != NONE_OF_THESE
                })
                .map(|option| &*option.id)
                .collect();
            let chosen: Vec<&str> = offered.iter().copied().filter(|_| dice.roll(4) == 0).collect();
            if chosen.is_empty() { json!([offered[0]]) } else { json!(chosen) }
        }
        Kind::Date { .. } => {
            let days = i64::from(dice.roll(500));
            json!(visit.on.saturating_sub(Span::new().days(days)).to_string())
        }
        Kind::Number { min, max, .. } => {
            json!(min + (max - min) * f64::from(dice.roll(101)) / 100.0)
        }
    }
}

/// Whether a follow-up is asked under these answers.
fn is_asked(question: &Question, answers: &Map<String, Value>, treatment: Treatment) -> bool {
    let Some(follows) = question.follows else { return true };
    let parent = &book().all_questions()[follows.question];
    let leading = book().leading_options(question, treatment);
    match answers.get(&*parent.id) {
        Some(Value::Bool(yes)) => *yes,
        Some(Value::String(id)) => leading.contains(&id.as_str()),
        Some(Value::Array(ids)) => {
            ids.iter().any(|id| id.as_str().is_some_and(|id| leading.contains(&id)))
        }
        _ => false,
    }
}

/// Answers to everything that is asked, with risks as the dice fall; a roll of
/// `gap` leaves one out.
pub(super) fn answers(visit: &Visit, dice: &mut Dice, gap: bool) -> Map<String, Value> {
    let mut answers = clear(book(), visit);
    for question in book().questions(visit.treatment, visit.on, visit.today()) {
        if !is_asked(question, &answers, visit.treatment) {
            continue;
        }
        let risk = if question.follows.is_some() { 2 } else { 6 };
        if dice.roll(risk) == 1 {
            answers.insert(question.id.to_string(), risky(question, visit, dice));
        } else if let Some(clear) = question.clear_answer() {
            answers.insert(question.id.to_string(), clear);
        }
        if gap && dice.roll(12) == 1 {
            answers.remove(&*question.id);
        }
    }
    answers
}

pub(super) fn judged(
    visit: Visit,
    answers: &Map<String, Value>,
    skin: Option<&Skin>,
) -> Assessment<'static> {
    assess(book(), visit, answers, skin, &[])
        .unwrap_or_else(|faults| panic!("{answers:?}: {faults:?}"))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(400)))]

    #[test]
    fn the_order_of_answers_never_matters(
        treatment in any_treatment(), mut dice in dice(), skin in any_skin(), turn in any::<u32>(),
    ) {
        let visit = visit(treatment);
        let given = answers(&visit, &mut dice, true);
        let lists = lists(&given);
        let mut pairs: Vec<_> = super::support::given(&lists).collect();
        let turn = turn as usize % pairs.len().max(1);
        pairs.rotate_left(turn);
        pairs.reverse();
        let read = crate::screening::answers::Answers::read(book(), &visit, pairs).unwrap();
        let case = crate::screening::gate::Case { visit, answers: &read, skin: skin.as_ref(), overrides: &[] };
        prop_assert_eq!(book().assess(&case).unwrap(), judged(visit, &given, skin.as_ref()));
    }

    #[test]
    fn a_risk_more_never_softens_the_verdict_nor_lowers_the_score(
        treatment in any_treatment(), mut dice in dice(), skin in any_skin(), pick in any::<u32>(),
    ) {
        let visit = visit(treatment);
        let before = answers(&visit, &mut dice, true);
        let asked: Vec<&Question> = book()
            .questions(treatment, ON, ON)
            .filter(|question| question.follows.is_none())
            .filter(|question| before.get(&*question.id) == question.clear_answer().as_ref())
            .collect();
        prop_assume!(!asked.is_empty());
        let question = asked[pick as usize % asked.len()];
        let mut after = before.clone();
        after.insert(question.id.to_string(), risky(question, &visit, &mut dice));
        let (before, after) = (judged(visit, &before, skin.as_ref()), judged(visit, &after, skin.as_ref()));
        prop_assert!(severity(before.verdict) <= severity(after.verdict), "{}", question.id);
        prop_assert!(before.score.points <= after.score.points, "{}", question.id);
        prop_assert!(before.not_before <= after.not_before, "{}", question.id);
    }

    #[test]
    fn one_option_more_never_softens_either(
        treatment in any_treatment(), mut dice in dice(), pick in any::<u32>(),
    ) {
        let visit = visit(treatment);
        let before = answers(&visit, &mut dice, false);
        let several: Vec<&Question> = book()
            .questions(treatment, ON, ON)
            .filter(|question| matches!(question.kind, Kind::Choices { .. }))
            .collect();
        let question = several[pick as usize % several.len()];
        let offered: Vec<&str> = question
            .kind
            .options()
            .iter()
            .filter(|option| option.treatments.has(treatment) && &*option.id != NONE_OF_THESE)
            .map(|option| &*option.id)
            .collect();
        let more = offered[pick as usize / 7 % offered.len()];
        let mut chosen: Vec<Value> = before[&*question.id].as_array().cloned().unwrap();
        chosen.retain(|id| id != NONE_OF_THESE && id != more);
        chosen.push(json!(more));
        let mut after = before.clone();
        after.insert(question.id.to_string(), Value::Array(chosen));
        let (before, after) = (judged(visit, &before, None), judged(visit, &after, None));
        prop_assert!(severity(before.verdict) <= severity(after.verdict), "{more}");
        prop_assert!(before.score.points <= after.score.points, "{more}");
    }

    #[test]
    fn unknown_is_never_better_than_the_clear_answer(
        treatment in any_treatment(), mut dice in dice(), skin in any_skin(), pick in any::<u32>(),
    ) {
        let visit = visit(treatment);
        let known = answers(&visit, &mut dice, true);
        let clear: Vec<&Question> = book()
            .questions(treatment, ON, ON)
            .filter(|question| known.contains_key(&*question.id))
            .filter(|question| known.get(&*question.id) == question.clear_answer().as_ref())
            .collect();
        prop_assume!(!clear.is_empty());
        let question = clear[pick as usize % clear.len()];
        let mut unknown = known.clone();
        unknown.remove(&*question.id);
        let (known, unknown) = (judged(visit, &known, skin.as_ref()), judged(visit, &unknown, skin.as_ref()));
        prop_assert!(severity(known.verdict) <= severity(unknown.verdict), "{}", question.id);
        prop_assert!(known.score.points <= unknown.score.points);
        prop_assert!(known.score.at_most <= unknown.score.at_most, "{}", question.id);
        if !question.optional {
            prop_assert!(unknown.verdict != Verdict::Proceed && unknown.verdict != Verdict::ProceedWithConditions);
        }
    }

    #[test]
    fn a_day_nearer_to_the_treatment_never_softens(
        treatment in any_treatment(), mut dice in dice(), nearer in 1_i64..400,
    ) {
        let visit = visit(treatment);
        let before = answers(&visit, &mut dice, false);
        for (id, value) in &before {
            let question = book().all_questions().iter().find(|question| *question.id == **id).unwrap();
            // A later day is nearer, and so the worse one, for all that is past.
            if !matches!(question.kind, Kind::Date { .. }) || *question.id == *"chemotherapy_starts_on" {
                continue;
            }
            let day = super::support::day(value.as_str().unwrap());
            let mut after = before.clone();
            let later = day.saturating_add(Span::new().days(nearer)).min(ON);
            after.insert(id.clone(), json!(later.to_string()));
            let (before, after) = (judged(visit, &before, None), judged(visit, &after, None));
            prop_assert!(severity(before.verdict) <= severity(after.verdict), "{id}");
            prop_assert!(before.score.points <= after.score.points, "{id}");
        }
    }

    #[test]
    fn a_day_told_later_never_brings_the_visit_nearer(
        treatment in any_treatment(), mut dice in dice(), ahead in 0_i64..60, later in 1_i64..400,
    ) {
        let as_of = ON.saturating_sub(Span::new().days(ahead));
        let visit = Visit { as_of, ..visit(treatment) };
        let mut given = answers(&Visit { as_of: ON, ..visit }, &mut dice, false);
        given.retain(|id, _| as_of == ON || id != "on_the_day");
        let Ok(before) = assess(book(), visit, &given, None, &[]) else { return Ok(()) };
        for (id, value) in &given {
            let question = book().all_questions().iter().find(|question| *question.id == **id).unwrap();
            // A day ahead that is no wait is the worse one the nearer it is.
            if !matches!(question.kind, Kind::Date { .. }) || *question.id == *"chemotherapy_starts_on" {
                continue;
            }
            let day = super::support::day(value.as_str().unwrap());
            let later = day.saturating_add(Span::new().days(later)).min(ON);
            let mut moved = given.clone();
            moved.insert(id.clone(), json!(later.to_string()));
            // What has ended has not ended on a day to come.
            let Ok(after) = assess(book(), visit, &moved, None, &[]) else { continue };
            prop_assert!(severity(before.verdict) <= severity(after.verdict), "{id} {day} {later}");
            prop_assert!(before.not_before <= after.not_before, "{id} {day} {later}");
        }
    }

    #[test]
    fn a_hold_never_ends_before_the_day_it_stands_against(
        treatment in any_treatment(), mut dice in dice(), ahead in 0_i64..60,
    ) {
        let as_of = ON.saturating_sub(Span::new().days(ahead));
        let visit = Visit { as_of, ..visit(treatment) };
        let on_the_day = Visit { as_of: ON, ..visit };
        let given = answers(&on_the_day, &mut dice, true);
        // Days after `as_of` are refused for what has ended; that is no case here.
        let Ok(found) = assess(book(), visit, &given, None, &[]) else { return Ok(()) };
        for finding in &found.findings {
            prop_assert!(finding.hold_until.is_none_or(|until| ON < until), "{}", finding.rule.id);
            // Words that wait for something beside the day stand where the day is none to book.
            let said = book().until(finding, Language::En);
            prop_assert!(finding.hold_until.is_none() || !said.contains("not before"), "{}", said);
            prop_assert!(finding.due.is_none_or(|due| as_of <= due && due <= ON), "{}", finding.rule.id);
        }
        if found.verdict == Verdict::Hold {
            prop_assert!(found.waits_for_event || found.hold_until.is_some_and(|until| ON < until));
        }
        let standing = found.findings.iter().map(|finding| severity(finding.verdict)).max().unwrap_or(0);
        prop_assert!(standing <= severity(found.verdict));
    }

    /// Two findings ask for the same in words that say of what each speaks, and what one of them
    /// says short is one sentence.
    #[test]
    fn no_two_findings_say_the_same(visit in any_visit(), skin in any_skin(), mut dice in dice()) {
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { return Ok(()) };
        for language in Language::ALL {
            let said = book().conditions(&found.findings, ON, *language);
            for (at, one) in said.iter().enumerate() {
                let twice = said.iter().skip(at + 1).any(|other| other == one);
                prop_assert!(!twice || one.is_empty(), "{}: {one}", found.findings[at].rule.id);
            }
            for finding in &found.findings {
                let short = book().short(finding, ON, *language).unwrap_or_default();
                prop_assert!(!short.contains('{'), "{}: {short}", finding.rule.id);
                prop_assert!(text::sentences(&short).count() < 2, "{}: {short}", finding.rule.id);
            }
        }
    }

    /// Pregnant and on antibiotics: who is told of the fortnight alone comes after it. Each hold is
    /// named by what it is about, none but the last to end says that a visit is possible then, and the client
    /// has a line for each that no day ends.
    #[test]
    fn every_hold_that_stands_is_told_under_what_it_is_about(
        visit in any_visit(), skin in any_skin(), mut dice in dice(),
    ) {
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { return Ok(()) };
        let holds = || found.findings.iter().filter(|one| one.verdict == Verdict::Hold && one.overridden.is_none());
        for language in Language::ALL {
            let said = book().waits(&found.findings, ON, *language);
            prop_assert_eq!(said.len(), holds().count());
            let list = book().todo(&found, ON, visit.as_of, *language);
            // Only the day on which the last of them ends is one to come on, if each has one.
            let possible = |one: &String| {
                ["visit is possible", "Termin ist möglich"].iter().any(|part| one.contains(part))
            };
            prop_assert!(!said.iter().skip(1).any(possible), "{:?}", said);
            let is_open = holds().any(|one| one.waits_for_event);
            let is_beside = is_open && 1 < said.len();
            prop_assert!(!is_beside || !said.iter().any(possible), "{:?}", said);
            for finding in holds() {
                let topic = book().sentences().get(*language, finding.rule.keys.topic.as_deref().unwrap());
                prop_assert!(said.iter().any(|one| one.starts_with(topic)), "{topic}: {:?}", said);
                let mut lines = list.iter().filter(|todo| todo.from == finding.rule.id);
                let is_told = lines.any(|todo| todo.who.as_str() == "client" && todo.text.starts_with(topic));
                prop_assert!(is_told || !finding.waits_for_event || found.verdict == Verdict::Decline, "{topic}: {:?}", list);
            }
        }
    }

    /// Pregnant and a filler: the filler's day is none on which she may come. Nor is any day while
    /// somebody has to be asked, or a question is open.
    #[test]
    fn no_day_is_told_to_come_on_while_something_without_one_is_open(
        visit in any_visit(), skin in any_skin(), mut dice in dice(),
    ) {
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { return Ok(()) };
        let is_open = |finding: &Finding<'_>| {
            let asks = matches!(finding.verdict, Verdict::Refer | Verdict::Decline);
            finding.overridden.is_none() && (finding.waits_for_event || asks)
        };
        let beside = |rule: &str| {
            let mut others = found.findings.iter().filter(|other| &*other.rule.id != rule);
            !found.unanswered.is_empty() || others.any(&is_open)
        };
        let anything = !found.unanswered.is_empty() || found.findings.iter().any(is_open);
        prop_assert!(!anything || found.hold_until.is_none());
        prop_assert!(found.not_before.is_none() || found.waits_for_event == anything);
        for finding in &found.findings {
            prop_assert!(!beside(&finding.rule.id) || finding.hold_until.is_none());
        }
        let comes = |finding: &Finding<'_>| finding.not_before.or(finding.tells.filter(|_| &*finding.rule.id == "under_18"));
        for (language, not_before, tail) in [
            (Language::En, "not before ", "counts too"),
            (Language::De, "frühestens am ", "es zählt auch"),
        ] {
            let days: Vec<String> = found.findings.iter().filter_map(comes).map(|day| text::day(language, day)).collect();
            let of_findings = found.findings.iter().map(|finding| (finding.rule.id.to_string(), book().condition(finding, ON, language)));
            let list = book().todo(&found, ON, visit.as_of, language);
            for todo in &list {
                prop_assert!(!anything || todo.kind.as_str() != "rebook" || todo.due.is_none(), "{todo:?}");
            }
            let said = of_findings.chain(list.into_iter().map(|todo| (todo.from.to_string(), todo.text)));
            for (rule, said) in said.filter(|(rule, _)| beside(rule)) {
                // 5 April stands within 15 April.
                let is_whole = |at: &usize| !said[..*at].ends_with(|c: char| c.is_ascii_digit());
                let places = days.iter().flat_map(|day| said.match_indices(&**day)).map(|(at, _)| at);
                for at in places.filter(is_whole) {
                    let until = ["until ", "is zum ", "by ", "bis "].iter().any(|word| said[..at].ends_with(word));
                    let held = said[..at].ends_with(not_before) && said.contains(tail);
                    prop_assert!(until || held, "{rule}: {said}");
                }
            }
        }
    }

    #[test]
    fn the_parts_of_a_score_add_up(
        treatment in any_treatment(), mut dice in dice(), skin in any_skin(),
    ) {
        let visit = visit(treatment);
        let score = judged(visit, &answers(&visit, &mut dice, true), skin.as_ref()).score;
        let counted: u16 = score.contributions.iter().map(|given| given.counted).sum();
        let shared: u16 = score.evidence_share.iter().map(|(_, points)| points).sum();
        prop_assert_eq!((counted, shared), (score.points, score.points));
        prop_assert!(score.points <= score.at_most);
        let bands = book().bands();
        let band = |points| crate::screening::score::band(bands, points);
        prop_assert_eq!(score.band.is_some(), band(score.points) == band(score.at_most));
    }

    #[test]
    fn no_answers_at_all_bring_it_down(
        treatment in any_treatment(), id in ".{0,20}", text in ".{0,20}", number in any::<f64>(),
        ids in proptest::collection::vec(".{0,12}", 0..4), pick in any::<u32>(),
    ) {
        let visit = visit(treatment);
        let questions = book().all_questions();
        let known = questions[pick as usize % questions.len()].id.to_string();
        for value in [json!(text), json!(number), json!(ids), json!({}), json!([[]])] {
            let mut answers = Map::new();
            answers.insert(id.clone(), value.clone());
            answers.insert(known.clone(), value);
            let _ = assess(book(), visit, &answers, None, &[]);
        }
    }
}

/// What the laws draw of a request, member by member: with a new one this does not compile until
/// somebody has decided. What is not drawn says why.
#[test]
fn the_laws_draw_every_member_that_a_screening_hears() {
    use std::collections::BTreeSet;

    use etui_schema::appointment_checks::AppointmentCheckRequest;
    use etui_schema::skin_assessments::SkinAssessmentRequest;
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;

    let named: &[&str] = &[
        "treatment",
        "on_in_studio",
        "as_of",
        "born_on",
        "country",
        "answers",
        "overrides",
        "age_years",
        "phototype",
        "lab",
        "oiliness",
        "thickness",
        "sensitivity",
        "signs",
    ];
    let mut drawn = BTreeSet::new();
    let mut runner = TestRunner::deterministic();
    for _ in 0..200 {
        let visit = any_visit().new_tree(&mut runner).unwrap().current();
        let skin = any_skin().new_tree(&mut runner).unwrap().current();
        let mut dice = dice().new_tree(&mut runner).unwrap().current();
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { continue };
        let Visit { treatment, on: _, on_in_studio, as_of, born_on: _, country } = visit;
        let is_told = |told: bool, name: &'static str| told.then_some(name);
        drawn.extend(is_told(treatment != Treatment::Brows, "treatment"));
        drawn.extend(is_told(on_in_studio != ON, "on_in_studio"));
        drawn.extend(is_told(as_of != ON, "as_of"));
        drawn.extend(is_told(found.findings.iter().any(|f| &*f.rule.id == "under_18"), "born_on"));
        drawn.extend(is_told(country.is_some(), "country"));
        drawn.extend(is_told(!found.findings.is_empty(), "answers"));
        drawn.extend(is_told(found.findings.iter().any(|f| f.overridden.is_some()), "overrides"));
        let Skin { age_years, phototype, lab, oiliness, thickness, sensitivity, signs } =
            skin.unwrap_or_default();
        drawn.extend(is_told(age_years.is_some(), "age_years"));
        drawn.extend(is_told(phototype.is_some(), "phototype"));
        drawn.extend(is_told(lab.is_some(), "lab"));
        drawn.extend(is_told(oiliness.is_some(), "oiliness"));
        drawn.extend(is_told(thickness.is_some(), "thickness"));
        drawn.extend(is_told(sensitivity.is_some(), "sensitivity"));
        drawn.extend(is_told(!signs.is_empty(), "signs"));
    }
    let missing: Vec<&&str> = named.iter().filter(|name| !drawn.contains(**name)).collect();
    assert!(missing.is_empty(), "never drawn: {missing:?}");

    // `on` stands still: every day that is told is drawn in front of it.
    let _ = |request: SkinAssessmentRequest| {
        let SkinAssessmentRequest {
            treatment: _,
            on: _,
            born_on: _,
            as_of: _,
            answers: _,
            skin: _,
            overrides: _,
        } = request;
    };
    let _ = |request: AppointmentCheckRequest| {
        let AppointmentCheckRequest {
            treatment: _,
            born_on: _,
            answers: _,
            skin: _,
            overrides: _,
            // The day, and the studio's, of the visit that is drawn.
            starts_at: _,
            zone: _,
            // What is kept under it is drawn by the laws of the visit.
            client_ref: _,
            // Names only.
            booking_ref: _,
            // Nothing of them reaches the rules: needles, hand and machine.
            effect: _,
            artist_ref: _,
            machine_ref: _,
            setting: _,
            candidates: _,
            limit: _,
            // Judged beside the rules; `materials` has their table.
            patch_test: _,
            pigments: _,
            branch_ref: _,
        } = request;
    };
}
