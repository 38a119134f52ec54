//! The words of aftercare: steps, symptoms, levels of urgency, healed results.
//!
//! [`Level`], [`Severity`] and [`Trend`] are declared from mild to grave, so
//! that their order is the order of their members.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{CivilDate, Malformed, UnknownWord};

words! {
    /// What a step of an aftercare plan is.
    StepKind, "step kind" {
        /// What the client will see or feel.
        Tell = "tell",
        /// What the client does.
        Do = "do",
        /// What the client leaves alone.
        Avoid = "avoid",
        /// What is looked at, and who is asked.
        Check = "check",
    }
}

words! {
    /// What the client has told that changes the aftercare.
    Condition, "condition" {
        /// Diabetes, however well controlled.
        Diabetes = "diabetes",
        /// Cold sores now and then.
        ColdSoreHistory = "cold_sore_history",
        /// Smokes.
        Smoker = "smoker",
    }
}

words! {
    /// A day of the week.
    DayOfWeek, "day of the week" {
        /// Monday.
        Monday = "monday",
        /// Tuesday.
        Tuesday = "tuesday",
        /// Wednesday.
        Wednesday = "wednesday",
        /// Thursday.
        Thursday = "thursday",
        /// Friday.
        Friday = "friday",
        /// Saturday.
        Saturday = "saturday",
        /// Sunday.
        Sunday = "sunday",
    }
}

words! {
    /// Why an instant is not where the clock alone would have put it.
    Shift, "shift" {
        /// The local time did not exist; it was read with the offset before the gap.
        Gap = "gap",
        /// The local time came twice; the first one was taken.
        Doubled = "doubled",
        /// It fell into the quiet hours; their end was taken.
        QuietHours = "quiet_hours",
        /// It fell on a closed day; the next open day was taken.
        ClosedDay = "closed_day",
        /// The usual time of the day had passed when the treatment ended.
        AfterTreatment = "after_treatment",
        /// Another message goes out at that time; this one waits a while.
        Spaced = "spaced",
    }
}

words! {
    /// A phase of wound healing. The phases overlap.
    HealingPhase, "healing phase" {
        /// Bleeding stops.
        Haemostasis = "haemostasis",
        /// Redness, warmth, swelling.
        Inflammation = "inflammation",
        /// Debris is cleared.
        CleanUp = "clean_up",
        /// New tissue grows.
        Proliferation = "proliferation",
        /// Tissue settles.
        Maturation = "maturation",
    }
}

words! {
    /// How urgent a report of symptoms is, from nothing to be done to an ambulance.
    Level, "level" {
        /// Part of ordinary healing.
        Expected = "expected",
        /// The artist looks at it.
        Artist = "artist",
        /// A doctor within days.
        Doctor = "doctor",
        /// Somebody licensed on the same day.
        SameDay = "same_day",
        /// An ambulance, now.
        Emergency = "emergency",
    }
}

words! {
    /// How strong a symptom is, as the client says it.
    Severity, "severity" {
        /// Noticed, not in the way.
        Mild = "mild",
        /// In the way.
        Moderate = "moderate",
        /// Hard to bear.
        Severe = "severe",
    }
}

words! {
    /// Where a symptom is going, compared with the day before.
    Trend, "trend" {
        /// Less than the day before.
        Better = "better",
        /// As it was.
        Same = "same",
        /// More than the day before.
        Worse = "worse",
    }
}

