//! Skin test and bottles of a check, in the words of the wire.

use std::sync::Arc;

use etui_craft::screening::materials::{Bottle, Materials};
use etui_craft::screening::patch_test::{self, Appointment, Judgement, PatchTest, Standing};
use etui_craft::screening::pigment::{self, Fitness, METALS_ASKED, MetalAllergies, Printed};
use etui_craft::screening::typing::Typing;
use etui_schema::answers::Answer;
use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::check_materials::{
    PatchTestCheck, PatchTestResult, PatchTestStanding, PatchTestTold, PigmentCheck,
    PigmentFitness, PigmentLabelSeen, PigmentRemark, PigmentTold, SeenOnLabel,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::service::Basis;
use etui_schema::vocabulary::{CivilDate, EvidenceKind, Instant, Language};
use jiff::Timestamp;

use super::gather::Gathered;
use crate::studio::craft::Craft;
use crate::studio::error::Error;

/// Refuses what cannot be of a skin test.
pub(super) fn check(request: &AppointmentCheckRequest, now: Timestamp) -> Result<(), Error> {
    let Some(PatchTestTold { made_at, read_at, result, .. }) = &request.patch_test else {
        return Ok(());
    };
    let mut faults = Vec::new();
    let mut fault = |field: &str, code, message: &str| {
        faults.push(Fault::new(format!("#/patch_test/{field}"), code, message));
    };
    if now < made_at.0 {
        fault("made_at", FaultCode::OutOfRange, "the test lies in the future");
    }
    if read_at.is_some_and(|read| now < read.0) {
        fault("read_at", FaultCode::OutOfRange, "the reading lies in the future");
    }
    if read_at.is_some_and(|read| read.0 < made_at.0) {
        fault("read_at", FaultCode::Contradiction, "it was read before it was made");
    }
    if read_at.is_some() && *result == PatchTestResult::NotRead {
        fault("result", FaultCode::Contradiction, "a test with a reading has a result");
    }
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
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
        result: match told.result {
            PatchTestResult::Clear => patch_test::Result::Clear,
            PatchTestResult::Reacted => patch_test::Result::Reacted,
            PatchTestResult::NotRead => patch_test::Result::NotRead,
        },
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
    batches().find(|batch| Some(*batch) != tested).or_else(|| batches().next())
}

fn label_of(told: &PigmentTold) -> pigment::PigmentLabel {
    let seen = |sight: SeenOnLabel| match sight {
        SeenOnLabel::Yes => Printed::Yes,
        SeenOnLabel::No => Printed::No,
        SeenOnLabel::NotSeen => Printed::NotSeen,
    };
    let PigmentLabelSeen {
        statement,
        batch,
        ingredients,
        nickel_notice,
        chromium_notice,
        safety_instructions,
    } = told.label;
    let batch = match (batch, &told.batch) {
        (SeenOnLabel::NotSeen, Some(_)) => SeenOnLabel::Yes,
        (sight, _) => sight,
    };
    pigment::PigmentLabel {
        statement: seen(statement),
        batch: seen(batch),
        ingredients: seen(ingredients),
        nickel_notice: seen(nickel_notice),
        chromium_notice: seen(chromium_notice),
        safety_instructions: seen(safety_instructions),
    }
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
        standing: match standing {
            Standing::Met => PatchTestStanding::Met,
            Standing::Missing => PatchTestStanding::Missing,
            Standing::TooLate => PatchTestStanding::TooLate,
            Standing::Expired => PatchTestStanding::Expired,
            Standing::OtherBatch => PatchTestStanding::OtherBatch,
            Standing::Unread => PatchTestStanding::Unread,
            Standing::Reacted => PatchTestStanding::Reacted,
        },
        says: craft.rulebook.patch_test_words(limits, &judged.test, language),
        made_from: CivilDate(*not_before),
        made_by: Instant(*not_after),
        better_by: CivilDate(*better_by),
        look_from: look_from.map(CivilDate),
        look_by: Some(CivilDate(*look_by)),
        basis: basis(craft, &limits.grounds()),
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
        fitness: match bottle.fitness {
            Fitness::Usable => PigmentFitness::Usable,
            Fitness::Look => PigmentFitness::Look,
            Fitness::NotForThisClient => PigmentFitness::NotForThisClient,
            Fitness::NotUsable => PigmentFitness::NotUsable,
        },
        remarks: bottle
            .remarks
            .iter()
            .map(|remark| PigmentRemark {
                code: remark.code(),
                text: book.pigment_words(*remark, language),
            })
            .collect(),
        pass_on: book.pigment_duty(language).to_owned(),
        basis: basis(craft, &craft.typing.pigment_label.grounds()),
    };
    gathered.request.pigments.iter().zip(&judged.bottles).map(one).collect()
}

fn basis(craft: &Craft, grounds: &[(&str, &Arc<str>)]) -> Vec<Basis> {
    grounds
        .iter()
        .map(|(about, source)| Basis {
            about: (*about).to_owned(),
            source: source.to_string(),
            // The loader has refused what is not registered.
            kind: craft.register.get(source).map_or(EvidenceKind::Model, |found| found.kind),
        })
        .collect()
}
