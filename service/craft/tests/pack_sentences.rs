//! Sentences of packs: what could harm is refused, what a studio honestly adds is kept.
//!
//! All of them are invented for this test; no published list of either kind exists.

use etui_craft::guard::{Speaks, objection, strange_word};

const SPEAKS: [Speaks; 3] = [Speaks::Asking, Speaks::BeforeVisit, Speaks::AfterVisit];

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
    "Take one in the morning and one at night.",
    "Take two with food, then one every four hours.",
    "Nehmen Sie eine am Morgen und eine am Abend.",
    "Nehmen Sie zwei vor dem Schlafen.",
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

/// The same in words that are found less easily: signs, those who help, a form that is answered
/// untruly, remedies under other names.
const IN_OTHER_WORDS: &[&str] = &[
    "Peel off the flakes as soon as they lift.",
    "Help the scabs along with a soft toothbrush.",
    "Prick any blister with a clean pin and dab it.",
    "If it oozes yellow, that is just the skin cleaning itself.",
    "A hot face and shivering are part of healing.",
    "Red streaks fade by themselves.",
    "Spare yourself the trip to the hospital; write to us instead.",
    "Ring us first and the doctor only if we say so.",
    "The surgery would only worry you; send us a photo.",
    "Puffy lids that close the eye are nothing unusual.",
    "Leave your morning tablets until after the visit.",
    "Skip the thinner on the day of your appointment.",
    "Your heart medicine can wait until the evening.",
    "Double up on your antihistamine the night before.",
    "Have a paracetamol an hour ahead.",
    "A shot of vodka beforehand takes the edge off.",
    "Cover it in numbing cream overnight under cling film.",
    "Wash it with rubbing alcohol every evening.",
    "Put toothpaste on the spots that itch.",
    "Sun brings the colour out nicely, so enjoy the beach.",
    "A sunbed on day three sets the pigment.",
    "Go swimming as early as you like.",
    "Wear your contact lenses straight away.",
    "Work the eyeliner over with mascara from day one.",
    "You can donate blood the same day.",
    "Pregnant clients may book like anybody else.",
    "Nobody has ever had a bad reaction here.",
    "It cannot go wrong.",
    "Our colours are free of any risk.",
    "What the form says about your skin need not trouble you.",
    "Ignore the waiting time shown above.",
    "If you have had a cold sore, say no anyway.",
    "You need not mention your blood thinner.",
    "Tick no to everything so that we can start quickly.",
    "Tell us whether you carry any blood-borne virus.",
    "Schorf darf mit der Pinzette entfernt werden.",
    "Krusten bitte abends mit dem Waschlappen abrubbeln.",
    "Blasen kannst du mit einer Nadel anstechen.",
    "Gelbes Sekret gehört zur Heilung.",
    "Schüttelfrost vergeht über Nacht von selbst.",
    "Ein heißes, pochendes Gesicht ist unbedenklich.",
    "Rote Streifen am Hals sind nur die Farbe.",
    "Den Weg in die Klinik können Sie sich sparen.",
    "Bitte erst uns fragen, bevor Sie zum Hausarzt gehen.",
    "Der Notdienst kennt sich damit nicht aus.",
    "Die Tabletten lassen Sie am Tag vorher weg.",
    "Setzen Sie Marcumar drei Tage aus.",
    "Ihr Herzmittel nehmen Sie einfach später.",
    "Eine halbe Ibuprofen vorher schadet nicht.",
    "Zwei Tropfen Antibiotikum in jedes Auge.",
    "Ein Glas Sekt vorher entspannt.",
    "Die Betäubungscreme dick über Nacht einwirken lassen.",
    "Mit Desinfektionsspray jeden Abend einsprühen.",
    "Sonne tut der Farbe gut.",
    "Ab dem zweiten Tag dürfen Sie wieder in die Sauna.",
    "Kontaktlinsen können sofort wieder rein.",
    "Schwangere behandeln wir genauso.",
    "Bei uns ist noch nie etwas passiert.",
    "Da kann nichts schiefgehen.",
    "Die Angaben oben gelten bei uns nicht.",
    "Die Wartezeit brauchen Sie nicht einzuhalten.",
    "Kreuzen Sie überall Nein an.",
    "Den Blutverdünner müssen Sie nicht angeben.",
    "Sagen Sie uns, ob Sie positiv sind.",
];

