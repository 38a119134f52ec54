//! Recalls: what a notice names, and who was exposed.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::vocabulary::{CivilDate, Instant, Reference};
use crate::written::NAMED;

/// What a recall notice says.
#[sent(free)]
pub struct RecallRequest {
    /// What the notice says.
    #[garde(length(chars, min = 3, max = 500), pattern(NAMED))]
    pub reason: String,
    /// Whether other lots of the same code are called back with it; yes if
    /// absent, since the same batch may have come in several deliveries.
    pub same_code: Option<bool>,
}

/// A recall by what the notice names.
#[sent]
pub struct NamedRecallRequest {
    /// The lot or batch code.
    #[garde(length(chars, min = 1, max = 40))]
    pub lot: String,
    /// The maker, as the studio calls it; every maker's if absent.
    #[garde(length(chars, min = 1, max = 80))]
    pub maker: Option<String>,
    /// The maker's catalogue number; any if absent.
    #[garde(length(chars, min = 1, max = 40))]
    pub reference: Option<String>,
    /// What the notice says.
    #[garde(length(chars, min = 3, max = 500), pattern(NAMED))]
    pub reason: String,
}

/// Who and what was exposed to a lot.
#[told]
pub struct Exposures {
    /// The lots it is about.
    pub lot_ids: Vec<Uuid>,
    /// Lots of the same code that belong to another maker or article, and lots without a code that may
    /// be of it: look at them yourself. A recall holds those without a code as `recall_possible`.
    pub similar_lot_ids: Vec<Uuid>,
    /// Every treatment with a pack of these lots, oldest first.
    pub treatments: Vec<Exposure>,
    /// Every client among them, once.
    pub clients: Vec<Reference>,
    /// Checks of appointments to come that offer these lots.
    pub upcoming_checks: Vec<UpcomingCheck>,
    /// How many more records of these lots are there that cannot be read: the list is
    /// not whole without them. Absent if there are none; `etui verify` names them.
    #[schemars(range(min = 1))]
    pub unreadable: Option<u32>,
    /// `cursor` of the next page; absent on the last.
    pub next_cursor: Option<String>,
    /// The same by branch; empty for a studio without.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub branches: Vec<ExposedBranch>,
}

/// What of a recall concerns a branch.
#[told(Eq)]
pub struct ExposedBranch {
    /// The branch; `unassigned` for what names none.
    pub branch_ref: Reference,
    /// Its lots that are called back.
    pub lot_ids: Vec<Uuid>,
    /// How many packs of them are left there, to be taken out.
    pub packs: u32,
    /// Its treatments with a pack of the lots.
    pub treatment_ids: Vec<Uuid>,
}

/// One treatment with a pack of the lot.
#[told]
pub struct Exposure {
    /// The treatment.
    pub treatment_id: Uuid,
    /// The client; kept as the law wants even after an erasure.
    pub client_ref: Reference,
    /// The artist.
    pub artist_ref: Reference,
    /// When it was done.
    pub performed_at: Instant,
    /// The lot's id in the drawer.
    pub lot_id: Uuid,
    /// How many packs of it were opened.
    pub packs: u32,
    /// What is known of the lot.
    pub lot: Option<ExposedLot>,
    /// Where it was done.
    pub branch_ref: Option<Reference>,
}

/// A lot as an authority or a maker knows it.
#[told(Default, Eq)]
pub struct ExposedLot {
    /// The lot or batch code.
    pub code: Option<String>,
    /// The maker, as the studio calls it.
    pub maker: Option<String>,
    /// The maker's catalogue number.
    pub reference: Option<String>,
    /// The last day of use.
    pub expires_on: Option<CivilDate>,
    /// What the packs hold, in canonical text.
    pub canonical: Option<String>,
}

/// A check of an appointment to come.
#[told]
pub struct UpcomingCheck {
    /// The check.
    pub check_id: Uuid,
    /// The booking.
    pub booking_ref: Reference,
    /// The client, if the check names one.
    pub client_ref: Option<Reference>,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// Which of these lots it offers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<LotOnOffer>,
    /// Where it is to be.
    pub branch_ref: Option<Reference>,
}

/// A lot on offer in a check, as it is known for a recall.
#[told(Eq)]
pub struct LotOnOffer {
    /// The lot's id in the drawer.
    pub lot_id: Uuid,
    /// What is known of the lot.
    pub lot: ExposedLot,
}

/// Which lots to look for.
#[asked(Eq)]
pub struct ExposureQuery {
    /// The lot or batch code.
    #[schemars(length(min = 1, max = 40))]
    pub lot: String,
    /// The maker, as the studio calls it; every maker's if absent.
    #[schemars(length(min = 1, max = 80))]
    pub maker: Option<String>,
    /// The maker's catalogue number; any if absent.
    #[schemars(length(min = 1, max = 40))]
    pub reference: Option<String>,
    /// Rows a page, treatments first, then checks; all of them without `limit` and `cursor`.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// Which page of the exposures of a lot.
#[asked(Default, Eq)]
pub struct ExposurePageQuery {
    /// Rows a page, treatments first, then checks; all of them without `limit` and `cursor`.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A recall that the studio acted on, as it is kept.
#[told(Eq)]
pub struct Recall {
    /// Its id.
    pub id: Uuid,
    /// When the lots were taken out of the drawer.
    pub at: Instant,
    /// What the notice says.
    pub reason: String,
    /// Who acted on it: `owner` or the name of a plug-in.
    pub by: String,
    /// The lot or batch code that was called back; absent if a lot without a code was, or one alone.
    pub lot: Option<String>,
    /// The maker that the notice or the lot names.
    pub maker: Option<String>,
    /// The catalogue number that the notice or the lot names.
    pub reference: Option<String>,
    /// The lots of the drawer that it took, none if none was here; a delivery of the same code that
    /// comes later is called back when it comes.
    pub lot_ids: Vec<Uuid>,
}

/// When and why a lot was called back.
#[told(Eq)]
pub struct LotRecall {
    /// The recall, as `/v1/recalls/{id}` has it; absent for one of a former build.
    pub id: Option<Uuid>,
    /// When the studio acted on it.
    pub at: Instant,
    /// What the notice says.
    pub reason: String,
    /// Who acted on it; absent for one of a former build.
    pub by: Option<String>,
}

/// What was done about a recall, or would be.
#[told]
pub struct RecallReport {
    /// The recall's id; absent in a dry run.
    pub id: Option<Uuid>,
    /// When the lots were taken out of the drawer; when this was answered, in a dry run.
    pub recalled_at: Instant,
    /// Whether this only says what would happen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// What the notice says.
    pub reason: String,
    /// How many lots here are known by this code, and of the maker and article that are named.
    #[serde(default)]
    pub lots_with_code: u32,
    /// What is to be looked at: in the language asked for.
    pub says: Option<String>,
    /// Who and what was exposed.
    pub exposures: Exposures,
}
