//! Skin colour by the individual typology angle:
//! `ITA = atan((L* − 50) / b*) · 180 / π`, in degrees.
//!
//! Measured under D65 with the observer stated, on unexposed *and* on target
//! skin: the same person changes class between arm and forehead, so a reading
//! is worth nothing without its site. At b* = 0 the angle jumps to ±90°, and
//! below it two ways of computing the arc tangent part; no skin has such a b*,
//! and such a reading is refused.
//!
//! There is no sourced table between this angle and sun-reaction types, so
//! neither is turned into the other.

use etui_schema::vocabulary::Lab;

use super::typing::ToneLimits;
use crate::words::words;

words! {
    /// Classes of the angle, lightest first.
    ToneClass {
        /// Above 55°.
        VeryLight = "very_light",
        /// Above 41° up to 55°.
        Light = "light",
        /// Above 28° up to 41°.
        Intermediate = "intermediate",
        /// Above 10° up to 28°.
        Tan = "tan",
        /// Above −30° up to 10°.
        Brown = "brown",
        /// −30° and below.
        Dark = "dark",
    }
}

/// A colour that no skin has.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("b* of {b} is no colour of skin; a finite value above 0 is wanted")]
pub struct Implausible {
    /// The b* found.
    pub b: f64,
}

/// The individual typology angle in degrees, above −90 and below 90.
///
/// # Errors
/// [`Implausible`] for b* at or below 0, or a value that is not finite.
///
/// ```
/// use etui_craft::screening::tone::ita_degrees;
/// use etui_schema::vocabulary::Lab;
/// let ita = ita_degrees(Lab { l: 65.0, a: 7.0, b: 15.0 }).unwrap();
/// assert!((ita - 45.0).abs() < 1e-9);
/// assert!(ita_degrees(Lab { l: 65.0, a: 7.0, b: 0.0 }).is_err());
/// ```
pub fn ita_degrees(lab: Lab) -> Result<f64, Implausible> {
    let plausible = lab.l.is_finite() && lab.b.is_finite() && 0.0 < lab.b;
    if !plausible {
        return Err(Implausible { b: lab.b });
    }
    Ok(((lab.l - 50.0) / lab.b).atan().to_degrees())
}

/// The class of an angle.
#[must_use]
pub fn class(limits: &ToneLimits, ita_degrees: f64) -> ToneClass {
    limits
        .above
        .iter()
        .find(|limit| limit.degrees < ita_degrees)
        .map_or(limits.below_all, |limit| limit.class)
}

/// Hue angle of a colour in degrees, 0 to below 360. No limit between warm and
/// cool skin has been published, so none is drawn.
#[must_use]
pub fn hue_degrees(lab: Lab) -> f64 {
    lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;
    use crate::screening::typing::Typing;

    fn check(l: f64, a: f64, b: f64, ita: f64, within: f64, class_word: &str) {
        let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().tone;
        let found = ita_degrees(Lab { l, a, b }).unwrap();
        assert!((found - ita).abs() < within, "({l}, {a}, {b}): {found} for {ita}");
        assert_eq!(class(&limits, found).as_str(), class_word, "({l}, {a}, {b})");
    }

    #[test]
    fn worked_angles() {
        for (l, b, ita, class) in [
            (70.0, 10.0, 63.4349, "very_light"),
            (65.0, 15.0, 45.0, "light"),
            (60.0, 15.0, 33.6901, "intermediate"),
            (55.0, 18.0, 15.5241, "tan"),
            (50.0, 15.0, 0.0, "brown"),
            (45.0, 15.0, -18.4349, "brown"),
            (35.0, 12.0, -51.3402, "dark"),
        ] {
            check(l, 0.0, b, ita, 5e-5, class);
        }
    }

    #[test]
    fn group_means_as_published() {
        // Alaluf et al. 2002 (first seven), Xiao et al. 2017 (the others).
        for (l, a, b, ita, class) in [
            (65.0, 7.1, 13.3, 48.44, "light"),
            (61.9, 8.3, 15.3, 37.87, "intermediate"),
            (62.1, 8.4, 16.3, 36.59, "intermediate"),
            (53.7, 10.3, 17.9, 11.68, "tan"),
            (49.2, 10.2, 18.4, -2.49, "brown"),
            (53.94, 12.57, 19.23, 11.58, "tan"),
            (38.14, 12.66, 15.04, -38.26, "dark"),
            (59.2, 11.6, 15.1, 31.35, "intermediate"),
            (63.0, 5.6, 14.0, 42.88, "light"),
            (56.4, 11.7, 16.3, 21.44, "tan"),
            (56.1, 11.3, 16.4, 20.40, "tan"),
            (56.8, 11.6, 17.7, 21.02, "tan"),
        ] {
            check(l, a, b, ita, 5e-3, class);
        }
    }

    #[test]
    fn a_class_ends_with_its_limit() {
        // Chardon 1991; Del Bino and Bernerd 2013: upper limits are inclusive.
        let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().tone;
        for (ita, at, above) in [
            (55.0, "light", "very_light"),
            (41.0, "intermediate", "light"),
            (28.0, "tan", "intermediate"),
            (10.0, "brown", "tan"),
            (-30.0, "dark", "brown"),
        ] {
            assert_eq!(class(&limits, ita).as_str(), at, "{ita}");
            assert_eq!(class(&limits, ita + 1e-9).as_str(), above, "just above {ita}");
        }
        // The lightness at which each limit lies for b* = 15.
        for (l, limit) in
            [(71.4222, 55.0), (63.0393, 41.0), (57.9756, 28.0), (52.6449, 10.0), (41.3397, -30.0)]
        {
            let ita = ita_degrees(Lab { l, a: 0.0, b: 15.0 }).unwrap();
            assert!((ita - limit).abs() < 5e-4, "{l}: {ita}");
        }
    }

    #[test]
    fn hue_of_published_means() {
        // Xiao et al. 2017: forehead and inner arm.
        for (a, b, hue) in [(11.6, 15.1, 52.47), (5.6, 14.0, 68.20), (11.7, 16.3, 54.33)] {
            let found = hue_degrees(Lab { l: 60.0, a, b });
            assert!((found - hue).abs() < 5e-3, "{found}");
        }
    }

    #[test]
    fn what_no_skin_shows_is_refused() {
        for b in [0.0, -0.0, -5.0, f64::NAN, f64::INFINITY] {
            assert!(ita_degrees(Lab { l: 60.0, a: 8.0, b }).is_err(), "{b}");
        }
        assert!(ita_degrees(Lab { l: f64::NAN, a: 8.0, b: 15.0 }).is_err());
    }
}
