//! Answers of a service that is newer than this client.
//!
//! A member that is not known is passed over. A word that is not known is not guessed at:
//! the answer comes as [`Newer`], whole, with the place of each such word, and is read once
//! the caller has said what each is to count as.

use etui_schema::places::{self, Misread};
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::error::Error;

/// Most places that are looked at in one answer.
const MOST: usize = 500;

/// An answer with words that this client does not know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Newer {
    /// The HTTP status.
    pub status: u16,
    /// The whole answer, as it came.
    pub body: Value,
    /// The words, each with its place.
    pub words: Vec<NewWord>,
}

/// A word that this client does not know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewWord {
    /// Where it stands in the body, as a JSON pointer.
    pub pointer: String,
    /// The word.
    pub word: String,
    /// Those that are known there.
    pub known: Vec<String>,
}

impl Newer {
    /// Reads the answer, each new word as the known one that `stands_for` names.
    ///
    /// ```
    /// use etui_client::Newer;
    /// use etui_schema::vocabulary::Verdict;
    /// # let newer = Newer { status: 200, body: serde_json::json!(["go", "wait"]), words: vec![
    /// #     etui_client::NewWord { pointer: "/1".into(), word: "wait".into(), known: vec![] } ] };
    /// // What is not known is treated as the strictest.
    /// let read: Option<Vec<Verdict>> = newer.read(|_| Some("decline".to_owned()));
    /// # assert!(read.is_none());
    /// ```
    ///
    /// `None` if a word stands for none, or for one that is not known either.
    pub fn read<T: DeserializeOwned>(
        &self,
        stands_for: impl Fn(&NewWord) -> Option<String>,
    ) -> Option<T> {
        let mut body = self.body.clone();
        for word in &self.words {
            *body.pointer_mut(&word.pointer)? = stands_for(word)?.into();
        }
        match read(body) {
            Read::Known(value) => Some(value),
            Read::Words(_) | Read::Not(_) => None,
        }
    }
}

/// Reads an answer of the service, for whoever has it from elsewhere: a file, another client.
///
/// # Errors
/// [`Error::Newer`] if it has words that are not known here, [`Error::Unexpected`] if it is
/// something else.
pub fn read_answer<T: DeserializeOwned>(status: u16, body: &[u8]) -> Result<T, Error> {
    // A newer service may say more than is known here; that is looked at only then.
    serde_json::from_slice(body).or_else(|error| {
        let unexpected = |why: String| Error::Unexpected {
            status,
            detail: format!("the body is not the expected JSON: {why}"),
        };
        let body: Value =
            serde_json::from_slice(body).map_err(|_| unexpected(error.to_string()))?;
        match read(body.clone()) {
            Read::Known(value) => Ok(value),
            Read::Words(words) => Err(Error::Newer(Box::new(Newer { status, body, words }))),
            Read::Not(why) => Err(unexpected(why)),
        }
    })
}

/// What could be read.
enum Read<T> {
    Known(T),
    Words(Vec<NewWord>),
    /// It is something else altogether.
    Not(String),
}

/// Reads a body that may be newer than the type.
fn read<T: DeserializeOwned>(mut body: Value) -> Read<T> {
    let mut words = Vec::new();
    for _ in 0..MOST {
        let Misread { pointer, why: said } = match places::read::<T>(&body) {
            Ok(value) if words.is_empty() => return Read::Known(value),
            Ok(_) => return Read::Words(words),
            Err(misread) => misread,
        };
        match Fault::of(&said) {
            Some(Fault::Word { word, known }) => {
                let Some(first) = known.first().cloned() else { return Read::Not(said) };
                match body.pointer_mut(&pointer) {
                    Some(place) if place.as_str() == Some(word) => *place = first.into(),
                    _ => return Read::Not(said),
                }
                words.push(NewWord { pointer, word: word.to_owned(), known });
            }
            Some(Fault::Member(name)) if drop_member(&mut body, &pointer, name) => {}
            _ => return Read::Not(said),
        }
    }
    Read::Not("too much of it is not known here".to_owned())
}

enum Fault<'t> {
    Word { word: &'t str, known: Vec<String> },
    Member(&'t str),
}

impl<'t> Fault<'t> {
    /// What serde says of a word or a member that it does not know.
    fn of(said: &'t str) -> Option<Self> {
        let mut quoted = said.split('`').skip(1).step_by(2);
        let first = quoted.next()?;
        if said.starts_with("unknown variant ") {
            return Some(Self::Word { word: first, known: quoted.map(str::to_owned).collect() });
        }
        said.starts_with("unknown field ").then_some(Self::Member(first))
    }
}

/// The path may be that of the object or of the member itself.
fn drop_member(body: &mut Value, pointer: &str, name: &str) -> bool {
    let parent = pointer.rsplit_once('/').map_or("", |(parent, _)| parent);
    [pointer, parent].into_iter().any(|at| {
        let object = body.pointer_mut(at).and_then(Value::as_object_mut);
        object.is_some_and(|members| members.remove(name).is_some())
    })
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;
    use serde_json::json;

    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Colour {
        Red,
        Blue,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Skin {
        colour: Colour,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    struct Told {
        skins: Vec<Skin>,
        best: Option<Colour>,
    }

    #[test]
    fn what_is_new_is_passed_over_or_named() {
        let known = json!({ "skins": [{ "colour": "red", "undertone": "warm" }], "more": 1 });
        let Read::Known(told) = read::<Told>(known) else { panic!("members may be more") };
        assert_eq!(told, Told { skins: vec![Skin { colour: Colour::Red }], best: None });
        let body = json!({
            "skins": [{ "colour": "green", "a/b": 1 }, { "colour": "red" }], "best": "grey",
        });
        let Read::Words(words) = read::<Told>(body.clone()) else { panic!("two words are new") };
        let places: Vec<_> = words.iter().map(|w| (&*w.pointer, &*w.word)).collect();
        assert_eq!(places, [("/skins/0/colour", "green"), ("/best", "grey")]);
        assert_eq!(words[0].known, ["red", "blue"]);
        let newer = Newer { status: 200, body, words };
        let told: Told = newer.read(|_| Some("blue".to_owned())).expect("all stand for one");
        assert_eq!(told.best, Some(Colour::Blue));
        assert!(newer.read::<Told>(|_| None).is_none());
        assert!(newer.read::<Told>(|word| Some(word.word.clone())).is_none());
        for other in [json!({ "skins": 1 }), json!([]), json!({ "best": "red" })] {
            assert!(matches!(read::<Told>(other), Read::Not(_)));
        }
    }
}
