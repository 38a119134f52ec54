//! Links between operations: from what was made to what can be done with it.
//!
//! They follow from the paths, but for a few ([`TOLD`]). What a POST to `/things`
//! made is reached by its `id` at `/things/{id}` and below; what a POST below `/things/{id}`
//! changed is read at `/things/{id}`; what a PUT wrote is read, and removed,
//! where it was written.

use serde_json::{Map, Value, json};

/// One operation as the document has it.
struct Seen {
    method: String,
    path: String,
    id: String,
}

/// Lays the links over the finished document.
pub(super) fn link(document: &mut Value) {
    let seen = seen(document);
    for one in &seen {
        let pointer = format!(
            "/paths/{}/{}/responses",
            one.path.replace('~', "~0").replace('/', "~1"),
            one.method
        );
        let named = document
            .pointer(&pointer)
            .and_then(Value::as_object)
            .and_then(|all| {
                let made = |status: &&str| all.contains_key(*status);
                // What was made leads on, and not what would be.
                let order = if one.method == "post" { ["201", "200"] } else { ["200", "201"] };
                let status = order.into_iter().find(made)?;
                all.get_key_value(status)
            })
            .map(|(status, response)| (status.clone(), has_id(document, response)));
        let Some((status, has_id)) = named else { continue };
        let links: Map<String, Value> =
            seen.iter().filter_map(|other| between(one, other, has_id)).collect();
        let target = document
            .pointer_mut(&format!("{pointer}/{status}"))
            .and_then(Value::as_object_mut)
            .filter(|_| !links.is_empty());
        if let Some(response) = target {
            response.insert("links".to_owned(), links.into());
        }
    }
}

fn seen(document: &Value) -> Vec<Seen> {
    let items = document["paths"].as_object().into_iter().flatten();
    items
        .flat_map(|(path, item)| {
            item.as_object().into_iter().flatten().filter_map(|(method, operation)| {
                let id = operation["operationId"].as_str()?.to_owned();
                Some(Seen { method: method.clone(), path: path.clone(), id })
            })
        })
        .collect()
}

/// Whether the answer is an object with an `id` of ours.
fn has_id(document: &Value, response: &Value) -> bool {
    response
        .pointer("/content/application~1json/schema/$ref")
        .and_then(Value::as_str)
        .and_then(|target| document.pointer(target.trim_start_matches('#')))
        .and_then(|schema| schema.pointer("/properties/id/format"))
        .is_some_and(|format| format == "uuid")
}

fn between(from: &Seen, to: &Seen, has_id: bool) -> Option<(String, Value)> {
    if from.id == to.id {
        return None;
    }
    let told = TOLD.iter().find(|(one, other, ..)| *one == from.id && *other == to.id);
    if let Some((_, id, name, source)) = told {
        return Some(linked(id, Map::from_iter([((*name).to_owned(), (*source).into())])));
    }
    let made = made_there(from, to).filter(|_| has_id);
    let changed_there = from.method == "post"
        && to.method == "get"
        && to.path.ends_with('}')
        && from.path.strip_prefix(&*to.path).is_some_and(|rest| rest.starts_with('/'));
    let written_there = from.method == "put"
        && matches!(to.method.as_str(), "get" | "patch" | "delete")
        && from.path == to.path;
    if !(made.is_some() || changed_there || written_there) {
        return None;
    }
    let parameters: Option<Map<String, Value>> = names(&to.path)
        .map(|name| {
            let in_path = names(&from.path).any(|held| held == name);
            let source = if in_path {
                format!("$request.path.{name}")
            } else if made == Some(name) {
                "$response.body#/id".to_owned()
            } else {
                // Nothing that was sent or answered is that: the link would lead nowhere.
                return None;
            };
            Some((name.to_owned(), source.into()))
        })
        .collect();
    Some(linked(&to.id, parameters?))
}

/// Links that no path tells: from, to, the parameter, where it stands.
const TOLD: &[(&str, &str, &str, &str)] = &[
    ("claim_reminders", "report_reminder", "id", "$response.body#/reminders/0/id"),
    ("claim_reminders", "get_claim", "id", "$response.body#/claim_id"),
    ("claim_reminders", "extend_claim", "id", "$response.body#/claim_id"),
    ("claim_reminders", "return_claim", "id", "$response.body#/claim_id"),
];

fn linked(id: &str, parameters: Map<String, Value>) -> (String, Value) {
    (id.to_owned(), json!({ "operationId": id, "parameters": parameters }))
}

/// The parameter that is the id of what a POST made, if the other path begins with it.
fn made_there<'s>(from: &Seen, to: &'s Seen) -> Option<&'s str> {
    let rest = to.path.strip_prefix(&*from.path).filter(|_| from.method == "post")?;
    let (name, rest) = rest.strip_prefix("/{")?.split_once('}')?;
    (rest.is_empty() || rest.starts_with('/')).then_some(name)
}

fn names(path: &str) -> impl Iterator<Item = &str> {
    path.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(method: &str, path: &str, id: &str) -> Seen {
        Seen { method: method.to_owned(), path: path.to_owned(), id: id.to_owned() }
    }

    #[test]
    fn links_follow_from_the_paths() {
        let made = seen("post", "/v1/lots", "receive_lot");
        let read = seen("get", "/v1/lots/{id}", "get_lot");
        let changed = seen("post", "/v1/lots/{id}/adjustments", "adjust_lot");
        let listed = seen("get", "/v1/lots", "list_lots");
        let put = seen("put", "/v1/clients/{client_ref}", "put_client");
        let got = seen("get", "/v1/clients/{client_ref}", "get_client");
        let token = seen("post", "/v1/plugins/{id}/tokens", "issue_plugin_token");
        let plugin = seen("post", "/v1/plugins", "register_plugin");
        let rotate = seen("post", "/v1/plugins/{id}/tokens/{token_id}/rotations", "rotate");
        let claim = seen("post", "/v1/reminder-claims", "claim_reminders");
        let report = seen("post", "/v1/reminders/{id}/outcomes", "report_reminder");
        let of_token = json!({ "id": "$request.path.id", "token_id": "$response.body#/id" });
        let first = json!({ "id": "$response.body#/reminders/0/id" });
        let from_body = json!({ "id": "$response.body#/id" });
        let from_path = json!({ "id": "$request.path.id" });
        let by_ref = json!({ "client_ref": "$request.path.client_ref" });
        for (from, to, has_id, want) in [
            (&made, &read, true, Some(&from_body)),
            (&made, &changed, true, Some(&from_body)),
            (&made, &read, false, None),
            (&made, &listed, true, None),
            (&changed, &read, false, Some(&from_path)),
            (&put, &got, false, Some(&by_ref)),
            (&got, &put, false, None),
            (&read, &read, true, None),
            (&token, &rotate, true, Some(&of_token)),
            (&plugin, &rotate, true, None),
            (&claim, &report, false, Some(&first)),
        ] {
            let link = between(from, to, has_id);
            let got = link.as_ref().map(|(_, link)| &link["parameters"]);
            assert_eq!(got, want, "{} to {}", from.id, to.id);
        }
    }
}
