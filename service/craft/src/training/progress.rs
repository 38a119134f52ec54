//! Whether the results of practice propose a sign-off, and whether later ones
//! speak against it.
//!
//! The learning-curve CUSUM holds two shares of panels that are not adequate
//! against each other: p0 of whoever is ready, p1 of whoever is not. Its sum
//! starts at nothing, never falls below, rises by ln((1−p0)/(1−p1)) with an
//! adequate panel and falls by ln(p1/p0) with another; at the limit it proposes.
//! After that the same two shares are watched the other way round.
//!
//! What counts is settled before anybody sees a result. Panels stand in the order of
//! day and sheet; of one day a few count, of each kind one before any has a second, drawn
//! by the number of the sheet: so every panel counts sooner or later, and none can be left out.
//! A sheet that is not handed in by its day counts as missed in the same places.
//! Until that day nothing behind it counts, so that a bad sheet cannot be kept
//! back until good ones have proposed.

use etui_schema::vocabulary::{DrillKey, PracticeState};
use jiff::Span;
use jiff::civil::Date;

use super::Training;
use super::drills::shuffle;
use crate::configuration::pattern::Chance;
use crate::evidence::Basis;

/// One sheet of practice, as it was printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// Its number, rising.
    pub number: u32,
    /// The day for which it was made.
    pub made_on: Date,
    /// The last day on which it may be handed in.
    pub hand_in_by: Date,
    /// What each of its panels practises.
    pub drills: Vec<DrillKey>,
    /// What was handed in; `None` while nothing was.
    pub handed_in: Option<Vec<Attempt>>,
}

/// One panel that was handed in. Of several of one panel the first counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Attempt {
    /// Its number on the sheet, from 1.
    pub panel: u8,
    /// Whether everything judged was met.
    pub is_adequate: bool,
}

/// All practice with one configuration, effect and site.
#[derive(Debug, Clone, Copy)]
pub struct Practice<'a> {
    /// Every sheet, in any order.
    pub sheets: &'a [Sheet],
    /// Numbers of sheets with which she began anew, rising.
    pub anew_from: &'a [u32],
    /// The studio's day.
    pub today: Date,
}

/// One panel that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome {
    /// The sheet it stands on.
    pub sheet: u32,
    /// The day for which that was made.
    pub on: Date,
    /// Whether it was adequate.
    pub is_adequate: bool,
}

/// Where practice stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// `practising` or `ready_to_sign`.
    pub state: PracticeState,
    /// The sum after the last panel that counts.
    pub value: f64,
    /// The sum that proposes.
    pub limit: f64,
    /// Panels that count in this round.
    pub counted: u32,
    /// Days on which one of them was adequate.
    pub days: u32,
    /// Adequate panels in a row that would still reach the limit.
    pub straight: u32,
    /// Days that are still wanted, by the days asked for and by the panels that count in one.
    pub days_wanted: u32,
    /// The sheet that is waited for; nothing behind it counts.
    pub waits_for: Option<u32>,
    /// Sheets that were not handed in and count as missed.
    pub not_handed_in: Vec<u32>,
    /// Whether the round is over without a proposal: time for a talk.
    pub is_over: bool,
    /// How often she may still begin anew.
    pub rounds_left: u32,
}

/// What was seen after a sign-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept {
    /// The sum after the last result.
    pub value: f64,
    /// Whether it reached its limit at any time.
    pub is_in_doubt: bool,
    /// How many results came.
    pub results: u32,
}

/// What the panels say, before they are put together.
struct Counted {
    outcomes: Vec<Outcome>,
    waits_for: Option<u32>,
    not_handed_in: Vec<u32>,
}

impl Training {
    /// What an adequate panel and another add to the learning sum.
    #[must_use]
    pub fn learning_weights(&self) -> (f64, f64) {
        let rules = &self.rules.progress;
        learning_weights(rules.adequate.value, rules.inadequate.value)
    }

    /// The last day on which a sheet made on a day may be handed in.
    #[must_use]
    pub fn hand_in_by(&self, made_on: Date) -> Date {
        made_on.saturating_add(Span::new().days(self.rules.progress.hand_in_days.value))
    }

