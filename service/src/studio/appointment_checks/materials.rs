//! Skin test and bottles of a check, in the words of the wire.

use etui_craft::refusal::Refusal;
use etui_craft::screening::materials::{Bottle, Materials};
use etui_craft::screening::patch_test::{self, Appointment, Judgement, PatchTest};
use etui_craft::screening::pigment::{self, METALS_ASKED, MetalAllergies};
use etui_craft::screening::typing::Typing;
use etui_craft::visit::record::SKIN_TEST;
use etui_schema::answers::{Answer, Answers};
use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::check_materials::{
    PatchTestCheck, PatchTestResult, PatchTestTold, PigmentCheck, PigmentLabelSeen, PigmentRemark,
    PigmentTold, SeenOnLabel,
};
use etui_schema::clients::AnswerGiven;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Instant, Language};
use jiff::Timestamp;

use super::gather::Gathered;
use crate::studio::Studio;
use crate::studio::craft::Craft;
use crate::studio::error::Error;
use crate::studio::moment::Moment;

/// Refuses what cannot be of a skin test.
pub(super) fn check(request: &AppointmentCheckRequest, now: Timestamp) -> Result<(), Error> {
    let Some(PatchTestTold { made_at, read_at, result, .. }) = &request.patch_test else {
        return Ok(());
    };
    let mut faults = Vec::new();
    let mut fault = |field: &str, code, message: &str, means: Option<Refusal>| {
        let fault = Fault::new(format!("#/patch_test/{field}"), code, message);
        faults.push(Fault { means: means.map(Into::into), ..fault });
    };
    let in_future = Some(Refusal::InFuture);
    if now < made_at.0 {
        fault("made_at", FaultCode::OutOfRange, "the test lies in the future", in_future);
    }
    if read_at.is_some_and(|read| now < read.0) {
        fault("read_at", FaultCode::OutOfRange, "the reading lies in the future", in_future);
    }
    if read_at.is_some_and(|read| read.0 < made_at.0) {
        let why = "it was read before it was made";
        fault("read_at", FaultCode::Contradiction, why, Some(Refusal::SkinTestOrder));
    }
    if read_at.is_some() && *result == PatchTestResult::NotRead {
        fault("result", FaultCode::Contradiction, "a test with a reading has a result", None);
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// Whether a skin test that is told shows a reaction.
pub(super) fn has_reacted(request: &AppointmentCheckRequest) -> bool {
    request.patch_test.as_ref().is_some_and(|told| told.result == PatchTestResult::Reacted)
}

/// The answer that a reaction in the skin test is, if there was one, and where it comes from: the
/// day on which it was seen.
pub(super) fn reaction(
    studio: &Studio,
    request: &AppointmentCheckRequest,
    moment: &Moment,
) -> (Answers, AnswerGiven) {
    let yes = (SKIN_TEST.to_owned(), Answer::YesNo(true));
    let answers = has_reacted(request).then_some(yes).into_iter().collect();
    let read = request.patch_test.as_ref().and_then(|told| told.read_at);
    let on = studio.zone.rules().to_datetime(read.map_or(moment.now, |at| at.0)).date();
    let given = AnswerGiven {
        on: Some(CivilDate(on)),
        treatment: Some(request.treatment),
        asked_by: moment.holder.parse().ok(),
    };
    (answers, given)
}

/// What was judged.
pub(super) struct Judged {
    test: Judgement,
    bottles: Vec<Bottle>,
}

impl Judged {
    pub(super) fn as_materials(&self) -> Materials<'_> {
        Materials { test: &self.test, bottles: &self.bottles }
    }
}

/// Judges the skin test and the bottles of a check.
pub(super) fn judge(typing: &Typing, gathered: &Gathered) -> Judged {
    let request = &gathered.request;
    let told = request.patch_test.as_ref();
    let test = told.map(|told| PatchTest {
        made_at: told.made_at.0,
        read_at: told.read_at.map(|at| at.0),
        result: told.result,
        pigment_batch: told.pigment_batch.clone(),
    });
    let tested = told.and_then(|told| told.pigment_batch.as_deref());
    let appointment = Appointment {
        starts_at: request.starts_at.0,
        zone: gathered.zone.rules(),
        pigment_batch: batch_to_use(&request.pigments, tested),
    };
    let metals = gathered.answers.get(METALS_ASKED) == Some(&Answer::YesNo(true));
    let allergic = MetalAllergies::told(metals);
    let bottle = |told: &PigmentTold| {
        let (fitness, remarks) = pigment::judge(label_of(told), allergic);
        Bottle { fitness, remarks }
    };
    Judged {
        test: patch_test::judge(&typing.patch_test, test.as_ref(), &appointment),
        bottles: request.pigments.iter().map(bottle).collect(),
    }
}

/// The batch the test is held against: one that was not tested, if there is
/// any, since every bottle that touches the skin counts.
fn batch_to_use<'a>(pigments: &'a [PigmentTold], tested: Option<&str>) -> Option<&'a str> {
    let batches = || pigments.iter().filter_map(|pigment| pigment.batch.as_deref());
    let is_whole = pigments.iter().all(|pigment| pigment.batch.is_some());
    let first = || batches().next().filter(|_| is_whole);
    batches().find(|batch| Some(*batch) != tested).or_else(first)
}

/// The label; a batch that was told is one that was seen.
fn label_of(told: &PigmentTold) -> PigmentLabelSeen {
    let batch = match (told.label.batch, &told.batch) {
        (SeenOnLabel::NotSeen, Some(_)) => SeenOnLabel::Yes,
        (sight, _) => sight,
    };
    PigmentLabelSeen { batch, ..told.label }
}

/// The skin test in the words of the wire.
pub(super) fn test_check(craft: &Craft, judged: &Judged, language: Language) -> PatchTestCheck {
    let limits = &craft.typing.patch_test;
    let Judgement {
        standing,
        cautions: _,
        not_before,
        not_after,
        by: _,
        better_by,
        look_from,
        look_by,
    } = &judged.test;
    PatchTestCheck {
        standing: (*standing).into(),
        says: craft.rulebook.patch_test_words(limits, &judged.test, language),
        made_from: CivilDate(*not_before),
        made_by: Instant(*not_after),
        better_by: CivilDate(*better_by),
        look_from: look_from.map(CivilDate),
        look_by: Some(CivilDate(*look_by)),
        basis: limits.basis(),
    }
}

/// The bottles in the words of the wire.
pub(super) fn pigment_checks(
    craft: &Craft,
    gathered: &Gathered,
    judged: &Judged,
    language: Language,
) -> Vec<PigmentCheck> {
    let book = &craft.rulebook;
    let one = |(told, bottle): (&PigmentTold, &Bottle)| PigmentCheck {
        batch: told.batch.clone(),
        pigment_ref: told.pigment_ref.clone(),
        fitness: bottle.fitness.into(),
        remarks: bottle
            .remarks
            .iter()
            .map(|remark| PigmentRemark {
                code: remark.code(),
                text: book.pigment_words(*remark, language),
            })
            .collect(),
        pass_on: book.pigment_duty(language).to_owned(),
        basis: craft.typing.pigment_label.basis(),
    };
    gathered.request.pigments.iter().zip(&judged.bottles).map(one).collect()
}
