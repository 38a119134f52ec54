//! The numbers of the grammar that are not words: how sure a reading is, slang
//! that stands for a diameter, inches, shafts. All of them are rule data with a
//! source (`rules/label/configuration.toml`).

use crate::label::tables::Mark;
use crate::rules::Origin;
use etui_schema::kinds::loaded;

/// How sure a reading is, 0 to 1; see the file for what each stands for.
#[loaded]
pub(crate) struct Certainty {
    pub(crate) canonical: f64,
    pub(crate) plain: f64,
    pub(crate) likely: f64,
    pub(crate) even: f64,
    pub(crate) second: f64,
    pub(crate) remote: f64,
    pub(crate) parts_only: f64,
    pub(crate) ranged_size: f64,
    pub(crate) remarked_code: f64,
    pub(crate) open_code: f64,
    pub(crate) other_meaning: f64,
    pub(crate) other_cut: f64,
    pub(crate) unusual_count: f64,
    pub(crate) beside: f64,
    pub(crate) bare_count: f64,
    pub(crate) reference: f64,
    pub(crate) one_repair: f64,
    pub(crate) two_repairs: f64,
    pub(crate) unrepaired: f64,
    pub(crate) source: Origin,
}

/// A word that stands for a diameter.
#[loaded]
pub(crate) struct Slang {
    pub(crate) mark: Mark,
    pub(crate) values_mm: Vec<f64>,
    pub(crate) most_mm: Option<f64>,
    pub(crate) source: Origin,
}

/// Zeros that stand for a diameter.
#[loaded]
pub(crate) struct Zeros {
    pub(crate) digits: u8,
    pub(crate) mm: f64,
    pub(crate) source: Origin,
}

/// How inches become trade sizes.
#[loaded]
pub(crate) struct Inch {
    pub(crate) mm: f64,
    pub(crate) tolerance_mm: f64,
    pub(crate) values_mm: Vec<f64>,
    pub(crate) bare_least: f64,
    pub(crate) bare_most: f64,
    pub(crate) source: Origin,
}

/// From where on a length is the shaft's.
#[loaded]
pub(crate) struct Shaft {
    pub(crate) least_mm: f64,
    pub(crate) source: Origin,
}

/// What is known of counts.
#[loaded]
pub(crate) struct Counts {
    pub(crate) usual_two_digits: Vec<u8>,
    pub(crate) most: u8,
    pub(crate) source: Origin,
}
