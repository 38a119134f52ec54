//! German with du: every sentence that addresses a client has it, and it says
//! nothing else.

use etui_schema::vocabulary::Address;
use serde::Deserialize;

use super::*;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Forms {
    clients: BTreeSet<String>,
    studio: BTreeSet<String>,
    others: BTreeSet<String>,
}

fn forms() -> Forms {
    toml::from_str(include_str!("forms.toml")).unwrap()
}

/// Whether a text has a word that may address someone formally.
fn is_formal(text: &str) -> bool {
    text.split(|c: char| !c.is_alphanumeric()).any(|word| {
        matches!(word, "Sie" | "Ihnen" | "Ihr" | "Ihre" | "Ihren" | "Ihrem" | "Ihrer" | "Ihres")
    })
}

#[test]
fn every_client_sentence_has_a_form_with_du() {
    let Forms { clients, studio, others } = forms();
    let written = written();
    let none = Texts::new();
    let (mut without, mut idle) = (Vec::new(), Vec::new());
    for area in &clients {
        let of = |language: &str| written.get(&(area.clone(), language.to_owned()));
        let (german, du) = (of("de").unwrap(), of("de-du").unwrap_or(&none));
        for (key, text) in german.iter().filter(|(_, text)| is_formal(text)) {
            let name = format!("{area}:{key}");
            let listed = studio.contains(&name) || others.contains(&name);
            if listed && du.contains_key(key) {
                idle.push(name);
            } else if !listed && !du.contains_key(key) {
                without.push(format!("{name}: {text}"));
            }
        }
    }
    assert!(without.is_empty(), "without a form with du:\n{}", without.join("\n"));
    assert!(idle.is_empty(), "listed and said with du: {idle:?}");
    for name in studio.iter().chain(&others) {
        let (area, key) = name.split_once(':').unwrap();
        let german = &written[&(area.to_owned(), "de".to_owned())];
        assert!(german.get(key).is_some_and(|text| is_formal(text)), "{name} is idle");
    }
    let with_du = written.keys().filter(|(_, language)| language == "de-du");
    assert_eq!(with_du.map(|(area, _)| area.clone()).collect::<BTreeSet<_>>(), clients);
}

#[test]
fn du_is_said_throughout() {
    for ((area, _), texts) in written().into_iter().filter(|((_, l), _)| l == "de-du") {
        for (key, text) in texts {
            assert!(!is_formal(&text), "{area}:{key}: {text}");
        }
    }
}

#[test]
fn a_form_says_only_what_sounds_otherwise() {
    let form = |text: &'static str| {
        let file = RuleFile { name: "du", text };
        read("a = \"{b} you\"", "a = \"{b} Sie\"").unwrap().with_du(file)
    };
    for (du, why) in [
        ("a = \"{b} Sie\"", "is the same"),
        ("a = \"du\"", "other places"),
        ("c = \"du\"", "unknown to German"),
    ] {
        let fault = form(du).unwrap_err().to_string();
        assert!(fault.contains(why), "{fault}");
    }
    for (address, said) in [(Address::Sie, "{b} Sie"), (Address::Du, "{b} du")] {
        let mut texts = form("a = \"{b} du\"").unwrap();
        texts.speak(address);
        assert_eq!(texts.get(Language::De, "a"), said);
        assert_eq!(texts.get(Language::En, "a"), "{b} you");
    }
}
