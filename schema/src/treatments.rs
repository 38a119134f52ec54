//! Treatment records: what was used on whom, and what was seen meanwhile.

use crate::describe::JsonSchema;
use crate::kinds::{asked, sent, sparing, told};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::branches::BranchFrom;
use crate::open::Open;
use crate::vocabulary::aftercare::ReviewZone;
pub use crate::vocabulary::chair::{StopScope, TraumaSign};
use crate::vocabulary::{
    CivilDate, Configuration, Effect, Hand, Instant, Machine, Reference, Site, Treatment, Zone,
};
use crate::written::NAMED;

/// What was done to whom, with what.
#[sent(free)]
pub struct TreatmentRequest {
    /// The client.
    pub client_ref: Reference,
    /// The artist.
    pub artist_ref: Reference,
    /// The machine, if one was used.
    pub machine_ref: Option<Reference>,
    /// What was treated.
    pub treatment: Treatment,
    /// What the result should look like.
    pub effect: Option<Effect>,
    /// When it was done.
    pub performed_at: Instant,
    /// Where it was done. If absent that of the check, else of all packs' lots, else of the artist,
    /// else none.
    pub branch_ref: Option<Reference>,
    /// The client's time zone; the branch's or the studio's if absent.
    pub zone: Option<Zone>,
    /// The check it was prepared by.
    pub check_id: Option<Uuid>,
    /// Every pack that was opened, in order.
    #[garde(length(min = 1, max = 20), dive)]
    pub packs: Vec<PackUse>,
    /// Every pigment that was used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 20), dive)]
    pub pigments: Vec<PigmentUse>,
    /// How it was worked.
    #[garde(dive)]
    pub worked: Option<Worked>,
}

/// One pack that was opened.
#[sent(free)]
pub struct PackUse {
    /// The lot it came from; its count goes down by one.
    pub lot_id: Uuid,
    /// Whether the pack was whole and dry before it was opened.
    pub intact: bool,
    /// What is printed on this pack, as read. If it does not fit the lot, the
    /// pack is refused.
    #[garde(length(chars, min = 1, max = 4096))]
    pub text: Option<String>,
    /// What the scanner sent for this pack, as sent. If it does not fit the
    /// lot, the pack is refused.
    #[garde(length(chars, min = 1, max = 4096))]
    pub symbol: Option<String>,
    /// The serial number, if the pack carries one.
    #[garde(length(chars, min = 1, max = 40))]
    pub serial: Option<String>,
    /// Which part it was used for.
    pub site: Option<Site>,
    /// If a pack was used that should not have been, the reason: the record
    /// must stay true. Without it such a pack is refused.
    #[garde(length(chars, min = 3, max = 300), pattern(NAMED))]
    pub used_although: Option<String>,
}

/// One pigment that was used.
#[sent(free)]
pub struct PigmentUse {
    /// The batch reference on the bottle.
    #[garde(length(chars, min = 1, max = 60), pattern(NAMED))]
    pub batch: String,
    /// The studio's own name for the pigment.
    pub pigment_ref: Option<Reference>,
    /// The last day of use, if the bottle shows one.
    pub expires_on: Option<CivilDate>,
    /// When the bottle was opened.
    pub opened_on: Option<CivilDate>,
    /// Whether the statement that it is a mixture for tattoos or permanent
    /// make-up was seen on the bottle.
    pub statement_seen: Option<bool>,
}

/// How it was worked.
#[sent(Default, free)]
pub struct Worked {
    /// How firmly.
    pub hand: Option<Hand>,
    /// How the machine was set.
    #[garde(dive)]
    pub machine: Option<Machine>,
    /// How far the needle stood out, in millimetres, 0 to 5; not its depth.
    #[garde(range(min = 0.0, max = 5.0))]
    pub hang_mm: Option<f64>,
    /// Passes over the same place, 1 to 50.
    #[garde(range(min = 1, max = 50))]
    pub passes: Option<u8>,
}

