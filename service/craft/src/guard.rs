//! What a sentence of a pack may not say.
//!
//! The sentences that are built in are read by people before they are shipped; a
//! pack's go from a form to a client's phone. So a pack is held to more than
//! [`crate::screening::wording`]: its sentence is a plain one, it names no
//! medicine at all (the built-in rules do, and say whom to ask), says nothing
//! that could keep somebody from getting help, and lifts nothing that a rule
//! found. Every list is read in both languages, whatever language the sentence
//! is said to be in.
//!
//! Words hidden behind other letters, marks between letters or directions of
//! writing are not searched for but refused: plain Latin letters are all that
//! the two languages need.
//!
//! The lists err on the side of refusing; the fault names the words, so that the
//! author can say it otherwise. They are common practice, no source.

use etui_schema::vocabulary::Language;

use crate::screening::wording::{self, Objection};

/// Where the sentence is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speaks {
    /// In the screening, to somebody who is asked before a visit.
    BeforeVisit,
    /// In the aftercare, to somebody who may have to recognise a complication:
    /// the built-in messages name those, and a pack adds nothing to them.
    AfterVisit,
}

/// Beginnings of words; one that ends with `$` is a whole word, one that begins
/// with `~` stands anywhere in a word (German compounds).
const MEDICINE: &[&str] = &[
    "medicine",
    "medication",
    "meds$",
    "tablet",
    "pill$",
    "pills$",
    "capsule",
    "drug$",
    "drugs$",
    "dose",
    "dosage",
    "injection",
    "infusion",
    "inhaler",
    "eye drop",
    "eyedrop",
    "prescri",
    "warfarin",
    "anticoag",
    "thinner",
    "aspirin",
    "heparin",
    "clopidogrel",
    "apixaban",
    "rivaroxaban",
    "dabigatran",
    "edoxaban",
    "paracetamol",
    "acetaminophen",
    "ibuprofen",
    "naproxen",
    "diclofenac",
    "painkiller",
    "pain relief",
    "pain reliever",
    "opioid",
    "codeine",
    "morphine",
    "antibiotic",
    "antivir",
    "aciclovir",
    "acyclovir",
    "antihistamin",
    "cortisone",
    "hydrocortisone",
    "prednis",
    "steroid",
    "insulin",
    "metformin",
    "isotretinoin",
    "tretinoin",
    "methotrexat",
    "azathioprin",
    "ciclosporin",
    "biologic$",
    "biologics$",
    "immunosuppress",
    "chemotherap",
    "beta blocker",
    "contracepti",
    "hormone therapy",
    "sedativ",
    "diazepam",
    "antidepress",
    "lithium",
    "treatment your doctor",
    "~medikament",
    "~arznei",
    "~tablette",
    "pille",
    "~kapsel",
    "dosis",
    "dosier",
    "spritze",
    "~augentropfen",
    "verschrieb",
    "verordn",
    "rezeptpflicht",
    "~verdünner",
    "gerinnungshemm",
    "marcumar",
    "phenprocoumon",
    "~schmerzmittel",
    "~antibiotik",
    "virostatik",
    "antihistamin",
    "kortison",
    "cortison",
    "~cortison",
    "methotrexat",
    "immunsuppress",
    "~therapeutik",
    "betablocker",
    "antibabypille",
    "~insulin",
    "wirkstoff",
];

/// Signs that the built-in messages and the triage speak of.
const RED_FLAG: &[&str] = &[
    "fever",
    "temperature",
    "chill",
    "pus$",
    "oozing",
    "infect",
    "spread",
    "streak",
    "blister",
    "rash",
    "hives",
    "swell",
    "swollen",
    "breath",
    "swallow",
    "throat",
    "faint",
    "collaps",
    "chest pain",
    "eyesight",
    "vision",
    "ulcer",
    "throb",
    "severe pain",
    "strong pain",
    "allergic",
    "~fieber",
    "temperatur",
    "schüttelfrost",
    "eiter",
    "~infekt",
    "~entzünd",
    "ausbreit",
    "breitet",
    "bläschen",
    "blasen$",
    "ausschlag",
    "quaddel",
    "schwell",
    "geschwollen",
    "~atem",
    "atmen",
    "schluck",
    "rachen",
    "ohnmacht",
    "kollaps",
    "~sehstörung",
    "sehkraft",
    "geschwür",
    "pochend",
    "starke schmerz",
    "starken schmerz",
    "allergisch",
];

/// Those who help.
const HELP: &[&str] = &[
    "doctor",
    "physician",
    "gp$",
    "clinic",
    "hospital",
    "emergency",
    "ambulance",
    "a&e",
    "medical",
    "pharmac",
    "nurse",
    "get help",
    "seek help",
    "call us",
    "112$",
    "999$",
    "911$",
    "111$",
    "116117$",
    "~arzt",
    "~ärzt",
    "~klinik",
    "krankenhaus",
    "notruf",
    "notaufnahme",
    "rettung",
    "praxis",
    "apothek",
    "bereitschaft",
    "medizinisch",
    "hilfe$",
];

