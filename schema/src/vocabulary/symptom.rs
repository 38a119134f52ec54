//! What a client may tell after a treatment.

use super::words;

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
