//! Facts of the trade that every artist would hold the ranking against.
//! Common practice, no source; the counts are pages of the survey.

use super::*;

fn first_three(selection: &Selection) -> Vec<Complete> {
    selection.ranked.iter().take(3).map(|r| r.configuration).collect()
}

/// 11 of 14 pages: a single or the finest liner; 0.18-0.30 mm, finest first.
#[test]
fn hair_strokes_take_the_finest_single_first() {
    let house = House::open();
    let normal = skin(|s| {
        s.thickness = Some(Thickness::Normal);
        s.oiliness = Some(Oiliness::Normal);
    });
    for setting in [Setting::default(), normal, hand(Hand::Medium)] {
        let selection = house.usual(Treatment::Brows, Effect::HairStrokes, &setting);
        let first = selection.ranked[0].configuration;
        assert_eq!(first.count, 1);
        assert!((0.18..=0.20).contains(&first.diameter_mm), "{first:?}");
        let order = texts(&selection);
        let broad = order.iter().position(|t| t == "0.30 1RL").unwrap();
        assert!(0 < broad, "{order:?}");
        let remarks = &selection.ranked[broad].remarks;
        assert!(
            remarks
                .iter()
                .any(|r| &*r.message == "Many find 0.30 mm and more too broad for fine hairs."),
            "{remarks:?}"
        );
        assert!(selection.ranked[0].remarks.iter().all(|r| !r.message.contains("too broad")));
    }
}

/// A magnum, a wide flat, seven round shaders and up are the wrong tools for a
/// hair: set aside, so they cannot reach the first three of any list.
#[test]
fn hair_strokes_set_broad_groups_aside() {
    let house = House::open();
    let candidates = list(&[
        "0.30 1RL", "0.18 1RL", "0.30 7M1", "0.30 9M2", "0.30 7RM", "0.25 5F", "0.30 7F",
        "0.25 7RS", "0.30 9RS", "0.20 3RL",
    ]);
    for setting in [Setting::default(), hand(Hand::Heavy), machine(4.0, 150.0, Give::Firm)] {
        let selection = house.among(Treatment::Brows, Effect::HairStrokes, &setting, &candidates);
        let mut ranked = texts(&selection);
        ranked.sort();
        assert_eq!(ranked, ["0.18 1RL", "0.20 3RL", "0.30 1RL"]);
        assert!(selection.set_aside.iter().all(|s| s.question == Question::Effect));
        let why = |text: &str| {
            let set_aside = &selection.set_aside;
            &set_aside.iter().find(|s| s.configuration == needle(text)).unwrap().because
        };
        assert_eq!(
            why("0.30 7M1"),
            "a woven magnum is not in use for single hairs, each one narrow crisp line"
        );
        assert!(why("0.25 7RS").contains("7 needles are too many"), "{}", why("0.25 7RS"));
    }
}

/// Under the same hand a single presses hardest on its point, a magnum least.
#[test]
fn pressure_falls_from_the_single_to_the_magnum() {
    let house = House::open();
    for setting in [Setting::default(), hand(Hand::Light), hand(Hand::Heavy)] {
        let circumstances = house.model.circumstances(&setting);
        let pressures: Vec<_> = ["0.20 1RL", "0.30 1RL", "0.30 3RL", "0.30 3RS", "0.30 9M1"]
            .iter()
            .map(|text| house.model.measure(&needle(text), &circumstances).pressure_index)
            .collect();
        assert!(pressures.windows(2).all(|w| w[1] < w[0]), "{pressures:?}");
    }
}

/// 4 of 9 pages powder with a single, 1 with three points, 3 with shaders.
#[test]
fn pixelated_brows_take_a_single_then_3rl_then_3rs() {
    let house = House::open();
    let selection = house.usual(Treatment::Brows, Effect::Pixelated, &Setting::default());
    let place = |count: u8, grouping: Grouping| {
        let is =
            |r: &Ranked| r.configuration.count == count && r.configuration.grouping == grouping;
        selection.ranked.iter().position(is).unwrap()
    };
    assert_eq!(place(1, Grouping::RoundLiner), 0);
    assert!(place(3, Grouping::RoundLiner) < place(3, Grouping::RoundShader));
}