    /// Where practice stands today.
    #[must_use]
    pub fn progress(&self, practice: Practice<'_>) -> Progress {
        let rules = &self.rules.progress;
        let Counted { outcomes, waits_for, not_handed_in } = self.counted(practice);
        let rounds = usize::try_from(rules.rounds.value).unwrap_or(usize::MAX);
        let anew = &practice.anew_from[..practice.anew_from.len().min(rounds)];
        let from = anew.iter().copied().max().unwrap_or(0);
        let horizon = usize::try_from(rules.horizon.value).unwrap_or(usize::MAX);
        let round: Vec<Outcome> =
            outcomes.into_iter().filter(|one| from <= one.sheet).take(horizon).collect();
        let run = self.run(&round);
        let (pass, _) = self.learning_weights();
        let limit = rules.limit.value;
        let left = if run.is_ready { 0 } else { straight(limit - run.value, pass) };
        Progress {
            state: if run.is_ready {
                PracticeState::ReadyToSign
            } else {
                PracticeState::Practising
            },
            value: run.value,
            limit,
            counted: count(round.len()),
            days: run.days,
            straight: left,
            days_wanted: if run.is_ready {
                0
            } else {
                self.days_wanted(&round, practice.today, run.days, left)
            },
            waits_for,
            not_handed_in,
            is_over: !run.is_ready && round.len() == horizon,
            rounds_left: rules.rounds.value.saturating_sub(count(anew.len())),
        }
    }

    /// What counts after a sign-off: panels of sheets behind a number.
    #[must_use]
    pub fn kept_up(&self, practice: Practice<'_>, signed_after: u32) -> Kept {
        let outcomes = self.counted(practice).outcomes;
        self.kept(outcomes.iter().filter(|one| signed_after < one.sheet).map(|one| one.is_adequate))
    }

    /// Watches results of practice after a sign-off. It raises doubt; it takes nothing back.
    #[must_use]
    pub fn kept(&self, results: impl IntoIterator<Item = bool>) -> Kept {
        self.watched(self.rules.progress.adequate.value, 0.0, results)
    }

    /// Watches healed results after a sign-off in the same way: whether each held, oldest first.
    /// The share that is usually lost is that of the studio's other results, `(lost, of)`, drawn
    /// towards practice's own as few results are; of nobody else's work it is practice's own.
    /// It begins at `from`: at nothing, or where it stood before results were forgotten.
    #[must_use]
    pub fn kept_healed(
        &self,
        (lost, of): (u32, u32),
        from: f64,
        results: impl IntoIterator<Item = bool>,
    ) -> Kept {
        let rules = &self.rules.progress;
        let prior = rules.prior_results.value;
        let drawn =
            (prior * rules.adequate.value + f64::from(lost)) / (prior + f64::from(of.max(lost)));
        // A studio that loses more than whoever is not ready excuses nobody.
        self.watched(drawn.min(rules.inadequate.value), from, results)
    }

    fn watched(&self, usual: f64, from: f64, results: impl IntoIterator<Item = bool>) -> Kept {
        let rules = &self.rules.progress;
        let ratio = odds(rules.inadequate.value) / odds(rules.adequate.value);
        let mut kept = Kept { value: from, is_in_doubt: false, results: 0 };
        for is_adequate in results {
            kept.value = (kept.value + kept_weight(!is_adequate, usual, ratio)).max(0.0);
            kept.is_in_doubt |= rules.doubt_limit.value <= kept.value;
            kept.results = kept.results.saturating_add(1);
        }
        kept
    }

    /// Where the numbers come from.
    #[must_use]
    pub fn progress_basis(&self) -> Vec<Basis> {
        let rules = &self.rules.progress;
        vec![
            rules.sources.learning.basis("the test of learning"),
            rules.sources.kept.basis("the watch after a sign-off"),
            rules.sources.few.basis("few results drawn towards the studio's"),
            rules.adequate.source.basis("the share of panels that whoever is ready misses"),
            rules.inadequate.source.basis("the share that whoever is not ready misses"),
            rules.limit.source.basis("the sum that proposes"),
            self.rules.way.steps.source.basis("configurations on a beginner's way, their order"),
            rules.least_days.source.basis("days of practice, panels a day, panels a round"),
        ]
    }

