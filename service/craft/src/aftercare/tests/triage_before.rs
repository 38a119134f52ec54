//! What was told before, under other work, or in another order: it never makes an answer milder.
//! Levels are those of the table (`triage_rows`) for all that is known at once.

use etui_schema::vocabulary::Treatment::{self, Areola, Brows, Eyeliner, Lips, Scalp};
use etui_schema::vocabulary::aftercare::{Level, Symptom};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;

use super::super::triage::{Answer, Earlier, Report, Work};
use super::triage::{any_report, triage};
use super::triage_rows::{D, report};

use Level::{Artist, Doctor, Emergency, Expected, SameDay};

/// A session ended so many hours after the first.
fn work(treatment: Treatment, hours: i64) -> Work {
    let first: Timestamp = "2027-03-18T13:00:00Z".parse().unwrap();
    Work { treatment, performed_at: first + SignedDuration::from_hours(hours) }
}

/// A report so many minutes after the first session, judged as it stands alone.
fn told(of: Work, minutes: i64, signs: &str) -> Earlier {
    let at = work(of.treatment, 0).performed_at + SignedDuration::from_mins(minutes);
    let one =
        Report { performed_at: of.performed_at, reported_at: at, ..report(of.treatment, 0, signs) };
    let level = judged(&one).level;
    let Report { symptoms, temperature_c, .. } = one;
    Earlier { at, of, level, is_own: true, is_settled: false, symptoms, temperature_c }
}

fn judged(report: &Report) -> Answer {
    triage().judge(report).unwrap()
}

/// The last of several reports, heard with those before it.
fn after(reports: &[(Work, i64, &str)]) -> Answer {
    let ((of, minutes, signs), before) = reports.split_last().unwrap();
    let now = told(*of, *minutes, signs);
    let works = reports.iter().map(|(work, ..)| *work).collect();
    let mut earlier: Vec<Earlier> = Vec::new();
    for (of, minutes, signs) in before {
        earlier.push(told(*of, *minutes, signs));
    }
    let one = report(of.treatment, 0, signs);
    judged(&Report { performed_at: of.performed_at, reported_at: now.at, earlier, works, ..one })
}

const H: i64 = 60;

