//! The words of needles, treatments and skin, and of what stands behind a rule.

use super::words;

words! {
    /// How the needles of one configuration are bound together.
    Grouping, "grouping" {
        /// Round bundle, points together.
        RoundLiner = "round_liner",
        /// Round bundle, points further apart than a liner of the same count.
        RoundShader = "round_shader",
        /// Round; liner or shader is not told.
        Round = "round",
        /// A ring of needles with no needle in the middle.
        HollowLiner = "hollow_liner",
        /// One straight row.
        Flat = "flat",
        /// One row whose tips lie on a slanted line.
        SlopedFlat = "sloped_flat",
        /// Two rows, staggered and spread.
        WovenMagnum = "woven_magnum",
        /// Two rows, close together.
        StackedMagnum = "stacked_magnum",
        /// Two rows on an arc, so that the edges reach less deep.
        CurvedMagnum = "curved_magnum",
        /// Magnum; woven or stacked is not told.
        Magnum = "magnum",
        /// A hand-held row of pins; not for a machine.
        HandBlade = "hand_blade",
    }
}

impl Grouping {
    /// The trade code used in canonical text. Hand blades have no code of the
    /// machine trade, so the word itself stands there.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::RoundLiner => "RL",
            Self::RoundShader => "RS",
            Self::Round => "R",
            Self::HollowLiner => "HRL",
            Self::Flat => "F",
            Self::SlopedFlat => "SL",
            Self::WovenMagnum => "M1",
            Self::StackedMagnum => "M2",
            Self::CurvedMagnum => "RM",
            Self::Magnum => "M",
            Self::HandBlade => "BLADE",
        }
    }
}

words! {
    /// Length class of the ground point. Only the order is safe to assert:
    /// makers differ widely on the millimetres.
    Taper, "taper" {
        /// Short taper (ST).
        Short = "short",
        /// Medium taper (MT).
        Medium = "medium",
        /// Long taper (LT).
        Long = "long",
        /// Extra long taper (XLT).
        ExtraLong = "extra_long",
    }
}

impl Taper {
    /// The trade code used in canonical text.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Short => "ST",
            Self::Medium => "MT",
            Self::Long => "LT",
            Self::ExtraLong => "XLT",
        }
    }
}

words! {
    /// What is treated.
    Treatment, "treatment" {
        /// Eyebrows.
        Brows = "brows",
        /// Lips.
        Lips = "lips",
        /// Lash line and eyeliner.
        Eyeliner = "eyeliner",
        /// Scalp.
        Scalp = "scalp",
        /// Areola.
        Areola = "areola",
    }
}

words! {
    /// What the healed result should look like.
    Effect, "effect" {
        /// Single drawn hairs.
        HairStrokes = "hair_strokes",
        /// Visible separate dots.
        Pixelated = "pixelated",
        /// An even, airy veil.
        SoftShading = "soft_shading",
        /// A solid, saturated field.
        DenseFill = "dense_fill",
        /// A thin line.
        FineLine = "fine_line",
        /// A strong line.
        BoldLine = "bold_line",
        /// Dots that stand for cut hair.
        ScalpDots = "scalp_dots",
        /// Areola tones and texture.
        AreolaShading = "areola_shading",
    }
}

words! {
    /// How firmly the artist works.
    Hand, "hand" {
        /// Light.
        Light = "light",
        /// Medium.
        Medium = "medium",
        /// Heavy.
        Heavy = "heavy",
    }
}

words! {
    /// How far the machine's drive yields when the needle meets resistance.
    Give, "give" {
        /// Yields early.
        Soft = "soft",
        /// In between.
        Medium = "medium",
        /// Hardly yields.
        Firm = "firm",
    }
}

words! {
    /// Where on the body the needle works.
    Site, "site" {
        /// Brow.
        Brow = "brow",
        /// Upper lid, away from the lash margin.
        UpperLid = "upper_lid",
        /// Lash margin.
        LashLine = "lash_line",
        /// Lip.
        Lip = "lip",
        /// Scalp.
        Scalp = "scalp",
        /// Areola.
        Areola = "areola",
    }
}

words! {
    /// Sun-reaction type of the skin (Fitzpatrick). It is not a skin colour.
    Phototype, "phototype" {
        /// Always burns, never tans.
        I = "I",
        /// Usually burns, tans little.
        II = "II",
        /// Sometimes burns, tans gradually.
        III = "III",
        /// Rarely burns, tans well.
        IV = "IV",
        /// Very rarely burns, tans deeply.
        V = "V",
        /// Never burns.
        VI = "VI",
    }
}

