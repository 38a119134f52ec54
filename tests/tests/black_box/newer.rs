//! A service that is newer than its client: one more member in each object that has a type, one
//! word that the client does not know in each open list.

use std::collections::{BTreeMap, BTreeSet};

use etui_client::{Error, Newer, read_answer};
use etui_schema::problem::{ErrorCode, Problem};
use etui_tests::document::{Document, members};
use etui_tests::tour::Tour;
use serde_json::{Value, json};

/// Reads, and writes again what was read.
type Reads = fn(&[u8]) -> Result<Value, Error>;
/// Reads with every new word standing for the first that is known there.
type ReadsAs = fn(&Newer) -> bool;

macro_rules! reads {
    ($($id:literal => $type:ty),+ $(,)?) => {
        [$((
            $id,
            (|body| {
                let read = read_answer::<$type>(200, body)?;
                Ok(serde_json::to_value(read).expect("what was read"))
            }) as Reads,
            (|newer| newer.read::<$type>(|word| word.known.first().cloned()).is_some()) as ReadsAs,
        )),+]
    };
}

/// Lists that callers send too; of them a verdict alone is `Open`, but in a pack, which is sent as well.
fn is_sent_too(list: &str, at: &str) -> bool {
    list.ends_with("Answered") && (list != "VerdictAnswered" || at.starts_with("/pack/"))
}

