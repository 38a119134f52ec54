//! Laws over the short view and the client's page of any check that the rulebook makes.

use std::sync::LazyLock;

use etui_schema::appointment_checks::{AppointmentCheck, TodoItem, Who as Doer};
use etui_schema::sheets::SheetFor;
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{Address, CivilDate, Language, Verdict};
use proptest::prelude::*;
use serde_json::json;

use super::super::{CLIENT_MAX, Sheets, client};
use super::{check, read};
use crate::configuration::Model;
use crate::screening::gate::{Assessment, Visit, severity};
use crate::screening::question::Who;
use crate::screening::rulebook::Rulebook;
use crate::screening::tests::laws::{any_case, any_skin, any_visit, dice};
use crate::screening::tests::support::{ON, book};
use crate::text::sentences;

/// The rulebook and the pages with Sie and with du, and the needles, made once.
static MADE: LazyLock<([(Rulebook, Sheets); 2], Model)> = LazyLock::new(|| {
    let both = [Address::Sie, Address::Du].map(|address| {
        let sheets = Sheets::builtin().unwrap().speaking(address);
        (book().clone().speaking(address), sheets)
    });
    (both, Model::builtin().unwrap())
});

/// Most words of a sentence on a phone.
const WORDS: usize = 30;

/// What a check would say of it.
fn made(
    book: &Rulebook,
    found: &Assessment<'_>,
    visit: &Visit,
    language: Language,
) -> AppointmentCheck {
    let todo = book.todo(found, ON, visit.as_of, language).into_iter().map(|todo| TodoItem {
        key: format!("{}.{}", todo.kind.as_str(), todo.from),
        text: todo.text,
        who: if todo.who == Who::Client { Doer::Client } else { Doer::Studio }.into(),
        due: todo.due.map(CivilDate),
        late: todo.is_late,
        from: todo.from.to_string(),
    });
    let conditions = book.conditions(&found.findings, ON, language);
    let findings = found.findings.iter().zip(conditions).map(|(one, condition)| Finding {
        rule: one.rule.id.to_string(),
        verdict: one.verdict.into(),
        because: book.because(one, language).to_owned(),
        condition: Some(condition),
        short: book.short(one, ON, language),
        hold_until: one.hold_until.map(CivilDate),
        not_before: one.not_before.map(CivilDate),
        waits_for_event: one.waits_for_event,
        due: one.due.map(CivilDate),
        whom: None,
        law: one.law,
        overridden: one.overridden.map(|_| {
            let by = json!({ "rule": "r", "reason": "seen", "by_ref": "artist-1" });
            serde_json::from_value(by).unwrap()
        }),
        pack: None,
        evidence: Vec::new(),
    });
    let key = format!("check.{}", found.verdict);
    let summary = book.sentences().find(language, &key).unwrap_or("Not yet. Wait.");
    AppointmentCheck {
        on: CivilDate(ON),
        summary: summary.to_owned(),
        findings: findings.collect(),
        unanswered: found.unanswered.iter().map(|question| question.id.to_string()).collect(),
        hold_until: found.hold_until.map(CivilDate),
        not_before: found.not_before.map(CivilDate),
        ..check(language, found.verdict, todo.collect())
    }
}

