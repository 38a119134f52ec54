//! What differs from country to country: whom to call, and when blood may be
//! given again.
//!
//! A number is shown only if `rules/aftercare/countries.toml` has it with its
//! source. Without a country, or for one that is not listed, general words
//! stand in its place: nothing is guessed from a language. The studio's own
//! contacts always go first.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;

use super::data::{LoadError, Origin, Parameter, Sourced, read, require_text, settle};
use super::say::{Say, Value, Words};
use super::triage::Contacts;
use crate::evidence::Register;
use crate::text::Catalogue;

const FILE: &str = "countries.toml";

/// The whole file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Countries {
    pub(crate) revision: u32,
    /// Calendar months before giving blood where nothing else is known.
    pub(crate) donation_months: Parameter<i32>,
    country: Vec<Country>,
}

/// Some countries that do it alike.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Country {
    codes: Vec<Arc<str>>,
    /// Numbers that call an ambulance.
    emergency: Vec<Arc<str>>,
    /// Key of the words for out of hours.
    #[serde(default)]
    same_day: Option<Arc<str>>,
    /// Key of the same where there is little room.
    #[serde(default)]
    short: Option<Arc<str>>,
    /// Key of the words for a doctor within days.
    #[serde(default)]
    doctor: Option<Arc<str>>,
    #[serde(default)]
    pub(crate) donation: Option<Donation>,
    sources: CountrySources,
}

/// How long blood waits, and the message that says so.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Donation {
    pub(crate) months: i32,
    pub(crate) text: Arc<str>,
    pub(crate) source: Origin,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct CountrySources {
    emergency: Origin,
    #[serde(default)]
    same_day: Option<Origin>,
}

impl Sourced for Countries {
    fn origins(&mut self) -> Vec<&mut Origin> {
        let mut origins = vec![&mut self.donation_months.source];
        for row in &mut self.country {
            origins.push(&mut row.sources.emergency);
            origins.extend(&mut row.sources.same_day);
            origins.extend(row.donation.as_mut().map(|donation| &mut donation.source));
        }
        origins
    }
}

impl Countries {
    /// The countries compiled into this build.
    ///
    /// # Errors
    /// [`LoadError`] if the file is unreadable, a country comes twice, has no
    /// number or words without a source, or a source or text is unknown.
    pub(crate) fn builtin(register: &Register, texts: &Catalogue) -> Result<Self, LoadError> {
        let mut countries: Self = read(FILE, include_str!("../../rules/aftercare/countries.toml"))?;
        settle([&mut countries], register)?;
        let mut seen = BTreeSet::new();
        for row in &countries.country {
            let key = row.codes.join(" ");
            let fault = |fault| LoadError::Row { file: FILE, key: key.clone(), fault };
            if !row.codes.iter().all(|code| seen.insert(code.clone())) {
                return Err(fault("comes twice"));
            }
            if row.codes.is_empty() || row.emergency.is_empty() {
                return Err(fault("has no code or no number"));
            }
            if row.same_day.is_some() != row.sources.same_day.is_some() {
                return Err(fault("words for out of hours and their source go together"));
            }
            let donation = row.donation.as_ref().map(|donation| &donation.text);
            for key in row.same_day.iter().chain(&row.short).chain(&row.doctor).chain(donation) {
                require_text(texts, key)?;
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

/// Whom to call: the studio's words, else the country's, else general ones.
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
            emergency: pick(&own.emergency, numbers),
            same_day: pick(&own.same_day, key(same_day, "words_same_day")),
            short: pick(&own.same_day, key(short, "words_short")),
            doctor: pick(&own.doctor, key(doctor, "words_doctor")),
            artist: pick(&own.artist, Words::Key("words_artist".into())),
            general: country.is_none() && (own.emergency.is_none() || own.same_day.is_none()),
        }
    }

    /// A text with whom to call in its places.
    pub(crate) fn fill(&self, say: Say) -> Say {
        say.with("emergency", Value::Words(self.emergency.clone()))
            .with("same_day", Value::Words(self.same_day.clone()))
            .with("short", Value::Words(self.short.clone()))
            .with("doctor", Value::Words(self.doctor.clone()))
            .with("artist", Value::Words(self.artist.clone()))
    }
}
