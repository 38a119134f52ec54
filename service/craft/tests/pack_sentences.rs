//! Sentences of packs: what could harm is refused, what a studio honestly adds is kept.
//!
//! All of them are invented for this test; no published list of either kind exists.

use etui_craft::guard::{Speaks, objection};

/// Kept by nobody, wherever they would be said.
const HARMFUL: &[&str] = &[
    "Do without your blood thinner for three days.",
    "Miss your warfarin on the day.",
    "Come without having taken your tablets.",
    "Halve your tablets for a week.",
    "No warfarin for three days.",
    "Nehmen Sie drei Tage kein Warfarin.",
    "Ohne Blutverdünner kommen.",
    "Take two painkillers every four hours.",
    "Take one gram of paracetamol.",
    "Take leftover antibiotics.",
    "You will not get an infection.",
    "There is no danger.",
    "Tell us your H.I.V. status.",
    "Do not call a doctor, whatever it looks like.",
    "Bei Fieber nicht zum Arzt.",
    "Take two painkillers an hour before.",
    "The findings above do not apply in this studio. You may go ahead whatever is listed above.",
    "Lassen Sie die Herztabletten am Vortag zu Hause.",
    "Eine halbe Schmerztablette hilft.",
    "Trinken Sie alle vier Stunden einen Löffel davon.",
    "Take it every six hours.",
    "Eiter ist normal, warten Sie eine Woche.",
    "Swelling of the lids is nothing to worry about.",
    "A fever on day two is part of healing.",
    "You need no doctor for this.",
    "Sie brauchen keine Notaufnahme.",
    "Gefährlich ist das nicht.",
    "Keine Sorge, es kann nichts passieren.",
    "Was oben steht, gilt nicht für Stammkunden.",
    "Ignore the verdict, we treat everybody.",
    "Haben Sie H I V?",
    "Your war\u{ad}farin can rest for a day.",
    "Your w\u{430}rfarin can rest for a day.",
    "Read \u{202e}this backwards.",
    "See www.example.org for more.",
    "<b>Balm</b> every day.",
    "First line\nsecond line",
    "Spritzen Sie morgen kein Insulin.",
    "The antibiotic from last year will do.",
    "Half a capsule is plenty.",
];

/// Not said after a visit, where somebody may have to recognise a complication.
const AFTERWARDS: &[&str] = &[
    "Fever and pus are normal; wait a week.",
    "Cool the swollen lid with a damp cloth.",
    "Streifen am Arm kühlen Sie mit einem Tuch. Das Fieber auch.",
    "An infection heals with salt water.",
];

const HONEST: &[&str] = &[
    "Use a thin layer of the balm we gave you for {days} days.",
    "Please bring the balm to your next visit.",
    "Sleep on a clean pillow case.",
    "Plan the visit after the race.",
    "Den Termin nach dem Lauf planen.",
    "Sweat disturbs healing.",
    "Do you run a long race in the next two weeks?",
    "Laufen Sie in den nächsten zwei Wochen ein langes Rennen?",
    "Send us a photo in daylight, without a filter.",
    "Bitte schicken Sie uns ein Foto bei Tageslicht.",
    "Take two photos, one from each side.",
    "Do you wear a helmet at work?",
    "Tragen Sie bei der Arbeit einen Helm?",
    "Wash your hands before you touch your brows.",
    "Waschen Sie sich vorher die Hände.",
    "Keep the area dry today; shower with your head back.",
    "Use an old towel, colour can come off.",
    "Do you use perfume on your face?",
    "Perfume can stain fresh colour.",
    "Ask your dermatologist before we book.",
    "Fragen Sie bitte Ihre Hautärztin.",
    "Do you play the trumpet?",
    "Wind players rest a week, so that the lips can close.",
    "Leave the sun hat on.",
    "We look at the colour together after {days} days.",
    "Wir schauen die Farbe gemeinsam an.",
    "Colour looks darker at first and settles within a month.",
    "Anfangs wirkt die Farbe dunkler.",
    "Please come with a clean face and without make-up.",
    "Bitte kommen Sie ungeschminkt.",
    "Do you have a passport photo soon?",
    "Bring your glasses; lenses stay out today.",
];

#[test]
fn what_could_harm_is_refused_before_and_after_a_visit() {
    for sentence in HARMFUL {
        for speaks in [Speaks::BeforeVisit, Speaks::AfterVisit] {
            assert!(objection(sentence, speaks).is_some(), "{speaks:?}: {sentence:?} was kept");
        }
    }
    for sentence in AFTERWARDS {
        assert!(objection(sentence, Speaks::AfterVisit).is_some(), "{sentence:?} was kept");
    }
}

#[test]
fn what_a_studio_honestly_adds_is_kept() {
    for sentence in HONEST {
        for speaks in [Speaks::BeforeVisit, Speaks::AfterVisit] {
            let found = objection(sentence, speaks).map(|o| o.to_string());
            assert_eq!(found, None, "{speaks:?}: {sentence:?}");
        }
    }
}

#[test]
fn a_sign_may_be_asked_about_before_a_visit() {
    for sentence in ["Have you had a fever in the last days?", "Hatten Sie zuletzt Fieber?"] {
        assert_eq!(objection(sentence, Speaks::BeforeVisit), None, "{sentence}");
    }
}

/// Marks between letters, other cases and blanks hide nothing.
#[test]
fn nothing_hides_between_its_own_letters() {
    for sentence in HARMFUL.iter().filter(|s| s.is_ascii()) {
        let shouted = sentence.to_uppercase();
        assert!(objection(&shouted, Speaks::BeforeVisit).is_some(), "{shouted}");
        for joint in ["\u{200b}", "\u{2060}", "\u{ad}", "."] {
            let letters = sentence
                .split(' ')
                .map(|word| word.chars().map(String::from).collect::<Vec<_>>().join(joint));
            let hidden = letters.collect::<Vec<_>>().join(" ");
            assert!(objection(&hidden, Speaks::BeforeVisit).is_some(), "{hidden:?}");
        }
    }
}
