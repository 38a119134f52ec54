//! At the chair: the skin shows damage. How far work stops, what to ask, and
//! what is gentler for the rest.
//!
//! What each sign asks for depends on the sign and on the site
//! (`rules/trauma/signs.toml`): heavy bleeding, a shredded surface, a blowout
//! and a redness that spreads end the session; a spot that weeps or bruises is
//! finished for today; on a lid nearly everything ends the session. A skin that
//! takes no pigment is not hurt: it asks other questions, and never for more
//! depth. The sentences stand in `rules/texts/trauma.*.toml`.
//!
//! Where work stops no needle is named. A spot that is finished stops it too
//! as long as nobody told which spot: the rest of an area cannot be told from
//! the spot then. What is borne at one spot alone and shows on the whole area, or at a
//! second spot, ends the session; where nobody told the place, that is asked.
//!
//! What was recorded before and stands is judged with what is seen now. Where it alone
//! stops the work, the answer says so, and nothing of it is said of the spot seen now.
//!
//! What is *gentler* ([`Gentler`]) is judged on three things at once: the
//! pressure on each point, the trauma index, and what the machine drives. A
//! needle that is offered lowers the pressure by a least share
//! (`least_relief`), lowers the index too, is no thicker and no blunter, and is
//! no larger a group unless the machine, as far as it was told, drives it. It also keeps
//! a least share of what the present needle is worth for the effect (`least_fit`). What
//! is of the same grouping comes first, then what suits best, and one of a kind is enough.
//!
//! Where the record speaks against the pack in use, the needle itself may be what hurts: the same out
//! of another lot is named if one lies ready, and nothing else then.
//!
//! Nothing here is ever deeper, thicker, longer of stroke or faster, and no
//! needle is named for the spot itself.

mod gentler;
pub(crate) mod rules;

use std::sync::Arc;

use etui_schema::vocabulary::aftercare::ReviewZone;
use etui_schema::vocabulary::chair::{StopScope, TraumaSign};
use etui_schema::vocabulary::{Effect, Language};
use jiff::SignedDuration;

pub use self::gentler::{Gentler, Offer};
pub use self::rules::{Rules, StepKind};
use self::rules::{StepRule, Turn};
use crate::configuration::Complete;
use crate::evidence::Basis;

/// What is recorded of a client's area within this time is one session (model parameter).
pub const SESSION: SignedDuration = SignedDuration::from_hours(24);

/// One thing to do, in this order.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What kind of thing it is.
    pub kind: StepKind,
    /// What to do.
    pub change: Arc<str>,
    /// The configuration to change to, for the rest of the area only.
    pub configuration: Option<Complete>,
    /// Why.
    pub because: Arc<str>,
    /// Where it comes from.
    pub basis: Basis,
    /// How far the trade agrees.
    pub agreement: Arc<str>,
}

/// What was recorded before and stands beside what is seen now.
#[derive(Debug, Clone, Copy)]
pub struct Earlier<'a> {
    /// Its signs.
    pub signs: &'a [TraumaSign],
    /// The place for which it stands together with what is seen now.
    pub place: Option<ReviewZone>,
}

/// What was seen, where, and with what in the hand.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// The signs; none where one plans ahead.
    pub signs: &'a [TraumaSign],
    /// Where; none if it was not told, `whole` for all of it.
    pub place: Option<ReviewZone>,
    /// What was recorded before and stands, if anything.
    pub earlier: Option<Earlier<'a>>,
    /// Whether it is a lid or the lash line.
    pub on_lid: bool,
    /// The effect that is worked for, if it was told.
    pub effect: Option<Effect>,
    /// The stroke, if it was told, in mm.
    pub stroke_mm: Option<f64>,
    /// The rate, if it was told, per second.
    pub rate_hz: Option<f64>,
    /// Whether the machine, as far as it was told, drives little.
    pub weak_machine: bool,
    /// What is in the hand; none where the packet does not say.
    pub current: Option<&'a Complete>,
    /// Whether that suits the effect.
    pub fits: bool,
    /// What is gentler among what lies ready, best first.
    pub offers: &'a [Offer],
    /// Whether a machine of which more was told might drive what is gentler.
    pub machine_wanted: bool,
    /// Whether the record speaks against the pack in use.
    pub spoilt: bool,
    /// The same needle, where it lies ready in another lot and nothing is known against it.
    pub fresh: Option<&'a Complete>,
}

