//! One question more, if it is asked: how an artist's own results held.
//!
//! Its desirability is the share that surely held with a needle ([`OwnShare`]),
//! or that of all her work of the kind where her results do not set the needle
//! apart or there are none. It enters the mean with a small weight of its own and
//! is never 0: it sets nothing aside, brings back nothing that is, and touches no
//! caution, depth or pass. Too few results of the kind in all, and it is not asked.

use etui_schema::vocabulary::{Effect, Treatment};

use super::answer::{OwnAnswer, OwnQuestion};
use super::score::{Traits, Weighed};
use crate::hand::{Own, OwnShare, OwnWork, Standing};
use crate::rules::Origin;
use crate::text::Voice;

/// What a share counts at the least: a desirability of 0 would set aside.
const LEAST: f64 = 0.01;

/// What is asked, before it is known for which effect.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    pub(super) own: Own<'a>,
    pub(super) weight: f64,
}

/// What her results say of each candidate.
pub(super) struct Known<'a> {
    asked: Asked<'a>,
    work: OwnWork<'a>,
    shares: Vec<Option<OwnShare>>,
}

impl<'a> Asked<'a> {
    pub(super) fn of(
        self,
        treatment: Treatment,
        effect: Effect,
        candidates: &[Traits],
    ) -> Known<'a> {
        let work = self.own.work(treatment, effect);
        let shares = candidates.iter().map(|one| work.of(&one.configuration)).collect();
        Known { asked: self, work, shares }
    }
}

impl Known<'_> {
    /// What the question adds; nothing if it is not asked.
    pub(super) fn weighed(&self) -> Option<Weighed> {
        let (mean, weight) = (self.work.mean()?, self.asked.weight);
        let ln = |share: &Option<OwnShare>| weight * desirability(*share, mean).ln();
        (0.0 < weight).then(|| Weighed { weight, lns: self.shares.iter().map(ln).collect() })
    }

    /// Whether nothing in her results tells two candidates apart.
    pub(super) fn stand_alike(&self, one: usize, other: usize) -> bool {
        let standing =
            |i: usize| self.share(i).map_or(Standing::Alike, |share: OwnShare| share.standing);
        standing(one) == standing(other)
    }

    fn share(&self, candidate: usize) -> Option<OwnShare> {
        self.shares.get(candidate).copied().flatten()
    }

    /// The answer for one candidate; `None` if the question is not asked.
    pub(super) fn answer(&self, voice: Voice<'_>, candidate: usize) -> Option<OwnAnswer> {
        let mean = self.work.mean()?;
        let share = self.share(candidate);
        let because = match share {
            None => voice.get("own.none").to_owned(),
            Some(share) => of_share(voice, &share, mean),
        };
        Some(OwnAnswer { share, desirability: desirability(share, mean), because })
    }

    /// What is said of the question as a whole.
    pub(super) fn question(&self, voice: Voice<'_>, weight: &Origin) -> OwnQuestion {
        let (results, mean, own) = (self.work.results(), self.work.mean(), self.asked.own);
        let n = results.to_string();
        let mut because = match mean {
            Some(mean) => voice.fill("own.all", &[("n", &n), ("all", &of_100(mean))]),
            None => voice.fill("own.few", &[("n", &n), ("fewest", &own.fewest().to_string())]),
        };
        if own.forgotten() != 0 {
            let forgotten = own.forgotten().to_string();
            because.push(' ');
            because.push_str(&voice.fill("own.forgotten", &[("n", &forgotten)]));
        }
        let mut basis = vec![weight.basis("own results' weight")];
        basis.extend(own.basis());
        let forgotten = own.forgotten();
        OwnQuestion { weight: self.asked.weight, results, forgotten, mean, because, basis }
    }
}

fn desirability(share: Option<OwnShare>, mean: f64) -> f64 {
    share.map_or(mean, |share| share.counts).clamp(LEAST, 1.0)
}

fn of_100(share: f64) -> String {
    format!("{:.0}", share * 100.0)
}

fn of_share(voice: Voice<'_>, share: &OwnShare, mean: f64) -> String {
    let key = match share.standing {
        Standing::Below => "own.below",
        Standing::Alike => "own.alike",
        Standing::Above => "own.above",
    };
    let values = [
        ("n", &*share.results.to_string()),
        ("share", &of_100(share.share)),
        ("low", &of_100(share.interval.low)),
        ("high", &of_100(share.interval.high)),
        ("all", &of_100(mean)),
    ];
    let mut said = voice.fill(key, &values);
    if share.silent != 0 {
        said.push(' ');
        said.push_str(&voice.fill("own.silent", &[("n", &share.silent.to_string())]));
    }
    said
}