#[test]
fn what_was_told_before_counts() {
    let brows = work(Brows, 0);
    let (again, twice) = (work(Brows, 30 * D), work(Brows, 0));
    let (lips, liner) = (work(Lips, 0), work(Eyeliner, 0));
    let scalp = work(Scalp, 0);
    let d = D * H;
    for (reports, want) in [
        // An open report holds until somebody has closed it, however well she feels.
        (
            &[
                (brows, 3 * d, "pain!+ swelling!+ 39.5C"),
                (brows, 3 * d + H, "pain~- swelling~- redness~- 37.2C"),
            ][..],
            Emergency,
        ),
        (&[(brows, 3 * d, "pain!+ 36.8C"), (brows, 12 * d, "itching~- 36.8C")], SameDay),
        (&[(brows, 20 * d, "nodules~ 36.8C"), (brows, 21 * d, "scabs~- 36.8C")], Doctor),
        (&[(brows, 5 * d, "itching~ 36.8C"), (brows, 7 * d, "redness~- 36.8C")], Expected),
        // It may get worse all the same.
        (&[(brows, 20 * d, "nodules~"), (brows, 21 * d, "wheeze~")], Emergency),
        // The newest value counts, whichever was kept first.
        (
            &[
                (scalp, 3 * d, "pus 36.8C"),
                (scalp, 3 * d + H, "swelling pain! 39.4C"),
                (scalp, 3 * d + 2 * H, "pain!"),
            ],
            Emergency,
        ),
        (
            &[
                (scalp, 3 * d + H, "pain~ 38.4C"),
                (scalp, 3 * d, "pus 36.8C"),
                (scalp, 3 * d + 2 * H, "pain!"),
            ],
            Emergency,
        ),
        // A session and its touch-up, or one that was recorded twice, are one area.
        (&[(brows, 3 * d, "swelling 38.4C"), (twice, 3 * d + 5, "pain! 36.8C")], SameDay),
        (&[(brows, 3 * d, "swelling fever"), (twice, 3 * d + 5, "pain!")], Emergency),
        (&[(brows, 33 * d, "fever"), (again, 33 * d + 5, "pain!")], Emergency),
        (
            &[(again, 30 * d + 2 * H, "redness~"), (brows, 30 * d + 3 * H, "palpitations~")],
            Emergency,
        ),
        // One face: what is of the eyes is heard with brows and eyeliner.
        (&[(liner, 3 * H, "chemical_in_eye"), (brows, 3 * H + 5, "eye_pain!")], Emergency),
        (
            &[(brows, 26 * H, "contact_lens_worn redness~"), (liner, 26 * H + 5, "sticky_lids~")],
            SameDay,
        ),
        (&[(liner, 50 * H, "tightness~ 36.8C"), (brows, 50 * H + 5, "watery_eyes 36.8C")], SameDay),
        // In either order.
        (&[(brows, 3 * d, "fever"), (lips, 3 * d + 5, "swelling pain!")], Emergency),
        (&[(lips, 3 * d, "swelling pain!"), (brows, 3 * d + 5, "fever")], Emergency),
        (&[(lips, 3 * d + 5, "swelling pain!"), (brows, 3 * d, "38.4C")], Emergency),
        (&[(brows, 3 * d, "swelling pain!"), (brows, 3 * d - 1, "fever")], Emergency),
        // What does not reach the other work leaves it alone.
        (&[(lips, 3 * d, "itching~ 36.8C"), (brows, 3 * d + 5, "redness~ 36.8C")], Expected),
        (&[(lips, 3 * d, "swelling pain!"), (brows, 3 * d + 5, "redness~ 36.8C")], Expected),
        // Stronger than it was has got worse: from day 4 to day 6 that is a doctor's.
        (&[(brows, 4 * d, "redness~ 36.8C"), (brows, 6 * d, "redness 36.8C")], Doctor),
        (
            &[
                (brows, 4 * d, "redness~ 36.8C"),
                (brows, 6 * d, "redness 36.8C"),
                (brows, 6 * d, "redness 36.8C"),
            ],
            Doctor,
        ),
        (&[(brows, 2 * d, "redness~ 36.8C"), (brows, 6 * d, "redness 36.8C")], Expected),
        (
            &[
                (brows, 4 * d, "tightness~ 36.8C"),
                (brows, 6 * d, "tightness 36.8C"),
                (brows, 6 * d + 5, "tightness 36.8C"),
            ],
            Artist,
        ),
        (&[(brows, 4 * d, "redness 36.8C"), (brows, 6 * d, "redness~ 36.8C")], Expected),
        (&[(brows, 29 * d, "redness~"), (again, 30 * d + 5, "redness 36.8C")], Doctor),
    ] {
        let answer = after(reports);
        let why: Vec<&str> = answer.findings.iter().map(|finding| &*finding.rule).collect();
        assert_eq!(answer.level, want, "{reports:?}: {why:?}");
    }
}

/// A settled report holds nothing, and its signs are over.
#[test]
fn what_was_closed_is_over() {
    let brows = work(Brows, 0);
    let mut before = told(brows, 3 * D * H, "pain!+ swelling!+ 39.5C");
    for (is_settled, want) in [(false, Emergency), (true, Expected)] {
        before.is_settled = is_settled;
        let now = report(Brows, 6 * D, "redness~- 36.8C");
        let answer = judged(&Report { earlier: vec![before.clone()], ..now });
        assert_eq!(answer.level, want);
        let named =
            answer.findings.iter().any(|finding| &*finding.because.key == "why_open_report");
        let earlier = answer.assumed.iter().any(|(_, say)| &*say.key == "assumed_earlier");
        assert_eq!(named || earlier, !is_settled);
    }
}