/// Round shaders 3/9 and flats 3/9 on brows, shaders 2/6 on lips, 3/3 on lids.
#[test]
fn soft_shading_takes_round_shaders_or_small_flats() {
    let house = House::open();
    for treatment in [Treatment::Brows, Treatment::Lips, Treatment::Eyeliner] {
        let selection = house.usual(treatment, Effect::SoftShading, &Setting::default());
        for c in first_three(&selection) {
            assert!(
                matches!(c.grouping, Grouping::RoundShader | Grouping::Flat) && c.count <= 7,
                "{treatment} {c:?}"
            );
        }
    }
}

/// Thin, mature, dry: finer needles, 3 pages; few points concentrate the
/// force, 1 page: so both at once, a smaller diameter over more points.
#[test]
fn fragile_skin_takes_a_smaller_diameter_over_more_points() {
    let house = House::open();
    for (name, setting) in fragile_skins() {
        for treatment in [Treatment::Brows, Treatment::Lips] {
            let normal = house.usual(treatment, Effect::SoftShading, &Setting::default());
            let fragile = house.usual(treatment, Effect::SoftShading, &setting);
            let (before, now) = (normal.ranked[0].configuration, fragile.ranked[0].configuration);
            assert!(now.diameter_mm < before.diameter_mm, "{treatment} {name}: {now:?}");
            assert_eq!((now.grouping, now.diameter_mm), (Grouping::RoundShader, 0.25));
            assert!((3..=5).contains(&now.count), "{treatment} {name}: {now:?}");
            assert!(first_three(&fragile).iter().all(|c| 1 < c.count), "{treatment} {name}");
            let magnum =
                fragile.ranked.iter().find(|r| r.configuration.grouping == Grouping::CurvedMagnum);
            let remarks = &magnum.unwrap().remarks;
            assert!(remarks.iter().any(|r| r.message.contains("admitted on thin skin")), "{name}");
        }
        let pixels = house.usual(Treatment::Brows, Effect::Pixelated, &setting);
        assert!(first_three(&pixels).iter().all(|c| 1 < c.count), "{name}");
    }
}

/// 2 pages: a single only for a controlled hand; 2: long strokes hit hard.
#[test]
fn a_heavy_hand_or_a_hard_machine_moves_away_from_the_finest_single() {
    let house = House::open();
    for setting in
        [hand(Hand::Heavy), machine(4.0, 100.0, Give::Firm), machine(3.5, 100.0, Give::Firm)]
    {
        for (treatment, effect) in [
            (Treatment::Brows, Effect::HairStrokes),
            (Treatment::Brows, Effect::Pixelated),
            (Treatment::Lips, Effect::FineLine),
            (Treatment::Eyeliner, Effect::FineLine),
            (Treatment::Scalp, Effect::ScalpDots),
        ] {
            let selection = house.usual(treatment, effect, &setting);
            let first = selection.ranked[0].configuration;
            assert!(1 < first.count || 0.22 < first.diameter_mm, "{treatment} {effect} {first:?}");
        }
        // With nothing but singles in the drawer a heavy hand takes a sturdier one.
        let singles = list(&["0.18 1RL", "0.20 1RL", "0.25 1RL", "0.30 1RL"]);
        let selection = house.among(Treatment::Brows, Effect::HairStrokes, &setting, &singles);
        let first = selection.ranked[0].configuration.diameter_mm;
        let sturdy = if setting.hand.is_some() { 0.25 } else { 0.18 };
        assert!(sturdy <= first, "{first}");
    }
}

