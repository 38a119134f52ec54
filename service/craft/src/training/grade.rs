//! Whether a panel is adequate.

use etui_schema::drills::{
    DrillGrade, DrillGradeRequest, Drills, MeasuredQuantity, Panel, QuantityGrade, Target,
    TrainerMarks,
};
use etui_schema::vocabulary::{Language, Quantity, TrainerMark};

use super::Training;
use super::drills::DrillError;
use super::panels::tidy;
use crate::configuration::Model;
use crate::selection::Selector;

/// Why a panel is not graded.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GradeError {
    /// The drills are not made.
    #[error(transparent)]
    Drills(#[from] DrillError),
    /// There is no such panel.
    #[error("there is no panel {found}; these drills have {most}")]
    Panel {
        /// What was asked for.
        found: u8,
        /// The last one.
        most: usize,
    },
    /// A quantity stands twice.
    #[error("`{quantity}` stands here twice")]
    Twice {
        /// Where.
        at: usize,
        /// Which.
        quantity: Quantity,
    },
    /// A quantity is not judged of this drill.
    #[error("`{quantity}` is not judged of this panel; judged are: {judged}")]
    NotJudged {
        /// Where.
        at: usize,
        /// Which.
        quantity: Quantity,
        /// What is judged, comma separated.
        judged: String,
    },
    /// There is never less than none of a quantity.
    #[error("`{quantity}` is never below 0")]
    BelowNone {
        /// Where.
        at: usize,
        /// Which.
        quantity: Quantity,
    },
}

/// Refuses values that nobody can have measured.
///
/// # Errors
/// [`GradeError::BelowNone`].
pub fn measurable(values: &[MeasuredQuantity]) -> Result<(), GradeError> {
    let below = |one: &MeasuredQuantity| one.got < 0.0 && !has_two_sides(one.quantity);
    let found = values.iter().enumerate().find(|(_, one)| below(one));
    found.map_or(Ok(()), |(at, one)| Err(GradeError::BelowNone { at, quantity: one.quantity }))
}

/// Whether a quantity goes both ways from 0.
const fn has_two_sides(quantity: Quantity) -> bool {
    match quantity {
        Quantity::BowMm | Quantity::TrendPerMm => true,
        Quantity::Count
        | Quantity::Doubled
        | Quantity::Skipped
        | Quantity::SpacingMm
        | Quantity::SpacingCv
        | Quantity::OffLineMm
        | Quantity::MarkMm
        | Quantity::PerCm2
        | Quantity::Regularity
        | Quantity::BareSquareMm
        | Quantity::WidthMm
        | Quantity::WidthCv
        | Quantity::StraightnessMm
        | Quantity::LiftOff
        | Quantity::Gaps
        | Quantity::RadiusSdMm
        | Quantity::ClosureMm
        | Quantity::Cover
        | Quantity::Evenness
        | Quantity::Stripes
        | Quantity::Overworked => false,
    }
}

impl Training {
    /// Grades a panel from what was measured. It is adequate if everything that is
    /// judged was measured and met, and a trainer looked and saw nothing poor: what
    /// is not told is never better than what is.
    ///
    /// # Errors
    /// [`GradeError`].
    pub fn grade(
        &self,
        (model, selector): (&Model, &Selector),
        request: &DrillGradeRequest,
        language: Language,
    ) -> Result<DrillGrade, GradeError> {
        let drills = self.drills((model, selector), &request.drills, language)?;
        measurable(&request.values)?;
        self.grade_on(&drills, (request.panel, &request.values, request.marks), language)
    }

    /// Grades a panel of drills as they were made, whatever they would be today.
    ///
    /// # Errors
    /// [`GradeError`].
    pub fn grade_on(
        &self,
        drills: &Drills,
        (found, values, marks): (u8, &[MeasuredQuantity], Option<TrainerMarks>),
        language: Language,
    ) -> Result<DrillGrade, GradeError> {
        let most = drills.panels.len();
        let panel = drills.panels.iter().find(|panel| panel.number == found);
        let panel = panel.ok_or(GradeError::Panel { found, most })?;
        check(panel, values)?;
        let quantities: Vec<QuantityGrade> =
            panel.targets.iter().map(|target| graded(*target, values)).collect();
        let marks = marks.unwrap_or_default();
        let (text, adequate) = self.outcome(&quantities, marks, language);
        Ok(DrillGrade {
            drill: panel.drill,
            panel: panel.number,
            adequate,
            quantities,
            marks,
            text,
            basis: drills.basis.clone(),
        })
    }