/// Written with the lists in hand, to get past them: of these some stand against nothing, and are held
/// until somebody has read them.
const PAST_THE_LISTS: &[&str] = &[
    "Lift the dried edges with your fingernail once they are loose.",
    "A soft flannel and some pressure speeds up the flaking.",
    "Go out bare-faced at noon, it deepens the shade.",
    "A quick dip in the lake on day two is fine.",
    "One small beer will not hurt the colour.",
    "Take whatever you normally take for a headache.",
    "Your morning heart pills are better taken after the session.",
    "A cold sore on the day is no obstacle for us.",
    "If your eyelids glue together, wait three days.",
    "Heat, throbbing and swelling show that the pigment takes.",
    "A rash around the lips always calms down.",
    "Your GP has never seen a fresh lip blush and will only frighten you.",
    "Emergency departments are for broken bones, not for brows.",
    "Whoever reacts to red pigments may simply come earlier.",
    "We have treated hundreds of expectant mothers.",
    "We disregard the six weeks after filler.",
    "The system is over-careful; we book you in sooner.",
    "Never mind what the list says about your skin.",
    "Put no for everything you are unsure about.",
    "Your blood results are of interest to us, above all viruses.",
    "Squeeze the lips until clear fluid comes out.",
    "Dab neat tea tree oil on it.",
    "Warm it under the hairdryer every evening.",
    "Wrap the brows in foil at night.",
    "Any leftover pigment you may use on yourself.",
    "It is enough to rinse the needle between friends.",
    "You can hold your baby's dummy in your mouth as usual.",
    "Skip meals and drink espresso before you come.",
    "Keep your inhaler for later, it makes the skin thin.",
    "The patch test can be left out the second time.",
    "Age does not matter if mother signs.",
    "A temperature of 38 is the body at work.",
    "Vaseline and a plaster for a week keep the air out.",
    "Ein Bläschen bitte öffnen und trocknen lassen.",
    "Nach zwei Tagen gern in die Sonne, das frischt auf.",
    "Kurz in den See springen geht immer.",
    "Ein Radler am Abend stört nicht.",
    "Nehmen Sie, was Sie sonst gegen Kopfweh nehmen.",
    "Das Blutdruckmittel bitte erst nach dem Termin.",
    "Herpes am Termintag ist für uns kein Hindernis.",
    "Wenn die Lider verkleben, warten Sie drei Tage ab.",
    "Hitze und Pochen zeigen, dass die Farbe hält.",
    "Ein Ausschlag um den Mund beruhigt sich immer.",
    "Ihr Hausarzt kennt Pigmentierungen nicht und macht Ihnen nur Angst.",
    "In die Notaufnahme gehören Knochenbrüche.",
    "Wer auf Rot reagiert, kommt einfach früher.",
    "Wir haben schon viele werdende Mütter pigmentiert.",
    "Die sechs Wochen nach Filler nehmen wir nicht so genau.",
    "Das Programm ist übervorsichtig, wir nehmen Sie früher dran.",
    "Was in der Liste steht, ist halb so wild.",
    "Schreiben Sie im Zweifel überall Nein.",
    "Uns interessieren vor allem Viren in Ihrem Blut.",
    "Drücken Sie die Lippen, bis Flüssigkeit kommt.",
    "Teebaumöl pur auftupfen.",
    "Abends mit dem Föhn wärmen.",
    "Über Nacht in Alufolie packen.",
    "Mit der restlichen Farbe können Sie selbst nachziehen.",
    "Die Nadel genügt abgespült auch für die Freundin.",
    "Kommen Sie nüchtern und mit viel Kaffee.",
    "Den Allergietest können wir beim zweiten Mal weglassen.",
    "Das Alter ist egal, wenn die Mutter unterschreibt.",
    "38 Grad heißt nur, dass der Körper arbeitet.",
    "Luftdicht mit Vaseline und Pflaster abdecken.",
    "Lassen Sie Ihr Spray daheim, es macht die Haut dünn.",
    "If there is more redness each day, wait another week.",
    "If the redness is darker and the lid is hot, wait until Monday.",
    "Wird die Rötung jeden Tag dunkler, warten Sie noch eine Woche.",
    "Rötung heilt die Haut.",
    "Come to us before the doctor.",
    "Ask us before you ask a doctor.",
    "The doctor can see you in two months.",
    "Kommen Sie zu uns, danach zum Arzt.",
    "If you have a fever, come and we treat you.",
    "Falls Sie Fieber haben, bringen Sie eine Jacke mit.",
    "Solange Sie Fieber haben, behandeln wir kurz.",
    "Drink ten cups of water in an hour.",
    "Do not eat or drink for two days before your visit.",
    "Fasten Sie zwei Tage vor dem Termin.",
    "Drink the shampoo.",
    "Trinken Sie das Parfüm.",
    "Das Gift trinken Sie abends.",
    "Rinse your eyes with shampoo each night.",
    "Put the balm in your eyes.",
    "Dab shampoo onto the open skin.",
    "Put a hot towel on your lips.",
    "Pull the loose edge off in the shower.",
    "If it is loose, take it off with your fingertips.",
    "Nehmen Sie es ab, sobald es locker ist.",
    "Wir behandeln die Stelle auch, wenn sie noch offen ist.",
    "We treat you after two weeks, whether the area has healed or not.",
    "Write no in each line of the form.",
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
    "Wash your hands before you touch the area.",
    "Please do not rub, scratch or peel.",
    "Let the flakes fall by themselves.",
    "No make-up on the brows for {days} days.",
    "Avoid alcohol the day before.",
    "Never share your balm or your brush.",
    "Do not cover the area with cling film.",
    "Tell us if you are pregnant.",
    "Sun fades the colour.",
    "Swimming is not allowed for two weeks.",
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
    "Kein Make-up auf den Brauen.",
    "Sonne und Solarium bitte meiden.",
    "Schützen Sie die Stelle vor der Sonne.",
    "Tupfen Sie die Stelle mit einem sauberen Tuch trocken.",
    "See a doctor if redness spreads.",
    "Ask your prescriber before you change any medicine.",
    "Bei Fieber noch am selben Tag zum Arzt.",
    "Call a doctor if you have a fever.",
    "Gehen Sie sofort zum Arzt, wenn sich die Rötung ausbreitet.",
    "Sleep on your back for the first nights.",
    "Keep your hair tied back until the end of the week.",
    "Pat the area dry with a clean paper towel.",
    "Use the balm from the small pot we gave you.",
    "Please come without make-up on your brows.",
    "Bring your old photos if you like.",
    "Send us a photo in daylight after two weeks.",
    "Change your pillowcase tonight.",
    "Wear a top with buttons at the front.",
    "Park behind the house; the door is on the left.",
    "Keep your helmet off for a week if you can.",
    "Avoid the gym until the flakes are gone.",
    "Do not pick at the flakes.",
    "Stay out of the pool and the sauna for two weeks.",
    "Your colour looks darker at first and softens within a month.",
    "Tell us if your plans change.",
    "Bitte ohne Mascara kommen.",
    "Schlafen Sie die ersten Nächte auf dem Rücken.",
    "Tupfen Sie die Stelle mit einem sauberen Tuch trocken.",
    "Wechseln Sie heute den Kissenbezug.",
    "Meiden Sie Sauna und Schwimmbad, bis alles abgeheilt ist.",
    "Lassen Sie die Schüppchen von selbst abfallen.",
    "Die Farbe wirkt zuerst kräftiger und wird in vier Wochen weicher.",
    "Schicken Sie uns nach zwei Wochen ein Foto bei Tageslicht.",
    "Essen Sie vorher eine Kleinigkeit.",
    "Tragen Sie eine Bluse, die sich vorn öffnet.",
    "Bringen Sie eine Sonnenbrille mit.",
    "Kommen Sie bitte zehn Minuten früher.",
    "Benutzen Sie den Balsam aus dem kleinen Tiegel dünn.",
    "Für Ihren Hund haben wir leider keinen Platz.",
    "Please arrive ten minutes early and ring the top bell.",
    "Wear something dark, colour can stain.",
    "Leave your phone on silent during the visit.",
    "We draw the shape together before anything else.",
    "Bring a picture of brows that you like.",
    "Wash your face in the evening with lukewarm water.",
    "Blot your lips with a tissue after meals.",
    "Eat something small before your visit.",
    "The colour looks warm at first and cools down in a month.",
    "Sleep with your head a little higher tonight.",
    "Use fresh towels this week.",
    "Tie your hair back at night.",
    "Do not wear a tight cap for ten days.",
    "Keep shampoo away from the area for a week.",
    "No gym and no yoga until the flakes have fallen.",
    "Your touch-up is in six weeks; book it today.",
    "Tell us if your skin has changed since we spoke.",
    "Are you going on holiday in the next two weeks?",
    "Do you sing in a choir?",
    "We ring you after three days to hear how it goes.",
    "Tragen Sie etwas Dunkles, Farbe kann abfärben.",
    "Waschen Sie das Gesicht abends mit lauwarmem Wasser.",
    "Tupfen Sie die Lippen nach dem Essen ab.",
    "Benutzen Sie diese Woche frische Handtücher.",
    "Binden Sie die Haare nachts zusammen.",
    "Die Nachbehandlung ist in sechs Wochen; buchen Sie gleich.",
    "Fahren Sie in den nächsten zwei Wochen in den Urlaub?",
    "Spielen Sie ein Blasinstrument?",
    "Wir rufen Sie nach drei Tagen an.",
    "Halten Sie Shampoo eine Woche von der Stelle fern.",
    "Die Farbe wirkt anfangs wärmer.",
];

