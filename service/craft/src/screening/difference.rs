//! How different two colours look: CIEDE2000 (Sharma, Wu and Dalal 2005), with
//! all weights 1, and the older plain distance for comparison.
//!
//! What a number means is ours to say, on published thresholds: on simulated
//! facial skin half of 90 people saw a plain difference of 1.5 and accepted
//! 1.8; dental convention puts the limit of acceptance at CIEDE2000 1.8.

use etui_schema::vocabulary::Lab;

use super::typing::DifferenceLimits;
use crate::words::words;

words! {
    /// A difference in a word.
    Seen {
        /// The same.
        Same = "same",
        /// Close.
        Close = "close",
        /// Visible side by side.
        Visible = "visible",
        /// Different.
        Different = "different",
    }
}

/// The word for a CIEDE2000 difference.
#[must_use]
pub fn seen(limits: &DifferenceLimits, delta_e_2000: f64) -> Seen {
    if delta_e_2000 < limits.same_below {
        Seen::Same
    } else if delta_e_2000 < limits.close_below {
        Seen::Close
    } else if delta_e_2000 <= limits.visible_up_to {
        Seen::Visible
    } else {
        Seen::Different
    }
}

/// The plain distance of two colours (CIE 1976).
#[must_use]
pub fn delta_e_1976(one: Lab, two: Lab) -> f64 {
    (one.l - two.l).hypot(one.a - two.a).hypot(one.b - two.b)
}

/// CIEDE2000 of two colours, all weights 1. Symmetric, 0 for equal colours.
///
/// ```
/// use etui_craft::screening::difference::delta_e_2000;
/// use etui_schema::vocabulary::Lab;
/// let one = Lab { l: 50.0, a: 2.5, b: 0.0 };
/// let two = Lab { l: 50.0, a: 3.2972, b: 0.0 };
/// assert!((delta_e_2000(one, two) - 1.0).abs() < 1e-4);
/// ```
#[must_use]
pub fn delta_e_2000(one: Lab, two: Lab) -> f64 {
    let chroma_mean = f64::midpoint(one.a.hypot(one.b), two.a.hypot(two.b));
    let stretch = 1.0 + 0.5 * (1.0 - seventh(chroma_mean));
    let (c1, h1) = polar(one.a * stretch, one.b);
    let (c2, h2) = polar(two.a * stretch, two.b);
    let is_grey = c1 * c2 == 0.0;

    let d_l = two.l - one.l;
    let d_c = c2 - c1;
    let d_hue = if is_grey { 0.0 } else { shortest(h2 - h1) };
    let d_h = 2.0 * (c1 * c2).sqrt() * (d_hue / 2.0).to_radians().sin();

    let l_mean = f64::midpoint(one.l, two.l);
    let c_mean = f64::midpoint(c1, c2);
    let h_mean = if is_grey { h1 + h2 } else { mean_hue(h1, h2) };

    let cos = |degrees: f64| degrees.to_radians().cos();
    let t =
        1.0 - 0.17 * cos(h_mean - 30.0) + 0.24 * cos(2.0 * h_mean) + 0.32 * cos(3.0 * h_mean + 6.0)
            - 0.20 * cos(4.0 * h_mean - 63.0);
    let offset = (l_mean - 50.0).powi(2);
    let s_l = 1.0 + 0.015 * offset / (20.0 + offset).sqrt();
    let s_c = 1.0 + 0.045 * c_mean;
    let s_h = 1.0 + 0.015 * c_mean * t;
    let turn = 30.0 * (-((h_mean - 275.0) / 25.0).powi(2)).exp();
    let r_t = -2.0 * seventh(c_mean) * (2.0 * turn).to_radians().sin();

    let (l, c, h) = (d_l / s_l, d_c / s_c, d_h / s_h);
    // Rounding can take the sum a hair below 0 for equal colours.
    (l * l + c * c + h * h + r_t * c * h).max(0.0).sqrt()
}

/// `√(c⁷ / (c⁷ + 25⁷))`.
fn seventh(chroma: f64) -> f64 {
    let power = chroma.powi(7);
    (power / (power + 25.0_f64.powi(7))).sqrt()
}

