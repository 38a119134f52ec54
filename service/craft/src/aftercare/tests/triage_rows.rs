//! The table of signs, row by row, and what was found too mild in use. Rows
//! follow public advice for emergencies of allergy, infection and the eye (NHS,
//! College of Optometrists, British Association of Dermatologists, FDA), or
//! common practice where no source is named in `rules/aftercare/triage.toml`.

use etui_schema::vocabulary::Treatment::{self, Areola, Brows, Eyeliner, Lips, Scalp};
use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use jiff::SignedDuration;

use super::super::triage::{Contacts, Report, Told};
use super::triage::triage;

use Level::{Artist, Doctor, Emergency, Expected, SameDay};

/// `name`, then `!` severe, `~` mild, `=` moderate, `?` not told, then `+` worse,
/// `-` better, nothing unchanged.
fn told(word: &str) -> Told {
    let name = word.trim_end_matches(['!', '~', '=', '?', '+', '-']);
    let how = &word[name.len()..];
    let severity = match how {
        how if how.contains('!') => Some(Severity::Severe),
        how if how.contains('~') => Some(Severity::Mild),
        how if how.contains('?') => None,
        _ => Some(Severity::Moderate),
    };
    let trend = match how {
        how if how.contains('+') => Trend::Worse,
        how if how.contains('-') => Trend::Better,
        _ => Trend::Same,
    };
    let symptom = name.parse::<Symptom>().unwrap_or_else(|e| panic!("{name}: {e}"));
    Told { symptom, severity, trend: Some(trend), began_on_day: None }
}

pub(super) fn report(treatment: Treatment, hours: i64, signs: &str) -> Report {
    let performed_at = "2027-03-18T13:00:00Z".parse().unwrap();
    let celsius = |word: &str| word.strip_suffix('C').and_then(|c| c.parse::<f64>().ok());
    Report {
        treatment,
        performed_at,
        reported_at: performed_at + SignedDuration::from_hours(hours),
        zone: Some(jiff::tz::TimeZone::UTC),
        symptoms: signs.split_whitespace().filter(|w| celsius(w).is_none()).map(told).collect(),
        kept: Vec::new(),
        temperature_c: signs.split_whitespace().find_map(celsius),
        country: None,
        contacts: Contacts::default(),
        earlier: Vec::new(),
        works: Vec::new(),
        old: Vec::new(),
    }
}

pub(super) const D: i64 = 24;