words! {
    /// What a client may tell, in plain words.
    Symptom, "symptom" {
        /// Swollen throat or tongue.
        ThroatOrTongueSwelling = "throat_or_tongue_swelling",
        /// Trouble breathing.
        BreathingTrouble = "breathing_trouble",
        /// Trouble swallowing.
        SwallowingTrouble = "swallowing_trouble",
        /// Whistling breath.
        Wheeze = "wheeze",
        /// Confused.
        Confusion = "confusion",
        /// Slurred speech.
        SlurredSpeech = "slurred_speech",
        /// Fainted or collapsed.
        FaintOrCollapse = "faint_or_collapse",
        /// Extreme shivering.
        ExtremeShivering = "extreme_shivering",
        /// Mottled, blue, grey or unusually pale skin, lips, palms or soles.
        MottledBlueOrPaleSkin = "mottled_blue_or_pale_skin",
        /// No urine all day.
        NoUrineAllDay = "no_urine_all_day",
        /// Pain in the eye itself.
        EyePain = "eye_pain",
        /// Light hurts the eyes.
        LightHurts = "light_hurts",
        /// Sees less or blurred.
        VisionReduced = "vision_reduced",
        /// Pus from the eye.
        EyePus = "eye_pus",
        /// Pigment, cream or another chemical in the eye.
        ChemicalInEye = "chemical_in_eye",
        /// Lids stuck together.
        StickyLids = "sticky_lids",
        /// Watering eyes.
        WateryEyes = "watery_eyes",
        /// Heat that spreads past the treated area.
        SpreadingHeat = "spreading_heat",
        /// Pain that spreads past the treated area.
        SpreadingPain = "spreading_pain",
        /// Swelling that spreads past the treated area.
        SpreadingSwelling = "spreading_swelling",
        /// Redness that spreads past the treated area.
        SpreadingRedness = "spreading_redness",
        /// Feels feverish; a measured temperature goes into its own field.
        Fever = "fever",
        /// Shivering fits.
        Shivering = "shivering",
        /// Vomiting.
        Vomiting = "vomiting",
        /// Dizziness.
        Dizziness = "dizziness",
        /// Pus: thick, yellow or green.
        Pus = "pus",
        /// Streaks running away from the area.
        RedStreaks = "red_streaks",
        /// A rash away from the treated area.
        WidespreadRash = "widespread_rash",
        /// Blisters.
        Blisters = "blisters",
        /// Tingling, as before a cold sore.
        Tingling = "tingling",
        /// Firm lumps under the skin.
        Nodules = "nodules",
        /// Small heads with pus.
        Pustules = "pustules",
        /// A swollen gland, for example in front of the ear.
        SwollenGland = "swollen_gland",
        /// Raised patches within the pigment.
        RaisedPlaques = "raised_plaques",
        /// A scar that grows past the edge of the area.
        GrowingScar = "growing_scar",
        /// Redness within the area.
        Redness = "redness",
        /// Swelling within the area.
        Swelling = "swelling",
        /// Warmth within the area.
        Heat = "heat",
        /// Pain within the area.
        Pain = "pain",
        /// Throbbing.
        Throbbing = "throbbing",
        /// Itching.
        Itching = "itching",
        /// Tight skin.
        Tightness = "tightness",
        /// Flakes.
        Flaking = "flaking",
        /// Flakes that come late or slowly.
        SlowFlaking = "slow_flaking",
        /// Scabs.
        Scabs = "scabs",
        /// Clear fluid.
        Weeping = "weeping",
        /// Bleeding.
        Bleeding = "bleeding",
        /// Bruising.
        Bruising = "bruising",
        /// Dry, chapped skin.
        Dryness = "dryness",
        /// The colour seems to have gone.
        LooksFaded = "looks_faded",
        /// Patchy.
        Patchy = "patchy",
        /// Too light.
        TooLight = "too_light",
        /// Too dark.
        TooDark = "too_dark",
        /// Uneven.
        Uneven = "uneven",
        /// Hives: itching weals that come fast, away from the treated area.
        Hives = "hives",
        /// Swollen lips or face away from the treated area.
        LipOrFaceSwelling = "lip_or_face_swelling",
        /// Hoarse all of a sudden.
        HoarseVoice = "hoarse_voice",
        /// A sudden cough that does not stop.
        PersistentCough = "persistent_cough",
        /// Suddenly very sleepy, hard to wake.
        SuddenSleepiness = "sudden_sleepiness",
        /// A fit.
        Seizure = "seizure",
        /// The heart pounds, races or stumbles.
        Palpitations = "palpitations",
        /// Pain in the chest.
        ChestPain = "chest_pain",
        /// Numb mouth, ringing ears, a metallic taste or twitching after a numbing product.
        MouthNumbOrRingingEars = "mouth_numb_or_ringing_ears",
        /// Pain in the belly.
        TummyPain = "tummy_pain",
        /// Diarrhoea.
        Diarrhoea = "diarrhoea",
        /// Aching muscles, or worn out as with the flu.
        AchesOrTiredness = "aches_or_tiredness",
        /// A very strong headache.
        HeadacheSevere = "headache_severe",
        /// A stiff neck.
        StiffNeck = "stiff_neck",
        /// Feels very ill.
        FeelsVeryIll = "feels_very_ill",
        /// Pain far stronger or wider than the wound explains.
        PainBeyondTheWound = "pain_beyond_the_wound",
        /// No feeling in the area.
        LossOfFeeling = "loss_of_feeling",
        /// Black, purple or grey blotches or blisters where it is swollen or hurts.
        DarkBlotches = "dark_blotches",
        /// An open sore, a black scab or skin that dies.
        UlcerOrBlackScab = "ulcer_or_black_scab",
        /// Smells bad.
        BadSmell = "bad_smell",
        /// Honey-coloured crusts that spread.
        HoneyCrusts = "honey_crusts",
        /// Groups of blisters that spread, or small punched-out sores.
        BlisterClusters = "blister_clusters",
        /// A band of blisters on one side that burns.
        OneSidedBlisters = "one_sided_blisters",
        /// A red eye.
        RedEye = "red_eye",
        /// Something got into the eye.
        SomethingInEye = "something_in_eye",
        /// Numbing cream got into the eye.
        NumbingCreamInEye = "numbing_cream_in_eye",
        /// The eye cannot be opened.
        EyeCannotOpen = "eye_cannot_open",
        /// The eye bulges, or hurts when it moves.
        EyeBulgesOrMovesPainfully = "eye_bulges_or_moves_painfully",
        /// Sees double.
        DoubleVision = "double_vision",
        /// Swollen lids.
        LidSwelling = "lid_swelling",
        /// Itching, scaling rash of the lids.
        RashOfTheLids = "rash_of_the_lids",
        /// Contact lenses were worn since the treatment.
        ContactLensWorn = "contact_lens_worn",
        /// Bleeding that does not stop after 20 minutes of pressure.
        BleedingWillNotStop = "bleeding_will_not_stop",
        /// Takes a blood thinner.
        BloodThinnerTaken = "blood_thinner_taken",
        /// A rash at the edge of a plaster, an ointment or a cream.
        RashUnderPlaster = "rash_under_plaster",
        /// Spots that do not heal.
        UnhealedSpots = "unhealed_spots",
        /// One colour is swollen, itches or scales.
        OneColourRaised = "one_colour_raised",
        /// A firm, raised or itching scar.
        RaisedScar = "raised_scar",
        /// Swelling or redness of the tattooed skin after sun.
        AfterSun = "after_sun",
        /// Burning in the tattooed skin inside a magnetic-resonance scanner.
        BurningInScanner = "burning_in_scanner",
        /// A cough of weeks.
        LongCough = "long_cough",
        /// Painful joints.
        JointPain = "joint_pain",
        /// The breast beyond the area is red, warm or swollen, fluid comes, or the side of an implant is swollen.
        BreastRedWarmOrSwollen = "breast_red_warm_or_swollen",
    }
}

