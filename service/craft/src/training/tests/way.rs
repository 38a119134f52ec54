//! The way of a beginner: those that suit, the one that forgives most first.

use etui_schema::vocabulary::{Configuration, Effect, Language, Setting, Site};

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
        let six: Vec<Complete> = best.ranked.iter().take(6).map(|one| one.configuration).collect();
        let led: Vec<Complete> = way.iter().map(|one| one.configuration).collect();
        assert!(led.iter().all(|one| six.contains(one)), "{effect} {site}: {led:?}");
        assert!(led.contains(&six[0]) && led.contains(&six[1]), "{effect} {site}: {led:?}");
        assert_eq!(way, training().way((model, selector), (effect, site), Language::En));
    }
    // Strokes and lash lines are worked with 0.18 to 0.30 mm; 0.35 forgives more and is nobody's.
    for (effect, site) in [(Effect::HairStrokes, Site::Brow), (Effect::FineLine, Site::LashLine)] {
        let way = training().way((model, selector), (effect, site), Language::En);
        for step in &way {
            let mm = Configuration::from(step.configuration).diameter_mm;
            assert!(mm.is_some_and(|mm| mm < 0.301), "{effect} {site}: {way:?}");
        }
    }
    // Where the site does not have the effect there is no way.
    let none = training().way((model, selector), (Effect::ScalpDots, Site::Brow), Language::De);
    assert!(none.is_empty(), "{none:?}");
}
