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
use std::io::{self, Write};

use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::ser::Formatter;
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
    let mut text = Vec::new();
    let mut writer = serde_json::Serializer::with_formatter(&mut text, Apart);
    let written = serde::Serialize::serialize(value, &mut writer);
    written
        .and_then(|()| serde_json::from_slice(&text))
        .map_err(|error| Misread { pointer: of_apart(&text, &error), why: plain(&error) })
}

/// Writes blanks before what ends a member or an item. serde ends the object before it says that a
/// member was refused: its place is then seen to be another than where the member itself ends.
struct Apart;

impl Formatter for Apart {
    fn begin_object_key<W: ?Sized + Write>(&mut self, to: &mut W, first: bool) -> io::Result<()> {
        if first { Ok(()) } else { to.write_all(b" ,") }
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, to: &mut W, first: bool) -> io::Result<()> {
        self.begin_object_key(to, first)
    }

    fn end_object<W: ?Sized + Write>(&mut self, to: &mut W) -> io::Result<()> {
        to.write_all(b" }")
    }

    fn end_array<W: ?Sized + Write>(&mut self, to: &mut W) -> io::Result<()> {
        to.write_all(b" ]")
    }
}

/// As [`of`] in a text written [`Apart`]: what was read well and then refused by its type is told
/// by its own place, also where it was the last of its object.
fn of_apart(text: &[u8], error: &Error) -> String {
    let (last, end) = walked(text, error);
    // What an object lacks is found where it ends, too; only serde's words tell it from a member refused.
    let is_of_the_whole = ["missing field", "invalid length"];
    let said = error.to_string();
    let ends_here = end.checked_sub(1).is_some_and(|at| matches!(text[at], b'}' | b']'));
    if !ends_here || is_of_the_whole.iter().any(|begins| said.starts_with(begins)) {
        return last.now;
    }
    let is_inside = last.before.strip_prefix(&last.now).is_some_and(|more| more.starts_with('/'));
    if is_inside { last.before } else { last.now }
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
    walked(text, error).0.now
}

/// The last two places that are passed before a fault, and where that is.
fn walked(text: &[u8], error: &Error) -> (Last, usize) {
    let lines = text.split_inclusive(|byte| *byte == b'\n').take(error.line().saturating_sub(1));
    let start: usize = lines.map(<[u8]>::len).sum();
    let end = text.len().min(start + error.column());
    let mut last = Last::default();
    let mut reader = serde_json::Deserializer::from_slice(&text[..end]);
    // It ends too early wherever the text goes on; what was met until then counts.
    let _ = Look { at: Place(None), notes: &mut last }.deserialize(&mut reader);
    (last, end)
}

/// What somebody notes while a text is walked through.
trait Notes {
    /// A value begins or ends.
    fn passes(&mut self, _: Place<'_>) {}
    /// An object with these members, sorted, ends.
    fn holds(&mut self, _: Place<'_>, _: &[Cow<'_, str>]) {}
}

/// The last place that was passed, and the one before it.
#[derive(Default)]
struct Last {
    now: String,
    before: String,
}

impl Notes for Last {
    fn passes(&mut self, at: Place<'_>) {
        self.before = std::mem::replace(&mut self.now, at.to_string());
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

    /// Refuses, as a whole, what was read well.
    #[derive(Debug, Clone, Copy, serde::Deserialize)]
    #[serde(try_from = "Span")]
    struct Rising;

    #[derive(serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Span {
        least: u8,
        most: u8,
    }

    impl TryFrom<Span> for Rising {
        type Error = &'static str;

        fn try_from(span: Span) -> Result<Self, Self::Error> {
            if span.least <= span.most { Ok(Self) } else { Err("it falls") }
        }
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "read to fail")]
    struct Spans {
        #[serde(default)]
        first: Option<Rising>,
        #[serde(default)]
        all: Vec<Rising>,
        #[serde(default)]
        named: std::collections::BTreeMap<String, Rising>,
        #[serde(default)]
        day: Option<jiff::civil::Date>,
        #[serde(default)]
        inner: Option<Box<Spans>>,
    }

    /// Where the library that was there says that reading failed.
    fn there<'de, T, D>(reader: D) -> String
    where
        T: fmt::Debug + serde::Deserialize<'de>,
        D: Deserializer<'de, Error: fmt::Debug>,
    {
        let there = serde_path_to_error::deserialize::<_, T>(reader).unwrap_err();
        there.path().iter().fold(String::new(), |at, there| match there {
            serde_path_to_error::Segment::Seq { index } => format!("{at}/{index}"),
            serde_path_to_error::Segment::Map { key } => format!("{at}/{}", step(key)),
            serde_path_to_error::Segment::Enum { variant } => format!("{at}/{variant}"),
            serde_path_to_error::Segment::Unknown => at,
        })
    }

    #[test]
    fn what_was_read_well_and_then_refused_is_placed_as_by_one_who_was_there() {
        let falls = r#"{"least":2,"most":1}"#;
        let rises = r#"{"least":1,"most":2}"#;
        for body in [
            format!(r#"{{"first":{falls}}}"#),
            format!(r#"{{"first":{falls},"day":null}}"#),
            format!(r#"{{"day":null,"first":{falls}}}"#),
            format!(r#"{{"all":[{rises},{falls}]}}"#),
            format!(r#"{{"all":[{falls},{rises}],"day":null}}"#),
            format!(r#"{{"all":[{rises}],"named":{{"a":{rises},"b/c":{falls}}}}}"#),
            format!(r#"{{"named":{{"a":{falls},"b":{rises}}}}}"#),
            format!(r#"{{"inner":{{"inner":{{"first":{rises},"all":[{falls}]}}}}}}"#),
            r#"{"inner":{"day":"2027-02-30"}}"#.to_owned(),
            r#"{"inner":{"first":{"least":1,"most":300}}}"#.to_owned(),
            r#"{"inner":{"first":{"least":1}}}"#.to_owned(),
            r#"{"inner":{"first":{"least":1,"most":2,"more":3}}}"#.to_owned(),
            r#"{"inner":7}"#.to_owned(),
            r#"{"inner":{"all":{}}}"#.to_owned(),
        ] {
            let value: Value = serde_json::from_str(&body).unwrap();
            let misread = read::<Spans>(&value).unwrap_err();
            assert_eq!(misread.pointer, there::<Spans, _>(&value), "{body}: {misread}");
        }
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
            let want = there::<Body, _>(reader);
            assert_eq!(of(body.as_bytes(), &error), want, "{body}: {error}");
            let value: Value = serde_json::from_str(body).unwrap();
            if let Err(misread) = read::<Body>(&value) {
                assert!(value.pointer(&misread.pointer).is_some(), "{body}: {misread}");
            }
        }
    }
}
