//! Which elements may, and which must, stand together.

use super::table::{Ai, Number};
use super::{Element, Gs1, Parsed};
use crate::label::faults::{Fault, FaultCode};

impl Gs1 {
    /// Forbidden pairs, missing companions, repeats, the signature's key.
    pub(super) fn companions(&self, parsed: &mut Parsed<'_>) {
        let mut faults = Vec::new();
        for (i, element) in parsed.elements.iter().enumerate() {
            let ai = self.table.get(element.ai);
            if let Some(other) = self.excluded(ai, &parsed.elements) {
                let says = format!("({}) and ({})", ai.key, other.key);
                let at = element.at as usize;
                faults.push(Fault::saying(at, FaultCode::ForbiddenCompanion, &says));
            }
            if !self.satisfied(ai, &parsed.elements) {
                let says = format!("({}) needs {}", ai.key, ai.needs_text);
                let at = element.at as usize;
                faults.push(Fault::saying(at, FaultCode::MissingCompanion, &says));
            }
            let differs = parsed.elements[..i]
                .iter()
                .any(|e| e.ai == element.ai && parsed.value(e) != parsed.value(element));
            if differs {
                let at = element.at as usize;
                faults.push(Fault::of(&ai.key, at, FaultCode::DifferentRepeat));
            }
        }
        self.signature(parsed, &mut faults);
        parsed.faults.append(&mut faults);
    }

    fn has(&self, number: Number, elements: &[Element]) -> bool {
        elements.iter().any(|e| number.stands_for(self.table.get(e.ai).number))
    }

    fn satisfied(&self, ai: &Ai, elements: &[Element]) -> bool {
        ai.needs
            .iter()
            .all(|need| need.iter().any(|together| together.iter().all(|n| self.has(*n, elements))))
    }

    fn excluded(&self, ai: &Ai, elements: &[Element]) -> Option<&Ai> {
        if ai.excludes.is_empty() {
            return None;
        }
        let forbids = |other: &&Ai| {
            other.number != ai.number && ai.excludes.iter().any(|n| n.stands_for(other.number))
        };
        elements.iter().map(|e| self.table.get(e.ai)).find(forbids)
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
            }
        }
    }
}
