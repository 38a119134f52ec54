//! Words in many languages that a pack is not to be used, is spoilt or withdrawn, wherever they stand;
//! stains and breaks inside words of damage. Common practice, no source.

use etui_craft::label::{Policy, Printed};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn is_fit(text: &str) -> bool {
    let text = format!("0.30 3RL LOT A1 EXP 2028-07-14 {text}");
    let printed = Printed { text: Some(&text), symbol: None };
    READER.read(&printed, AS_OF, Policy::default()).fitness.usable()
}

const FORBIDDEN: &[&str] = &[
    "не применять",
    "не годен",
    "не використовувати",
    "да не се използва",
    "nu utilizați",
    "ei saa käyttää",
    "nepoužívat",
    "nepoužívať",
    "ne koristiti",
    "ne uporabljajte",
    "nenaudoti",
    "nelietot",
    "kullanmayınız",
    "jangan digunakan",
    "ห้ามใช้",
    "لا تستخدم",
    "אין להשתמש",
    "μη χρησιμοποιείτε",
    "不要使用",
    "不合格",
    "不可",
    "使用しないこと",
    "사용하지 마십시오",
    "उपयोग न करें",
    "huwag gamitin",
    "onbruikbaar",
    "unusable",
    "no good",
    "no apto",
];

/// For practice and for show: what the shelves of schools and fairs hold.
const FOR_PRACTICE: &[&str] = &[
    "for practice skin",
    "training use only",
    "educational use only",
    "not for clients",
    "nur für Übungszwecke",
    "zu Übungszwecken",
    "Nur für Schulungszwecke!",
    "Schulungsmaterial",
    "Trainingsnadel",
    "nur für Training",
    "nur für Kunsthaut",
    "Probepackung",
    "nicht am Menschen anwenden",
    "pour entraînement",
    "échantillon",
    "solo per pratica",
    "para prácticas",
    "muestra",
    "apenas para treino",
    "alleen om te oefenen",
    "tylko do ćwiczeń",
    "для обучения",
    "eğitim için",
    "仅供练习",
    "練習用",
    "교육용",
];

const SPOILT: &[&str] = &[
    "pack pierced",
    "HOLE IN POUCH",
    "seal peeled open",
    "package open",
    "water damage",
    "crushed",
    "leaking",
    "seal compromised",
    "integrity lost",
    "tampered",
    "ON HOLD",
    "CANCELLED",
    "DUMMY",
    "out of date",
    "overdue",
    "unfit",
    "boil 20 min",
    "Packung nass",
    "Loch im Beutel",
    "undicht",
    "Siegel gebrochen",
    "emballage ouvert",
    "rappel de lot",
    "date dépassée",
    "envase roto",
    "упаковка вскрыта",
    "срок истёк",
    "包装破裂",
    "已使用",
    "召回",
    "已失效",
    "開封済み",
    "使用済み",
    "回収",
    "개봉됨",
    "기한 만료",
    "süresi dolmuş",
    "DO NOT REUSE dam@ged",
    "PACKAGE DAMAG3D",
    "da.maged",
    "PACKAGE DAMAG\nED",
    "Verpackung be\nschädigt",
    "emballage endom*mag",
    "包装破|损",
];

#[test]
fn what_is_not_to_be_used_is_not_fit() {
    let all = FORBIDDEN.iter().chain(FOR_PRACTICE).chain(SPOILT);
    let said = all.flat_map(|word| {
        ["STERILE EO MADE IN CHINA", "STERILE EO SINGLE USE\n"].map(|pack| format!("{pack} {word}"))
    });
    let fit: Vec<_> = said.filter(|text| is_fit(text)).collect();
    assert!(fit.is_empty(), "{}: {fit:#?}", fit.len());
}

/// Every stain in a word of damage.
#[test]
fn no_stain_hides_a_word_of_damage() {
    let mut fit = Vec::new();
    for word in ["damaged", "beschädigt", "endommagé", "poškozen", "uszkodzone", "повреждена"]
    {
        let letters: Vec<char> = word.chars().collect();
        for at in 1..letters.len() {
            for stain in ['@', '*', '3', '|', '.', '\n', '-'] {
                let mut instead = letters.clone();
                instead[at] = stain;
                let mut beside = letters.clone();
                beside.insert(at, stain);
                for stained in [instead, beside] {
                    let stained: String = stained.into_iter().collect();
                    let text = format!("STERILE EO MADE IN CHINA {stained}");
                    fit.extend(is_fit(&text).then_some(stained));
                }
            }
        }
    }
    assert!(fit.is_empty(), "{}: {fit:?}", fit.len());
}

#[test]
fn notices_and_materials_forbid_nothing() {
    for text in [
        "STERILE EO MADE IN CHINA Do not use if package is damaged",
        "STERILE EO Nie używać, jeśli opakowanie jest uszkodzone",
        "STERILE EO Må ikke anvendes, hvis pakningen er beskadiget",
        "STERILE EO Ne uporabljajte, če je ovojnina poškodovana",
        "STERILE EO Nicht verwenden, wenn die Verpackung beschädigt ist",
        "STERILE EO Bei beschädigter Verpackung nicht verwenden",
        "STERILE EO Bei beschädigter Verpackung nicht anwenden",
        "STERILE EO Nicht anwenden, wenn die Verpackung beschädigt ist",
        "STERILE EO Bei geöffneter oder beschädigter Verpackung nicht verwenden",
        "STERILE EO 不锈钢",
        "STERILE EO MADE IN CHINA 如果包装破损禁止使用",
        "STERILE EO MADE IN CHINA No. 12",
    ] {
        assert!(is_fit(text), "{text}");
    }
}
