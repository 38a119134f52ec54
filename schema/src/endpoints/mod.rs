//! Every operation of the interface as a value: how it is called, where, what goes in and what
//! comes out.
//!
//! # One line, three readers
//!
//! An operation is said once, as a line of a table, one table a room (`drawer.rs`,
//! `treatments.rs`, …):
//!
//! ```text
//! /// changes a lot by hand.
//! ///
//! /// # Errors
//! /// [`Error::Problem`], among others 422 if the count would fall below 0.
//! Once adjust_lot "/v1/lots/{id}/adjustments" (id: Uuid) [DrawerWrite],
//!     body lots::AdjustmentRequest => lots::Lot;
//! ```
//!
//! The line is a function here, [`adjust_lot`], that gives the [`Endpoint`] as a value. The service
//! makes its operation of that value (`http::operation`): method, path, id, tag, scope, schemas of
//! query, body and answer, and which of `Idempotency-Key`, `If-Match` and `If-None-Match` are looked
//! at. The client makes its method of the same line (`methods.rs`), and the tests' tour asks the
//! value where to send to.
//!
//! # What a line says
//!
//! In this order; everything behind the path may be missing:
//!
//! 1. [`How`] it is called.
//! 2. The operation's id, which is the name of the client's method.
//! 3. The path; in brackets its parameters, as the client's method takes them.
//! 4. In square brackets the scope that a token needs.
//! 5. `query`: the type of the query; `body`: that of the body; `=>` that of the answer, without
//!    [`Page`](crate::page::Page) for a list. What is no JSON (a picture, a calendar, a page) has no type.
//! 6. `as`: the media type of the answer if it is not `application/json`.
//! 7. `dry`: it can be tried by `?dry_run=true`, and the client's method that does so.
//! 8. `rows`: the client's method that gives every row of the list, page after page.
//!
//! The comment in front is the rest of the sentence that the client's method begins with method and
//! path; its links are the client's. A table begins with the tag that the document gives its
//! operations, and has two parts: the `methods`, which the client makes by itself, and those whose
//! method has something of its `own` and is written out in the client (`own.rs`).
//!
//! # The tables are macros
//!
//! Each table is a macro that hands itself to the macro that is named to it, `values` here and
//! `methods` in the client. So a line is expanded where its types are seen, no crate builds names
//! out of strings, and nothing is generated into files.

use std::any::TypeId;
use std::fmt::Display;
use std::marker::PhantomData;

use serde::Deserialize;

use crate::access::Scope;
use crate::describe::JsonSchema;

/// How an operation is called: its method, and what goes with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// GET of something.
    Get,
    /// GET of a record, which comes with its entity tag.
    Tagged,
    /// GET of one page of rows.
    List,
    /// GET of a text that is no JSON.
    Text,
    /// POST that may be repeated: it computes, or does what is done twice as well as once.
    Post,
    /// POST that writes, and is carried out once by its `Idempotency-Key`.
    Once,
    /// PUT of a record, in the version of `If-Match` if it exists.
    Put,
    /// PATCH of a record by a merge patch, in the version of `If-Match`.
    Patch,
    /// DELETE of a record, in the version of `If-Match`.
    Delete,
    /// The same; the client's caller may leave the version away, and is told what to do then.
    Take,
    /// DELETE that waits for nobody to read a version first.
    Close,
}

impl How {
    /// The method.
    #[must_use]
    pub const fn method(self) -> &'static str {
        match self {
            Self::Get | Self::Tagged | Self::List | Self::Text => "GET",
            Self::Post | Self::Once => "POST",
            Self::Put => "PUT",
            Self::Patch => "PATCH",
            Self::Delete | Self::Take | Self::Close => "DELETE",
        }
    }
}

/// Where an operation is and how it is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct At {
    /// How it is called.
    pub how: How,
    /// Its path, with the names of its parameters.
    pub path: &'static str,
    /// Its id.
    pub id: &'static str,
    /// Under which the document shows it.
    pub tag: &'static str,
    /// The scope that a token needs.
    pub scope: Option<Scope>,
    /// Media type of its answer; the first if there are several.
    pub media: &'static str,
}

/// What stands in the place of a parameter of a path.
pub type Place<'p> = &'p (dyn Display + Sync);