/// How grave a finding is for the client: no, ask somebody first, not yet, not before a day that the
/// outcome says, or do.
fn gravity(check: &AppointmentCheck, finding: &Finding) -> u8 {
    let asks = |item: &TodoItem| item.from == finding.rule && item.key.starts_with("written_view");
    match finding.verdict.known().expect("a known word") {
        _ if finding.overridden.is_some() => 0,
        Verdict::Decline => 5,
        Verdict::Refer => 4,
        Verdict::Hold if finding.not_before.is_none() => 3,
        Verdict::ProceedWithConditions if check.todo.iter().any(asks) => 4,
        Verdict::Hold => 2,
        Verdict::ProceedWithConditions | Verdict::Incomplete => 1,
        Verdict::Proceed => 0,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(200)))]

    /// At most four sentences, each short, each once, and what is left out is no graver than what
    /// is said.
    #[test]
    fn the_client_reads_few_short_sentences_gravest_first(
        visit in any_visit(), skin in any_skin(), mut dice in dice(), is_du in any::<bool>(),
    ) {
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { return Ok(()) };
        let (book, sheets) = &MADE.0[usize::from(is_du)];
        for language in Language::ALL {
            let check = made(book, &found, &visit, *language);
            let short = sheets.summary(&check);
            prop_assert!(short.client.len() <= CLIENT_MAX, "{:?}", short.client);
            prop_assert!(sentences(&short.says).count() < 3, "{}", short.says);
            for line in &short.client {
                prop_assert!(sentences(line).count() == 1, "{line}");
                prop_assert!(line.split(' ').count() <= WORDS, "{line}");
                prop_assert!(!is_du || !line.contains(" Sie "), "{line}");
            }
            let is_said = |finding: &&Finding| {
                let said = finding.short.as_deref().unwrap_or_default().trim_end_matches('.');
                short.client.iter().any(|line| !said.is_empty() && line.starts_with(said))
            };
            let told: Vec<&Finding> = check.findings.iter().filter(is_said).collect();
            let lightest = told.iter().map(|finding| gravity(&check, finding)).min();
            let left = check.findings.iter().filter(|finding| !is_said(finding));
            // What a refusal makes idle is not told.
            let left = left.filter(|finding| {
                check.verdict != Verdict::Decline || finding.verdict == Verdict::Decline
            });
            for finding in left.filter(|finding| 1 < gravity(&check, finding)) {
                let heaviest = gravity(&check, finding);
                prop_assert!(CLIENT_MAX == short.client.len(), "{}: {:?}", finding.rule, short.client);
                prop_assert!(lightest.is_none_or(|least| heaviest <= least), "{}: {:?}", finding.rule, short.client);
            }
        }
    }

    /// What the studio or the artist is told stands on no page of the client, and what her visit
    /// waits for stands on it.
    #[test]
    fn the_clients_page_speaks_to_her_alone(
        visit in any_visit(), skin in any_skin(), mut dice in dice(),
    ) {
        let Some(found) = any_case(visit, skin.as_ref(), &mut dice) else { return Ok(()) };
        let ([(book, sheets), _], model) = &*MADE;
        for language in Language::ALL {
            let mut check = made(book, &found, &visit, *language);
            check.findings.push(Finding {
                rule: "training.not_practised".to_owned(),
                verdict: Verdict::Hold.into(),
                because: "She is a student.".to_owned(),
                condition: Some("Practise it on practice skin first.".to_owned()),
                short: None,
                hold_until: None,
                not_before: None,
                waits_for_event: true,
                due: None,
                whom: None,
                law: false,
                overridden: None,
                pack: None,
                evidence: Vec::new(),
            });
            check.summary = "Not yet. Practise it on practice skin first.".to_owned();
            if check.verdict.known().map_or(0, severity) < severity(Verdict::Hold) {
                check.verdict = Verdict::Hold.into();
            }
            let page = read(&sheets.visit(&check, SheetFor::Client, model));
            let short = sheets.summary(&check);
            let hers = [page.as_str(), &short.says].into_iter().chain(short.client.iter().map(|line| &**line));
            for text in hers {
                prop_assert!(!text.contains("ractise") && !text.contains("student"), "{text}");
            }
            let told: Vec<&TodoItem> = check.todo.iter().filter(|item| item.who == Doer::Client).collect();
            for item in check.todo.iter().filter(|item| item.who != Doer::Client) {
                let same = told.iter().any(|other| other.text == item.text);
                prop_assert!(same || !page.contains(&item.text), "{}: {page}", item.text);
            }
            for finding in &check.findings {
                let condition = finding.condition.as_deref().unwrap_or_default();
                if client::is_waiting(finding) && finding.rule != "training.not_practised" && check.verdict != Verdict::Decline {
                    prop_assert!(page.contains(condition), "{}: {condition}: {page}", finding.rule);
                } else if finding.short.is_none() && finding.overridden.is_none() && !told.iter().any(|item| item.from == finding.rule) {
                    prop_assert!(condition.is_empty() || !page.contains(condition), "{}: {page}", finding.rule);
                }
            }
        }
    }
}

/// The rules that let a client go on with a medicine are those of the book.
#[test]
fn a_medicine_that_goes_on_weighs_as_much_as_one_that_is_asked_about() {
    let on = book().all_rules().iter().filter(|rule| rule.task.is_some_and(|task| task.stays));
    assert_eq!(on.map(|rule| &*rule.id).collect::<Vec<_>>(), client::GO_ON);
}
