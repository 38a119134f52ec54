//! JSON Merge Patch (RFC 7396): what is absent stays, `null` takes away.

use etui_schema::problem::FaultCode;
use serde_json::{Map, Value};

use super::error::Error;

/// A value with a patch laid over it (RFC 7396, section 2).
#[must_use]
pub fn merged(target: Value, patch: &Value) -> Value {
    let Value::Object(changes) = patch else { return patch.clone() };
    let mut members = match target {
        Value::Object(members) => members,
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) | Value::Array(_) => {
            Map::new()
        }
    };
    for (name, change) in changes {
        let held = members.remove(name);
        if !change.is_null() {
            members.insert(name.clone(), merged(held.unwrap_or_default(), change));
        }
    }
    Value::Object(members)
}

/// The same, but what is taken away and was not there stands as `null`: a name that is none
/// shows when the whole is read.
#[must_use]
pub fn probed(target: &Value, patch: &Value) -> Value {
    let (Value::Object(changes), Value::Object(held)) = (patch, target) else {
        return merged(target.clone(), patch);
    };
    let mut members = held.clone();
    for (name, change) in changes {
        match (held.get(name), change) {
            (Some(_), Value::Null) => _ = members.remove(name),
            (None, Value::Null) => _ = members.insert(name.clone(), Value::Null),
            (before, change) => {
                let before = before.cloned().unwrap_or_default();
                members.insert(name.clone(), probed(&before, change));
            }
        }
    }
    Value::Object(members)
}

/// A patch without the members that say what is shown of the record anyway: what GET gives goes
/// back whole, with what the service sets itself.
#[must_use]
pub fn told_anew(patch: &Value, shown: &Value) -> Value {
    let Value::Object(changes) = patch else { return patch.clone() };
    let is_new = |(name, change): &(&String, &Value)| shown.get(name.as_str()) != Some(change);
    let told = changes.iter().filter(is_new);
    Value::Object(told.map(|(name, change)| (name.clone(), change.clone())).collect())
}

/// Reads the whole, and refuses a name that is none also where the patch only takes it away.
///
/// # Errors
/// What `read` refuses.
pub fn read_merged<T>(
    target: Value,
    patch: &Value,
    read: impl Fn(&Value) -> Result<T, Error>,
) -> Result<T, Error> {
    if let Err(Error::Refused(faults)) = read(&probed(&target, patch)) {
        let unknown: Vec<_> =
            faults.into_iter().filter(|fault| fault.code == FaultCode::UnknownField).collect();
        if !unknown.is_empty() {
            return Err(Error::Refused(unknown));
        }
    }
    read(&merged(target, patch))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// The cases of RFC 7396, appendix A.
    #[test]
    fn as_the_standard_says() {
        for (target, patch, want) in [
            (json!({"a":"b"}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"b"}), json!({"b":"c"}), json!({"a":"b","b":"c"})),
            (json!({"a":"b"}), json!({"a":null}), json!({})),
            (json!({"a":"b","b":"c"}), json!({"a":null}), json!({"b":"c"})),
            (json!({"a":["b"]}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"c"}), json!({"a":["b"]}), json!({"a":["b"]})),
            (json!({"a":{"b":"c"}}), json!({"a":{"b":"d","c":null}}), json!({"a":{"b":"d"}})),
            (json!({"a":[{"b":"c"}]}), json!({"a":[1]}), json!({"a":[1]})),
            (json!(["a", "b"]), json!(["c", "d"]), json!(["c", "d"])),
            (json!({"a":"b"}), json!(["c"]), json!(["c"])),
            (json!({"a":"foo"}), json!(null), json!(null)),
            (json!({"a":"foo"}), json!("bar"), json!("bar")),
            (json!({"e":null}), json!({"a":1}), json!({"e":null,"a":1})),
            (json!([1, 2]), json!({"a":"b","c":null}), json!({"a":"b"})),
            (json!({}), json!({"a":{"bb":{"ccc":null}}}), json!({"a":{"bb":{}}})),
        ] {
            assert_eq!(merged(target.clone(), &patch), want, "{target} + {patch}");
        }
    }
}
