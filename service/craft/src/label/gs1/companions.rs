//! Which elements may, and which must, stand together.
//!
//! Everything is asked once an identifier, however often it stands there, so
//! that the work grows with the length of the data and no faster. The first
//! element that stands a second time with another value ends the search: what
//! follows it cannot be trusted anyway.

use super::table::{Ai, Number};
use super::{Element, Gs1, Parsed};
use crate::label::faults::{Fault, FaultCode};

/// An identifier of the data and the element where it stands first.
type First<'a> = (&'a Ai, Element);

impl Gs1 {
    /// Forbidden pairs, missing companions, repeats, the signature's key.
    pub(super) fn companions(&self, parsed: &mut Parsed<'_>) {
        let mut faults = Vec::new();
        let (firsts, differing) = self.firsts(parsed);
        for (ai, element) in &firsts {
            let at = element.at as usize;
            if let Some(other) = excluded(ai, &firsts) {
                let says = format!("({}), ({})", ai.key, other.key);
                faults.push(Fault::with(at, FaultCode::ForbiddenCompanion, says));
            }
            if !satisfied(ai, &firsts) {
                let says = format!("({}) + {}", ai.key, ai.needs_text);
                faults.push(Fault::with(at, FaultCode::MissingCompanion, says));
            }
        }
        if let Some(element) = differing {
            let key = &self.table.get(element.ai).key;
            faults.push(Fault::of(key, element.at as usize, FaultCode::DifferentRepeat));
        }
        self.signature(parsed, &mut faults);
        parsed.faults.append(&mut faults);
    }

    /// Every identifier once, in the order of the data, and the first element
    /// that repeats one with another value.
    fn firsts<'a>(&'a self, parsed: &Parsed<'_>) -> (Vec<First<'a>>, Option<Element>) {
        let mut firsts: Vec<First<'a>> = Vec::new();
        for element in &parsed.elements {
            // Never longer than the table, so this stays linear in the data.
            let known = firsts.iter().find(|(_, first)| first.ai == element.ai);
            match known {
                Some((_, first)) if parsed.value(first) != parsed.value(element) => {
                    return (firsts, Some(*element));
                }
                Some(_) => {}
                None => firsts.push((self.table.get(element.ai), *element)),
            }
        }
        (firsts, None)
    }

    /// A signature (8030) binds one object, so a key whose serial part is
    /// optional must bring it.
    fn signature(&self, parsed: &Parsed<'_>, faults: &mut Vec<Fault>) {
        let key = |e: &Element| &*self.table.get(e.ai).key;
        if !parsed.elements.iter().any(|e| key(e) == "8030") {
            return;
        }
        for element in &parsed.elements {
            let bare = match key(element) {
                "253" | "255" => 13,
                "8003" => 14,
                _ => continue,
            };
            if element.len <= bare {
                faults.push(Fault::of(key(element), element.at as usize, FaultCode::MissingSerial));
                return;
            }
        }
    }
}

fn has(number: Number, firsts: &[First<'_>]) -> bool {
    firsts.iter().any(|(ai, _)| number.stands_for(ai.number))
}

fn satisfied(ai: &Ai, firsts: &[First<'_>]) -> bool {
    ai.needs.iter().all(|need| need.iter().any(|together| together.iter().all(|n| has(*n, firsts))))
}

fn excluded<'a>(ai: &Ai, firsts: &[First<'a>]) -> Option<&'a Ai> {
    if ai.excludes.is_empty() {
        return None;
    }
    let forbids = |other: &&'a Ai| {
        other.number != ai.number && ai.excludes.iter().any(|n| n.stands_for(other.number))
    };
    firsts.iter().map(|(ai, _)| *ai).find(forbids)
}