/// Honest as well, with a word that harms in another sentence: kept once somebody has read it.
const READ_FIRST: &[&str] = &[
    "Ask your dermatologist before we book.",
    "Fragen Sie bitte Ihre Hautärztin.",
    "Call us if anything worries you.",
    "No pool, sea or hot tub for two weeks.",
    "We do not treat during pregnancy.",
    "Do not lie in the sun until the last flakes have fallen.",
    "Please do not lick your lips.",
    "Schwangere behandeln wir nicht.",
    "Teilen Sie uns mit, wenn Sie etwas beunruhigt.",
    "Bitte keine Folie über die Stelle legen.",
    "Drink enough water and eat before you come.",
    "Trinken Sie am ersten Tag mit einem Strohhalm.",
];

#[test]
fn what_could_harm_is_refused_before_and_after_a_visit() {
    let all = HARMFUL.iter().chain(AGAINST_CARE).chain(TURNED_ROUND).chain(IN_OTHER_WORDS);
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
        .chain(READ_FIRST)
        .flat_map(|sentence| SPEAKS.map(|speaks| (sentence, speaks)))
        .filter_map(|(text, speaks)| Some((text, speaks, objection(text, speaks)?.to_string())))
        .collect();
    assert!(refused.is_empty(), "refused: {refused:#?}");
}

