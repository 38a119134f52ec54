//! Entries: what is added to a treatment after it was recorded, its kinds as one table.
//!
//! A row says all that is the same of every kind; each place that needs something of all kinds
//! makes it of the rows. Here: the member of
//! [`TreatmentRecord`](crate::treatments::TreatmentRecord) and the lines of the three operations,
//! by which the client has its methods. In the service: what is sealed and may be repeated, swept,
//! erased and verified, the record with its entries, and how the operations are routed and
//! described. In the tests: the stops of the tour, what is held against releases, the lists.
//!
//! # A row
//!
//! ```text
//! /// What the record's member says.
//! MEMBER NAME(REQUEST => ANSWER)
//!     [OPERATION THAT MAKES IT, THAT READS ONE, THAT LISTS THEM] {
//!         PATH [SCOPE OF MAKING ONE]
//!         /// what the client's method of making one says.
//!         SUMMARY DESCRIPTION WHAT-201-SAYS [speaks] [SHORT VIEW OF THE ANSWER]
//!         PATH OF ONE, "a NAME" "The NAME."
//!         "NAMES" WHAT-A-PAGE-SAYS
//!         like { A GOOD REQUEST, WITH WHICH THE TESTS MAKE THEIR EXAMPLE }
//!     }
//! ```
//!
//! `MEMBER` is also the module `studio::MEMBER` of the service; its `Own` is what stays open of such
//! an entry, and says where it lies, under which keys, what came to its documents since, and how one
//! is made. `NAME` names what is sealed (`NAME_input`, `NAME_answer`). The types of a kind stand in
//! a file beside this one. Paths and operations are written out: who looks for one finds it.
//!
//! What is no row: settlements, which are made below a report and are read in it alone. Without
//! `like` the stops of making and reading one are the tour's own, as they need what others were
//! answered.

pub mod amendments;
pub mod countersignatures;
pub mod reviews;

/// The table; hands its rows to the macro that is named to it, behind what else is told.
#[macro_export]
macro_rules! entries {
    ($each:ident $($about:tt)*) => { $crate::entries! { [$each] $($about)* } };
    ([$($each:tt)+] $($about:tt)*) => { $($each)+! { [$($about)*]
        /// What was put right since, oldest first. The members above are as they
        /// are now; each amendment says what they were.
        amendments amendment($crate::amendments::AmendmentRequest => $crate::amendments::Amendment)
            [amend_treatment get_amendment list_amendments] {
                "/v1/treatments/{id}/amendments" [TreatmentsWrite]
                /// puts a record right; its history is kept.
                "Put a treatment record right"
                "With the reason. Nothing is overwritten: the record shows the right values, and each \
                 amendment what they were. Added packs leave the drawer, struck ones go back, and a recall \
                 follows both."
                "Put right." [speaks] []
                "/v1/treatments/{id}/amendments/{amendment_id}" "an amendment" "The amendment."
                "amendments" "One page, in the order of their numbers."
            }
        /// What was seen while working, in the order it was seen.
        observations observation($crate::treatments::ObservationRequest => $crate::treatments::Observation)
            [record_observation get_observation list_observations] {
                "/v1/treatments/{id}/observations" [TreatmentsWrite]
                /// records what is seen while working, and says what to do.
                "Record what is seen while working"
                "Trauma seen on the skin, and what to do: how far to stop, what to ask, and for the rest of \
                 the area what is gentler. Never deeper, thicker or faster, and no needle where work stops."
                "Recorded, with what to do." [speaks] [$crate::short::ShortObservation]
                "/v1/treatments/{id}/observations/{observation_id}" "an observation" "The observation."
                "observations" "One page, first seen first."
                like { "signs": ["weeping"], "pack": 0 }
            }
        /// What the client told afterwards, in the order it was told.
        symptom_reports symptom_report($crate::symptom_reports::KeptSymptomReportRequest
                => $crate::symptom_reports::KeptSymptomReport)
            [keep_symptom_report get_symptom_report list_symptom_reports] {
                "/v1/treatments/{id}/symptom-reports" [TreatmentsWrite]
                /// keeps what the client tells afterwards, and says how urgent it is.
                "Keep what the client tells afterwards"
                "Judged like a report that is not kept; treatment, session and zone come from the record."
                "Kept, with how urgent it is and what to do." [speaks] [$crate::short::ShortKeptReport]
                "/v1/treatments/{id}/symptom-reports/{report_id}"
                "a kept symptom report" "The report, with its settlement."
                "kept symptom reports" "One page, first told first."
                like {
                    "symptoms": [{ "kind": "swelling", "severity": "mild", "trend": "better" }],
                    "country": "DE",
                }
            }
        /// How it healed, in the order it was looked at.
        reviews review($crate::reviews::ReviewRequest => $crate::reviews::Review)
            [record_review get_review list_reviews] {
                "/v1/treatments/{id}/reviews" [TreatmentsWrite]
                /// records how it healed, and says what to change next time.
                "Record how it healed"
                "What each part kept, the colour, the surface; and what to change at the touch-up. Colour is \
                 not judged before day 28: an earlier review is kept and answered `too_early`. A growing scar, \
                 lumps and raised skin are answered `refer` on any day, and stay so in later reviews until one \
                 says `doctor_agrees`. Where nobody said what the surface shows, it is asked."
                "Recorded, with what it asks for." [speaks] []
                "/v1/treatments/{id}/reviews/{review_id}" "a review" "The review."
                "reviews" "One page, first looked at first."
            }
        /// Trainers who confirmed that they were in the room.
        countersignatures countersignature($crate::countersignatures::CountersignatureRequest
                => $crate::countersignatures::Countersignature)
            [countersign_treatment get_countersignature list_countersignatures] {
                "/v1/treatments/{id}/countersignatures" [SignOffs]
                /// confirms that the trainer that the token acts for was in the room.
                "Confirm that a trainer was there"
                "What a student did is recorded, permitted or not; a trainer confirms that she was in the \
                 room. Who confirms is told by the token alone: a trainer that it acts for, or the owner."
                "Confirmed." [] []
                "/v1/treatments/{id}/countersignatures/{countersignature_id}"
                "a countersignature" "The countersignature."
                "countersignatures" "One page, first given first."
                like { "note": "In the room from start to end." }
            }
    } };
}
