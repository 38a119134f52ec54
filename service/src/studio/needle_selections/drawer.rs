//! The drawer that is chosen from: of the studio, or of a branch.

use etui_craft::drawer::Standing;
use etui_schema::lots::LotState;
use etui_schema::vocabulary::{Language, Reference};
use jiff::civil::Date;

use crate::studio::Studio;
use crate::studio::branches::{self, Days, is_of, named};
use crate::studio::craft::Craft;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::lots::{self, StoredLot};
use crate::studio::moment::Moment;

/// The drawer on a day: every lot that lies there.
#[derive(Debug, Clone)]
pub struct Drawer {
    lots: Vec<StoredLot>,
    days: Days,
    usable: usize,
    branch: Option<Reference>,
}

/// That a lot lies in another branch.
pub const ELSEWHERE: &str = "in_another_branch";

impl Drawer {
    /// Those that may be used on their days first, in the order they came; at a branch, those that
    /// lie there.
    #[must_use]
    pub fn on(days: Days, lots: Vec<StoredLot>, branch: Option<&Reference>) -> Self {
        let branch = named(branch).cloned();
        let here =
            |lot: &StoredLot| branch.is_none() || is_of(branch.as_ref(), lot.branch_ref.as_ref());
        let usable = |lot: &StoredLot| {
            lot.standing(days.of(lot.branch_ref.as_ref())).state == LotState::Usable && here(lot)
        };
        let (mut lots, others): (Vec<_>, Vec<_>) = lots.into_iter().partition(usable);
        let usable = lots.len();
        lots.extend(others);
        Self { lots, days, usable, branch }
    }

    /// How a lot stands on the day by which it is judged.
    pub(super) fn standing(&self, lot: &StoredLot) -> Standing {
        lot.standing(self.days.of(lot.branch_ref.as_ref()))
    }

    /// Why others of a lot's code are out of use, and since when.
    pub(super) fn kept_out_beside(&self, lot: &StoredLot) -> Option<(String, Date)> {
        lots::kept_out_beside(lot, &self.lots)
    }

    /// The day that it is where one chooses.
    pub(super) const fn day(&self) -> Date {
        self.days.least()
    }

    /// Why a lot that may be used is not offered: it lies elsewhere, or nobody knows where.
    pub(super) fn elsewhere(&self, lot: &StoredLot) -> Option<&'static str> {
        let here = self.branch.as_ref()?;
        match named(lot.branch_ref.as_ref()) {
            Some(there) if there == here => None,
            Some(_) => Some(ELSEWHERE),
            None => Some("branch_unassigned"),
        }
    }

    /// How many lots may be used.
    #[must_use]
    pub const fn usable(&self) -> usize {
        self.usable
    }

    pub(super) fn halves(&self) -> (&[StoredLot], &[StoredLot]) {
        self.lots.split_at(self.usable.min(self.lots.len()))
    }

    /// Those that may be used on the day.
    #[must_use]
    pub fn usable_lots(&self) -> &[StoredLot] {
        self.halves().0
    }

    /// What to do if nothing could be chosen.
    #[must_use]
    pub fn nothing(&self, craft: &Craft, is_empty: bool, language: Language) -> Option<String> {
        is_empty.then(|| craft.drawer.nothing(language, 0 < self.usable))
    }
}

/// The drawer today, of a branch if one is named: of it, what the caller reaches.
///
/// # Errors
/// [`Error::Refused`] for a branch that is not there; what the store met.
pub async fn at_branch(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    branch: Option<&Reference>,
) -> Result<Drawer, Error> {
    let (here, _) = branches::there(studio, snap, (branch, "#/branch_ref")).await?;
    let days = Days::judging(studio, snap, moment.dated, [&here.zone; 2]).await?;
    let mut lying = lots::lying_on(snap, days.least()).await?;
    lying.retain(|lot| moment.mandate.reaches_branch(lot.branch_ref.as_ref()));
    Ok(Drawer::on(days, lying, branch))
}
