//! Sentences of packs: what could harm is refused, what a studio honestly adds is kept.
//!
//! All of them are invented for this test; no published list of either kind exists.

use etui_craft::guard::{Speaks, objection};

const SPEAKS: [Speaks; 2] = [Speaks::BeforeVisit, Speaks::AfterVisit];

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

/// Advice against what the built-in steps say, promises, and risks made light of.
const AGAINST_CARE: &[&str] = &[
    "Have a glass of wine before you come, it relaxes the skin.",
    "Nothing can go wrong with our pigments.",
    "Pregnant women can come without worry.",
    "Ignore what your dermatologist says about this.",
    "Pick off the flakes as soon as they appear.",
    "Peel the scabs gently with tweezers.",
    "Rub lemon juice on the brows every evening.",
    "Clean it with undiluted bleach.",
    "Go into the sun so that the colour sets.",
    "Wipe with pure alcohol three times a day.",
    "Our numbing cream may stay on under cling film for three hours.",
    "Swim as much as you like in the first week.",
    "Share your balm with your sister.",
    "Put toothpaste on blisters.",
    "A fever on the second day is a good sign.",
    "Scrub the crusts off with a brush.",
    "Cover it with cling film overnight.",
    "Lick your lips often.",
    "Hot steam opens the skin, so use it daily.",
    "Bleeding for days is usual with us.",
    "You may drive to the beach straight after.",
    "Kratzen Sie den Schorf einfach ab.",
    "Ein Sonnenbad hilft der Farbe.",
    "Desinfizieren Sie die Stelle mit Chlorreiniger.",
    "Bürsten Sie die Krusten ab.",
    "Gehen Sie täglich in die Sauna.",
    "A session on the sunbed makes the shade warmer.",
    "Loosen stubborn crusts with a cotton bud.",
    "Two beers beforehand calm the nerves.",
    "Vinegar closes the pores.",
    "Your lips may be kissed the same evening.",
    "Wrap the brows in plastic before bed.",
    "Nursing mothers are treated here like everybody else.",
    "Our colours have never harmed anybody, you cannot react to them.",
    "If the skin weeps and smells, that only shows how well it heals.",
    "Doctors exaggerate; come to us instead.",
    "Numb the area at home for two hours.",
    "Mascara is no problem the next morning.",
    "A dip in the lake cools the lids nicely.",
    "Dab some surgical spirit on it.",
    "Use the same sponge as your friends and swap it round.",
    "Do not avoid the sun.",
    "Ein Gläschen Sekt vor dem Termin entspannt.",
    "Ziehen Sie lose Schuppen mit der Pinzette weg.",
    "Bei uns kann gar nichts schiefgehen.",
    "Schwangere sind herzlich willkommen.",
    "Was der Hautarzt dazu meint, ist übertrieben.",
    "Wickeln Sie die Brauen über Nacht in Folie.",
    "Schwimmen schadet nicht.",
    "Ein Besuch im Solarium macht die Farbe haltbar.",
    "Betupfen Sie die Lippen mit Zitronensaft.",
    "Leihen Sie sich die Salbe Ihrer Mutter.",
    "Lecken hält die Lippen feucht.",
    "Blutet es drei Tage lang, ist das gesund.",
    "Tragen Sie die Betäubungscreme schon zwei Stunden vorher auf.",
    "Puder deckt die frische Farbe gut ab.",
    "Diabetiker brauchen sich keine Gedanken zu machen.",
    "Rubbeln Sie mit einem Handtuch, bis alles glatt ist.",
];

