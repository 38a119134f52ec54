//! Making schemars' schemas plain.
//!
//! What is published must mean the same to every tool: no formats that only
//! Rust knows or that say what every number is, no `null` where a member is simply absent, and closed lists of
//! words as an `enum` of strings, which every generator types, instead of as
//! a `oneOf` of constants, which some refuse. The meanings of the words move
//! into the description.

use serde_json::{Map, Value, json};

/// Makes a schema and all within it plain.
#[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
pub(super) fn tidy(schema: &mut Value) {
    match schema {
        Value::Object(members) => {
            let unknown = members
                .get("format")
                .and_then(Value::as_str)
                .is_some_and(|f| f.starts_with("uint") || f.starts_with("int") || f == "double");
            if unknown {
                members.remove("format");
            }
            // An object that is absent is all its own defaults; some generators write such a one
            // down as code that does not compile.
            let idle = |held: &Value| held.is_null() || held.is_object() && !is_schema(held);
            if members.get("default").is_some_and(idle) {
                members.remove("default");
            }
            absent_only(members);
            fold_words(members);
            fit_examples(members);
            members.values_mut().for_each(tidy);
        }
        Value::Array(items) => items.iter_mut().for_each(tidy),
        _ => {}
    }
}

/// Whether it is the schema of a property that is called so.
fn is_schema(held: &Value) -> bool {
    ["type", "$ref", "anyOf", "oneOf", "enum"].iter().any(|key| held.get(key).is_some())
}

/// An optional member is absent, not null: that is what every generator can
/// type, and what the service itself sends.
fn absent_only(members: &mut Map<String, Value>) {
    if let Some(Value::Array(types)) = members.get_mut("type") {
        types.retain(|t| t != "null");
        if types.len() == 1 {
            let one = types.remove(0);
            members.insert("type".to_owned(), one);
        }
    }
    if let Some(Value::Array(any)) = members.get_mut("anyOf") {
        any.retain(|s| s.get("type").and_then(Value::as_str) != Some("null"));
        if any.len() == 1 {
            let one = any.remove(0);
            members.remove("anyOf");
            if let Value::Object(inner) = one {
                for (key, value) in inner {
                    members.entry(key).or_insert(value);
                }
            }
        }
    }
}

/// A reference's example is one of what the member is called after; that of a member which is
/// called otherwise would be a client's, and is left out.
fn fit_examples(members: &mut Map<String, Value>) {
    let Some(Value::Object(properties)) = members.get_mut("properties") else { return };
    for (name, property) in properties {
        let Value::Object(property) = property else { continue };
        if property.get("examples") != Some(&json!([A_CLIENT])) {
            continue;
        }
        match reference_example(name) {
            Some(example) => property.insert("examples".to_owned(), json!([example])),
            None => property.remove("examples"),
        };
    }
}

/// A member is not described by its own name.
pub(super) fn spare_names(members: &mut Map<String, Value>) {
    let properties = members.get_mut("properties").and_then(Value::as_object_mut);
    for (name, property) in properties.into_iter().flatten() {
        let says = property.get("description").and_then(Value::as_str);
        if says.is_some_and(|says| !says_more(name, says)) {
            property.as_object_mut().and_then(|property| property.remove("description"));
        }
    }
}

/// Words that mean something only beside others.
const SMALL_WORDS: [&str; 27] = [
    "a", "an", "and", "are", "by", "for", "how", "in", "is", "it", "its", "of", "on", "that",
    "the", "this", "to", "was", "were", "what", "when", "where", "which", "who", "whom", "whose",
    "why",
];

/// Whether a text says of something more than what it is called: `made_at` is when it was made.
fn says_more(name: &str, says: &str) -> bool {
    let mut words = says.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.any(|word| {
        let word = word.to_lowercase();
        !SMALL_WORDS.contains(&&*word) && name.split('_').all(|part| part != word)
    })
}

/// The example that the type of references carries.
const A_CLIENT: &str = "client-0042";

/// An example of a reference of this name: `artist_ref` is `artist-0042`.
pub(super) fn reference_example(name: &str) -> Option<String> {
    Some(format!("{}-0042", name.strip_suffix("_ref")?.replace('_', "-")))
}

