//! What is struck through on a packet, or has marks over it that are of no letter.
//!
//! No word is read through such a mark, whatever it says: a struck claim clears
//! nothing, and a struck warning is asked about as much.

use super::Scan;
use crate::label::fold::is_left_mark;

impl Scan<'_> {
    /// Whether such a mark stands at a place.
    pub(super) fn is_struck(&self, at: usize) -> bool {
        self.text.letters.get(at).is_some_and(|c| is_left_mark(*c))
    }

    /// Tells every word with such marks as unread.
    pub(super) fn tell_struck(&mut self) {
        let letters = self.text.letters.as_slice();
        let mut at = 0;
        while at < letters.len() {
            let word = letters[at..].iter().take_while(|c| !c.is_whitespace()).count();
            let end = at + word;
            if letters[at..end].iter().any(|c| is_left_mark(*c)) {
                self.found.seen.struck = true;
                self.found.taken.push((at, end));
                let unread = &mut self.found.unread;
                match unread.iter_mut().find(|part| part.0 < end && at < part.1) {
                    Some(part) => *part = (part.0.min(at), part.1.max(end)),
                    None => unread.push((at, end)),
                }
            }
            at = end + 1;
        }
    }
}
