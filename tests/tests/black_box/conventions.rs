//! The table of conventions in `openapi/README.md`, held over the whole document and over
//! every answer of the tour: each thing is said in one way.

use std::collections::{BTreeMap, BTreeSet};

use etui_tests::document::{Document, Operation, members, visit};
use etui_tests::tour::{Heard, Tour};
use etui_tests::wire::Answer;
use serde_json::Value;

/// Names of an instant that do not end in `_at`: a point by itself, or a deadline.
const POINTS: [&str; 11] = [
    "at",
    "believed",
    "due_before",
    "due_from",
    "from",
    "latest",
    "local",
    "now",
    "time",
    "until",
    "today",
];
/// Names of a day that do not end in `_on`.
const DAYS: [&str; 11] = [
    "as_of",
    "before",
    "donation_date",
    "due",
    "from",
    "not_before",
    "on",
    "to",
    "today",
    "touch_up_earliest",
    "until",
];
/// What a deadline ends in; of a day or of an instant, never of a person.
const DEADLINES: [&str; 5] = ["better_by", "expires_by", "look_by", "made_by", "report_again_by"];
/// Units, as names end in them.
const UNITS: [&str; 24] = [
    "_mm", "_mm2", "_mm_s", "_hz", "_ms", "_s", "_seconds", "_days", "_hours", "_years", "_months",
    "_minutes", "_degrees", "_c", "_bytes", "_percent", "_per_mm", "_per_mm2", "_per_cm2",
    "_share", "_1976", "_2000", "_index", "_rows",
];
/// Ends that say a unit in another way.
const OTHER_UNITS: [&str; 6] = ["_sec", "_secs", "_deg", "_mins", "_millis", "_hertz"];

/// Every property of every schema, and every query parameter, with its place.
fn named(document: &Document) -> Vec<(String, String, Value)> {
    let mut all = Vec::new();
    for (name, schema) in members(&document.value["components"]["schemas"]) {
        visit(schema, &mut |inner| {
            for (property, held) in members(&inner["properties"]) {
                all.push((name.to_owned(), property.to_owned(), held.clone()));
            }
        });
    }
    for operation in document.operations() {
        for parameter in operation.object["parameters"].as_array().into_iter().flatten() {
            if parameter["in"] == "query" {
                let name = parameter["name"].as_str().unwrap_or_default().to_owned();
                all.push((operation.id.clone(), name, parameter["schema"].clone()));
            }
        }
    }
    assert!(1000 < all.len());
    all
}

#[test]
fn names_say_what_they_hold() {
    for (place, name, schema) in named(&Document::of_this_build()) {
        let at = format!("{place}.{name}");
        let snake = name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        // The catalogue's names are those of RFC 9264.
        assert!(snake || name.starts_with("service-") || name == "api-catalog", "{at}");
        let (format, kind) = (schema["format"].as_str().unwrap_or(""), &schema["type"]);
        let ends = |end: &str| name.ends_with(end);
        let deadline = DEADLINES.contains(&name.as_str());
        if format == "date-time" {
            assert!(ends("_at") || deadline || POINTS.contains(&name.as_str()), "{at}: an instant");
        }
        if format == "date" {
            let within = ["_on", "_until", "_from", "_to"].iter().any(|end| ends(end));
            // What a label says of a day stands beside how exactly it says it.
            let said = at == "SaidDate.value";
            assert!(within || deadline || said || DAYS.contains(&name.as_str()), "{at}: a day");
        }
        // By its type: a count that is called so is none.
        if ends("_at") {
            assert_eq!((kind.as_str(), format), (Some("string"), "date-time"), "{at}: an instant");
        }
        if name == "local" {
            assert_eq!(format, "date-time", "{at}");
        }
        if ends("_on") && kind == "string" && name != "pass_on" {
            assert_eq!(format, "date", "{at}");
        }
        // A packet says by what it was made sterile.
        if ends("_by") && !deadline && name != "sterilised_by" {
            let named = schema["$ref"].as_str().is_some_and(|kind| kind.ends_with("/Reference"));
            let somebody = named || kind == "string" && format.is_empty();
            assert!(somebody, "{at}: `_by` is somebody, or one of the deadlines: {schema}");
        }
        for end in OTHER_UNITS {
            assert!(!ends(end), "{at}: units are written {}", UNITS.join(", "));
        }
    }
}

