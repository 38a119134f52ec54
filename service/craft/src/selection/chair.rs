//! What the choice knows when the skin shows damage: what suits, in which
//! order, and what the machine drives. The rest is [`crate::trauma`].

use etui_schema::vocabulary::aftercare::ReviewZone;
use etui_schema::vocabulary::chair::TraumaSign;
use etui_schema::vocabulary::{Effect, Language, Machine, Setting};

use super::answer::Heard;
use super::hearing::{Manner, hear};
use super::rules::{MachineReading, Signal};
use super::score::{Field, pull_logarithms};
use super::{Candidate, Request, SelectionError, Selector, is_lid, merged, traits_of, with_site};
use crate::configuration::{Circumstances, Complete, Model};
use crate::trauma::{Advice, Earlier, Gentler, Seen};

/// What was seen on the skin, where, and with what in the hand.
#[derive(Debug, Clone, Copy)]
pub struct Trauma<'a> {
    /// The signs; none where one plans ahead.
    pub signs: &'a [TraumaSign],
    /// Where, if it was told.
    pub place: Option<ReviewZone>,
    /// What was recorded before and stands, if anything.
    pub earlier: Option<Earlier<'a>>,
    /// What is in the hand; none where the packet does not say.
    pub current: Option<&'a Complete>,
    /// Whether the effect of the request was told by somebody. Without it
    /// nothing can be said of what suits, and no needle is named.
    pub effect_told: bool,
    /// Whether the record speaks against the pack in use; then the candidates lie in other lots.
    pub spoilt: bool,
}

impl Trauma<'_> {
    /// Nothing seen: one plans ahead.
    pub(super) const PLANNED: Self = Self {
        signs: &[],
        place: None,
        earlier: None,
        current: None,
        effect_told: true,
        spoilt: false,
    };
}

impl Selector {
    /// What to do when the skin shows trauma. The candidates are those that lie
    /// ready; which of them suit is told from treatment, effect and setting.
    ///
    /// # Errors
    /// As [`Selector::suiting`].
    pub fn on_trauma(
        &self,
        model: &Model,
        request: &Request<'_>,
        trauma: &Trauma<'_>,
    ) -> Result<Advice, SelectionError> {
        let (treatment, want) = self.want(request.treatment, request.effect)?;
        let ready = request.candidates;
        let mut candidates = ready.to_vec();
        candidates.extend(trauma.current.map(|current| Candidate::from(*current)));
        let request = Request { candidates: &candidates, ..request.clone() };
        let suiting = self.by_fit(model, &request)?;
        let setting = with_site(request.setting, treatment, request.effect);
        let heard = hear(&self.rules.general, &setting, want.into());
        let fits = trauma.current.is_some_and(|now| suiting.iter().any(|(one, _)| one == now));
        let effect = trauma.effect_told.then_some(request.effect);
        let lies_ready = |now: &&Complete| ready.iter().any(|one| one.configuration == **now);
        let fresh = trauma.current.filter(lies_ready).filter(|_| fits || effect.is_none());
        let circumstances = model.circumstances(&setting);
        let chair = self.chair(model, &setting, &heard, request.language);
        Ok(chair.advice(&circumstances, trauma, effect, (fits, fresh), &suiting))
    }

    /// Which of the candidates suit treatment, effect and setting, best first,
    /// without a word on why. However many there are: whoever stands at the chair is
    /// answered.
    ///
    /// # Errors
    /// [`SelectionError`] if the effect makes no sense for the treatment.
    pub fn suiting(
        &self,
        model: &Model,
        request: &Request<'_>,
    ) -> Result<Vec<Complete>, SelectionError> {
        let by_fit = self.by_fit(model, request)?;
        Ok(by_fit.into_iter().map(|(configuration, _)| configuration).collect())
    }

    /// The same, each with the logarithm of its desirability.
    pub(super) fn by_fit(
        &self,
        model: &Model,
        request: &Request<'_>,
    ) -> Result<Vec<(Complete, f64)>, SelectionError> {
        let (treatment, want) = self.want(request.treatment, request.effect)?;
        let candidates = merged(request.candidates);
        let setting = with_site(request.setting, treatment, request.effect);
        let general = &self.rules.general;
        let traits = traits_of(model, &candidates, &setting);
        let pull_lns = pull_logarithms(general, &traits);
        let field = Field::new(general, treatment, want, &traits, &pull_lns);
        let ranking = field.ranking(&hear(general, &setting, want.into()));
        let of = |(i, fit): &(usize, f64)| Some((traits.get(*i)?.configuration, *fit));
        Ok(ranking.order.iter().filter_map(of).collect())
    }

