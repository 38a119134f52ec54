//! The trauma index: how much the same patch of skin is asked to bear.
//!
//! A product of powers, 1.0 for the reference (0.30 3RL under the assumptions
//! for a brow):
//!
//! ```text
//! (depth / thickness)^1.77     needles three times as long hurt seven times as much
//! × (punctures per mm²)^0.30   ten times as many hurt just over twice as much
//! × diameter^0.71              pain in 31, 53, 63 % at 0.235, 0.413, 0.641 mm
//! × (force per tip)^0.3        hand, give, shared among the tips
//! × (peak tip speed)^0.15      long, fast strokes hit harder
//! × (strokes per mm / limit)^0.5 beyond the limit
//! × strain of the skin
//! ```
//!
//! The first three exponents come from studies of microneedles and injections
//! (Gill et al. 2008, Arendt-Nielsen et al. 2006) and are analogies; the rest
//! is our model. The index ranks; it is not calibrated on tattooed faces.

use crate::words::words;

words! {
    /// One cause of trauma.
    Cause {
        /// Depth against the thickness of the site.
        Depth = "depth",
        /// Punctures per area.
        Density = "density",
        /// Diameter of the needles.
        Diameter = "diameter",
        /// Force that each tip carries.
        Load = "load",
        /// Peak speed of the tips.
        Impact = "impact",
        /// Strokes on the same spot beyond the limit.
        Overwork = "overwork",
        /// What the skin itself can bear.
        Skin = "skin",
    }
}

/// How many causes there are.
pub(super) const CAUSES: usize = Cause::ALL.len();

/// The trauma index and what it is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trauma {
    /// The index; 1.0 = reference, never negative.
    pub index: f64,
    factors: [f64; CAUSES],
}

impl Trauma {
    /// Divides raw factors by those of the reference.
    pub(super) fn relative_to(raw: [f64; CAUSES], reference: &[f64; CAUSES]) -> Self {
        let mut factors = raw;
        for (factor, least) in factors.iter_mut().zip(reference) {
            *factor /= least;
        }
        Self { index: factors.iter().product(), factors }
    }

    /// By how much a cause multiplies the index, against the reference.
    #[must_use]
    pub const fn factor(&self, cause: Cause) -> f64 {
        self.factors[cause as usize]
    }

    /// Each cause's share in the distance from the reference, 0 to 1: the
    /// absolute logarithm of its factor over the sum of them all. All are 0 at
    /// the reference itself.
    pub fn shares(&self) -> impl Iterator<Item = (Cause, f64)> + '_ {
        let total: f64 = self.factors.iter().map(|f| f.ln().abs()).sum();
        Cause::ALL.iter().map(move |cause| {
            let part = self.factor(*cause).ln().abs();
            (*cause, if total < 1e-12 { 0.0 } else { part / total })
        })
    }
}
