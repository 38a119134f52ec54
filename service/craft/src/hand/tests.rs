//! Counting healed results, against published intervals.

use super::*;

fn hands() -> Hands {
    Hands::builtin(&Register::builtin().unwrap()).unwrap()
}

fn results(configuration: &str, held: usize, lost: usize) -> Vec<Healed> {
    let one = |kept| Healed {
        treatment: Treatment::Brows,
        effect: Some(Effect::SoftShading),
        configurations: vec![configuration.into()],
        kept: vec![kept],
        hurt: Some(kept != Retention::From75),
    };
    let mut all = vec![one(Retention::From75); held];
    all.extend(vec![one(Retention::From50To75); lost]);
    all
}

fn row<'a>(profile: &'a Profile, name: &str) -> &'a Row {
    let wanted = Group::Configuration(name.into());
    profile.rows.iter().find(|row| row.group == wanted).unwrap()
}

#[test]
fn a_group_that_held_less_often_stands_apart() {
    // 48 of 80 against 56 of 70: Newcombe 1998, table II, contrast (a)
    let mut all = results("0.30 3RS", 48, 32);
    all.extend(results("0.20 1RL", 56, 14));
    let profile = hands().profile(&all);
    let (below, above) = (row(&profile, "0.30 3RS"), row(&profile, "0.20 1RL"));
    assert_eq!((below.says, above.says), ("hand_below", "hand_above"));
    // Two comparisons at once: each interval is wider than the published one of 0.0524.
    let (_, interval) = above.apart.unwrap();
    assert!(0.0 < interval.low && interval.low < 0.0524, "{interval:?}");
    assert_eq!(below.held, Count { hits: 48, of: 80 });
    assert_eq!(below.hurt, Count { hits: 32, of: 80 });
    assert_eq!(profile.rows[0].group, Group::All);
    assert_eq!(profile.rows[0].says, "hand_all", "all work has no rest");
}

#[test]
fn too_few_results_say_nothing_however_clear_they_look() {
    let hands = hands();
    let fewest = usize::try_from(hands.rules.fewest.value).unwrap();
    let mut all = results("0.30 3RS", 0, fewest - 1);
    all.extend(results("0.20 1RL", 50, 0));
    let profile = hands.profile(&all);
    let few = row(&profile, "0.30 3RS");
    assert_eq!((few.says, few.interval, few.apart), ("hand_too_few", None, None));
    all.extend(results("0.30 3RS", 0, 1));
    assert_eq!(row(&hands.profile(&all), "0.30 3RS").says, "hand_below");
    assert_eq!(hands.profile(&[]).rows.len(), 1);
}

#[test]
fn no_text_answers_poor_hold_with_depth_or_pressure() {
    let hands = hands();
    for key in hands.texts().keys() {
        for (language, harder) in
            [(Language::En, ["deeper", "harder"]), (Language::De, ["tiefer", "fester"])]
        {
            let text = hands.texts().get(language, key);
            assert!(!harder.iter().any(|word| text.contains(word)), "{key}: {text}");
        }
    }
}

/// Four parts that each hold four times in five say the same as one whole that does.
#[test]
fn parts_and_wholes_are_counted_alike() {
    let one = |kept: Vec<Retention>| Healed {
        treatment: Treatment::Lips,
        effect: None,
        configurations: Vec::new(),
        kept,
        hurt: None,
    };
    let (held, lost) = (Retention::From75, Retention::Under25);
    let wholes = (0..60).map(|n| one(vec![if n % 5 == 0 { lost } else { held }]));
    let parts = (0..60).map(|n| {
        one((0..4).map(|part| if (n * 4 + part) % 5 == 0 { lost } else { held }).collect())
    });
    let share = |all: Vec<Healed>| hands().profile(&all).rows[0].share.unwrap();
    let (whole, part) = (share(wholes.collect()), share(parts.collect()));
    assert_eq!(whole.of, part.of);
    assert!((whole.mean - 0.8).abs() < 1e-12 && (part.mean - 0.8).abs() < 1e-12);
}

/// A treatment and its needle that are the same results are compared once.
#[test]
fn the_same_results_do_not_stand_twice() {
    let mut all = results("0.30 3RS", 22, 3);
    all.extend(results("0.20 1RL", 10, 15).into_iter().map(|healed| Healed {
        treatment: Treatment::Eyeliner,
        effect: Some(Effect::FineLine),
        ..healed
    }));
    let profile = hands().profile(&all);
    let count = |says| profile.rows.iter().filter(|row| row.says == says).count();
    assert_eq!((count("hand_same"), count("hand_above"), count("hand_below")), (2, 1, 1));
}

#[test]
fn the_order_of_the_results_does_not_matter() {
    let mut all = results("0.30 3RS", 12, 7);
    all.extend(results("0.20 1RL", 15, 2));
    let forth = hands().profile(&all);
    all.reverse();
    assert_eq!(forth, hands().profile(&all));
}

/// A result holds with half of its judged parts, and on skin that was not hurt.
#[test]
fn whether_a_result_held() {
    let (held, lost) = (Retention::From75, Retention::Under25);
    for (kept, hurt, want) in [
        (vec![held], None, Some(true)),
        (vec![lost], Some(false), Some(false)),
        (vec![held, lost], None, Some(true)),
        (vec![held, lost, lost], None, Some(false)),
        (vec![held], Some(true), Some(false)),
        (vec![], Some(true), Some(false)),
        (vec![], Some(false), None),
        (vec![], None, None),
    ] {
        let case = format!("{kept:?} {hurt:?}");
        let healed = Healed {
            treatment: Treatment::Brows,
            effect: None,
            configurations: Vec::new(),
            kept,
            hurt,
        };
        assert_eq!(hands().did_hold(&healed), want, "{case}");
    }
}
