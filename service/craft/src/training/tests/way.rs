//! The way of a beginner: those that suit, the one that forgives most first.

use etui_schema::vocabulary::{Effect, Language, Setting, Site};

use super::{tools, training};
use crate::configuration::Complete;
use crate::selection::Request;

#[test]
fn the_way_leads_through_what_suits_best() {
    let (model, selector) = tools();
    for (effect, site) in [
        (Effect::HairStrokes, Site::Brow),
        (Effect::SoftShading, Site::Brow),
        (Effect::Pixelated, Site::Brow),
        (Effect::DenseFill, Site::Lip),
        (Effect::ScalpDots, Site::Scalp),
    ] {
        let way = training().way((model, selector), (effect, site), Language::En);
        assert!((2..=6).contains(&way.len()), "{effect} {site}: {way:?}");
        assert!(way.is_sorted_by(|a, b| b.forgives <= a.forgives), "{effect} {site}: {way:?}");
        let setting = Setting { site: Some(site), ..Setting::default() };
        let request = Request {
            treatment: selector.treatment_on(site).unwrap(),
            effect,
            setting: &setting,
            candidates: selector.usual(),
            limit: 6,
            folds: false,
            language: Language::En,
        };
        let best = selector.select(model, &request).unwrap();
        let mut suit: Vec<Complete> =
            best.ranked.iter().take(6).map(|one| one.configuration).collect();
        let mut led: Vec<Complete> = way.iter().map(|one| one.configuration).collect();
        suit.sort_by_key(Complete::canonical);
        led.sort_by_key(Complete::canonical);
        assert_eq!(led, suit, "{effect} {site}");
        assert_eq!(way, training().way((model, selector), (effect, site), Language::En));
    }
    // Where the site does not have the effect there is no way.
    let none = training().way((model, selector), (Effect::ScalpDots, Site::Brow), Language::De);
    assert!(none.is_empty(), "{none:?}");
}