/// Chroma and hue in degrees, 0 to below 360; hue 0 for grey.
fn polar(a: f64, b: f64) -> (f64, f64) {
    (a.hypot(b), b.atan2(a).to_degrees().rem_euclid(360.0))
}

/// The difference of hues the short way round, above −180 up to 180.
fn shortest(degrees: f64) -> f64 {
    if 180.0 < degrees {
        degrees - 360.0
    } else if degrees < -180.0 {
        degrees + 360.0
    } else {
        degrees
    }
}

fn mean_hue(h1: f64, h2: f64) -> f64 {
    let sum = h1 + h2;
    if (h1 - h2).abs() <= 180.0 {
        sum / 2.0
    } else if sum < 360.0 {
        (sum + 360.0) / 2.0
    } else {
        (sum - 360.0) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Register;
    use crate::screening::typing::Typing;
    use proptest::prelude::*;

    /// The 34 pairs of Sharma, Wu and Dalal 2005.
    const PAIRS: &str = include_str!("difference_pairs.csv");

    #[test]
    fn all_published_pairs_agree_in_both_orders() {
        let mut pairs = 0;
        for line in PAIRS.lines().filter(|line| !line.starts_with('#')) {
            let n: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
            let [_, l1, a1, b1, l2, a2, b2, want] = n[..] else { panic!("{line}") };
            let (one, two) = (Lab { l: l1, a: a1, b: b1 }, Lab { l: l2, a: a2, b: b2 });
            let found = delta_e_2000(one, two);
            assert!((found - want).abs() < 1e-4, "{line}: {found}");
            assert!((found - delta_e_2000(two, one)).abs() < 1e-9, "{line}");
            pairs += 1;
        }
        assert_eq!(pairs, 34);
    }

    #[test]
    fn skins_differ_as_computed_from_published_means() {
        // Alaluf et al. 2002; Xiao et al. 2017.
        let lab = |l, a, b| Lab { l, a, b };
        for (one, two, want, plain) in [
            (lab(59.2, 11.6, 15.1), lab(56.4, 11.7, 16.3), 2.6573, 3.0480),
            (lab(56.4, 11.7, 16.3), lab(56.1, 11.3, 16.4), 0.4821, 0.5099),
            (lab(56.4, 11.7, 16.3), lab(56.8, 11.6, 17.7), 1.0296, 1.4595),
            (lab(65.0, 7.1, 13.3), lab(49.2, 10.2, 18.4), 14.9114, 16.8896),
        ] {
            assert!((delta_e_2000(one, two) - want).abs() < 1e-4);
            assert!((delta_e_1976(one, two) - plain).abs() < 1e-4);
        }
        let tanned = delta_e_2000(lab(65.0, 7.1, 13.3), lab(53.94, 12.57, 19.23));
        assert!((tanned - 11.0008).abs() < 1e-4, "{tanned}");
    }

    #[test]
    fn words_begin_where_they_say() {
        let limits = Typing::builtin(&Register::builtin().unwrap()).unwrap().difference;
        for (delta, word) in [
            (0.0, "same"),
            (0.999, "same"),
            (1.0, "close"),
            (1.999, "close"),
            (2.0, "visible"),
            (3.0, "visible"),
            (3.001, "different"),
        ] {
            assert_eq!(seen(&limits, delta).as_str(), word, "{delta}");
        }
    }

    fn any_lab() -> impl Strategy<Value = Lab> {
        (0.0..=100.0, -128.0..=127.0, -128.0..=127.0).prop_map(|(l, a, b)| Lab { l, a, b })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        #[test]
        fn a_difference_is_symmetric_finite_and_zero_for_itself(one in any_lab(), two in any_lab()) {
            let there = delta_e_2000(one, two);
            prop_assert!(there.is_finite() && 0.0 <= there);
            prop_assert!((there - delta_e_2000(two, one)).abs() < 1e-9);
            prop_assert!(delta_e_2000(one, one) < 1e-9);
        }
    }
}
