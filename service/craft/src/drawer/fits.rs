//! A pack held against the lot it is drawn from, a lot against a notice.

use jiff::civil::Date;

use etui_schema::vocabulary::Configuration;

use crate::label::{fold, lookalike};

/// What a pack's own label says, or what a lot is known by.
#[derive(Debug, Clone, Copy, Default)]
pub struct PackSays<'a> {
    /// The lot or batch code.
    pub lot: Option<&'a str>,
    /// The GTIN in its 14-digit form.
    pub gtin: Option<&'a str>,
    /// The catalogue number.
    pub reference: Option<&'a str>,
    /// The last day of use.
    pub expires_on: Option<Date>,
}

/// One thing that a pack says otherwise than its lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misfit {
    /// What it is, in words.
    pub what: &'static str,
    /// What the pack says.
    pub pack: String,
    /// What the lot says.
    pub lot: String,
}

/// What the pack says that does not fit the lot. What one of them leaves open
/// fits.
#[must_use]
pub fn misfits(pack: &PackSays<'_>, lot: &PackSays<'_>) -> Vec<Misfit> {
    let of = |what, said: Option<String>, held: Option<String>| match (said, held) {
        (Some(pack), Some(lot)) if !pack.eq_ignore_ascii_case(&lot) => {
            Some(Misfit { what, pack, lot })
        }
        _ => None,
    };
    let text = |told: Option<&str>| told.map(str::to_owned);
    let day = |told: Option<Date>| told.map(|day| day.to_string());
    [
        of("lot", text(pack.lot), text(lot.lot)),
        of("article number", text(pack.gtin), text(lot.gtin)),
        of("catalogue number", text(pack.reference), text(lot.reference)),
        of("expiry date", day(pack.expires_on), day(lot.expires_on)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Whether two configurations contradict each other; what one of them leaves open does not.
#[must_use]
pub fn differs(one: &Configuration, other: &Configuration) -> bool {
    fn unlike<T: PartialEq>(one: Option<T>, other: Option<T>) -> bool {
        one.zip(other).is_some_and(|(one, other)| one != other)
    }
    let thousandths = |of: &Configuration| of.diameter_mm.map(|mm| (mm * 1000.0).round());
    unlike(thousandths(one), thousandths(other))
        || unlike(one.count, other.count)
        || unlike(one.grouping, other.grouping)
        || unlike(one.taper, other.taper)
}

/// Whether a notice that names this maker and catalogue number means a lot of
/// the same code. What the notice or the lot leaves open counts as the same, and so does
/// what differs in case, accents, blanks, signs or letters that look alike: better one too
/// many.
///
/// A maker is the same without its legal form, and where one name begins the other (`Nadelw.`).
#[must_use]
pub fn meant(
    maker: Option<&str>,
    reference: Option<&str>,
    (lot_maker, lot_reference): (Option<&str>, Option<&str>),
) -> bool {
    let article = match (reference, lot_reference) {
        (Some(wanted), Some(found)) => {
            let (wanted, found) = (spelled(wanted), spelled(found));
            wanted.is_empty() || found.is_empty() || wanted == found
        }
        _ => true,
    };
    let made = match (maker, lot_maker) {
        (Some(wanted), Some(found)) => {
            let (wanted, found) = (maker_name(wanted), maker_name(found));
            let begins = wanted.len().min(found.len()) >= BEGINNING
                && (wanted.starts_with(&found) || found.starts_with(&wanted));
            wanted.is_empty() || found.is_empty() || wanted == found || begins
        }
        _ => true,
    };
    made && article
}

/// Letters of a maker's name that are enough to know it by.
const BEGINNING: usize = 4;

/// Whether two names are of one maker, however they are spelled and with whichever legal form.
#[must_use]
pub fn same_maker(one: &str, other: &str) -> bool {
    maker_name(one) == maker_name(other)
}

/// A maker's name without the legal form behind it.
fn maker_name(name: &str) -> Vec<char> {
    // Legal forms of companies; a name of nothing else keeps it.
    const FORMS: [&str; 36] = [
        "ag",
        "gmbh",
        "mbh",
        "ug",
        "kg",
        "kgaa",
        "ohg",
        "gbr",
        "ek",
        "eg",
        "se",
        "co",
        "cokg",
        "company",
        "ltd",
        "limited",
        "llc",
        "llp",
        "plc",
        "inc",
        "incorporated",
        "corp",
        "corporation",
        "sa",
        "sas",
        "sarl",
        "srl",
        "spa",
        "sl",
        "bv",
        "nv",
        "oy",
        "ab",
        "as",
        "aps",
        "zoo",
    ];
    let is_form = |word: &str| {
        let bare: String = word.chars().filter(|c| c.is_alphanumeric()).collect();
        bare.is_empty() || FORMS.contains(&&*bare.to_lowercase())
    };
    let mut words: Vec<&str> = name.split_whitespace().collect();
    while 1 < words.len() && words.last().is_some_and(|word| is_form(word)) {
        words.pop();
    }
    spelled(&words.join(" "))
}

/// A lot code as all its spellings have it, with the allowance of [`meant`]: codes that
/// come to the same may be one.
#[must_use]
pub fn code_as_meant(code: &str) -> String {
    // Whoever copies a code off a box copies the word before it too.
    const WORDS: [&str; 6] = ["LOT", "LOTTO", "LOTE", "BATCH", "CHARGE", "CH.-B."];
    let code = code.trim();
    let bare = WORDS.iter().find_map(|word| {
        let rest = code.get(word.len()..)?;
        let is_word = code[..word.len()].eq_ignore_ascii_case(word)
            && !rest.starts_with(|c: char| c.is_alphanumeric());
        (is_word && rest.contains(|c: char| c.is_alphanumeric())).then_some(rest)
    });
    let code = bare.unwrap_or(code);
    let spelled: String = spelled(code).into_iter().collect();
    if spelled.is_empty() { code.to_owned() } else { spelled }
}

/// What may be a code before a serial number that was copied with it: `23K8` of `23K8-11`, `23K8_B` and
/// `23K8 SN 11`. A serial number has letters and digits (GS1 General Specifications, AI 21), and nobody
/// tells one from a part of a code: each sign may begin it, and who looks at the packs is asked. Common
/// practice, no source.
pub fn before_serial(code: &str) -> impl Iterator<Item = &str> {
    let signs = code.char_indices().filter(|(_, c)| !c.is_alphanumeric()).map(|(at, _)| at);
    signs.chain(serial_words(code)).filter_map(|at| {
        let (head, serial) = code.split_at_checked(at)?;
        let is_code = head.contains(char::is_numeric) && serial.contains(char::is_alphanumeric);
        is_code.then_some(head)
    })
}

/// Where a word for a serial number follows a digit at once: `23K8SN11`.
fn serial_words(code: &str) -> impl Iterator<Item = usize> {
    const WORDS: [&str; 3] = ["SERIAL", "S/N", "SN"];
    let capitals = code.to_ascii_uppercase();
    WORDS.into_iter().flat_map(move |word| {
        let found = capitals.match_indices(word).filter(|(at, _)| {
            let (before, behind) = (capitals.get(..*at), capitals.get(at + word.len()..));
            before.is_some_and(|text| text.ends_with(|c: char| c.is_ascii_digit()))
                && behind.is_some_and(|text| !text.starts_with(char::is_alphabetic))
        });
        found.map(|(at, _)| at).collect::<Vec<_>>()
    })
}

/// Whether one of two codes may be the other with a serial number behind it.
#[must_use]
pub fn is_but_for_serial(one: &str, other: &str) -> bool {
    let is_head = |long: &str, short: &str| {
        let short = code_as_meant(short);
        before_serial(long).any(|head| code_as_meant(head) == short)
    };
    is_head(one, other) || is_head(other, one)
}

/// A name as hurried hands and readers of packets may spell it otherwise.
fn spelled(name: &str) -> Vec<char> {
    let letters = fold::letters(name).into_iter().filter(|c| c.is_alphanumeric());
    let latin = |c| lookalike::letter(c).map_or(c, |c| c.to_ascii_uppercase());
    // Where words are read these stay apart; a code that is told for another is called back with it.
    let figure = |c| match c {
        'Z' => '2',
        'G' => '6',
        other => other,
    };
    letters.map(latin).map(fold::skeleton).map(figure).collect()
}
