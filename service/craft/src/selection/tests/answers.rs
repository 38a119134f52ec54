//! Sentences, cautions, views, hints and changes: each says what holds.

use etui_schema::vocabulary::{Site, Skin, SkinSign};

use super::*;

fn because(ranked: &Ranked, question: Question) -> &str {
    &ranked.answers.iter().find(|a| a.question == question).unwrap().because
}

fn cautions(selection: &Selection) -> String {
    let first = &selection.ranked[0];
    first.cautions.iter().map(|c| &*c.message).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_five_answers_read_true() {
    let house = House::open();
    let setting = Setting {
        hand: Some(Hand::Heavy),
        machine: machine(3.5, 100.0, Give::Firm).machine,
        skin: skin(|s| {
            s.thickness = Some(Thickness::Fine);
            s.oiliness = Some(Oiliness::Dry);
            s.age_years = Some(68);
        })
        .skin,
        ..Setting::default()
    };
    let candidates = list(&["0.18 1RL", "0.30 1RL", "0.20 3RL"]);
    let selection = house.among(Treatment::Brows, Effect::HairStrokes, &setting, &candidates);
    assert_eq!(texts(&selection), ["0.20 3RL", "0.18 1RL", "0.30 1RL"]);
    let [group, finest, broad] = &selection.ranked[..] else { panic!("three ranked") };
    assert_eq!(because(group, Question::Treatment), "A track 0.43 mm wide fits into a brow.");
    assert!(because(group, Question::Effect).contains("0.20 mm suits this effect."));
    assert!(because(group, Question::Hand).starts_with("A heavy hand: 3 points are better"));
    assert!(because(group, Question::Machine).contains("3 points share each hit"));
    assert_eq!(
        because(group, Question::Skin),
        "0.20 mm keeps the holes small in skin that is fine, dry and mature, but 3 points concentrate the force."
    );
    assert!(because(finest, Question::Hand).contains("on one point of only 0.18 mm"));
    assert!(because(finest, Question::Machine).contains("hits one point alone"));
    assert!(because(finest, Question::Skin).contains("but one point concentrates the force"));
    assert!(because(broad, Question::Effect).contains("0.30 mm is thicker than is best"));
    assert!(because(broad, Question::Hand).contains("sturdier one of 0.30 mm"));
    assert!(because(broad, Question::Skin).starts_with("0.30 mm makes large holes"));
}

#[test]
fn what_is_not_told_is_not_held_against_anything() {
    let house = House::open();
    let selection = house.usual(Treatment::Lips, Effect::SoftShading, &Setting::default());
    for ranked in &selection.ranked {
        for (question, word) in
            [(Question::Hand, "hand"), (Question::Machine, "machine"), (Question::Skin, "skin")]
        {
            let text = because(ranked, question);
            assert!(text.to_lowercase().contains(&format!("the {word} is not told")), "{text}");
        }
    }
    for pointer in ["/hand", "/machine/stroke_mm", "/site"] {
        assert!(selection.assumed.contains(&pointer), "{:?}", selection.assumed);
    }
}

/// Slow hand + fast machine = overwork, fast hand + slow machine = gaps: 6
/// pages.
#[test]
fn pace_is_warned_of_on_every_effect() {
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        let at = |rate_hz, speed| Setting {
            hand_speed_mm_s: Some(speed),
            ..machine(3.0, rate_hz, Give::Medium)
        };
        let crowded = cautions(&house.usual(treatment, effect, &at(150.0, 3.0)));
        assert!(crowded.contains("Overworking: at 3 mm/s and 150 strokes"), "{effect}: {crowded}");
        let sparse = cautions(&house.usual(treatment, effect, &at(50.0, 100.0)));
        assert!(sparse.contains("Gaps: at 100 mm/s and 50 strokes"), "{effect}: {sparse}");
        let (rules, want) = house.selector.want(treatment, effect).unwrap();
        let middle_mm = f64::midpoint(want.spacing_mm[0], want.spacing_mm[1]);
        let well = cautions(&house.usual(treatment, effect, &at(100.0, 100.0 * middle_mm)));
        let case = format!("{} {effect}: {well}", rules.site.treatment);
        assert!(!well.contains("Overworking") && !well.contains("Gaps"), "{case}");
    }
}

