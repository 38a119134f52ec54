//! Members that stand twice in one object.
//!
//! serde refuses them in structs and lets the last one win in maps, so an
//! answer about health could be given twice and count once. JSON leaves open
//! what such an object means (RFC 8259, section 4); here it is refused, wherever
//! it stands.

use std::borrow::Cow;
use std::fmt::{self, Write};

use etui_schema::problem::{Fault, FaultCode};
use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};

use super::faults::escape;
use super::validator::MOST_FAULTS;

/// A fault for each member that stands again in its object; none if the text
/// is no JSON.
pub(crate) fn find(body: &[u8]) -> Vec<Fault> {
    let mut found = Vec::new();
    let mut reader = serde_json::Deserializer::from_slice(body);
    let looked = Look { at: Place(None), found: &mut found }.deserialize(&mut reader);
    if looked.is_err() { Vec::new() } else { found }
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

struct Look<'a> {
    at: Place<'a>,
    found: &'a mut Vec<Fault>,
}

/// A member's name, with as little copying as JSON allows.
#[derive(serde::Deserialize)]
struct Name<'a>(#[serde(borrow)] Cow<'a, str>);

impl<'de> DeserializeSeed<'de> for Look<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Look<'_> {
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
            let Some(()) = items.next_element_seed(Look { at, found: &mut *self.found })? else {
                return Ok(());
            };
            count += 1;
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        let mut names = Vec::new();
        while let Some(Name(name)) = members.next_key::<Name<'de>>()? {
            let at = Place(Some((&self.at, Step::Member(&name))));
            members.next_value_seed(Look { at, found: &mut *self.found })?;
            names.push(name);
        }
        names.sort_unstable();
        let twice = names.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| &pair[0]);
        for name in twice {
            let at = Place(Some((&self.at, Step::Member(name)))).to_string();
            if self.found.len() < MOST_FAULTS && !self.found.iter().any(|f| f.pointer == at) {
                let says = "this member stands more than once in its object; send it once";
                self.found.push(Fault::new(at, FaultCode::Duplicate, says));
            }
        }
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
}
