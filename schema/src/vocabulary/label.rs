//! The words of packets: how far a label could be read, what it says, and
//! whether the pack may be used.

use super::words;

words! {
    /// The last usable day of "use by" and "use before" with a month only.
    /// EXP and the hourglass always mean the end of the month.
    #[derive(Default)]
    MonthRule, "month rule" {
        /// Both readings are shown; the earlier counts.
        #[default]
        Earlier = "earlier",
        /// The end of the month named.
        EndOfMonth = "end_of_month",
        /// The end of the month before.
        EndOfMonthBefore = "end_of_month_before",
    }
}

words! {
    /// How far a label could be read.
    ReadingOutcome, "outcome" {
        /// One reading, complete, nothing to ask.
        Clear = "clear",
        /// Several readings, or one that a person should confirm.
        Ambiguous = "ambiguous",
        /// One reading that lacks something, or none and no contradiction.
        Incomplete = "incomplete",
        /// Not read; `refusal` or the symbol's faults say why.
        Refused = "refused",
    }
}

words! {
    /// Why a text was not read at all.
    RefusalCode, "refusal" {
        /// There is no text.
        Empty = "empty",
        /// Longer than 2,000 characters.
        TooLong = "too_long",
        /// Control characters.
        ControlCharacters = "control_characters",
        /// Marks that change the direction of text.
        DirectionMarks = "direction_marks",
        /// Invisible characters.
        InvisibleCharacters = "invisible_characters",
        /// Pictures.
        Pictures = "pictures",
        /// Two labels in one text.
        SeveralLabels = "several_labels",
        /// A number is no needle size that is sold.
        NoSuchSize = "no_such_size",
        /// Marked as acupuncture needles are.
        Filiform = "filiform",
        /// Nothing of a needle packet was found.
        NotALabel = "not_a_label",
        /// The reader itself failed: our fault, and not the label's.
        ReaderFailed = "reader_failed",
    }
}

words! {
    /// Whether a pack may be used on the day.
    #[derive(Default)]
    FitnessState, "fitness state" {
        /// In date and sterile by what stands on it, and nothing is open.
        #[default]
        Fit = "fit",
        /// Something is open that a person must settle before the pack is
        /// used. What is not known is open.
        ToConfirm = "to_confirm",
        /// What stands on it forbids the use.
        Unfit = "unfit",
    }
}

words! {
    /// What speaks about the use of a pack on the day, and the best state that
    /// a pack can be in with it.
    FitnessReason, "fitness reason" {
        /// Past its expiry. Unfit.
        Expired = "expired",
        /// Print and symbol contradict each other, or two lots are printed. To confirm.
        LabelConflict = "label_conflict",
        /// A value of the symbol ends like a date that lost its separator. To confirm.
        SwallowedSeparator = "swallowed_separator",
        /// The expiry lies before the manufacture. To confirm.
        DatesContradict = "dates_contradict",
        /// Made after the day asked about, or longer before its expiry than packs
        /// last. To confirm.
        ManufactureImprobable = "manufacture_improbable",
        /// A date that has passed stands without a word; it may be the expiry. To confirm.
        DateWithoutWord = "date_without_word",
        /// Not sterile, or to be sterilised first. Unfit.
        NotSterile = "not_sterile",
        /// Damaged or opened. Unfit.
        Damaged = "damaged",
        /// Marked for more than one use. Unfit.
        Reusable = "reusable",
        /// Nothing could be read that says what the pack is. To confirm.
        Unreadable = "unreadable",
        /// The expiry has several readings; the earliest counts. To confirm.
        AmbiguousExpiry = "ambiguous_expiry",
        /// No expiry was read, which does not mean that there is none. To confirm.
        ExpiryUnknown = "expiry_unknown",
        /// A date of expiry stands there and could not be read. To confirm.
        ExpiryUnreadable = "expiry_unreadable",
        /// The word in front of the expiry is known from no source. To confirm.
        ExpiryWordUnproven = "expiry_word_unproven",
        /// The expiry lies further ahead than packs last. To confirm.
        ExpiryImprobable = "expiry_improbable",
        /// Something is struck through, or has marks over it that are of no letter.
        /// To confirm.
        StruckOut = "struck_out",
        /// A word, or a negation that belongs to nothing that was read, may say that the
        /// pack is not to be used. To confirm.
        NotForUse = "not_for_use",
        /// Nothing clear was read about sterility. To confirm.
        SterilityUnknown = "sterility_unknown",
        /// What stands beside the lot may be a part of its code. To confirm.
        LotUnreadable = "lot_unreadable",
        /// The symbol has faults; what is wrong in it was not used. To confirm.
        SymbolFaulty = "symbol_faulty",
        /// The pack says to look for damage before use. Fit.
        CheckPack = "check_pack",
    }
}