/// All pages that speak of lids agree that 3.5 mm and more is too long.
#[test]
fn a_long_stroke_on_a_lid_is_warned_of() {
    let house = House::open();
    for effect in house.selector.effects(Treatment::Eyeliner).collect::<Vec<_>>() {
        for (stroke_mm, warned) in [(2.5, false), (3.4, false), (3.5, true), (4.0, true)] {
            let selection =
                house.usual(Treatment::Eyeliner, effect, &machine(stroke_mm, 100.0, Give::Medium));
            let text = cautions(&selection);
            assert_eq!(text.contains("too long for a lid"), warned, "{effect} {stroke_mm}: {text}");
        }
    }
    let brow =
        house.usual(Treatment::Brows, Effect::HairStrokes, &machine(3.5, 100.0, Give::Medium));
    assert!(!cautions(&brow).contains("lid"));
}

#[test]
fn cautions_go_to_whom_they_concern() {
    let house = House::open();
    let of = |selection: &Selection, text: &str| -> Vec<String> {
        let has = |r: &&Ranked| r.cautions.iter().any(|c| c.message.contains(text));
        selection.ranked.iter().filter(has).map(|r| r.configuration.canonical()).collect()
    };
    let candidates =
        list(&["0.20 1RL", "0.25 3RL", "0.25 5RS", "0.35 7RS ST", "0.30 4F", "0.30 9RM"]);
    let shade = |setting: &Setting| {
        house.among(Treatment::Brows, Effect::SoftShading, setting, &candidates)
    };
    let heavy = shade(&hand(Hand::Heavy));
    assert_eq!(of(&heavy, "heals grey"), ["0.25 3RL", "0.20 1RL"]);
    assert_eq!(of(&heavy, "short taper opens wide"), ["0.35 7RS ST"]);
    let weak = shade(&machine(2.0, 60.0, Give::Soft));
    assert_eq!(of(&weak, "and more ask for more drive").len(), 2);
    assert_eq!(of(&weak, "From about 0.35 mm"), ["0.35 7RS ST"]);
    assert_eq!(of(&weak, "kind only while the needles enter").len(), 6);
    let scarred = shade(&skin(|s| s.signs = vec![SkinSign::Scarred]));
    assert_eq!(of(&scarred, "Pressure on a dense scar heals grey").len(), 6);
    let fine = shade(&skin(|s| s.thickness = Some(Thickness::Fine)));
    assert_eq!(of(&fine, "flats dangerous"), ["0.30 4F"]);
    assert_eq!(of(&fine, "can cut"), ["0.20 1RL"]);
    let quiet = shade(&Setting::default());
    assert_eq!(of(&quiet, ""), ["0.20 1RL"], "only the single carries a caution by itself");
}

#[test]
fn every_touched_split_of_the_trade_is_shown_with_all_its_schools() {
    let house = House::open();
    let questions = |treatment, effect, setting: &Setting| -> Vec<String> {
        let views = house.usual(treatment, effect, setting).differing_views;
        for view in &views {
            assert!(2 <= view.schools.len(), "{view:?}");
            for school in &view.schools {
                assert!(!school.would_choose.is_empty() && !school.reason.is_empty());
            }
        }
        views.iter().map(|v| v.question.to_string()).collect()
    };
    let all = Setting {
        depth_mm: Some(0.4),
        hand_speed_mm_s: Some(20.0),
        machine: machine(2.0, 80.0, Give::Soft).machine,
        skin: skin(|s| {
            s.thickness = Some(Thickness::Fine);
            s.oiliness = Some(Oiliness::Oily);
            s.age_years = Some(70);
            s.signs = vec![SkinSign::Scarred];
        })
        .skin,
        ..Setting::default()
    };
    let mut seen = std::collections::BTreeSet::new();
    for (treatment, effect) in house.pairs() {
        seen.extend(questions(treatment, effect, &all));
    }
    assert_eq!(seen.len(), house.selector.rules.views.len(), "{seen:#?}");
    // What is not touched is not shown.
    let plain = questions(Treatment::Scalp, Effect::ScalpDots, &Setting::default());
    assert!(plain.iter().all(|q| !q.contains("Powder") && !q.contains("Oily")), "{plain:?}");
}

