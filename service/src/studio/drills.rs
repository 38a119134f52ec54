//! Drills and grades: the craft's answers, and its refusals at their places.

use etui_craft::training::{self, DrillError, GradeError, SheetError};
use etui_schema::drills::{
    DrillGrade, DrillGradeRequest, DrillRequest, Drills, MeasuredQuantity, TrainerMarks,
};
use etui_schema::practice_sheets::PanelAttempt;
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Language, Paper};

use super::craft::Craft;
use super::error::Error;

/// The drills of a configuration.
///
/// # Errors
/// [`Error::Refused`] for a configuration that does not say enough or is set aside, and for
/// an effect that the site does not have.
pub fn make(craft: &Craft, request: &DrillRequest, language: Language) -> Result<Drills, Error> {
    make_at(craft, request, "#", language)
}

/// The drills of a configuration that stands at a place of a request.
///
/// # Errors
/// As [`make`].
pub fn make_at(
    craft: &Craft,
    request: &DrillRequest,
    place: &str,
    language: Language,
) -> Result<Drills, Error> {
    let tools = (&craft.model, &craft.selector);
    let made = craft.training.drills(tools, request, language);
    let made = made.map_err(|error| refused(&error, place))?;
    if made.panels.is_empty() {
        let why: Vec<&str> = made.set_aside.iter().map(|aside| &*aside.because).collect();
        let why = format!(
            "the configuration is set aside for every effect that was asked, so there is nothing to practise: {}",
            why.join(" ")
        );
        return Err(Error::at(format!("{place}/configuration"), FaultCode::NotAllowed, why));
    }
    Ok(made)
}

/// The sheet of them, to be printed.
///
/// # Errors
/// As [`make`]; for a paper on which they do not fit, and where there are none.
pub fn sheet(craft: &Craft, request: &DrillRequest, language: Language) -> Result<String, Error> {
    let drills = make(craft, request, language)?;
    let paper = request.paper.unwrap_or(Paper::A4);
    craft.training.sheet(&drills, paper, None, language).map_err(|error| {
        let place = match &error {
            SheetError::TooSmall { .. } => "#/paper",
            SheetError::Nothing => "#/configuration",
        };
        Error::at(place, FaultCode::NotAllowed, error.to_string())
    })
}

/// The grade of one panel.
///
/// # Errors
/// As [`make`]; for a panel that there is none of, and a quantity that stands twice
/// or is not judged of it.
pub fn grade(
    craft: &Craft,
    request: &DrillGradeRequest,
    language: Language,
) -> Result<DrillGrade, Error> {
    let tools = (&craft.model, &craft.selector);
    craft.training.grade(tools, request, language).map_err(|error| not_graded(&error, "#"))
}

/// The grade of one panel of drills as they were made, that stands at a place of a request.
///
/// # Errors
/// As [`grade`].
pub fn grade_on(
    craft: &Craft,
    drills: &Drills,
    worked: (u8, &[MeasuredQuantity], Option<TrainerMarks>),
    place: &str,
    language: Language,
) -> Result<DrillGrade, Error> {
    craft.training.grade_on(drills, worked, language).map_err(|error| not_graded(&error, place))
}

/// Refuses values of panels, as somebody typed them, that nobody can have measured.
///
/// # Errors
/// [`Error::Refused`].
pub fn measurable(typed: &[PanelAttempt]) -> Result<(), Error> {
    let panels = typed.iter().enumerate();
    panels.map(|(at, panel)| (at, training::measurable(&panel.values))).try_for_each(|(at, one)| {
        one.map_err(|error| not_graded(&error, &format!("#/panels/{at}")))
    })
}

fn not_graded(error: &GradeError, place: &str) -> Error {
    match error {
        GradeError::Drills(error) => refused(error, &format!("{place}/drills")),
        GradeError::Panel { .. } => {
            Error::at(format!("{place}/panel"), FaultCode::OutOfRange, error.to_string())
        }
        GradeError::Twice { at, .. } => {
            let place = format!("{place}/values/{at}/quantity");
            Error::at(place, FaultCode::Duplicate, error.to_string())
        }
        GradeError::BelowNone { at, .. } => {
            let place = format!("{place}/values/{at}/got");
            Error::at(place, FaultCode::OutOfRange, error.to_string())
        }
        GradeError::NotJudged { at, .. } => {
            let place = format!("{place}/values/{at}/quantity");
            Error::at(place, FaultCode::NotAllowed, error.to_string())
        }
    }
}

fn refused(error: &DrillError, below: &str) -> Error {
    match error {
        DrillError::Configuration(why) => {
            Error::at(format!("{below}/configuration"), FaultCode::Missing, why.to_string())
        }
        DrillError::Effect { .. } => {
            Error::at(format!("{below}/effect"), FaultCode::NotAllowed, error.to_string())
        }
    }
}
