//! Ordinary sentences of packs behind a claim with its method: they deny nothing, spoil nothing and leave
//! no date unread. Common practice, no source; a condition and what is to be done first are told in the
//! symbols' titles of ISO 15223-1.

use etui_craft::label::{FitnessReason, FitnessState, Outcome, Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 30);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

/// Sentences that say nothing of this pack.
const PLAIN: &[&str] = &[
    "Read instructions before use",
    "Inspect package before use",
    "See instructions for use",
    "Vor Gebrauch lesen",
    "Vor Hitze schützen",
    "Vor Licht schützen",
    "Vor Frost schützen",
    "Do not freeze",
    "Do not bend",
    "Do not recap",
    "Not for children",
    "Ne contient pas de latex",
    "Non pyrogène",
    "Lire avant utilisation",
    "Ler as instruções antes de usar",
    "Chronić przed światłem",
    "Voor professioneel gebruik",
    "Förvaras oåtkomligt för barn",
    "使用前请阅读说明书",
    "Vor Gebrauch Verpackung auf Beschädigungen prüfen",
    "Stérile tant que l'emballage n'est pas ouvert ou endommagé",
    "Estéril salvo que el envase esté abierto o dañado",
    "Sterile se la confezione è integra e non aperta",
    "Sterylne, o ile opakowanie nie jest uszkodzone",
    "Estéril salvo se a embalagem estiver aberta ou danificada",
    "Sterile until opened",
    "Do not use after expiry date",
    "Nicht nach Ablauf des Verfalldatums verwenden",
    "Ne pas utiliser après la date de péremption",
    "No utilizar después de la fecha de caducidad",
    "Non utilizzare dopo la data di scadenza",
    "Não utilizar após o prazo de validade",
    "Niet gebruiken na de vervaldatum",
    "Använd inte efter utgångsdatum",
    "Does not contain latex",
    "Enthält kein Latex",
    "No contiene látex",
    "Dispose of in a sharps container",
    "Discard after use",
    "Contents sterile unless opened or damaged",
    "Steril verpackt",
    "Aiguilles stériles",
    "individually packed sterile",
];

/// The places of a sentence on a pack: behind the claim, before all, before the claim, behind a full stop.
fn places(said: &str) -> [String; 4] {
    [
        format!("0.30 5RL LOT BM1 EXP 2028-01 STERILE EO\n{said}"),
        format!("{said}\n0.30 5RL LOT BM1 EXP 2028-01 STERILE EO"),
        format!("0.30 5RL LOT BM1 EXP 2028-01\n{said}\nSTERILE EO"),
        format!("0.30 5RL LOT BM1 EXP 2028-01 STERILE EO. {said}."),
    ]
}

fn faults(said: &[&str], worst: FitnessState) -> Vec<String> {
    let texts = said.iter().flat_map(|said| places(said));
    let faults = texts.filter_map(|text| {
        let fitness = read(&text).fitness;
        let why: Vec<_> = fitness.reasons().collect();
        (worst < fitness.state()).then(|| format!("{text:?}: {why:?}"))
    });
    faults.collect()
}

