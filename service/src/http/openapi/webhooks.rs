//! What the service sends: the `webhooks` of the OpenAPI document.
//!
//! One entry an event type. The body is the schema `Event`, which the document
//! has from `GET /v1/events`.

use etui_schema::describe::schema_for;
use etui_schema::events::EventType;
use serde_json::{Map, Value, json};

/// The member `webhooks` of the document (OpenAPI 3.1.1, 4.8.1).
pub(super) fn webhooks() -> Value {
    let words = schema_for!(EventType).to_value();
    let all: Map<String, Value> =
        EventType::ALL.iter().map(|kind| (kind.to_string(), entry(&words, *kind))).collect();
    Value::Object(all)
}

fn entry(words: &Value, kind: EventType) -> Value {
    let header = |name: &str, says: &str, example: &str| {
        json!({
            "name": name,
            "in": "header",
            "required": true,
            "description": says,
            "schema": { "type": "string" },
            "example": example,
        })
    };
    json!({
        "post": {
            "operationId": format!("on_{}", kind.as_str().replace('.', "_")),
            "tags": ["plugins"],
            "summary": summary(words, kind),
            "description": "Sent to its subscriptions.",
            "security": [],
            "parameters": [
                header(
                    "webhook-id",
                    "The event's id, the same in every attempt.",
                    "0198c6a2-7d5e-7000-8000-000000000001",
                ),
                header("webhook-timestamp", "When this attempt was made, in seconds since 1970.", "1805184000"),
                header(
                    "webhook-signature",
                    "HMAC-SHA-256 of `id.timestamp.body` under the secret, as `v1,` and base64; two, \
                     separated by a space, while a secret is changed over.",
                    "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
                ),
            ],
            "requestBody": {
                "required": true,
                "description": "The event (CloudEvents 1.0.2, structured mode).",
                "content": {
                    "application/cloudevents+json": {
                        "schema": { "$ref": "#/components/schemas/Event" },
                    },
                },
            },
            "responses": {
                "2XX": { "description": "Taken; it is not sent again." },
                "default": {
                    "description": "Not taken: it is sent again with growing pauses for three days. 410 \
                        ends the subscription. `Retry-After` is honoured; redirects are not followed.",
                },
            },
        },
    })
}

/// What its word says in the schema, up to where that goes on.
fn summary(words: &Value, kind: EventType) -> String {
    let all = words["oneOf"].as_array().map_or(&[][..], Vec::as_slice);
    let word = all.iter().find(|word| word["const"] == kind.as_str());
    let says = word.and_then(|word| word["description"].as_str()).unwrap_or_default();
    says.split(['.', ':']).next().unwrap_or_default().replace('\n', " ")
}
