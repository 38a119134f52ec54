//! What one document promised and another no longer keeps.
//!
//! A caller written against the old document must work against the new one:
//! what it sends is still accepted, what it reads is still there. Additions
//! are free. Each finding names its place.

use std::collections::HashSet;

use serde_json::Value;

use crate::document::{Document, members};

/// Which way a value travels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Way {
    /// Sent by the caller: the new side must accept all that the old one did.
    Asked,
    /// Read by the caller: the new side must give all that the old one did.
    Answered,
}

/// Everything that a caller of the old document would stumble over.
#[must_use]
pub fn breaks(old: &Value, new: &Value) -> Vec<String> {
    let before = Document::new(old.clone()).operations();
    let now = Document::new(new.clone()).operations();
    let mut judge = Judge { old, new, seen: HashSet::new(), found: Vec::new() };
    for operation in &before {
        let (method, path) = (&operation.method, &operation.path);
        match now.iter().find(|other| other.method == *method && other.path == *path) {
            None => judge.find(format!("{method} {path} is gone")),
            Some(other) => {
                judge.same(&operation.id, "id", &operation.id, &other.id);
                if other.scope.is_some() && other.scope != operation.scope {
                    judge.find(format!("{}: needs another scope", operation.id));
                }
                judge.parameters(&operation.id, &operation.object, &other.object);
                judge.bodies(&operation.id, &operation.object, &other.object);
                judge.answers(&operation.id, &operation.object, &other.object);
            }
        }
    }
    judge.found
}

struct Judge<'d> {
    old: &'d Value,
    new: &'d Value,
    seen: HashSet<(Way, String, String)>,
    found: Vec<String>,
}

impl<'d> Judge<'d> {
    fn find(&mut self, what: String) {
        self.found.push(what);
    }

    fn same(&mut self, at: &str, what: &str, old: &str, new: &str) {
        if old != new {
            self.find(format!("{at}: its {what} was `{old}` and is `{new}`"));
        }
    }

    fn parameters(&mut self, id: &str, old: &'d Value, new: &'d Value) {
        fn all(operation: &Value) -> impl Iterator<Item = &Value> {
            operation["parameters"].as_array().into_iter().flatten()
        }
        let is = |a: &Value, b: &Value| a["name"] == b["name"] && a["in"] == b["in"];
        for one in all(old) {
            let at = format!("{id}: {} {}", one["in"], one["name"]);
            match all(new).find(|other| is(one, other)) {
                None => self.find(format!("{at} is gone")),
                Some(other) => {
                    if other["required"] == true && one["required"] != true {
                        self.find(format!("{at} has become required"));
                    }
                    self.schemas(Way::Asked, &at, &one["schema"], &other["schema"]);
                }
            }
        }
        for other in all(new).filter(|other| other["required"] == true) {
            if !all(old).any(|one| is(one, other)) {
                self.find(format!("{id}: {} {} is new and required", other["in"], other["name"]));
            }
        }
    }

    fn bodies(&mut self, id: &str, old: &'d Value, new: &'d Value) {
        let (old, new) = (&old["requestBody"], &new["requestBody"]);
        if old.is_null() && new["required"] == true {
            self.find(format!("{id}: a body is required now"));
        }
        self.contents(Way::Asked, &format!("{id}: body"), &old["content"], &new["content"]);
    }

    fn answers(&mut self, id: &str, old: &'d Value, new: &'d Value) {
        for (status, one) in members(&old["responses"]).filter(|(s, _)| s.starts_with('2')) {
            let other = &new["responses"][status];
            if other.is_null() {
                self.find(format!("{id}: {status} is gone"));
            }
            let at = format!("{id}: {status}");
            self.contents(Way::Answered, &at, &one["content"], &other["content"]);
        }
    }

    fn contents(&mut self, way: Way, at: &str, old: &'d Value, new: &'d Value) {
        for (media, one) in members(old) {
            match new.get(media) {
                None => self.find(format!("{at}: {media} is gone")),
                Some(other) => self.schemas(way, at, &one["schema"], &other["schema"]),
            }
        }
    }