words! {
    /// Self-reported oiliness.
    Oiliness, "oiliness" {
        /// Dry.
        Dry = "dry",
        /// Normal.
        Normal = "normal",
        /// Oily in the middle of the face, not elsewhere.
        Combination = "combination",
        /// Oily.
        Oily = "oily",
    }
}

words! {
    /// How thick the skin is judged to be.
    Thickness, "thickness" {
        /// Fine.
        Fine = "fine",
        /// Normal.
        Normal = "normal",
        /// Thick.
        Thick = "thick",
    }
}

words! {
    /// How easily the skin reacts.
    Sensitivity, "sensitivity" {
        /// Hardly reacts.
        Low = "low",
        /// Ordinary.
        Normal = "normal",
        /// Reacts quickly.
        High = "high",
    }
}

words! {
    /// A sign seen on the skin.
    SkinSign, "skin sign" {
        /// Visible flakes.
        Flaking = "flaking",
        /// Cracks.
        Cracked = "cracked",
        /// Bruises from small knocks.
        BruisesEasily = "bruises_easily",
        /// Purple patches without a known knock.
        Purpura = "purpura",
        /// White star-shaped or linear marks without injury.
        Pseudoscars = "pseudoscars",
        /// Tears easily.
        TearsEasily = "tears_easily",
        /// Visible large pores.
        LargePores = "large_pores",
        /// A scar in the area.
        Scarred = "scarred",
        /// Fine broken vessels.
        BrokenVessels = "broken_vessels",
        /// Lax skin.
        Lax = "lax",
    }
}

words! {
    /// The outcome of a screening or a check.
    Verdict, "verdict" {
        /// Nothing stands against it.
        Proceed = "proceed",
        /// May go ahead if the conditions are met.
        ProceedWithConditions = "proceed_with_conditions",
        /// Not yet; a date or an event is named.
        Hold = "hold",
        /// Somebody licensed must look first.
        Refer = "refer",
        /// Not by this studio.
        Decline = "decline",
        /// Answers are missing; nothing is assumed.
        Incomplete = "incomplete",
    }
}

words! {
    /// What kind of thing stands behind a number, a rule or a sentence.
    EvidenceKind, "evidence kind" {
        /// Statute or statutory instrument.
        Law = "law",
        /// Official guideline, regulator, public-health body, standard.
        Guideline = "guideline",
        /// Study with numbers, or mathematics that was checked.
        Study = "study",
        /// Expert review or consensus.
        Expert = "expert",
        /// Habit of the trade; nothing published behind the number.
        CommonPractice = "common_practice",
        /// Our own modelling assumption: named, ranged, changeable.
        Model = "model",
        /// From memory, unverified; never shown to users as a source.
        Memory = "memory",
    }
}

words! {
    /// How sure we are that a value is right as stated.
    Confidence, "confidence" {
        /// High.
        High = "high",
        /// Medium.
        Medium = "medium",
        /// Low.
        Low = "low",
    }
}

/// The table of the languages, one line each, English first: its word here, on the wire and in the
/// names of its files, and as the name of a member.
macro_rules! languages {
    ($d:tt $($(#[$doc:meta])* $name:ident = $word:literal $tag:ident,)+) => {
        words! {
            /// Language of the texts in an answer.
            Language, "language" { $($(#[$doc])* $name = $word,)+ }
        }

        /// What a macro makes of each language, such as the name of a file or a member:
        /// `[macro] args` becomes `macro!{ (args) En "en" en, De "de" de, }`, in the order of
        /// `Language::ALL`.
        #[macro_export]
        macro_rules! each_language {
            ([$d($d made:tt)+] $d($d with:tt)*) => {
                $d($d made)+ ! { ($d($d with)*) $($name $word $tag,)+ }
            };
        }
        pub(crate) use each_language;
    };
}

languages! { $
    /// English.
    En = "en" en,
    /// German.
    De = "de" de,
}

words! {
    /// How German texts speak to clients. Artists are addressed with Sie.
    Address, "form of address" {
        /// Formally.
        Sie = "sie",
        /// As among friends.
        Du = "du",
    }
}
