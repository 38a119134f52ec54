//! Habits of suppliers: what somebody knows of how a supplier prints its packs,
//! kept once and used for every later delivery from there.

use etui_craft::drawer::Habit;
use etui_craft::label::{MonthRule, Whose};
use etui_schema::deliveries::{HabitAsStored, HabitRecord, MonthHabit};
use etui_schema::lots::{Confirmed, LotQuestion, LotSettlement};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::documents::Document;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::sent_back::SentBack;
use crate::store::Space;
use crate::store::record::{Record, decode};
use crate::store::rows::Rows;

/// A habit as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredHabit {
    habit_ref: Reference,
    maker: Option<String>,
    gtin_prefix: Option<String>,
    reference_prefix: Option<String>,
    month: Option<MonthHabit>,
    sterile: Option<bool>,
    confirmed_by: Reference,
    note: Option<String>,
    version: u64,
    updated_at: Instant,
}

impl StoredHabit {
    /// The habit as the drawer knows it.
    #[must_use]
    pub fn habit(&self) -> Habit<'_> {
        Habit {
            whose: Whose {
                maker: self.maker.as_deref(),
                gtin_prefix: self.gtin_prefix.as_deref(),
                reference_prefix: self.reference_prefix.as_deref(),
            },
            month: self.month.map(|month| match month {
                MonthHabit::LastDay => MonthRule::EndOfMonth,
                MonthHabit::LastDayBefore => MonthRule::EndOfMonthBefore,
            }),
            sterile: self.sterile,
        }
    }

    /// That a question of a lot is settled by it.
    #[must_use]
    pub fn settlement(
        &self,
        moment: &Moment,
        question: LotQuestion,
        confirmed: Confirmed,
    ) -> LotSettlement {
        LotSettlement {
            at: Instant(moment.now),
            by: self.confirmed_by.to_string(),
            settled: vec![question.into()],
            confirmed,
            habit: Some(self.habit_ref.clone()),
        }
    }
}

impl Record for StoredHabit {
    const KIND: &'static str = "supplier-habit";
}

impl Document for StoredHabit {
    const SPACE: Space = Space::new("supplier-habits");
    const WHAT: &'static str = "supplier-habit";
    const REFERENCE: &'static str = "habit_ref";
    type Request = HabitRecord;
    type Answer = HabitAsStored;

    /// Refuses a habit that speaks of no supplier.
    fn check(request: &HabitRecord) -> Result<(), Error> {
        let HabitRecord { maker, gtin_prefix, reference_prefix, .. } = request;
        if maker.is_none() && gtin_prefix.is_none() && reference_prefix.is_none() {
            let why = "name whose habit it is: `maker`, `gtin_prefix` or `reference_prefix`";
            return Err(Error::at("#/maker", FaultCode::Missing, why));
        }
        Ok(())
    }

    fn sent_back(request: &HabitRecord) -> SentBack<'_> {
        let HabitRecord { habit_ref: reference, version, updated_at, .. } = request;
        SentBack { reference: reference.as_ref(), version: *version, updated_at: *updated_at }
    }

    fn of(reference: &Reference, request: &HabitRecord, version: u64, at: Timestamp) -> Self {
        let HabitRecord {
            maker,
            gtin_prefix,
            reference_prefix,
            month,
            sterile,
            confirmed_by,
            note,
            habit_ref: _,
            version: _,
            updated_at: _,
        } = request.clone();
        Self {
            habit_ref: reference.clone(),
            maker,
            gtin_prefix,
            reference_prefix,
            month,
            sterile,
            confirmed_by,
            note,
            version,
            updated_at: Instant(at),
        }
    }

    fn stamp(&self) -> (u64, Instant) {
        (self.version, self.updated_at)
    }

    fn answer(&self) -> HabitAsStored {
        let Self {
            habit_ref,
            maker,
            gtin_prefix,
            reference_prefix,
            month,
            sterile,
            confirmed_by,
            note,
            version,
            updated_at,
        } = self.clone();
        HabitAsStored {
            habit_ref,
            maker,
            gtin_prefix,
            reference_prefix,
            month,
            sterile,
            confirmed_by,
            note,
            version,
            updated_at,
        }
    }
}

/// Every habit that is kept.
///
/// # Errors
/// What the store met.
pub async fn all(snap: &mut Snap) -> Result<Vec<StoredHabit>, Error> {
    let (mut rows, mut habits) = (Rows::all(StoredHabit::SPACE), Vec::new());
    while let Some((_, value)) = rows.next(snap).await? {
        habits.push(decode(&value)?);
    }
    Ok(habits)
}
