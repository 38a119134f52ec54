//! Whether a bottle of pigment may be used, by its label.
//!
//! Entry 75 of Annex XVII to REACH (Regulation (EU) 2020/2081), paragraph 7,
//! as the Swedish Medical Products Agency lists it: (a) the statement that it
//! is a mixture for use in tattoos or permanent make-up, (b) a number that
//! identifies the batch, (c) the ingredients, (d) "pH regulator" where a
//! substance is there only for that, (e) the nickel and (f) the chromium (VI)
//! notice, and, after a Nordic control of 2023-24, (g) safety instructions. A
//! bottle without the statement may not be used in the EU, and the artist
//! passes the label on to the client before the procedure. An expiry date is
//! not part of the paragraph. Whether Great Britain has an equal rule is not
//! confirmed, so that is not claimed.
//!
//! That a label says "REACH compliant" proves nothing (same control).

use crate::words::words;
pub use etui_schema::check_materials::{
    PigmentFitness as Fitness, PigmentLabelSeen as PigmentLabel, SeenOnLabel as Printed,
};

/// What the client is allergic to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct MetalAllergies {
    /// Nickel, or a metal that was not named.
    pub nickel: bool,
    /// Chromium, or a metal that was not named.
    pub chromium: bool,
}

/// The question of the screening that asks for allergies to metals. It does not
/// ask which, so a yes counts for each.
pub const METALS_ASKED: &str = "nickel_allergy";

impl MetalAllergies {
    /// What the answer to [`METALS_ASKED`] says.
    #[must_use]
    pub fn told(yes: bool) -> Self {
        Self { nickel: yes, chromium: yes }
    }
}

/// One thing about a bottle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Remark {
    /// No statement of use: may not be used in the EU. Law.
    NotForSkin,
    /// It says that it contains nickel, and the client is allergic.
    NickelForAllergic,
    /// It says that it contains chromium (VI), and the client is allergic.
    ChromiumForAllergic,
    /// A part of the label is missing.
    Missing(Part),
    /// A part of the label was not looked at.
    Look(Part),
    /// A notice is not proof of the contrary: metals can be present unmarked.
    NoProof,
}

impl Remark {
    /// The word used in answers.
    #[must_use]
    pub fn code(self) -> String {
        match self {
            Self::NotForSkin => "not_for_skin".to_owned(),
            Self::NickelForAllergic => "nickel_for_allergic".to_owned(),
            Self::ChromiumForAllergic => "chromium_for_allergic".to_owned(),
            Self::Missing(part) => format!("missing_{}", part.as_str()),
            Self::Look(part) => format!("look_{}", part.as_str()),
            Self::NoProof => "no_proof".to_owned(),
        }
    }
}

words! {
    /// A part of the label.
    Part {
        /// The statement of use.
        Statement = "statement",
        /// The batch number.
        Batch = "batch",
        /// The ingredients.
        Ingredients = "ingredients",
        /// The nickel notice.
        NickelNotice = "nickel_notice",
        /// The chromium (VI) notice.
        ChromiumNotice = "chromium_notice",
        /// Safety instructions.
        SafetyInstructions = "safety_instructions",
    }
}

/// Judges a bottle for a client: the fitness, and every remark, gravest first.
///
/// The notices stand on a label only where the metal is present, so their
/// absence is no fault; for a client who is allergic they must be looked for.
#[must_use]
pub fn judge(label: PigmentLabel, allergic: MetalAllergies) -> (Fitness, Vec<Remark>) {
    let mut remarks = Vec::new();
    for (part, printed) in [
        (Part::Statement, label.statement),
        (Part::Batch, label.batch),
        (Part::Ingredients, label.ingredients),
        (Part::SafetyInstructions, label.safety_instructions),
    ] {
        match (part, printed) {
            (_, Printed::Yes) => {}
            (Part::Statement, Printed::No) => remarks.push(Remark::NotForSkin),
            (part, Printed::No) => remarks.push(Remark::Missing(part)),
            (part, Printed::NotSeen) => remarks.push(Remark::Look(part)),
        }
    }
    for (is_allergic, notice, part, remark) in [
        (allergic.nickel, label.nickel_notice, Part::NickelNotice, Remark::NickelForAllergic),
        (
            allergic.chromium,
            label.chromium_notice,
            Part::ChromiumNotice,
            Remark::ChromiumForAllergic,
        ),
    ] {
        match (is_allergic, notice) {
            (false, _) => {}
            (true, Printed::Yes) => remarks.push(remark),
            (true, Printed::No) => remarks.push(Remark::NoProof),
            (true, Printed::NotSeen) => remarks.push(Remark::Look(part)),
        }
    }
    remarks.sort_unstable();
    remarks.dedup();
    let fitness = remarks.iter().map(|remark| fitness(*remark)).max().unwrap_or(Fitness::Usable);
    (fitness, remarks)
}

fn fitness(remark: Remark) -> Fitness {
    match remark {
        // Without a batch nothing can be traced; without ingredients nothing judged.
        Remark::NotForSkin | Remark::Missing(Part::Batch | Part::Ingredients) => Fitness::NotUsable,
        Remark::NickelForAllergic | Remark::ChromiumForAllergic => Fitness::NotForThisClient,
        Remark::Look(_) | Remark::Missing(_) => Fitness::Look,
        Remark::NoProof => Fitness::Usable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: PigmentLabel = PigmentLabel {
        statement: Printed::Yes,
        batch: Printed::Yes,
        ingredients: Printed::Yes,
        nickel_notice: Printed::No,
        chromium_notice: Printed::No,
        safety_instructions: Printed::Yes,
    };

    #[test]
    fn labels_are_judged_by_paragraph_seven() {
        // Regulation (EU) 2020/2081; Swedish Medical Products Agency, labelling.
        let none = MetalAllergies::default();
        let nickel = MetalAllergies { nickel: true, ..none };
        let both = MetalAllergies { nickel: true, chromium: true };
        let no_statement = PigmentLabel { statement: Printed::No, ..GOOD };
        let with_nickel = PigmentLabel { nickel_notice: Printed::Yes, ..GOOD };
        let unseen = PigmentLabel { nickel_notice: Printed::NotSeen, ..GOOD };
        for (label, allergic, fitness, first) in [
            (GOOD, none, "usable", None),
            (no_statement, none, "not_usable", Some(Remark::NotForSkin)),
            (with_nickel, none, "usable", None),
            (with_nickel, nickel, "not_for_this_client", Some(Remark::NickelForAllergic)),
            (GOOD, nickel, "usable", Some(Remark::NoProof)),
            (unseen, nickel, "look", Some(Remark::Look(Part::NickelNotice))),
            (unseen, none, "usable", None),
            (
                PigmentLabel { chromium_notice: Printed::Yes, ..GOOD },
                both,
                "not_for_this_client",
                Some(Remark::ChromiumForAllergic),
            ),
            (
                PigmentLabel { batch: Printed::No, ..GOOD },
                none,
                "not_usable",
                Some(Remark::Missing(Part::Batch)),
            ),
            (
                PigmentLabel { safety_instructions: Printed::No, ..GOOD },
                none,
                "look",
                Some(Remark::Missing(Part::SafetyInstructions)),
            ),
            (PigmentLabel::default(), none, "look", Some(Remark::Look(Part::Statement))),
        ] {
            let (found, remarks) = judge(label, allergic);
            assert_eq!((found.as_str(), remarks.first().copied()), (fitness, first), "{label:?}");
        }
    }
}
