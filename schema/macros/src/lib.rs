//! What types of one kind have in common, said once: which traits they have, what they refuse,
//! what they leave out. A word stands before the type; in brackets behind it what this one has
//! besides: traits (`Eq`, `Copy`, `Default`), and `free` where a member that names no limit has none.
//!
//! ```text
//! /// A trainer confirms that she was in the room.
//! #[sent(Eq, free)]
//! pub struct CountersignatureRequest { … }
//! ```

use proc_macro::{Delimiter, Group, TokenStream, TokenTree};

/// What a body, and what is named in one, derives.
const SENT: &str = "Debug, Clone, PartialEq, ::serde::Serialize, ::serde::Deserialize, \
                    crate::describe::JsonSchema, ::garde::Validate";
/// What an answer derives, and a query.
const TOLD: &str = "Debug, Clone, PartialEq, ::serde::Serialize, ::serde::Deserialize, crate::describe::JsonSchema";
/// What is read of a file derives.
const LOADED: &str = "Debug, Clone, ::serde::Deserialize";
/// What is absent is left out.
const SPARING: &str = "serde(skip_serializing_if = \"::core::option::Option::is_none\")";
/// What is not known is refused.
const STRICT: &str = "serde(deny_unknown_fields)";

/// A body that callers send, or a part of one: it has limits (garde), refuses members that it does
/// not know, and leaves out what is absent.
#[proc_macro_attribute]
pub fn sent(also: TokenStream, item: TokenStream) -> TokenStream {
    with(SENT, &[STRICT], also, spared(item))
}

/// What callers ask by, or send without limits of its own: it refuses members that it does not
/// know, and leaves out what is absent.
#[proc_macro_attribute]
pub fn asked(also: TokenStream, item: TokenStream) -> TokenStream {
    with(TOLD, &[STRICT], also, spared(item))
}

/// An answer, or a part of one: it may grow, and leaves out what is absent.
#[proc_macro_attribute]
pub fn told(also: TokenStream, item: TokenStream) -> TokenStream {
    with(TOLD, &[], also, spared(item))
}

/// What is read of a file of rules: it refuses members that it does not know.
#[proc_macro_attribute]
pub fn loaded(also: TokenStream, item: TokenStream) -> TokenStream {
    with(LOADED, &[STRICT], also, item)
}

/// What stands for schemars' derive where no document is made: it knows its attributes, and makes
/// nothing.
#[proc_macro_derive(JsonSchema, attributes(schemars))]
pub fn undescribed(_: TokenStream) -> TokenStream {
    TokenStream::new()
}

/// A type that leaves out what is absent, and has nothing else of these kinds.
#[proc_macro_attribute]
pub fn sparing(_: TokenStream, item: TokenStream) -> TokenStream {
    spared(item)
}

/// An item each of whose optional members is left out where it is absent, in variants too.
fn spared(item: TokenStream) -> TokenStream {
    let in_braces = |token| match group(&token, Delimiter::Brace) {
        Some(found) => {
            let mut inner = Group::new(Delimiter::Brace, members(found.stream()));
            inner.set_span(found.span());
            inner.into()
        }
        None => token,
    };
    item.into_iter().map(in_braces).collect()
}

/// Members, the optional ones with their attribute; of variants, the same of theirs.
fn members(all: TokenStream) -> TokenStream {
    let (mut made, mut member) = (TokenStream::new(), Vec::new());
    let mut angles = 0_usize;
    for token in all {
        let ends = angles == 0 && is_sign(&token, ',');
        if is_sign(&token, '<') {
            angles += 1;
        } else if is_sign(&token, '>') {
            angles = angles.saturating_sub(1);
        }
        member.push(token);
        if ends {
            made.extend(one_member(std::mem::take(&mut member)));
        }
    }
    made.extend(one_member(member));
    made
}

fn one_member(member: Vec<TokenTree>) -> TokenStream {
    // `name: Option<…>`; the colons of a path come in pairs.
    let is_optional = member.windows(3).any(|near| {
        matches!(near, [TokenTree::Ident(_), colon, kind] if is_sign(colon, ':') && is_option(kind))
    });
    let before = if is_optional { attribute(SPARING) } else { TokenStream::new() };
    before.into_iter().chain(spared(member.into_iter().collect())).collect()
}

/// Whether a type begins here that may be absent; what a macro was given as a type is a group.
fn is_option(token: &TokenTree) -> bool {
    match group(token, Delimiter::None) {
        Some(inner) => inner.stream().into_iter().next().is_some_and(|first| is_option(&first)),
        None => matches!(token, TokenTree::Ident(name) if name.to_string() == "Option"),
    }
}

fn is_sign(token: &TokenTree, sign: char) -> bool {
    matches!(token, TokenTree::Punct(found) if found.as_char() == sign)
}

fn group(token: &TokenTree, delimiter: Delimiter) -> Option<&Group> {
    let TokenTree::Group(group) = token else { return None };
    (group.delimiter() == delimiter).then_some(group)
}

/// An item with these attributes before it, one that derives among them.
fn with(derives: &str, behind: &[&str], also: TokenStream, item: TokenStream) -> TokenStream {
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
    [derive.as_str()].into_iter().chain(behind).map(attribute).chain([item]).collect()
}

/// An attribute of this text; what is no Rust is told where it stands.
fn attribute(text: &str) -> TokenStream {
    format!("#[{text}]")
        .parse()
        .unwrap_or_else(|_| format!("compile_error!({text:?});").parse().unwrap_or_default())
}
