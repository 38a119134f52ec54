//! What may grow: answers are open, requests are closed.
//!
//! A type that is sent as well as answered is published twice: under its own name as it is
//! read of callers, closed, and as `NAMEAnswered`, open. Words of answers may become more: a
//! closed list of words is then either of `anyOf`, a known word or another text.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use super::schemas::PLACE;

/// What the answered twin of a type is called.
const TWIN: &str = "Answered";

/// Opens what is answered; gives the new names of types whose answers have one of their own.
pub(super) fn open(
    schemas: &mut Map<String, Value>,
    asked: BTreeSet<String>,
    answered: BTreeSet<String>,
) -> BTreeMap<String, String> {
    let asked = reached(schemas, asked);
    let answered = reached(schemas, answered);
    let both: BTreeSet<&String> = asked.intersection(&answered).collect();
    let twins = twins(schemas, &both);
    let renamed = |name: &str| twins.get(name).map(String::as_str);
    for (name, twin) in &twins {
        let Some(sent) = schemas.get(name) else { continue };
        let mut made = if is_words(sent) { either(name) } else { opened(sent, &renamed) };
        said_of_the_type(&mut made);
        schemas.insert(twin.clone(), made);
    }
    for name in answered.difference(&asked) {
        let Some(schema) = schemas.get_mut(name) else { continue };
        *schema = if is_words(schema) { open_words(schema) } else { opened(schema, &renamed) };
    }
    schemas.sort_keys();
    twins
}

/// The types that a value refers to.
pub(super) fn named(value: &Value) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    each_object(value, &mut |members| all.extend(target(members).map(str::to_owned)));
    all
}