    fn schemas(&mut self, way: Way, at: &str, old: &'d Value, new: &'d Value) {
        if old.is_null() {
            return;
        }
        let ((old, old_at), (new, new_at)) = (follow(self.old, old), follow(self.new, new));
        // What may be sent in another way too may be sent as before: the first way is that.
        let (new, new_at) = match new["anyOf"].get(0).filter(|_| way == Way::Asked) {
            Some(first) if old["anyOf"].is_null() => follow(self.new, first),
            Some(_) | None => (new, new_at),
        };
        // A pair of named types is judged once; types may hold themselves.
        if !old_at.is_empty() && !self.seen.insert((way, old_at.to_owned(), new_at.to_owned())) {
            return;
        }
        self.types(way, at, old, new);
        self.words(way, at, old, new);
        if way == Way::Asked {
            self.limits(at, old, new);
        }
        for (name, member) in members(&old["properties"]) {
            let at = format!("{at}.{name}");
            match new["properties"].get(name) {
                None => self.find(format!("{at} is gone")),
                Some(other) => self.schemas(way, &at, member, other),
            }
        }
        self.required(way, at, old, new);
        for key in ["items", "additionalProperties"] {
            if old[key].is_object() {
                self.schemas(way, &format!("{at}[]"), &old[key], &new[key]);
            }
        }
        self.branches(way, at, old, new);
    }

    fn types(&mut self, way: Way, at: &str, old: &Value, new: &Value) {
        let (before, after) = (texts(&old["type"]), texts(&new["type"]));
        let (held, by) = match way {
            Way::Asked => (&before, &after),
            Way::Answered => (&after, &before),
        };
        if !by.is_empty() && (held.is_empty() || held.iter().any(|kind| !by.contains(kind))) {
            self.find(format!("{at}: its type was {before:?} and is {after:?}"));
        }
    }

    fn words(&mut self, way: Way, at: &str, old: &Value, new: &Value) {
        let (before, after) = (texts(&old["enum"]), texts(&new["enum"]));
        for word in before.iter().filter(|word| !after.is_empty() && !after.contains(word)) {
            self.find(format!("{at}: the word `{word}` is gone"));
        }
        if way == Way::Asked && before.is_empty() && !after.is_empty() {
            self.find(format!("{at}: only some words are accepted now"));
        }
        if let Some(word) = old.get("const")
            && new.get("const") != Some(word)
        {
            self.find(format!("{at}: is no longer {word}"));
        }
    }

    fn limits(&mut self, at: &str, old: &Value, new: &Value) {
        for (key, lower) in [
            ("minimum", true),
            ("exclusiveMinimum", true),
            ("minLength", true),
            ("minItems", true),
            ("maximum", false),
            ("exclusiveMaximum", false),
            ("maxLength", false),
            ("maxItems", false),
        ] {
            let Some(after) = new[key].as_f64() else { continue };
            let held = old[key]
                .as_f64()
                .is_some_and(|before| if lower { after <= before } else { before <= after });
            // A lower limit of 0 on a length says nothing.
            let idle = lower && key.starts_with("min") && key != "minimum" && after <= 0.0;
            if !held && !idle {
                self.find(format!("{at}: {key} was {} and is {after}", old[key]));
            }
        }
        for key in ["pattern", "format"] {
            if new.get(key).is_some() && new.get(key) != old.get(key) {
                self.find(format!("{at}: {key} was {} and is {}", old[key], new[key]));
            }
        }
        if new["additionalProperties"] == false && old["additionalProperties"] != false {
            self.find(format!("{at}: unknown members are refused now"));
        }
    }

    fn required(&mut self, way: Way, at: &str, old: &Value, new: &Value) {
        let (before, after) = (texts(&old["required"]), texts(&new["required"]));
        let (from, to, what) = match way {
            Way::Asked => (&after, &before, "has become required"),
            Way::Answered => (&before, &after, "is no longer always there"),
        };
        for name in from.iter().filter(|name| !to.contains(name)) {
            self.find(format!("{at}.{name} {what}"));
        }
    }

    /// Each old alternative is still one of the new ones.
    fn branches(&mut self, way: Way, at: &str, old: &'d Value, new: &'d Value) {
        for key in ["oneOf", "anyOf"] {
            for (n, one) in old[key].as_array().into_iter().flatten().enumerate() {
                let others = new[key].as_array().map_or(&[][..], |all| all);
                let kept = others.iter().any(|other| {
                    let mut judge = Judge { seen: self.seen.clone(), found: Vec::new(), ..*self };
                    judge.schemas(way, at, one, other);
                    judge.found.is_empty()
                });
                if !kept {
                    self.find(format!("{at}: alternative {n} of {key} is gone"));
                }
            }
        }
    }
}

/// The schema behind a reference, and the reference.
fn follow<'d>(document: &'d Value, schema: &'d Value) -> (&'d Value, &'d str) {
    let target = schema["$ref"].as_str().unwrap_or_default();
    (
        document
            .pointer(target.trim_start_matches('#'))
            .filter(|_| !target.is_empty())
            .unwrap_or(schema),
        target,
    )
}

/// A text or a list of texts.
fn texts(value: &Value) -> Vec<&str> {
    match value {
        Value::String(one) => vec![one],
        Value::Array(all) => all.iter().filter_map(Value::as_str).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::Object(_) => Vec::new(),
    }
}