/// What makes light of a sign, or of getting help.
const CALMING: &[&str] = &[
    "no$",
    "not$",
    "never",
    "nothing",
    "nobody",
    "without",
    "n't$",
    "normal",
    "usual",
    "common$",
    "expected",
    "fine$",
    "okay",
    "ok$",
    "harmless",
    "minor",
    "ignor",
    "wait",
    "unless",
    "only$",
    "part of",
    "goes with",
    "whatever",
    "worry",
    "worries",
    "pass by",
    "passes",
    "by itself",
    "on its own",
    "avoid",
    "unnecessary",
    "needless",
    "stay away",
    "keep away",
    "let it",
    "leave it",
    "nicht",
    "kein",
    "nie$",
    "niemals",
    "niemand",
    "ohne",
    "normal",
    "üblich",
    "gewöhnlich",
    "gehört dazu",
    "gehören dazu",
    "harmlos",
    "ignor",
    "wart",
    "abwarten",
    "egal",
    "vergeht",
    "von selbst",
    "von allein",
    "unnötig",
    "sorge",
    "nur$",
    "erst$",
    "lassen sie",
    "vermeid",
];

/// Reassurance, wherever it stands.
const PROMISE: &[&str] = &[
    "danger",
    "nothing to fear",
    "nothing to worry",
    "no need to worry",
    "do not worry",
    "don't worry",
    "nothing will happen",
    "nothing can happen",
    "risk free",
    "gefahr",
    "gefährlich",
    "keine sorge",
    "nichts passier",
    "unbesorgt",
];

/// What a rule or a check found.
const FOUND: &[&str] = &[
    "finding",
    "above",
    "listed",
    "rule$",
    "rules$",
    "verdict",
    "result",
    "check$",
    "the answer",
    "warning",
    "caution",
    "hold$",
    "befund",
    "oben",
    "regel",
    "ergebnis",
    "prüfung",
    "hinweis",
    "warnung",
    "liste",
];

/// What would lift it.
const LIFTED: &[&str] = &[
    "not apply",
    "n't apply",
    "no longer appl",
    "ignor",
    "disregard",
    "go ahead",
    "goes ahead",
    "regardless",
    "anyway",
    "whatever",
    "overrul",
    "overrid",
    "not count",
    "not matter",
    "despite",
    "even if",
    "gilt nicht",
    "gelten nicht",
    "nicht gelten",
    "ignor",
    "trotz",
    "egal",
    "unabhängig",
    "zählt nicht",
    "zählen nicht",
    "auch wenn",
    "außer acht",
    "hinweg",
];

const TAKING: &[&str] = &[
    "take", "taking", "swallow", "inject", "drink", "chew", "nehm", "nimm", "einnehm", "schluck",
    "trink", "spritz", "kau",
];

const RHYTHM: &[&str] = &[
    "hourly",
    "stündlich",
    "times a day",
    "mal täglich",
    "mal am tag",
    "twice a day",
    "once a day",
];

const NUMBERS: &[&str] = &[
    "half", "one", "two", "three", "four", "five", "six", "eight", "ten", "twelve", "ein", "eine",
    "einen", "zwei", "drei", "vier", "fünf", "sechs", "acht", "zehn", "zwölf", "halbe",
];

const MEASURES: &[&str] = &[
    "gram",
    "grams",
    "milligram",
    "milligrams",
    "millilitre",
    "millilitres",
    "milliliter",
    "gramm",
    "milligramm",
    "mg",
    "g",
    "ml",
    "drops",
    "tropfen",
    "spoonful",
    "löffel",
    "teelöffel",
];