impl At {
    /// The segments of the path, its parameters filled with `places` in their order, nothing encoded.
    ///
    /// ```
    /// use etui_schema::endpoints::{get_calendar, get_lot};
    /// assert_eq!(get_lot().at.segments(&[&7]), ["v1", "lots", "7"]);
    /// assert_eq!(get_calendar().at.segments(&[&"a/b"]), ["v1", "calendars", "a/b.ics"]);
    /// ```
    #[must_use]
    pub fn segments(&self, places: &[Place<'_>]) -> Vec<String> {
        let mut places = places.iter();
        let fill = |part: &str| match part.split_once('{').zip(part.split_once('}')) {
            Some(((before, _), (_, after))) => {
                places.next().map_or_else(String::new, |place| format!("{before}{place}{after}"))
            }
            None => part.to_owned(),
        };
        self.path.split('/').skip(1).map(fill).collect()
    }

    /// The path with its parameters filled in the same way.
    #[must_use]
    pub fn filled(&self, places: &[Place<'_>]) -> String {
        format!("/{}", self.segments(places).join("/"))
    }
}

/// An operation with its query, its body and its answer.
#[derive(Debug, Clone, Copy)]
pub struct Endpoint<Query, Body, Answer> {
    /// Where it is and how it is called.
    pub at: At,
    parts: PhantomData<fn(Query, Body) -> Answer>,
}

impl<Query, Body, Answer> Endpoint<Query, Body, Answer> {
    const fn new(at: At) -> Self {
        Self { at, parts: PhantomData }
    }
}

/// No query, no body of a type of its own, no JSON in the answer.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nothing {}

impl Nothing {
    /// Whether a part of an endpoint is none.
    #[must_use]
    pub fn is<Part: 'static>() -> bool {
        TypeId::of::<Part>() == TypeId::of::<Self>()
    }
}

/// A part of an endpoint as it is named in a line.
macro_rules! part {
    () => { crate::endpoints::Nothing };
    (dry $would:ident) => { crate::dry_runs::DryRunQuery };
    (List $row:ty) => { crate::page::Page<$row> };
    ($how:ident $answer:ty) => { $answer };
    ($how:ident) => { crate::endpoints::Nothing };
    (: $part:ty) => { $part };
}

/// The media type of a line.
macro_rules! media {
    () => {
        "application/json"
    };
    ($media:literal) => {
        $media
    };
}

/// The scope of a line.
macro_rules! scope {
    () => {
        None
    };
    ($scope:ident) => {
        Some(crate::access::Scope::$scope)
    };
}

/// The lines of a table as functions.
macro_rules! values {
    ([] $tag:literal methods { $($method:tt)* } own { $($own:tt)* }) => {
        values! { $tag $($method)* $($own)* }
    };
    ($tag:literal $($(#[$doc:meta])* $how:ident $name:ident $path:literal
        $(($($place:tt)*))? $([$scope:ident])? $(, query $query:ty)? $(, body $body:ty)?
        $(=> $answer:ty)? $(, as $media:literal)? $(, dry $would:ident)? $(, rows $rows:ident)?;)*) => {$(
        #[doc = concat!("`", $path, "`, [called so](crate::endpoints::How::", stringify!($how), ").")]
        #[must_use]
        pub const fn $name() -> crate::endpoints::Endpoint<
            part!($(: $query)? $(dry $would)?),
            part!($(: $body)?),
            part!($how $($answer)?),
        > {
            use crate::endpoints::{At, Endpoint, How};
            let (how, id, scope) = (How::$how, stringify!($name), scope!($($scope)?));
            Endpoint::new(At { how, path: $path, id, tag: $tag, scope, media: media!($($media)?) })
        }
    )*};
}

mod aftercare;
mod checks;
mod configurations;
mod drawer;
mod entries;
mod events;
mod labels;
mod packs;
mod plugins;
mod records;
mod reminders;
mod screening;
mod service;
mod training;
mod treatments;

pub use aftercare::*;
pub use checks::*;
pub use configurations::*;
pub use drawer::*;
pub use entries::*;
pub use events::*;
pub use labels::*;
pub use packs::*;
pub use plugins::*;
pub use records::*;
pub use reminders::*;
pub use screening::*;
pub use service::*;
pub use training::*;
pub use treatments::*;