/// Brow powder is split three ways, without a majority: 3/9, 3/9, 4/9.
#[test]
fn each_school_says_what_it_would_choose_here() {
    let house = House::open();
    let views =
        house.usual(Treatment::Brows, Effect::Pixelated, &Setting::default()).differing_views;
    let powder = views.iter().find(|v| v.question.starts_with("Powder brows")).unwrap();
    let chosen: Vec<_> = powder
        .schools
        .iter()
        .map(|s| (s.configuration.unwrap().grouping.unwrap(), &*s.agreement))
        .collect();
    assert_eq!(
        chosen,
        [(Grouping::RoundShader, "3/9"), (Grouping::Flat, "3/9"), (Grouping::RoundLiner, "4/9"),]
    );
    // A drawer without flats: the school is still shown, in words.
    let drawer = list(&["0.25 1RL", "0.25 5RS"]);
    let selection = house.among(Treatment::Brows, Effect::Pixelated, &Setting::default(), &drawer);
    let powder =
        selection.differing_views.iter().find(|v| v.question.starts_with("Powder brows")).unwrap();
    assert_eq!(powder.schools[1].would_choose, "A flat. None of that is among the candidates.");
    // Where nothing lies ready at all, or one thing that no school takes, that is not said of each.
    for drawer in [&[][..], &["0.28 3RL"]] {
        for (language, absent) in [(Language::En, "candidates"), (Language::De, "zur Wahl")] {
            let nothing = Setting::default();
            let drawer = list(drawer);
            let (brows, dots) = (Treatment::Brows, Effect::Pixelated);
            let selection = house.saying(language, brows, dots, &nothing, &drawer);
            let views = selection.differing_views.iter();
            for view in views.filter(|view| view.schools.iter().all(|s| s.configuration.is_none()))
            {
                for school in &view.schools {
                    let said = &school.would_choose;
                    assert!(said.starts_with(char::is_uppercase) && said.ends_with('.'), "{said}");
                    assert!(!said.contains(absent), "{said}");
                }
            }
            if drawer.is_empty() {
                let codes: Vec<&str> = selection.hints.iter().map(|hint| &*hint.code).collect();
                assert_eq!(codes, ["depth"], "nothing to work with has no pace and no passes");
            }
        }
    }
    // The outlier that takes shaders for strokes keeps its needle too.
    let strokes = house.usual(Treatment::Brows, Effect::HairStrokes, &Setting::default());
    let outlier =
        strokes.differing_views.iter().find(|v| v.question.starts_with("Round shaders")).unwrap();
    assert_eq!(outlier.schools[1].configuration.unwrap().grouping, Some(Grouping::RoundShader));
}

#[test]
fn hints_give_the_pace_for_this_rate() {
    let house = House::open();
    let selection =
        house.usual(Treatment::Brows, Effect::HairStrokes, &machine(2.5, 100.0, Give::Medium));
    let hints: Vec<_> = selection.hints.iter().map(|h| &*h.message).collect();
    assert!(
        hints[0].starts_with("At 100 strokes a second, a hand speed of 4 to 15 mm/s sets"),
        "{hints:?}"
    );
    assert!(hints.iter().any(|h| h.contains("A long taper")), "{hints:?}");
    assert!(hints.iter().any(|h| h.contains("read from the skin")), "{hints:?}");
    let lid = house.usual(Treatment::Eyeliner, Effect::FineLine, &Setting::default());
    let hints: Vec<_> = lid.hints.iter().map(|h| &*h.message).collect();
    assert!(hints[0].contains("(assumed)"), "{hints:?}");
    assert!(hints.iter().any(|h| h.contains("Barely touch")), "{hints:?}");
    for hint in selection.hints.iter().chain(&lid.hints) {
        assert!(!hint.message.contains(['{', '}']), "{hint:?}");
    }
}

