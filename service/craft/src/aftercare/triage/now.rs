//! What to do now, and whom to call.

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::Level;

use super::super::country::Calls;
use super::super::rows::is_private;
use super::super::say::{Say, Value};
use super::rules::{Advice, Rule};

/// What to do now. Rinsing an eye comes before everything, a telephone call
/// too; then the words of rules of this level that know better, then the
/// level's own. The pen is for signs of now (`has_pen`).
pub(super) fn now(
    level: Level,
    (spoken, has_pen): (&[&Rule], bool),
    calls: &Calls,
    (treatment, floor_days): (Treatment, i32),
) -> Vec<Say> {
    let asked =
        |wanted| spoken.iter().any(|rule| rule.level == level && rule.advice == Some(wanted));
    let mut grave = spoken.iter().filter(|rule| rule.level == Level::Emergency).peekable();
    let eye_only = grave.peek().is_some() && grave.all(|rule| rule.advice == Some(Advice::EyeNow));
    let mut keys = Vec::new();
    if spoken.iter().any(|rule| rule.advice == Some(Advice::Rinse)) {
        let calling = level == Level::Emergency && !eye_only;
        keys.push(if calling { "do_rinse_and_call" } else { "do_rinse" });
    }
    if spoken.iter().any(|rule| rule.advice == Some(Advice::Press)) {
        keys.push("do_press");
    }
    match level {
        Level::Emergency if eye_only => keys.push("do_emergency_eye"),
        Level::Emergency => {
            keys.push("do_emergency");
            if has_pen && asked(Advice::Pen) {
                keys.extend(["do_pen", "do_emergency_lie"]);
            }
        }
        Level::SameDay => {
            let own = [
                (Advice::Eye, "do_same_day_eye"),
                (Advice::Rinse, "do_same_day_eye"),
                (Advice::Allergy, "do_same_day_allergy"),
                (Advice::Prescriber, "do_same_day_prescriber"),
                (Advice::Breast, "do_same_day_breast"),
            ];
            keys.extend(own.iter().filter(|(advice, _)| asked(*advice)).map(|(_, key)| *key));
            keys.dedup();
            // Who is told where to go is not sent elsewhere in the next sentence.
            keys.push(if is_sent(level, spoken) { "do_same_day_worse" } else { "do_same_day" });
        }
        Level::Doctor => {
            keys.extend(asked(Advice::LeaveOff).then_some("do_leave_off"));
            keys.push(if asked(Advice::Soon) { "do_doctor_soon" } else { "do_doctor" });
        }
        Level::Artist => {
            let (wait, review, artist) = if is_private(treatment) {
                ("do_wait_private", "do_review_private", "do_artist_private")
            } else {
                ("do_wait", "do_review", "do_artist")
            };
            let own = [
                (Advice::LeaveOff, "do_leave_off"),
                (Advice::Wait, wait),
                (Advice::Review, review),
            ];
            keys.extend(own.iter().filter(|(advice, _)| asked(*advice)).map(|(_, key)| *key));
            keys.push(artist);
        }
        Level::Expected => keys.push("do_expected"),
    }
    let fill = |key| calls.fill(Say::plain(key)).with("floor", Value::Number(floor_days));
    keys.into_iter().map(fill).collect()
}

/// Whom an advice for today sends to, as the text that says whom to call.
const fn sends(advice: Advice) -> Option<&'static str> {
    match advice {
        Advice::Eye | Advice::Rinse => Some("call_eye"),
        Advice::Prescriber => Some("call_prescriber"),
        Advice::Breast => Some("call_breast"),
        Advice::EyeNow
        | Advice::Press
        | Advice::Pen
        | Advice::Allergy
        | Advice::Soon
        | Advice::LeaveOff
        | Advice::Wait
        | Advice::Review => None,
    }
}

/// Whether every rule that cannot wait says where to go.
fn is_sent(level: Level, spoken: &[&Rule]) -> bool {
    let mut today = spoken.iter().filter(|rule| rule.level == level).peekable();
    today.peek().is_some() && today.all(|rule| rule.advice.and_then(sends).is_some())
}

/// Whom to call at a level: where all that was said today sends to one place, that place.
pub(super) fn call(calls: &Calls, level: Level, spoken: &[&Rule]) -> Option<Say> {
    let words = match level {
        Level::Emergency => &calls.emergency,
        Level::SameDay => &calls.same_day,
        Level::Doctor => &calls.doctor,
        Level::Artist => &calls.artist,
        Level::Expected => return None,
    };
    if level == Level::SameDay && is_sent(level, spoken) {
        let today = spoken.iter().filter(|rule| rule.level == level);
        let mut places: Vec<&str> = today.filter_map(|rule| rule.advice.and_then(sends)).collect();
        places.dedup();
        if let [place] = *places {
            return Some(calls.fill(Say::plain(place)));
        }
    }
    Some(Say::plain("call").with("whom", Value::Words(words.clone())))
}