/// Prohibitions and care turned round.
const TURNED_ROUND: &[&str] = &[
    "There is no need to keep out of the sun.",
    "Never miss the sauna.",
    "No sun is too strong for our colours.",
    "Why not go swimming?",
    "No sauna? Not with us.",
    "Keine Sonne? Das war einmal.",
    "No sauna, but go into the sun.",
    "Picking is not harmful.",
    "Go to the sauna and avoid the shade.",
    "Leave no flakes on the skin.",
    "You do not have to stay away from the pool.",
    "Do not forget to scratch.",
    "Die Sonne meiden müssen Sie nicht.",
    "Sauna ist nicht schädlich.",
    "Warum nicht schwimmen gehen?",
    "Keine Sauna ist zu heiß.",
    "Do not do without wine.",
    "See a doctor if the fever lasts longer than a week.",
    "See a doctor if redness spreads. Before that, cool it for a week.",
    "Ask your prescriber before you change any medicine. Mostly it is unnecessary.",
    "Do not see a doctor if you have a fever.",
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
    "No sauna for ten days.",
    "Keep the area out of the sun.",
    "Do not pick at the crusts.",
    "Call us if anything worries you.",
    "Wash your hands before you touch the area.",
    "No pool, sea or hot tub for two weeks.",
    "Please do not rub, scratch or peel.",
    "Let the flakes fall by themselves.",
    "No make-up on the brows for {days} days.",
    "Avoid alcohol the day before.",
    "Never share your balm or your brush.",
    "Do not cover the area with cling film.",
    "Tell us if you are pregnant.",
    "We do not treat during pregnancy.",
    "Sun fades the colour.",
    "Do not lie in the sun until the last flakes have fallen.",
    "Swimming is not allowed for two weeks.",
    "Please do not lick your lips.",
    "Sauna, pool and sun have to wait.",
    "Pat dry with a clean towel.",
    "Bitte nicht kratzen.",
    "Keine Sauna und kein Dampfbad in den ersten zehn Tagen.",
    "Die Krusten bitte nicht abkratzen.",
    "Meiden Sie die Sonne.",
    "Verzichten Sie am Vortag auf Alkohol.",
    "Lassen Sie die Schuppen von selbst abfallen.",
    "Kratzen Sie nicht.",
    "Gehen Sie zwei Wochen lang nicht schwimmen.",
    "Sagen Sie uns bitte, wenn Sie schwanger sind.",
    "Schwangere behandeln wir nicht.",
    "Kein Make-up auf den Brauen.",
    "Sonne und Solarium bitte meiden.",
    "Schützen Sie die Stelle vor der Sonne.",
    "Tupfen Sie die Stelle mit einem sauberen Tuch trocken.",
    "Teilen Sie uns mit, wenn Sie etwas beunruhigt.",
    "Bitte keine Folie über die Stelle legen.",
    "See a doctor if redness spreads.",
    "Ask your prescriber before you change any medicine.",
    "Bei Fieber noch am selben Tag zum Arzt.",
    "Call a doctor if you have a fever.",
    "Gehen Sie sofort zum Arzt, wenn sich die Rötung ausbreitet.",
];

#[test]
fn what_could_harm_is_refused_before_and_after_a_visit() {
    let all = HARMFUL.iter().chain(AGAINST_CARE).chain(TURNED_ROUND);
    let kept: Vec<_> = all
        .flat_map(|sentence| SPEAKS.map(|speaks| (sentence, speaks)))
        .filter(|(sentence, speaks)| objection(sentence, *speaks).is_none())
        .collect();
    assert!(kept.is_empty(), "kept: {kept:#?}");
    for sentence in AFTERWARDS {
        assert!(objection(sentence, Speaks::AfterVisit).is_some(), "{sentence:?} was kept");
    }
}

#[test]
fn what_a_studio_honestly_adds_is_kept() {
    let refused: Vec<_> = HONEST
        .iter()
        .flat_map(|sentence| SPEAKS.map(|speaks| (sentence, speaks)))
        .filter_map(|(text, speaks)| Some((text, speaks, objection(text, speaks)?.to_string())))
        .collect();
    assert!(refused.is_empty(), "refused: {refused:#?}");
}

#[test]
fn a_sign_may_be_asked_about_before_a_visit() {
    for sentence in [
        "Have you had a fever in the last days?",
        "Hatten Sie zuletzt Fieber?",
        "Do you go to the sauna every week?",
        "Have you been on a sunbed lately?",
        "Are you pregnant?",
        "Trinken Sie regelmäßig Alkohol?",
        "Sind Sie schwanger?",
    ] {
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
