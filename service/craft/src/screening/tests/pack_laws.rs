//! A law over random packs: whatever a pack tightens, nothing gets softer.

use etui_schema::vocabulary::Verdict;
use proptest::prelude::*;
use serde_json::{Value, json};

use super::laws::{Dice, answers, any_skin, any_treatment, dice, judged};
use super::support::{assess, book, visit};
use crate::screening::gate::severity;
use crate::screening::rulebook::Rulebook;

/// A change to one rule, as the dice fall; many are refused by the loader.
fn change(dice: &mut Dice) -> Value {
    let rules = book().all_rules();
    let rule = &rules[dice.roll(u32::try_from(rules.len()).unwrap()) as usize];
    let mut change = json!({ "rule": &*rule.id });
    match dice.roll(3) {
        0 => {
            let verdict =
                Verdict::ALL[dice.roll(u32::try_from(Verdict::ALL.len()).unwrap()) as usize];
            change["verdict"] = json!(verdict);
            change["refer_to"] = json!("doctor");
        }
        1 => change["period"] = json!(["P1D", "P6W", "P13M", "P5Y"][dice.roll(4) as usize]),
        _ => change["points"] = json!(dice.roll(5)),
    }
    change
}

/// The book with as many of the changes as the loader takes.
fn tightened(dice: &mut Dice) -> Rulebook {
    let mut packed = book().clone();
    for nth in 0..8 {
        let pack = json!({ "tighten": [change(dice)] });
        if let Ok(next) = packed.with_pack(&format!("pack-{nth}"), &pack) {
            packed = next;
        }
    }
    packed
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(200)))]

    #[test]
    fn whatever_a_pack_tightens_nothing_gets_softer(
        treatment in any_treatment(), mut own in dice(), mut packs in dice(), skin in any_skin(),
    ) {
        let visit = visit(treatment);
        let given = answers(&visit, &mut own, true);
        let packed = tightened(&mut packs);
        let before = judged(visit, &given, skin.as_ref());
        let after = assess(&packed, visit, &given, skin.as_ref(), &[]).unwrap();
        prop_assert!(severity(before.verdict) <= severity(after.verdict), "{:?}", packed.packs);
        prop_assert!(before.score.points <= after.score.points);
        prop_assert!(before.score.at_most <= after.score.at_most);
        if after.verdict == Verdict::Hold {
            prop_assert!(before.not_before <= after.not_before);
        }
        // What spoke before still speaks, and names the pack that made it harder.
        for finding in &before.findings {
            let found = after.findings.iter().find(|other| other.rule.id == finding.rule.id);
            let found = found.expect("it still speaks");
            prop_assert!(severity(finding.verdict) <= severity(found.verdict), "{}", finding.rule.id);
            prop_assert!(found.verdict == finding.verdict || found.rule.pack.is_some());
        }
    }
}