#[test]
fn every_row_of_the_table_has_its_level() {
    for (row, treatment, hours, signs, want) in [
        ("growing and aching", Brows, 3 * D, "redness swelling aches_or_tiredness pain~+", SameDay),
        (
            "growing and aching",
            Brows,
            3 * D,
            "redness swelling aches_or_tiredness pain+",
            Emergency,
        ),
        ("aching alone", Brows, 3 * D, "aches_or_tiredness pain~", Doctor),
        ("airway", Brows, D, "swallowing_trouble", Emergency),
        ("airway", Scalp, 0, "hoarse_voice~", Emergency),
        ("airway", Areola, 40 * D, "persistent_cough~", Emergency),
        ("collapse", Lips, 2, "sudden_sleepiness~", Emergency),
        ("collapse", Lips, 2, "mottled_blue_or_pale_skin~", Emergency),
        ("two systems", Scalp, 2, "hives vomiting", Emergency),
        ("two systems", Brows, 24, "widespread_rash tummy_pain~", Emergency),
        ("two systems", Brows, 3, "hives diarrhoea~", Emergency),
        ("face", Brows, 5, "lip_or_face_swelling hives", Emergency),
        ("face", Brows, 5, "lip_or_face_swelling dizziness", Emergency),
        ("hives at once", Brows, 1, "hives!", SameDay),
        ("hives later", Brows, 5 * D, "hives~", SameDay),
        ("rash later", Brows, 30 * D, "widespread_rash~", SameDay),
        ("lips swell and itch", Lips, 5, "swelling! itching", SameDay),
        ("lips swell and itch", Lips, 5, "swelling+ itching", SameDay),
        ("lips swell", Lips, D, "swelling", Expected),
        ("lips swell", Lips, 2 * D, "swelling", Expected),
        ("lips swell on", Lips, 2 * D, "swelling!+", SameDay),
        ("fit", Eyeliner, 1, "seizure~", Emergency),
        ("heart", Scalp, 6, "palpitations~", Emergency),
        ("heart", Scalp, 6, "chest_pain~", Emergency),
        ("numb mouth", Lips, 3, "mouth_numb_or_ringing_ears~", Emergency),
        ("blue lips", Lips, 20, "mottled_blue_or_pale_skin", Emergency),
        ("sepsis", Areola, 6 * D, "pus slurred_speech~", Emergency),
        ("beyond the wound", Scalp, 3 * D, "pain_beyond_the_wound", Emergency),
        ("beyond the wound", Scalp, 3 * D, "loss_of_feeling?", Emergency),
        ("deep", Scalp, 3 * D, "redness swelling pain! 38.4C", Emergency),
        ("deep", Scalp, 3 * D, "redness swelling pain! aches_or_tiredness", Emergency),
        ("deep", Scalp, 3 * D, "swelling headache_severe pain+", Emergency),
        ("blotches", Areola, 4 * D, "dark_blotches~", Emergency),
        ("blotches", Areola, 4 * D, "blisters! pain! swelling!", Emergency),
        ("dizzy", Brows, 4 * D, "redness swelling dizziness~", Emergency),
        ("dizzy", Brows, 4 * D, "spreading_swelling palpitations~", Emergency),
        ("vomiting", Brows, 4 * D, "vomiting spreading_redness", SameDay),
        ("vomiting", Brows, 4 * D, "diarrhoea spreading_redness", SameDay),
        ("vomiting", Brows, 4 * D, "vomiting spreading_redness confusion~", Emergency),
        ("spreading", Brows, 2 * D, "spreading_redness~", SameDay),
        ("fever", Brows, 3 * D, "redness~ 38.0C", SameDay),
        ("fever", Brows, 3 * D, "shivering~", SameDay),
        ("fever alone", Brows, 14 * D, "38.0C", SameDay),
        ("pus", Brows, 3 * D, "bad_smell~", SameDay),
        ("impetigo", Lips, 5 * D, "honey_crusts", SameDay),
        ("erysipelas", Brows, 5 * D, "spreading_redness 39C", SameDay),
        ("head", Brows, 5 * D, "headache_severe spreading_redness", Emergency),
        ("head", Eyeliner, 5 * D, "stiff_neck 38.2C", Emergency),
        ("in the eye", Eyeliner, 1, "chemical_in_eye~", SameDay),
        ("in the eye", Brows, 1, "something_in_eye~", SameDay),
        ("in the eye and sight", Eyeliner, 1, "chemical_in_eye vision_reduced~", Emergency),
        ("in the eye and pain", Eyeliner, 1, "chemical_in_eye eye_pain!", Emergency),
        ("cream in the eye", Brows, 1, "numbing_cream_in_eye~", Emergency),
        ("eye hurts", Eyeliner, 5, "eye_pain~", SameDay),
        ("eye hurts", Brows, 3 * D, "light_hurts?", SameDay),
        ("eye waters on", Eyeliner, 2 * D, "watery_eyes", SameDay),
        ("eye waters on", Eyeliner, 3 * D, "red_eye+", SameDay),
        ("sight", Eyeliner, D, "vision_reduced~", SameDay),
        ("sight", Eyeliner, D, "double_vision~", SameDay),
        ("sight and pain", Eyeliner, D, "vision_reduced eye_pain", Emergency),
        ("sight and swelling", Brows, D, "double_vision lid_swelling", Emergency),
        ("pus from the eye", Eyeliner, 4 * D, "eye_pus~", SameDay),
        ("lids stuck", Eyeliner, 4 * D, "sticky_lids~", SameDay),
        ("lids on waking", Eyeliner, D, "lid_swelling", Expected),
        ("lids on waking", Eyeliner, 2 * D, "lid_swelling~", Expected),
        ("lid severe", Brows, D, "lid_swelling!", SameDay),
        ("lid not told how", Eyeliner, D, "lid_swelling?", SameDay),
        ("lid worse", Brows, 2 * D, "lid_swelling~+", SameDay),
        ("lid red and tender", Eyeliner, 3 * D, "lid_swelling redness pain", SameDay),
        ("orbit", Eyeliner, 3 * D, "lid_swelling eye_bulges_or_moves_painfully~", Emergency),
        ("orbit", Brows, 3 * D, "lid_swelling feels_very_ill", Emergency),
        ("lid allergy", Eyeliner, 6 * D, "rash_of_the_lids itching", Doctor),
        ("lid allergy", Eyeliner, 6 * D, "rash_of_the_lids!", SameDay),
        ("lid allergy", Eyeliner, 6 * D, "rash_of_the_lids eye_cannot_open", SameDay),
        ("herpes at the lid", Eyeliner, 4 * D, "blisters~", SameDay),
        ("herpes at the brow", Brows, 8 * D, "blisters pain", SameDay),
        ("herpes and eye", Eyeliner, 4 * D, "blisters red_eye", SameDay),
        ("cold sore", Lips, 3 * D, "tingling~", SameDay),
        ("clusters", Areola, 5 * D, "blister_clusters 38.5C", SameDay),
        ("clusters and eye", Brows, 5 * D, "blister_clusters red_eye", Emergency),
        ("blisters and pain", Scalp, 5 * D, "blisters+ pain!", SameDay),
        ("few blisters", Scalp, 5 * D, "blisters~", Doctor),
        ("few blisters", Areola, 5 * D, "blisters~", Doctor),
        ("shingles", Brows, 9 * D, "one_sided_blisters", SameDay),
        ("reaction", Brows, 3 * D, "itching+ weeping swelling", Doctor),
        ("reaction", Brows, 3 * D, "itching+ weeping+", SameDay),
        ("itching", Brows, 5 * D, "itching!", Doctor),
        ("itching", Brows, 5 * D, "itching", Artist),
        ("plaster", Areola, 2 * D, "rash_under_plaster", Artist),
        ("plaster spreads", Areola, 2 * D, "rash_under_plaster+", Doctor),
        ("late", Brows, 20 * D, "unhealed_spots~", Doctor),
        ("late", Brows, 20 * D, "nodules swollen_gland", Doctor),
        ("plaques", Brows, 200 * D, "raised_plaques itching", Doctor),
        ("plaques", Brows, 200 * D, "raised_plaques long_cough", Doctor),
        ("plaques", Brows, 200 * D, "raised_plaques breathing_trouble!", Emergency),
        ("one colour", Lips, 400 * D, "one_colour_raised", Doctor),
        ("scar", Areola, 90 * D, "raised_scar~", Doctor),
        ("sun", Brows, 90 * D, "after_sun", Artist),
        ("sun", Brows, 90 * D, "after_sun!", Doctor),
        ("scanner", Brows, 90 * D, "burning_in_scanner", Expected),
        ("bleeding", Brows, 2, "bleeding_will_not_stop~", SameDay),
        ("bleeding", Brows, 2, "bleeding_will_not_stop blood_thinner_taken", Emergency),
        ("dying skin", Scalp, 6 * D, "ulcer_or_black_scab", SameDay),
        ("dying skin", Scalp, 6 * D, "ulcer_or_black_scab pain", Emergency),
        ("not better", Brows, 8 * D, "redness~", Doctor),
        ("not better", Brows, 7 * D, "swelling", Doctor),
        ("worse", Brows, 5 * D, "swelling~+", Doctor),
        ("worse", Brows, 5 * D, "dryness~+", Artist),
        ("nothing", Areola, 50, "", Artist),
        ("normal temperature", Areola, 50, "37.9C", Artist),
        ("only a lens", Eyeliner, D, "contact_lens_worn", Artist),
        ("cold", Areola, 50, "35.0C", SameDay),
        ("hot", Areola, 50, "40.0C", SameDay),
        ("cold and confused", Areola, 50, "35.0C confusion~", Emergency),
        ("bruise", Brows, 3 * D, "bruising", Expected),
        ("bruise", Eyeliner, 7 * D, "bruising", Expected),
        ("breast", Areola, 4 * D, "breast_red_warm_or_swollen~", SameDay),
        // Found too mild in use.
        ("lids swell, and hives", Lips, D, "lid_swelling~ hives", Emergency),
        ("lids swell, and sick", Areola, D, "lid_swelling~ vomiting", Emergency),
        ("breast and dizzy", Areola, 4 * D, "breast_red_warm_or_swollen~ dizziness", Emergency),
        ("lids swell, and a rash", Scalp, 30, "lid_swelling widespread_rash~", Emergency),
        ("found", Scalp, 3 * D, "blisters!+ pain!+", SameDay),
        ("found", Eyeliner, 4 * D, "blisters!+ pain", SameDay),
        ("found", Scalp, 2, "widespread_rash! vomiting! dizziness!", Emergency),
        // The messages of every plan: growing pain is seen today.
        ("pain grows", Brows, 5, "pain~+", SameDay),
        ("pain grows", Scalp, D, "pain~+", SameDay),
        ("pain grows", Brows, 5 * D, "pain~+", SameDay),
        ("shivers", Scalp, 3 * D, "swelling shivering~ pain!", Emergency),
        ("very ill", Scalp, 3 * D, "spreading_swelling feels_very_ill pain+", Emergency),
        ("throbs", Scalp, 3 * D, "swelling 38.4C throbbing!", Emergency),
        ("shivers, nothing swollen", Scalp, 3 * D, "shivering~ pain~", SameDay),
        ("lids swell, and sick", Brows, D, "lid_swelling~ vomiting", Emergency),
        ("lids swell, and hives", Brows, 3, "lid_swelling~ hives", Emergency),
        ("hives and fast", Lips, 3, "swelling!+ hives", Emergency),
        ("hives and fast", Brows, 6, "swelling+ hives~", Emergency),
        ("hives and fast", Areola, 2, "swelling! widespread_rash~", Emergency),
        ("hives, later", Areola, 7, "swelling! widespread_rash~", SameDay),
        ("hives, not fast", Areola, 2, "swelling hives~", SameDay),
        ("found", Lips, 5, "swelling!+ itching", SameDay),
        ("found", Eyeliner, 30, "swelling!+", SameDay),
        ("found", Eyeliner, 78, "watery_eyes!+ redness", SameDay),
    ] {
        let answer = triage().judge(&report(treatment, hours, signs)).unwrap();
        let why: Vec<&str> = answer.findings.iter().map(|finding| &*finding.rule).collect();
        assert_eq!(answer.level, want, "{row}: {treatment} after {hours} h: {signs}: {why:?}");
    }
}