/// An emergency that nobody closed makes one of what is told within three days; later it is what a doctor
/// has to see today, named with its day. With a sign of now it is one again, and so is a fever of now.
#[test]
fn an_emergency_that_nobody_closed_is_for_today_when_days_have_passed() {
    let brows = work(Brows, 0);
    let lips = work(Lips, 0);
    let d = D * H;
    let grave = (brows, 3 * d, "pain!+ swelling!+ 39.5C");
    let (airway, calm) = ((brows, 3 * d, "breathing_trouble"), "redness~- 36.8C");
    for (reports, want, is_named) in [
        (vec![grave, (brows, 6 * d, calm)], Emergency, false),
        (vec![grave, (brows, 6 * d + H, calm)], SameDay, true),
        (vec![grave, (brows, 300 * d, calm)], SameDay, true),
        (vec![airway, (brows, 6 * d, calm)], Emergency, false),
        (vec![airway, (brows, 6 * d + H, calm)], SameDay, true),
        (vec![airway, (brows, 6 * d + H, "redness~-")], SameDay, true),
        // What was told of other work of hers and reaches this one, too.
        (vec![airway, (lips, 6 * d + H, calm)], SameDay, true),
        // Its signs are as grave as ever beside one that is told now.
        (vec![airway, (brows, 9 * d, "wheeze~ 36.8C")], Emergency, false),
        (vec![(brows, 3 * d, "hives vomiting"), (brows, 9 * d, "vomiting~")], Emergency, false),
        (vec![airway, (brows, 9 * d, "redness~- 38.5C")], Emergency, false),
        // One who tells each day tells no emergency anew by that.
        (
            vec![airway, (brows, 5 * d, calm), (brows, 5 * d + 20 * H, calm), (brows, 7 * d, calm)],
            SameDay,
            true,
        ),
    ] {
        let answer = after(&reports);
        let why: Vec<&str> = answer.findings.iter().map(|finding| &*finding.because.key).collect();
        assert_eq!(answer.level, want, "{reports:?}: {why:?}");
        assert_eq!(why.contains(&"why_open_emergency"), is_named, "{reports:?}: {why:?}");
        let keys: Vec<&str> = answer.now.iter().map(|say| &*say.key).collect();
        assert_eq!(keys.contains(&"do_emergency"), want == Emergency, "{reports:?}: {keys:?}");
    }
    // One that was an emergency by an open one before it alone holds for today.
    let mut held = told(brows, 3 * d, calm);
    (held.level, held.is_own) = (Emergency, false);
    let now = report(Brows, 3 * D + 1, calm);
    assert_eq!(judged(&Report { earlier: vec![held], ..now }).level, SameDay);
}

/// A grave sign of long ago counts no less beside one that came since than a lesser sign would, and
/// what she takes is no sign that goes.
#[test]
fn what_came_since_is_heard_with_what_is_open() {
    let (brows, liner, d) = (work(Brows, 0), work(Eyeliner, 0), D * H);
    for (of, first, hours, second, want) in [
        (brows, "throat_or_tongue_swelling!+", 80, "hives", Emergency),
        (brows, "wheeze!+", 80, "vomiting", Emergency),
        (brows, "wheeze!+", 80, "hives", Emergency),
        (brows, "hoarse_voice!+", 80, "hives", Emergency),
        (liner, "eye_bulges_or_moves_painfully!+", 80, "double_vision", Emergency),
        (brows, "pain_beyond_the_wound!+", 80, "fever", Emergency),
        (brows, "extreme_shivering!+", 80, "headache_severe", Emergency),
        // Healing is no such sign, nor is the same sign again.
        (brows, "wheeze!+", 80, "itching~-", SameDay),
        (brows, "wheeze!+", 80, "wheeze~-", Emergency),
        (brows, "bleeding_will_not_stop", 80, "blood_thinner_taken", Emergency),
        (brows, "blood_thinner_taken", 50, "bleeding_will_not_stop", Emergency),
        (brows, "blood_thinner_taken", 240, "bleeding_will_not_stop", Emergency),
        (brows, "", 50, "bleeding_will_not_stop", SameDay),
    ] {
        let answer = after(&[(of, 3 * d, first), (of, 3 * d + hours * H, second)]);
        assert_eq!(answer.level, want, "{first}, {hours} h, {second}");
    }
}

/// Signs of long ago are named with their day; first aid is for those of now.
#[test]
fn the_pen_is_for_signs_of_now() {
    let brows = work(Brows, 0);
    let d = D * H;
    for (first, second, has_pen) in [(3 * d, 3 * d + 10, true), (4 * d, 24 * d, false)] {
        let answer = after(&[(brows, first, "hives"), (brows, second, "vomiting~")]);
        let keys: Vec<&str> = answer.now.iter().map(|say| &*say.key).collect();
        assert_eq!(answer.level, Emergency);
        assert_eq!(keys.contains(&"do_pen"), has_pen, "{keys:?}");
        assert_eq!(keys.contains(&"do_emergency_lie"), has_pen, "{keys:?}");
        assert!(answer.assumed.iter().any(|(_, say)| &*say.key == "assumed_earlier"));
    }
}

