//! What is found of a pack stays found, whatever the maker, a notice or a noun prints beside it; and no
//! claim of sterility is taken from a name or an advertisement. Firms and numbers are invented; common
//! practice, no source.

use etui_craft::label::{FitnessState, Policy, Printed};
use jiff::civil::{Date, date};
use proptest::prelude::*;

use crate::{READER, laws};

const AS_OF: Date = date(2026, 11, 30);
/// A pack that is fit, and one without its claim.
const PACK: &str = "3RL 0.30\nLOT A1234\nSTERILE EO\nEXP 2028-05\n";
const UNTOLD: &str = "3RL 0.30\nLOT A1234\nEXP 2028-05\n";

fn state(text: &str) -> FitnessState {
    let printed = Printed { text: Some(text), symbol: None };
    READER.read(&printed, AS_OF, Policy::default()).fitness.state()
}

/// Those of these texts that read as fit.
fn fit(texts: impl IntoIterator<Item = String>) -> Vec<String> {
    texts.into_iter().filter(|text| state(text) <= FitnessState::Fit).collect()
}

fn none_is_fit(texts: impl IntoIterator<Item = String>) {
    let fit = fit(texts);
    assert!(fit.is_empty(), "{}: {fit:#?}", fit.len());
}

/// What people write or stamp on a pack.
const FINDINGS: &[&str] = &[
    "DO NOT USE",
    "do not use",
    "RECALL",
    "QUARANTINE",
    "contaminated",
    "gesperrt",
    "GESPERRT",
    "used",
    "EXPIRED",
    "expired",
    "abgelaufen",
    "périmé",
    "caducado",
    "scaduto",
    "przeterminowane",
    "verlopen",
    "expirado",
    "opened",
    "damaged",
    "wet",
    "nass",
    "geöffnet",
    "beschädigt",
    "ouvert",
    "abierto",
    "aperto",
    "otwarte",
    "geopend",
    "aberto",
    "seal broken",
    "nicht verwenden",
    "not for use",
    "ausgesondert",
    "water stain",
    "water stains",
];

/// What packets print beside it.
const NEIGHBOURS: &[&str] = &[
    "CE 0123",
    "CE",
    "UKCA",
    "HA Needles Ltd",
    "AK Tattoo Supplies Ltd",
    "OM Brows Ltd",
    "JA Beauty GmbH",
    "ALS GmbH",
    "SE Cosmetics AB",
    "SI-1000 Ljubljana",
    "If package is damaged do not use",
    "When opened discard",
    "If the package is opened discard",
    "If damaged return",
    "If you have questions call +44 113 496 0123",
    "Bei Fragen: Tel. 030 1234567",
    "Wenn geöffnet nicht verwenden",
    "Si ouvert, ne pas utiliser",
    "Si está abierto, no utilizar",
    "Se aperto, non utilizzare",
    "Jeśli otwarte, nie używać",
    "Als geopend, niet gebruiken",
    "Se aberto, não utilizar",
    "Do not use if package is damaged",
    "Do not use if package is opened or wet",
    "Broken needles must be discarded",
    "Damaged packs must be returned",
    "Used needles must be disposed of",
    "Defekte Nadeln müssen entsorgt werden",
    "Needle cartridge",
    "Medical device",
    "Keep dry",
    "Made in China",
    "Foobar Ltd, Unit 5, 14 Mill Lane, Leeds",
];

#[test]
fn nothing_that_is_printed_beside_a_finding_takes_it_away() {
    let gaps = ["\n", ". ", "! ", " - ", "; "];
    let pairs =
        FINDINGS.iter().flat_map(|finding| NEIGHBOURS.iter().map(move |next| (finding, next)));
    let texts = pairs.flat_map(|(finding, next)| {
        let behind = format!("{PACK}{next}\n{finding}");
        let beside = gaps.map(|gap| format!("{finding}{gap}{next}"));
        let first = beside.clone().map(|said| format!("{said}\n{PACK}"));
        beside.map(|said| format!("{PACK}{said}")).into_iter().chain(first).chain([behind])
    });
    none_is_fit(texts);
}

