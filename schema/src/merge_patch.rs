//! Changing some members of a record: JSON Merge Patch (RFC 7396).

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};

/// The media type of a merge patch.
pub const MEDIA_TYPE: &str = "application/merge-patch+json";

/// A merge patch; what it makes of the record is held to the limits of the record.
#[derive(Debug, Clone, Copy)]
pub struct MergePatch;

#[cfg(feature = "describe")]
impl JsonSchema for MergePatch {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "MergePatch".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "object",
            "description": "JSON Merge Patch (RFC 7396): members that are absent stay as they are, objects are \
                            merged, lists and values are replaced, `null` takes a member away. What comes of it \
                            is held to the schema of the PUT.",
            "additionalProperties": true
        })
    }
}
