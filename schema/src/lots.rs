//! The drawer: lots of sterile packets, received from label readings.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::open::Open;
use crate::recalls::LotRecall;
pub use crate::vocabulary::chair::{LotQuestion, LotState};
use crate::vocabulary::{CivilDate, Configuration, Instant, Reference, words};
use crate::written::NAMED;

words! {
    /// Why the count of a lot was changed by hand.
    AdjustmentReason, "reason" {
        /// Counted again.
        Recount = "recount",
        /// A pack was damaged or opened.
        Damaged = "damaged",
        /// A pack was used for practice.
        Practice = "practice",
        /// Given back to the supplier.
        Returned = "returned",
        /// Taken out of quarantine after a check.
        Released = "released",
        /// Put into quarantine.
        Held = "held",
    }
}

/// A delivery of one lot, as its label says and as a person confirms.
#[sent]
pub struct LotRequest {
    /// What is printed on the packet, as read or typed.
    #[garde(length(chars, min = 1, max = 4096))]
    pub text: Option<String>,
    /// What the scanner sent, as sent.
    #[garde(length(chars, min = 1, max = 4096))]
    pub symbol: Option<String>,
    /// Number of packs received, 1 to 10 000.
    #[garde(range(min = 1, max = 10_000))]
    pub packs: u32,
    /// The maker or supplier as the studio calls it; lots are unique only per
    /// maker.
    #[garde(length(chars, min = 1, max = 80), pattern(NAMED))]
    pub maker: Option<String>,
    /// What a person settled where the label leaves a question open.
    #[garde(dive)]
    pub confirmed: Option<Confirmed>,
    /// The branch that it came to.
    #[garde(skip)]
    pub branch_ref: Option<Reference>,
}

/// What a person says the packet is; each member overrides what was read. A
/// last day of use is never later than the print allows, and what was read as
/// not sterile stays so.
#[sent(Default, free)]
pub struct Confirmed {
    /// The configuration.
    #[garde(dive)]
    pub configuration: Option<Configuration>,
    /// The lot or batch code.
    #[garde(length(chars, min = 1, max = 40))]
    pub lot: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// The maker's catalogue number.
    #[garde(length(chars, min = 1, max = 40))]
    pub reference: Option<String>,
    /// Whether the packs are sterile, as somebody saw on them or knows from the
    /// supplier. `false` keeps them out of use for good.
    pub sterile: Option<bool>,
    /// Who settled it. A last day of use and sterility are settled by somebody
    /// who is named, or not at all.
    pub by: Option<Reference>,
}

/// What was settled about a lot, by whom and when.
#[told]
pub struct LotSettlement {
    /// When.
    pub at: Instant,
    /// Who: the person that was named, or else the token that was used.
    pub by: String,
    /// The questions that were settled by it.
    pub settled: Vec<Open<LotQuestion>>,
    /// What was said.
    pub confirmed: Confirmed,
    /// The supplier's habit that it follows from, if it was not said of this
    /// lot.
    pub habit: Option<Reference>,
}

/// A lot in the drawer.
#[told]
pub struct Lot {
    /// Its id.
    pub id: Uuid,
    /// Whether its packs may be used today.
    pub state: Open<LotState>,
    /// Why not, if not.
    pub reasons: Vec<String>,
    /// When and why it was called back, if it was.
    pub recall: Option<LotRecall>,
    /// What a person has to settle before its packs may be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub questions: Vec<Open<LotQuestion>>,
    /// What the packs hold.
    pub configuration: Option<Configuration>,
    /// The configuration in canonical text.
    pub canonical: Option<String>,
    /// The lot or batch code.
    pub lot: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// The maker's catalogue number.
    pub reference: Option<String>,
    /// The GTIN in its 14-digit form.
    pub gtin: Option<String>,
    /// The maker or supplier as the studio calls it.
    pub maker: Option<String>,
    /// Packs left.
    pub packs: u32,
    /// What was printed, kept as read.
    pub text: Option<String>,
    /// What was scanned, kept as sent.
    pub symbol: Option<String>,
    /// When it came in.
    pub received_at: Instant,
    /// Every change of the count by hand, oldest first.
    pub adjustments: Vec<Adjustment>,
    /// Whether the packs are sterile, as read or settled; absent if nobody
    /// knows.
    pub sterile: Option<bool>,
    /// What was settled, by whom and when, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settled: Vec<LotSettlement>,
    /// The branch where its packs lie; `unassigned` if none was named.
    pub branch_ref: Option<Reference>,
    /// Its moves from branch to branch, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moves: Vec<LotMove>,
    /// Counts the changes, from 1.
    pub version: u64,
}

/// Packs that went from one branch to another.
#[told(Eq)]
pub struct LotMove {
    /// When.
    pub at: Instant,
    /// By whom: `owner` or the name of a plug-in.
    pub by: String,
    /// How many.
    pub packs: u32,
    /// From where; absent if the lot was of no branch.
    pub from: Option<Reference>,
    /// To where.
    pub to: Reference,
    /// The lot that the packs left, or that they became; absent if all went.
    pub other_lot_id: Option<Uuid>,
}

/// Packs that go to another branch.
#[sent(Eq, free)]
pub struct LotMoveRequest {
    /// To where.
    pub branch_ref: Reference,
    /// How many packs; all that are left if absent.
    #[garde(range(min = 1, max = 10_000))]
    pub packs: Option<u32>,
}

/// What became of a move.
#[told]
pub struct LotMoved {
    /// The lot at the branch that the packs went to.
    pub lot: Lot,
    /// What stays behind, with its count; absent if all went.
    pub left: Option<Lot>,
}

/// One change of a lot by hand.
#[told]
pub struct Adjustment {
    /// When.
    pub at: Instant,
    /// By how many packs.
    pub change: i32,
    /// Why.
    pub reason: AdjustmentReason,
    /// In words.
    pub note: Option<String>,
}

/// A change of a lot by hand.
#[sent(free)]
pub struct AdjustmentRequest {
    /// By how many packs, −10 000 to 10 000; the count never falls below 0.
    #[serde(default)]
    #[garde(range(min = -10_000, max = 10_000))]
    pub change: i32,
    /// Why.
    pub reason: AdjustmentReason,
    /// In words; nothing about a client.
    #[garde(length(chars, min = 1, max = 300))]
    pub note: Option<String>,
    /// With `released`: what a person settled about the packet.
    #[garde(dive)]
    pub confirmed: Option<Confirmed>,
}

/// Which lots to list.
#[asked(Default, Eq)]
pub struct LotQuery {
    /// Only lots in this state; repeated: in one of these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 10))]
    pub state: Vec<LotState>,
    /// Only lots of this code, as it was read.
    #[schemars(length(min = 1, max = 40))]
    pub lot: Option<String>,
    /// Only of this branch, by its calendar; `unassigned`: of none.
    pub branch_ref: Option<Reference>,
    /// Only lots that expire on or before this day.
    pub expires_by: Option<CivilDate>,
    /// Only lots of this configuration, canonical or as a label has it.
    #[schemars(length(min = 1, max = 120))]
    pub configuration: Option<String>,
    /// Only lots of this maker, however it is spelled.
    #[schemars(length(min = 1, max = 80))]
    pub maker: Option<String>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}