#[test]
fn an_eye_is_rinsed_before_anybody_is_called() {
    for (signs, first) in [
        ("chemical_in_eye", "do_rinse"),
        ("something_in_eye eye_pain!", "do_rinse"),
        ("numbing_cream_in_eye vision_reduced", "do_rinse"),
        ("chemical_in_eye wheeze", "do_rinse_and_call"),
    ] {
        let answer = triage().judge(&report(Eyeliner, 1, signs)).unwrap();
        let keys: Vec<&str> = answer.now.iter().map(|say| &*say.key).collect();
        assert_eq!(keys[0], first, "{signs}: {keys:?}");
        assert!(2 <= keys.len(), "{signs}: {keys:?}");
    }
    let answer = triage().judge(&report(Eyeliner, 1, "eye_pain")).unwrap();
    assert_eq!(&*answer.now[0].key, "do_same_day_eye");
}

#[test]
fn who_tells_nothing_is_asked_and_never_reassured() {
    for treatment in Treatment::ALL {
        for signs in ["", "36.6C", "contact_lens_worn", "blood_thinner_taken"] {
            let answer = triage().judge(&report(*treatment, 50, signs)).unwrap();
            assert_eq!(answer.level, Artist, "{treatment} {signs}");
            assert_eq!(answer.ask, triage().questions(*treatment, 2), "{treatment} {signs}");
            assert!(answer.now.iter().all(|say| &*say.key != "do_expected"));
        }
        let told = triage().judge(&report(*treatment, 50, "itching 36.6C")).unwrap();
        assert!(told.ask.is_empty(), "{treatment}");
    }
    let answer = triage().judge(&report(Brows, 50, "pain? 36.6C")).unwrap();
    assert_eq!(answer.ask.len(), 1);
    assert_eq!(&*answer.ask[0].key, "ask_how");
    assert_eq!(answer.ask[0].symptoms, [Symptom::Pain]);
}

