//! Which rung holds on a day.

use etui_schema::sign_offs::Covers;
use etui_schema::vocabulary::{Configuration, Effect, PracticeState, Rung, Site};
use jiff::Timestamp;
use jiff::civil::Date;

use super::Training;

/// A trainer's word for one artist.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedOff {
    /// For what.
    pub covers: Covers,
    /// How far it goes.
    pub rung: Rung,
    /// Its first day.
    pub from: Date,
    /// Its last day.
    pub until: Date,
    /// When it was given, if that is known.
    pub given_at: Option<Timestamp>,
    /// Whether it was taken back.
    pub is_withdrawn: bool,
    /// When, if that is known.
    pub withdrawn_at: Option<Timestamp>,
    /// Whether later results speak against it.
    pub is_in_doubt: bool,
}

impl SignedOff {
    /// Whether taking this one back speaks against another for the same work: that was not given
    /// afterwards, as far as is known.
    fn takes_back(&self, other: &Self) -> bool {
        let afresh =
            self.withdrawn_at.zip(other.given_at).is_some_and(|(back, given)| back < given);
        self.is_withdrawn && !afresh
    }
}

/// What is to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// With what. What is not told of it is not covered.
    pub configuration: Configuration,
    /// The effect.
    pub effect: Effect,
    /// Every site on which it may be; all must be covered.
    pub sites: Vec<Site>,
}

/// What was done with one pack. What is not known may have been anything.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// With what.
    pub configuration: Configuration,
    /// The effect; `None` if it was not told.
    pub effect: Option<Effect>,
    /// Sites on which it may have been; none if nothing was told of it.
    pub sites: Vec<Site>,
}

/// What holds for some work on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// The highest rung; `None` if nothing holds.
    pub rung: Option<Rung>,
    /// How that comes: signed, or a rung lower than it was signed, or nothing
    /// that was ever signed.
    pub state: PracticeState,
}

impl Held {
    /// Nothing was ever signed.
    const NOTHING: Self = Self { rung: None, state: PracticeState::Practising };
}

impl Training {
    /// The rung that holds for some work on a day.
    ///
    /// More sign-offs never lower it, and one that was taken back lowers what was given for the work
    /// before. Days are inclusive.
    #[must_use]
    pub fn held(&self, signed: &[SignedOff], work: &Work, on: Date) -> Held {
        let at = |site: &Site| {
            let covering = signed.iter().filter(|one| self.covers(&one.covers, work, *site));
            let covering: Vec<&SignedOff> = covering.filter(|one| one.from <= on).collect();
            let held = covering.iter().map(|one| self.on(one, &covering, on));
            held.max_by_key(rank).unwrap_or(Held::NOTHING)
        };
        work.sites.iter().map(at).min_by_key(rank).unwrap_or(Held::NOTHING)
    }

    /// Whether by one of the words that she holds somebody may sign off what is covered: she works
    /// alone with all of it herself on that day. A diameter beside what was signed for
    /// her is none that she signs for others.
    #[must_use]
    pub fn may_sign(&self, one: &SignedOff, held: &[SignedOff], covers: &Covers, on: Date) -> bool {
        let of_kind = |mine: &Covers| {
            let kind = |of: &Covers| (of.grouping, of.count, of.effect, of.site);
            kind(mine) == kind(covers)
        };
        let (mine, asked) = (&one.covers.diameter_mm, &covers.diameter_mm);
        let room = self.rules.sign_off.diameter_tolerance_mm.value + 1e-9;
        let meets = |other: &&SignedOff| {
            let theirs = &other.covers.diameter_mm;
            let near = theirs.from - room <= asked.to && asked.from <= theirs.to + room;
            other.from <= on && of_kind(&other.covers) && near
        };
        let beside: Vec<&SignedOff> = held.iter().filter(meets).collect();
        of_kind(&one.covers)
            && mine.from <= asked.from
            && asked.to <= mine.to
            && one.from <= on
            && self.on(one, &beside, on) == ALONE
    }

    /// Whether a sign-off is for all of this work, whatever its days.
    #[must_use]
    pub fn is_covered(&self, covers: &Covers, work: &Work) -> bool {
        !work.sites.is_empty() && work.sites.iter().all(|site| self.covers(covers, work, *site))
    }

