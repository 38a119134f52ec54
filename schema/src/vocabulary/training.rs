//! The words of practice before a face.

use super::words;

words! {
    /// How an artist stands in the studio.
    ArtistStanding, "standing" {
        /// Works on her own answer.
        Artist = "artist",
        /// Learns: needs a sign-off for what she works with.
        Student = "student",
    }
}

impl ArtistStanding {
    /// Whether it is the usual one.
    #[must_use]
    pub fn is_artist(&self) -> bool {
        *self == Self::Artist
    }
}

words! {
    /// How far a sign-off goes. Each rung holds those below it.
    Rung, "rung" {
        /// Practised outside a face; may meet one only under a trainer's eye.
        PracticeSkin = "practice_skin",
        /// Works under a trainer's eye.
        UnderEye = "under_eye",
        /// Works alone.
        Alone = "alone",
    }
}

words! {
    /// How practice with a configuration stands.
    PracticeState, "state of practice" {
        /// Goes on.
        Practising = "practising",
        /// The results propose a sign-off; a person signs.
        ReadyToSign = "ready_to_sign",
        /// Signed off.
        Signed = "signed",
        /// Signed off, and later results speak against it.
        InDoubt = "in_doubt",
        /// The sign-off has ended.
        Lapsed = "lapsed",
        /// The sign-off was taken back.
        Withdrawn = "withdrawn",
    }
}

words! {
    /// One exercise on practice skin.
    DrillKey, "drill" {
        /// One row of single dots.
        SingleDots = "single_dots",
        /// Rows of dots at even distances.
        DotRows = "dot_rows",
        /// Dots strewn evenly, in no rows.
        ScatteredDots = "scattered_dots",
        /// Straight strokes side by side.
        StraightStrokes = "straight_strokes",
        /// Bent strokes side by side.
        CurvedStrokes = "curved_strokes",
        /// One long line.
        LongLine = "long_line",
        /// The outline of a circle.
        Circle = "circle",
        /// An even field.
        Field = "field",
        /// A field that thins out.
        FadingField = "fading_field",
        /// A field laid with a broad group.
        BroadField = "broad_field",
    }
}

words! {
    /// How close a drill is held to its targets.
    DrillLevel, "level" {
        /// To begin with.
        First = "first",
        /// For work on people.
        Working = "working",
        /// For fine work.
        Fine = "fine",
    }
}

words! {
    /// A paper, laid across.
    Paper, "paper" {
        /// 148 × 105 mm.
        A6 = "a6",
        /// 210 × 148 mm.
        A5 = "a5",
        /// 297 × 210 mm.
        A4 = "a4",
    }
}

words! {
    /// What is judged of a panel.
    Quantity, "quantity" {
        /// How many dots or strokes there are.
        Count = "count",
        /// How many dots were struck twice.
        Doubled = "doubled",
        /// How many dots are missing from their rows.
        Skipped = "skipped",
        /// Mean distance of neighbours, in mm.
        SpacingMm = "spacing_mm",
        /// Spread of that distance over its mean.
        SpacingCv = "spacing_cv",
        /// How far dots lie off their line, in mm.
        OffLineMm = "off_line_mm",
        /// Diameter of one mark, in mm.
        MarkMm = "mark_mm",
        /// Dots a square centimetre.
        PerCm2 = "per_cm2",
        /// Mean distance to the nearest dot over that of dots thrown at random.
        Regularity = "regularity",
        /// Side of the largest bare square, in mm.
        BareSquareMm = "bare_square_mm",
        /// Visible width of a stroke, in mm.
        WidthMm = "width_mm",
        /// Spread of the width over its mean.
        WidthCv = "width_cv",
        /// How far the middle line strays, in mm.
        StraightnessMm = "straightness_mm",
        /// Colour at the end of a stroke over that of its body.
        LiftOff = "lift_off",
        /// Height of a bent stroke over its chord, in mm; below 0 if it bends to the other
        /// side than was asked. Of a card on which no side was asked: above 0 with the belly
        /// to the right of strokes that run down, below those that run across.
        BowMm = "bow_mm",
        /// Breaks in a line.
        Gaps = "gaps",
        /// Spread of a circle's radius, in mm.
        RadiusSdMm = "radius_sd_mm",
        /// Distance between the ends of a closed line, in mm.
        ClosureMm = "closure_mm",
        /// Share of the panel under colour.
        Cover = "cover",
        /// Spread of the cover from one square millimetre to the next.
        Evenness = "evenness",
        /// Change of the cover along the panel, a mm.
        TrendPerMm = "trend_per_mm",
        /// Spread of the cover from row to row.
        Stripes = "stripes",
        /// Overworked spots.
        Overworked = "overworked",
    }
}

words! {
    /// A trainer's mark for what no picture shows.
    TrainerMark, "mark" {
        /// Good.
        Good = "good",
        /// Fair.
        Fair = "fair",
        /// Poor; the panel is not adequate.
        Poor = "poor",
    }
}

words! {
    /// Why a picture cannot be measured as a whole.
    SheetFault, "fault of a picture" {
        /// A mark of the frame is missing or covered, or there is no sheet.
        MarksMissing = "marks_missing",
        /// Paper and ink are too near each other.
        TooDark = "too_dark",
        /// The skin is as white as a picture gets.
        TooBright = "too_bright",
        /// Fewer than 140 pixels an inch.
        TooCoarse = "too_coarse",
        /// Blurred by more than 0.12 mm.
        TooBlurry = "too_blurry",
        /// The marks in the middle are off by more than 0.10 mm.
        NotFlat = "not_flat",
        /// Noise above 0.08 of the contrast.
        TooNoisy = "too_noisy",
        /// A JPEG below quality 70, by its tables.
        TooCompressed = "too_compressed",
        /// The marks are those of a sheet of another size than was told.
        WrongSize = "wrong_size",
    }
}

words! {
    /// Why one quantity cannot be read off a picture.
    QuantityFault, "fault of a quantity" {
        /// Nothing stands out from the skin: it is too pale, or nothing was drawn.
        TooFaint = "too_faint",
        /// Finer than the picture shows: by its blur, by fewer than 250 pixels an inch, or
        /// because the number lies nearer to what is adequate than it may be off.
        TooFine = "too_fine",
        /// The grain of the skin, or noise, is as dark as the lightest dots.
        TooNoisy = "too_noisy",
        /// No row of dots tells what one mark looks like.
        NoMark = "no_mark",
        /// Too uneven to tell a skip from a wide distance.
        TooUneven = "too_uneven",
        /// Fewer were found than it takes.
        TooFew = "too_few",
        /// It is not read off pictures.
        NotMeasured = "not_measured",
    }
}

words! {
    /// How the strokes of a panel run.
    Travel, "travel" {
        /// From left to right.
        Across = "across",
        /// From top to bottom.
        Down = "down",
    }
}

words! {
    /// How a practice sheet stands.
    SheetState, "state of a sheet" {
        /// It may still be handed in.
        Open = "open",
        /// Handed in, and no trainer has marked it.
        HandedIn = "handed_in",
        /// Handed in and marked.
        Marked = "marked",
        /// Not handed in by its day: it counts as missed.
        Missed = "missed",
    }
}
