//! The words of aftercare: steps, symptoms, levels of urgency, healed results.
//!
//! [`Level`], [`Severity`] and [`Trend`] are declared from mild to grave, so
//! that their order is the order of their members.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

pub use super::symptom::Symptom;
use super::{CivilDate, Malformed, UnknownWord, words};

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