/// What to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Whether to stop for today.
    pub stop: bool,
    /// How far work stops.
    pub scope: Option<StopScope>,
    /// What to do, in order.
    pub steps: Vec<Step>,
    /// The usual cautions.
    pub cautions: Vec<String>,
}

impl Rules {
    /// How far work stops for what was seen. What is borne at one spot alone ends the session
    /// where the whole area shows it.
    #[must_use]
    pub fn scope(
        &self,
        signs: &[TraumaSign],
        place: Option<ReviewZone>,
        on_lid: bool,
    ) -> Option<StopScope> {
        let whole = place == Some(ReviewZone::Whole);
        signs.iter().filter_map(|sign| self.sign(*sign).scope(on_lid, whole)).max()
    }

    /// Whether work stops: for the session, or for a spot that nobody named.
    #[must_use]
    pub fn stops(&self, scope: Option<StopScope>, place: Option<ReviewZone>) -> bool {
        match scope {
            None => false,
            Some(StopScope::Session) => true,
            Some(StopScope::Spot) => place.is_none(),
        }
    }

    /// What to do.
    #[must_use]
    pub fn advise(&self, language: Language, seen: &Seen<'_>) -> Advice {
        let earlier = seen.earlier.map_or(&[][..], |earlier| earlier.signs);
        let signs = [seen.signs, earlier].concat();
        let place = seen.earlier.map_or(seen.place, |earlier| earlier.place);
        let joint = Seen { signs: &signs, place, ..*seen };
        let scope = self.scope(&signs, place, seen.on_lid);
        let stop = self.stops(scope, place);
        let own = self.scope(seen.signs, seen.place, seen.on_lid);
        let is_earlier = stop && !(own == scope && self.stops(own, seen.place));
        let names = self.names(language, earlier, place, seen.on_lid);
        let turn = match (stop, scope) {
            (true, Some(StopScope::Session)) => Turn::Session,
            (true, _) => Turn::Nowhere,
            (false, Some(_)) => Turn::Spot,
            (false, None) => Turn::On,
        };
        let mut steps = Vec::new();
        for rule in &self.steps {
            let key = rule.earlier.as_ref().filter(|_| is_earlier).unwrap_or(&rule.key);
            if self.speaks(rule, turn, if rule.seen_now { seen } else { &joint }) {
                match rule.kind {
                    StepKind::Configuration if rule.only_spoilt => {
                        steps.push(self.instead(language, rule, seen));
                    }
                    StepKind::Configuration => steps.extend(self.needles(language, rule, seen)),
                    StepKind::LeaveSpot
                    | StepKind::Ask
                    | StepKind::LighterHand
                    | StepKind::LowerRate
                    | StepKind::ShorterStroke
                    | StepKind::Care
                    | StepKind::TouchUp
                    | StepKind::Stop => {
                        steps.push(self.step(language, rule, key, &[("signs", &names)]))
                    }
                }
            }
        }
        let cautions = self.cautions(language, turn, &signs);
        Advice { stop, scope, steps, cautions }
    }

    /// What no step says: the steps tell whoever reads them to stop, and what to leave.
    fn cautions(&self, language: Language, turn: Turn, signs: &[TraumaSign]) -> Vec<String> {
        let rest = (turn == Turn::Spot).then_some("caution.spot");
        let hurt = signs.is_empty() || signs.iter().any(|sign| self.sign(*sign).hurts);
        let keys = rest.into_iter().chain(hurt.then_some("caution.help"));
        let keys = keys.chain(["caution.practice"]);
        keys.map(|key| self.texts.get(language, key).to_owned()).collect()
    }