/// Long strokes hit hard and are for practised hands (2 pages); lips 2.5 to 3.0
/// mm for most, thin skin a short stroke (4 pages), a heavy hand 2.5 to 2.9 mm.
#[test]
fn a_long_stroke_is_warned_of_once_and_no_hint_contradicts_it() {
    let house = House::open();
    let fragile = |s: &mut Skin| s.thickness = Some(Thickness::Fine);
    for (treatment, effect) in house.pairs() {
        for given_hand in [None, Some(Hand::Light), Some(Hand::Medium), Some(Hand::Heavy)] {
            for frail in [false, true] {
                for stroke_mm in [2.0, 2.5, 3.0, 3.5, 4.0] {
                    let setting = Setting {
                        hand: given_hand,
                        skin: frail.then(|| skin(fragile).skin).flatten(),
                        ..machine(stroke_mm, 100.0, Give::Medium)
                    };
                    let selection = house.usual(treatment, effect, &setting);
                    let case = format!("{treatment} {effect} {given_hand:?} {frail} {stroke_mm}");
                    let of_stroke = |c: &&NeedleNote| c.code.starts_with("long_stroke");
                    let warned = selection.ranked[0].cautions.iter().filter(of_stroke).count();
                    assert_eq!(warned, usize::from(3.5 <= stroke_mm), "{case}");
                    let advised: Vec<_> =
                        selection.hints.iter().filter(|h| &*h.code == "stroke").collect();
                    assert!(advised.len() <= 1, "{case}: {advised:?}");
                    let kind = treatment == Treatment::Eyeliner || frail;
                    let kept = if kind { 2.5 } else { 2.9 };
                    // A caution gives the figure already.
                    if stroke_mm <= kept || 0 < warned {
                        assert!(advised.is_empty(), "{case}: {advised:?}");
                    }
                    let longer = advised.iter().any(|h| h.message.contains("4.0 mm"));
                    assert!(!longer, "{case}: a stroke that was told is never to be lengthened");
                }
            }
        }
    }
}

#[test]
fn a_light_hand_is_not_encouraged_to_long_strokes_on_lips() {
    let house = House::open();
    for (treatment, effect, encouraged) in [
        (Treatment::Brows, Effect::HairStrokes, true),
        (Treatment::Lips, Effect::SoftShading, false),
        (Treatment::Areola, Effect::DenseFill, false),
        (Treatment::Eyeliner, Effect::FineLine, false),
    ] {
        let selection = house.usual(treatment, effect, &hand(Hand::Light));
        let found = selection.hints.iter().any(|h| h.message.contains("3.5 to 4.0 mm"));
        assert_eq!(found, encouraged, "{treatment} {effect}");
    }
}

#[test]
fn what_is_dangerous_at_the_chair_is_said() {
    let house = House::open();
    let fast = machine(2.5, 170.0, Give::Medium);
    let passes = |passes| Setting { passes: Some(passes), ..Setting::default() };
    let vessels = skin(|s| s.signs = vec![SkinSign::BrokenVessels]);
    for (treatment, effect, setting, code, speaks) in [
        (Treatment::Brows, Effect::SoftShading, &fast, "fast_rate_on_powder", true),
        (Treatment::Brows, Effect::DenseFill, &fast, "fast_rate_on_powder", true),
        (Treatment::Brows, Effect::HairStrokes, &fast, "fast_rate_on_powder", false),
        (Treatment::Brows, Effect::HairStrokes, &passes(50), "many_passes", true),
        (Treatment::Brows, Effect::HairStrokes, &passes(2), "many_passes", false),
        (Treatment::Lips, Effect::Pixelated, &passes(30), "many_passes", true),
        (Treatment::Lips, Effect::Pixelated, &passes(6), "many_passes", false),
        (Treatment::Lips, Effect::SoftShading, &vessels, "broken_vessels", true),
        (Treatment::Lips, Effect::SoftShading, &passes(2), "broken_vessels", false),
        (Treatment::Eyeliner, Effect::SoftShading, &vessels, "corners_of_the_eye", true),
        (Treatment::Eyeliner, Effect::FineLine, &Setting::default(), "corners_of_the_eye", true),
        (Treatment::Brows, Effect::SoftShading, &vessels, "corners_of_the_eye", false),
    ] {
        let selection = house.usual(treatment, effect, setting);
        for ranked in &selection.ranked {
            let found = ranked.cautions.iter().any(|caution| &*caution.code == code);
            assert_eq!(found, speaks, "{treatment} {effect} {code}");
        }
    }
}

#[test]
fn a_dot_of_the_scalp_is_set_and_not_drawn() {
    let house = House::open();
    let pace = |treatment, effect| {
        let selection = house.usual(treatment, effect, &Setting::default());
        selection.hints.iter().find(|h| &*h.code == "pace").unwrap().message.to_string()
    };
    let dots = pace(Treatment::Scalp, Effect::ScalpDots);
    assert!(dots.contains("set, lift, move on") && !dots.contains("mm/s"), "{dots}");
    let drawn = pace(Treatment::Lips, Effect::SoftShading);
    assert!(drawn.contains("mm/s"), "{drawn}");
}