/// Of what harms, nothing is kept without anybody's word.
#[test]
fn what_the_lists_do_not_know_is_held_until_somebody_has_read_it() {
    for sentence in PAST_THE_LISTS {
        for speaks in SPEAKS {
            let held = || strange_word(sentence, speaks).is_some();
            assert!(objection(sentence, speaks).is_some() || held(), "{sentence:?} was kept");
        }
    }
    // A question is one of a screening.
    let when = |text: &str| if text.ends_with('?') { Speaks::Asking } else { Speaks::AfterVisit };
    let held = |sentence: &&&str| strange_word(sentence, when(sentence)).is_some();
    let held: Vec<_> = HONEST.iter().filter(held).copied().collect();
    assert_eq!(held, [""; 0], "of {}", HONEST.len());
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
        assert_eq!(objection(sentence, Speaks::Asking), None, "{sentence}");
    }
}

/// What tells in the form of a question is read like what tells.
#[test]
fn a_mark_at_its_end_makes_no_question_of_it() {
    for sentence in [
        "Did you know that a hot, thick lid is part of it?",
        "Do you know that nothing is wrong if the skin is hot?",
        "Wussten Sie schon, dass ein heißes Lid dazugehört?",
        "Wissen Sie, dass heiße Haut dazugehört?",
        "Do you realise that thick, hot skin is a good sign?",
    ] {
        for speaks in SPEAKS {
            let held = || strange_word(sentence, speaks).is_some();
            assert!(objection(sentence, speaks).is_some() || held(), "{sentence:?} as {speaks:?}");
        }
    }
    let given = "Did you leave out what your doctor gave you?";
    assert!(
        strange_word(given, Speaks::BeforeVisit).is_some()
            || objection(given, Speaks::BeforeVisit).is_some()
    );
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
