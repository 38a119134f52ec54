//! What a configuration does in a skin.
//!
//! [`Model::builtin`] loads parameters, packings and skin once.
//! [`Model::circumstances`] fills a setting and lists what was assumed.
//! [`Model::measure`] computes everything about one [`Complete`]
//! configuration:
//!
//! ```text
//! grouping, count ──► layout (tips, width, footprint)
//!                       │  diameter, taper, depth
//!                       ▼
//!                     holes and marks ──► rate, hand speed, passes ──► coverage
//!                       │
//!                       ▼
//!                     pressure per tip (hand, give) ──► trauma (depth, density,
//!                     diameter, load, impact, overwork, skin)
//! ```
//!
//! Lengths are millimetres, areas square millimetres, unless a name says
//! otherwise. Indices are relative to [`REFERENCE`] and rank; no force is ever
//! told as a clinical fact.

mod cautions;
pub(crate) mod circumstances;
mod compare;
mod complete;
pub(crate) mod documentation;
pub mod draw;
mod holes;
pub mod hull;
mod layout;
mod measures;
pub mod mechanics;
mod model;
mod packing;
pub(crate) mod parameters;
pub mod pattern;
pub(crate) mod skin;
mod trauma;
mod wording;

pub use cautions::{Caution, Cautions};
pub use circumstances::{Circumstances, Defaults, SiteDefaults};
pub use compare::{COMPARED_MAX, CompareError, Compared, Comparison, Flip, OrderBy};
pub use complete::{COUNT_MAX, Complete, DIAMETER_MAX_MM, DIAMETER_MIN_MM, Incomplete};
pub use documentation::MeasureDocument;
pub use holes::TipDepths;
pub use layout::{Layout, Stand, arc_set_back_mm};
pub use measures::Measures;
pub use model::{Model, REFERENCE};
pub use parameters::{Parameter, ParameterError, Parameters, Specification};
pub use skin::{Layer, SiteSkin, SkinTable, Tolerance, is_fragile};
pub use trauma::{Cause, Trauma};
pub use wording::{Measured, Wording};

#[cfg(test)]
mod tests;