/// On a tie what was told before keeps its advice.
#[test]
fn an_eye_is_rinsed_whatever_is_told_next() {
    let liner = work(Eyeliner, 0);
    let answer = after(&[(liner, 25 * H, "chemical_in_eye"), (liner, 25 * H + 5, "pain!")]);
    let keys: Vec<&str> = answer.now.iter().map(|say| &*say.key).collect();
    assert_eq!(answer.level, SameDay);
    assert!(keys.contains(&"do_rinse") && keys.contains(&"do_same_day_eye"), "{keys:?}");
}

/// What is told of the worst holds while nobody told how it is, first aid too; the words of the
/// eye are for the eye.
#[test]
fn what_was_not_told_keeps_the_advice_of_the_worst() {
    for treatment in Treatment::ALL {
        for (hours, symptom) in [2, 30, 60, 200]
            .into_iter()
            .flat_map(|hours| Symptom::ALL.iter().map(move |one| (hours, one)))
        {
            let mut one = report(*treatment, hours, &format!("{symptom}!+"));
            let worst = judged(&one);
            one.symptoms[0].severity = None;
            one.symptoms[0].trend = None;
            let answer = judged(&one);
            assert_eq!(
                answer.level,
                worst.level.max(answer.level),
                "{treatment} {hours} {symptom}"
            );
            if answer.level == worst.level {
                assert_eq!(answer.now, worst.now, "{treatment} {hours} {symptom}");
                assert_eq!(answer.call, worst.call, "{treatment} {hours} {symptom}");
            }
        }
    }
    let keys = |treatment, hours, signs| -> Vec<String> {
        let mut one = report(treatment, hours, signs);
        one.symptoms[0].severity = None;
        one.symptoms[0].trend = None;
        judged(&one).now.iter().map(|say| say.key.to_string()).collect()
    };
    assert_eq!(keys(Areola, 200, "ulcer_or_black_scab"), ["do_emergency"]);
    assert_eq!(keys(Lips, 2, "bleeding")[0], "do_press");
    assert_eq!(keys(Eyeliner, 60, "rash_of_the_lids")[0], "do_same_day_eye");
}

fn any_earlier() -> impl Strategy<Value = Vec<(Report, i64, bool)>> {
    prop::collection::vec((any_report(), -200_i64..2_000, any::<bool>()), 0..4)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(2_000)))]

    /// Law: no other report and no other session makes an answer milder, and while a report that a
    /// doctor has to see is open for the area, nothing is: but that after days an emergency asks for today.
    #[test]
    fn what_is_known_beside_makes_nothing_milder(
        one in any_report(),
        others in any_earlier(),
        hour in 0_i64..2_000,
    ) {
        let alone = judged(&one).level;
        let earlier: Vec<Earlier> = others.iter().map(|(other, hours, is_settled)| Earlier {
            at: one.reported_at - SignedDuration::from_hours(*hours),
            of: Work { treatment: other.treatment, performed_at: other.performed_at },
            level: judged(other).level,
            is_own: *hours % 2 == 0,
            is_settled: *is_settled,
            symptoms: other.symptoms.clone(),
            temperature_c: other.temperature_c,
        }).collect();
        let works: Vec<Work> = Treatment::ALL.iter().map(|treatment| work(*treatment, hour)).collect();
        // What was not measured may be told by another report.
        let measured = earlier.iter().filter(|_| one.temperature_c.is_none());
        prop_assume!(measured.filter_map(|other| other.temperature_c).count() < 2);
        let open = earlier.iter().filter(|other| {
            other.of.treatment == one.treatment && !other.is_settled && Doctor <= other.level
        });
        let is_late = |other: &Earlier| 72 < one.reported_at.duration_since(other.at).as_hours().abs();
        let held = |other: &Earlier| {
            let is_over = !other.is_own || is_late(other);
            other.level.min(if is_over { SameDay } else { Emergency })
        };
        let least = open.map(held).max().unwrap_or(alone).max(alone);
        let all = judged(&Report { earlier, works, ..one });
        prop_assert!(least <= all.level, "{least} {all:?}");
    }
}
