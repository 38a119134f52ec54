//! A service that is newer than its client: one more member in each object that has a type, one
//! word that the client does not know in each open list.

use std::collections::{BTreeMap, BTreeSet};

use etui_client::{Error, Newer, read_answer};
use etui_schema::problem::{ErrorCode, Problem};
use etui_tests::document::{Document, members};
use etui_tests::tour::Tour;
use serde_json::{Value, json};

type Reads = fn(&[u8]) -> Result<(), Error>;
/// Reads with every new word standing for the first that is known there.
type ReadsAs = fn(&Newer) -> bool;

macro_rules! reads {
    ($($id:literal => $type:ty),+ $(,)?) => {
        [$((
            $id,
            (|body| read_answer::<$type>(200, body).map(drop)) as Reads,
            (|newer| newer.read::<$type>(|word| word.known.first().cloned()).is_some()) as ReadsAs,
        )),+]
    };
}

/// One answer of each kind that has words in it.
fn table() -> Vec<(&'static str, Reads, ReadsAs)> {
    use etui_schema::{
        aftercare_plans, amendments, appointment_checks, artists, calendars, clients,
        configuration_comparisons, deliveries, dossiers, drills, events, hand_profiles,
        label_readings, lots, needle_selections, packs, page::Page, plugins, recalls, reminders,
        retention, reviews, screening_questions, service, sheets, sign_offs, skin_assessments,
        skin_typing, subscriptions, symptom_reports, treatments,
    };
    reads![
        "make_aftercare_plan" => aftercare_plans::AftercarePlan,
        "amend_treatment" => amendments::Amendment,
        "create_appointment_check" => appointment_checks::AppointmentCheck,
        "list_appointment_checks" => Page<appointment_checks::CheckRow>,
        "put_artist" => artists::Artist,
        "open_calendar" => calendars::CalendarFeed,
        "get_client" => clients::Client,
        "compare_configurations" => configuration_comparisons::ConfigurationComparison,
        "confirm_lots" => deliveries::Confirmation,
        "receive_delivery" => deliveries::LotDelivery,
        "get_supplier_habit" => deliveries::HabitAsStored,
        "get_dossier" => dossiers::Dossier,
        "make_drills" => drills::Drills,
        "list_events" => events::EventPage,
        "get_hand_profile" => hand_profiles::HandProfile,
        "read_labels" => label_readings::LabelReadings,
        "adjust_lot" => lots::Lot,
        "select_needles" => needle_selections::NeedleSelection,
        "list_packs" => Page<packs::PackRow>,
        "register_plugin" => plugins::Plugin,
        "issue_plugin_token" => plugins::PluginToken,
        "recall_lot" => recalls::RecallReport,
        "claim_reminders" => reminders::ReminderClaim,
        "report_reminder" => reminders::OutcomeReceipt,
        "get_retention" => retention::RetentionReport,
        "record_review" => reviews::Review,
        "list_screening_questions" => screening_questions::ScreeningQuestions,
        "list_problems" => service::ProblemKinds,
        "get_readiness" => service::Health,
        "list_sources" => service::Sources,
        "get_check_summary" => sheets::CheckSummary,
        "give_sign_off" => sign_offs::SignOff,
        "create_skin_assessment" => skin_assessments::SkinAssessment,
        "create_phototype_score" => skin_typing::PhototypeAnswer,
        "create_subscription" => subscriptions::Subscription,
        "redeliver_event" => subscriptions::Delivery,
        "judge_symptom_report" => symptom_reports::SymptomReport,
        "keep_symptom_report" => symptom_reports::KeptSymptomReport,
        "record_treatment" => treatments::TreatmentRecord,
        "record_observation" => treatments::Observation,
    ]
    .into()
}

/// Where in a value the words of open lists stand, each with the name of its list, and where its
/// objects are that have a type.
#[derive(Default)]
struct Found {
    words: Vec<(String, String)>,
    objects: Vec<String>,
}

impl Found {
    fn walk(&mut self, schemas: &Value, schema: &Value, name: &str, value: &Value, at: &str) {
        if let Some(target) = schema["$ref"].as_str() {
            let name = target.rsplit('/').next().unwrap_or_default();
            return self.walk(schemas, &schemas[name], name, value, at);
        }
        let any = schema["anyOf"].as_array();
        if value.is_string() && any.is_some_and(|any| any.contains(&json!({ "type": "string" }))) {
            self.words.push((name.to_owned(), at.to_owned()));
        }
        if let Some(all) = value.as_object().filter(|_| schema["properties"].is_object()) {
            self.objects.push(at.to_owned());
            for (key, inner) in all {
                self.walk(schemas, &schema["properties"][key], name, inner, &format!("{at}/{key}"));
            }
        }
        for (index, inner) in value.as_array().into_iter().flatten().enumerate() {
            self.walk(schemas, &schema["items"], name, inner, &format!("{at}/{index}"));
        }
    }
}

