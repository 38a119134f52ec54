//! What types of one kind have in common, said once: which traits they have, what they refuse,
//! what they leave out. A word stands before the type; in brackets behind it what this one has
//! besides: traits (`Eq`, `Copy`, `Default`), and `free` where a member that names no limit has none.
//!
//! ```text
//! /// A trainer confirms that she was in the room.
//! #[sent(Eq, free)]
//! pub struct CountersignatureRequest { … }
//! ```

use proc_macro::TokenStream;

/// What a body, and what is named in one, derives.
const SENT: &str = "Debug, Clone, PartialEq, ::serde::Serialize, ::serde::Deserialize, \
                    crate::describe::JsonSchema, ::garde::Validate";
/// What an answer derives, and a query.
const TOLD: &str = "Debug, Clone, PartialEq, ::serde::Serialize, ::serde::Deserialize, crate::describe::JsonSchema";
/// What is read of a file derives.
const LOADED: &str = "Debug, Clone, ::serde::Deserialize";
/// What is absent is left out.
const SPARING: &str = "::serde_with::skip_serializing_none";
/// What is not known is refused.
const STRICT: &str = "serde(deny_unknown_fields)";

/// A body that callers send, or a part of one: it has limits (garde), refuses members that it does
/// not know, and leaves out what is absent.
#[proc_macro_attribute]
pub fn sent(also: TokenStream, item: TokenStream) -> TokenStream {
    with(&[SPARING], SENT, &[STRICT], also, item)
}

/// What callers ask by, or send without limits of its own: it refuses members that it does not
/// know, and leaves out what is absent.
#[proc_macro_attribute]
pub fn asked(also: TokenStream, item: TokenStream) -> TokenStream {
    with(&[SPARING], TOLD, &[STRICT], also, item)
}

/// An answer, or a part of one: it may grow, and leaves out what is absent.
#[proc_macro_attribute]
pub fn told(also: TokenStream, item: TokenStream) -> TokenStream {
    with(&[SPARING], TOLD, &[], also, item)
}

/// What is read of a file of rules: it refuses members that it does not know.
#[proc_macro_attribute]
pub fn loaded(also: TokenStream, item: TokenStream) -> TokenStream {
    with(&[], LOADED, &[STRICT], also, item)
}

/// What stands for schemars' derive where no document is made: it knows its attributes, and makes
/// nothing.
#[proc_macro_derive(JsonSchema, attributes(schemars))]
pub fn undescribed(_: TokenStream) -> TokenStream {
    TokenStream::new()
}

/// An item with these attributes before it, one that derives among them.
fn with(
    before: &[&str],
    derives: &str,
    behind: &[&str],
    also: TokenStream,
    item: TokenStream,
) -> TokenStream {
    let mut derives = derives.to_owned();
    let mut behind = behind.to_vec();
    for word in also {
        match word.to_string().as_str() {
            "," => {}
            "free" => behind.push("garde(allow_unvalidated)"),
            name => derives = format!("{derives}, {name}"),
        }
    }
    let derive = format!("derive({derives})");
    let all = before.iter().copied().chain([derive.as_str()]).chain(behind);
    all.map(attribute).chain([item]).collect()
}

/// An attribute of this text; what is no Rust is told where it stands.
fn attribute(text: &str) -> TokenStream {
    format!("#[{text}]")
        .parse()
        .unwrap_or_else(|_| format!("compile_error!({text:?});").parse().unwrap_or_default())
}