/// Round liners 9/9 for the contour; several points 5/5 for the full lip.
#[test]
fn lips_are_lined_with_liners_and_filled_with_groups() {
    let house = House::open();
    let lined = house.usual(Treatment::Lips, Effect::FineLine, &Setting::default());
    for c in first_three(&lined) {
        assert_eq!(c.grouping, Grouping::RoundLiner);
        assert!(c.count <= 3 && (0.20..=0.30).contains(&c.diameter_mm), "{c:?}");
    }
    let filled = house.usual(Treatment::Lips, Effect::DenseFill, &Setting::default());
    let first = filled.ranked[0].configuration;
    assert!(
        matches!(first.grouping, Grouping::Flat | Grouping::RoundShader | Grouping::WovenMagnum),
        "{first:?}"
    );
    assert!(filled.ranked.iter().all(|r| 1 < r.configuration.count));
    assert!(filled.ranked.iter().any(|r| r.configuration.grouping == Grouping::WovenMagnum));
    let single = filled.set_aside.iter().find(|s| s.configuration == needle("0.30 1RL")).unwrap();
    assert!(single.because.contains("overworks"), "{}", single.because);
}

/// A pair that makes no sense is refused, and what would be accepted is named.
#[test]
fn senseless_pairs_name_what_would_be_accepted() {
    let house = House::open();
    for (treatment, effect, accepted) in [
        (
            Treatment::Lips,
            Effect::ScalpDots,
            "fine_line, bold_line, pixelated, soft_shading, dense_fill",
        ),
        (Treatment::Scalp, Effect::DenseFill, "scalp_dots"),
        (
            Treatment::Brows,
            Effect::AreolaShading,
            "hair_strokes, pixelated, soft_shading, dense_fill, fine_line",
        ),
    ] {
        let setting = Setting::default();
        let candidates = house.selector.usual();
        let language = Language::En;
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates,
            limit: 3,
            folds: false,
            language,
        };
        let fault = house.selector.select(&house.model, &request).unwrap_err();
        let want = format!("`{effect}` is no effect of `{treatment}`; accepted: {accepted}");
        assert_eq!(fault.to_string(), want);
    }
    for effect in Effect::ALL {
        assert!(house.pairs().iter().any(|(_, e)| e == effect), "{effect}");
    }
}

/// What no description of the trade names stands behind what some name. A single
/// point that shades is named and warned of, and of what sets dots the trade names
/// one point and little else: these may stand behind.
#[test]
fn what_nobody_names_stands_behind_what_some_name() {
    #[derive(serde::Deserialize)]
    struct Rules {
        want: Vec<Wanted>,
    }
    #[derive(serde::Deserialize)]
    struct Wanted {
        effect: Effect,
        form: Vec<Liked>,
    }
    #[derive(serde::Deserialize)]
    struct Liked {
        form: String,
        liking: f64,
        agreement: String,
    }
    for text in [
        include_str!("../../../rules/selection/brows.toml"),
        include_str!("../../../rules/selection/lips.toml"),
        include_str!("../../../rules/selection/eyeliner.toml"),
        include_str!("../../../rules/selection/scalp.toml"),
        include_str!("../../../rules/selection/areola.toml"),
    ] {
        let rules: Rules = toml::from_str(text).unwrap();
        for Wanted { effect, form: forms } in rules.want {
            let named_by = |one: &Liked| {
                one.agreement.split('/').next().and_then(|count| count.parse::<u32>().ok())
            };
            let named = forms.iter().filter(|one| named_by(one).is_some_and(|count| 0 < count));
            let heeded = named.filter(|one| one.form != "single" && effect != Effect::Pixelated);
            let least = heeded.map(|one| one.liking).fold(1.0, f64::min);
            for one in forms.iter().filter(|one| named_by(one) == Some(0)) {
                assert!(one.liking < least, "{effect}: {} {}", one.form, one.liking);
            }
        }
    }
}
