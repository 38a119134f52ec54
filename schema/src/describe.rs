//! What the document of the interface is made of: the JSON Schema of every type (schemars), with
//! the feature `describe`. The program answers with the document that was made, and does without:
//! then nothing is derived, and every type is as good as described.

#[cfg(not(feature = "describe"))]
pub use etui_schema_macros::JsonSchema;
#[cfg(feature = "describe")]
pub use schemars::{JsonSchema, Schema, SchemaGenerator, generate, json_schema, schema_for};

/// Any type.
#[cfg(not(feature = "describe"))]
pub trait JsonSchema {}
#[cfg(not(feature = "describe"))]
impl<T: ?Sized> JsonSchema for T {}
