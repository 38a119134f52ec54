//! Why what somebody says of a lot is not taken over, and what is still to be said.

use etui_craft::drawer::{self, Unsettled};
use etui_craft::refusal::Refusal;
use etui_schema::lots::LotQuestion;
use etui_schema::problem::{Fault, FaultCode};

use super::code;

/// What cannot be taken over, at its place; `base` is where the confirmation
/// stands in the request.
#[must_use]
pub(super) fn refused(unsettled: &Unsettled, base: &str) -> Fault {
    let fault = |member: &str, code, why: String| Fault::new(format!("{base}/{member}"), code, why);
    match unsettled {
        Unsettled::Recalled => Fault::new(
            base,
            FaultCode::NotAllowed,
            "a lot that was called back is not released".to_owned(),
        )
        .means(Refusal::LotNever),
        Unsettled::Forbidden(reason) => Fault::new(
            base,
            FaultCode::NotAllowed,
            format!("packs that are `{reason}` are not released, whoever says so; discard them"),
        )
        .means(Refusal::LotNever),
        Unsettled::LaterThanPrinted(last) => fault(
            "expires_on",
            FaultCode::Contradiction,
            format!(
                "the label allows {last} at the latest; an earlier day or that one is accepted"
            ),
        )
        .means(Refusal::LotPrinted.of_day(*last)),
        Unsettled::Improbable(last) => {
            let why = format!("no pack lasts so long; {last} or an earlier day is accepted");
            fault("expires_on", FaultCode::OutOfRange, why).means(Refusal::LotTooLong.of_day(*last))
        }
        Unsettled::ReadOtherwise(member, read) => {
            let why = format!("the label clearly says {read}; send what stands on the packs");
            fault(member, FaultCode::Contradiction, why).means(Refusal::LotOtherwise)
        }
        Unsettled::NoCode(code) => code::refused(*code, format!("{base}/lot")),
        Unsettled::Unnamed(questions) => {
            let why = format!("name who settled: {}", names(questions));
            fault("by", FaultCode::Missing, why).means(Refusal::LotName)
        }
    }
}

/// What is still to be settled, each at its place.
#[must_use]
pub(super) fn unsettled(left: &[String], base: &str) -> Vec<Fault> {
    let mut questions: Vec<_> = left.iter().filter_map(|reason| drawer::question(reason)).collect();
    questions.sort_unstable();
    questions.dedup();
    let of = |question: LotQuestion| {
        let (member, why) = match question {
            LotQuestion::Expiry => ("expires_on", "say the last day of use"),
            LotQuestion::Sterility => ("sterile", "say whether the packs are sterile"),
            LotQuestion::Configuration => ("configuration", "say diameter, count and grouping"),
            LotQuestion::Lot => (
                "lot",
                "say the whole code of the packs; where none stands on them, an adjustment `released` \
                 that names who looked at them settles it",
            ),
            LotQuestion::Print | LotQuestion::Hand => {
                ("by", "an adjustment `released` that names who looked at the packs settles it")
            }
        };
        Fault::new(format!("{base}/{member}"), FaultCode::Missing, why).means(Refusal::LotOpen)
    };
    questions.into_iter().map(of).collect()
}

fn names(questions: &[LotQuestion]) -> String {
    questions.iter().map(|question| question.as_str()).collect::<Vec<_>>().join(", ")
}
