//! Laws: nobody gains by missing, by keeping a sheet back, or by choosing
//! afterwards; one more sign-off never makes anything worse.

use etui_schema::sign_offs::{Covers, DiameterRange};
use etui_schema::vocabulary::{
    Configuration, DrillKey, Effect, Grouping, PracticeState, Rung, Site,
};
use jiff::civil::{Date, date};
use jiff::{Span, Timestamp};
use proptest::prelude::*;

use super::super::{Attempt, Practice, Progress, Sheet, SignedOff, Training, Work};
use super::training;
use crate::laws::cases;

const FIRST: Date = date(2027, 1, 4);
const TODAY: Date = date(2027, 12, 31);

fn day(after: i64) -> Date {
    FIRST + Span::new().days(after)
}

/// Sheets of rising numbers, of which most are good.
fn sheets() -> impl Strategy<Value = Vec<Sheet>> {
    let sheet = (0_i64..2, proptest::collection::vec(proptest::bool::weighted(0.93), 1..5));
    proptest::collection::vec(sheet, 1..40).prop_map(|all| {
        let mut after = 0;
        let numbered = (1_u32..).zip(all);
        numbered
            .map(|(number, (later, results))| {
                after += later;
                let attempts = (1_u8..).zip(&results);
                let attempts: Vec<Attempt> = attempts
                    .map(|(panel, adequate)| Attempt { panel, is_adequate: *adequate })
                    .collect();
                Sheet {
                    number,
                    made_on: day(after),
                    hand_in_by: day(after + 7),
                    drills: vec![DrillKey::SingleDots; results.len()],
                    handed_in: Some(attempts),
                }
            })
            .collect()
    })
}

fn stand(training: &Training, sheets: &[Sheet], today: Date) -> Progress {
    training.progress(Practice { sheets, anew_from: &[], today })
}