    /// What stops the work of what was recorded before, in words: what ends the session
    /// wherever it shows, or else what stops it at this place.
    fn names(
        &self,
        language: Language,
        signs: &[TraumaSign],
        place: Option<ReviewZone>,
        on_lid: bool,
    ) -> String {
        let stopping = |scope: fn(Option<StopScope>) -> bool, place| {
            let stops = |sign: &&TraumaSign| scope(self.scope(&[**sign], place, on_lid));
            signs.iter().filter(stops).copied().collect::<Vec<_>>()
        };
        let mut named = stopping(|scope| scope == Some(StopScope::Session), None);
        if named.is_empty() {
            named = stopping(|scope| scope.is_some(), place);
        }
        let name = |sign: &TraumaSign| self.texts.get(language, &format!("sign.{sign}")).to_owned();
        named.iter().map(name).collect::<Vec<_>>().join(", ")
    }

    /// Whether a step is said: at this turn, for one of the signs, and where
    /// the machine leaves room for it.
    fn speaks(&self, rule: &StepRule, turn: Turn, seen: &Seen<'_>) -> bool {
        let signs = seen.signs;
        let asked = if signs.is_empty() {
            rule.general
        } else {
            rule.signs.is_empty() || signs.iter().any(|sign| rule.signs.contains(sign))
        };
        let room = |limit: Option<f64>, told: Option<f64>| match (limit, told) {
            (Some(limit), Some(told)) => limit < told,
            _ => true,
        };
        asked
            && !signs.iter().any(|sign| rule.not_with.contains(sign))
            && rule.turns.contains(&turn)
            && room(rule.above_stroke_mm, seen.stroke_mm)
            && room(rule.above_rate_hz, seen.rate_hz)
            && !(rule.not_on_weak_machine && seen.weak_machine)
            && !(rule.only_without_effect && seen.effect.is_some())
            && !(rule.only_without_place && seen.place.is_some())
            && (seen.spoilt || !rule.only_spoilt)
    }

    /// That the needle in the hand is put away, and what is taken instead.
    fn instead(&self, language: Language, rule: &StepRule, seen: &Seen<'_>) -> Step {
        let canonical = seen.fresh.map(Complete::canonical).unwrap_or_default();
        let key = if seen.fresh.is_some() { "fresh" } else { "no_fresh" };
        let mut step = self.step(language, rule, key, &[("canonical", &canonical)]);
        step.configuration = seen.fresh.copied();
        step
    }

    /// What may be in the hand for the rest: what is gentler, or the same.
    fn needles(&self, language: Language, rule: &StepRule, seen: &Seen<'_>) -> Vec<Step> {
        let Some(current) = seen.current.filter(|_| seen.fresh.is_none()) else {
            return Vec::new();
        };
        let canonical = current.canonical();
        let mut steps = Vec::new();
        if let (false, Some(effect)) = (seen.fits, seen.effect) {
            let effect = self.texts.fill(language, &format!("effect.{effect}"), &[]);
            let values = [("canonical", canonical.as_str()), ("effect", &effect)];
            let mut step = self.step(language, rule, "does_not_fit", &values);
            step.kind = StepKind::Ask;
            steps.push(step);
        }
        for offer in seen.offers {
            let next = offer.configuration.canonical();
            // In fives, as a person says it; what is gentler is never all of it, nor nothing.
            let percent =
                |share: f64| format!("{:.0}", (5.0 * (20.0 * share).round()).clamp(5.0, 95.0));
            let (pressure, trauma) = (percent(offer.pressure), percent(offer.trauma));
            let values =
                [("canonical", next.as_str()), ("pressure", &pressure), ("trauma", &trauma)];
            let mut step = self.step(language, rule, "gentler", &values);
            step.configuration = Some(offer.configuration);
            steps.push(step);
        }
        if seen.offers.is_empty() && seen.fits && !seen.spoilt {
            let key = if seen.machine_wanted { "same_machine_untold" } else { "same" };
            let mut step = self.step(language, rule, key, &[("canonical", &canonical)]);
            step.configuration = Some(*current);
            steps.push(step);
        }
        steps
    }

    fn step(
        &self,
        language: Language,
        rule: &StepRule,
        key: &str,
        values: &[(&str, &str)],
    ) -> Step {
        let text = |part: &str| -> Arc<str> {
            self.texts.fill(language, &format!("{key}.{part}"), values).into()
        };
        Step {
            kind: rule.kind,
            change: text("change"),
            configuration: None,
            because: text("because"),
            basis: self.basis(&rule.source),
            agreement: rule.agreement.in_words(language),
        }
    }
}
