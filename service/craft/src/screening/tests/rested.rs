//! Gate and plan wait for the same day: both ask the one rule of healing.

use etui_schema::vocabulary::{Language, Treatment};
use jiff::ToSpan;
use serde_json::json;

use super::support::{ON, book, visit, with};
use crate::aftercare::healing::{Healing, Next};
use crate::evidence::Register;
use crate::screening::gate::Visit;

/// Days since the last session by age, of the same work again and of the next pass of a scalp
/// (skin-renewal times of J Soc Cosmet Chem 1981;32:15-26 over 28 days; passes: common practice).
const DAYS: [(i16, i64, i64); 3] = [(1999, 28, 10), (1989, 35, 11), (1960, 42, 14)];

#[test]
fn skin_that_was_worked_waits_for_the_day_of_its_plan() {
    let healing = Healing::builtin(&Register::builtin().unwrap()).unwrap();
    for treatment in Treatment::ALL.iter().copied() {
        for (born, touch_up, pass) in DAYS {
            for (said, next) in
                [(None, Next::TouchUp), (Some(true), Next::TouchUp), (Some(false), Next::Pass)]
            {
                if said.is_some() && treatment != Treatment::Scalp {
                    continue;
                }
                let days = if next == Next::Pass { pass } else { touch_up };
                for (since, held) in [(days - 1, true), (days, false)] {
                    let last = ON.saturating_sub(since.days());
                    let mut told = json!({
                        "previous_pmu_in_area": true, "previous_pmu_on": last.to_string(),
                    });
                    if let Some(said) = said {
                        told["scalp_touch_up"] = said.into();
                    }
                    let visit =
                        Visit { born_on: jiff::civil::date(born, 3, 1), ..visit(treatment) };
                    let found = with(book(), visit, &told).unwrap();
                    let hold =
                        found.findings.iter().find(|one| &*one.rule.id == "previous_pmu_fresh");
                    let case = format!("{treatment}, born {born}, {said:?}, {since} days");
                    assert_eq!(hold.is_some(), held, "{case}");
                    // Who is not told which of the two it is waits for the longer, and asks.
                    let asks = held && said.is_none() && treatment == Treatment::Scalp;
                    let list = book().todo(&found, ON, ON, Language::En);
                    let asked = list.iter().any(|todo| &*todo.from == "scalp_touch_up");
                    assert_eq!((found.ends_sooner.is_some(), asked), (asks, asks), "{case}");
                    let age = u8::try_from(2027 - born).ok();
                    let planned = healing.after(treatment, next, age).from(last).unwrap();
                    if let Some(hold) = hold {
                        assert_eq!(hold.not_before, Some(planned), "{case}");
                    } else {
                        assert!(planned <= ON, "{case}");
                    }
                }
            }
        }
    }
}

/// A studio that waits longer waits for the next pass too.
#[test]
fn a_pack_that_waits_longer_waits_for_the_next_pass_as_well() {
    let pack = json!({ "tighten": [{ "rule": "previous_pmu_fresh", "period": "P6W" }] });
    let packed = book().with_pack("house", &pack).unwrap();
    let scalp = visit(Treatment::Scalp);
    for (since, held) in [(41, true), (42, false)] {
        let last = ON.saturating_sub(i64::from(since).days()).to_string();
        let told = json!({
            "previous_pmu_in_area": true, "previous_pmu_on": last, "scalp_touch_up": false,
        });
        let found = with(&packed, scalp, &told).unwrap();
        let hold = found.findings.iter().any(|one| &*one.rule.id == "previous_pmu_fresh");
        assert_eq!(hold, held, "{since} days");
    }
}