/// Puts the answered twins in place of the types that a value refers to.
pub(super) fn rename(value: &mut Value, twins: &BTreeMap<String, String>) {
    match value {
        Value::Object(members) => {
            if let Some(twin) = target(members).and_then(|name| twins.get(name)) {
                members.insert("$ref".to_owned(), format!("#{PLACE}/{twin}").into());
            }
            members.values_mut().for_each(|inner| rename(inner, twins));
        }
        Value::Array(items) => items.iter_mut().for_each(|inner| rename(inner, twins)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn reached(schemas: &Map<String, Value>, from: BTreeSet<String>) -> BTreeSet<String> {
    let mut seen = BTreeSet::new();
    let mut left: Vec<String> = from.into_iter().collect();
    while let Some(name) = left.pop() {
        let Some(schema) = schemas.get(&name) else { continue };
        if seen.insert(name) {
            left.extend(named(schema));
        }
    }
    seen
}

/// Of the types that go both ways, those that differ by the way.
fn twins(schemas: &Map<String, Value>, both: &BTreeSet<&String>) -> BTreeMap<String, String> {
    let differs = |schema: &Value| {
        let mut closed = is_words(schema);
        each_object(schema, &mut |members| {
            closed |= members.get("additionalProperties") == Some(&Value::Bool(false));
        });
        closed
    };
    let mut found: BTreeSet<&String> =
        both.iter().copied().filter(|name| schemas.get(*name).is_some_and(differs)).collect();
    loop {
        let refers = |name: &&&String| {
            let to = schemas.get(**name).map(named).unwrap_or_default();
            !found.contains(**name) && to.iter().any(|other| found.contains(other))
        };
        let more: Vec<&String> = both.iter().filter(refers).copied().collect();
        if more.is_empty() {
            break;
        }
        found.extend(more);
    }
    found.into_iter().map(|name| (name.clone(), format!("{name}{TWIN}"))).collect()
}

/// Whether it is a closed list of words.
fn is_words(schema: &Value) -> bool {
    schema.get("enum").is_some() && schema.get("type").is_some_and(|kind| kind == "string")
}

/// What is said of a schema beside what it holds: limits of what is sent, and texts.
const SAID: [&str; 11] = [
    "description",
    "examples",
    "pattern",
    "minimum",
    "maximum",
    "exclusiveMinimum",
    "exclusiveMaximum",
    "minLength",
    "maxLength",
    "minItems",
    "maxItems",
];

/// What the members of a twin mean stands with the type itself, and so do the limits: a later
/// version may take more, and then answers it.
fn said_of_the_type(schema: &mut Value) {
    match schema {
        Value::Object(members) => {
            // A member that is called so is a schema.
            members.retain(|key, held| !SAID.contains(&&**key) || held.is_object());
            members.values_mut().for_each(said_of_the_type);
        }
        Value::Array(items) => items.iter_mut().for_each(said_of_the_type),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Takes what is said of its members out of a type whose members another describes.
pub(super) fn undescribed(schema: &mut Value) {
    let members = schema.get_mut("properties").and_then(Value::as_object_mut);
    for (_, member) in members.into_iter().flatten() {
        member.as_object_mut().and_then(|member| member.remove("description"));
    }
}

/// A word of the list, or one that is newer than this document.
fn either(name: &str) -> Value {
    json!({
        "type": "string",
        "anyOf": [{ "$ref": format!("#{PLACE}/{name}") }, { "type": "string" }],
    })
}

fn open_words(schema: &Value) -> Value {
    let mut made = schema.clone();
    if let Some(members) = made.as_object_mut()
        && let Some(words) = members.remove("enum")
    {
        let known = json!({ "type": "string", "enum": words });
        members.insert("anyOf".to_owned(), json!([known, { "type": "string" }]));
    }
    made
}

fn opened<'t>(schema: &Value, renamed: &impl Fn(&str) -> Option<&'t str>) -> Value {
    match schema {
        Value::Object(members) => {
            let mut made = Map::new();
            for (key, value) in members {
                let closes = key == "additionalProperties" && *value == Value::Bool(false);
                // What is answered is told; nothing stands in for it.
                let stands_in = key == "default" && !value.is_object();
                // No count is less.
                let idle = key == "minimum" && *value == json!(0);
                let counts = members.get("type").is_some_and(|kind| kind == "integer");
                if closes || stands_in || idle && counts {
                    continue;
                }
                made.insert(key.clone(), opened(value, renamed));
            }
            if let Some(twin) = target(members).and_then(renamed) {
                made.insert("$ref".to_owned(), format!("#{PLACE}/{twin}").into());
            }
            made.into()
        }
        Value::Array(items) => items.iter().map(|inner| opened(inner, renamed)).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => schema.clone(),
    }
}

/// The type that an object refers to.
fn target(members: &Map<String, Value>) -> Option<&str> {
    members.get("$ref")?.as_str()?.strip_prefix('#')?.strip_prefix(PLACE)?.strip_prefix('/')
}

fn each_object<'v>(value: &'v Value, see: &mut impl FnMut(&'v Map<String, Value>)) {
    match value {
        Value::Object(members) => {
            see(members);
            members.values().for_each(|inner| each_object(inner, see));
        }
        Value::Array(items) => items.iter().for_each(|inner| each_object(inner, see)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_answered_is_open_and_what_is_asked_is_closed() {
        let refer = |name: &str| json!({ "$ref": format!("#{PLACE}/{name}") });
        let mut schemas: Map<String, Value> = serde_json::from_value(json!({
            "Colour": { "description": "A colour.", "type": "string", "enum": ["red"] },
            "State": { "type": "string", "enum": ["good"] },
            "Skin": { "additionalProperties": false, "properties": { "colour": refer("Colour") } },
            "Ask": { "additionalProperties": false, "properties": { "skin": refer("Skin") } },
            "Told": { "properties": { "skin": refer("Skin"), "state": refer("State") } },
            "Plain": { "type": "string" },
        }))
        .unwrap();
        let (asked, answered) = (BTreeSet::from(["Ask".into()]), BTreeSet::from(["Told".into()]));
        let twins = open(&mut schemas, asked, answered);
        assert_eq!(twins.keys().collect::<Vec<_>>(), ["Colour", "Skin"]);
        assert_eq!(schemas["Skin"]["additionalProperties"], false);
        assert_eq!(schemas["Ask"]["properties"]["skin"], refer("Skin"));
        assert_eq!(schemas["Told"]["properties"]["skin"], refer("SkinAnswered"));
        let skin = &schemas["SkinAnswered"];
        assert_eq!(skin.get("additionalProperties"), None);
        assert_eq!(skin["properties"]["colour"], refer("ColourAnswered"));
        assert_eq!(schemas["ColourAnswered"]["anyOf"][0], refer("Colour"));
        assert_eq!(schemas["Colour"]["enum"], json!(["red"]));
        assert_eq!(schemas["State"]["anyOf"][0]["enum"], json!(["good"]));
        let mut answer = refer("Skin");
        rename(&mut answer, &twins);
        assert_eq!(answer, refer("SkinAnswered"));
    }
}