#[test]
fn an_ordinary_sentence_leaves_a_pack_fit() {
    let faults = faults(PLAIN, FitnessState::Fit);
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// Sentences that no list has: a person may look, and no pack is thrown away for one.
#[test]
fn a_sentence_that_nobody_knows_forbids_nothing() {
    let said = [
        "Manufactured for Beauty Supplies Ltd",
        "Suitable for most machines",
        "Nicht über 30 °C lagern",
        "Do not leave in the car",
        "Keep upright before opening",
        "Wash hands first",
        "First aid: rinse with water",
        "Non adatto ai bambini",
    ];
    let faults = faults(&said, FitnessState::ToConfirm);
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A denial, and work that is still to be done, are heard over the end of a line.
#[test]
fn a_denial_on_the_next_line_is_heard() {
    for said in [
        "NO",
        "NOT STERILE",
        "NON-STERILE",
        "Sterilize before use",
        "must be sterilized before use",
        "Vor Gebrauch sterilisieren",
        "Vor Gebrauch autoklavieren",
        "Steriliseres før brug",
        "À stériliser avant usage",
    ] {
        let text = format!("0.30 5RL LOT BM1 EXP 2028-01 STERILE EO\n{said}");
        let fitness = read(&text).fitness;
        let not = fitness.reasons().any(|reason| reason == FitnessReason::NotSterile);
        assert!(not, "{text} {:?}", fitness.reasons().collect::<Vec<_>>());
    }
}

/// Numbers of streets, shares, temperatures and norms beside a whole reading.
#[test]
fn a_number_of_something_else_disturbs_no_reading() {
    let mut faults = Vec::new();
    for said in [
        "Made in Germany\nHauptstr. 12",
        "Made in Spain\nMain Street 45b",
        "Made in Germany\nBeispielweg 7, Berlin",
        "Made in Germany\n10115 Berlin",
        "Made in Germany\nBeauty GmbH, Hauptstr. 12a",
        "20-80%",
        "10 % - 85 %",
        "5 °C - 30 °C",
        "30°C",
        "316L stainless steel",
        "Stainless Steel 316L",
        "(EU) 2017/745",
        "EN 17169:2020",
        "EN ISO 15223-1:2021",
        "© 2025",
    ] {
        for text in [
            format!("0.30 5RL LOT X2 EXP 2028-01 STERILE EO\n{said}"),
            format!("0.30 5RL LOT X2 STERILE EO EXP 2028-01\n{said}"),
            format!("{said}\n0.30 5RL LOT X2 STERILE EO EXP 2028-01"),
        ] {
            let reading = read(&text);
            let day = reading.packet.expires_on.as_ref().map(|said| (said.date, said.doubtful));
            let whole =
                reading.outcome == Outcome::Clear && day == Some((date(2028, 1, 31), false));
            let why: Vec<_> = reading.fitness.reasons().collect();
            if !whole || !reading.fitness.usable() {
                faults.push(format!(
                    "{text:?}: {:?} {day:?} {why:?} {:?}",
                    reading.outcome, reading.unread
                ));
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// What may be of the needle is asked about wherever it stands.
#[test]
fn a_number_that_may_be_of_the_needle_is_asked_about() {
    for said in ["12", "Size 12", "0.35", "#12", "Nadel 35", "7RS", "12035 RL"] {
        let reading = read(&format!("0.30 5RL LOT X2 EXP 2028-01 STERILE EO\n{said}"));
        assert_ne!(reading.outcome, Outcome::Clear, "{said}");
    }
}

/// A notice that ends in a word of expiry with a date behind it is that word.
#[test]
fn a_notice_with_its_date_is_a_word_of_expiry() {
    for said in [
        "Do not use after expiry date 2028-06",
        "Do not use after the expiry date: 2028-06",
        "Nicht nach Ablauf des Verfalldatums verwenden\nEXP 2028-06",
    ] {
        let reading = read(&format!("0.30 5RL LOT BM1 STERILE EO\n{said}"));
        let day = reading.packet.expires_on.as_ref().map(|said| said.date);
        let why: Vec<_> = reading.fitness.reasons().collect();
        assert_eq!(
            (day, reading.fitness.usable()),
            (Some(date(2028, 6, 30)), true),
            "{said} {why:?}"
        );
    }
}

/// What must be done with many, and what is forbidden under a condition: on all packs, none on this.
const GENERAL: &[&str] = &[
    "Broken needles must be discarded",
    "Broken or bent needles must be discarded",
    "Damaged packs must not be used",
    "All damaged packages should be discarded",
    "Bent needles shall not be used",
    "Used needles must be disposed of",
    "Discard after use",
    "Discard after each use",
    "Dispose of in sharps container",
    "Dispose of used needles in a sharps container",
    "If the package is damaged do not use",
    "If package is damaged, do not use",
    "If opened or damaged do not use",
    "In case of damage do not use",
    "Defekte Nadeln müssen entsorgt werden",
    "Beschädigte Nadeln dürfen nicht verwendet werden",
    "Wenn die Verpackung beschädigt ist, nicht verwenden",
    "Les aiguilles cassées doivent être jetées",
    "Si l'emballage est endommagé, ne pas utiliser",
    "Se la confezione è danneggiata, non utilizzare",
    "Si el envase está dañado, no utilizar",
    "Uszkodzone igły należy wyrzucić",
    "Jeżeli opakowanie jest uszkodzone, nie używać",
    "Als de verpakking beschadigd is, niet gebruiken",
];

#[test]
fn a_sentence_on_all_packs_leaves_a_pack_fit() {
    let faults = faults(GENERAL, FitnessState::Fit);
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// The same words of this pack: one, behind a stop, on another line, or without what must be done.
#[test]
fn a_finding_is_no_sentence_on_all_packs() {
    let mut fit = Vec::new();
    for said in [
        "needles broken",
        "Broken needle",
        "Broken needles",
        "broken needles inside",
        "Broken needles. Must be discarded",
        "needles broken must be discarded",
        "package damaged",
        "package damaged must be discarded",
        "Damaged package must be discarded",
        "opened 3.11.",
        "opened, must not be used",
        "opened\nNeedles must be kept dry",
        "Broken needles must be discarded, opened",
        "Broken needles must be discarded opened",
        "Broken needles must be discarded\nbroken",
        "used needles inside",
        "DISCARD",
        "Discard after 2026-01",
        "seal broken do not use",
        "If in doubt ask\nDO NOT USE",
        "If package is damaged. DO NOT USE",
        "Do not use in case the package is damaged\nDO NOT USE",
        "If the package is damaged do not use\nDO NOT USE",
        "If the package is intact do not use",
        "Do not use if lot is B7",
        "DO NOT USE IF THE BATCH IS B7",
        "do not use if this lot number",
        "Do not use if REF 4711",
        "Do not use if made before 2026-05",
        "Do not use if packed 2024",
        "Do not use if 2024",
        "Nicht verwenden wenn die Charge B7 ist",
    ] {
        fit.extend(places(said).into_iter().filter(|text| read(text).fitness.usable()));
    }
    assert!(fit.is_empty(), "{}: {fit:#?}", fit.len());
}

/// Nouns of print and of the trade right behind a claim; what nobody knows there is asked about.
#[test]
fn a_noun_of_the_trade_behind_a_claim_denies_nothing() {
    let text = |said: &str| format!("0.30 5RL LOT BM1 EXP 2028-01 STERILE EO {said}");
    for said in [
        "Medical",
        "Medical device",
        "Needle cartridge",
        "Barcode",
        "Sterile barrier system",
        "Beauty",
        "Nadelmodul",
        "Cartouche",
        "Aghi",
        "\nFoobar Ltd",
        "\nFabricado en China",
        "\nQuantité 20",
        "\nTel 040 5550 123",
    ] {
        let fitness = read(&text(said)).fitness;
        assert!(fitness.usable(), "{said} {:?}", fitness.reasons().collect::<Vec<_>>());
    }
    for said in [
        "Medical device not",
        "Medical: no",
        "Foobar",
        "Mediocal",
        "revoked",
        "\nIN BLSTER",
        "\nFoobar",
        "pack",
        "\nFabricado en China no",
    ] {
        assert!(!read(&text(said)).fitness.usable(), "{said}");
    }
}