    /// Whether a sign finishes the spot at which it shows, on any site.
    #[must_use]
    pub fn finishes_spot(&self, sign: TraumaSign) -> bool {
        self.trauma.scope(&[sign], None, false).is_some()
    }

    /// Whether a sign is borne at one spot alone: seen at a second spot it has spread.
    #[must_use]
    pub fn spreads(&self, sign: TraumaSign) -> bool {
        self.trauma.scope(&[sign], Some(ReviewZone::Whole), false).is_some()
    }

    pub(super) fn chair<'a>(
        &'a self,
        model: &'a Model,
        setting: &'a Setting,
        heard: &'a Heard,
        language: Language,
    ) -> Chair<'a> {
        Chair { selector: self, model, setting, heard, language }
    }

    /// Whether the machine drives a larger group, with what nobody told of it
    /// taken at its worst: not to know a machine does not make it strong.
    fn drives_more(&self, setting: &Setting) -> bool {
        let worst = at_worst(&self.rules.general.machine, setting.machine);
        let setting = Setting { machine: Some(worst), ..Setting::default() };
        !hear(&self.rules.general, &setting, Manner::ANY).speaks(Signal::WeakMachine)
    }
}

/// One occasion at the chair.
pub(super) struct Chair<'a> {
    selector: &'a Selector,
    model: &'a Model,
    setting: &'a Setting,
    heard: &'a Heard,
    language: Language,
}

impl Chair<'_> {
    /// What to do. Whether the needle in the hand suits, and that it lies ready; `in_order` are the
    /// candidates that suit, best first.
    pub(super) fn advice(
        &self,
        circumstances: &Circumstances,
        trauma: &Trauma<'_>,
        effect: Option<Effect>,
        (fits, fresh): (bool, Option<&Complete>),
        in_order: &[(Complete, f64)],
    ) -> Advice {
        let rules = &self.selector.trauma;
        let drives_more = self.selector.drives_more(self.setting);
        let offers = |drives_more| {
            let model = self.model;
            let gentler = Gentler { rule: &rules.needle, model, circumstances, drives_more };
            match (trauma.current, effect) {
                (Some(current), Some(_)) => gentler.offers(current, in_order),
                _ => Vec::new(),
            }
        };
        let machine = self.setting.machine;
        let is_told = |Machine { stroke_mm, rate_hz, give }: Machine| {
            stroke_mm.is_some() && rate_hz.is_some() && give.is_some()
        };
        // A strong machine might drive what is gentler, and nobody told that it is none.
        let machine_wanted =
            !drives_more && !machine.is_some_and(is_told) && !offers(true).is_empty();
        let offers = offers(drives_more);
        rules.advise(
            self.language,
            &Seen {
                signs: trauma.signs,
                place: trauma.place,
                earlier: trauma.earlier,
                on_lid: is_lid(circumstances.site) || trauma.place.is_some_and(on_lid),
                effect,
                stroke_mm: machine.and_then(|machine| machine.stroke_mm),
                rate_hz: machine.and_then(|machine| machine.rate_hz),
                weak_machine: self.heard.speaks(Signal::WeakMachine),
                current: trauma.current.filter(|_| effect.is_some()),
                fits,
                offers: &offers,
                machine_wanted,
                spoilt: trauma.spoilt,
                fresh: fresh.filter(|_| trauma.spoilt),
            },
        )
    }
}

/// Whether a part lies on a lid.
const fn on_lid(place: ReviewZone) -> bool {
    matches!(place, ReviewZone::LidInner | ReviewZone::LidMiddle | ReviewZone::LidOuter)
}

/// A machine with what was not told at its weakest.
fn at_worst(reading: &MachineReading, told: Option<Machine>) -> Machine {
    let Machine { stroke_mm, rate_hz, give } =
        told.unwrap_or(Machine { stroke_mm: None, rate_hz: None, give: None });
    let weakest = |curve: &[[f64; 2]]| curve.first().map(|point| point[0]);
    let softest = reading.give.iter().min_by(|a, b| a.1.total_cmp(b.1)).map(|(give, _)| *give);
    Machine {
        stroke_mm: stroke_mm.or_else(|| weakest(&reading.stroke_mm)),
        rate_hz: rate_hz.or_else(|| weakest(&reading.rate_hz)),
        give: give.or(softest),
    }
}