    /// Whether a sign-off is for this work on one site, whatever its days.
    fn covers(&self, covers: &Covers, work: &Work, site: Site) -> bool {
        let Covers { grouping, count, diameter_mm, effect, site: signed_site } = covers;
        let Configuration { diameter_mm: told, count: tips, grouping: bound, taper: _ } =
            work.configuration;
        // A hair for decimal numbers that binary cannot hold: 0.30 + 0.05 is 0.35.
        let room = self.rules.sign_off.diameter_tolerance_mm.value + 1e-9;
        let near = |told: f64| diameter_mm.from - room <= told && told <= diameter_mm.to + room;
        bound == Some(*grouping)
            && tips == Some(*count)
            && told.is_some_and(near)
            && work.effect == *effect
            && site == *signed_site
    }

    /// Whether a sign-off may be for what was done: what is not known of it is taken against
    /// the sign-off.
    #[must_use]
    pub fn may_cover(&self, covers: &Covers, done: &Done) -> bool {
        let Covers { grouping, count, diameter_mm, effect, site } = covers;
        let Done { configuration, effect: worked, sites } = done;
        let configuration = Configuration {
            grouping: configuration.grouping.or(Some(*grouping)),
            count: configuration.count.or(Some(*count)),
            diameter_mm: configuration.diameter_mm.or(Some(diameter_mm.from)),
            taper: None,
        };
        let work = Work { configuration, effect: worked.unwrap_or(*effect), sites: Vec::new() };
        (sites.is_empty() || sites.contains(site)) && self.covers(covers, &work, *site)
    }

    /// Whether two configurations are one as far as practice goes: what is not told
    /// of either is not alike.
    #[must_use]
    pub fn alike(&self, one: &Configuration, other: &Configuration) -> bool {
        let room = self.rules.sign_off.diameter_tolerance_mm.value + 1e-9;
        let near = |(one, other): (f64, f64)| (one - other).abs() <= room;
        let whole = one.grouping.is_some() && one.count.is_some();
        whole
            && (one.grouping, one.count) == (other.grouping, other.count)
            && one.diameter_mm.zip(other.diameter_mm).is_some_and(near)
    }

    /// What one sign-off is still worth on a day from its first on, beside others for the same work.
    fn on(&self, signed: &SignedOff, beside: &[&SignedOff], on: Date) -> Held {
        let every = self.rules.sign_off.rung_days.value.max(1);
        let past = days_between(signed.until, on);
        let lapsed = if past <= 0 { 0 } else { 1 + (past - 1) / every };
        let is_withdrawn = signed.is_withdrawn || beside.iter().any(|one| one.takes_back(signed));
        let spoken_against = is_withdrawn || signed.is_in_doubt;
        let state = match signed {
            _ if is_withdrawn => PracticeState::Withdrawn,
            SignedOff { is_in_doubt: true, .. } => PracticeState::InDoubt,
            _ if 0 < lapsed => PracticeState::Lapsed,
            _ => PracticeState::Signed,
        };
        let down = lapsed.saturating_add(i32::from(spoken_against));
        Held { rung: lower(signed.rung, down), state }
    }
}

/// Signed for work alone, and nothing speaks against it.
const ALONE: Held = Held { rung: Some(Rung::Alone), state: PracticeState::Signed };

/// What is better: the higher rung, and of two alike the one that was signed so.
fn rank(held: &Held) -> (Option<Rung>, bool) {
    (held.rung, held.state == PracticeState::Signed)
}

/// So many rungs lower.
fn lower(rung: Rung, by: i32) -> Option<Rung> {
    let at = Rung::ALL.iter().position(|one| *one == rung)?;
    let down = usize::try_from(by.max(0)).unwrap_or(usize::MAX);
    at.checked_sub(down).and_then(|at| Rung::ALL.get(at)).copied()
}

/// Days from one day to another, negative backwards.
fn days_between(from: Date, to: Date) -> i32 {
    from.until(to).map_or(i32::MAX, |span| span.get_days())
}
