//! Claims of sterility that are torn, of a share, of a part, or that hang on a condition: none makes
//! a pack fit, and claims of the whole pack stay what they are. Common practice, no source.

use etui_craft::label::{Policy, Printed};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 25);

fn is_fit(text: &str) -> bool {
    let text = format!("0.30 3RL LOT A1 EXP 2029-08-15 {text}");
    READER
        .read(&Printed { text: Some(&text), symbol: None }, AS_OF, Policy::default())
        .fitness
        .usable()
}

const LESS: &[&str] = &[
    // The method was torn away.
    "Sterilized by:",
    "Sterilized by ____",
    "Sterilized with",
    "Sterilised using",
    "Sterilized via",
    "Sterilisiert durch:",
    "Sterilisiert mit",
    "Esterilizado por",
    "Sterilisert med",
    "Sterilized (",
    "STERILE BY",
    "Sterile:",
    "STERILE: ____",
    "Sterilized by\nREF X1",
    // A share, or a bath.
    "Sterilized with 70% IPA",
    "Sterilized with 2% glutaraldehyde",
    "Sterilized with 0.5% bleach",
    "Sterilized with 3 % H2O2",
    "Sterilisiert mit 70% IPA",
    "Sterilisiert mit 0,5 % Chlor",
    "STERILE 50%",
    "STERILE EO 50%",
    "STERILE EO 99.9 %",
    // A part.
    "with STERILE R membrane",
    "Sterile membrane",
    "membrane sterile",
    "sterile safety membrane",
    "STERILE EO membrane only",
    "Sterile cartridge housing",
    "sterile tube",
    "Sterile Membran",
    // On a condition that is no damage of the pack.
    "STERILE EO if indicator is green",
    "Sterilized by EO if needed",
    "STERILE EO if requested",
    "STERILE EO wenn Indikator grün",
    "STERILE EO falls bestellt",
    "STERILE EO jeśli trzeba",
    "STERILE EO als groen",
    "STERILE EO hvis nødvendig",
    "STERILE EO dacă",
    "STERILE EO если",
];

const WHOLE: &[&str] = &[
    "Sterilized by EO",
    "Sterilized by: EO",
    "Sterilized with ethylene oxide",
    "Sterilisiert mit Ethylenoxid",
    "STERILE EO",
    "STERILE (EO)",
    "STERILE [EO]",
    "STERILE: EO",
    "STERILE EO 20 pcs",
    "STERILE R QTY 20",
    "STERILE EO unless opened or damaged",
    "Sterile unless package is damaged",
    "STERILE EO if package is intact",
    "STERILE R sterile if package is unopened and undamaged",
    "STERILE EO wenn die Verpackung unversehrt ist",
    "STERILE EO do not use if package is damaged",
    "sterile membrane cartridge",
    "STERILE EO safety membrane cartridges",
    "Sterile cartridges with membrane",
    "STERILE needle cartridge",
];

#[test]
fn a_claim_that_is_less_than_one_of_the_pack_is_asked_about() {
    let fit: Vec<_> = LESS.iter().filter(|text| is_fit(text)).collect();
    let held: Vec<_> = WHOLE.iter().filter(|text| !is_fit(text)).collect();
    assert!(fit.is_empty() && held.is_empty(), "fit: {fit:#?}\nheld: {held:#?}");
}