fn found(document: &Document, id: &str, body: &Value, status: u16) -> Found {
    let operation = document.operation(id);
    let content = &operation.object["responses"][status.to_string()]["content"];
    let mut found = Found::default();
    let schemas = &document.value["components"]["schemas"];
    found.walk(schemas, &content["application/json"]["schema"], "", body, "");
    found
}

/// The client reads what it knows, and says where a word is that it does not; with what the word
/// stands for it reads that too.
#[test]
fn a_word_that_the_client_does_not_know_is_kept() {
    let document = Document::of_this_build();
    let (mut seen, mut kept, mut told) = (BTreeSet::new(), 0, 0);
    for (id, reads, reads_as) in table() {
        let answer = &Tour::shared().example(id).answer;
        let body = answer.json();
        reads(&answer.body).unwrap_or_else(|error| panic!("{id}: {error}"));
        // One of each list is enough.
        let places: BTreeMap<String, String> =
            found(&document, id, &body, answer.status).words.into_iter().collect();
        for (list, at) in places {
            let mut newer = body.clone();
            *newer.pointer_mut(&at).expect("the place") = "never_heard_of".into();
            let place = format!("{id}{at} ({list})");
            match reads(newer.to_string().as_bytes()) {
                // It is `Open`, or a text to the client.
                Ok(()) => kept += 1,
                Err(Error::Newer(found)) => {
                    let words: Vec<_> =
                        found.words.iter().map(|w| (&*w.pointer, &*w.word)).collect();
                    assert_eq!(words, [(&*at, "never_heard_of")], "{place}");
                    assert_eq!(found.body, newer, "{place}");
                    assert!(reads_as(&found), "{place}");
                    told += 1;
                }
                Err(error) => panic!("{place}: {error}"),
            }
            seen.insert(list);
        }
    }
    println!("{} open lists, {kept} words kept, {told} told with their place", seen.len());
    assert!(45 < seen.len(), "only {} lists: {seen:?}", seen.len());
}

#[test]
fn a_member_that_the_client_does_not_know_is_passed_over() {
    let document = Document::of_this_build();
    let mut seen = 0;
    for (id, reads, _) in table() {
        let answer = &Tour::shared().example(id).answer;
        let body = answer.json();
        for at in found(&document, id, &body, answer.status).objects {
            let mut newer = body.clone();
            newer.pointer_mut(&at).expect("the place")["never_heard_of"] = json!({ "a": 1 });
            reads(newer.to_string().as_bytes()).unwrap_or_else(|e| panic!("{id}{at}: {e}"));
            seen += 1;
        }
    }
    assert!(300 < seen, "{seen}");
}

/// An error code that is new does not make a refusal unreadable: its status says as much.
#[test]
fn a_refusal_with_a_new_code_is_a_refusal() {
    let mut body = json!({
        "type": "/problems/tea_time", "title": "Tea", "status": 409, "detail": "later",
        "instance": "/", "code": "tea_time", "request_id": "1",
        "errors": [{ "pointer": "#/a", "code": "too_hot", "message": "let it cool" }],
    });
    let problem: Problem = serde_json::from_value(body.clone()).expect("a problem");
    assert_eq!((problem.code.known(), problem.status), (None, 409));
    assert_eq!(problem.errors[0].code.to_string(), "too_hot");
    assert!(problem.to_string().starts_with("409 tea_time: later"), "{problem}");
    body["code"] = "conflict".into();
    let problem: Problem = serde_json::from_value(body).expect("a problem");
    assert_eq!(problem.code, ErrorCode::Conflict);
}

/// Every open list of the document is one of a known shape, and the table above meets most.
#[test]
fn open_lists_name_their_words() {
    let document = Document::of_this_build();
    for (name, schema) in members(&document.value["components"]["schemas"]) {
        let Some(any) = schema["anyOf"].as_array() else { continue };
        if !any.contains(&json!({ "type": "string" })) {
            continue;
        }
        let known = &any[0];
        let listed = known["enum"].is_array() || known["$ref"].is_string();
        assert!(listed && schema["type"] == "string", "{name}: {schema}");
    }
}