/// Whether one standing is at most as near to a sign-off as another.
fn no_nearer(less: &Progress, more: &Progress) -> bool {
    let ready = |one: &Progress| one.state == PracticeState::ReadyToSign;
    !ready(less) || ready(more)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(cases(200)))]

    #[test]
    fn a_miss_never_brings_a_proposal_nearer(sheets in sheets(), at in any::<prop::sample::Index>(), panel in 0_usize..4) {
        let training = training();
        let mut worse = sheets.clone();
        let one = at.index(worse.len());
        if let Some(result) = worse[one].handed_in.as_mut().and_then(|all| all.get_mut(panel)) {
            result.is_adequate = false;
        }
        prop_assert!(no_nearer(&stand(training, &worse, TODAY), &stand(training, &sheets, TODAY)));
    }

    #[test]
    fn one_more_missed_sheet_never_brings_a_proposal_nearer(sheets in sheets(), later in 0_i64..5) {
        let training = training();
        let last = sheets.last().unwrap().clone();
        let made_on = last.made_on + Span::new().days(later);
        let missed = Attempt { panel: 1, is_adequate: false };
        let mut more = sheets.clone();
        more.push(Sheet {
            number: last.number + 1,
            made_on,
            hand_in_by: made_on + Span::new().days(7),
            drills: vec![DrillKey::SingleDots],
            handed_in: Some(vec![missed]),
        });
        prop_assert!(no_nearer(&stand(training, &more, TODAY), &stand(training, &sheets, TODAY)));
    }

    /// On every day: while it is out, when its day is past, and long after.
    #[test]
    fn a_sheet_kept_back_is_never_better(sheets in sheets(), at in any::<prop::sample::Index>(), today in 0_i64..60, bad in any::<bool>()) {
        let training = training();
        let one = at.index(sheets.len());
        let mut handed_in = sheets.clone();
        if bad && let Some(all) = handed_in[one].handed_in.as_mut() {
            all.iter_mut().for_each(|result| result.is_adequate = false);
        }
        let mut kept_back = handed_in.clone();
        kept_back[one].handed_in = None;
        let today = day(today);
        // What was not yet made that day is not there.
        let known = |all: &[Sheet]| all.iter().filter(|s| s.made_on <= today).cloned().collect::<Vec<_>>();
        let (less, more) = (known(&kept_back), known(&handed_in));
        let (less, more) = (stand(training, &less, today), stand(training, &more, today));
        // A proposal that came before the sheet stands until its results are known.
        let out = less.waits_for.is_some();
        prop_assert!(out || no_nearer(&less, &more), "{less:?}\n{more:?}");
        if out {
            let before: Vec<Sheet> = sheets[..one].iter().filter(|s| s.made_on <= today).cloned().collect();
            prop_assert!(no_nearer(&less, &stand(training, &before, today)));
        }
    }

    #[test]
    fn the_order_in_which_sheets_are_told_does_not_matter(sheets in sheets(), turn in any::<prop::sample::Index>()) {
        let training = training();
        let mut turned = sheets.clone();
        turned.rotate_left(turn.index(sheets.len()));
        prop_assert_eq!(stand(training, &sheets, TODAY), stand(training, &turned, TODAY));
    }

    /// A panel handed in again replaces nothing.
    #[test]
    fn the_first_result_of_a_panel_counts(sheets in sheets(), again in any::<bool>()) {
        let training = training();
        let mut more = sheets.clone();
        for all in more.iter_mut().filter_map(|sheet| sheet.handed_in.as_mut()) {
            let second: Vec<Attempt> = all.iter().map(|one| Attempt { is_adequate: again, ..*one }).collect();
            all.extend(second);
        }
        prop_assert_eq!(stand(training, &sheets, TODAY), stand(training, &more, TODAY));
    }

    /// Three, or as many as there are; which, no result moves: with all of a kind adequate or none, the
    /// sum is that of three.
    #[test]
    fn of_a_day_three_count(panels in 1_usize..12, is_adequate in any::<bool>(), number in 1_u32..99) {
        let training = training();
        let attempts = (1_u8..).take(panels).map(|panel| Attempt { panel, is_adequate });
        let drills = vec![DrillKey::SingleDots; panels];
        let sheet = Sheet { number, made_on: FIRST, hand_in_by: FIRST, drills, handed_in: Some(attempts.collect()) };
        let found = stand(training, &[sheet], TODAY);
        prop_assert_eq!(found.counted, u32::try_from(panels.min(3)).unwrap());
        let (pass, _) = training.learning_weights();
        let sum = if is_adequate { pass * f64::from(found.counted) } else { 0.0 };
        prop_assert!((found.value - sum).abs() < 1e-9);
    }

    #[test]
    fn one_more_sign_off_never_lowers_a_rung(all in proptest::collection::vec(sign_off(), 0..5), more in sign_off(), on in 0_i64..800) {
        let training = training();
        let work = Work {
            configuration: Configuration { diameter_mm: Some(0.30), count: Some(3), grouping: Some(Grouping::RoundLiner), taper: None },
            effect: Effect::FineLine,
            sites: vec![Site::UpperLid, Site::LashLine],
        };
        let before = training.held(&all, &work, day(on)).rung;
        let mut after = all.clone();
        let is_withdrawn = more.is_withdrawn;
        after.push(more);
        prop_assert!(is_withdrawn || before <= training.held(&after, &work, day(on)).rung);
        // Taking one back, doubting it or ending it sooner never raises one.
        let changes: [fn(&mut SignedOff); 4] =
            [|s| s.is_withdrawn = true, |s| s.is_in_doubt = true, |s| s.until = s.from, |s| s.given_at = None];
        for change in changes {
            let mut less = after.clone();
            change(less.last_mut().unwrap());
            prop_assert!(training.held(&less, &work, day(on)).rung <= training.held(&after, &work, day(on)).rung);
        }
    }
}

fn sign_off() -> impl Strategy<Value = SignedOff> {
    let site = prop_oneof![Just(Site::UpperLid), Just(Site::LashLine)];
    let rung = prop_oneof![Just(Rung::PracticeSkin), Just(Rung::UnderEye), Just(Rung::Alone)];
    let parts = (site, rung, 0_i64..400, 1_i64..366, any::<bool>(), any::<bool>(), 0.20_f64..0.40);
    let times = (proptest::option::of(0_i64..9), proptest::option::of(0_i64..9));
    let at = |second: Option<i64>| second.map(|second| Timestamp::from_second(second).unwrap());
    (parts, times).prop_map(move |(parts, (given, back))| {
        let (site, rung, from, lasts, is_withdrawn, is_in_doubt, to) = parts;
        SignedOff {
            covers: Covers {
                grouping: Grouping::RoundLiner,
                count: 3,
                diameter_mm: DiameterRange { from: 0.20, to },
                effect: Effect::FineLine,
                site,
            },
            rung,
            from: day(from),
            until: day(from + lasts),
            given_at: at(given),
            is_withdrawn,
            withdrawn_at: at(back),
            is_in_doubt,
        }
    })
}