/// On one line with what may not be a sentence of its own.
#[test]
fn nor_what_is_printed_on_its_line() {
    let more = [
        "Nadeln müssen entsorgt werden",
        "needles must be discarded",
        "Aiguilles cassées doivent être jetées",
        "Foobar Ltd",
        "When checked",
        "bei Fragen",
    ];
    let next = NEIGHBOURS.iter().chain(&more);
    none_is_fit(
        next.flat_map(|next| FINDINGS.iter().map(move |finding| format!("{PACK}{finding} {next}"))),
    );
}

/// A condition that forbids nothing, a name, another line: damage is found.
#[test]
fn a_condition_that_forbids_nothing_takes_no_damage_away() {
    let said = [
        "case opened",
        "outer case torn",
        "carrying case damaged",
        "When checked: seal broken",
        "SI-1000 Ljubljana\nopened",
        "Bei Lieferung beschädigt",
        "bei Anlieferung nass",
        "bei Kundin Müller geöffnet",
        "When unpacked it was damaged",
        "ok when delivered, now opened",
        "Als geöffnet gefunden",
        "si è aperto",
        "confezione si è aperta",
        "si è bagnata",
        "HA Needles Ltd\nopened",
        "ALS GmbH\nbeschädigt",
        "bei Acme GmbH\ngeöffnet",
        "si è aperto, non utilizzare",
        "when found opened",
        "sterile when packed, opened",
        "was checked when opened do not use",
        "When checked opened do not use",
        "in case opened",
    ];
    let more = said.map(|said| format!("{PACK}{said}"));
    none_is_fit(more.into_iter().chain(said.map(|said| format!("{said}\n{PACK}"))));
    for said in
        ["case opened", "When checked: seal broken", "Bei Lieferung beschädigt", "si è aperto"]
    {
        assert_eq!(state(&format!("{PACK}{said}")), FitnessState::Unfit, "{said}");
    }
}

/// A notice ends with its sentence, and with the damage that it joins.
#[test]
fn a_notice_is_followed_by_findings() {
    let notices = [
        ("Do not use if package is opened or wet", "damaged"),
        ("Do not use if wet", "opened"),
        ("Do not use if seal is missing", "opened"),
        ("Do not use if package is damaged", "opened"),
        ("Use only if package is intact", "opened"),
        ("Use only if undamaged", "damaged"),
        ("Sterile if pack is intact", "damaged"),
        ("Sterile unless opened", "opened"),
        ("Nicht verwenden wenn Packung geöffnet oder nass", "geöffnet"),
        ("Nicht verwenden, wenn Siegel fehlt", "Packung offen"),
        ("Verwendung nur bei unversehrter Packung", "geöffnet"),
        ("Niet gebruiken indien nat", "geopend"),
        ("Ne pas utiliser si mouillé", "ouvert"),
        ("If the package is damaged do not use", "wet"),
        ("If the package is damaged do not use", "needle bent"),
    ];
    none_is_fit(notices.iter().flat_map(|(notice, found)| {
        let gaps = [" ", ". ", " - ", "\n", "! ", " / ", ", "];
        let bracket = format!("{PACK}{notice} ({found})");
        gaps.map(|gap| format!("{PACK}{notice}{gap}{found}")).into_iter().chain([bracket])
    }));
}

/// A finding is no part of the sentence on many that is printed behind it.
#[test]
fn a_finding_is_no_part_of_a_sentence_on_many() {
    none_is_fit(
        [
            "damaged Broken needles must be discarded",
            "opened Damaged packs must be returned",
            "wet packs must be returned",
            "geöffnet Nadeln müssen entsorgt werden",
            "Geöffnet Nadeln müssen entsorgt werden",
            "Opened Packs must be returned",
            "Uszkodzone opakowania należy wyrzucić nicht verwenden",
            "opened Les aiguilles cassées doivent être jetées",
            "WET PACKS MUST BE RETURNED",
            "opened needles must be discarded",
            "Broken needles must be discarded do not use",
        ]
        .map(|said| format!("{PACK}{said}")),
    );
}