/// Requests are closed, answers are open; a word of an answer may be one more.
#[test]
fn answers_may_grow_and_requests_are_closed() {
    let document = Document::of_this_build();
    let schemas = &document.value["components"]["schemas"];
    let (mut asked, mut answered) = (BTreeSet::new(), BTreeSet::new());
    for operation in document.operations() {
        reach(schemas, &operation.object["requestBody"], &mut asked);
        reach(schemas, &operation.object["responses"], &mut answered);
    }
    let (mut open, mut closed) = (0, 0);
    for name in &answered {
        let schema = &schemas[name];
        if asked.contains(name) {
            // The known words of an open list, as they are sent.
            let used = schema.get("enum").is_some() || !is_closed(schema);
            assert!(used, "{name} is closed and answered; its twin should be");
            continue;
        }
        assert!(!is_closed(schema), "{name} is answered and closed");
        assert!(schema.get("enum").is_none(), "{name} is answered and a closed list of words");
        open += usize::from(is_open_list(schema));
    }
    for name in &asked {
        let is_object =
            schemas[name]["type"] == "object" && schemas[name]["properties"].is_object();
        if is_object {
            assert!(is_closed(&schemas[name]), "{name} is sent and open");
            closed += 1;
        }
    }
    assert!(60 < open && 60 < closed, "{open} open lists, {closed} closed requests");
}

fn is_closed(schema: &Value) -> bool {
    schema["additionalProperties"] == false
}

/// Either a word that is known or another text.
fn is_open_list(schema: &Value) -> bool {
    let any = schema["anyOf"].as_array().map_or(&[][..], Vec::as_slice);
    let text = any.iter().any(|one| *one == serde_json::json!({ "type": "string" }));
    text && any.iter().any(|one| one.get("enum").is_some() || one.get("$ref").is_some())
}

fn reach(schemas: &Value, value: &Value, seen: &mut BTreeSet<String>) {
    let mut next = Vec::new();
    visit(value, &mut |inner| {
        let target = inner.get("$ref").and_then(Value::as_str);
        next.extend(
            target.and_then(|t| t.strip_prefix("#/components/schemas/")).map(str::to_owned),
        );
    });
    for name in next {
        if seen.insert(name.clone()) {
            reach(schemas, &schemas[&name], seen);
        }
    }
}

fn documented(operation: &Operation, status: u16) -> BTreeSet<String> {
    let headers = &operation.object["responses"][status.to_string()]["headers"];
    members(headers).map(|(name, _)| name.to_ascii_lowercase()).collect()
}

/// Headers that every answer has, or that stand in the parameters of a connection.
const EVERYWHERE: [&str; 10] = [
    "cache-control",
    "vary",
    "x-request-id",
    "connection",
    "content-length",
    "content-type",
    "date",
    "transfer-encoding",
    "x-content-type-options",
    "content-encoding",
];