words! {
    /// A part of the healed work that is judged on its own.
    ReviewZone, "review zone" {
        /// The whole area at once.
        Whole = "whole",
        /// Inner end of the brow.
        BrowFront = "brow_front",
        /// Middle of the brow.
        BrowBody = "brow_body",
        /// Highest part of the brow.
        BrowArch = "brow_arch",
        /// Outer end of the brow.
        BrowTail = "brow_tail",
        /// Line around the lips.
        LipBorder = "lip_border",
        /// Body of the upper lip.
        UpperLip = "upper_lip",
        /// Body of the lower lip.
        LowerLip = "lower_lip",
        /// Corners of the mouth.
        LipCorners = "lip_corners",
        /// Inner third of the lid.
        LidInner = "lid_inner",
        /// Middle third of the lid.
        LidMiddle = "lid_middle",
        /// Outer third of the lid.
        LidOuter = "lid_outer",
        /// Front of the hairline.
        Hairline = "hairline",
        /// Top of the scalp.
        Crown = "crown",
        /// Sides of the scalp.
        Temples = "temples",
        /// A scar on the scalp.
        ScalpScar = "scalp_scar",
        /// Left areola.
        LeftAreola = "left_areola",
        /// Right areola.
        RightAreola = "right_areola",
    }
}

