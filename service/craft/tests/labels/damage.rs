//! Words of damage, of wet, of opening and of use in the languages that packs carry, wherever they
//! stand; and instructions that only name them. Common practice, no source: what people write on a
//! pack, and what packs say after the symbols of ISO 15223-1.

use etui_craft::label::{FitnessReason, FitnessState, Policy, Printed, Reading};
use jiff::civil::{Date, date};
use serde::Deserialize;

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

/// The lines of a pack that is fit.
const PACK: [&str; 4] = ["0.25 5RS", "LOT B7", "STERILE EO", "EXP 2028-03"];

/// The pack with a word in every place: on a line of its own, and behind each line.
fn marked(word: &str) -> Vec<String> {
    let own = (0..=PACK.len()).map(|at| {
        let mut lines = PACK.to_vec();
        lines.insert(at, word);
        lines.join("\n")
    });
    let behind = (0..PACK.len()).map(|at| {
        let mut lines = PACK.map(str::to_owned);
        lines[at] = format!("{} {word}", PACK[at]);
        lines.join("\n")
    });
    own.chain(behind).chain([format!("{} {word}", PACK.join(" "))]).collect()
}

/// Opened, its seal broken, torn, pierced: it is not to be used.
const SPOILT: &[&str] = &[
    "åbnet",
    "brudt",
    "öppnad",
    "öppnat",
    "bruten",
    "åpnet",
    "brutt",
    "opnað",
    "rofið",
    "kibontva",
    "felbontva",
    "desfăcut",
    "naruszone",
    "porušeno",
    "porušené",
    "rikutud",
    "розкрито",
    "открыто",
    "hapur",
    "miftuħ",
    "oscailte",
    "obert",
    "angebrochen",
    "angerissen",
    "aufgeschnitten",
    "aufgeplatzt",
    "unverschlossen",
    "broken",
    "оштећено",
    "skemmt",
    "dëmtuar",
    "malmès",
    "rikki",
    "trasig",
    "revnet",
    "rozdarte",
    "rasgado",
    "durchstochen",
    "perforiert",
    "löchrig",
    "verbogen",
    "gequetscht",
    "soiled",
    "durchnässt",
    "BROKEN",
    "Öppnad",
    "ANGEBROCHEN",
    "ВІДКРИТО",
];

/// Wet, used before, or a word that may say so: a person looks.
const ASKED: &[&str] = &[
    "açık",
    "open",
    "bent",
    "nass",
    "feucht",
    "wet",
    "damp",
    "moist",
    "våt",
    "vått",
    "våd",
    "mouillé",
    "humide",
    "mokre",
    "mokré",
    "mokro",
    "märkä",
    "märg",
    "nedves",
    "nat",
    "vochtig",
    "bagnato",
    "mojado",
    "húmedo",
    "molhado",
    "ud",
    "umed",
    "ıslak",
    "blaut",
    "slapjš",
    "šlapias",
    "мокър",
    "мокрый",
    "υγρό",
    "βρεγμένο",
    "rabljeno",
    "naudota",
    "notað",
    "utilizat",
    "verwendet",
    "benutzt",
    "Retoure",
    "Rückläufer",
    "second-hand",
    "returned",
    "мокро",
    "használt",
];