/// What the document says of an answer's headers is what comes, both ways.
#[test]
fn the_headers_of_answers_are_those_of_the_document() {
    let document = Document::of_this_build();
    let operations: BTreeMap<String, Operation> =
        document.operations().into_iter().map(|one| (one.id.clone(), one)).collect();
    // What a page or a picture carries besides.
    let besides = ["content-security-policy", "referrer-policy", "content-disposition", "expires"];
    let mut faults = Vec::new();
    for heard in Tour::shared().examples() {
        let Heard { operation: id, answer, .. } = heard;
        let told = documented(&operations[*id], answer.status);
        let sent: BTreeSet<String> =
            answer.headers.iter().map(|(name, _)| name.to_ascii_lowercase()).collect();
        for name in &sent {
            let known = told.contains(name)
                || EVERYWHERE.contains(&name.as_str())
                || besides.contains(&name.as_str())
                || name.starts_with("ratelimit");
            if !known && name != "link" {
                faults.push(format!("{id} sends `{name}` unsaid"));
            }
        }
        faults.extend(of_caches(&operations[*id], answer));
        for name in told {
            let sometimes = ["idempotent-replayed", "link", "preference-applied"];
            let there = sent.contains(&name) || sometimes.contains(&name.as_str());
            if !there {
                faults.push(format!("{id} says `{name}` and does not send it"));
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// What caches are told, of each operation alike: what has a version may be held and asked
/// for again, all else is not; and what is said in a language varies by it.
fn of_caches(operation: &Operation, answer: &Answer) -> Vec<String> {
    let Operation { id, method, headers, .. } = operation;
    let takes = |name: &str| headers.iter().any(|held| held == name);
    let held = method == "GET" && takes("If-None-Match");
    let wanted = if held { "private, no-cache" } else { "no-store" };
    let mut faults = Vec::new();
    if answer.header("cache-control") != Some(wanted) {
        faults.push(format!("{id}: `Cache-Control` is not `{wanted}`"));
    }
    let vary = answer.header("vary").unwrap_or_default().to_ascii_lowercase();
    if takes("Accept-Language") && !vary.contains("accept-language") {
        faults.push(format!("{id} speaks, and does not vary by language"));
    }
    faults
}

/// What a write takes and says follows from its method.
#[test]
fn each_method_has_its_manners() {
    for operation in Document::of_this_build().operations() {
        let Operation { id, method, path, headers, answers, object, .. } = &operation;
        let takes = |name: &str| headers.iter().any(|held| held == name);
        let required = |name: &str| {
            let all = object["parameters"].as_array().into_iter().flatten();
            all.filter(|p| p["in"] == "header" && p["name"] == name).any(|p| p["required"] == true)
        };
        assert!(takes("X-Request-Id"), "{id}");
        match method.as_str() {
            "PUT" => {
                assert!(takes("If-Match") && takes("If-None-Match"), "{id}");
                assert!(!required("If-Match"), "{id}: it also creates");
                assert!(answers.contains_key(&200) && answers.contains_key(&201), "{id}");
            }
            "PATCH" => {
                assert!(required("If-Match"), "{id}");
                let content = &object["requestBody"]["content"];
                assert!(content.get("application/merge-patch+json").is_some(), "{id}");
            }
            "DELETE" => {
                assert!(answers.contains_key(&200), "{id}: what was removed is answered");
                assert!(object["requestBody"].is_null(), "{id}");
                deletes_as_it_says(&operation, required("If-Match"));
            }
            "POST" if answers.contains_key(&201) && id != "make_backup" => {
                assert!(takes("Idempotency-Key"), "{id} makes something");
            }
            _ => {}
        }
        if matches!(method.as_str(), "PUT" | "PATCH") {
            assert!(takes("Prefer"), "{id}");
        }
        let speaks = takes("Accept-Language");
        for status in [200, 201].into_iter().filter(|status| answers.contains_key(status)) {
            let told = documented(&operation, status);
            assert_eq!(speaks, told.contains("content-language"), "{id}");
            assert_eq!(
                status == 201 && method == "PUT",
                method == "PUT" && told.contains("location"),
                "{id}"
            );
            // What was forgotten has no version.
            if (takes("If-Match") || takes("Idempotency-Key")) && id != "erase_client" {
                assert!(told.contains("etag"), "{id}");
            }
        }
        let listed = object["responses"]["200"]["headers"].get("Link").is_some();
        let pages = operation.query.iter().any(|name| name == "cursor");
        assert_eq!(listed, pages, "{id}: {path}: pages lead on by `cursor` and by `Link`");
    }
}

/// The verb of a DELETE says what it means: which of them wait for a version, which can be
/// looked at first.
fn deletes_as_it_says(operation: &Operation, required: bool) {
    let Operation { id, headers, query, .. } = operation;
    let takes = headers.iter().any(|held| held == "If-Match");
    let dry = query.iter().any(|name| name == "dry_run");
    match id.split('_').next().unwrap_or_default() {
        "delete" => assert!(takes && required && !dry, "{id}"),
        // What no backup gives back is looked at first.
        "erase" => assert!(dry && takes == required, "{id}"),
        // Nobody waits with what opens a way in; a version that is sent is looked at.
        "remove" | "revoke" | "close" => assert!(takes && !required && !dry, "{id}"),
        other => panic!("{id}: `{other}` is no verb of a DELETE"),
    }
}

/// A query parameter whose values are a closed list says which.
#[test]
fn words_in_queries_are_listed() {
    let document = Document::of_this_build();
    for (place, name, schema) in named(&document) {
        if ["state", "verdict", "format", "view"].contains(&name.as_str())
            && document.operations().iter().any(|one| one.id == place)
        {
            let inner = if schema["type"] == "array" { &schema["items"] } else { &schema };
            assert!(inner["enum"].is_array(), "{place}: {name}: {inner}");
        }
    }
}

/// Examples in the document hold to the schema that they stand beside, shared ones too.
#[test]
fn examples_fit_where_they_stand() {
    let document = Document::of_this_build();
    let mut seen = 0;
    for operation in document.operations() {
        let mut places: Vec<&Value> =
            members(&operation.object["requestBody"]["content"]).map(|(_, media)| media).collect();
        for (_, response) in members(&operation.object["responses"]) {
            places.extend(members(&response["content"]).map(|(_, media)| media));
        }
        for media in places.into_iter().filter(|media| media["schema"].is_object()) {
            let kind = media["schema"]["$ref"].as_str().unwrap_or_default();
            let of_type =
                document.value.pointer(&format!("{}/examples", kind.trim_start_matches('#')));
            let of_type = of_type.and_then(Value::as_array).into_iter().flatten();
            let all: Vec<&Value> = media.get("example").into_iter().chain(of_type).collect();
            let validator = document.validator(&media["schema"]);
            for example in &all {
                let faults: Vec<String> =
                    validator.iter_errors(example).map(|e| e.to_string()).collect();
                assert!(faults.is_empty(), "{}: {}", operation.id, faults.join("\n"));
            }
            seen += usize::from(!all.is_empty());
        }
        for parameter in operation.object["parameters"].as_array().into_iter().flatten() {
            let Some(example) = parameter.get("example") else { continue };
            let fits = document.validator(&parameter["schema"]).is_valid(example);
            assert!(fits, "{}: {}", operation.id, parameter["name"]);
        }
    }
    assert!(120 < seen, "{seen} examples");
}

/// A document that everybody reads whole is small enough to be.
#[test]
fn the_document_is_small_enough_to_be_read() {
    let document = Document::of_this_build();
    let bytes = serde_json::to_vec(&document.value).expect("JSON").len();
    assert!(bytes < 600_000, "{bytes} bytes");
    let responses = &document.value["components"]["responses"];
    assert!(15 < members(responses).count());
    let (mut shared, mut alone) = (0, 0);
    for operation in document.operations() {
        let item = &document.value["paths"][&operation.path];
        let responses = &item[operation.method.to_ascii_lowercase()]["responses"];
        for (_, response) in members(responses).filter(|(status, _)| status.starts_with(['4', '5']))
        {
            *(if response["$ref"].is_string() { &mut shared } else { &mut alone }) += 1;
        }
    }
    assert!(200 < shared && alone < 20, "{shared} refusals are shared, {alone} stand alone");
}

/// Instants of answers have one width: their order as texts is their order in time. What is
/// told in somebody's own zone is called so, and carries its offset.
#[test]
fn instants_have_three_digits_of_a_second() {
    let is_instant = |text: &str| {
        let bytes = text.as_bytes();
        let stands = |at: usize, wanted: u8| bytes.get(at) == Some(&wanted);
        stands(4, b'-') && stands(7, b'-') && stands(10, b'T') && stands(13, b':')
    };
    let is_local = |text: &str| {
        let offset = text.len() == 25 && text.as_bytes()[22] == b':';
        offset && matches!(text.as_bytes()[19], b'+' | b'-')
    };
    let (mut seen, mut local) = (0, 0);
    for heard in Tour::shared().heard() {
        if heard.answer.media() != "application/json" || heard.operation == "get_openapi" {
            continue;
        }
        let body = heard.answer.json();
        visit(&body, &mut |value| {
            for (name, member) in members(value) {
                let Some(text) = member.as_str().filter(|text| is_instant(text)) else { continue };
                let at = format!("{}: {name}: {text}", heard.operation);
                if name == "local" {
                    assert!(is_local(text), "{at}");
                    local += 1;
                } else {
                    assert!(text.len() == 24 && text.ends_with('Z'), "{at}");
                    seen += 1;
                }
            }
        });
    }
    assert!(100 < seen && 10 < local, "{seen} instants, {local} local ones");
}