words! {
    /// Share of the placed colour that is still there.
    Retention, "retention class" {
        /// Less than a quarter.
        Under25 = "under_25",
        /// A quarter to less than a half.
        From25To50 = "from_25_to_50",
        /// A half to less than three quarters.
        From50To75 = "from_50_to_75",
        /// Three quarters or more.
        From75 = "from_75",
    }
}

words! {
    /// How the healed colour compares with what was planned.
    HealedColour, "healed colour" {
        /// As planned.
        AsPlanned = "as_planned",
        /// Lighter.
        TooLight = "too_light",
        /// Darker.
        TooDark = "too_dark",
        /// Bluer or greyer.
        TooCool = "too_cool",
        /// Redder or more orange.
        TooWarm = "too_warm",
        /// Edges have spread.
        Blurred = "blurred",
    }
}

words! {
    /// What the surface shows once healed.
    HealedSurface, "healed surface" {
        /// Smooth.
        Smooth = "smooth",
        /// Texture or shine that was not there before.
        Textured = "textured",
        /// Raised within the area.
        Raised = "raised",
        /// A scar that grows past the edge.
        GrowingScar = "growing_scar",
        /// Lumps or raised patches within the pigment.
        Lumps = "lumps",
        /// Not healed yet.
        Unhealed = "unhealed",
    }
}

/// A time of the day to the minute, written `HH:MM`.
///
/// ```
/// use etui_schema::vocabulary::aftercare::TimeOfDay;
/// let nine: TimeOfDay = "09:00".parse().unwrap();
/// assert_eq!(nine.to_string(), "09:00");
/// assert!("9:00".parse::<TimeOfDay>().is_err());
/// assert!("24:00".parse::<TimeOfDay>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TimeOfDay(pub jiff::civil::Time);

impl fmt::Display for TimeOfDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}:{:02}", self.0.hour(), self.0.minute())
    }
}

impl FromStr for TimeOfDay {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        let malformed = || Malformed::new(text, "a time of the day written HH:MM, 00:00 to 23:59");
        let number = |part: &str| match part.as_bytes() {
            [a @ b'0'..=b'9', b @ b'0'..=b'9'] => {
                i8::try_from((a - b'0') * 10 + (b - b'0')).map_err(|_| malformed())
            }
            _ => Err(malformed()),
        };
        let (hour, minute) = text.split_once(':').ok_or_else(malformed)?;
        jiff::civil::Time::new(number(hour)?, number(minute)?, 0, 0)
            .map(Self)
            .map_err(|_| malformed())
    }
}

textual!(TimeOfDay, "TimeOfDay", { "type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$", "examples": ["09:00"] });

/// A day on which the studio sees nobody: a day of the week, or a date.
///
/// ```
/// use etui_schema::vocabulary::aftercare::ClosedDay;
/// for text in ["sunday", "2027-12-25"] {
///     assert_eq!(text.parse::<ClosedDay>().unwrap().to_string(), text);
/// }
/// assert!("Sunday".parse::<ClosedDay>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClosedDay {
    /// Every week.
    Weekly(DayOfWeek),
    /// Once.
    On(CivilDate),
}

impl fmt::Display for ClosedDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Weekly(day) => day.fmt(f),
            Self::On(date) => date.fmt(f),
        }
    }
}

impl FromStr for ClosedDay {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str = "a day of the week (monday to sunday) or a date written YYYY-MM-DD";
        text.parse()
            .map(Self::Weekly)
            .or_else(|_: UnknownWord| text.parse().map(Self::On))
            .map_err(|_: Malformed| Malformed::new(text, WANTED))
    }
}

textual!(ClosedDay, "ClosedDay", { "type": "string", "pattern": "^(monday|tuesday|wednesday|thursday|friday|saturday|sunday|[0-9]{4}-[0-9]{2}-[0-9]{2})$", "examples": ["sunday", "2027-12-25"] });
