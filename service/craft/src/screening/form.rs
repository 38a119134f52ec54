//! The JSON Schema of the answers to one treatment's questions, so that a
//! front end can draw the form by itself and check it before it sends.
//!
//! Base questions are required; a follow-up is required by an `if`/`then` on
//! the answer it depends on. Every question carries its words, its kind and
//! who answers it under `x-` keys beside the schema proper.

use etui_schema::vocabulary::{Language, Treatment};
use jiff::civil::Date;
use serde_json::{Map, Value, json};

use super::question::{Kind, NONE_OF_THESE, Question};
use super::rulebook::Rulebook;

impl Question {
    /// The answer under which no rule speaks, for questions that have one.
    /// It is for tests and documentation; a form must never fill it in.
    #[must_use]
    pub fn clear_answer(&self) -> Option<Value> {
        match &self.kind {
            Kind::YesNo => Some(json!(false)),
            Kind::Choice { options, clear } => Some(json!(&*options[*clear].id)),
            Kind::Choices { .. } => Some(json!([NONE_OF_THESE])),
            Kind::Date { .. } | Kind::Number { .. } => None,
        }
    }
}

impl Rulebook {
    /// The JSON Schema (2020-12) of the answers for a treatment on a day.
    #[must_use]
    pub fn answers_schema(
        &self,
        treatment: Treatment,
        on: Date,
        today: Date,
        language: Language,
    ) -> Value {
        let mut properties = Map::new();
        let mut required = Vec::new();
        let mut conditions = Vec::new();
        for question in self.questions(treatment, on, today) {
            let schema = self.question_schema(question, treatment, language);
            properties.insert(question.id.to_string(), schema);
            if question.optional {
                continue;
            }
            match self.leads_to(question, treatment) {
                None => required.push(json!(&*question.id)),
                Some(condition) => conditions.push(json!({
                    "if": condition,
                    "then": { "required": [&*question.id] },
                })),
            }
        }
        let mut schema = json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": "answers",
            "type": "object",
            "additionalProperties": false,
            "properties": properties,
            "required": required,
        });
        if !conditions.is_empty() {
            schema["allOf"] = Value::Array(conditions);
        }
        schema
    }

    fn question_schema(
        &self,
        question: &Question,
        treatment: Treatment,
        language: Language,
    ) -> Value {
        let words = self.sentences();
        let offered = || -> Vec<(&str, &str)> {
            question
                .offered(words, language, treatment)
                .map(|(option, label)| (&*option.id, label))
                .collect()
        };
        let one_of = |offered: &[(&str, &str)]| -> Vec<Value> {
            offered.iter().map(|(id, label)| json!({ "const": id, "title": label })).collect()
        };
        let mut schema = match &question.kind {
            Kind::YesNo => json!({ "type": "boolean" }),
            Kind::Choice { .. } => json!({ "type": "string", "oneOf": one_of(&offered()) }),
            Kind::Choices { .. } => json!({
                "type": "array",
                "minItems": 1,
                "uniqueItems": true,
                "items": { "type": "string", "oneOf": one_of(&offered()) },
                "if": { "contains": { "const": NONE_OF_THESE } },
                "then": { "maxItems": 1 },
            }),
            Kind::Date { .. } => json!({
                "type": "string",
                "format": "date",
                "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
            }),
            Kind::Number { min, max, unit } => json!({
                "type": "number",
                "minimum": min,
                "maximum": max,
                "x-unit": &**unit,
            }),
        };
        schema["title"] = json!(question.ask(words, language));
        schema["description"] = json!(question.why(words, language));
        schema["x-kind"] = json!(question.kind.as_str());
        schema["x-asked-of"] = json!(question.asked_of.as_str());
        schema
    }

    /// The condition on the parent's answer under which a follow-up is asked.
    fn leads_to(&self, question: &Question, treatment: Treatment) -> Option<Value> {
        let follows = question.follows?;
        let parent = &self.questions[follows.question];
        let ids = self.leading_options(question, treatment);
        let answer = match &parent.kind {
            Kind::YesNo => json!({ "const": true }),
            Kind::Choices { .. } => json!({ "contains": { "enum": ids } }),
            Kind::Choice { .. } | Kind::Date { .. } | Kind::Number { .. } => json!({ "enum": ids }),
        };
        Some(json!({ "properties": { &*parent.id: answer }, "required": [&*parent.id] }))
    }

    /// The options of the parent on which a follow-up is asked; empty for a
    /// yes/no parent, which must be yes.
    #[must_use]
    pub fn leading_options<'b>(
        &'b self,
        question: &Question,
        treatment: Treatment,
    ) -> Vec<&'b str> {
        let Some(follows) = question.follows else { return Vec::new() };
        let options = self.questions[follows.question].kind.options();
        let leading = options.iter().enumerate().filter(|(bit, option)| {
            follows.mask & (1 << bit) != 0 && option.treatments.has(treatment)
        });
        leading.map(|(_, option)| &*option.id).collect()
    }
}