/// One answer of each kind that has words in it.
fn table() -> Vec<(&'static str, Reads, ReadsAs)> {
    use etui_schema::{
        aftercare_plans, amendments, appointment_checks, artists, branches, calendars, clients,
        configuration_comparisons, deliveries, dossiers, drills, events, hand_profiles,
        label_readings, lots, needle_selections, packs, page::Page, plugins, practice_sheets,
        recalls, reminders, retention, reviews, screening_questions, service, sheet_readings,
        sheets, sign_offs, skin_assessments, skin_typing, subscriptions, symptom_reports,
        treatments,
    };
    reads![
        "make_aftercare_plan" => aftercare_plans::AftercarePlan,
        "amend_treatment" => amendments::Amendment,
        "create_appointment_check" => appointment_checks::AppointmentCheck,
        "list_appointment_checks" => Page<appointment_checks::CheckRow>,
        "put_artist" => artists::Artist,
        "get_branch" => branches::Branch,
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
        "get_clock" => service::Clock,
        "grade_drill" => drills::DrillGrade,
        "get_aftercare_pack" => packs::KeptPack<packs::AftercarePack>,
        "get_label_spellings_pack" => packs::KeptPack<packs::LabelSpellingsPack>,
        "get_rules_pack" => packs::KeptPack<packs::RulesPack>,
        "get_practice_progress" => practice_sheets::PracticeProgress,
        "get_practice_sheet" => practice_sheets::PracticeSheet,
        "read_sheet" => sheet_readings::SheetReading,
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
                Ok(read) => {
                    assert_eq!(read.pointer(&at), Some(&"never_heard_of".into()), "{place}");
                    kept += 1;
                }
                Err(Error::Newer(found)) => {
                    assert!(is_sent_too(&list, &at), "{place} is not kept");
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

/// A value of a schema with as little in it as there may be.
fn least(schemas: &Value, schema: &Value) -> Value {
    if let Some(target) = schema["$ref"].as_str() {
        return least(schemas, &schemas[target.rsplit('/').next().unwrap_or_default()]);
    }
    for first in [&schema["const"], &schema["enum"][0], &schema["examples"][0]] {
        if !first.is_null() {
            return first.clone();
        }
    }
    let alternatives = ["oneOf", "anyOf"].into_iter().find_map(|of| schema[of].as_array());
    if let Some(alternatives) = alternatives {
        return alternatives.first().map_or(Value::Null, |one| least(schemas, one));
    }
    let kind = schema["type"].as_str().or_else(|| schema["type"][0].as_str());
    match (kind.unwrap_or_default(), schema["format"].as_str().unwrap_or_default()) {
        ("object", _) => {
            let needed = schema["required"].as_array().into_iter().flatten();
            let needed = needed.filter_map(Value::as_str);
            let member =
                |name: &str| (name.to_owned(), least(schemas, &schema["properties"][name]));
            Value::Object(needed.map(member).collect())
        }
        ("array", _) => {
            let most = schema["minItems"].as_u64().unwrap_or(0);
            (0..most).map(|_| least(schemas, &schema["items"])).collect()
        }
        ("string", "date") => json!("2027-03-16"),
        ("string", "date-time") => json!("2027-03-16T08:00:00.000Z"),
        ("string", "uuid") => json!("0198c6a2-7d5e-7000-8000-000000000001"),
        ("string", "iana-time-zone") => json!("UTC"),
        ("string", _) => json!("text"),
        ("integer" | "number", _) => schema.get("minimum").cloned().unwrap_or_else(|| json!(0)),
        ("boolean", _) => json!(false),
        _ => Value::Null,
    }
}

/// The value of a schema with a new word of the list `wanted` in it, and where that stands: what is
/// there already (`base`) with as little more as leads to the list. `None` if nothing does.
fn with_word(
    schemas: &Value,
    (schema, name): (&Value, &str),
    base: &Value,
    wanted: &str,
    seen: &mut Vec<String>,
) -> Option<(Value, String)> {
    if let Some(target) = schema["$ref"].as_str() {
        let name = target.rsplit('/').next().unwrap_or_default();
        if seen.iter().any(|one| one == name) {
            return None;
        }
        seen.push(name.to_owned());
        let found = with_word(schemas, (&schemas[name], name), base, wanted, seen);
        seen.pop();
        return found;
    }
    let any = schema["anyOf"].as_array();
    if any.is_some_and(|any| any.contains(&json!({ "type": "string" }))) {
        return (name == wanted).then(|| (json!("never_heard_of"), String::new()));
    }
    for one in ["oneOf", "anyOf", "allOf"].into_iter().filter_map(|of| schema[of].as_array()) {
        for alternative in one {
            let inner = with_word(schemas, (alternative, name), &Value::Null, wanted, seen);
            if inner.is_some() {
                return inner;
            }
        }
    }
    if let Some(all) = schema["properties"].as_object() {
        for (key, inner) in all {
            let here = base.get(key).unwrap_or(&Value::Null);
            let Some((value, at)) = with_word(schemas, (inner, name), here, wanted, seen) else {
                continue;
            };
            let mut whole = if base.is_object() { base.clone() } else { least(schemas, schema) };
            whole[key] = value;
            return Some((whole, format!("/{key}{at}")));
        }
    }
    let here = base.get(0).unwrap_or(&Value::Null);
    if let Some((value, at)) = with_items(schemas, (schema, name), here, wanted, seen) {
        return Some((json!([value]), format!("/0{at}")));
    }
    let more = schema.get("additionalProperties").filter(|more| more.is_object())?;
    let (value, at) = with_word(schemas, (more, name), &Value::Null, wanted, seen)?;
    Some((json!({ "a": value }), format!("/a{at}")))
}

fn with_items(
    schemas: &Value,
    (schema, name): (&Value, &str),
    base: &Value,
    wanted: &str,
    seen: &mut Vec<String>,
) -> Option<(Value, String)> {
    let items = schema.get("items")?;
    with_word(schemas, (items, name), base, wanted, seen)
}

/// The open lists of the document, whether or not a recorded answer has a word of them.
fn open_lists(document: &Document) -> Vec<String> {
    let all = members(&document.value["components"]["schemas"]);
    let open = |schema: &Value| {
        schema["anyOf"].as_array().is_some_and(|any| any.contains(&json!({ "type": "string" })))
    };
    all.filter(|(_, schema)| open(schema)).map(|(name, _)| name.to_owned()).collect()
}

/// Each open list of the document, in an answer that leads to it.
#[test]
fn each_open_list_survives_a_word_that_is_new() {
    let document = Document::of_this_build();
    let schemas = &document.value["components"]["schemas"];
    let answers: Vec<_> = table()
        .into_iter()
        .map(|(id, reads, reads_as)| {
            let answer = &Tour::shared().example(id).answer;
            let content = &document.operation(id).object["responses"][answer.status.to_string()];
            let schema = content["content"]["application/json"]["schema"].clone();
            (id, schema, answer.json(), reads, reads_as)
        })
        .collect();
    let (mut survived, mut not) = (0, Vec::new());
    for list in open_lists(&document) {
        let mut why = vec![format!("{list}: no answer leads to it")];
        for (id, schema, body, reads, reads_as) in &answers {
            let way = with_word(schemas, (schema, ""), body, &list, &mut Vec::new());
            let Some((newer, at)) = way else { continue };
            assert_eq!(newer.pointer(&at), Some(&json!("never_heard_of")), "{id}{at}");
            match reads(newer.to_string().as_bytes()) {
                Ok(read) => {
                    assert_eq!(read.pointer(&at), newer.pointer(&at), "{id}{at}");
                    why.clear();
                }
                Err(Error::Newer(found)) => {
                    assert!(is_sent_too(&list, &at), "{id}{at} ({list}) is not kept");
                    let there = found.words.iter().any(|word| word.pointer == at);
                    assert!(there && found.body == newer, "{id}{at}: {:?}", found.words);
                    assert!(reads_as(&found), "{id}{at}");
                    why.clear();
                }
                Err(error) => why.push(format!("{list}: {id}{at}: {error}")),
            }
            if why.is_empty() {
                survived += 1;
                break;
            }
        }
        not.extend(why.pop());
    }
    println!("{survived} open lists survive a word that is new");
    assert!(not.is_empty(), "{}", not.join("\n"));
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
