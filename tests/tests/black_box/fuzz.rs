//! Bodies at random, made from the recorded examples: whatever is sent is
//! answered, in time, and never with a fault of ours.
//!
//! `ETUI_FUZZ_SECONDS` says for how long (usually 2), `ETUI_FUZZ_SEED` repeats a run;
//! the seed is printed. A pack that is kept meets each of the other operations once, and goes again.

use std::hash::{BuildHasher, RandomState};
use std::time::{Duration, Instant};

use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::Request;
use serde_json::{Value, json};

/// What an optimised build should stay below; counted and printed.
const SLOW: Duration = Duration::from_millis(100);
/// How often a slow one is asked again; the shortest counts.
const AGAIN: usize = 3;
/// No answer may take longer, on a busy machine and without optimisation.
const PATIENCE: Duration = Duration::from_secs(10);
/// Operations that compute and store nothing.
const STATELESS: [&str; 8] = [
    "read_labels",
    "compare_configurations",
    "select_needles",
    "simulate_pattern",
    "create_skin_assessment",
    "create_skin_colour",
    "make_aftercare_plan",
    "judge_symptom_report",
];

/// A small generator (xorshift): repeatable from its seed, which is all that is wanted.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n.max(1) as u64).unwrap_or(0)
    }
}

fn hostile(chance: &mut Chance) -> Value {
    let all = [
        json!(null),
        json!(true),
        json!([]),
        json!({}),
        json!(""),
        json!(0),
        json!(-1),
        json!(1e308),
        json!(-1e-308),
        json!(u64::MAX),
        json!(i64::MIN),
        json!(0.1),
        json!("9999-12-31"),
        json!("0000-01-01"),
        json!("-9999-01-01"),
        json!("2027-02-30"),
        json!("9999-12-31T23:59:59.999999999Z"),
        json!("2027-03-28T02:30:00+01:00"),
        json!("P9999Y"),
        json!("\u{0}\u{7f}\u{202e}\u{feff}\u{1f600}e\u{301}"),
        json!("0.30000000000 3RL"),
        json!("99999999999999999999RL"),
        json!("]d2".to_owned() + &"10A\u{1d}".repeat(300)),
        json!("\u{fc}".repeat(1999)),
        json!(vec![json!({}); 70]),
        json!({ "kind": "x", "constructor": { "__proto__": [] } }),
    ];
    all[chance.below(all.len())].clone()
}

/// Every place in a value, as pointers.
fn places(value: &Value, at: String, all: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            for (name, inner) in members {
                places(inner, format!("{at}/{}", name.replace('~', "~0").replace('/', "~1")), all);
            }
        }
        Value::Array(items) => {
            for (n, inner) in items.iter().enumerate() {
                places(inner, format!("{at}/{n}"), all);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
    all.push(at);
}

fn mutated(seed: &Value, chance: &mut Chance) -> Vec<u8> {
    let mut value = seed.clone();
    for _ in 0..=chance.below(3) {
        let mut all = Vec::new();
        places(&value, String::new(), &mut all);
        let (place, other) = (&all[chance.below(all.len())], &all[chance.below(all.len())]);
        let kind = chance.below(4);
        let new = match kind {
            0 => value.pointer(other).cloned().unwrap_or_default(),
            _ => hostile(chance),
        };
        let Some(held) = value.pointer_mut(place) else { continue };
        match (kind, held) {
            (1, Value::Array(items)) => {
                let more = items.first().cloned().unwrap_or(new);
                items.extend(vec![more; 40]);
            }
            (2, Value::Object(members)) => {
                let name = members.keys().nth(chance.below(members.len())).cloned();
                name.map(|name| members.remove(&name));
            }
            (_, held) => *held = new,
        }
    }
    let mut bytes = value.to_string().into_bytes();
    if chance.below(4) == 0 {
        for _ in 0..=chance.below(4) {
            let at = chance.below(bytes.len());
            match chance.below(3) {
                0 => bytes[at] = u8::try_from(chance.below(256)).unwrap_or(0),
                1 => bytes.insert(at, b"\"{}[],:\\0"[chance.below(9)]),
                _ if 1 < bytes.len() => {
                    bytes.remove(at);
                }
                _ => {}
            }
        }
    }
    bytes
}

fn setting<T: std::str::FromStr>(name: &str) -> Option<T> {
    std::env::var(name).ok()?.parse().ok()
}

#[test]
fn whatever_is_sent_is_answered() {
    let seed = setting("ETUI_FUZZ_SEED").unwrap_or_else(|| RandomState::new().hash_one(0) | 1);
    let seconds = setting("ETUI_FUZZ_SECONDS").unwrap_or(2);
    println!("ETUI_FUZZ_SEED={seed} for {seconds} s");
    let examples: Vec<(Request, Value)> = Tour::shared()
        .examples()
        .filter(|heard| {
            STATELESS.contains(&heard.operation) || heard.request.path().starts_with("/v1/packs/")
        })
        .filter_map(|heard| Some((heard.request.clone(), heard.request.json_body()?)))
        .collect();
    assert!(8 < examples.len(), "{} examples", examples.len());
    let running = Running::start();
    let (mut chance, began, mut sent) = (Chance(seed), Instant::now(), 0);
    let (mut refused, mut packs, mut slow) = (0, 0, 0);
    let mut slowest = (Duration::ZERO, String::new());
    while began.elapsed() < Duration::from_secs(seconds) {
        let (request, example) = &examples[chance.below(examples.len())];
        let body = mutated(example, &mut chance);
        let asked = Instant::now();
        let request = request.clone().bytes("application/json", body.clone());
        let answer = running.call(&request);
        let mut took = asked.elapsed();
        // Who else had the processor then does not come again; what was kept would be another question.
        for _ in 0..AGAIN {
            if SLOW < took && answer.status != 201 {
                let asked = Instant::now();
                let _ = running.call(&request);
                took = took.min(asked.elapsed());
            }
        }
        let told = || format!("{}: {}", request.path(), String::from_utf8_lossy(&body));
        assert!(answer.status < 500, "{} to {}", answer.text(), told());
        assert!(took < PATIENCE, "{took:?} for {}", told());
        slow += usize::from(SLOW < took);
        if slowest.0 < took {
            slowest = (took, told());
        }
        if answer.status == 201 && request.path().starts_with("/v1/packs/") {
            packs += 1;
            computes_with_it(&running, &examples);
            let etag = answer.header("etag").unwrap_or_default().to_owned();
            let away = Request::new("DELETE", request.path()).header("If-Match", etag);
            let gone = running.call(&away);
            assert_eq!(gone.status, 200, "{} after {}", gone.text(), told());
        }
        sent += 1;
        refused += usize::from(400 <= answer.status);
    }
    println!("{sent} bodies, {refused} refused, {packs} packs kept and taken away");
    println!("{slow} above {SLOW:?}; slowest: {:?} for {:.300}", slowest.0, slowest.1);
    assert!(refused < sent, "nothing was ever accepted");
}

/// A pack that was kept must not make a call fail that was good without it.
fn computes_with_it(running: &Running, examples: &[(Request, Value)]) {
    for (request, _) in examples.iter().filter(|(request, _)| !request.path().contains("/packs/")) {
        let answer = running.call(request);
        assert!(answer.status < 500, "{} to {}", answer.text(), request.path());
    }
}
