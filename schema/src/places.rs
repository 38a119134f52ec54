//! Places in a JSON text, as JSON pointers (RFC 6901): of a value that could not be read, and
//! of members that stand twice in one object.
//!
//! serde refuses the latter in structs and lets the last one win in maps, so an
//! answer about health could be given twice and count once. JSON leaves open
//! what such an object means (RFC 8259, section 4).
//!
//! A fault's place is that of the last value that was begun or ended before it:
//! the text is read up to there once more. So no type need be compiled a second time, only to
//! say where it failed; whatever is read by its type is read from a text, never from a [`Value`],
//! for which all of it would be compiled again.
//!
//! [`Value`]: serde_json::Value

use std::borrow::Cow;
use std::fmt;

use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Error, Value};

/// Why a text is not read as a type.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {why}")]
pub struct Misread {
    /// Where it failed, as a JSON pointer: empty for the whole.
    pub pointer: String,
    /// What was met and what is wanted, without line and column.
    pub why: String,
}

/// Reads a value out of one that has no type yet.
///
/// # Errors
/// [`Misread`], with the place.
pub fn read<T: DeserializeOwned>(value: &Value) -> Result<T, Misread> {
    let text = value.to_string();
    serde_json::from_slice(text.as_bytes())
        .map_err(|error| Misread { pointer: of(text.as_bytes(), &error), why: plain(&error) })
}

/// What serde says, without the line and the column.
#[must_use]
pub fn plain(error: &Error) -> String {
    let text = error.to_string();
    text.split(" at line ").next().unwrap_or("unreadable").to_owned()
}

/// Escapes one step of a pointer.
#[must_use]
pub fn step(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Each member that stands again in its object, at most so many; none if the text is no JSON.
#[must_use]
pub fn doubled(text: &[u8], most: usize) -> Vec<String> {
    let mut found = Doubles { places: Vec::new(), most };
    let mut reader = serde_json::Deserializer::from_slice(text);
    let looked = Look { at: Place(None), notes: &mut found }.deserialize(&mut reader);
    if looked.is_err() { Vec::new() } else { found.places }
}

/// The pointer of the value at which reading failed; that of its object where it was the last
/// member, was read, and then refused by its type.
#[must_use]
pub fn of(text: &[u8], error: &Error) -> String {
    let lines = text.split_inclusive(|byte| *byte == b'\n').take(error.line().saturating_sub(1));
    let start: usize = lines.map(<[u8]>::len).sum();
    let end = text.len().min(start + error.column());
    let mut last = Last(String::new());
    let mut reader = serde_json::Deserializer::from_slice(&text[..end]);
    // It ends too early wherever the text goes on; what was met until then counts.
    let _ = Look { at: Place(None), notes: &mut last }.deserialize(&mut reader);
    last.0
}

/// What somebody notes while a text is walked through.
trait Notes {
    /// A value begins or ends.
    fn passes(&mut self, _: Place<'_>) {}
    /// An object with these members, sorted, ends.
    fn holds(&mut self, _: Place<'_>, _: &[Cow<'_, str>]) {}
}

/// The last place that was passed.
struct Last(String);

impl Notes for Last {
    fn passes(&mut self, at: Place<'_>) {
        self.0 = at.to_string();
    }
}

/// The members that stand again.
struct Doubles {
    places: Vec<String>,
    most: usize,
}

impl Notes for Doubles {
    fn holds(&mut self, at: Place<'_>, names: &[Cow<'_, str>]) {
        let twice = names.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| &pair[0]);
        for name in twice {
            let at = Place(Some((&at, Step::Member(name)))).to_string();
            if self.places.len() < self.most && !self.places.contains(&at) {
                self.places.push(at);
            }
        }
    }
}

/// Where a value stands: its step and the place of its parent.
#[derive(Clone, Copy)]
struct Place<'a>(Option<(&'a Place<'a>, Step<'a>)>);

#[derive(Clone, Copy)]
enum Step<'a> {
    Member(&'a str),
    Item(usize),
}

impl fmt::Display for Place<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            None => Ok(()),
            Some((parent, Step::Member(name))) => write!(f, "{parent}/{}", step(name)),
            Some((parent, Step::Item(at))) => write!(f, "{parent}/{at}"),
        }
    }
}

struct Look<'a, N> {
    at: Place<'a>,
    notes: &'a mut N,
}

/// A member's name, with as little copying as JSON allows.
#[derive(serde::Deserialize)]
struct Name<'a>(#[serde(borrow)] Cow<'a, str>);