/// The record, with a member for each kind of entry.
macro_rules! record {
    ([] $($(#[$doc:meta])* $member:ident $name:ident($request:ty => $answer:ty) $calls:tt $more:tt)*) => {
        /// A treatment as recorded.
        #[sparing]
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
        pub struct TreatmentRecord {
            /// Its id.
            pub id: Uuid,
            /// The client.
            pub client_ref: Reference,
            /// The artist.
            pub artist_ref: Reference,
            /// The machine.
            pub machine_ref: Option<Reference>,
            /// What was treated.
            pub treatment: Treatment,
            /// What the result should look like.
            pub effect: Option<Effect>,
            /// When it was done.
            pub performed_at: Instant,
            /// The time zone its dates are counted in.
            pub zone: Zone,
            /// The check it was prepared by.
            pub check_id: Option<Uuid>,
            /// Every pack that was opened, with what its label said.
            pub packs: Vec<OpenedPack>,
            /// Every pigment that was used.
            pub pigments: Vec<PigmentUse>,
            /// How it was worked.
            pub worked: Option<Worked>,
            /// What about the record wants a second look.
            pub flags: Vec<Flag>,
            /// When it was recorded.
            pub recorded_at: Instant,
            $(
                $(#[$doc])*
                #[serde(default, skip_serializing_if = "Vec::is_empty")]
                pub $member: Vec<$answer>,
            )*
            /// That the artist is a student and no trainer has confirmed that she was there. Absent
            /// where that is not so.
            #[serde(default)]
            pub unsupervised: Option<bool>,
            /// Where it was done; `unassigned` if nothing says.
            pub branch_ref: Option<Reference>,
            /// What says so.
            pub branch_from: Option<Open<BranchFrom>>,
        }
    };
}
crate::entries!(record);

/// A [`TreatmentRecord`] to which nothing was added, of its other members:
/// `entries! { [recorded] id, client_ref, … }`.
#[macro_export]
macro_rules! recorded {
    ([$($members:tt)*] $($(#[$doc:meta])* $member:ident $name:ident $types:tt $calls:tt $more:tt)*) => {
        $crate::treatments::TreatmentRecord { $($members)* $($member: Vec::new(),)* unsupervised: None }
    };
}

/// One opened pack, traced.
#[told]
pub struct OpenedPack {
    /// The lot's id in the drawer.
    pub lot_id: Uuid,
    /// The lot code on the pack.
    pub lot: Option<String>,
    /// The maker as the studio calls it.
    pub maker: Option<String>,
    /// The maker's catalogue number.
    pub reference: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// The serial number.
    pub serial: Option<String>,
    /// What it held.
    pub configuration: Option<Configuration>,
    /// The same in canonical text.
    pub canonical: Option<String>,
    /// Whether it was whole and dry.
    pub intact: bool,
    /// What was printed on it, kept as read.
    pub text: Option<String>,
    /// What was scanned from it, kept as sent.
    pub symbol: Option<String>,
    /// Which part it was used for.
    pub site: Option<Site>,
    /// Why it was used although it should not have been.
    pub used_although: Option<String>,
    /// Number of the amendment that struck it: it was not opened after all.
    pub struck_in: Option<u32>,
}

/// Something that wants a second look.
#[told(Eq)]
pub struct Flag {
    /// Which part of the record.
    pub pointer: String,
    /// What it is, for programs.
    pub code: String,
    /// What it is, for people.
    pub message: String,
}

/// What was seen while working.
#[sent(free)]
pub struct ObservationRequest {
    /// When it was seen; now if absent.
    pub at: Option<Instant>,
    /// What was seen.
    #[garde(length(min = 1, max = 10))]
    pub signs: Vec<TraumaSign>,
    /// Which of the record's packs was in use, from 0; the last if absent.
    #[garde(range(max = 19))]
    pub pack: Option<u8>,
    /// Where it was seen: a part of what was treated, as reviews name them.
    /// Where it is not told, it is asked; work does not go on at the spot that was seen.
    pub place: Option<ReviewZone>,
    /// In words; sealed like everything of the client's health.
    #[garde(length(chars, min = 1, max = 500))]
    pub note: Option<String>,
}

/// What was seen, and what to do about it.
#[told]
pub struct Observation {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was seen.
    pub at: Instant,
    /// What was seen.
    pub signs: Vec<TraumaSign>,
    /// Where it was seen, if that was told.
    pub place: Option<ReviewZone>,
    /// What was in use.
    pub in_use: Option<Configuration>,
    /// In words.
    pub note: Option<String>,
    /// Whether to stop for today. No needle is named then. It is also said
    /// where a spot is finished and nobody told which.
    pub stop: bool,
    /// How far work stops: at the spot, or for the session.
    pub stop_scope: Option<Open<StopScope>>,
    /// What to do, in order. Never deeper, thicker or faster.
    pub steps: Vec<crate::needle_selections::GentlerStep>,
    /// The usual cautions.
    pub cautions: Vec<String>,
}

/// Which treatments to list: one client's in the order of their dates, or all in the
/// order in which they were recorded.
#[asked(Default, Eq)]
pub struct TreatmentQuery {
    /// Only of this client.
    pub client_ref: Option<Reference>,
    /// Only of this artist.
    pub artist_ref: Option<Reference>,
    /// Only of this branch, by its calendar; `unassigned`: of none.
    pub branch_ref: Option<Reference>,
    /// Only what was done on or after this day of the studio's calendar.
    pub from: Option<CivilDate>,
    /// Only what was done on or before this day of the studio's calendar.
    pub to: Option<CivilDate>,
    /// Only those recorded with a pack of this configuration, canonical or as a label has it;
    /// amendments are not looked at.
    #[schemars(length(min = 1, max = 120))]
    pub configuration: Option<String>,
    /// Only those recorded with a pack of this maker, however it is spelled; amendments are not
    /// looked at.
    #[schemars(length(min = 1, max = 80))]
    pub maker: Option<String>,
    /// Only those with a pigment of this batch, however it is spelled: whom a notice about it reaches.
    #[schemars(length(min = 1, max = 60))]
    pub pigment_batch: Option<String>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A treatment in a list: its trace.
#[told]
pub struct TreatmentRow {
    /// Its id.
    pub id: Uuid,
    /// The client.
    pub client_ref: Reference,
    /// The artist.
    pub artist_ref: Reference,
    /// What was treated.
    pub treatment: Treatment,
    /// When.
    pub performed_at: Instant,
    /// Lot codes of the packs.
    pub lots: Vec<String>,
    /// Where it was done.
    pub branch_ref: Option<Reference>,
}
