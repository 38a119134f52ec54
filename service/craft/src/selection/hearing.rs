//! What is heard in a setting: only what was told speaks, never what was
//! assumed. Skin colour (phototype, L\*a\*b\*) is not listened to at all: no
//! page of the trade ties a needle to it.

use etui_schema::vocabulary::{Give, Hand, Machine, Setting, Skin, SkinSign};

use super::answer::Heard;
use super::rules::{General, Signal, Want};

/// How an effect wants to be worked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Manner {
    /// How far apart its hits lie, in mm.
    pub(super) spacing_mm: [f64; 2],
    /// How many passes it usually takes at most.
    pub(super) most_passes: u8,
}

impl Manner {
    /// No effect at all: neither pace nor passes can be wrong.
    pub(super) const ANY: Self = Self { spacing_mm: [0.0, f64::MAX], most_passes: u8::MAX };
}

impl From<&Want> for Manner {
    fn from(want: &Want) -> Self {
        Self { spacing_mm: want.spacing_mm, most_passes: want.passes[1] }
    }
}

/// Hears a setting for an effect that wants to be worked in a manner.
pub(super) fn hear(general: &General, setting: &Setting, manner: Manner) -> Heard {
    let mut levels = [0.0; Signal::COUNT];
    let mut say = |signal: Signal, level: f64| levels[signal as usize] = level.clamp(0.0, 1.0);
    match setting.hand {
        Some(Hand::Heavy) => say(Signal::HeavyHand, 1.0),
        Some(Hand::Light) => say(Signal::LightHand, 1.0),
        Some(Hand::Medium) | None => {}
    }
    if let Some(machine) = &setting.machine {
        hear_machine(general, machine, &mut say);
        hear_pace(machine, setting.hand_speed_mm_s, manner.spacing_mm, &mut say);
    }
    let most = f64::from(manner.most_passes) * general.overwork.passes_times;
    let many = setting.passes.is_some_and(|passes| most < f64::from(passes));
    say(Signal::ManyPasses, f64::from(u8::from(many)));
    if let Some(skin) = &setting.skin {
        hear_skin(general, skin, setting.site.is_some_and(super::is_lid), &mut say);
    }
    Heard { levels, speaks_from: general.limits.speaks_from }
}

fn hear_machine(general: &General, machine: &Machine, say: &mut impl FnMut(Signal, f64)) {
    let reading = &general.machine;
    let drive = machine.stroke_mm.map_or(0.0, |x| along(&reading.stroke_mm, x))
        + machine.rate_hz.map_or(0.0, |x| along(&reading.rate_hz, x))
        + machine.give.map_or(0.0, |x| reading.give.get(&x).copied().unwrap_or(0.0));
    say(Signal::WeakMachine, -drive);
    say(Signal::HardMachine, drive);
    let limits = &general.limits;
    let stroke = |is: &dyn Fn(f64) -> bool| f64::from(u8::from(machine.stroke_mm.is_some_and(is)));
    let soft = stroke(&|x| x <= limits.short_stroke_mm);
    say(Signal::SoftMachine, if machine.give == Some(Give::Soft) { 1.0 } else { soft });
    say(Signal::LongStroke, stroke(&|x| limits.long_stroke_mm <= x));
    say(Signal::TattooStroke, stroke(&|x| limits.tattoo_stroke_mm < x));
    let rate = |is: &dyn Fn(f64) -> bool| f64::from(u8::from(machine.rate_hz.is_some_and(is)));
    say(Signal::FastRate, rate(&|x| limits.fast_rate_hz <= x));
    say(Signal::LowRate, rate(&|x| x <= limits.low_rate_hz.value));
}

fn hear_pace(
    machine: &Machine,
    hand_speed_mm_s: Option<f64>,
    [low, high]: [f64; 2],
    say: &mut impl FnMut(Signal, f64),
) {
    let (Some(rate_hz), Some(speed_mm_s)) = (machine.rate_hz, hand_speed_mm_s) else { return };
    let spacing_mm = speed_mm_s / rate_hz;
    say(Signal::CrowdedHits, f64::from(u8::from(spacing_mm < low)));
    say(Signal::SparseHits, f64::from(u8::from(high < spacing_mm)));
}

fn hear_skin(general: &General, skin: &Skin, on_lid: bool, say: &mut impl FnMut(Signal, f64)) {
    let reading = &general.skin;
    let mature = skin.age_years.is_some_and(|age| reading.mature_from_years <= age);
    // The thickness of a lid does not follow age, so age is silent there.
    let age = if mature && !on_lid { reading.mature } else { 0.0 };
    let told = [
        skin.thickness.and_then(|x| reading.thickness.get(&x).copied()).unwrap_or(0.0),
        skin.oiliness.and_then(|x| reading.oiliness.get(&x).copied()).unwrap_or(0.0),
        skin.sensitivity.and_then(|x| reading.sensitivity.get(&x).copied()).unwrap_or(0.0),
        age,
    ];
    let signs = skin.signs.iter().map(|sign| reading.signs.get(sign).copied().unwrap_or(0.0));
    let (mut smallest, mut largest) = (0.0_f64, 0.0_f64);
    for x in signs.clone() {
        smallest = smallest.min(x);
        largest = largest.max(x);
    }
    // Several signs are one finding: the strongest of each side counts once.
    let sum = told.iter().sum::<f64>() + smallest + largest;
    let fragile = told.iter().fold(-smallest, |most, x| most.max(-x));
    let oily = told.iter().fold(largest, |most, x| most.max(*x));
    say(Signal::ThinSkin, -sum);
    say(Signal::FirmSkin, sum);
    say(Signal::FragileSkin, fragile);
    say(Signal::OilySkin, oily);
    let sign = |sign| f64::from(u8::from(skin.signs.contains(&sign)));
    say(Signal::Scarred, sign(SkinSign::Scarred));
    say(Signal::Vessels, sign(SkinSign::BrokenVessels));
    say(Signal::Mature, f64::from(u8::from(mature)));
}

