//! What many operations say alike is said once, under `components`.

use std::collections::BTreeMap;
use std::iter;

use serde_json::{Map, Value, json};

/// Shares refusals, parameters and examples that stand more than once.
pub(super) fn share(document: &mut Value) {
    let counted = counted(document);
    let mut shared = Shared { counted, held: BTreeMap::new(), examples: BTreeMap::new() };
    each_operation(document, &mut |operation| shared.look(operation));
    for ((kind, name), value) in shared.held {
        document["components"][kind][name] = value;
    }
    for (kind, forms) in shared.examples {
        let schema = document.pointer_mut(kind.trim_start_matches('#'));
        if let Some(members) = schema.and_then(Value::as_object_mut) {
            members.insert("examples".to_owned(), forms.into());
        }
    }
}

struct Shared {
    /// How often each text stands, and in how many examples each type does, by its reference.
    counted: BTreeMap<String, usize>,
    /// By kind and name.
    held: BTreeMap<(&'static str, String), Value>,
    /// Of types that several operations answer, by reference.
    examples: BTreeMap<String, Vec<Value>>,
}

/// The media type of events.
const EVENT: &str = "application/cloudevents+json";

impl Shared {
    fn look(&mut self, operation: &mut Value) {
        let parameters = operation.get_mut("parameters").and_then(Value::as_array_mut);
        for parameter in parameters.into_iter().flatten() {
            let named = parameter["name"].as_str().map(camel);
            if let Some(name) = named.filter(|_| self.again(parameter)) {
                self.refer("parameters", name, parameter);
            }
        }
        // What is sent with every event; bodies of our own operations stay where they are.
        let body = operation.get_mut("requestBody");
        if let Some(body) = body.filter(|body| body["content"][EVENT].is_object()) {
            self.refer("requestBodies", "Event".to_owned(), body);
        }
        let responses = operation.get_mut("responses").and_then(Value::as_object_mut);
        for (status, response) in responses.into_iter().flatten() {
            let content = response.get_mut("content").and_then(Value::as_object_mut);
            for media in content.into_iter().flatten().map(|(_, media)| media) {
                self.example(media);
            }
            // Answers with a body are their operation's own.
            let done = matches!(status.as_str(), "200" | "201");
            if !done && self.again(response) {
                self.refer("responses", title(status, response), response);
            }
        }
    }

    /// Whether it stands elsewhere too.
    fn again(&self, value: &Value) -> bool {
        self.counted.get(&value.to_string()).is_some_and(|times| 1 < *times)
    }

    /// A type that several operations answer shows its examples itself, one of each form.
    fn example(&mut self, media: &mut Value) {
        let Some(kind) = type_of(media).map(str::to_owned) else { return };
        let several = self.counted.get(&kind).is_some_and(|times| 1 < *times);
        let Some(value) =
            media.as_object_mut().filter(|_| several).and_then(|m| m.remove("example"))
        else {
            return;
        };
        // A member that is told once, a secret, is not told in every form.
        let forms = self.examples.entry(kind).or_default();
        if forms.iter().all(|held| !names(held).eq(names(&value))) {
            forms.push(value);
        }
    }

