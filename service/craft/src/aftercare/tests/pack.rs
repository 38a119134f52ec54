//! Packs of steps: what is added, and what is refused.

use etui_schema::vocabulary::{Language, Treatment};
use serde_json::{Value, json};

use super::{aged, plans};
use crate::aftercare::Plans;
use crate::evidence::Register;

fn step(change: &Value) -> Value {
    let mut step = json!({
        "key": "house_balm", "kind": "do", "from_day": 1, "to_day": 7, "message": true,
        "text": { "en": "Use a thin layer of the balm we gave you for {days} days." },
        "sources": { "days": "common-practice", "text": "common-practice" },
    });
    step.as_object_mut().unwrap().extend(change.as_object().cloned().unwrap());
    json!({ "step": [step] })
}

fn with(pack: &Value) -> Result<Plans, String> {
    let register = Register::builtin().unwrap();
    plans()
        .with_pack(&register, "house", pack)
        .map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))
}

#[test]
fn a_step_is_added_and_names_its_pack() {
    let packed = with(&step(&json!({ "treatments": ["brows"] }))).unwrap();
    let before = plans().plan(&aged(Treatment::Brows, 40)).unwrap();
    let after = packed.plan(&aged(Treatment::Brows, 40)).unwrap();
    assert_eq!(after.steps.len(), before.steps.len() + 1);
    let added = super::step(&after, "house_balm");
    assert_eq!(added.pack.as_deref(), Some("house"));
    assert_eq!((added.from_day, added.to_day), (1, Some(7)));
    for language in Language::ALL {
        let said = added.say.in_language(packed.texts(), *language);
        assert_eq!(said, "Use a thin layer of the balm we gave you for 7 days.");
    }
    // Nothing of what was there is gone or changed.
    for old in &before.steps {
        assert_eq!(super::step(&after, &old.key), old);
    }
    assert!(before.steps.iter().all(|step| step.pack.is_none()));
    let lips = packed.plan(&aged(Treatment::Lips, 40)).unwrap();
    assert!(lips.steps.iter().all(|step| &*step.key != "house_balm"));
}

#[test]
fn what_a_pack_may_not_do_is_named_by_its_place() {
    let text = |en: &str| json!({ "text": { "en": en } });
    for (change, pointer, says) in [
        (json!({ "key": "no_picking" }), "/step/0/key", "cannot be replaced"),
        (json!({ "key": "House" }), "/step/0/key", "1 to 48"),
        (json!({ "to_day": 0 }), "/step/0", "run backwards"),
        (json!({ "send_day": 8 }), "/step/0", "after its days"),
        (json!({ "send_day": 0 }), "/step/0/send_day", "before its days"),
        (json!({ "from_day": -1 }), "/step/0/from_day", "day 0"),
        (
            json!({ "sources": { "days": "nobody", "text": "common-practice" } }),
            "/step/0/sources/days",
            "not registered",
        ),
        (text(""), "/step/0/text/en", "1 to 300"),
        (text(&"a ".repeat(200)), "/step/0/text/en", "1 to 300"),
        (text("Skip your tablets."), "/step/0/text/en", "stop a medicine"),
        (text("Take 200 mg of it."), "/step/0/text/en", "a dose"),
        (text("This is quite safe."), "/step/0/text/en", "promises"),
        (text("Go to the sauna."), "/step/0/text/en", "`sauna` is of what is to be avoided"),
        (
            json!({ "kind": "avoid", "text": { "en": "Sauna is good for you." } }),
            "/step/0/text/en",
            "only to forbid it",
        ),
        (
            json!({ "text": { "en": "Balm.", "de": "Kratzen Sie den Schorf ab." } }),
            "/step/0/text/de",
            "`kratzen`",
        ),
        (text("From {date} on."), "/step/0/text/en", "nothing fills"),
        (
            json!({ "text": { "en": "Balm.", "de": "Setzen Sie Ihr Medikament ab." } }),
            "/step/0/text/de",
            "stop a medicine",
        ),
        (json!({ "colour": 1 }), "", "unknown field"),
    ] {
        let told = with(&step(&change)).err().unwrap_or_else(|| panic!("{change} was accepted"));
        assert!(told.contains(&format!("{pointer}: ")) && told.contains(says), "{change}: {told}");
    }
    let both = json!({ "from_day": -1, "key": "X", "text": { "en": "This is safe." } });
    assert_eq!(with(&step(&both)).unwrap_err().split("; ").count(), 3);
}

/// "100 messages on day 0 in one aftercare pack are kept."
#[test]
fn no_client_gets_more_than_five_messages_of_packs_on_one_day() {
    let pack = |steps: &[Value]| {
        let one = |(n, change): (usize, &Value)| {
            let mut one = step(change)["step"][0].clone();
            one["key"] = json!(format!("house_{n}"));
            one
        };
        json!({ "step": steps.iter().enumerate().map(one).collect::<Vec<_>>() })
    };
    let day = |day: i32| json!({ "from_day": day, "to_day": 20 });
    let of = |treatment: &str| json!({ "treatments": [treatment] });
    let silent = json!({ "message": false });
    let five = vec![day(1); 5];
    let six = |last: Value| [five.clone(), vec![last]].concat();
    for (case, steps, fault) in [
        ("five", five.clone(), None),
        ("six", six(day(1)), Some("/step/5/message")),
        ("a sixth on the next day", six(day(2)), None),
        ("a sixth that is sent later", six(json!({ "send_day": 2 })), None),
        ("a sixth on the sheet only", six(silent), None),
        ("a sixth from another day on", six(json!({ "anchor": "review" })), None),
        ("a sixth for some", six(json!({ "when": "smoker" })), Some("/step/5/message")),
        ("five and five", [vec![of("brows"); 5], vec![of("lips"); 5]].concat(), None),
        (
            "of one treatment",
            [vec![of("brows"); 5], vec![json!({})]].concat(),
            Some("/step/5/message"),
        ),
    ] {
        let told = with(&pack(&steps)).err();
        let found = told.as_deref().and_then(|told| told.split(':').next());
        assert_eq!(found, fault, "{case}: {told:?}");
    }
    // All packs together.
    let register = Register::builtin().unwrap();
    let first = with(&pack(&five)).unwrap();
    let other = step(&json!({ "key": "other" }));
    let Err(told) = first.with_pack(&register, "other", &other) else { panic!("a sixth message") };
    assert_eq!(told[0].pointer, "/step/0/message");
}

/// What is of another shape is named by its own pointer too.
#[test]
fn a_member_of_another_shape_is_named_where_it_stands() {
    for (change, pointer) in [
        (json!({ "from_day": 99_999_999_999_i64 }), "/step/0/from_day"),
        (json!({ "to_day": "P0D" }), "/step/0/to_day"),
        (json!({ "when": "sometimes" }), "/step/0/when"),
        (json!({ "sources": { "days": 7, "text": "common-practice" } }), "/step/0/sources/days"),
    ] {
        let told = with(&step(&change)).err().unwrap_or_else(|| panic!("{change} was accepted"));
        assert!(told.starts_with(&format!("{pointer}: ")), "{change}: {told}");
    }
}