/// The value of a curve of straight pieces; level beyond its ends.
fn along(curve: &[[f64; 2]], x: f64) -> f64 {
    let Some(&[first, level]) = curve.first() else { return 0.0 };
    if x <= first {
        return level;
    }
    for pair in curve.windows(2) {
        let [[x0, y0], [x1, y1]] = [pair[0], pair[1]];
        if x <= x1 {
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        }
    }
    curve.last().map_or(0.0, |last| last[1])
}

#[cfg(test)]
mod tests {
    use etui_schema::vocabulary::{Lab, Oiliness, Phototype, Sensitivity, Thickness};

    use super::*;
    use crate::evidence::Register;
    use crate::selection::rules::Rules;

    fn heard(setting: &Setting) -> Heard {
        let rules = Rules::builtin(&Register::builtin().unwrap()).unwrap();
        let manner = Manner { spacing_mm: [0.04, 0.15], most_passes: 3 };
        hear(&rules.general, setting, manner)
    }

    #[test]
    #[expect(clippy::float_cmp, reason = "the same levels, to the bit")]
    fn nothing_told_is_silence() {
        assert_eq!(heard(&Setting::default()).levels, [0.0; Signal::COUNT]);
    }

    #[test]
    #[expect(clippy::float_cmp, reason = "the same levels, to the bit")]
    fn each_part_of_the_skin_speaks_by_itself_and_colour_never() {
        let skin = |skin: Skin| heard(&Setting { skin: Some(skin), ..Setting::default() });
        let fine = Skin { thickness: Some(Thickness::Fine), ..Skin::default() };
        let dry = Skin { oiliness: Some(Oiliness::Dry), ..Skin::default() };
        let reactive = Skin { sensitivity: Some(Sensitivity::High), ..Skin::default() };
        for thin in [fine, dry.clone(), reactive] {
            let heard = skin(thin.clone());
            assert!(
                heard.speaks(Signal::ThinSkin) && heard.speaks(Signal::FragileSkin),
                "{thin:?}"
            );
            assert!(!heard.speaks(Signal::FirmSkin) && !heard.speaks(Signal::OilySkin), "{thin:?}");
        }
        // Thick but dry: no side wins, and both stay heard.
        let both = skin(Skin { thickness: Some(Thickness::Thick), ..dry });
        assert!(!both.speaks(Signal::ThinSkin) && !both.speaks(Signal::FirmSkin));
        assert!(both.speaks(Signal::FragileSkin) && both.speaks(Signal::OilySkin));
        let colour = Skin {
            phototype: Some(Phototype::VI),
            lab: Some(Lab { l: 30.0, a: 10.0, b: 12.0 }),
            ..Skin::default()
        };
        assert_eq!(skin(colour).levels, [0.0; Signal::COUNT]);
    }

    #[test]
    fn drive_rises_with_stroke_rate_and_give() {
        let drive = |stroke_mm, rate_hz, give| {
            let machine =
                Machine { stroke_mm: Some(stroke_mm), rate_hz: Some(rate_hz), give: Some(give) };
            let heard = heard(&Setting { machine: Some(machine), ..Setting::default() });
            heard.level(Signal::HardMachine) - heard.level(Signal::WeakMachine)
        };
        for (weaker, stronger) in [
            (drive(2.0, 100.0, Give::Medium), drive(3.5, 100.0, Give::Medium)),
            (drive(3.0, 50.0, Give::Medium), drive(3.0, 200.0, Give::Medium)),
            (drive(3.0, 100.0, Give::Soft), drive(3.0, 100.0, Give::Firm)),
        ] {
            assert!(weaker < stronger, "{weaker} {stronger}");
        }
        assert!((drive(0.5, 10.0, Give::Soft) + 1.0).abs() < 1e-12);
        assert!((drive(6.0, 300.0, Give::Firm) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn pace_speaks_only_when_both_speeds_are_told() {
        let pace = |rate_hz, hand_speed_mm_s| {
            let machine = Machine { stroke_mm: None, rate_hz, give: None };
            let setting = Setting { machine: Some(machine), hand_speed_mm_s, ..Setting::default() };
            let heard = heard(&setting);
            (heard.speaks(Signal::CrowdedHits), heard.speaks(Signal::SparseHits))
        };
        assert_eq!(pace(Some(150.0), Some(3.0)), (true, false));
        assert_eq!(pace(Some(50.0), Some(60.0)), (false, true));
        assert_eq!(pace(Some(100.0), Some(10.0)), (false, false));
        assert_eq!(pace(Some(150.0), None), (false, false));
        assert_eq!(pace(None, Some(3.0)), (false, false));
    }
}
