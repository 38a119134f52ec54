//! Paging: how a list is asked for and answered.

use crate::describe::JsonSchema;
#[cfg(feature = "describe")]
use crate::describe::{Schema, SchemaGenerator, json_schema};
use crate::kinds::{asked, sparing};

use serde::{Deserialize, Serialize};

/// One page of a list.
#[sparing]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Page<T> {
    /// The rows of this page.
    pub items: Vec<T>,
    /// Ask for the next page with `?cursor=` and this; absent on the last one.
    pub next_cursor: Option<String>,
    /// How many more rows are there whose records cannot be read; absent if there are
    /// none. `etui verify` names them.
    pub unreadable: Option<u32>,
}

#[cfg(feature = "describe")]
impl<T: JsonSchema> JsonSchema for Page<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        format!("PageOf{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let item = generator.subschema_for::<T>();
        let next = generator.subschema_for::<NextCursor>();
        let unreadable = generator.subschema_for::<UnreadableRows>();
        json_schema!({
            "type": "object",
            "properties": {
                "items": { "type": "array", "items": item },
                "next_cursor": next,
                "unreadable": unreadable
            },
            "required": ["items"]
        })
    }
}

/// `cursor` of the next page; absent on the last.
#[derive(JsonSchema)]
#[expect(dead_code, reason = "it is said once of every page")]
struct NextCursor(String);

/// Rows that cannot be read (`etui verify` names them).
#[derive(JsonSchema)]
#[expect(dead_code, reason = "it is said once of every page")]
struct UnreadableRows(#[schemars(range(min = 1))] u32);

/// Which page of a list.
#[asked(Default, Eq)]
pub struct PageQuery {
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}