/// What stands against a sentence of a pack, if anything.
///
/// ```
/// use etui_craft::guard::{Speaks, objection};
/// let kept = |text| objection(text, Speaks::AfterVisit).is_none();
/// assert!(kept("Use a thin layer of the balm we gave you."));
/// assert!(!kept("Do not call a doctor, whatever it looks like."));
/// ```
#[must_use]
pub fn objection(text: &str, speaks: Speaks) -> Option<Objection> {
    if let Some(found) = text.chars().find(|c| !is_plain(*c)) {
        return Some(Objection::Character { code: u32::from(found) });
    }
    let lower = text.to_lowercase();
    if let Some(found) = ["<", ">", "://", "www.", "{{"].into_iter().find(|m| lower.contains(m)) {
        return Some(Objection::Markup { found: found.to_owned() });
    }
    if let Some(found) = spelled_out(&lower) {
        return Some(Objection::Markup { found });
    }
    let closed = close_up(&lower);
    if closed.split(|c: char| !c.is_alphanumeric()).any(|word| word == "hiv" || word == "aids") {
        return Some(Objection::Hiv);
    }
    if let Some(found) = Language::ALL.iter().find_map(|l| wording::objection(*l, &closed)) {
        return Some(found);
    }
    if let Some(found) = find(&closed, PROMISE) {
        return Some(Objection::Promise { found });
    }
    if let Some(found) = find(&closed, MEDICINE) {
        return Some(Objection::Medicine { found });
    }
    if let Some(found) = dose_in_words(&closed) {
        return Some(Objection::Dose { found });
    }
    if let (Some(found), Some(lifted)) = (find(&closed, FOUND), find(&closed, LIFTED)) {
        return Some(Objection::Lifts { found, lifted });
    }
    let calm = find(&closed, CALMING);
    match (find(&closed, RED_FLAG), find(&closed, HELP), calm) {
        (Some(found), _, _) if speaks == Speaks::AfterVisit => Some(Objection::RedFlag { found }),
        (Some(found), _, Some(calm)) | (None, Some(found), Some(calm)) => {
            Some(Objection::Calms { calm, found })
        }
        _ => None,
    }
}

/// Letters of the two languages, digits, and the usual marks: no control, no
/// direction, nothing invisible, no look-alike of another script.
fn is_plain(c: char) -> bool {
    let letters = matches!(c, ' '..='~' | '\u{a0}'..='\u{ac}' | '\u{ae}'..='\u{17f}');
    letters || matches!(c, '\u{2010}'..='\u{2015}' | '\u{2018}'..='\u{201e}' | '…' | '€')
}

/// Four letters or more that stand apart, as no plain sentence has them.
fn spelled_out(lower: &str) -> Option<String> {
    let mut run = Vec::new();
    for word in lower.split(|c: char| !c.is_alphanumeric()) {
        match word.chars().count() {
            0 => {}
            1 => run.push(word),
            _ if 3 < run.len() => break,
            _ => run.clear(),
        }
    }
    (3 < run.len()).then(|| run.join("."))
}

/// The text with single letters drawn together (`h.i.v.`, `h i v`) and marks
/// within words left out, so that nothing hides between its own letters.
fn close_up(lower: &str) -> String {
    let straight = lower.replace(['\u{2018}', '\u{2019}'], "'").replace('\u{a0}', " ");
    let chars: Vec<char> = straight.chars().collect();
    let letter =
        |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(|c| c.is_alphabetic());
    let single =
        |at: usize| letter(Some(at)) && !letter(at.checked_sub(1)) && !letter(at.checked_add(1));
    let mut out = String::with_capacity(straight.len());
    for (at, c) in chars.iter().copied().enumerate() {
        let between = at.checked_sub(1).is_some_and(single) && single(at + 1);
        let within = letter(at.checked_sub(1)) && letter(Some(at + 1));
        let dropped =
            between && !c.is_alphanumeric() || within && matches!(c, '.' | '_' | '*' | '·');
        if !dropped {
            out.push(c);
        }
    }
    out
}

/// The first of the patterns that stands in the text.
fn find(text: &str, patterns: &[&str]) -> Option<String> {
    let hit = |pattern: &&&str| {
        let whole = pattern.strip_suffix('$');
        let anywhere = pattern.strip_prefix('~');
        let word = whole.or(anywhere).unwrap_or(pattern);
        text.match_indices(word).any(|(at, _)| {
            let begins = text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric());
            let ends = text[at + word.len()..].chars().next().is_none_or(|c| !c.is_alphanumeric());
            let clitic = word.starts_with("n't");
            (anywhere.is_some() || begins || clitic) && (whole.is_none() || ends)
        })
    };
    let found = patterns.iter().find(hit)?;
    Some(found.trim_matches(['~', '$']).to_owned())
}

/// A measure behind a number in words, or something taken by the clock.
fn dose_in_words(text: &str) -> Option<String> {
    let words: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let number =
        |word: &str| NUMBERS.contains(&word) || word.starts_with(|c: char| c.is_ascii_digit());
    let measured = words.windows(2).find(|two| number(two[0]) && MEASURES.contains(&two[1]));
    if let Some(two) = measured {
        return Some(two.join(" "));
    }
    let taking = find(text, TAKING)?;
    let clock = words.windows(3).any(|three| {
        matches!(three[0], "every" | "each" | "alle" | "jede") && {
            let unit = if number(three[1]) { three[2] } else { three[1] };
            ["hour", "stunde"].iter().any(|hour| unit.starts_with(hour))
        }
    });
    (clock || find(text, RHYTHM).is_some()).then_some(taking)
}
