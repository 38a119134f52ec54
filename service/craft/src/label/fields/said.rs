//! What a printed date says under the word it was printed under.

use jiff::civil::Date;

use super::Scan;
use crate::label::MonthRule;
use crate::label::dates::{self, Precision, PrintedDate, Window};
use crate::label::reading::{DateSaid, Origin};
use crate::label::tables::Field;

impl Scan<'_> {
    /// The day a printed date stands for, with the words it was printed under: of several, the
    /// earliest that one of them says.
    pub(super) fn date_said(&self, date: &PrintedDate, fields: &[Field]) -> DateSaid {
        let mut all = Vec::with_capacity(date.readings.len() + 1);
        let each = |reading| fields.iter().map(move |field| (reading, *field));
        let mut doubtful = date.doubtful || 1 < date.readings.len();
        for ((day, precision), field) in date.readings.iter().flat_map(each) {
            // A sterile pack tells at least year and month (Regulation (EU) 2017/745, Annex I,
            // 23.3): of a year alone the rest may be lost, and its last day is the latest guess.
            doubtful |= *precision == Precision::Year && field != Field::Made;
            let before = match precision {
                Precision::Day => day.yesterday().unwrap_or(*day),
                Precision::Month => dates::last_of_month_before(*day),
                Precision::Year => Date::new(day.year() - 1, 12, 31).unwrap_or(*day),
            };
            match (precision, field) {
                (Precision::Month, Field::Made) => all.push(day.first_of_month()),
                (_, Field::ExpiryFrom) => all.push(before),
                (Precision::Day, Field::ExpiryBefore) => all.extend([before, *day]),
                (Precision::Month, Field::ExpiryWords | Field::ExpiryBefore) => {
                    match self.policy.words_month {
                        MonthRule::Earlier => all.extend([before, *day]),
                        MonthRule::EndOfMonth => all.push(*day),
                        MonthRule::EndOfMonthBefore => all.push(before),
                    }
                }
                (Precision::Year, Field::ExpiryWords | Field::ExpiryBefore) => {
                    all.extend([before, *day]);
                }
                _ => all.push(*day),
            }
        }
        let swallowed = &self.reader.file.swallowed;
        let window =
            Window { years_back: swallowed.years_back, years_ahead: swallowed.years_ahead };
        all.sort_unstable_by_key(|day| (window.outside(*day, self.as_of), *day));
        all.dedup();
        doubtful |= 1 < all.len();
        DateSaid {
            date: all.first().copied().unwrap_or_default(),
            precision: date.readings.first().map_or(Precision::Day, |r| r.1),
            also: all.split_off(1.min(all.len())),
            doubtful,
            repaired: date.repaired,
            from: Origin::Text,
        }
    }
}