impl<'de, N: Notes> DeserializeSeed<'de> for Look<'_, N> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        let Self { at, notes } = self;
        notes.passes(at);
        reader.deserialize_any(Look { at, notes: &mut *notes })?;
        notes.passes(at);
        Ok(())
    }
}

impl<'de, N: Notes> Visitor<'de> for Look<'_, N> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E>(self, _: &str) -> Result<(), E> {
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        let mut count = 0;
        loop {
            let at = Place(Some((&self.at, Step::Item(count))));
            let Some(()) = items.next_element_seed(Look { at, notes: &mut *self.notes })? else {
                return Ok(());
            };
            count += 1;
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        let mut names = Vec::new();
        while let Some(Name(name)) = members.next_key::<Name<'de>>()? {
            let at = Place(Some((&self.at, Step::Member(&name))));
            // A name that nobody knows is refused before its value is begun.
            self.notes.passes(at);
            members.next_value_seed(Look { at, notes: &mut *self.notes })?;
            names.push(name);
        }
        names.sort_unstable();
        self.notes.holds(self.at, &names);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_member_that_stands_again_is_found_wherever_it_stands() {
        for (body, want) in [
            (r#"{"a":1,"b":{"a":2},"c":[{"a":1},{"a":1}]}"#, vec![]),
            (r#"{"a":1,"a":1}"#, vec!["/a"]),
            (r#"{"a":1,"\u0061":2,"a":3}"#, vec!["/a"]),
            (r#"{"answers":{"pregnant":true,"pregnant":false}}"#, vec!["/answers/pregnant"]),
            (r#"{"c":[{},{"x":null,"y":1.5,"x":"t"}]}"#, vec!["/c/1/x"]),
            (r#"{"a/b":1,"a/b":2,"q":{"~":1,"~":2}}"#, vec!["/q/~0", "/a~1b"]),
            ("[1,", vec![]),
            ("", vec![]),
        ] {
            assert_eq!(doubled(body.as_bytes(), 100), want, "{body}");
        }
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "read to fail")]
    struct Body {
        day: Option<jiff::civil::Date>,
        #[serde(default)]
        few: Vec<u8>,
        #[serde(default)]
        inner: std::collections::BTreeMap<String, Inner>,
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "read to fail")]
    struct Inner {
        few: [u8; 2],
        kind: Kind,
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(rename_all = "snake_case")]
    #[expect(dead_code, reason = "read to fail")]
    enum Kind {
        One,
        Two(u8),
    }

    // Against the library that knows the place because it was there.
    #[test]
    fn a_fault_is_placed_as_by_one_who_was_there() {
        for body in [
            r#"{"day":"2027-02-30"}"#,
            r#"{"few":[1,2,300]}"#,
            "{\n\t\"few\": [1,\n2, \"x\"],\n\"day\": null}",
            r#"{"few":[],"inner":{"a":{"few":[1,2],"kind":"three"}}}"#,
            r#"{"inner":{"a":{"few":[1,2],"kind":"one"},"b/c":{"few":[1,999],"kind":"one"}}}"#,
            r#"{"inner":{"a":{"few":[1],"kind":"one"}}}"#,
            r#"{"inner":{"a":{"few":[1,2],"kind":{"two":-4}}}, "few": [1]}"#,
            r#"{"inner":{"ä\u0022":{"few":[1,2],"kind":7}}}"#,
            r#"{"day":20270101}"#,
            r#"{"day":true,"few":[1]}"#,
            // Members that nobody knows, beside one that has such a member and in it.
            r#"{"few":[1],"new":{"few":[1]},"day":null}"#,
            r#"{"inner":{"a":{"few":[1,2],"kind":"one"}},"kind":{}}"#,
            r#"{"inner":{"a":{"few":[1,2],"kind":"one","new":1}}}"#,
        ] {
            let error = serde_json::from_str::<Body>(body).unwrap_err();
            let reader = &mut serde_json::Deserializer::from_str(body);
            let there = serde_path_to_error::deserialize::<_, Body>(reader).unwrap_err();
            let want = there.path().iter().fold(String::new(), |at, there| match there {
                serde_path_to_error::Segment::Seq { index } => format!("{at}/{index}"),
                serde_path_to_error::Segment::Map { key } => format!("{at}/{}", step(key)),
                serde_path_to_error::Segment::Enum { variant } => format!("{at}/{variant}"),
                serde_path_to_error::Segment::Unknown => at,
            });
            assert_eq!(of(body.as_bytes(), &error), want, "{body}: {error}");
            let value: Value = serde_json::from_str(body).unwrap();
            if let Err(misread) = read::<Body>(&value) {
                assert!(value.pointer(&misread.pointer).is_some(), "{body}: {misread}");
            }
        }
    }
}