    /// Puts a reference in place of a value. One that is held already keeps its name; if
    /// others have that name, a number is added.
    fn refer(&mut self, kind: &'static str, name: String, value: &mut Value) {
        let same = |(at, held): (&(&str, String), &Value)| {
            (at.0 == kind && *held == *value).then(|| at.1.clone())
        };
        let known = self.held.iter().find_map(|(at, held)| same((at, held)));
        let name = known.unwrap_or_else(|| {
            let numbered = (2_u32..).map(|number| format!("{name}_{number}"));
            let mut names = iter::once(name.clone()).chain(numbered);
            let free = names.find(|one| !self.held.contains_key(&(kind, one.clone())));
            let name = free.unwrap_or_default();
            self.held.insert((kind, name.clone()), value.clone());
            name
        });
        *value = json!({ "$ref": format!("#/components/{kind}/{name}") });
    }
}

/// A refusal is named by its status and, where the codes of a status differ between
/// operations, told apart by a number.
fn title(status: &str, response: &Value) -> String {
    match status {
        "204" => "Spared".to_owned(),
        "304" => "NotModified".to_owned(),
        "2XX" => "EventTaken".to_owned(),
        "default" if response["headers"].get("WWW-Authenticate").is_some() => "Refused".to_owned(),
        "default" if response["content"].is_object() => "RefusedOpen".to_owned(),
        "default" => "EventNotTaken".to_owned(),
        _ if response["content"].get("application/problem+json").is_some() => {
            format!("R{status}")
        }
        _ => format!("Answered{status}"),
    }
}

/// The type of a body that has an example, as its reference.
fn type_of(media: &Value) -> Option<&str> {
    media.get("example")?;
    media["schema"]["$ref"].as_str()
}

/// How often each parameter and response stands in the document, and each type with an example.
fn counted(document: &mut Value) -> BTreeMap<String, usize> {
    let mut all: BTreeMap<String, usize> = BTreeMap::new();
    each_operation(document, &mut |operation| {
        let mut count = |text: String| *all.entry(text).or_default() += 1;
        let parameters = operation["parameters"].as_array().into_iter().flatten();
        parameters.for_each(|one| count(one.to_string()));
        for response in members(&operation["responses"]) {
            count(response.to_string());
            let types = members(&response["content"]).filter_map(type_of);
            types.for_each(|kind| count(kind.to_owned()));
        }
    });
    all
}

/// The names of an object's members.
fn names(value: &Value) -> impl Iterator<Item = &String> {
    value.as_object().into_iter().flat_map(Map::keys)
}

fn members(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_object().into_iter().flat_map(Map::values)
}

/// Every operation, those that the service calls included.
fn each_operation(document: &mut Value, see: &mut impl FnMut(&mut Value)) {
    for place in ["paths", "webhooks"] {
        let items = document[place].as_object_mut().into_iter().flatten();
        for (_, item) in items {
            for (_, operation) in item.as_object_mut().into_iter().flatten() {
                if operation["operationId"].is_string() {
                    see(operation);
                }
            }
        }
    }
}

/// `If-Match` and `list_lots` as `IfMatch` and `ListLots`.
fn camel(name: &str) -> String {
    let words = name.split(['-', '_']).filter(|word| !word.is_empty());
    words
        .map(|word| {
            let (first, rest) = word.split_at(1);
            first.to_ascii_uppercase() + rest
        })
        .collect()
}

/// A recorded answer in short: an example shows each kind of thing, not all of a list.
/// `openapi/examples.json` has the whole.
pub(super) fn in_short(recorded: &Value) -> Value {
    const ENOUGH: usize = 150;
    const DEEP: usize = 100;
    let fits = |most: usize| move |value: &Value| value.to_string().len() <= most;
    if fits(ENOUGH)(recorded) {
        return recorded.clone();
    }
    // Fewer of each list, and at last none of the lists within lists.
    let fewer = [8, 4, 2, 1].into_iter().map(|most| cut(recorded, most, DEEP)).find(fits(ENOUGH));
    let flatter = || [5, 4].into_iter().map(|deep| cut(recorded, 1, deep)).find(fits(2 * ENOUGH));
    let shallow = || [3, 2].into_iter().map(|deep| cut(recorded, 1, deep)).find(fits(4 * ENOUGH));
    fewer.or_else(flatter).or_else(shallow).unwrap_or_else(|| cut(recorded, 1, 1))
}

/// A recorded request in short: whole, but for the bytes of a picture.
pub(super) fn sent_in_short(recorded: &Value) -> Value {
    let mut sent = recorded.clone();
    if let Some(Value::String(picture)) = sent.get_mut("picture") {
        // Still whole groups of four.
        picture.truncate(64);
    }
    sent
}

/// More members than any answer of ours has: it is a map, and a few of it show what it is.
const MAP: usize = 40;
/// Maps that may have fewer.
const MAPS: [&str; 2] = ["answers", "answered"];

fn cut(value: &Value, most: usize, deep: usize) -> Value {
    let deeper = deep.saturating_sub(1);
    match value {
        Value::Array(items) => {
            // A list of words may have to hold one.
            let is_word = |item: &Value| item.is_string() || item.is_number();
            let shown = match deep {
                0 => usize::from(items.first().is_some_and(is_word)),
                _ => most,
            };
            items.iter().take(shown).map(|inner| cut(inner, most, deeper)).collect()
        }
        Value::Object(members) => {
            let few = if MAP < members.len() { most } else { members.len() };
            let kept = members.iter().take(few).map(|(name, inner)| {
                let mut inner = cut(inner, most, deeper);
                if let Some(map) = inner.as_object_mut().filter(|_| MAPS.contains(&&**name)) {
                    let first = map.iter().take(most);
                    *map = first.map(|(key, one)| (key.clone(), one.clone())).collect();
                }
                (name.clone(), inner)
            });
            kept.collect::<Map<_, _>>().into()
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => value.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_twice_is_said_once() {
        let limit = json!({ "name": "limit", "in": "query" });
        let other = json!({ "name": "limit", "in": "query", "schema": { "maximum": 9 } });
        let once = json!({ "name": "only", "in": "query" });
        let refused = json!({ "content": { "application/problem+json": {} } });
        let operation = |id: &str, parameters: Value| {
            json!({ "get": { "operationId": id, "parameters": parameters,
                "responses": { "200": {}, "404": refused } } })
        };
        let mut document = json!({ "components": {}, "paths": {
            "/a": operation("list_a", json!([limit, once])),
            "/b": operation("list_b", json!([limit, other])),
            "/c": operation("list_c", json!([other])),
        } });
        share(&mut document);
        let at = |path: &str, pointer: &str| {
            document["paths"][path]["get"].pointer(pointer).cloned().unwrap_or_default()
        };
        let refer = |to: &str| json!({ "$ref": format!("#/components/{to}") });
        assert_eq!(at("/a", "/parameters/0"), refer("parameters/Limit"));
        assert_eq!(at("/a", "/parameters/1"), once);
        assert_eq!(at("/b", "/parameters/1"), refer("parameters/Limit_2"));
        assert_eq!(at("/c", "/parameters/0"), refer("parameters/Limit_2"));
        assert_eq!(at("/c", "/responses/404"), refer("responses/R404"));
        assert_eq!(at("/c", "/responses/200"), json!({}));
        assert_eq!(document["components"]["parameters"]["Limit"], limit);
    }
}