/// From `oneOf` of constants to `enum`, the words' meanings as a list.
fn fold_words(members: &mut Map<String, Value>) {
    let Some(branches) = members.get("oneOf").and_then(Value::as_array) else { return };
    let mut words: Vec<(Value, Option<&str>)> = Vec::new();
    for branch in branches {
        if branch.get("type").and_then(Value::as_str) != Some("string") {
            return;
        }
        let says = branch.get("description").and_then(Value::as_str);
        let word = branch.get("const").and_then(Value::as_str).unwrap_or_default();
        let meaning = says.filter(|says| says_more(word, says));
        match (branch.get("const"), branch.get("enum").and_then(Value::as_array)) {
            (Some(word), None) => words.push((word.clone(), meaning)),
            (None, Some(several)) => words.extend(several.iter().map(|w| (w.clone(), meaning))),
            _ => return,
        }
    }
    let meanings: Vec<String> = words
        .iter()
        .map(|(word, meaning)| {
            let word = word.as_str().unwrap_or_default();
            // One line an item, whatever way the comment was broken.
            let meaning = meaning.map(|m| m.split_whitespace().collect::<Vec<_>>().join(" "));
            meaning.map_or_else(|| format!("- `{word}`"), |says| format!("- `{word}`: {says}"))
        })
        .collect();
    let described = words.iter().any(|(_, meaning)| meaning.is_some());
    let words: Vec<Value> = words.into_iter().map(|(word, _)| word).collect();
    members.remove("oneOf");
    members.insert("type".to_owned(), json!("string"));
    members.insert("enum".to_owned(), Value::Array(words));
    if described {
        let before = members.get("description").and_then(Value::as_str).unwrap_or_default();
        let joint = if before.is_empty() { "" } else { "\n\n" };
        let text = format!("{before}{joint}{}", meanings.join("\n"));
        members.insert("description".to_owned(), text.into());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn schemas_become_plain() {
        for (what, schema, want) in [
            (
                "words with meanings",
                json!({ "description": "A hand.", "oneOf": [
                    { "type": "string", "const": "light", "description": "Hardly\n  touches." },
                    { "type": "string", "enum": ["medium", "heavy"] },
                ] }),
                json!({ "type": "string", "enum": ["light", "medium", "heavy"],
                    "description": "A hand.\n\n- `light`: Hardly touches.\n- `medium`\n- `heavy`" }),
            ),
            (
                "examples of references",
                json!({ "properties": {
                    "artist_ref": { "type": "string", "examples": [A_CLIENT] },
                    "name": { "type": "string", "examples": [A_CLIENT] },
                    "batch": { "type": "string", "examples": ["B1"] },
                } }),
                json!({ "properties": {
                    "artist_ref": { "type": "string", "examples": ["artist-0042"] },
                    "name": { "type": "string" },
                    "batch": { "type": "string", "examples": ["B1"] },
                } }),
            ),
            (
                "a word that says what it means",
                json!({ "oneOf": [
                    { "type": "string", "const": "too_dark", "description": "Too dark." },
                    { "type": "string", "const": "pale", "description": "Too light." },
                ] }),
                json!({ "type": "string", "enum": ["too_dark", "pale"],
                    "description": "- `too_dark`\n- `pale`: Too light." }),
            ),
            (
                "words without meanings",
                json!({ "oneOf": [{ "type": "string", "enum": ["a", "b"] }] }),
                json!({ "type": "string", "enum": ["a", "b"] }),
            ),
            (
                "other alternatives stay",
                json!({ "oneOf": [{ "type": "string", "const": "a" }, { "type": "object" }] }),
                json!({ "oneOf": [{ "type": "string", "const": "a" }, { "type": "object" }] }),
            ),
            (
                "absent, not null",
                json!({ "properties": {
                    "a": { "type": ["string", "null"], "default": null },
                    "b": { "anyOf": [{ "$ref": "#/x" }, { "type": "null" }] },
                } }),
                json!({ "properties": { "a": { "type": "string" }, "b": { "$ref": "#/x" } } }),
            ),
            (
                "formats of Rust",
                json!({ "type": "integer", "format": "uint16" }),
                json!({ "type": "integer" }),
            ),
        ] {
            let mut made = schema;
            tidy(&mut made);
            assert_eq!(made, want, "{what}");
        }
    }

    #[test]
    fn a_name_is_not_said_again() {
        for (name, says, more) in [
            ("id", "Its id.", false),
            ("made_at", "When it was made.", false),
            ("sign_off_id", "The sign-off.", false),
            ("at", "When.", false),
            ("due_at", "When it is due, at noon.", true),
            ("got", "What was got, 0 to 9.", true),
            ("version", "Counts the changes, from 1.", true),
        ] {
            assert_eq!(says_more(name, says), more, "{name}: {says}");
            let member = json!({ name: { "type": "string", "description": says } });
            let mut members = Map::from_iter([("properties".to_owned(), member)]);
            spare_names(&mut members);
            assert_eq!(members["properties"][name]["description"].is_string(), more, "{name}");
        }
    }
}