/// Hair strokes are practised on seven panels, the curved ones last. Who cannot do a kind is never
/// ready, and no panel can be missed for good and not be seen.
#[test]
fn every_kind_counts_every_day_and_every_panel_sooner_or_later() {
    use DrillKey::{CurvedStrokes, SingleDots, StraightStrokes};
    let training = training();
    let kinds = [
        SingleDots,
        StraightStrokes,
        StraightStrokes,
        StraightStrokes,
        CurvedStrokes,
        CurvedStrokes,
        CurvedStrokes,
    ];
    let worked = |days: i64, missed: &dyn Fn(u8, DrillKey) -> bool| -> Vec<Sheet> {
        let sheet = |after: i64| Sheet {
            number: u32::try_from(after).unwrap() + 1,
            made_on: day(after),
            hand_in_by: day(after + 7),
            drills: kinds.to_vec(),
            handed_in: Some(
                (1_u8..)
                    .zip(kinds)
                    .map(|(panel, drill)| Attempt { panel, is_adequate: !missed(panel, drill) })
                    .collect(),
            ),
        };
        (0..days).map(sheet).collect()
    };
    let (pass, _) = training.learning_weights();
    for kind in [SingleDots, StraightStrokes, CurvedStrokes] {
        let found = stand(training, &worked(20, &|_, drill| drill == kind), TODAY);
        assert_eq!((found.counted, found.state), (60, PracticeState::Practising), "{kind}");
        assert!(found.value <= 2.0 * pass + 1e-9, "{kind}: {}", found.value);
    }
    let all = stand(training, &worked(6, &|_, _| false), TODAY);
    assert_eq!(all.state, PracticeState::ReadyToSign);
    let clean = worked(20, &|_, _| false);
    for panel in 1..=7 {
        let one = worked(20, &|it, _| it == panel);
        let is_seen = |days: usize| {
            stand(training, &one[..days], TODAY) != stand(training, &clean[..days], TODAY)
        };
        assert!((1..=20).any(is_seen), "panel {panel}");
    }
}

#[test]
fn days_and_panels_that_are_wanted() {
    let training = training();
    // Eighteen adequate panels on six days of three: the least that proposes.
    let good = |days: i64, a_day: u8| -> Vec<Sheet> {
        (0..days)
            .map(|after| Sheet {
                number: u32::try_from(after).unwrap() + 1,
                made_on: day(after),
                hand_in_by: day(after + 7),
                drills: vec![DrillKey::SingleDots; usize::from(a_day)],
                handed_in: Some(
                    (1..=a_day).map(|panel| Attempt { panel, is_adequate: true }).collect(),
                ),
            })
            .collect()
    };
    for (days, a_day, state, straight, days_wanted) in [
        (6, 3, PracticeState::ReadyToSign, 0, 0),
        (5, 3, PracticeState::Practising, 3, 1),
        (5, 12, PracticeState::Practising, 3, 1),
        (18, 1, PracticeState::ReadyToSign, 0, 0),
        (17, 1, PracticeState::Practising, 1, 1),
        (3, 3, PracticeState::Practising, 9, 3),
        (3, 1, PracticeState::Practising, 15, 5),
    ] {
        let found = stand(training, &good(days, a_day), TODAY);
        let case = format!("{days} days of {a_day}");
        assert_eq!(
            (found.state, found.straight, found.days_wanted),
            (state, straight, days_wanted),
            "{case}"
        );
    }
    // Sixty panels without a proposal are a round; she may begin anew twice.
    let mut poor = good(60, 1);
    for sheet in poor.iter_mut().filter(|sheet| sheet.number % 4 == 0) {
        sheet.handed_in = Some(Vec::new());
    }
    poor.extend(good(90, 1).split_off(60));
    let found = stand(training, &poor, TODAY);
    assert!(found.is_over && found.counted == 60 && found.rounds_left == 2, "{found:?}");
    let anew = training.progress(Practice { sheets: &poor, anew_from: &[61], today: TODAY });
    assert_eq!((anew.state, anew.rounds_left), (PracticeState::ReadyToSign, 1));
    let thrice =
        training.progress(Practice { sheets: &poor, anew_from: &[5, 9, 61], today: TODAY });
    assert_eq!(
        (thrice.state, thrice.rounds_left),
        (PracticeState::Practising, 0),
        "not a third time"
    );
}
