//! What types of one kind have in common, as one word before each.

pub use etui_schema_macros::{asked, loaded, sent, sparing, told};
