//! Places in a body: of members that stand twice in one object, and of a fault
//! of which only the line and the column are known.
//!
//! serde refuses them in structs and lets the last one win in maps, so an
//! answer about health could be given twice and count once. JSON leaves open
//! what such an object means (RFC 8259, section 4); here it is refused, wherever
//! it stands.
//!
//! A fault's place is that of the last value that was begun or ended before it:
//! the text is read up to there once more. So the types of all bodies need not
//! be compiled a second time, only to say where they failed.

use std::borrow::Cow;
use std::fmt::{self, Write};

use etui_schema::problem::{Fault, FaultCode};
use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};

use super::faults::escape;
use super::validator::MOST_FAULTS;

/// A fault for each member that stands again in its object; none if the text
/// is no JSON.
pub(crate) fn find(body: &[u8]) -> Vec<Fault> {
    let mut found = Doubles(Vec::new());
    let mut reader = serde_json::Deserializer::from_slice(body);
    let looked = Look { at: Place(None), notes: &mut found }.deserialize(&mut reader);
    if looked.is_err() { Vec::new() } else { found.0 }
}

/// The pointer of the value at which reading failed.
pub(crate) fn place_of(body: &[u8], error: &serde_json::Error) -> String {
    let lines = body.split_inclusive(|byte| *byte == b'\n').take(error.line().saturating_sub(1));
    let start: usize = lines.map(<[u8]>::len).sum();
    let end = body.len().min(start + error.column());
    let mut last = Last(Place(None).to_string());
    let mut reader = serde_json::Deserializer::from_slice(&body[..end]);
    // It ends too early wherever the body goes on; what was met until then counts.
    let _ = Look { at: Place(None), notes: &mut last }.deserialize(&mut reader);
    last.0
}

/// What somebody notes while a body is walked through.
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

/// A fault for each member that stands again.
struct Doubles(Vec<Fault>);

impl Notes for Doubles {
    fn holds(&mut self, at: Place<'_>, names: &[Cow<'_, str>]) {
        let twice = names.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| &pair[0]);
        for name in twice {
            let at = Place(Some((&at, Step::Member(name)))).to_string();
            if self.0.len() < MOST_FAULTS && !self.0.iter().any(|fault| fault.pointer == at) {
                let says = "this member stands more than once in its object; send it once";
                self.0.push(Fault::new(at, FaultCode::Duplicate, says));
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
            None => f.write_char('#'),
            Some((parent, Step::Member(name))) => write!(f, "{parent}/{}", escape(name)),
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
            (r#"{"a":1,"a":1}"#, vec!["#/a"]),
            (r#"{"a":1,"\u0061":2,"a":3}"#, vec!["#/a"]),
            (r#"{"answers":{"pregnant":true,"pregnant":false}}"#, vec!["#/answers/pregnant"]),
            (r#"{"c":[{},{"x":null,"y":1.5,"x":"t"}]}"#, vec!["#/c/1/x"]),
            (r#"{"a/b":1,"a/b":2,"q":{"~":1,"~":2}}"#, vec!["#/q/~0", "#/a~1b"]),
            ("[1,", vec![]),
            ("", vec![]),
        ] {
            let found: Vec<_> = find(body.as_bytes()).into_iter().map(|f| f.pointer).collect();
            assert_eq!(found, want, "{body}");
        }
    }

    #[derive(Debug, serde::Deserialize)]
    #[expect(dead_code, reason = "read to fail")]
    struct Body {
        day: Option<jiff::civil::Date>,
        #[serde(default)]
        few: Vec<u8>,
        #[serde(default)]
        inner: std::collections::BTreeMap<String, Inner>,
    }

    #[derive(Debug, serde::Deserialize)]
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
        ] {
            let error = serde_json::from_str::<Body>(body).unwrap_err();
            let reader = &mut serde_json::Deserializer::from_str(body);
            let there = serde_path_to_error::deserialize::<_, Body>(reader).unwrap_err();
            let want = there.path().iter().fold("#".to_owned(), |at, step| match step {
                serde_path_to_error::Segment::Seq { index } => format!("{at}/{index}"),
                serde_path_to_error::Segment::Map { key } => format!("{at}/{}", escape(key)),
                serde_path_to_error::Segment::Enum { variant } => format!("{at}/{variant}"),
                serde_path_to_error::Segment::Unknown => at,
            });
            assert_eq!(place_of(body.as_bytes(), &error), want, "{body}: {error}");
        }
    }
}
