//! Whether drawer, artist, machine and skin are ready.

use etui_craft::aftercare::Plans;
use etui_craft::screening::age;
use etui_schema::appointment_checks::{CheckNeedles, OfferedNeedle, Readiness};
use etui_schema::vocabulary::{Confidence, Grouping};

use super::gather::Gathered;

/// Whether drawer, artist and machine are ready for the needle that comes
/// first, and the skin for another session.
pub(super) fn readiness(
    plans: &Plans,
    gathered: &Gathered,
    needles: Option<&CheckNeedles>,
) -> Vec<Readiness> {
    let first = needles.and_then(|needles| needles.ranked.first());
    let mut list = vec![match first {
        Some(needle) => Readiness {
            about: "drawer".to_owned(),
            ready: true,
            because: format!("{} is there to choose.", needle.canonical),
            confidence: Confidence::High,
        },
        None => Readiness {
            about: "drawer".to_owned(),
            ready: false,
            because: "no needle that suits and may be used on the day is there to choose."
                .to_owned(),
            confidence: Confidence::High,
        },
    }];
    if let (Some(practice), Some(needle)) = (&gathered.practice, first) {
        let (count, grouping) = (needle.configuration.count, needle.configuration.grouping);
        let same = |g: Option<Grouping>, c: Option<u8>| g == grouping && c == count;
        let practised =
            practice.iter().find(|one| same(one.configuration.grouping, one.configuration.count));
        list.push(match practised {
            Some(one) if one.signed_off_by.is_some() => Readiness {
                about: "practice".to_owned(),
                ready: true,
                because: format!("{} was practised and signed off.", needle.canonical),
                confidence: Confidence::High,
            },
            Some(_) => Readiness {
                about: "practice".to_owned(),
                ready: false,
                because: format!("{} was practised, but nobody signed it off.", needle.canonical),
                confidence: Confidence::Medium,
            },
            None => Readiness {
                about: "practice".to_owned(),
                ready: false,
                because: format!(
                    "no practice with {} is on record for this artist.",
                    needle.canonical
                ),
                confidence: Confidence::Medium,
            },
        });
    }
    list.extend(first.and_then(|needle| machine(gathered, needle)));
    list.extend(healing(plans, gathered));
    list
}

/// Whether the machine that was named suits the needle.
fn machine(gathered: &Gathered, needle: &OfferedNeedle) -> Option<Readiness> {
    gathered.setting.machine.as_ref()?;
    let answer = needle.answers.iter().find(|answer| answer.question == "machine")?;
    Some(Readiness {
        about: "machine".to_owned(),
        ready: 0.0 < answer.desirability,
        because: answer.because.clone(),
        confidence: Confidence::Medium,
    })
}

/// Whether the skin has had its time since the last session on record.
fn healing(plans: &Plans, gathered: &Gathered) -> Option<Readiness> {
    let last = gathered.previous.first()?;
    let age =
        age::on(gathered.born_on.0, gathered.day()).and_then(|years| u8::try_from(years).ok());
    let days = plans.touch_up_days(age);
    let (had, on) = (last.days_before, last.on);
    Some(Readiness {
        about: "healing".to_owned(),
        ready: days <= had,
        because: format!(
            "the last session in this area was on {on}, {had} days before; at this age the skin is given {days} days."
        ),
        confidence: Confidence::Medium,
    })
}