#[test]
fn without_a_zone_the_graver_day_counts() {
    // 80 hours after 13:00 it is day 3 in UTC, and day 4 east of it.
    let mut one = report(Brows, 80, "swelling~+");
    assert_eq!(triage().judge(&one).unwrap().level, Artist);
    one.zone = Some(jiff::tz::TimeZone::get("Asia/Tokyo").unwrap());
    let there = triage().judge(&one).unwrap();
    assert_eq!((there.level, there.day), (Doctor, 4));
    one.zone = None;
    let unknown = triage().judge(&one).unwrap();
    assert_eq!((unknown.level, unknown.day), (Doctor, 3));
}

/// What a sentence names to watch for, the rules know: NHS anaphylaxis and, for
/// the red flags, the plan's own words on the first day.
#[test]
fn every_sign_that_a_sentence_says_to_watch_for_raises_the_level() {
    use etui_schema::vocabulary::Language::En;
    let said = |key: &str| triage().texts().get(En, key).to_lowercase();
    let allergy: &[(&str, &[&str])] = &[
        ("breathing", &["breathing_trouble"]),
        ("swallowing", &["swallowing_trouble"]),
        ("tongue or throat", &["throat_or_tongue_swelling"]),
        ("dizziness", &["dizziness"]),
        ("vomiting", &["vomiting"]),
    ];
    for (words, signs) in allergy {
        assert!(said("do_same_day_allergy").contains(words), "{words}");
        for sign in *signs {
            for (treatment, hours, beside) in [
                (Brows, 5, "lip_or_face_swelling~"),
                (Brows, 5, "hives~"),
                (Scalp, 30 * D, "widespread_rash~"),
                (Areola, 3 * D, "lip_or_face_swelling~"),
                (Lips, 5, "swelling!+"),
                (Lips, 5, "swelling+ itching"),
                (Lips, 5, "swelling! itching"),
            ] {
                let alone = triage().judge(&report(treatment, hours, beside)).unwrap();
                let watched = alone.now.iter().any(|say| &*say.key == "do_same_day_allergy");
                assert!(watched, "{beside}");
                let both = format!("{beside} {sign}~");
                let told = triage().judge(&report(treatment, hours, &both)).unwrap();
                assert_eq!(told.level, Emergency, "{treatment} after {hours} h: {both}");
            }
        }
    }
    for (sentence, words, signs, least) in [
        ("do_same_day", "breathing", "breathing_trouble~", Emergency),
        ("do_same_day", "swallowing", "swallowing_trouble~", Emergency),
        ("do_same_day", "thinking", "confusion~", Emergency),
        ("do_doctor", "fever", "fever~", SameDay),
        ("do_doctor", "heat, pain or swelling that spreads", "spreading_heat~", SameDay),
        ("do_doctor_soon", "heat, pain or swelling that spreads", "spreading_pain~", SameDay),
        ("red_flags_brows", "breathe or swallow", "swallowing_trouble~", Emergency),
        ("red_flags_brows", "fainting", "faint_or_collapse~", Emergency),
        ("red_flags_brows", "pus", "pus~", SameDay),
        ("red_flags_brows", "strong or growing pain", "pain!", SameDay),
        ("red_flags_brows", "strong or growing pain", "pain+", SameDay),
        ("red_flags_brows", "a painful swollen lid", "lid_swelling~ pain~", SameDay),
        ("red_flags_brows", "blisters", "blisters~", SameDay),
        ("red_flags_brows", "change of sight", "vision_reduced~", SameDay),
    ] {
        assert!(said(sentence).contains(words), "{sentence}: {words}");
        for hours in [5, 3 * D, 20 * D] {
            let told = triage().judge(&report(Brows, hours, signs)).unwrap();
            assert!(least <= told.level, "{sentence}: {signs} after {hours} h: {}", told.level);
        }
    }
}

#[test]
fn no_words_of_a_studio_take_away_the_number_of_an_ambulance() {
    use etui_schema::vocabulary::Language::{De, En};
    let mut one = report(Brows, 5 * D, "wheeze!+");
    for own in ["the desk, 0", "call me, not 112"] {
        one.contacts.emergency = Some(own.into());
        for (country, language, number) in [
            (Some("GB"), En, "999 or 112"),
            (Some("DE"), De, "112"),
            (Some("US"), En, "911"),
            (None, En, "your local emergency number"),
            (Some("ZZ"), De, "die örtliche Notrufnummer"),
        ] {
            one.country = country.map(Into::into);
            let answer = triage().judge(&one).unwrap();
            let first = answer.now[0].in_language(triage().texts(), language);
            assert!(first.contains(&format!(": {number} ({own}).")), "{country:?} {first}");
            let call = answer.call.unwrap().in_language(triage().texts(), language);
            assert_eq!(call, format!("{number} ({own})"));
        }
    }
}
