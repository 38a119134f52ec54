//! Chance that is the same on every machine.
//!
//! The generator is xoshiro256++ (Blackman and Vigna), its state filled by
//! SplitMix64 from one 64-bit seed: whole-number operations only. Numbers
//! between 0 and 1 are the upper 53 bits times 2⁻⁵³. Bell-shaped numbers are
//! the sum of four of them, and sine and cosine are polynomials, so that only
//! additions, multiplications and square roots are used, which IEEE 754 fixes
//! to the last bit.

use std::f64::consts::{FRAC_PI_2, TAU};

/// A seeded stream of chance.
#[derive(Debug, Clone)]
pub struct Chance {
    state: [u64; 4],
}

impl Chance {
    /// The stream of one seed.
    ///
    /// ```
    /// use etui_craft::configuration::pattern::Chance;
    /// let (mut a, mut b) = (Chance::new(7), Chance::new(7));
    /// assert_eq!(a.bits(), b.bits());
    /// assert_ne!(Chance::new(8).bits(), Chance::new(7).bits());
    /// ```
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        let mut state = [0; 4];
        let mut at = seed;
        let mut i = 0;
        while i < state.len() {
            at = at.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut mixed = at;
            mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            state[i] = mixed ^ (mixed >> 31);
            i += 1;
        }
        Self { state }
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// A number from 0 up to but not 1, evenly spread.
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit exactly")]
    pub const fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// A bell-shaped number with mean 0 and standard deviation 1, at most 3.5
    /// away: four even numbers added.
    pub fn bell(&mut self) -> f64 {
        const ROOT_OF_THREE: f64 = 1.732_050_807_568_877_2;
        let sum = self.unit() + self.unit() + self.unit() + self.unit();
        (sum - 2.0) * ROOT_OF_THREE
    }
}

/// Sine and cosine of an angle in radians, to about 1e-13 for angles up to a
/// few thousand turns, by polynomial.
#[must_use]
pub fn sine_cosine(angle: f64) -> (f64, f64) {
    let turned = angle - TAU * (angle / TAU).floor();
    // To a quarter turn around the nearest multiple of π/2.
    let quarter = (turned / FRAC_PI_2 + 0.5).floor();
    let x = turned - quarter * FRAC_PI_2;
    let y = x * x;
    let sine = x
        * (1.0
            + y * (-1.0 / 6.0
                + y * (1.0 / 120.0
                    + y * (-1.0 / 5040.0
                        + y * (1.0 / 362_880.0
                            + y * (-1.0 / 39_916_800.0 + y / 6_227_020_800.0))))));
    let cosine = 1.0
        + y * (-0.5
            + y * (1.0 / 24.0
                + y * (-1.0 / 720.0
                    + y * (1.0 / 40_320.0 + y * (-1.0 / 3_628_800.0 + y / 479_001_600.0)))));
    if 3.5 < quarter {
        (sine, cosine)
    } else if 2.5 < quarter {
        (-cosine, sine)
    } else if 1.5 < quarter {
        (-sine, -cosine)
    } else if 0.5 < quarter {
        (cosine, -sine)
    } else {
        (sine, cosine)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of xoshiro256++ with the state 1, 2, 3, 4, as its authors'
    /// code gives them.
    #[test]
    fn the_generator_is_the_published_one() {
        let mut chance = Chance { state: [1, 2, 3, 4] };
        let want = [41_943_041, 58_720_359, 3_588_806_011_781_223, 3_591_011_842_654_386];
        assert_eq!([(); 4].map(|()| chance.bits()), want);
    }

    /// First outputs of SplitMix64 from 1234567, as its author's code gives them.
    #[test]
    fn the_state_is_filled_by_splitmix() {
        let want = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
        ];
        assert_eq!(Chance::new(1_234_567).state, want);
    }

    #[test]
    fn sine_and_cosine_agree_with_the_machine() {
        for i in -4000..4000 {
            let angle = f64::from(i) * 0.01;
            let (sine, cosine) = sine_cosine(angle);
            assert!((sine - angle.sin()).abs() < 1e-9, "sine of {angle}");
            assert!((cosine - angle.cos()).abs() < 1e-9, "cosine of {angle}");
        }
    }

    #[test]
    fn the_bell_has_mean_zero_and_deviation_one() {
        let mut chance = Chance::new(11);
        let many: Vec<f64> = (0..100_000).map(|_| chance.bell()).collect();
        let mean = many.iter().sum::<f64>() / 1e5;
        let variance = many.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 1e5;
        assert!(mean.abs() < 0.015 && (variance - 1.0).abs() < 0.02, "{mean} {variance}");
    }
}
