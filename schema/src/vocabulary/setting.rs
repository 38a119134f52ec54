//! What a needle is and what it works in: configuration, machine, skin, setting.

use super::{
    Give, Grouping, Hand, Oiliness, Phototype, Sensitivity, Site, SkinSign, Taper, Thickness,
};
use crate::kinds::sent;

/// Millimetres with two decimals, as labels have them. Whole hundredths, which sizes are, need no
/// formatting of fractions: there are dozens in an answer.
#[must_use]
pub fn two_decimals(mm: f64) -> String {
    let hundredths = (mm * 100.0).round();
    if !(1.0..10_000.0).contains(&hundredths) || 1e-6 < (mm * 100.0 - hundredths).abs() {
        return format!("{mm:.2}");
    }
    #[expect(clippy::cast_possible_truncation, reason = "below 10,000")]
    let hundredths = hundredths as u16;
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// A needle configuration: what the trade calls diameter, count, grouping and
/// taper. What a label did not say is absent; nothing is filled in.
#[sent(Copy, free)]
pub struct Configuration {
    /// Diameter of one needle's shaft in millimetres, 0.10 to 0.60.
    #[garde(range(min = 0.10, max = 0.60))]
    pub diameter_mm: Option<f64>,
    /// Number of needles (for a hand blade: of pins), 1 to 49.
    #[garde(range(min = 1, max = 49))]
    pub count: Option<u8>,
    /// How the needles are bound together.
    pub grouping: Option<Grouping>,
    /// Length class of the ground point.
    pub taper: Option<Taper>,
}

impl Configuration {
    /// The canonical text: diameter in mm with two decimals, space, count and
    /// trade code, optional taper code. What is missing prints `?`.
    ///
    /// A diameter that two decimals cannot hold (0.375) is printed with three.
    ///
    /// ```
    /// use etui_schema::vocabulary::{Configuration, Grouping, Taper};
    /// let c = Configuration {
    ///     diameter_mm: Some(0.3),
    ///     count: Some(3),
    ///     grouping: Some(Grouping::RoundShader),
    ///     taper: Some(Taper::Long),
    /// };
    /// assert_eq!(c.canonical(), "0.30 3RS LT");
    /// let unknown = Configuration { diameter_mm: None, taper: None, ..c };
    /// assert_eq!(unknown.canonical(), "? 3RS");
    /// ```
    #[must_use]
    pub fn canonical(&self) -> String {
        use std::fmt::Write;
        let mut text = String::with_capacity(16);
        // Writing to a String cannot fail; the results are dropped knowingly.
        match self.diameter_mm {
            Some(d) if ((d * 100.0) - (d * 100.0).round()).abs() < 1e-6 => {
                text.push_str(&two_decimals(d));
                text.push(' ');
            }
            Some(d) => {
                let _ = write!(text, "{d:.3} ");
            }
            None => text.push_str("? "),
        }
        match self.count {
            Some(n) => {
                let _ = write!(text, "{n}");
            }
            None => text.push('?'),
        }
        text.push_str(self.grouping.map_or("?", Grouping::code));
        if let Some(taper) = self.taper {
            text.push(' ');
            text.push_str(taper.code());
        }
        text
    }
}

/// A machine as the needle feels it.
#[sent(Copy, free)]
pub struct Machine {
    /// Full travel of the needle in millimetres, 0.5 to 6.0.
    #[garde(range(min = 0.5, max = 6.0))]
    pub stroke_mm: Option<f64>,
    /// Strokes per second, 10 to 300.
    #[garde(range(min = 10.0, max = 300.0))]
    pub rate_hz: Option<f64>,
    /// How far the drive yields.
    pub give: Option<Give>,
}

/// A colour in CIE L\*a\*b\* (D65), as a colorimeter reads it.
#[sent(Copy)]
pub struct Lab {
    /// Lightness, 0 to 100.
    #[garde(range(min = 0.0, max = 100.0))]
    pub l: f64,
    /// Green to red, −128 to 127.
    #[garde(range(min = -128.0, max = 127.0))]
    pub a: f64,
    /// Blue to yellow, −128 to 127.
    #[garde(range(min = -128.0, max = 127.0))]
    pub b: f64,
}

/// What is known of a skin. Everything is optional; what is assumed is said.
#[sent(Default, free)]
pub struct Skin {
    /// Age in whole years, 0 to 120.
    #[garde(range(max = 120))]
    pub age_years: Option<u8>,
    /// Sun-reaction type.
    pub phototype: Option<Phototype>,
    /// Measured colour of the skin in the area.
    #[garde(dive)]
    pub lab: Option<Lab>,
    /// Self-reported oiliness.
    pub oiliness: Option<Oiliness>,
    /// Judged thickness.
    pub thickness: Option<Thickness>,
    /// Judged sensitivity.
    pub sensitivity: Option<Sensitivity>,
    /// Signs seen; each at most once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 10))]
    pub signs: Vec<SkinSign>,
}

/// The circumstances a configuration works in. Everything is optional; an
/// answer lists the pointers of what it had to assume.
#[sent(Default, free)]
pub struct Setting {
    /// How firmly the artist works.
    pub hand: Option<Hand>,
    /// The machine.
    #[garde(dive)]
    pub machine: Option<Machine>,
    /// The skin.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Where on the body.
    pub site: Option<Site>,
    /// Depth of the tips in the skin in millimetres, 0.05 to 3.0. It is not
    /// the needle's hang.
    #[garde(range(min = 0.05, max = 3.0))]
    pub depth_mm: Option<f64>,
    /// Speed of the hand along the skin in millimetres per second, 0.5 to 300.
    #[garde(range(min = 0.5, max = 300.0))]
    pub hand_speed_mm_s: Option<f64>,
    /// Number of passes over the same place, 1 to 50.
    #[garde(range(min = 1, max = 50))]
    pub passes: Option<u8>,
}

#[cfg(test)]
mod tests {
    use super::two_decimals;

    #[test]
    fn two_decimals_are_what_formatting_has() {
        let sizes = (0..=200_000).map(|at| f64::from(at) / 1000.0);
        let odd = [-0.0, -0.3, 0.005, 0.295, 0.1 + 0.2, 1e9, f64::NAN, f64::INFINITY];
        for mm in sizes.chain(odd) {
            assert_eq!(two_decimals(mm), format!("{mm:.2}"), "{mm}");
        }
    }
}