#[test]
fn a_word_of_damage_is_heard_wherever_it_stands() {
    let mut faults = Vec::new();
    for (word, worst) in SPOILT
        .iter()
        .map(|word| (word, FitnessState::Unfit))
        .chain(ASKED.iter().map(|word| (word, FitnessState::ToConfirm)))
    {
        for text in marked(word) {
            let state = read(&text).fitness.state();
            if state < worst {
                faults.push(format!("{text:?}: {state:?}"));
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[derive(Deserialize)]
struct Rows {
    field: Vec<Row>,
}

#[derive(Deserialize)]
struct Row {
    field: String,
    words: Vec<String>,
}

/// Every word of the tables, whatever its language.
#[test]
fn no_word_of_damage_or_use_of_the_tables_leaves_a_pack_fit() {
    let rows: Rows = toml::from_str(include_str!("../../rules/label/fields.toml")).unwrap();
    let of = ["damaged", "doubtful", "not_for_use"];
    let rows = rows.field.iter().filter(|row| of.contains(&&*row.field));
    let packs = rows.flat_map(|row| &row.words).flat_map(|word| marked(word));
    let fit: Vec<String> = packs.filter(|text| read(text).fitness.usable()).collect();
    assert!(fit.is_empty(), "{}: {fit:#?}", fit.len());
}

/// What to look for, how to open it and where to keep it says nothing of this pack.
const INSTRUCTIONS: &[&str] = &[
    "Do not use if package is damaged",
    "Do not use if package is damaged or open",
    "Do not use if package is damaged or wet",
    "Do not use if package is opened or damaged",
    "Do not use if seal is broken",
    "Do not use if package is open, wet or damaged",
    "Sterile unless package is open or damaged",
    "Keep dry",
    "Protect from moisture",
    "Keep from getting wet",
    "Peel to open",
    "Easy open",
    "Open here",
    "Nicht verwenden, wenn Verpackung beschädigt",
    "Nicht verwenden, wenn die Packung beschädigt oder geöffnet ist",
    "Nicht verwenden, wenn Verpackung geöffnet oder nass ist",
    "Vor Nässe schützen",
    "Vor Feuchtigkeit schützen",
    "Ne pas utiliser si l'emballage est ouvert ou endommagé",
    "Ne pas utiliser si l'emballage est mouillé",
    "Conserver à l'abri de l'humidité",
    "Non utilizzare se la confezione è aperta o danneggiata",
    "Proteggere dall'umidità",
    "Conservare in luogo asciutto",
    "No utilizar si el envase está abierto o dañado",
    "Mantener seco",
    "Proteger de la humedad",
    "Não utilizar se a embalagem estiver aberta ou danificada",
    "Niet gebruiken als de verpakking geopend of beschadigd is",
    "Droog bewaren",
    "Notið ekki ef umbúðir eru opnaðar eða skemmdar",
    "Tużax jekk il-pakkett ikun miftuħ jew bil-ħsara",
    "Mos e përdorni nëse paketimi është i hapur ose i dëmtuar",
    "No utilitzar si l'envàs està obert o malmès",
    "Må ikke anvendes, hvis emballagen er åbnet eller beskadiget",
    "Använd inte om förpackningen är öppnad eller skadad",
    "Må ikke brukes hvis pakningen er åpnet eller skadet",
    "Förvaras torrt",
    "Nie używać, jeśli opakowanie jest otwarte lub uszkodzone",
    "Nepoužívat, jestliže je balení porušeno",
    "Ne használja, ha a csomagolás sérült vagy nyitott",
    "Не использовать, если упаковка вскрыта или повреждена",
    "Ambalaj açık ise kullanmayınız",
];

#[test]
fn an_instruction_names_no_damage_of_this_pack() {
    let mut faults = Vec::new();
    for text in INSTRUCTIONS.iter().map(|said| format!("{}\n{said}", PACK.join("\n"))) {
        let fitness = read(&text).fitness;
        if !fitness.usable() {
            faults.push(format!("{text:?}: {:?}", fitness.reasons().collect::<Vec<_>>()));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A code that begins like such a word, a unit, and a word behind another pack's instruction.
#[test]
fn a_doubtful_word_is_a_word_of_its_own() {
    for text in [
        "0.25 5RS LOT NAT2308 STERILE EO EXP 2028-03",
        "0.25 5RS LOT OPEN23 STERILE EO EXP 2028-03",
        "0.25 5RS LOT B7 STERILE EO 20 ud. EXP 2028-03",
    ] {
        let reading = read(text);
        assert!(reading.fitness.usable(), "{text} {:?}", reading.fitness);
        assert!(reading.packet.lot.is_some(), "{text}");
    }
    for text in [
        "Do not use if package is damaged\nöppnad\n0.25 5RS LOT B7 STERILE EO EXP 2028-03",
        "0.25 5RS Do not use if seal is cut LOT B7 STERILE EO EXP 2028-03\nbroken",
    ] {
        let fitness = read(text).fitness;
        assert!(fitness.reasons().any(|r| r == FitnessReason::Damaged), "{text} {fitness:?}");
    }
}