    fn outcome(
        &self,
        quantities: &[QuantityGrade],
        marks: TrainerMarks,
        language: Language,
    ) -> (String, bool) {
        let with = |wanted: Option<bool>| {
            let found = quantities.iter().filter(|one| one.adequate == wanted);
            found.map(|one| one.quantity.as_str()).collect::<Vec<_>>()
        };
        let all = [("depth", marks.depth), ("stretch", marks.stretch), ("tears", marks.tears)];
        let marked = |wanted: Option<TrainerMark>| {
            all.iter().filter(move |(_, mark)| *mark == wanted).map(|(seen, _)| *seen)
        };
        let missed = with(Some(false));
        let poor: Vec<&str> = marked(Some(TrainerMark::Poor)).collect();
        let open: Vec<&str> = with(None).into_iter().chain(marked(None)).collect();
        let mut said = Vec::new();
        for (key, which) in
            [("grade_missed", &missed), ("grade_poor", &poor), ("grade_open", &open)]
        {
            if !which.is_empty() {
                said.push(self.fill(language, key, &[("which", &which.join(", "))]));
            }
        }
        let adequate = said.is_empty();
        if adequate {
            said.push(self.fill(language, "grade_adequate", &[]));
        }
        (said.join(" "), adequate)
    }
}

fn check(panel: &Panel, values: &[MeasuredQuantity]) -> Result<(), GradeError> {
    for (at, MeasuredQuantity { quantity, .. }) in values.iter().enumerate() {
        let quantity = *quantity;
        if values[..at].iter().any(|before| before.quantity == quantity) {
            return Err(GradeError::Twice { at, quantity });
        }
        if !panel.targets.iter().any(|target| target.quantity == quantity) {
            let judged: Vec<&str> =
                panel.targets.iter().map(|target| target.quantity.as_str()).collect();
            return Err(GradeError::NotJudged { at, quantity, judged: judged.join(", ") });
        }
    }
    Ok(())
}

/// Lowers what counts of a panel to what was measured of it again: of each quantity the
/// value with less room stands. What was not told at first stays so: nobody comes nearer by
/// trying again.
pub fn lower(panel: &Panel, stands: &mut [MeasuredQuantity], again: &[MeasuredQuantity]) {
    for value in stands {
        let target = panel.targets.iter().find(|target| target.quantity == value.quantity);
        let later = again.iter().find(|later| later.quantity == value.quantity);
        let (Some(target), Some(later)) = (target, later) else { continue };
        if later.got.is_finite() && room(*target, later.got) < room(*target, value.got) {
            *value = *later;
        }
    }
}

/// Room to the nearer end of what is adequate.
fn room(Target { least, most, .. }: Target, got: f64) -> f64 {
    let room = [least.map(|least| got - least), most.map(|most| most - got)];
    room.into_iter().flatten().fold(f64::INFINITY, f64::min)
}

fn graded(target: Target, values: &[MeasuredQuantity]) -> QuantityGrade {
    let Target { quantity, asked, .. } = target;
    let found = values.iter().find(|value| value.quantity == quantity);
    let Some(got) = found.map(|value| value.got).filter(|got| got.is_finite()) else {
        let cannot = Some("not_given".to_owned());
        return QuantityGrade { quantity, asked, got: None, margin: None, adequate: None, cannot };
    };
    let margin = tidy(room(target, got));
    QuantityGrade {
        quantity,
        asked,
        got: Some(got),
        margin: margin.is_finite().then_some(margin),
        adequate: Some(0.0 <= margin),
        cannot: None,
    }
}