    /// The panels that count, in their order.
    fn counted(&self, practice: Practice<'_>) -> Counted {
        let most = self.rules.progress.counted_per_day.value;
        let mut sheets: Vec<&Sheet> = practice.sheets.iter().collect();
        sheets.sort_by_key(|sheet| (sheet.made_on, sheet.number));
        let mut found =
            Counted { outcomes: Vec::new(), waits_for: None, not_handed_in: Vec::new() };
        let mut day = (Date::MIN, 0);
        for sheet in sheets {
            if day.0 != sheet.made_on {
                day = (sheet.made_on, 0);
            }
            let due = sheet.hand_in_by.min(self.hand_in_by(sheet.made_on));
            if sheet.handed_in.is_none() && practice.today <= due {
                found.waits_for = Some(sheet.number);
                break;
            }
            let handed_in = sheet.handed_in.as_deref().unwrap_or_default();
            if sheet.handed_in.is_none() {
                found.not_handed_in.push(sheet.number);
            }
            for panel in drawn(sheet) {
                day.1 += 1;
                if most < day.1 {
                    break;
                }
                let first = handed_in.iter().find(|one| one.panel == panel);
                let is_adequate = first.is_some_and(|one| one.is_adequate);
                let on = sheet.made_on;
                found.outcomes.push(Outcome { sheet: sheet.number, on, is_adequate });
            }
        }
        found
    }

    /// Days that so many more panels take at least: of one day a few count, and today's may be
    /// partly used.
    fn days_wanted(&self, round: &[Outcome], today: Date, days: u32, left: u32) -> u32 {
        let rules = &self.rules.progress;
        let a_day = rules.counted_per_day.value.max(1);
        let used = count(round.iter().filter(|one| one.on == today).count());
        let room = if used == 0 { 0 } else { a_day.saturating_sub(used) };
        let for_panels = left.saturating_sub(room).div_ceil(a_day);
        rules.least_days.value.saturating_sub(days).max(for_panels)
    }

    /// The sum over a round. A proposal stands until the sum has fallen by as much
    /// as raises doubt after a sign-off. Both ends move one way with the sum, so a
    /// worse result is never nearer.
    fn run(&self, round: &[Outcome]) -> Run {
        let rules = &self.rules.progress;
        let (pass, miss) = self.learning_weights();
        let (limit, least_days) = (rules.limit.value, rules.least_days.value);
        let mut run = Run { value: 0.0, days: 0, is_ready: false };
        let mut last = None;
        for one in round {
            // A day on which nothing was adequate brings nobody nearer.
            if one.is_adequate && last != Some(one.on) {
                run.days += 1;
                last = Some(one.on);
            }
            // What was beyond the limit is no store to live on.
            run.value = learnt(run.value.min(limit), if one.is_adequate { pass } else { miss });
            // The last bit of a sum of many weights decides nothing.
            if limit <= run.value + 1e-9 && least_days <= run.days {
                run.is_ready = true;
            } else if run.value <= limit - rules.doubt_limit.value {
                run.is_ready = false;
            }
        }
        run
    }
}

/// The panels of a sheet in the order in which they count: of each kind one before any has a second.
fn drawn(sheet: &Sheet) -> Vec<u8> {
    let mut panels: Vec<(u8, DrillKey)> = (1..).zip(sheet.drills.iter().copied()).collect();
    shuffle(&mut panels, &mut Chance::new(u64::from(sheet.number)));
    let before = |at: usize, drill: DrillKey| {
        panels.iter().take(at).filter(|(_, other)| *other == drill).count()
    };
    let mut turns: Vec<(usize, u8)> = panels
        .iter()
        .enumerate()
        .map(|(at, (panel, drill))| (before(at, *drill), *panel))
        .collect();
    turns.sort_by_key(|(turn, _)| *turn);
    turns.into_iter().map(|(_, panel)| panel).collect()
}

/// Where a round stands.
#[derive(Clone, Copy)]
struct Run {
    value: f64,
    days: u32,
    is_ready: bool,
}

/// The weights of the learning sum, of an adequate panel and of another.
pub(super) fn learning_weights(p0: f64, p1: f64) -> (f64, f64) {
    (((1.0 - p0) / (1.0 - p1)).ln(), (p0 / p1).ln())
}

/// One step of the learning sum.
pub(super) fn learnt(sum: f64, weight: f64) -> f64 {
    (sum + weight).max(0.0)
}

/// What one result adds to the watch, where a share `p` of misses is usual and
/// `ratio` is that of the odds to watch for.
pub(super) fn kept_weight(is_missed: bool, p: f64, ratio: f64) -> f64 {
    let against = if is_missed { ratio.ln() } else { 0.0 };
    against - (1.0 - p + ratio * p).ln()
}

pub(super) fn odds(share: f64) -> f64 {
    share / (1.0 - share)
}

/// Whole steps that bring a sum over what is left; 0 if nothing is.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped between 0 and a million"
)]
pub(super) fn straight(left: f64, step: f64) -> u32 {
    (left / step - 1e-9).ceil().clamp(0.0, 1e6) as u32
}

fn count(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}
