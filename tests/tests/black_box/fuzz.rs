//! Bodies at random: whatever is sent is answered, in time, and never with a fault of ours.
//!
//! `ETUI_FUZZ_SECONDS` says for how long (usually 2), `ETUI_FUZZ_SEED` repeats a run;
//! the seed is printed. A pack that is kept meets each of the other operations once, and goes again.
//!
//! # The corpus
//!
//! For each operation that computes and stores nothing, and for packs, the request of the tour
//! (`openapi/examples.json`), and what was found once: `fuzz.jsonl`, one body a line with the
//! operation it is for, sent as it is by every run before anything else. Labels and symbols have
//! theirs in `service/craft/tests/data/labels`. Which operations these are the document says: those
//! of the scope `compute` with a body. One that is added is fuzzed, or the tour names it as missing.

use std::hash::{BuildHasher, RandomState};
use std::time::{Duration, Instant};

use etui_tests::document::{Document, Operation};
use etui_tests::running::Running;
use etui_tests::tour::{Heard, Tour};
use etui_tests::wire::Request;
use serde_json::{Value, json};

/// No answer takes longer, whatever the body; where nothing is optimised, four times as long.
const SLOW: Duration = Duration::from_millis(if cfg!(debug_assertions) { 400 } else { 100 });
/// A picture is taken apart point by point, some megabytes of them, so that it has a time of its own.
const SLOW_PICTURE: Duration = Duration::from_secs(2);
/// How often a slow one is asked again, each after a pause; the shortest counts, since who else had
/// the processor then does not come again and work that the body makes does.
const AGAIN: u32 = 8;
const PAUSE: Duration = Duration::from_millis(30);
/// The operations that read pictures.
const PICTURES: [&str; 1] = ["/v1/sheet-readings"];

/// What was found once.
fn kept() -> impl Iterator<Item = (String, Value)> {
    include_str!("fuzz.jsonl").lines().map(|line| {
        let line: Value = serde_json::from_str(line).expect("one JSON object a line");
        (line["operation"].as_str().expect("an operation").to_owned(), line["body"].clone())
    })
}

/// Operations that compute and store nothing, as the document tells.
fn stateless() -> Vec<String> {
    let all = Document::of_this_build().operations().into_iter();
    let computes = |it: &Operation| it.takes_body && it.scope.as_deref() == Some("compute");
    all.filter(computes).map(|it| it.id).collect()
}

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

/// How long the shortest of several askings took, if the first was slow.
fn at_best(running: &Running, request: &Request, first: Duration) -> Duration {
    let limit = limit(request);
    let mut took = first;
    for _ in 0..AGAIN {
        if limit < took {
            std::thread::sleep(PAUSE);
            let asked = Instant::now();
            let _ = running.call(request);
            took = took.min(asked.elapsed());
        }
    }
    took
}

fn limit(request: &Request) -> Duration {
    if PICTURES.contains(&request.path()) { SLOW_PICTURE } else { SLOW }
}

/// Requests to begin with: those of the tour, and behind them those that were found once.
fn corpus() -> (Vec<(Request, Value)>, usize) {
    let tour = Tour::shared();
    let operations = stateless();
    let asked = |heard: &Heard| Some((heard.request.clone(), heard.request.json_body()?));
    for id in &operations {
        assert!(asked(tour.example(id)).is_some(), "`{id}` has no JSON body in the tour");
    }
    let fuzzed = |heard: &&Heard| {
        is_pack(&heard.request) || operations.iter().any(|id| id == heard.operation)
    };
    let mut all: Vec<(Request, Value)> = tour.examples().filter(fuzzed).filter_map(asked).collect();
    let first = all.len();
    assert!(operations.len() < first, "no packs");
    for (operation, body) in kept() {
        let request = tour.example(&operation).request.clone();
        assert!(is_pack(&request) || operations.contains(&operation), "{operation}");
        all.push((request, body));
    }
    (all, first)
}

fn is_pack(request: &Request) -> bool {
    request.path().starts_with("/v1/packs/")
}

/// What was sent, and what came of it.
#[derive(Debug, Default)]
struct Tally {
    sent: usize,
    refused: usize,
    packs: usize,
    slowest: Duration,
    by: String,
}

#[test]
fn whatever_is_sent_is_answered() {
    let seed = setting("ETUI_FUZZ_SEED").unwrap_or_else(|| RandomState::new().hash_one(0) | 1);
    let seconds = setting("ETUI_FUZZ_SECONDS").unwrap_or(2);
    println!("ETUI_FUZZ_SEED={seed} for {seconds} s");
    let (corpus, first) = corpus();
    let running = Running::start();
    let mut tally = Tally::default();
    for (request, body) in &corpus[first..] {
        let request = request.clone().json(body);
        try_one(&running, &corpus, &request, &mut tally);
    }
    let (mut chance, began) = (Chance(seed), Instant::now());
    while began.elapsed() < Duration::from_secs(seconds) {
        let (request, example) = &corpus[chance.below(corpus.len())];
        let body = mutated(example, &mut chance);
        let request = request.clone().bytes("application/json", body);
        try_one(&running, &corpus, &request, &mut tally);
    }
    let Tally { sent, refused, packs, slowest, by } = tally;
    println!("{sent} bodies, {refused} refused, {packs} packs kept and taken away");
    println!("slowest {slowest:?}: {by:.300}");
    assert!(refused < sent, "nothing was ever accepted");
}

fn try_one(running: &Running, corpus: &[(Request, Value)], request: &Request, tally: &mut Tally) {
    let asked = Instant::now();
    let answer = running.call(request);
    let mut took = asked.elapsed();
    let body = request.body.as_deref().unwrap_or_default();
    let told = || format!("{}: {}", request.path(), String::from_utf8_lossy(body));
    assert!(answer.status < 500, "{} to {}", answer.text(), told());
    // What was kept would be another question.
    if answer.status == 201 && is_pack(request) {
        tally.packs += 1;
        computes_with_it(running, corpus);
        let etag = answer.header("etag").unwrap_or_default().to_owned();
        let away = Request::new("DELETE", request.path()).header("If-Match", etag);
        let gone = running.call(&away);
        assert_eq!(gone.status, 200, "{} after {}", gone.text(), told());
        took = took.min(limit(request));
    }
    took = at_best(running, request, took);
    assert!(took <= limit(request), "{took:?} for {}", told());
    tally.sent += 1;
    tally.refused += usize::from(400 <= answer.status);
    if tally.slowest < took && !PICTURES.contains(&request.path()) {
        (tally.slowest, tally.by) = (took, told());
    }
}

/// A pack that was kept must not make a call fail that was good without it.
fn computes_with_it(running: &Running, corpus: &[(Request, Value)]) {
    for (request, _) in corpus.iter().filter(|(request, _)| !is_pack(request)) {
        let answer = running.call(request);
        assert!(answer.status < 500, "{} to {}", answer.text(), request.path());
    }
}