/// Sterile is what the maker says of the pack, and not his name or what he sells besides.
#[test]
fn no_claim_is_taken_from_a_name() {
    none_is_fit(
        [
            "Steril GmbH",
            "Sterile Supplies Ltd",
            "Sterile Beauty Ltd",
            "www.sterile-needles.com",
            "Tel. 030 12 Sterile Service",
            "Sterile Street 5, London",
            "Distributor of sterile products",
            "Sterile storage",
            "Sterile needles also available",
            "sterile cartridges sold separately",
            "sterile products recommended",
            "Sterile Needles Ltd",
            "info@sterile.example",
            "Aiguilles stériles disponibles",
            "Sterile Brows",
            "Sterile needles 24/7 available",
            "We sell sterile needles",
            "Sterile 24 Service",
            "Sterile needles by Foobar",
            "Sterile Needle Company",
            "Sterile Systems",
        ]
        .into_iter()
        .flat_map(|said| [format!("{UNTOLD}{said}"), format!("{said}\n{UNTOLD}")]),
    );
}

/// A noun behind a claim hides no doubt that stands behind it.
#[test]
fn a_noun_hides_no_doubt() {
    none_is_fit(
        [
            "cartridges required",
            "needles recommended",
            "needle ?",
            "Nadel fraglich",
            "needle illegible",
            "needle maybe",
            "cartridges sold separately",
            "when sealed",
            "Medical device ?",
            "Medical device revoked",
            "needle cartridge needle cartridge?",
            "Nadelmodul fraglich",
            "needles when sealed",
        ]
        .map(|said| format!("3RL 0.30\nLOT A1234\nEXP 2028-05\nSTERILE EO {said}")),
    );
}

/// What the end of a line leaves open is asked about, and throws no pack away.
#[test]
fn a_notice_on_two_lines_is_asked_about() {
    for said in [
        "Do not use if package is\ndamaged",
        "Do not use if\nseal is broken",
        "Nicht verwenden, wenn die Packung\ngeöffnet ist",
    ] {
        assert!(state(&format!("{PACK}{said}\n")) <= FitnessState::ToConfirm, "{said}");
    }
    none_is_fit(
        [
            "Do not use if seal is\nopened",
            "do not use\nif damaged return",
            "DO NOT USE\nIF DAMAGED RETURN",
            "Do not use if opened\no damaged",
        ]
        .map(|said| format!("{PACK}{said}")),
    );
}

/// Whole sentences on all packs leave it fit, and so do numbers of the maker.
#[test]
fn a_whole_sentence_finds_nothing() {
    let said = [
        "Do not use if package is opened or wet",
        "Do not use if wet",
        "If package is damaged do not use",
        "If opened, wet or damaged, do not use",
        "If damaged return",
        "When opened discard",
        "Nicht verwenden bei geöffneter Packung",
        "Ne pas utiliser si mouillé",
        "Niet gebruiken indien nat",
        "Used needles must be disposed of in a sharps container.",
        "VAT GB123456789",
        "CE 0123",
        "HA Needles Ltd",
        "ALS GmbH",
        "Do not use product if package is damaged",
        "Do not use if package is damagd",
        "Do not use if package is opened\nor wet",
        "Use only if package is not damaged or opened",
        "Sterile if package is not damaged",
        "Discard if opened",
        "Nur verwenden, wenn Verpackung nicht beschädigt ist",
    ];
    let asked = said.iter().filter(|said| FitnessState::Fit < state(&format!("{PACK}{said}\n")));
    let asked: Vec<_> = asked.collect();
    assert!(asked.is_empty(), "{asked:#?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(laws::cases(3_000)))]

    /// Law: a finding with anything of these before and behind it, in whatever order and parted by
    /// whatever sign, is a finding.
    #[test]
    fn no_neighbours_make_a_finding_milder(
        finding in prop::sample::select(FINDINGS),
        before in prop::collection::vec((prop::sample::select(NEIGHBOURS), prop::sample::select(&["\n", ". ", "; ", "! "])), 0..3),
        behind in prop::collection::vec((prop::sample::select(&["\n", ". ", "; ", " - ", "! "]), prop::sample::select(NEIGHBOURS)), 0..3),
        first in any::<bool>(),
    ) {
        let before: String = before.iter().map(|(said, gap)| format!("{said}{gap}")).collect();
        let behind: String = behind.iter().map(|(gap, said)| format!("{gap}{said}")).collect();
        let said = format!("{before}{finding}{behind}");
        let text = if first { format!("{said}\n{PACK}") } else { format!("{PACK}{said}") };
        prop_assert!(FitnessState::Fit < state(&text), "{text:?}");
    }
}