/// A short taper opens wide under a heavy hand and asks for drive: whatever is
/// warned of is not recommended in the same answer.
#[test]
fn no_taper_is_recommended_that_is_warned_of() {
    let house = House::open();
    let weak = machine(2.0, 60.0, Give::Soft);
    for (treatment, effect) in house.pairs() {
        for setting in [hand(Hand::Heavy), weak.clone(), Setting::default()] {
            let selection = house.usual(treatment, effect, &setting);
            let warned = setting != Setting::default();
            let short = selection.hints.iter().any(|h| h.message.starts_with("A short taper"));
            assert!(!(warned && short), "{treatment} {effect} {setting:?}");
        }
    }
    let shade = house.usual(Treatment::Brows, Effect::DenseFill, &Setting::default());
    assert!(shade.hints.iter().any(|h| &*h.code == "taper"), "{:?}", shade.hints);
}

/// Whatever is said to come first after a change does come first after it.
#[test]
fn would_change_comes_true() {
    let house = House::open();
    let mut changes = 0;
    for (treatment, effect) in house.pairs() {
        for setting in [Setting::default(), hand(Hand::Heavy), machine(3.5, 100.0, Give::Firm)] {
            let selection = house.usual(treatment, effect, &setting);
            for change in &selection.would_change {
                let mut changed = setting.clone();
                let mut machine = changed.machine.unwrap_or(Machine {
                    stroke_mm: None,
                    rate_hz: None,
                    give: None,
                });
                let mut skin = changed.skin.clone().unwrap_or_default();
                let mut effect = effect;
                match &*change.change {
                    "/setting/hand" => changed.hand = Some(change.to.parse().unwrap()),
                    "/setting/machine/stroke_mm" => {
                        machine.stroke_mm = Some(change.to.parse().unwrap())
                    }
                    "/setting/machine/give" => machine.give = Some(change.to.parse().unwrap()),
                    "/setting/skin/thickness" => skin.thickness = Some(change.to.parse().unwrap()),
                    "/setting/skin/oiliness" => skin.oiliness = Some(change.to.parse().unwrap()),
                    "/setting/skin/sensitivity" => {
                        skin.sensitivity = Some(change.to.parse().unwrap())
                    }
                    "/effect" => effect = change.to.parse().unwrap(),
                    other => panic!("unknown field {other}"),
                }
                (changed.machine, changed.skin) = (Some(machine), Some(skin));
                let then = house.usual(treatment, effect, &changed);
                let first = then.ranked.first().map(|r| r.configuration);
                assert_eq!(
                    first.map(|first| first.canonical()),
                    change.then_first,
                    "{treatment} {effect} {change:?}"
                );
                assert_ne!(first, selection.ranked.first().map(|r| r.configuration));
                changes += 1;
            }
        }
    }
    assert!(100 < changes, "{changes}");
}

#[test]
fn a_site_of_another_treatment_is_said_and_not_used() {
    let house = House::open();
    let lip = Setting { site: Some(Site::Lip), ..Setting::default() };
    let selection = house.usual(Treatment::Brows, Effect::HairStrokes, &lip);
    assert!(
        cautions(&selection)
            .contains("The place that was told (lip) does not belong to this treatment")
    );
    let lash = Setting { site: Some(Site::LashLine), ..Setting::default() };
    let selection = house.usual(Treatment::Eyeliner, Effect::BoldLine, &lash);
    assert!(!cautions(&selection).contains("does not belong"));
}

#[test]
fn every_basis_is_registered_and_none_is_from_memory() {
    use etui_schema::vocabulary::EvidenceKind;
    let house = House::open();
    let register = Register::builtin().unwrap();
    for (treatment, effect) in house.pairs() {
        let selection = house.usual(treatment, effect, &hand(Hand::Heavy));
        let said = selection.ranked.iter().flat_map(|r| r.cautions.iter().chain(&r.remarks));
        let bases = said.chain(&selection.hints).map(|s| &s.basis);
        for basis in bases.chain(&selection.basis).chain(selection.step_up.iter().map(|s| &s.basis))
        {
            assert_eq!(register.get(&basis.source).unwrap().kind, basis.kind);
            assert_ne!(basis.kind, EvidenceKind::Memory);
        }
        assert!(selection.basis.iter().any(|b| &*b.source == "derringer-suich-1980"));
    }
}