impl FitnessReason {
    /// The best state that a pack with this reason can be in.
    #[must_use]
    pub const fn state(self) -> FitnessState {
        match self {
            Self::Expired | Self::NotSterile | Self::Damaged | Self::Reusable => {
                FitnessState::Unfit
            }
            Self::LabelConflict
            | Self::SwallowedSeparator
            | Self::DatesContradict
            | Self::ManufactureImprobable
            | Self::DateWithoutWord
            | Self::Unreadable
            | Self::AmbiguousExpiry
            | Self::ExpiryUnknown
            | Self::ExpiryUnreadable
            | Self::ExpiryWordUnproven
            | Self::ExpiryImprobable
            | Self::StruckOut
            | Self::NotForUse
            | Self::SterilityUnknown
            | Self::LotUnreadable
            | Self::SymbolFaulty => FitnessState::ToConfirm,
            Self::CheckPack => FitnessState::Fit,
        }
    }

    /// Key of the question that settles it; none if no answer makes the pack
    /// usable, or none is needed.
    #[must_use]
    pub const fn question(self) -> Option<&'static str> {
        match self.state() {
            FitnessState::ToConfirm => Some(self.as_str()),
            FitnessState::Fit | FitnessState::Unfit => None,
        }
    }
}

words! {
    /// Where a value was read.
    Origin, "origin" {
        /// In the printed text.
        Text = "text",
        /// In the symbol.
        Symbol = "symbol",
    }
}

words! {
    /// How much of a day was told.
    Precision, "precision" {
        /// The day.
        Day = "day",
        /// The month.
        Month = "month",
        /// The year.
        Year = "year",
    }
}

words! {
    /// How a pack was sterilised (ISO 15223-1, 5.2).
    Sterilisation, "sterilisation" {
        /// Ethylene oxide.
        EthyleneOxide = "ethylene_oxide",
        /// Irradiation.
        Irradiation = "irradiation",
        /// Aseptic processing.
        Aseptic = "aseptic",
        /// Steam or dry heat.
        Heat = "heat",
        /// Sterile; how is not told.
        NotTold = "not_told",
    }
}

words! {
    /// Whose data a symbol carries.
    SymbolStandard, "standard" {
        /// GS1 elements.
        Gs1 = "gs1",
        /// HIBC supplier data.
        Hibc = "hibc",
        /// A trade item number alone.
        Gtin = "gtin",
        /// Neither: free text.
        Text = "text",
    }
}

words! {
    /// What a part of the text was read as.
    SpanKind, "span" {
        /// Diameter of one needle.
        Diameter = "diameter",
        /// Number of needles.
        Count = "count",
        /// How the needles are bound.
        Grouping = "grouping",
        /// Length of the point.
        Taper = "taper",
        /// A word that changes what the rest means.
        Mark = "mark",
        /// Batch.
        Lot = "lot",
        /// Expiry.
        ExpiresOn = "expires_on",
        /// Manufacture.
        MadeOn = "made_on",
        /// Catalogue number.
        Reference = "reference",
        /// Trade item number.
        Gtin = "gtin",
        /// Serial number.
        Serial = "serial",
        /// Pieces in the pack.
        Quantity = "quantity",
        /// Sterile or not, and how.
        Sterility = "sterility",
        /// Used once or more often.
        SingleUse = "single_use",
        /// A notice to the user.
        Notice = "notice",
        /// A remark that the pack is damaged.
        Damage = "damage",
        /// The printed form of a symbol.
        Elements = "elements",
        /// A word without meaning for the configuration.
        PackWord = "pack_word",
    }
}
