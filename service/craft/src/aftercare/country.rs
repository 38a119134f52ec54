//! What differs from country to country: whom to call, and when blood may be
//! given again.
//!
//! A number is shown only if `rules/aftercare/countries.toml` has it with its
//! source. Without a country, or for one that is not listed, general words
//! stand in its place: nothing is guessed from a language. The studio's own
//! contacts go first, except that no words of a studio take away the number that
//! calls an ambulance: they stand beside it.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::Language;
use std::collections::BTreeSet;
use std::sync::Arc;

use super::say::{self, Say, Value, Words};
use super::texts::load;
use super::triage::Contacts;
use crate::evidence::Register;
use crate::rules::{Origin, Parameter, RuleFault, RuleFile, rule_file};
use crate::text::{Catalogue, fill};

const FILE: RuleFile = rule_file!("aftercare/countries.toml");

/// The whole file.
#[loaded]
pub(crate) struct Countries {
    pub(crate) revision: u32,
    /// Calendar months before giving blood where nothing else is known.
    pub(crate) donation_months: Parameter<i32>,
    country: Vec<Country>,
}

/// Some countries that do it alike.
#[loaded]
pub(crate) struct Country {
    codes: Vec<Arc<str>>,
    /// Numbers that call an ambulance.
    emergency: Vec<Arc<str>>,
    /// Key of the words for out of hours.
    same_day: Option<Arc<str>>,
    /// Key of the same where there is little room.
    short: Option<Arc<str>>,
    /// Key of the words for a doctor within days.
    doctor: Option<Arc<str>>,
    pub(crate) donation: Option<Donation>,
    sources: CountrySources,
}

/// How long blood waits, and the message that says so.
#[loaded]
pub(crate) struct Donation {
    pub(crate) months: i32,
    pub(crate) text: Arc<str>,
    pub(crate) source: Origin,
}

#[loaded(PartialEq)]
struct CountrySources {
    emergency: Origin,
    same_day: Option<Origin>,
}

impl Countries {
    /// The countries compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if the file is unreadable, a country comes twice, has no
    /// number or words without a source, or a source or text is unknown.
    pub(crate) fn builtin(register: &Register, texts: &Catalogue) -> Result<Self, RuleFault> {
        let countries: Self = load(register, texts, FILE)?;
        let mut seen = BTreeSet::new();
        for (at, row) in countries.country.iter().enumerate() {
            let new = row.codes.iter().all(|code| seen.insert(code.clone()));
            let told = !row.codes.is_empty() && !row.emergency.is_empty();
            let paired = row.same_day.is_some() == row.sources.same_day.is_some();
            for (holds, why) in [
                (new, "comes twice"),
                (told, "has no code or no number"),
                (paired, "words for out of hours and their source go together"),
            ] {
                RuleFault::unless(holds, FILE.name, format!("/country/{at}"), why)?;
            }
        }
        Ok(countries)
    }

    /// A country by its two letters, in either case.
    pub(crate) fn of(&self, code: Option<&str>) -> Option<&Country> {
        let code = code?;
        self.country.iter().find(|row| row.codes.iter().any(|one| one.eq_ignore_ascii_case(code)))
    }
}

/// Whom to call: the studio's words, else the country's, else general ones; in an
/// emergency always the country's.
pub(crate) struct Calls {
    pub(crate) emergency: Words,
    pub(crate) same_day: Words,
    short: Words,
    pub(crate) doctor: Words,
    pub(crate) artist: Words,
    /// Whether general words had to be used for want of a country.
    pub(crate) general: bool,
}

impl Calls {
    pub(crate) fn of(countries: &Countries, code: Option<&str>, own: &Contacts) -> Self {
        let country = countries.of(code);
        let key = |key: Option<&Arc<str>>, general: &str| {
            Words::Key(key.map_or_else(|| general.into(), Arc::clone))
        };
        let numbers = country.map_or_else(
            || Words::Key("words_emergency".into()),
            |row| Words::AnyOf(row.emergency.clone()),
        );
        let pick = |own: &Option<Arc<str>>, other| own.clone().map_or(other, Words::Own);
        let same_day = country.and_then(|row| row.same_day.as_ref());
        let short = country.and_then(|row| row.short.as_ref());
        let doctor = country.and_then(|row| row.doctor.as_ref());
        Self {
            emergency: match &own.emergency {
                Some(own) => Words::Beside(Box::new(numbers), own.clone()),
                None => numbers,
            },
            same_day: pick(&own.same_day, key(same_day, "words_same_day")),
            short: pick(&own.same_day, key(short, "words_short")),
            doctor: pick(&own.doctor, key(doctor, "words_doctor")),
            artist: pick(&own.artist, Words::Key("words_artist".into())),
            general: country.is_none(),
        }
    }

    /// Whom to call, by the name of the place where it stands.
    const fn places(&self) -> [(&'static str, &Words); 5] {
        let Self { emergency, same_day, short, doctor, artist, general: _ } = self;
        [
            ("emergency", emergency),
            ("same_day", same_day),
            ("short", short),
            ("doctor", doctor),
            ("artist", artist),
        ]
    }

    /// A text with whom to call in its places.
    pub(crate) fn fill(&self, say: Say) -> Say {
        let with =
            |say: Say, (place, words): (_, &Words)| say.with(place, Value::Words(words.clone()));
        self.places().into_iter().fold(say, with)
    }

    /// A sentence in whose places it was left open whom to call ([`Say::open`]).
    pub(crate) fn fill_open(&self, open: &str, texts: &Catalogue, language: Language) -> String {
        let words = self.places().map(|(place, words)| (place, say::call(words, texts, language)));
        let values = words.each_ref().map(|(place, words)| (*place, words.as_str()));
        say::begun_where(open, fill(open, &values))
    }
}
